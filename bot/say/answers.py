"""Answers in words: the answer first, then what it rests on."""

from collections.abc import Sequence
from datetime import datetime
from typing import assert_never

from bot.cellar.answers import (
    Answer,
    BatchAnswer,
    CompareAnswer,
    CostAnswer,
    EachAnswer,
    ExpectedAnswer,
    FinishAnswer,
    HelpAnswer,
    HistoryAnswer,
    HouseAnswer,
    LitresAnswer,
    LoreAnswer,
    NoneAnswer,
    OccasionAnswer,
    PlansAnswer,
    RangeAnswer,
    ReadingAnswer,
    ReadyAnswer,
    RemindersAnswer,
    SafetyAnswer,
    ShoppingAnswer,
    StockAnswer,
    StoryAnswer,
    StrengthAnswer,
    VerdictsAnswer,
    VesselsAnswer,
    WasDoneAnswer,
)
from bot.cellar.log.fold import Batch
from bot.cellar.plans.model import Does, PlanStep
from bot.say import (
    batches,
    dangers,
    leaflets,
    litres,
    lore,
    occasions,
    reminders,
    stories,
    verdicts,
    vessels,
    warmth,
)
from bot.say.facts import STEP_DONE, dose, to_do
from bot.say.manner import STEADY_FOR, Manner, listed, name, percent, said, sg
from bot.say.strength import how_strong
from bot.science import practice

HELP = (
    "Just write what you did or read:\n"
    "<code>new batch: plum, red, 23 l in bucket 2, 14 day kit</code>\n"
    "<code>sg 1.012 bucket 2</code> · <code>21c in the plum</code>\n"
    "<code>racked plum into demijohn 1</code>\n"
    "<code>what's next?</code> · <code>how strong is the plum?</code> · <code>calendar</code>\n"
    "<code>undo</code> strikes out the last thing. Reply <code>why?</code> for the working."
)
NO, NEITHER = "No", "Neither"
LEFT_OUT = "Right, nothing written down."
_LAST = 8
_MOST_READ = 40
"""Readings that are shown: all of a ferment's, of whoever reads every day."""


def answer(found: Answer, manner: Manner) -> str:
    """The answer as the household likes it told."""
    match found:
        case BatchAnswer():
            return batch(found, manner)
        case HouseAnswer():
            return _house(found, manner)
        case StrengthAnswer():
            return how_strong(found, manner)
        case ReadyAnswer():
            return verdicts.ready(found, manner)
        case FinishAnswer():
            return _finish(found, manner)
        case HistoryAnswer():
            return "\n\n".join(_history(found, number, manner) for number in range(len(found.views))) or (
                "Nothing is under way."
            )
        case RangeAnswer():
            return warmth.right(found, manner)
        case EachAnswer():
            return "\n".join(answer(one, manner) for one in found.answers)
        case ExpectedAnswer():
            return "\n".join(_expected(*one) for one in found.counts)
        case LitresAnswer():
            return litres.how_much(found, manner)
        case StockAnswer():
            return _stock(found)
        case CostAnswer():
            return stories.costs(found)
        case StoryAnswer():
            return (
                "\n\n".join(stories.story(*one, manner) for one in found.stories) or "Nothing is under way."
            )
        case VesselsAnswer():
            return vessels.every(found.vessels, manner, free=found.free)
        case PlansAnswer():
            return _plans(found, manner)
        case OccasionAnswer():
            return occasions.occasion(found.schedule, manner)
        case VerdictsAnswer():
            return (
                "\n\n".join(verdicts.verdict(one, manner) for one in found.verdicts)
                or "Nothing is under way."
            )
        case RemindersAnswer():
            return reminders.asked_for(found.asked, manner)
        case SafetyAnswer():
            return dangers.danger(found.topic)
        case LoreAnswer():
            return lore.lore(found, manner)
        case ReadingAnswer():
            return batches.next_readings(found, manner)
        case CompareAnswer():
            return batches.side_by_side(found, manner)
        case WasDoneAnswer():
            return batches.done(found, manner)
        case ShoppingAnswer():
            return batches.shopping(found, manner)
        case HelpAnswer():
            return HELP
        case NoneAnswer():
            if found.of is not None:
                return f"I know no batch called {name(found.of)}."
            return "No wine is begun yet. Tell me of your kit, or in one line: <code>new batch: plum, red, 23 l in bucket 2, 14 day kit</code>"
        case _:
            assert_never(found)


