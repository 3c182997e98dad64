"""Bottles wanted for a day: the latest starts that still make it, with the vessels that are free when.

Each kit takes one vessel from its start until it is bottled; then the bottles rest. The search goes through
every way to share the kits out over the vessels, so that what it finds is the best there is: latest deadlines
are placed first, each as late as its vessel allows, and the plan whose first start is latest wins. Placing by
deadline loses nothing: on one vessel, an order by deadline makes all of them whenever any order does.
"""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

import msgspec

from bot.cellar.batch.place import place_in_plan
from bot.cellar.batch.proof import settled
from bot.cellar.home.vessels import VesselView
from bot.cellar.log.fold import Batch, HouseView
from bot.cellar.log.subjects import Wish
from bot.cellar.plans.kits import plan_for
from bot.science import practice

PROOF_DAYS = practice.SETTLED_OVER.value.days
"""The proof that it has stopped may come this much later than the kit's own days."""


MOST_KITS = 8
LATEST_DAYS = 400


class Start(msgspec.Struct, frozen=True, kw_only=True):
    """A kit to begin: at the latest on `start`, in `vessel`, bottled by `bottle`; it gives so many bottles."""

    wish: int
    vessel: str
    start: date
    bottle: date
    bottles: int


class Busy(msgspec.Struct, frozen=True, kw_only=True):
    """A vessel that is in use, and until when by what is known."""

    vessel: str
    batch: str
    until: date


class Schedule(msgspec.Struct, frozen=True, kw_only=True):
    """The answer: starts by day where it can be done; else how many days later than wished all would be ready
    (None: not within a year), and what is in the way."""

    wishes: tuple[Wish, ...]
    days: tuple[int, ...]
    starts: tuple[Start, ...]
    late_days: int | None
    busy: tuple[Busy, ...]
    vessels: int
    too_many: bool = False
    alone: tuple[int | None, ...] = ()
    """For each wish by itself, how many days later than wished it would be ready."""


class _Pot(msgspec.Struct):
    name: str
    free: int
    bottles: int
    front: int


class _Job(msgspec.Struct, frozen=True):
    wish: int
    bottles: int
    days: int
    deadline: int


_Allotment = list[tuple[int, str, int, int, int]]


