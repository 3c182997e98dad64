"""Batches looked at for one thing: what to read when, which is ahead, what was done, what to buy."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from bot.cellar.answers import (
    CompareAnswer,
    Compared,
    Errands,
    ReadingAnswer,
    ShoppingAnswer,
    WasDoneAnswer,
)
from bot.cellar.batch.place import Doing
from bot.cellar.batch.readings import ReadThen
from bot.cellar.log.acts import StepName
from bot.cellar.log.views import Batch, Reading
from bot.cellar.plans.model import Does, PlanStep
from bot.say.facts import STEP_DONE
from bot.say.manner import STEADY_FOR, Manner, listed, name, percent, said, sg

NOTHING = "Nothing is under way."
NOTHING_TO_BUY = "Nothing to buy: nothing is under way that needs it."


# ---------------------------------------------------------------------- the next reading


def next_readings(found: ReadingAnswer, manner: Manner) -> str:
    """When to measure each batch next, and why then."""
    return "\n".join(
        f"{name(view.name)}: {_read(view, why, at, manner)}" for view, why, at in found.rows
    ) or (NOTHING)


def _read(view: Batch, why: ReadThen, at: datetime | None, manner: Manner) -> str:
    latest = view.latest
    if why == "ended":
        return (
            f"no more readings, it was bottled {manner.day(view.bottled_at)}."
            if view.bottled_at
            else ("no more readings, it is gone.")
        )
    if why == "settled":
        stands = f" at {sg(latest.sg)}" if latest is not None else ""
        return (
            f"it stands still{stands}: no reading is due. Once more on bottling day shows that it stayed so."
        )
    if at is None:
        if view.starting is not None:
            return "not before the yeast is in. Then two days after it."
        return "now, before the yeast: without a starting gravity I cannot work out the strength."
    when = f"<b>{manner.day(manner.awake(at)) if at > manner.now else 'now'}</b>"
    if why == "first_look":
        return f"{when}. By {'now' if at <= manner.now else 'then'} the gravity should have moved."
    shown = f"{'about ' if latest.estimated else ''}{sg(latest.sg)} {manner.ago(latest.at)}" if latest else ""
    if why == "proof":
        return f"{when}. {shown} is low enough; the same again, {STEADY_FOR} apart, is the proof that it has stopped."
    return f"{when}. It was {shown}; sooner tells little, and each opening risks something."


# ---------------------------------------------------------------------- side by side


def side_by_side(found: CompareAnswer, manner: Manner) -> str:
    """A line a batch, then which is ahead and which is stronger."""
    rows = found.rows
    if not rows:
        return NOTHING
    lines = [_beside(row, manner) for row in rows]
    if len(rows) == 1:
        return f"{lines[0]}\nThere is no other to hold it against."
    return "\n".join([*lines, *filter(None, (_ahead(rows), _stronger(rows)))])


def _beside(row: Compared, manner: Manner) -> str:
    view, latest = row.stands.view, row.stands.view.latest
    parts: list[str] = [row.stands.stage.word]
    if latest is not None and view.ended_at is None:
        parts.append(f"{'about ' if latest.estimated else ''}{sg(latest.sg)}")
        if row.stands.fall_per_day is not None:
            way = "falling" if row.stands.fall_per_day > 0 else "rising"
            parts.append(f"{way} {abs(row.stands.fall_per_day):.3f} a day")
    if row.strength.strength is not None:
        so_far = " so far" if row.stands.stage.word == "fermenting" else ""
        parts.append(f"{percent(row.strength.strength.abv)}{so_far}")
    if row.strength.expected is not None and not row.strength.settled and view.ended_at is None:
        parts.append(f"about {percent(row.strength.expected.abv)} in the end")
    if view.ended_at is None:
        parts.append(f"bottles from about {manner.day(row.bottles_at)}")
    return f"{name(view.name)}: {', '.join(parts)}."


def _ahead(rows: Sequence[Compared]) -> str:
    first, second = rows[0], rows[1]
    apart = (second.bottles_at - first.bottles_at) / timedelta(days=1)
    if round(apart) < 1:
        return "Neither is ahead: they should be in bottles about the same day."
    days = f"{apart:.0f} day{'s' if round(apart) != 1 else ''}"
    return f"Ahead: {name(first.stands.view.name)}, by about {days}."


def _stronger(rows: Sequence[Compared]) -> str:
    """By what it is where it has finished, else by what it should come to."""
    known = sorted(
        ((figure, row) for row in rows if (figure := _strength(row)) is not None),
        key=lambda pair: -pair[0],
    )
    if len(known) < 2:
        return "Which is stronger I can say once each has a starting gravity."
    (most, first), (less, _) = known[:2]
    if most - less < _SAME_STRENGTH:
        return "About as strong in the end."
    return f"Stronger in the end: {name(first.stands.view.name)}, by about {most - less:.1f} % vol."


_SAME_STRENGTH = 0.3
"""% vol: a smaller difference is within what two gravities tell."""


def _strength(row: Compared) -> float | None:
    done = row.strength.settled or row.stands.view.ended_at is not None
    if done and row.strength.strength is not None:
        return row.strength.strength.abv
    return row.strength.expected.abv if row.strength.expected is not None else None


# ---------------------------------------------------------------------- what was done


def done(found: WasDoneAnswer, manner: Manner) -> str:
    """When the chore was done last and by whom, or that the log does not know of it."""
    return "\n".join(_was(view, did, found.of, manner) for view, did in found.rows) or NOTHING


def _was(
    view: Batch,
    did: Sequence[tuple[StepName, Sequence[Doing]]],
    of: StepName | None,
    manner: Manner,
) -> str:
    whose = name(view.name)
    if of is None:
        lines = [f"{_DONE[step]} {_last(facts, manner)}" for step, facts in did]
        return f"{whose}: {'; '.join(lines)}." if lines else f"{whose}: no chore is in the log yet."
    facts = next((facts for step, facts in did if step == of), ())
    if facts:
        return f"<b>Yes</b>, {whose}: {_DONE[of]} {_last(facts, manner)}."
    tell = f"<code>{_TELL[of].format(said(view.name))}</code>"
    return f"{whose}: not in the log, nobody said that it was {_DONE[of]}. If it was, tell me: {tell}"


def _last(facts: Sequence[Doing], manner: Manner) -> str:
    latest = facts[-1]
    if isinstance(latest, Reading):
        return f"by {manner.day(latest.at)}: nobody said so, the gravity shows it"
    times = f", {len(facts)} times by now" if len(facts) > 1 else ""
    return f"{manner.when(latest.at)} ({said(latest.by)}{times})"


_DONE: dict[str, str] = {**STEP_DONE, "pitch": "given its yeast", "fine": "fined"}
_TELL: dict[StepName, str] = {
    "sanitise": "sanitised {}",
    "mix": "mixed {}",
    "pitch": "pitched {}",
    "stir": "stirred {}",
    "degas": "degassed {}",
    "stabilise": "stabilised {}",
    "fine": "added finings to {}",
    "rack": "racked {}",
    "top_up": "topped up {}",
    "filter": "filtered {}",
    "bottle": "bottled {}",
    "label": "labelled {}",
}


# ---------------------------------------------------------------------- what to buy


def shopping(found: ShoppingAnswer, manner: Manner) -> str:
    """What to buy and what to have at hand for the chores to come."""
    if not found.errands:
        return NOTHING_TO_BUY
    return "\n\n".join(_errands(one, found.free, manner) for one in found.errands)


def _errands(one: Errands, free: Sequence[str], manner: Manner) -> str:
    whose = name(one.view.name)
    lines = [f"{whose}: {_to_buy(one, manner)}"]
    if one.packets:
        lines.append(f"From the kit, see that it is all there: {', '.join(map(_packet, one.packets))}.")
    if one.racking is not None:
        lines.append(f"For the racking, about {manner.day(one.racking)}: {_vessel(free)}.")
    return "\n".join(lines)


def _packet(step: PlanStep) -> str:
    marked = f" (sachet {', '.join(map(said, step.sachets))})" if step.sachets else ""
    return f"{_IN_PACKETS.get(step.does) or said(step.title)}{marked}"


_IN_PACKETS: dict[Does | None, str] = {"pitch": "yeast", "stabilise": "stabiliser", "fine": "finings"}


def _vessel(free: Sequence[str]) -> str:
    if not free:
        return "a second vessel, none is free"
    are = "is" if len(free) == 1 else "are"
    return f"{listed([name(vessel) for vessel in free])} {are} free, washed and sanitised first"


def _to_buy(one: Errands, manner: Manner) -> str:
    if one.bottling is None:
        return "nothing to buy."
    if one.got:
        return "nothing to buy: bottles and corks are there."
    count = f"{one.bottles} bottles, {one.bottles} corks" if one.bottles else "bottles, corks"
    return f"{count}, labels, for bottling about {manner.day(one.bottling)}. Cleaner and sanitiser, if they run out."
