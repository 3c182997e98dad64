"""Whether a value can be true of its batch: against the curve so far, the volume, and what is left."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import assert_never

import msgspec

from bot.cellar.log.acts import (
    Acidity,
    Act,
    Addition,
    Bottles,
    Gravity,
    Ph,
    Share,
    Split,
    Step,
    Temperature,
    Volume,
)
from bot.cellar.log.ledger import shared
from bot.science import practice
from bot.science.formulas.curve import Curve
from bot.understand.claims.drafts import Unmeasured
from bot.understand.scene import Scene, SceneBatch
from bot.understand.text.names import Target
from bot.understand.text.times import TimeSaid, resolve, together
from bot.understand.verdict import Doubt

RISE = practice.RISE_IN_READING.value
FALL_A_DAY = practice.FASTEST_FALL.value
ROOM_C = practice.ROOM_C.value
FAR, NEAR = practice.FAR_FROM_CURVE.value, practice.NEAR_CURVE.value
ON_CURVE = practice.ON_CURVE.value
MORE = practice.MORE_THAN_WRITTEN.value
MORE_IN_BOTTLES = practice.MORE_IN_BOTTLES.value
LITTLE = practice.LITTLE_OF_IT.value
LOWEST = practice.LOWEST_SG.value
MISREAD = practice.MISREAD.value
_BRISK = practice.STEADY_FALL.value

ROUNDED = practice.ROUNDED_LITRES.value

_SLACK = timedelta(minutes=10)
_LONG_AGO = timedelta(days=200)
"""A day and month without a year this far back was more likely meant for one still to come."""
_WEEKS_AGO, _DAYS_AHEAD = timedelta(days=20), timedelta(days=8)
"""Nobody tells so late what was done on "the 30th", while the next one comes so soon: how people speak."""
_SAID_SG = (0.9, 1.3)
_SAID_C = 250.0

# The most of each in one go that makes sense, for each litre. Common practice, no source: each is several
# times what kits and recipes ask for. A tablet is taken as 0.44 g of sulphite, a teaspoon as 5 g, a sachet of
# yeast or finings as the kit's own.
_MOST_PER_LITRE = practice.ADDED_MOST_PER_LITRE.value
_USUAL_LITRES = practice.KIT_LITRES.value


class Concern(msgspec.Struct, frozen=True):
    """Why an act is doubtful, and what was likely meant instead: acts, each with its `of`."""

    doubt: Doubt
    about: str
    likely: tuple[Act, ...] = ()


def expected(batch: SceneBatch, when: datetime) -> float | None:
    """About where the batch's curve is at a time; None when nothing was ever read."""
    return Curve(batch.readings).gravity(when)


def distance(batch: SceneBatch, sg: float, when: datetime) -> float:
    """How far a gravity is from a batch's curve; far when nothing is known of it."""
    where = expected(batch, when)
    if where is None:
        return 0.05
    off = abs(where - sg)
    return off + (0.03 if rises(batch, sg, when) else 0.0)


def rises(batch: SceneBatch, sg: float, when: datetime) -> bool:
    """Whether a gravity is above an earlier reading, with no sugar added since."""
    earlier = [reading for reading in batch.readings if reading[0] <= when]
    if not earlier:
        return False
    last_at, last = earlier[-1]
    if any(last_at <= added <= when for added in batch.sugar_added):
        return False
    return sg > last + RISE + 1e-9


def falls_fast(batch: SceneBatch, sg: float, when: datetime) -> bool:
    """Whether the gravity would have dropped faster than any kit does."""
    earlier = [reading for reading in batch.readings if reading[0] <= when]
    if not earlier:
        return False
    last_at, last = earlier[-1]
    days = (when - last_at).total_seconds() / 86400
    return sg < LOWEST or last - sg > max(FALL_A_DAY * days, MISREAD) + 1e-9