def _expected(view: Batch, count: int | None) -> str:
    if count is None:
        return f"{name(view.name)}: I know no volume yet. Tell me, like <code>23 l {said(view.name)}</code>"
    return f"{name(view.name)}: about {count} bottles of 75 cl."


def contact(minutes: int) -> str:
    """How long a sanitiser has to stay on, by what this house set."""
    return f"{minutes} minutes. The time on the sanitiser's pack goes first: set it with <code>/contact 15</code>."


def _plans(found: PlansAnswer, manner: Manner) -> str:
    if found.plan is None:
        return leaflets.listing(found.plans, manner)
    whose = f"{name(found.view.name)} goes by this one.\n" if found.view is not None else ""
    return whose + leaflets.shown(found.plan)


def batch(found: BatchAnswer, manner: Manner) -> str:
    """One batch: its stage and why, then what is next, and how when that was the question."""
    lines = [f"{name(found.view.name)} is {stage_line(found, manner)}"]
    if found.stuck is not None:
        lines.append(verdicts.stuck_since(found.stuck, manner))
    if found.stuck is not None and found.about == "next":
        lines.append(verdicts.restarted(found.view, manner))
    lines.append(next_line(found, manner))
    if found.about == "next" and found.stuck is None:
        lines += [how(found), after_reading(found), needs(found, manner)]
    return "\n".join(filter(None, lines))


def stage_line(found: BatchAnswer, manner: Manner, *, fresh: bool = False) -> str:
    """The stage with its reason; right after a `fresh` reading that reading is not said again."""
    view, word = found.view, found.stage.word
    reason = ""
    latest = view.latest
    if word == "bottled":
        reason = _bottles(view)
    elif view.gone_at is not None:
        reason = (
            f"{'thrown away' if view.given_up else 'poured into another batch'} {manner.day(view.gone_at)}"
        )
    elif word == "fermenting" and latest is not None:
        fall = found.fall_per_day
        way = ""
        if fall is not None:
            way = f"{'falling' if fall > 0 else 'rising'} {abs(fall):.3f} a day"
            way = way if abs(fall) >= 0.0005 else "hardly moving"
        about = "about " if latest.estimated else ""
        told = "" if fresh else f"{about}{sg(latest.sg)} {manner.ago(latest.at)}"
        reason = ", ".join(filter(None, (told, way)))
    elif word == "fermenting" and view.pitched_at is not None:
        reason = f"yeast in {manner.ago(view.pitched_at)}, no reading since"
    elif latest is not None and word not in ("setting up", "ready for the yeast"):
        reason = f"steady at {sg(latest.sg)}"
    elif view.chores:
        reason = f"{STEP_DONE[view.chores[-1].step]} {manner.ago(view.chores[-1].at)}"
    strength = ""
    if found.strength is not None and word != "setting up":
        strength = f". {percent(found.strength.abv)}{' so far' if word == 'fermenting' else ''}"
    return f"{word}{': ' if reason else ''}{reason}{strength}."


def _bottles(view: Batch) -> str:
    if view.bottles_left is None:
        return "how many? Tell me: “29 bottles”"
    if view.bottles_made is None:
        return f"{view.bottles_left} bottles left"
    return f"{view.bottles_left} of {view.bottles_made} bottles left"


def next_line(found: BatchAnswer, manner: Manner) -> str:
    """What is next and when, with how, and the caution where it can hurt."""
    stage = found.stage
    if stage.step is None:
        return "All done. Enjoy it." if stage.word == "bottled" else ""
    if found.next_reading is not None and stage.gate in ("settled", "sg_at_most"):
        late = found.next_reading <= manner.now
        when = "now" if late else manner.day(manner.awake(found.next_reading))
        return f"Next: a gravity reading, {when}."
    if stage.did:
        return _again(found, manner)
    if stage.ready is not None and stage.ready > manner.now:
        if stage.step.does is not None:
            return f"Next: {said(stage.step.title)}, {manner.day(stage.ready)}."
        return f"Next: {said(stage.step.title)} until {manner.when(stage.ready)}."
    once = ", once it is clear" if found.clear in ("unknown", "cloudy") else ""
    return f"Next: {said(stage.step.title)}{once}."


