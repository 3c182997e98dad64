"""A kit's leaflet made into a plan: its lines as they were read, and what the house always does besides.

Lines come in the leaflet's order. What a leaflet leaves out and no kit goes without (sanitising, the starting
gravity, the yeast) is put in without a day; bottling and stabilising always wait for a steady gravity.
"""

from collections.abc import Iterable, Sequence
from typing import Literal

import msgspec

from bot.cellar.plans.kits import plan_for
from bot.cellar.plans.model import Does, Gate, Plan, PlanStep
from bot.science import practice

LONGEST_DAYS = practice.DAYS_WRITTEN.value[1]


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that a leaflet says to do, or says unclearly. Gravity as SG, waiting in hours."""

    title: str
    does: Does | None = None
    day: int | None = None
    gate: Gate | None = None
    sg: float | None = None
    sachets: tuple[str, ...] = ()
    substances: tuple[str, ...] = ()
    minutes: float | None = None
    wait_hours: float = 0
    times: int = 1
    every_hours: float = 0
    clear: bool = False
    unclear: bool = False
    amount: float | None = None
    unit: str | None = None


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """What a step of a changed plan was and is; None where there is none."""

    old: PlanStep | None
    new: PlanStep | None


def compose(
    name: str, lines: Sequence[Line], *, days: int | None = None, ferment_c: tuple[float, float] | None = None
) -> Plan:
    """The plan that the lines make; its key has version 1 until it is written down. `days` is the kit's own
    length where the leaflet says it, else its last day."""
    length = days or max((line.day or 1 for line in lines), default=1)
    steps = [_step(line, length) for line in _completed(lines)]
    return Plan(
        key=key_of(name, 1),
        title=name,
        days=length,
        ferment_c=ferment_c or practice.FERMENT_C.value,
        pitch_c=practice.PITCH_C.value,
        steps=tuple(_numbered(steps)),
    )


class Misgiving(msgspec.Struct, frozen=True, kw_only=True):
    """A line that is not kept unasked: why, and for a dose how many times what such a kit takes."""

    step: PlanStep
    why: Literal["before_yeast", "after_bottling", "dose"]
    times: float = 0.0


def misgivings(plan: Plan) -> list[Misgiving]:
    """The lines that could hurt the wine or somebody, were they followed: stabiliser, finings or bottles before the yeast,
    stabiliser after the bottles, and doses far above what a kit takes."""
    order = [step.does for step in plan.steps]
    yeast = order.index("pitch") if "pitch" in order else 0
    bottled = order.index("bottle") if "bottle" in order else len(order)
    found: list[Misgiving] = []
    for place, step in enumerate(plan.steps):
        # Sulphite alone, a day before the yeast, is common; with sorbate nothing ferments any more.
        stops = (step.does == "stabilise" and step.met_by != ("sulphite",)) or "sorbate" in step.met_by
        if place < yeast and (stops or step.does in ("bottle", "fine")):
            found.append(Misgiving(step=step, why="before_yeast"))
        elif place > bottled and stops:
            found.append(Misgiving(step=step, why="after_bottling"))
        elif (times := _times(step)) > 1.0:
            found.append(Misgiving(step=step, why="dose", times=times))
    return found


def without(plan: Plan, asked: Sequence[Misgiving]) -> Plan:
    """The plan in which those lines are kept as written and ask for nothing."""
    doubtful = {one.step.id for one in asked}
    steps = [
        PlanStep(id=f"unclear_{step.id}", title=step.title, does=None, day=step.day, unclear=True)
        if step.id in doubtful
        else step
        for step in plan.steps
    ]
    return msgspec.structs.replace(plan, steps=tuple(steps))


def _times(step: PlanStep) -> float:
    """How many times the most that a kit takes of it the line says to put in; 0 where that is not known."""
    if step.amount is None:
        return 0.0
    grams = step.amount * (practice.TABLET_G.value if step.unit == "tablet" else 1.0)
    most = [
        practice.PLANNED_MOST_G_L.value[what]
        for what in step.met_by
        if what in practice.PLANNED_MOST_G_L.value
    ]
    return grams / (max(most) * practice.KIT_LITRES.value) if most else 0.0


def key_of(name: str, version: int) -> str:
    """The key of a plan of the house's own."""
    return f"house/{name.casefold()}@{version}"