def concern(act: Act, target: Target, scene: Scene, when: datetime, *, sweetened: bool) -> Concern | None:
    """What is doubtful about an act, if anything. `sweetened`: sugar goes in with this very message."""
    if isinstance(act, Gravity):
        return _gravity(act, target, scene, when, sweetened=sweetened)
    if isinstance(act, Temperature):
        return _temperature(act, target)
    if isinstance(act, Addition):
        return _addition(act, target)
    if isinstance(act, Bottles):
        return _bottles(act, target, scene)
    if isinstance(act, Step):
        return _step(act, target, scene)
    if isinstance(act, Volume):
        return _volume(act, target)
    if isinstance(act, Split):
        return _split(act, target, scene)
    if isinstance(act, Ph | Acidity | Unmeasured):
        return None
    assert_never(act)


def _step(act: Step, target: Target, scene: Scene) -> Concern | None:
    bottled = target.batch is not None and target.batch.bottled is not None
    if act.step not in ("label", "sanitise") and bottled:
        return Concern(Doubt.UNSURE, act.step)
    volume = target.batch.litres if target.batch is not None else None
    if (
        volume
        and act.bottles is not None
        and act.bottles * practice.BOTTLE_LITRES.value > MORE_IN_BOTTLES * volume
    ):
        return Concern(Doubt.TOO_MANY_BOTTLES, f"{act.bottles}")
    if act.to is None:
        return None
    busy = next((batch for batch in scene.under_way if act.to in (batch.vessel, *batch.also_in)), None)
    if busy is not None and (busy.name != act.of or busy.vessel == act.to):
        return Concern(Doubt.VESSEL_BUSY, act.to)
    return _fits(act, (Share(vessel=act.to, rest=True),), act.vessel, target.batch, scene)


def _volume(act: Volume, target: Target) -> Concern | None:
    volume = target.batch.litres if target.batch is not None else None
    if volume and act.litres > MORE * volume:
        return Concern(Doubt.SLIPPED_DIGIT, f"{act.litres:g}")
    if volume and act.vessel is None and act.litres < LITTLE * volume:
        return Concern(Doubt.UNSURE, f"{act.litres:g}")
    return None


def _split(act: Split, target: Target, scene: Scene) -> Concern | None:
    for share in act.into:
        busy = next((b for b in scene.under_way if share.vessel in (b.vessel, *b.also_in)), None)
        if busy is not None and busy.name != act.of:
            return Concern(Doubt.VESSEL_BUSY, share.vessel)
    return _fits(act, act.into, act.vessel, target.batch, scene)


def _fits(
    act: Step | Split, into: Sequence[Share], source: str | None, batch: SceneBatch | None, scene: Scene
) -> Concern | None:
    """A vessel that cannot hold what is said to be in it; likely it was filled, and the rest stayed where it was."""
    if batch is None:
        return None
    pool = batch.holds.get(source, batch.litres) if source is not None else batch.litres
    size = {vessel.name: vessel.litres for vessel in scene.vessels}
    told = {vessel: litres or 0.0 for vessel, litres in shared(pool, into).items()}
    small = [v for v, litres in told.items() if size.get(v) and litres > (size[v] or 0.0) + ROUNDED]
    if not small:
        return None
    from_vessel = source or (batch.vessel if not batch.also_in else None)
    if from_vessel is None or from_vessel in told or pool is None:
        return Concern(Doubt.TOO_SMALL, small[0])
    filled = {v: min(litres, size[v] or litres) if v in small else litres for v, litres in told.items()}
    shares = [Share(vessel=v, litres=litres) for v, litres in filled.items()]
    left = Share(vessel=from_vessel, litres=round(pool - sum(filled.values()), 3), rest=True)
    likely = Split(of=act.of, at=act.at, into=(*shares, left), vessel=act.vessel)
    return Concern(Doubt.TOO_SMALL, small[0], (likely,))