def _again(found: BatchAnswer, manner: Manner) -> str:
    """The next of several times, and that nobody is held up when one less was enough."""
    stage = found.stage
    assert stage.step is not None
    ahead = stage.ready is not None and stage.ready > manner.now
    when = f", {manner.when(manner.awake(stage.ready))}" if ahead and stage.ready is not None else ""
    steps = found.view.follows.steps
    later = steps[steps.index(stage.step) + 1 :]
    after = next((step.title for step in later if step.does is not None), None)
    enough = _ENOUGH.get(stage.step.does, "If that was enough")
    go_on = f" {enough}, go on: {said(after)}." if after is not None else ""
    return f"Next: {said(to_do(stage.step, stage.did))}{when}.{go_on}"


_ENOUGH: dict[Does | None, str] = {"degas": "If no more gas rises"}


def how(found: BatchAnswer) -> str:
    """How the next chore is done, with its caution; nothing while a gravity is what it waits for: what comes
    after that may be days off, and wrong today."""
    step = found.stage.step
    if step is None or (_reads(found) and step.does is not None):
        return ""
    parts = [step.how, step.caution, "The leaflet in your kit goes first."]
    return "\n".join(said(part) for part in parts if part)


def after_reading(found: BatchAnswer) -> str:
    """What the reading that is next would open, where the gravity is low enough and seems to stand still."""
    step, latest = found.stage.step, found.view.latest
    low = latest is not None and not latest.estimated and latest.sg <= practice.FINISHED_BELOW.value
    if step is None or not (low and _reads(found)) or found.stage.gate != "settled":
        return ""
    does = next((one.title for one in _to_come(found) if one.does is not None), None)
    return f"The same again is the proof that it has finished; then: {said(does)}." if does else ""


def _to_come(found: BatchAnswer) -> Sequence[PlanStep]:
    steps = found.view.follows.steps
    return steps[steps.index(found.stage.step) :] if found.stage.step in steps else ()


def _house(found: HouseAnswer, manner: Manner) -> str:
    return "\n".join([*_under_way(found, manner), *([_at_home(found.at_home)] if found.at_home else [])])


def _under_way(found: HouseAnswer, manner: Manner) -> list[str]:
    if not found.batches:
        return ["Nothing is under way."]
    if len(found.batches) == 1:
        return [batch(found.batches[0], manner)]
    if found.about != "next":
        return [
            f"{name(row.view.name)}{_where(row.view)}: {stage_line(row, manner)}" for row in found.batches
        ]
    days: dict[str, list[str]] = {}
    for row in sorted(found.batches, key=lambda row: (manner.date_of(_moment(row, manner)), row.view.batch)):
        rows = days.setdefault(manner.day(_moment(row, manner)), [])
        stuck = (
            f"stuck at {sg(row.stuck.figure)} (ask me how to restart it), " if row.stuck is not None else ""
        )
        rows.append(f"{name(row.view.name)}: {stuck}{_chore(row, manner)}")
    lines = [f"{day[0].upper()}{day[1:]}: {'; '.join(rows)}" for day, rows in days.items()]
    return [*lines, *filter(None, (needs(row, manner, named=True) for row in found.batches))]


def _reads(row: BatchAnswer) -> bool:
    """Whether a gravity is what the batch waits for."""
    return row.next_reading is not None and row.stage.gate in ("settled", "sg_at_most")


def _waits(row: BatchAnswer, manner: Manner) -> bool:
    """Whether it is in a time of waiting, such as clearing."""
    stage = row.stage
    later = stage.ready is not None and stage.ready > manner.now
    return stage.step is not None and stage.step.does is None and later


def _moment(row: BatchAnswer, manner: Manner) -> datetime:
    """When the batch next wants something done; a time of waiting is told today."""
    at = row.next_reading if _reads(row) else None if _waits(row, manner) else row.stage.ready
    return max(at or manner.now, manner.now)


def _chore(row: BatchAnswer, manner: Manner) -> str:
    step = row.stage.step
    if _reads(row):
        return "a gravity reading"
    if step is None:
        return "nothing to do"
    return (
        f"{said(step.title)} until {manner.when(row.stage.ready or manner.now)}"
        if _waits(row, manner)
        else said(to_do(step, row.stage.did))
    )


