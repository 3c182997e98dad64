"""What the plan still has after what is due, and about when: the kit's own days and the fall so far stand in for
what only the hydrometer can tell."""

from datetime import datetime, timedelta

import msgspec

from bot.cellar.batch.place import day_of, doings, gate_opened, place_in_plan
from bot.cellar.batch.proof import curve, settled, true_sg
from bot.cellar.batch.readings import next_reading
from bot.cellar.log.fold import Batch
from bot.cellar.plans.kits import PlanStep
from bot.science import practice


class Coming(msgspec.Struct, frozen=True, kw_only=True):
    """A chore of the plan and when its time comes. It is an `estimate` where a gate before it is still closed."""

    step: PlanStep
    at: datetime
    estimate: bool


def coming(view: Batch, now: datetime, first: datetime | None = None) -> tuple[Coming, ...]:
    """The chores that are not behind the batch, each as soon as the one before it allows, in the plan's order.

    `first` is when the first of them falls due, where that is known: the others follow from there. Nothing
    depends on `now`, except that what should have been done by now counts from now.
    """
    if view.gone_at is not None:
        return ()
    place, did = place_in_plan(view), doings(view)
    behind = place.behind
    told = [did[step.id][-1].at for step in behind if step.id in did]
    at = told[-1] if told else view.begun_at
    started = view.pitched_at or view.begun_at
    estimate = False
    found: list[Coming] = []
    for step in view.follows.steps[len(behind) :]:
        again = place.did if step is place.chore else 0
        at = max(at + timedelta(hours=step.wait_hours), day_of(view, step))
        opened = gate_opened(view, step)
        if again and place.ready is not None:
            at = place.ready
        elif opened is not None:
            at = max(at, opened)
        elif step.gate != "og":  # the starting gravity is read on the day itself
            at, estimate = max(at, _opens(view, step, started)), True
        if step.does is not None:
            at = max(at if found or first is None else first, now)
            started = at if step.does == "pitch" else started
            found.append(Coming(step=step, at=at, estimate=estimate))
        at += timedelta(hours=(step.times - 1 - again) * step.every_hours)
    return tuple(found)


def ferment_until(view: Batch) -> datetime | None:
    """When it should be proved to have stopped, if it goes on falling as it does; None where that is not known."""
    days, latest = curve(view).days_to(practice.FINISHED_BELOW.value), view.latest
    if days is None or latest is None or settled(view) is not None:
        return None
    return latest.at + timedelta(days=days) + practice.SETTLED_OVER.value


def _opens(view: Batch, step: PlanStep, started: datetime) -> datetime:
    """About when a gate that is closed will open: never before the readings that it takes. `started` is when the
    yeast went in, or should go in."""
    if step.gate == "settled" or step.sg is None:
        return _settles(view, started)
    days, latest = curve(view).days_to(step.sg), view.latest
    read = next_reading(view) or started + practice.FIRST_LOOK.value
    if days is not None and latest is not None:
        return max(read, latest.at + timedelta(days=days))
    if step.day is not None:
        return max(read, day_of(view, step))
    if step.sg <= practice.FINISHED_BELOW.value:
        return max(read, _settles(view, started) - practice.SETTLED_OVER.value)
    return max(read, started + (_settles(view, started) - started) * practice.SWEET_PART.value)


def _settles(view: Batch, started: datetime) -> datetime:
    """About when it will be proved to have stopped: by its fall, else by the kit's days less the waits of its plan."""
    latest, read = view.latest, next_reading(view)
    if latest is not None and read is not None and true_sg(view, latest) <= practice.FINISHED_BELOW.value:
        return read  # one more that agrees is the proof
    waits = timedelta(hours=sum(step.takes_hours for step in view.follows.steps))
    about = ferment_until(view) or started + timedelta(days=view.days) - waits
    return max(about, (read or started + practice.FIRST_LOOK.value) + practice.SETTLED_OVER.value)
