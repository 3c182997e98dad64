"""What is not as it should be with a ferment, from its readings alone.

Found as the batch stands; `new_trouble` says whether the last entry brought it about, so that it is said once.
"""

from datetime import datetime, timedelta
from typing import Literal

import msgspec

from bot.cellar.batch.looks import temperatures
from bot.cellar.batch.once import once
from bot.cellar.batch.proof import agreeing_since, settled, true_sg
from bot.cellar.batch.readings import next_reading, overdue_at
from bot.cellar.log.fold import Batch, Measured
from bot.science import practice

TroubleKind = Literal["not_started", "slow", "stuck", "overdue", "too_warm", "too_cold", "swing"]


class Trouble(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that is not well. `figure` is the gravity, or the temperature in °C; `since` when it began."""

    kind: TroubleKind
    figure: float
    since: datetime


def troubles(view: Batch, now: datetime) -> tuple[Trouble, ...]:
    """What is not well with the batch at `now`, the gravest first."""
    if view.ended_at is not None or view.pitched_at is None:
        return ()
    found = [_ferment(view), _temperature(view, now), _swing(view, now), _overdue(view, now)]
    return tuple(trouble for trouble in found if trouble is not None)


@once
def ferment_trouble(view: Batch) -> Trouble | None:
    """What the readings say is wrong: not started, stuck or slow."""
    return _ferment(view) if view.ended_at is None and view.pitched_at is not None else None


def swing(view: Batch) -> Trouble | None:
    """A jump between the last two temperatures."""
    measured = view.temperatures
    if len(measured) < 2:
        return None
    before, last = measured[-2], measured[-1]
    if (
        abs(last.value - before.value) <= practice.SWING_C.value
        or last.at - before.at > practice.SWING_WITHIN.value
    ):
        return None
    return Trouble(kind="swing", figure=last.value - before.value, since=before.at)


def _ferment(view: Batch) -> Trouble | None:
    latest, pitched = view.latest, view.pitched_at
    if latest is None or pitched is None or latest.at <= pitched or settled(view) is not None:
        return None
    first, sg = true_sg(view, view.readings[0]), true_sg(view, latest)
    before = [reading for reading in view.readings if reading.entry != latest.entry]
    if view.starting is not None and first - sg <= practice.HARDLY_FALLEN.value:
        late = latest.at - pitched >= practice.STARTED_BY.value
        return Trouble(kind="not_started", figure=sg, since=pitched) if late else None
    if min(sg, latest.low or sg) <= practice.FINISHED_BELOW.value or not before:
        return None
    since = agreeing_since(view)
    under_way = view.starting is None or first - sg >= practice.CLEARLY_FALLEN.value
    if under_way and latest.at - since >= practice.STUCK_OVER.value:
        return Trouble(kind="stuck", figure=sg, since=since)
    earlier = [r for r in before if r.at > pitched and latest.at - r.at >= practice.SLOW_OVER.value]
    if sg > practice.SLOW_ABOVE.value and earlier:
        last = earlier[-1]
        fall = (true_sg(view, last) - sg) / ((latest.at - last.at) / timedelta(days=1))
        if fall < practice.SLOW_FALL.value - 1e-9:
            return Trouble(kind="slow", figure=sg, since=last.at)
    return None


def _temperature(view: Batch, now: datetime) -> Trouble | None:
    last = _last_temperature(view, now)
    if last is None or settled(view) is not None:
        return None
    low, high = view.follows.ferment_c
    if low <= last.value <= high:
        return None
    return Trouble(kind="too_warm" if last.value > high else "too_cold", figure=last.value, since=last.at)


def _swing(view: Batch, now: datetime) -> Trouble | None:
    last = _last_temperature(view, now)
    return swing(view) if last is not None and settled(view) is None else None


def _last_temperature(view: Batch, now: datetime) -> Measured | None:
    fresh = [m for m in temperatures(view) if now - m.at <= practice.TEMPERATURE_KNOWN_FOR.value]
    return fresh[-1] if fresh else None


def _overdue(view: Batch, now: datetime) -> Trouble | None:
    late = overdue_at(view)
    if late is None or now < late:
        return None
    latest, due = view.latest, next_reading(view)
    return Trouble(kind="overdue", figure=latest.sg if latest else 0.0, since=due or late)