def needs(found: BatchAnswer, manner: Manner, *, named: bool = False) -> str:
    """What to wash or buy beforehand, in a line."""
    parts: list[str] = []
    for wanted in found.needs:
        if wanted.what == "vessel":
            parts.append("a vessel, washed and sanitised")
            continue
        by = f" by {manner.day(wanted.by)}" if wanted.by is not None and wanted.by > manner.now else ""
        count = f"{wanted.count} bottles, {wanted.count} corks" if wanted.count else "bottles and corks"
        parts.append(f"{count} and labels{by}")
    if not parts:
        return ""
    return f"Have ready{f' for {name(found.view.name)}' if named else ''}: {'; '.join(parts)}."


def _finish(found: FinishAnswer, manner: Manner) -> str:
    view = found.view
    if view.bottled_at is not None:
        return f"{name(view.name)} was bottled {manner.day(view.bottled_at)}."
    bottles = f"Bottles from about {manner.day(found.bottles_from)}."
    if found.proof is not None:
        return f"{name(view.name)} has stopped, at {sg(found.proof.last.sg)}. {bottles}"
    if found.ferment_until is None:
        return f"{name(view.name)}: with two readings I can say more. By the kit's days: {bottles}"
    return (
        f"{name(view.name)}: proved finished about {manner.day(found.ferment_until)} if it goes on like this: "
        f"two readings that agree, {STEADY_FOR} apart. {bottles}"
    )


def _history(found: HistoryAnswer, number: int, manner: Manner) -> str:
    view = found.views[number]
    lines: list[str] = []
    if found.about in ("readings", "chart"):
        pairs = list(zip(view.readings, found.figures[number], strict=True))
        for reading, figure in pairs[-_MOST_READ:]:
            at = ""
            if reading.temp_c is not None:
                at = f" at {manner.temperature(reading.temp_c)} (20 °C: {sg(figure)})"
            if reading.estimated and reading.brix is not None:
                lines.append(
                    f"{manner.when(reading.at)}: about {sg(figure)} ({reading.brix:g} Brix, refractometer)"
                )
                continue
            bar = _bar(figure) if found.about == "chart" else ""
            lines.append(f"{manner.when(reading.at)}: {sg(reading.sg)}{at} {bar}".strip())
        left_out = len(pairs) - _MOST_READ
        if left_out > 0:
            lines.insert(0, f"({left_out} earlier)")
        lines += [f"{manner.when(one.at)}: pH {one.value:g}" for one in view.ph[-_LAST:]]
        lines += [f"{manner.when(one.at)}: acidity {one.value:g} g/l" for one in view.acidity[-_LAST:]]
    elif found.about == "temperature":
        lines = [f"{manner.when(m.at)}: {manner.temperature(m.value)}" for m in view.temperatures[-_LAST:]]
        lines = [*filter(None, [warmth.of_last(view, manner)]), *lines]
    elif found.about == "additions":
        for added in view.additions[-_LAST:]:
            lines.append(f"{manner.when(added.at)}: {dose(added)} ({said(added.by)})")
        if went := litres.where_they_went(view, manner):
            lines.append(f"Litres: {went}")
    else:
        did = found.did[number]
        lines = [
            f"{manner.when(one.at)}: {stories.told(one, view, manner)} ({said(one.by)})"
            for one in did[-_LAST:]
        ]
        if len(did) > _LAST:
            lines.insert(0, f"({len(did) - _LAST} earlier: <code>story of {said(view.name)}</code>)")
    return f"{name(view.name)}\n" + ("\n".join(lines) or "Nothing yet.")


def _bar(figure: float) -> str:
    """A bar that is one block long for ten points of gravity left above 0.990."""
    return "▇" * max(1, round((figure - 0.990) * 100))


def _stock(found: StockAnswer) -> str:
    rows = [view for view in found.views if view.bottles_left is not None]
    if not rows:
        return "No bottles counted yet. Tell me when you bottle: “bottled plum, 29 bottles”."
    return _at_home(rows)


def _at_home(views: Sequence[Batch]) -> str:
    whole = sum(view.bottles_left or 0 for view in views)
    all_told = f" {whole} in all." if len(views) > 1 else ""
    return f"At home: {listed([f'{view.bottles_left} of {name(view.name)}' for view in views])}.{all_told}"


def _where(view: Batch) -> str:
    return f" ({name(view.vessel)})" if view.vessel is not None and view.vessel != view.name else ""
