"""Answers in words: the answer first, then what it rests on."""

from typing import assert_never

from bot.cellar.answers import (
    Answer,
    BatchAnswer,
    CostAnswer,
    FinishAnswer,
    HelpAnswer,
    HistoryAnswer,
    HouseAnswer,
    NoneAnswer,
    ReadyAnswer,
    StockAnswer,
    StrengthAnswer,
)
from bot.cellar.log import BatchView
from bot.say.facts import STEP_DONE, dose
from bot.say.manner import Manner, listed, name, percent, said, sg

HELP = (
    "Just write what you did or read:\n"
    "<code>new batch: plum, red, 23 l in bucket 2, 14 day kit</code>\n"
    "<code>sg 1.012 bucket 2</code> · <code>21c in the plum</code>\n"
    "<code>racked plum into demijohn 1</code>\n"
    "<code>what's next?</code> · <code>how strong is the plum?</code>\n"
    "<code>undo</code> strikes out the last thing. Reply <code>why?</code> for the working."
)
NO, NEITHER = "No", "Neither"
LEFT_OUT = "Right, nothing written down."
_LAST = 8


def answer(found: Answer, manner: Manner) -> str:
    """The answer as the household likes it told."""
    match found:
        case BatchAnswer():
            return batch(found, manner)
        case HouseAnswer():
            return _house(found, manner)
        case StrengthAnswer():
            return _strength(found, manner)
        case ReadyAnswer():
            return _ready(found, manner)
        case FinishAnswer():
            return _finish(found, manner)
        case HistoryAnswer():
            return "\n\n".join(_history(found, number, manner) for number in range(len(found.views))) or (
                "Nothing is under way."
            )
        case StockAnswer():
            return _stock(found)
        case CostAnswer():
            return (
                "I keep no prices. With the kit's and the extras' cost and the bottles I can divide:\n"
                "<code>cost per bottle: kit 45, extras 6, 29 bottles</code>"
            )
        case HelpAnswer():
            return HELP
        case NoneAnswer():
            if found.of is not None:
                return f"I know no batch called {name(found.of)}."
            return "No batch yet. Begin one:\n<code>new batch: plum, red, 23 l in bucket 2, 14 day kit</code>"
        case _:
            assert_never(found)


def batch(found: BatchAnswer, manner: Manner) -> str:
    """One batch: its stage and why, then what is next, and how when that was the question."""
    lines = [f"{name(found.view.name)} is {stage_line(found, manner)}", next_line(found, manner)]
    if found.about == "next":
        lines.append(how(found))
    return "\n".join(filter(None, lines))


def stage_line(found: BatchAnswer, manner: Manner, *, fresh: bool = False) -> str:
    """The stage with its reason; right after a `fresh` reading that reading is not said again."""
    view, word = found.view, found.stage.word
    reason = ""
    latest = view.latest
    if word == "bottled":
        reason = _bottles(view)
    elif word == "fermenting" and latest is not None:
        fall = found.fall_per_day
        way = ""
        if fall is not None:
            way = f"{'falling' if fall > 0 else 'rising'} {abs(fall):.3f} a day"
            way = way if abs(fall) >= 0.0005 else "hardly moving"
        reason = ", ".join(filter(None, ("" if fresh else f"{sg(latest.sg)} {manner.ago(latest.at)}", way)))
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


def _bottles(view: BatchView) -> str:
    if view.bottles_made is None:
        return "how many? Tell me: “29 bottles”"
    return f"{view.bottles_left} of {view.bottles_made} bottles left"


def next_line(found: BatchAnswer, manner: Manner) -> str:
    """What is next and when, with how, and the caution where it can hurt."""
    stage = found.stage
    if stage.step is None:
        return "All done. Enjoy it." if stage.word == "bottled" else ""
    if found.next_reading is not None and stage.gate in ("settled", "sg_at_most"):
        late = found.next_reading <= manner.now
        when = "now" if late else manner.day(found.next_reading)
        return f"Next: a gravity reading, {when}."
    if stage.ready is not None and stage.ready > manner.now:
        if stage.step.does is not None:
            return f"Next: {stage.step.title}, {manner.day(stage.ready)}."
        return f"Next: {stage.step.title} until {manner.when(stage.ready)}."
    return f"Next: {stage.step.title}."


def how(found: BatchAnswer) -> str:
    """How the next chore is done, with its caution."""
    step = found.stage.step
    if step is None:
        return ""
    parts = [step.how, step.caution, "The leaflet in your kit goes first."]
    return "\n".join(said(part) for part in parts if part)


def _house(found: HouseAnswer, manner: Manner) -> str:
    if not found.batches:
        return "Nothing is under way."
    if len(found.batches) == 1:
        return batch(found.batches[0], manner)
    lines = []
    for row in found.batches:
        line = next_line(row, manner).removeprefix("Next: ") if found.about == "next" else ""
        lines.append(f"{name(row.view.name)}: {line or stage_line(row, manner)}")
    return "\n".join(lines)