def _gravity(
    act: Gravity, target: Target, scene: Scene, when: datetime, *, sweetened: bool
) -> Concern | None:
    batch = target.batch
    if act.temp_c is not None and not ROOM_C[0] <= act.temp_c <= 100:
        return Concern(Doubt.ODD_TEMPERATURE, f"{act.temp_c:g}")
    if batch is None:
        return _strange_vessel(act, target, scene, when)
    said = f"{act.sg:.3f}" if round(act.sg, 3) == act.sg else f"{act.sg:g}"
    if batch.bottled is not None:
        return Concern(Doubt.UNSURE, said)
    if _refracts(act, batch):
        # What alcohol adds to it is worked out, or the instrument asked for, before it is held against the curve.
        return None
    rising = not sweetened and rises(batch, act.sg, when)
    falling = falls_fast(batch, act.sg, when)
    others = _others_curve(act.sg, batch, scene.under_way, when)
    if others is not None:
        likely = (_of(act, others.name),)
        return Concern(Doubt.RISING if rising else Doubt.OTHER_CURVE, said, likely)
    if not rising and not falling:
        return None
    meant = slipped(act.sg, batch, when)
    if meant is not None:
        return Concern(
            Doubt.SLIPPED_DIGIT, said, (Gravity(of=act.of, at=act.at, sg=meant, temp_c=act.temp_c),)
        )
    return Concern(Doubt.RISING if rising else Doubt.FALLING_FAST, said)


def _refracts(act: Gravity, batch: SceneBatch) -> bool:
    """Whether what was read may show alcohol too, so that it cannot be held against the curve as it is."""
    if act.brix is None or act.instrument == "hydrometer":
        return False
    readings = batch.readings
    fell = len(readings) > 1 and readings[0][1] - readings[-1][1] > MISREAD
    return batch.ferments_from is not None or (fell and act.instrument == "refractometer")


def _strange_vessel(act: Gravity, target: Target, scene: Scene, when: datetime) -> Concern | None:
    """A gravity of a vessel that holds no batch, while it is right on some batch's curve."""
    near = [batch for batch in scene.under_way if batch.readings and distance(batch, act.sg, when) <= NEAR]
    if target.vessel is None or not near:
        return None
    best = min(near, key=lambda batch: distance(batch, act.sg, when))
    return Concern(Doubt.OTHER_CURVE, target.vessel, (_of(act, best.name),))


def _of(act: Gravity, name: str) -> Gravity:
    return msgspec.structs.replace(act, of=name)


def _others_curve(
    sg: float, batch: SceneBatch, under_way: Sequence[SceneBatch], when: datetime
) -> SceneBatch | None:
    if distance(batch, sg, when) <= FAR or not batch.readings:
        return None
    if len(batch.readings) == 1 and 0 <= batch.readings[0][1] - sg <= _BRISK * _days_since(batch, when):
        return None  # one reading is no curve: it may have fallen as any kit does
    near = [
        other
        for other in under_way
        if other.name != batch.name and other.readings and distance(other, sg, when) <= NEAR
    ]
    return min(near, key=lambda other: distance(other, sg, when)) if near else None


def _days_since(batch: SceneBatch, when: datetime) -> float:
    """Days since its first reading."""
    return (when - batch.readings[0][0]).total_seconds() / 86400


def slipped(sg: float, batch: SceneBatch, when: datetime) -> float | None:
    """The gravity that was likely meant, one wrong or two swapped digits away, on the batch's curve."""
    where = expected(batch, when)
    if where is None:
        return None
    digits = f"{sg:.3f}".replace(".", "")
    tries: set[str] = set()
    for place in range(len(digits)):
        tries.update(digits[:place] + digit + digits[place + 1 :] for digit in "0123456789")
        if place + 1 < len(digits):
            tries.add(digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :])
    fitting = [
        value
        for value in (int(text) / 1000 for text in tries)
        if practice.SG_WRITTEN.value[0] <= value <= practice.SG_WRITTEN.value[1]
        and value != sg
        and not rises(batch, value, when)
        and abs(value - where) <= ON_CURVE
    ]
    return min(fitting, key=lambda value: abs(value - where)) if fitting else None