def schedule(
    wishes: Sequence[Wish], house: HouseView, vessels: Sequence[VesselView], now: datetime, today: date
) -> Schedule:
    """When to begin at the latest, so that every wish is ready on its day. `today` is the household's date."""
    busy = [_busy(view, now, today) for view in vessels if view.batch is not None and _suits(view)]
    until = {one.vessel: one.until for one in busy}
    pots = [
        _Pot(
            name=view.name,
            free=max(0, (until[view.name] - today).days + practice.WASH_DAYS.value)
            if view.name in until
            else 0,
            bottles=_bottles(view),
            front=LATEST_DAYS * 3,
        )
        for view in vessels
        if _suits(view)
    ]
    days = tuple(_kit_days(wish, house) for wish in wishes)
    jobs = [
        _Job(
            wish=number,
            bottles=wish.bottles,
            days=days[number] + PROOF_DAYS,
            deadline=(wish.by - today).days - practice.REST_DAYS.value[wish.colour or "white"],
        )
        for number, wish in enumerate(wishes)
    ]
    most = max((pot.bottles for pot in pots), default=0)
    too_many = most == 0 or sum(-(-job.bottles // most) for job in jobs) > MOST_KITS
    found: _Allotment | None = None
    late: int | None = None
    if not too_many:
        found = _search(jobs, pots, 0)
        if found is None:
            late = _least_delay(jobs, pots)
    alone = () if found or too_many else tuple(_delay_of([job], pots) for job in jobs)
    starts = tuple(
        Start(
            wish=wish,
            vessel=vessel,
            start=today + timedelta(days=start),
            bottle=today + timedelta(days=end),
            bottles=bottles,
        )
        for wish, vessel, start, end, bottles in sorted(found or [], key=lambda row: (row[2], row[1]))
    )
    return Schedule(
        wishes=tuple(wishes),
        days=days,
        starts=starts,
        late_days=late,
        busy=tuple(busy),
        vessels=len(pots),
        too_many=too_many,
        alone=alone,
    )


def _suits(view: VesselView) -> bool:
    """Whether a kit is begun in such a vessel: big enough, or of unknown size and no demijohn."""
    if view.litres is not None:
        return view.litres >= practice.SMALLEST_KIT_LITRES.value
    return view.kind != "demijohn"


def _bottles(view: VesselView) -> int:
    litres = (
        min(practice.KIT_LITRES.value, view.litres) if view.litres is not None else practice.KIT_LITRES.value
    )
    return int((litres - practice.LOST_LITRES.value) / practice.BOTTLE_LITRES.value + 1e-9)


def _kit_days(wish: Wish, house: HouseView) -> int:
    """The kit's length: as said, else as the last kit of that colour, else two weeks."""
    if wish.days is not None:
        return wish.days
    same = [view.days for view in house.batches if wish.colour is not None and view.colour == wish.colour]
    return same[-1] if same else 14


def _busy(view: VesselView, now: datetime, today: date) -> Busy:
    batch = view.batch
    assert batch is not None
    return Busy(vessel=view.name, batch=batch.name, until=today + timedelta(days=days_left(batch, now)))


def days_left(batch: Batch, now: datetime) -> int:
    """Whole days until it may be bottled: by its kit's days and proof, and never sooner than its plan's waits."""
    plan = batch.follows
    by_kit = batch.begun_at + timedelta(days=batch.days + PROOF_DAYS)
    place = place_in_plan(batch)
    ahead = [step for step in plan.steps if step not in place.behind]
    at_least = timedelta(hours=sum(step.takes_hours for step in ahead))
    if settled(batch) is None:
        at_least += timedelta(days=PROOF_DAYS)
    ready = max(by_kit, now + at_least, place.ready or now)
    return max(0, -(-int((ready - now).total_seconds()) // 86400))


def _search(jobs: Sequence[_Job], pots: Sequence[_Pot], delay: int) -> _Allotment | None:
    """The plan whose first start is latest, all deadlines put off by `delay` days; None when there is none."""
    order = sorted(jobs, key=lambda job: -job.deadline)
    fronts = [pot.front for pot in pots]
    best: _Allotment | None = None
    best_first = -1
    path: _Allotment = []

    def place(job_at: int, left: int, first: int, lowest: int) -> None:
        nonlocal best, best_first
        if first <= best_first:
            return
        if left <= 0:
            job_at += 1
            if job_at == len(order):
                best, best_first = list(path), first
                return
            left, lowest = order[job_at].bottles, 0
        job = order[job_at]
        tried: set[tuple[int, int, int]] = set()
        for number in range(lowest, len(pots)):
            pot = pots[number]
            same = (fronts[number], pot.free, pot.bottles)
            end = min(job.deadline + delay, fronts[number])
            start = end - job.days
            if same in tried or start < pot.free:
                continue
            tried.add(same)
            kept = fronts[number]
            fronts[number] = start
            path.append((job.wish, pot.name, start, end, min(pot.bottles, left)))
            place(job_at, left - pot.bottles, min(first, start), 0)
            path.pop()
            fronts[number] = kept

    place(-1, 0, LATEST_DAYS * 3, 0)
    return best


def _delay_of(jobs: Sequence[_Job], pots: Sequence[_Pot]) -> int | None:
    return 0 if _search(jobs, pots, 0) is not None else _least_delay(jobs, pots)


def _least_delay(jobs: Sequence[_Job], pots: Sequence[_Pot]) -> int | None:
    """By how many days all deadlines must be put off, at least; more delay never makes it harder."""
    low, high = 0, LATEST_DAYS
    if _search(jobs, pots, high) is None:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if _search(jobs, pots, middle) is None:
            low = middle
        else:
            high = middle
    return high


def rest_days(wish: Wish) -> int:
    """How long the bottles rest before the day."""
    return practice.REST_DAYS.value[wish.colour or "white"]


def clearing_days(days: int) -> int:
    """How many of a kit's days are for clearing, by the generic plan of its length."""
    return round(sum(step.takes_hours for step in plan_for(days).steps) / 24)