def versioned(plan: Plan, kept: Iterable[Plan]) -> Plan:
    """The plan with the version after the newest kept one of its name."""
    name = plan.key.rpartition("@")[0]
    latest = max((old.version for old in kept if old.key.rpartition("@")[0] == name), default=0)
    return msgspec.structs.replace(plan, key=f"{name}@{latest + 1}")


def changes(old: Plan, new: Plan) -> list[Change]:
    """What is different, step by step; steps are the same step when they do the same thing, in order."""
    left = list(old.steps)
    found: list[Change] = []
    for step in new.steps:
        before = next((other for other in left if _same_thing(other, step)), None)
        if before is not None:
            left.remove(before)
        if before is None or _told(before) != _told(step):
            found.append(Change(old=before, new=step))
    return found + [Change(old=step, new=None) for step in left]


def _same_thing(one: PlanStep, other: PlanStep) -> bool:
    return (one.does, one.sachets) == (other.does, other.sachets) and (
        one.does is not None or one.title == other.title
    )


def _told(step: PlanStep) -> tuple[object, ...]:
    often = step.times, step.every_hours
    return step.day, step.gate, step.sg, step.clear, step.minutes, step.wait_hours, often, step.sachets


def _completed(lines: Sequence[Line]) -> list[Line]:
    """The lines with what no kit goes without."""
    found = list(lines)
    does = [line.does for line in found]
    if "pitch" not in does:
        start = next((n for n, line in enumerate(found) if (line.day or 1) > 1), len(found))
        found.insert(start, Line(title="pitch the yeast", does="pitch"))
    pitch = next(n for n, line in enumerate(found) if line.does == "pitch")
    if "gravity" not in [line.does for line in found[:pitch]]:
        found.insert(pitch, Line(title="read the starting gravity", does="gravity"))
    if "sanitise" not in does:
        found.insert(0, Line(title="clean and sanitise", does="sanitise"))
    if "bottle" in does and "label" not in does:
        found.append(Line(title="label the bottles", does="label"))
    start = next(n for n, line in enumerate(found) if line.does == "gravity")
    return [_safe(line, counts=n == start) for n, line in enumerate(found)]


def _safe(line: Line, *, counts: bool) -> Line:
    """Bottling and stabilising wait for a steady gravity. Of the gravities only the starting one `counts` as a
    step: the others are asked for when they tell most."""
    if line.does == "gravity" and not counts:
        return msgspec.structs.replace(line, does=None)
    if line.does == "bottle" or (line.does == "stabilise" and line.gate is None):
        return msgspec.structs.replace(line, gate="settled")
    return line


def _step(line: Line, days: int) -> PlanStep:
    # The generic plan knows how each chore is done and where it can hurt.
    model = next((step for step in plan_for(days).steps if line.does and step.does == line.does), None)
    met_by = tuple(f"sachet {sachet}" for sachet in line.sachets) + line.substances
    return PlanStep(
        id=line.does or ("unclear" if line.unclear else "wait"),
        title=line.title,
        does=line.does,
        how=model.how if model is not None and line.does != "mix" else "",
        caution=model.caution if model is not None else "",
        gate=line.gate,
        sg=line.sg,
        day=line.day,
        minutes=line.minutes,
        wait_hours=line.wait_hours,
        times=line.times,
        every_hours=line.every_hours,
        met_by=met_by or (model.met_by if model is not None else ()),
        sachets=line.sachets,
        clear=line.clear,
        unclear=line.unclear,
        amount=line.amount,
        unit=line.unit,
    )


def _numbered(steps: Sequence[PlanStep]) -> list[PlanStep]:
    """Ids that are unique: a second racking is `rack_2`."""
    counts: dict[str, int] = {}
    found: list[PlanStep] = []
    for step in steps:
        counts[step.id] = counts.get(step.id, 0) + 1
        number = counts[step.id]
        found.append(msgspec.structs.replace(step, id=f"{step.id}_{number}" if number > 1 else step.id))
    return found