def _strength(found: StrengthAnswer, manner: Manner) -> str:
    view, strength = found.view, found.strength
    expected = ""
    if found.expected is not None and not found.settled:
        low, high = found.expected.low, found.expected.high
        expected = f"Expected when dry: about {percent(found.expected.abv)} ({low:.1f}-{high:.1f})."
    if strength is None:
        if view.starting is None:
            return f"{name(view.name)}: no starting gravity was written down, so I cannot tell the strength."
        return (
            f"{name(view.name)}: nothing read since the start ({sg(view.starting.sg)}).\n{expected}".strip()
        )
    so_far = "" if found.settled else " so far"
    lines = [
        f"{name(view.name)}: <b>{percent(strength.abv)}</b>{so_far} ({strength.low:.1f}-{strength.high:.1f}).",
        expected,
        f"By mass balance, {sg(strength.og)} to {sg(strength.fg)}.",
        "Not corrected for temperature: none was told." if found.uncorrected else "",
    ]
    return "\n".join(filter(None, lines))


def why_strength(found: StrengthAnswer) -> str:
    """Formula, inputs, source and cross-checks of a strength, in at most eight lines."""
    strength = found.strength
    if strength is None:
        return "Strength needs a starting gravity and a later one."
    rules = ", ".join(f"{rule} {value:.1f}" for rule, value in strength.rules)
    return "\n".join(
        (
            f"From {strength.og:.4f} to {strength.fg:.4f}, SG 20/20.",
            "Balling: 2.0665 g extract make 1 g alcohol, 0.9565 g gas, 0.11 g yeast.",
            "Tabarié: the wine's gravity less its alcohol's gives the extract left.",
            "Tables: OIML R 22 for alcohol, ICUMSA for sugar; solved together.",
            f"Extract left: {strength.real_extract_g_l:.0f} g/l.",
            f"Band: one point on each reading, and how yields differ: {strength.low:.1f}-{strength.high:.1f}.",
            f"Shorter rules: {said(rules)}.",
        )
    )


def _ready(found: ReadyAnswer, manner: Manner) -> str:
    view, verb = found.view, "rack" if found.what == "rack" else "bottle"
    if found.verdict == "done":
        return f"{name(view.name)} is {STEP_DONE[found.what]} already."
    proof = ""
    if found.proof is not None:
        first, last = found.proof.first, found.proof.last
        proof = (
            f"{sg(first.sg)} {manner.day(first.at)} and {sg(last.sg)} {manner.day(last.at)}: it has stopped."
        )
    if found.verdict == "yes":
        return f"<b>Yes</b>, {verb} {name(view.name)}. {proof}".strip()
    lines = [f"<b>Not yet</b>, {name(view.name)}: {_holding(found, manner)}", proof]
    if found.what == "bottle" and found.proof is None:
        lines.append("Bottled before the gravity is steady, bottles can burst.")
    return "\n".join(filter(None, lines))


def _holding(found: ReadyAnswer, manner: Manner) -> str:
    latest = found.latest
    if found.before is not None and found.before.gate in ("settled", "sg_at_most"):
        if latest is None:
            return "no gravity has been read."
        if found.proof_at is not None:
            return (
                f"{sg(latest.sg)} {manner.ago(latest.at)} is low enough, but readings must agree over 48 hours. "
                f"Read again {manner.when(found.proof_at)}."
                if found.proof_at > manner.now
                else f"{sg(latest.sg)} {manner.ago(latest.at)} is low enough; one more reading now is the proof."
            )
        goal = f" (racking comes at {sg(found.before.sg)})" if found.before.sg is not None else ""
        return f"still {sg(latest.sg)} {manner.ago(latest.at)}{goal}."
    if found.ready is not None and found.ready > manner.now:
        return f"it is clearing until {manner.when(found.ready)}."
    if found.before is not None:
        return f"first {found.before.title}."
    return "there is more to do first."


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
        f"{name(view.name)}: proved finished about {manner.day(found.ferment_until)} if it goes on like this. "
        f"{bottles}"
    )


def _history(found: HistoryAnswer, number: int, manner: Manner) -> str:
    view = found.views[number]
    lines: list[str] = []
    if found.about in ("readings", "chart"):
        pairs = list(zip(view.readings, found.figures[number], strict=True))
        for reading, figure in pairs[-_LAST:]:
            at = ""
            if reading.temp_c is not None:
                at = f" at {manner.temperature(reading.temp_c)} (20 °C: {sg(figure)})"
            bar = _bar(figure) if found.about == "chart" else ""
            lines.append(f"{manner.when(reading.at)}: {sg(reading.sg)}{at} {bar}".strip())
        left_out = len(pairs) - _LAST
        if left_out > 0:
            lines.insert(0, f"({left_out} earlier)")
    elif found.about == "temperature":
        lines = [f"{manner.when(m.at)}: {manner.temperature(m.value)}" for m in view.temperatures[-_LAST:]]
    elif found.about == "additions":
        for added in view.additions[-_LAST:]:
            lines.append(f"{manner.when(added.at)}: {dose(added)} ({said(added.by)})")
    else:
        lines = [
            f"{manner.when(c.at)}: {STEP_DONE[c.step]} ({said(c.by)})" for c in view.chores[-_LAST:]
        ] or [f"begun {manner.when(view.begun_at)} ({said(view.begun_by)})"]
    return f"{name(view.name)}\n" + ("\n".join(lines) or "Nothing yet.")


def _bar(figure: float) -> str:
    """A bar that is one block long for ten points of gravity left above 0.990."""
    return "▇" * max(1, round((figure - 0.990) * 100))


def _stock(found: StockAnswer) -> str:
    rows = [view for view in found.views if view.bottles_left is not None]
    if not rows:
        return "No bottles counted yet. Tell me when you bottle: “bottled plum, 29 bottles”."
    counted = [f"{view.bottles_left} of {name(view.name)}" for view in rows]
    return f"At home: {listed(counted)}."
