"""What a batch's gravities prove: that it has stopped, or how fast it falls."""

from datetime import datetime

import msgspec

from bot.cellar.batch.once import once
from bot.cellar.log.gravities import corrected
from bot.cellar.log.views import Batch, Reading
from bot.science import practice
from bot.science.formulas.curve import Curve


class Proof(msgspec.Struct, frozen=True, kw_only=True):
    """Proof that the gravity has stopped: the agreeing readings, first and last."""

    first: Reading
    last: Reading


def true_sg(view: Batch, reading: Reading) -> float:
    """The reading at 20 °C, where a temperature that can be corrected was told; else as read. SG 20/20. A
    refractometer corrects for warmth itself."""
    if reading.temp_c is None or reading.instrument == "refractometer":
        return reading.sg
    start = view.starting
    og = start.sg if start is not None and start.entry != reading.entry else None
    return corrected(reading.sg, reading.temp_c, og)


@once
def settled(view: Batch) -> Proof | None:
    """The first run of readings after the yeast that proves the gravity has stopped.

    None while there is no proof, and again when a later reading shows that it has begun to fall once more.
    """
    found: Proof | None = None
    run: list[Reading] = []
    blended = _blended_working(view)
    for reading in view.readings:
        if (blended is not None and reading.at <= blended) or reading.estimated:
            continue
        sg = true_sg(view, reading)
        if found is not None and sg < true_sg(view, found.last) - practice.FALLS_AGAIN.value:
            found, run = None, []
        run = [*_agreeing_tail(view, run, sg), reading]
        if (
            found is None
            and sg <= practice.FINISHED_BELOW.value
            and reading.at - run[0].at >= practice.SETTLED_OVER.value
        ):
            found = Proof(first=run[0], last=reading)
    return found


def _blended_working(view: Batch) -> datetime | None:
    """When it was last blended with, or as, a wine that had not stopped: what was read before proves nothing."""
    if not view.mixed:
        return None
    last = view.mixed[-1]
    return None if settled(last.own) and settled(last.other) else last.at


def _agreeing_tail(view: Batch, run: list[Reading], sg: float) -> list[Reading]:
    """The latest readings of the run that all agree with `sg` and one another."""
    tail: list[Reading] = []
    low = high = sg
    for reading in reversed(run):
        value = true_sg(view, reading)
        low, high = min(low, value), max(high, value)
        if high - low > practice.SETTLED_WITHIN.value + 1e-9:
            break
        tail.insert(0, reading)
    return tail


@once
def agreeing_since(view: Batch) -> datetime:
    """When the run of readings that agree with the latest one began. The view must have a reading."""
    latest = view.readings[-1]
    # An estimate agrees with others of its kind; it is no proof beside a hydrometer's.
    run = [r for r in view.readings[:-1] if latest.estimated or not r.estimated]
    tail = _agreeing_tail(view, run, true_sg(view, latest))
    return tail[0].at if tail else latest.at


@once
def curve(view: Batch) -> Curve:
    """The batch's readings at 20 °C, as the curve of its ferment."""
    return Curve([(reading.at, true_sg(view, reading)) for reading in view.readings])


@once
def falls_now(view: Batch) -> float | None:
    """How fast it falls at present, SG a day; None where it has stopped, or may have: it is low, and the
    last readings lie too far apart to say."""
    course = curve(view)
    pair = course.apart
    if settled(view) is not None or view.ended_at is not None or pair is None:
        return None
    near = pair[1][0] - pair[0][0] <= practice.RATE_WITHIN.value
    return course.fall if near or pair[1][1] > practice.FINISHED_BELOW.value else None


def ferments_at(view: Batch, moment: datetime) -> bool:
    """Whether the readings say that it was still fermenting at that moment: too high to be finished, or falling since,
    and no run of readings that agree had begun."""
    pitched, proof = view.pitched_at, settled(view)
    if pitched is None or moment <= pitched or (proof is not None and proof.first.at <= moment):
        return False
    before = [reading for reading in view.readings if reading.at <= moment]
    return bool(before) and true_sg(view, before[-1]) > practice.FINISHED_BELOW.value
