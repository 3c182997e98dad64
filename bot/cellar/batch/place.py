"""How far a batch is: which steps of its plan are behind it, which is next, and what holds it up.

Everything here is worked out from the view, which holds its plan; nothing is stored. Only `stage` needs the time.
"""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Literal

import msgspec

from bot.cellar.batch.once import once
from bot.cellar.batch.proof import ferments_at, settled, true_sg
from bot.cellar.log.acts import StepName
from bot.cellar.log.fold import Added, Batch, Chore, Reading
from bot.cellar.plans.kits import PlanStep
from bot.science import practice

StageWord = Literal[
    "setting up",
    "ready for the yeast",
    "fermenting",
    "fermented out",
    "clearing",
    "ready to bottle",
    "bottled",
    "blended",
    "given up",
]


class Stage(msgspec.Struct, frozen=True, kw_only=True):
    """Where a batch stands. `step` is the next chore or the wait it is in (None when all is done);
    `ready` is when that can be done, None while a gate holds it; `gate` names the gate that does."""

    word: StageWord
    step: PlanStep | None
    ready: datetime | None
    gate: str | None = None
    did: int = 0
    """How often the step was done already, of the times that the plan wants."""


def skippable(view: Batch, chore: StepName) -> PlanStep | None:
    """The next step of the batch's plan that this chore would do and that can be left out: what is ahead of it.
    None where there is none."""
    behind = place_in_plan(view).behind
    return next((step for step in view.follows.steps if step.does == chore and step not in behind), None)


Doing = Chore | Added | Reading


@once
def doings(view: Batch) -> Mapping[str, Sequence[Doing]]:
    """By which facts each step of the plan was done, as often as it wants, oldest first.

    A chore said out of order counts all the same: what was done was done. A second racking belongs to the
    plan's next racking, not to the one behind.
    """
    plan = view.follows
    did: dict[str, list[Doing]] = {}
    done: set[str] = set()
    put_in: dict[str, set[str]] = {}
    place = {step.id: number for number, step in enumerate(plan.steps)}
    furthest = -1
    events: list[Doing] = [*view.chores, *view.additions]
    if view.starting is not None:
        events.append(view.starting)
    for event in sorted(events, key=lambda event: (event.at, event.entry)):
        fits = [s for s in plan.steps if s.id not in done and _does(view, s, event)]
        chosen = next((s for s in fits if place[s.id] > furthest), fits[0] if fits else None)
        if chosen is not None and chosen.does == "add" and isinstance(event, Added):
            put_in.setdefault(chosen.id, set()).add(event.what)
            if not put_in[chosen.id].issuperset(chosen.met_by):
                continue
            del put_in[chosen.id]
        if chosen is None:
            continue
        did.setdefault(chosen.id, []).append(event)
        whole = len(did[chosen.id]) >= chosen.times
        if whole:
            done.add(chosen.id)
        # What is done in part is still to do, but the steps before it are behind.
        furthest = max(furthest, place[chosen.id] - (not whole))
    if (fallen := _shows_yeast(view)) is not None:
        pitch = next((s for s in plan.steps if s.does == "pitch"), None)
        if pitch is not None:
            did.setdefault(pitch.id, [fallen])
    return did


def doing_of(view: Batch, step_id: str, told: Collection[int]) -> Doing | None:
    """The fact by which the step was done; of one that is done several times, the first that is among the entries
    `told`. None when it was not done."""
    step = next((step for step in view.follows.steps if step.id == step_id), None)
    if step is None:
        return None
    events = doings(view).get(step_id, [])
    last = events[-1] if len(events) >= step.times else None
    return next((event for event in events if step.times > 1 and event.entry in told), last)


def _shows_yeast(view: Batch) -> Reading | None:
    """The reading by which it is known that yeast is at work though nobody said so."""
    yeast = view.yeast_inferred
    return next(
        (r for r in view.readings if yeast is not None and r.at >= yeast and r.entry != _start(view)), None
    )


def _start(view: Batch) -> int | None:
    return view.starting.entry if view.starting is not None else None


def _does(view: Batch, step: PlanStep, event: Doing) -> bool:
    if isinstance(event, Chore):
        # Stabiliser does not stop a running ferment: what comes after it waits all the same.
        early = event.step == "stabilise" and ferments_at(view, event.at)
        return step.does == event.step and not early
    if isinstance(event, Reading):
        return step.does == "gravity"
    if event.what not in step.met_by:
        return False
    if step.does == "stabilise" and ferments_at(view, event.at):
        return False
    return step.does in ("pitch", "add") or _late_enough(view, event.at)


def _late_enough(view: Batch, moment: datetime) -> bool:
    pitched = view.pitched_at
    if pitched is None or moment < pitched:
        return False
    before = [r for r in view.readings if pitched < r.at <= moment]
    return bool(before) and true_sg(view, before[-1]) <= practice.LOW_ENOUGH_TO_STABILISE.value


