"""How far a batch is: which steps of its plan are behind it, which is next, and what holds it up.

Everything here is worked out from the view and the plan; nothing is stored. Only `stage` needs the time.
"""

from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Literal

import msgspec

from bot.cellar.log.acts import StepName
from bot.cellar.log.fold import Added, BatchView, Chore, Reading
from bot.cellar.log.gravities import corrected
from bot.cellar.plans.kits import Plan, PlanStep
from bot.science import practice
from bot.science.curve import Curve

SETTLED_OVER = practice.SETTLED_OVER.value

SETTLED_WITHIN = practice.SETTLED_WITHIN.value

FINISHED_BELOW = practice.FINISHED_BELOW.value

FALLS_AGAIN = practice.FALLS_AGAIN.value

CLEARLY_FALLEN = practice.CLEARLY_FALLEN.value

LOW_ENOUGH_TO_STABILISE = practice.LOW_ENOUGH_TO_STABILISE.value

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


class Settled(msgspec.Struct, frozen=True, kw_only=True):
    """Proof that the gravity has stopped: the agreeing readings, first and last."""

    first: Reading
    last: Reading


def true_sg(view: BatchView, reading: Reading) -> float:
    """The reading at 20 °C, where a temperature that can be corrected was told; else as read. SG 20/20. A
    refractometer corrects for warmth itself."""
    if reading.temp_c is None or reading.instrument == "refractometer":
        return reading.sg
    start = view.starting
    og = start.sg if start is not None and start.entry != reading.entry else None
    return corrected(reading.sg, reading.temp_c, og)


def settled(view: BatchView) -> Settled | None:
    """The first run of readings after the yeast that proves the gravity has stopped.

    None while there is no proof, and again when a later reading shows that it has begun to fall once more.
    """
    found: Settled | None = None
    run: list[Reading] = []
    blended = _blended_working(view)
    for reading in view.readings:
        if (blended is not None and reading.at <= blended) or reading.estimated:
            continue
        sg = true_sg(view, reading)
        if found is not None and sg < true_sg(view, found.last) - FALLS_AGAIN:
            found, run = None, []
        run = [*_agreeing_tail(view, run, sg), reading]
        if found is None and sg <= FINISHED_BELOW and reading.at - run[0].at >= SETTLED_OVER:
            found = Settled(first=run[0], last=reading)
    return found


def _blended_working(view: BatchView) -> datetime | None:
    """When it was last blended with, or as, a wine that had not stopped: what was read before proves nothing."""
    if not view.mixed:
        return None
    last = view.mixed[-1]
    return None if settled(last.own) and settled(last.other) else last.at


def _agreeing_tail(view: BatchView, run: list[Reading], sg: float) -> list[Reading]:
    """The latest readings of the run that all agree with `sg` and one another."""
    tail: list[Reading] = []
    low = high = sg
    for reading in reversed(run):
        value = true_sg(view, reading)
        low, high = min(low, value), max(high, value)
        if high - low > SETTLED_WITHIN + 1e-9:
            break
        tail.insert(0, reading)
    return tail


def agreeing_since(view: BatchView) -> datetime:
    """When the run of readings that agree with the latest one began. The view must have a reading."""
    latest = view.readings[-1]
    # An estimate agrees with others of its kind; it is no proof beside a hydrometer's.
    run = [r for r in view.readings[:-1] if latest.estimated or not r.estimated]
    tail = _agreeing_tail(view, run, true_sg(view, latest))
    return tail[0].at if tail else latest.at


def curve(view: BatchView) -> Curve:
    """The batch's readings at 20 °C, as the curve of its ferment."""
    return Curve([(reading.at, true_sg(view, reading)) for reading in view.readings])


RATE_WITHIN = practice.RATE_WITHIN.value


def falls_now(view: BatchView) -> float | None:
    """How fast it falls at present, SG a day; None where it has stopped, or may have: it is low, and the
    last readings lie too far apart to say."""
    course = curve(view)
    pair = course.apart
    if settled(view) is not None or view.ended_at is not None or pair is None:
        return None
    near = pair[1][0] - pair[0][0] <= RATE_WITHIN
    return course.fall if near or pair[1][1] > FINISHED_BELOW else None