def _temperature(act: Temperature, target: Target) -> Concern | None:
    if ROOM_C[0] <= act.temp_c <= ROOM_C[1]:
        return None
    return Concern(Doubt.ODD_TEMPERATURE, f"{act.temp_c:g}")


def _addition(act: Addition, target: Target) -> Concern | None:
    if act.amount is None:
        return None
    said = f"{act.amount:g}{f' {act.unit}' if act.unit else ''}"
    batch = target.batch
    there = batch.holds.get(act.vessel, batch.litres) if batch and act.vessel else batch and batch.litres
    volume = there or _USUAL_LITRES
    if target.batch is not None and target.batch.bottled is not None:
        return Concern(Doubt.UNSURE, said)
    limits = _MOST_PER_LITRE.get(act.what)
    if limits is None:
        return Concern(Doubt.ODD_DOSE, said) if act.unit == "g" and act.amount > 100 * volume else None
    unit = act.unit or ("tablet" if act.what == "sulphite" else None)
    if unit is None or unit not in limits:
        return None
    return Concern(Doubt.ODD_DOSE, said) if act.amount > limits[unit] * volume + 1 else None


def _bottles(act: Bottles, target: Target, scene: Scene) -> Concern | None:
    batch = target.batch
    if batch is None:
        return None
    if batch.bottled is None:
        return Concern(Doubt.UNSURE, batch.name)
    if batch.bottles_left is not None and act.change < 0 and -act.change > batch.bottles_left:
        return Concern(Doubt.TOO_MANY_BOTTLES, f"{-act.change}")
    return None


def when(
    moments: Sequence[TimeSaid], sent_at: datetime, scene: Scene
) -> tuple[datetime | None, Doubt | None]:
    """When a fact was, None for now; with the doubt when that is still to come."""
    moment = together(moments)
    if moment is None:
        return None, None
    at = resolve(moment, sent_at, scene.zone, "past")
    if at is None:
        return None, None
    if moment.day is not None and moment.day[0] is None and sent_at - at > _LONG_AGO:
        return at, Doubt.FUTURE
    if moment.day is not None and _more_likely_to_come(moment, at, sent_at, scene):
        return at, Doubt.FUTURE
    if at > sent_at + _SLACK:
        vague = not moment.exact and (moment.days == 0 or moment.days is None) and moment.day is None
        return (None, None) if vague else (at, Doubt.FUTURE)
    if not moment.exact and at.astimezone(scene.zone).date() == sent_at.astimezone(scene.zone).date():
        return (at, None) if moment.part is not None else (None, None)
    return at, None


def _more_likely_to_come(moment: TimeSaid, at: datetime, sent_at: datetime, scene: Scene) -> bool:
    """ "On the 30th", said on the 28th: a day of no month that is just to come, and was last long ago."""
    if moment.day is None or moment.day[1] or sent_at - at < _WEEKS_AGO:
        return False
    ahead = resolve(moment, sent_at, scene.zone, "future")
    return ahead is not None and ahead - sent_at < _DAYS_AHEAD


def tellable(act: Act) -> bool:
    """Whether a value out of range is still a number of its kind, to be told back as said."""
    if isinstance(act, Gravity):
        return _SAID_SG[0] <= act.sg <= _SAID_SG[1]
    if isinstance(act, Temperature):
        return abs(act.temp_c) <= _SAID_C
    if isinstance(act, Ph):
        return 0 <= act.ph <= 14
    if isinstance(act, Acidity):
        return 0 <= act.g_per_l <= 100
    if isinstance(act, Volume | Addition | Step | Split | Bottles | Unmeasured):
        return False
    assert_never(act)