def done_by(view: Batch, chore: StepName) -> Sequence[Doing]:
    """The facts by which the chore was done, oldest first: said as a step, or as what the plan has for it."""
    found: dict[int, Doing] = {one.entry: one for one in view.chores if one.step == chore}
    for step in view.follows.steps:
        if step.does == chore:
            found |= {fact.entry: fact for fact in doings(view).get(step.id, ())}
    return sorted(found.values(), key=lambda fact: (fact.at, fact.entry))


def gate_opened(view: Batch, step: PlanStep) -> datetime | None:
    """When the step's gate opened; None while it holds. A step without a gate was open from the start."""
    if step.gate is None:
        return view.begun_at
    if step.gate == "og":
        return view.starting.at if view.starting else None
    if step.gate == "settled":
        proof = settled(view)
        low_enough = step.sg is None or (proof is not None and true_sg(view, proof.last) <= step.sg + 1e-9)
        return proof.last.at if proof and low_enough else None
    low = [
        r
        for r in view.readings
        if step.sg is not None and (r.at_most if r.estimated else true_sg(view, r)) <= step.sg + 1e-9
    ]
    return low[0].at if low else None


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """The first chore that is not behind the batch, whatever the time: `waits` are the waits before it,
    `ready` the moment it can be done (None while the gate of `held` holds), `behind` what lies before."""

    chore: PlanStep | None
    waits: tuple[PlanStep, ...]
    ready: datetime | None
    behind: tuple[PlanStep, ...]
    held: PlanStep | None = None
    did: int = 0
    """How often the chore was done already."""
    did_at: datetime | None = None
    """When it was done last."""


def day_of(view: Batch, step: PlanStep) -> datetime:
    """When the step's own day of the kit begins: the batch's first day is day 1."""
    return view.begun_at + timedelta(days=max(0, (step.day or 1) - 1))


@once
def place_in_plan(view: Batch) -> Place:
    """Where the batch is in its plan, by facts alone.

    A step that was done less often than the plan wants is the next one again, unless a later one was done, or
    somebody said that it is enough.
    """
    plan, did = view.follows, doings(view)
    order = [step.id for step in plan.steps]
    furthest = max((order.index(step_id) for step_id in did), default=-1)
    latest = plan.steps[furthest] if furthest >= 0 else None
    ready = did[latest.id][-1].at if latest is not None else view.begun_at
    if (
        latest is not None
        and len(did[latest.id]) < latest.times
        and not _enough(view, latest, did[latest.id])
    ):
        return Place(
            chore=latest,
            waits=(),
            ready=ready + timedelta(hours=latest.every_hours),
            behind=plan.steps[:furthest],
            did=len(did[latest.id]),
            did_at=ready,
        )
    waits: list[PlanStep] = []
    held: PlanStep | None = None
    chore: PlanStep | None = None
    for step in plan.steps[furthest + 1 :]:
        ready = max(ready + timedelta(hours=step.wait_hours), day_of(view, step))
        opened = gate_opened(view, step)
        if opened is None:
            held = held or step
        else:
            ready = max(ready, opened)
        if step.does is not None:
            chore = step
            break
        waits.append(step)
    return Place(
        chore=chore,
        waits=tuple(waits),
        ready=None if held else ready,
        held=held,
        behind=plan.steps[: furthest + 1],
    )


def _enough(view: Batch, step: PlanStep, did: Sequence[Doing]) -> bool:
    """Whether it was said since the step was first done that it need not be done again."""
    return any(p.ends == step.id and p.at >= did[0].at for p in view.promises)


def stage(view: Batch, now: datetime) -> Stage:
    """Where the batch stands at `now`."""
    place = place_in_plan(view)
    if view.gone_at is not None:
        return Stage(word="given up" if view.given_up else "blended", step=None, ready=None)
    waiting = next((step for step in place.waits if step is place.held or step.wait_hours), None)
    in_wait = place.held is not None or (place.ready is not None and now < place.ready)
    step = waiting if waiting is not None and in_wait else place.chore
    return Stage(
        word=_word(view, place, step, in_wait),
        step=step,
        ready=place.ready,
        gate=place.held.gate if place.held else None,
        did=place.did if step is place.chore else 0,
    )


def _word(view: Batch, place: Place, step: PlanStep | None, in_wait: bool) -> StageWord:
    if view.bottled_at is not None:
        return "bottled"
    if not _past(place, "pitch"):
        return "ready for the yeast" if step and step.does == "pitch" and not in_wait else "setting up"
    if settled(view) is None:
        return "fermenting"
    if step is None or (step.does == "bottle" and not in_wait):
        return "ready to bottle"
    if step.does == "bottle":
        return "clearing"
    return "clearing" if _past(place, "fine") else "fermented out"


def _past(place: Place, chore: StepName) -> bool:
    return any(step.does == chore for step in place.behind)


@once
def awaited(view: Batch) -> tuple[str, ...]:
    """What the plan waits for, the next first: chores, and `gravity` while it is to be read; labels after bottling."""
    if view.ended_at is not None:
        return () if view.gone_at is not None or view.done("label") is not None else ("label",)
    place = place_in_plan(view)
    chores = [step.does for step in view.follows.steps[len(place.behind) :] if step.does is not None]
    measured = ["gravity"] if place.held is not None else []
    return tuple(dict.fromkeys([*measured, *chores]))