def skippable(view: BatchView, chore: StepName) -> PlanStep | None:
    """The next step of the batch's plan that this chore would do and that can be left out: what is ahead of it.
    None where there is none."""
    plan = view.follows
    behind = place_in_plan(view, plan).behind
    return next((step for step in plan.steps if step.does == chore and step not in behind), None)


Event = Chore | Added | Reading


def doings(view: BatchView, plan: Plan) -> dict[str, list[Event]]:
    """By which facts each step of the plan was done, as often as it wants, oldest first.

    A chore said out of order counts all the same: what was done was done. A second racking belongs to the
    plan's next racking, not to the one behind.
    """
    did: dict[str, list[Event]] = {}
    done: set[str] = set()
    put_in: dict[str, set[str]] = {}
    place = {step.id: number for number, step in enumerate(plan.steps)}
    furthest = -1
    events: list[Event] = [*view.chores, *view.additions]
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


def doing_of(view: BatchView, plan: Plan, step_id: str, told: Collection[int]) -> Event | None:
    """The fact by which the step was done; of one that is done several times, the first that is among the entries
    `told`. None when it was not done."""
    step = next((step for step in plan.steps if step.id == step_id), None)
    if step is None:
        return None
    events = doings(view, plan).get(step_id, [])
    last = events[-1] if len(events) >= step.times else None
    return next((event for event in events if step.times > 1 and event.entry in told), last)


def _shows_yeast(view: BatchView) -> Reading | None:
    """The reading by which it is known that yeast is at work though nobody said so."""
    yeast = view.yeast_inferred
    return next(
        (r for r in view.readings if yeast is not None and r.at >= yeast and r.entry != _start(view)), None
    )


def _start(view: BatchView) -> int | None:
    return view.starting.entry if view.starting is not None else None


def _does(view: BatchView, step: PlanStep, event: Event) -> bool:
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


def ferments_at(view: BatchView, moment: datetime) -> bool:
    """Whether the readings say that it was still fermenting at that moment: too high to be finished, or falling since,
    and no run of readings that agree had begun."""
    pitched, proof = view.pitched_at, settled(view)
    if pitched is None or moment <= pitched or (proof is not None and proof.first.at <= moment):
        return False
    before = [reading for reading in view.readings if reading.at <= moment]
    return bool(before) and true_sg(view, before[-1]) > FINISHED_BELOW


def _late_enough(view: BatchView, moment: datetime) -> bool:
    pitched = view.pitched_at
    if pitched is None or moment < pitched:
        return False
    before = [r for r in view.readings if pitched < r.at <= moment]
    return bool(before) and true_sg(view, before[-1]) <= LOW_ENOUGH_TO_STABILISE


def gate_opened(view: BatchView, step: PlanStep) -> datetime | None:
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


def day_of(view: BatchView, step: PlanStep) -> datetime:
    """When the step's own day of the kit begins: the batch's first day is day 1."""
    return view.begun_at + timedelta(days=max(0, (step.day or 1) - 1))


def place_in_plan(view: BatchView, plan: Plan) -> Place:
    """Where the batch is in its plan, by facts alone.

    A step that was done less often than the plan wants is the next one again, unless a later one was done, or
    somebody said that it is enough.
    """
    did = doings(view, plan)
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


def _enough(view: BatchView, step: PlanStep, did: list[Event]) -> bool:
    """Whether it was said since the step was first done that it need not be done again."""
    return any(p.action == "done" and p.what == step.id and p.at >= did[0].at for p in view.promises)


def stage(view: BatchView, plan: Plan, now: datetime) -> Stage:
    """Where the batch stands at `now`."""
    place = place_in_plan(view, plan)
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


def _word(view: BatchView, place: Place, step: PlanStep | None, in_wait: bool) -> StageWord:
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
