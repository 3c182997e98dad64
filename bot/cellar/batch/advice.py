"""Rules of winemaking: what a fact just written down should make the house think about.

A rule reads the view and the entry and returns a caution, or nothing; it never changes an entry, so the
order of rules cannot matter. To add one: a member of `Caution`, a function, a line in `RULES`, its words in
`say/`.
"""

from collections.abc import Callable
from datetime import datetime
from enum import StrEnum

import msgspec

from bot.cellar.batch.looks import temperatures
from bot.cellar.batch.place import doings, place_in_plan
from bot.cellar.batch.proof import ferments_at, settled, true_sg
from bot.cellar.batch.strength import most_per_litre
from bot.cellar.batch.troubles import ferment_trouble, swing
from bot.cellar.log.acts import Addition, Bottles, Gravity, Step
from bot.cellar.log.fold import Batch, Entry
from bot.cellar.log.views import Measured
from bot.science import practice
from bot.science.formulas.doses import SO2_SHARE, SORBIC_SHARE, legal_max_sulphite


class Caution(StrEnum):
    """Something the house should hear once, kindly."""

    STIRRED_AFTER_YEAST = "stirred_after_yeast"
    NO_STARTING_GRAVITY = "no_starting_gravity"
    PITCHED_WARM = "pitched_warm"
    PITCHED_COLD = "pitched_cold"
    TOO_WARM_TO_PITCH = "too_warm_to_pitch"
    PITCHED_HOT = "pitched_hot"
    TOO_HOT = "too_hot"
    TOO_WARM = "too_warm"
    TOO_COLD = "too_cold"
    RACKED_EARLY = "racked_early"
    STABILISED_EARLY = "stabilised_early"
    BOTTLED_EARLY = "bottled_early"
    NOT_CORRECTED = "not_corrected"
    NOT_STARTED = "not_started"
    SLOW = "slow"
    STUCK = "stuck"
    SWING = "swing"
    DOUBLED = "doubled"
    FORGOTTEN = "forgotten"
    SULPHITE_OVER = "sulphite_over"
    SORBATE_MALO = "sorbate_malo"
    NO_AIR = "no_air"
    BLENDED_WORKING = "blended_working"
    BROKEN_GLASS = "broken_glass"
    REFRACTED = "refracted"
    SWEETENED = "sweetened"
    FERMENT_GOES_ON = "ferment_goes_on"
    FIRST_SULPHITE = "first_sulphite"
    SORBATE_OVER = "sorbate_over"
    YEAST_INFERRED = "yeast_inferred"


class Heed(msgspec.Struct, frozen=True, kw_only=True):
    """A caution with what it is about: words of the log, a figure (SG, °C or mg/l), a limit, a time."""

    caution: Caution
    about: str = ""
    by: str = ""
    figure: float = 0.0
    limit: float = 0.0
    at: datetime | None = None
    vessel: str | None = None
    """The one of several vessels that it is about."""


Rule = Callable[[Batch, Entry], Caution | Heed | None]


def cautions(view: Batch, entry: Entry) -> tuple[Heed, ...]:
    """What the entry, already part of the view, gives cause to say."""
    found = [rule(view, entry) for rule in RULES]
    return tuple(item if isinstance(item, Heed) else Heed(caution=item) for item in found if item is not None)


def _is(entry: Entry, step: str) -> bool:
    return isinstance(entry.act, Step) and entry.act.step == step


def _stirred(view: Batch, entry: Entry) -> Caution | None:
    late = view.pitched_at is not None and entry.at > view.pitched_at
    # Rousing the yeast is what a ferment that stands still wants.
    roused = ferment_trouble(view) is not None
    return Caution.STIRRED_AFTER_YEAST if _is(entry, "stir") and late and not roused else None


def _starting_gravity(view: Batch, entry: Entry) -> Caution | None:
    return Caution.NO_STARTING_GRAVITY if _is(entry, "pitch") and view.starting is None else None


def _pitching_temperature(view: Batch, entry: Entry) -> Caution | Heed | None:
    """The last temperature told before the yeast; one above what yeast bears, while it may still be so."""
    yeast = isinstance(entry.act, Addition) and entry.act.what == "yeast"
    if not (_is(entry, "pitch") or yeast):
        return None
    told = [found for found in temperatures(view) if (found.at, found.entry) < (entry.at, entry.entry)]
    if not told:
        return None
    plan = view.follows
    last, fresh = told[-1].value, entry.at - told[-1].at <= practice.STILL_SO.value
    if last > practice.HURTS_YEAST_C.value and fresh:
        return Heed(caution=Caution.PITCHED_HOT, figure=last)
    if last > plan.ferment_c[1] and fresh:
        return Caution.PITCHED_WARM
    known = [m.value for m in view.temperatures if m.at <= entry.at]
    if not known or plan.pitch_c[0] <= known[-1] <= plan.pitch_c[1]:
        return None
    return Caution.PITCHED_WARM if known[-1] > plan.pitch_c[1] else Caution.PITCHED_COLD


def _temperature(view: Batch, entry: Entry) -> Caution | Heed | None:
    """Out of range, told alone or with a gravity: said once for each time that it goes there, and once more
    where it goes on to what hurts the yeast."""
    told = temperatures(view)
    here = next((place for place, found in enumerate(told) if found.entry == entry.entry), None)
    if here is None or view.ended_at is not None or settled(view) is not None:
        return None
    value, band = told[here].value, _band(view, told[here].value)
    if view.pitched_at is None or entry.at < view.pitched_at:
        return Heed(caution=Caution.TOO_WARM_TO_PITCH, figure=value) if band > 0 else None
    before = told[here - 1] if here else None
    # What was told before the yeast was told as such: of that, nothing has been said of the ferment yet.
    last = _band(view, before.value) if before is not None and _after_yeast(view, before) else 0
    if band > max(last, 1):
        return Heed(caution=Caution.TOO_HOT, figure=value)
    if band > 0:
        return Caution.TOO_WARM if last <= 0 else None
    return Caution.TOO_COLD if band < 0 <= last else None


def _band(view: Batch, temp_c: float) -> int:
    """-1 below the plan's range, 0 within, 1 above, 2 where it hurts the yeast, 3 where it kills it."""
    low, high = view.follows.ferment_c
    if temp_c < low:
        return -1
    return sum(
        temp_c > limit
        for limit in (
            high,
            max(high, practice.HURTS_YEAST_C.value),
            max(high, practice.KILLS_YEAST_C.value - 1e-9),
        )
    )


def _after_yeast(view: Batch, told: Measured) -> bool:
    """Whether it was told after the yeast, though perhaps in the same minute."""
    yeast = [(c.at, c.entry) for c in view.chores if c.step == "pitch"]
    yeast += [(a.at, a.entry) for a in view.additions if a.what == "yeast"]
    inferred = view.yeast_inferred
    return (told.at, told.entry) > min(yeast) if inferred is None else told.at > inferred


def _broken(view: Batch, entry: Entry) -> Caution | None:
    return Caution.BROKEN_GLASS if isinstance(entry.act, Bottles) and entry.act.reason == "broke" else None


def _racked_early(view: Batch, entry: Entry) -> Caution | None:
    steps = view.follows.steps
    first = next((step for step in steps if step.does == "rack"), None)
    if not _is(entry, "rack") or first is None or view.pitched_at is None:
        return None
    latest = view.latest
    low = next((step.sg for step in steps if step.gate == "sg_at_most"), None)
    if settled(view) is not None or (low is not None and latest is not None and latest.sg <= low):
        return None
    return Caution.RACKED_EARLY


def _stabilised_early(view: Batch, entry: Entry) -> Caution | None:
    sorbate = isinstance(entry.act, Addition) and entry.act.what == "sorbate"
    if not (_is(entry, "stabilise") or sorbate) or settled(view) is not None:
        return None
    return Caution.FERMENT_GOES_ON if ferments_at(view, entry.at) else Caution.STABILISED_EARLY


def _sweetened(view: Batch, entry: Entry) -> Caution | None:
    """Sugar into a wine that has finished, or nearly: said every time."""
    if not isinstance(entry.act, Addition) or entry.act.what != "sugar" or view.pitched_at is None:
        return None
    before = [reading for reading in view.readings if reading.at <= entry.at]
    low = bool(before) and true_sg(view, before[-1]) <= practice.LOW_ENOUGH_TO_STABILISE.value
    return Caution.SWEETENED if low and entry.at > view.pitched_at else None


def _first_sulphite(view: Batch, entry: Entry) -> Heed | None:
    """Most of what a first dose brings is thought to be free, and is not."""
    act = entry.act
    if not isinstance(act, Addition) or act.what != "sulphite":
        return None
    if any(a.what == "sulphite" and a.entry != entry.entry and a.at <= entry.at for a in view.additions):
        return None
    low, high = practice.BOUND_OF_FIRST.value
    return Heed(caution=Caution.FIRST_SULPHITE, about=f"{low:.0%} to {high:.0%}".replace("%", " %"))


def _bottled_early(view: Batch, entry: Entry) -> Caution | None:
    return Caution.BOTTLED_EARLY if _is(entry, "bottle") and settled(view) is None else None


def _not_corrected(view: Batch, entry: Entry) -> Caution | None:
    start = view.starting
    if start is None or start.entry != entry.entry or start.temp_c is not None:
        return None
    return Caution.NOT_CORRECTED


def _yeast(view: Batch, entry: Entry) -> Heed | None:
    """A reading that proves yeast which nobody mentioned: said once, with the reading that shows it first."""
    yeast = view.yeast_inferred
    if not isinstance(entry.act, Gravity) or yeast is None or view.ended_at is not None:
        return None
    rest = tuple(reading for reading in view.readings if reading.entry != entry.entry)
    if msgspec.structs.replace(view, readings=rest).yeast_inferred is not None:
        return None
    return Heed(caution=Caution.YEAST_INFERRED, figure=view.readings[0].sg, about=view.name, at=yeast)


_TROUBLES = {"not_started": Caution.NOT_STARTED, "slow": Caution.SLOW, "stuck": Caution.STUCK}


def _ferment(view: Batch, entry: Entry) -> Heed | None:
    """Not started, slow or stuck: said with the reading that shows it first."""
    if not isinstance(entry.act, Gravity) or view.latest is None or view.latest.entry != entry.entry:
        return None
    found = ferment_trouble(view)
    before = ferment_trouble(msgspec.structs.replace(view, readings=view.readings[:-1]))
    if found is None or (before is not None and before.kind == found.kind):
        return None
    return Heed(caution=_TROUBLES[found.kind], figure=found.figure, at=found.since)


def _swing(view: Batch, entry: Entry) -> Heed | None:
    fermenting = view.pitched_at is not None and entry.at >= view.pitched_at and settled(view) is None
    last = view.temperatures[-1] if view.temperatures else None
    if not fermenting or last is None or last.entry != entry.entry:
        return None
    found = swing(view)
    if found is None or _band(view, last.value) > 1:  # then there is worse to say
        return None
    return Heed(caution=Caution.SWING, figure=abs(found.figure), at=found.since)


def _doubled(view: Batch, entry: Entry) -> Heed | None:
    """The same sachet twice, or the same thing in the same amount within a day."""
    act = entry.act
    if not isinstance(act, Addition):
        return None
    for other in view.additions:
        if other.entry == entry.entry or other.what != act.what or other.at > entry.at:
            continue
        near = entry.at - other.at <= practice.ADDED_TWICE_WITHIN.value and (other.amount, other.unit) == (
            act.amount,
            act.unit,
        )
        elsewhere = None not in (act.vessel, other.vessel) and act.vessel != other.vessel
        if not elsewhere and (act.what.startswith("sachet ") or near):
            return Heed(caution=Caution.DOUBLED, about=act.what, by=other.by, at=other.at)
    return None


def _forgotten(view: Batch, entry: Entry) -> Heed | None:
    """An addition of the plan that this chore goes past, and nobody said it went in."""
    if not isinstance(entry.act, Step) or entry.act.step in ("sanitise", "top_up"):
        return None
    now, before = (place_in_plan(one) for one in (view, _without(view, entry)))
    done = doings(view)
    missing = [
        step
        for step in now.behind
        if step not in before.behind and step.id not in done and step.does in ("add", "stabilise", "fine")
    ]
    if not missing:
        return None
    return Heed(caution=Caution.FORGOTTEN, about=missing[0].title)


def _without(view: Batch, entry: Entry) -> Batch:
    return msgspec.structs.replace(view, chores=tuple(c for c in view.chores if c.entry != entry.entry))


def sulphite_mg_l(view: Batch) -> float | None:
    """All the sulphur dioxide that was written down for the batch, in mg/l, in that vessel of several that has the
    most; None where no volume is known.

    Amounts without a unit are taken for tablets,
    sachets are not counted.
    """
    found = _most_sulphite(view)
    return found[0] if found is not None else None


def _most_sulphite(view: Batch) -> tuple[float, str | None] | None:
    if not view.litres:
        return None
    in_grams = {
        "g": 1.0,
        "tsp": practice.TEASPOON_G.value,
        "tablet": practice.TABLET_G.value,
        None: practice.TABLET_G.value,
    }
    grams = {
        added.entry: added.amount * in_grams.get(added.unit, 0.0)
        for added in view.additions
        if added.what == "sulphite" and added.amount is not None
    }
    total, vessel = most_per_litre(view, grams)
    return total * SO2_SHARE["potassium"] * 1000.0, vessel


def sulphite_over(view: Batch) -> float | None:
    """The sulphur dioxide that was written down, in mg/l, where that is over what the law allows."""
    total = sulphite_mg_l(view) or 0.0
    limit = legal_max_sulphite("red" if view.colour == "red" else "white")
    return total if total > limit else None


def _sulphite(view: Batch, entry: Entry) -> Heed | None:
    found = _most_sulphite(view)
    if not isinstance(entry.act, Addition) or entry.act.what != "sulphite" or found is None:
        return None
    total, vessel = found
    limit = legal_max_sulphite("red" if view.colour == "red" else "white")
    over = Heed(caution=Caution.SULPHITE_OVER, figure=total, limit=limit, vessel=vessel)
    return over if total > limit else None


def _sorbate_over(view: Batch, entry: Entry) -> Heed | None:
    if not isinstance(entry.act, Addition) or entry.act.what != "sorbate" or not view.litres:
        return None
    grams = {a.entry: a.amount for a in view.additions if a.what == "sorbate" and a.amount and a.unit == "g"}
    most, vessel = most_per_litre(view, grams)
    total, limit = most * SORBIC_SHARE * 1000.0, practice.SORBIC_MAX_MG_L.value
    over = total > limit * 1.05
    return Heed(caution=Caution.SORBATE_OVER, figure=total, limit=limit, vessel=vessel) if over else None


def _malolactic(view: Batch, entry: Entry) -> Caution | None:
    sorbate = isinstance(entry.act, Addition) and entry.act.what == "sorbate"
    words = [added.what for added in view.additions] + [note.text for note in view.notes]
    malo = any(word in said.casefold() for said in words for word in ("malolactic", "mlf", "lactic bacteria"))
    return Caution.SORBATE_MALO if malo and (sorbate or _is(entry, "stabilise")) else None


def _no_air(view: Batch, entry: Entry) -> Caution | None:
    first = view.done("degas")
    return (
        Caution.NO_AIR if _is(entry, "degas") and first is not None and first.entry == entry.entry else None
    )


def _blended(view: Batch, entry: Entry) -> Caution | None:
    """One of the two had not stopped fermenting."""
    mixed = next((one for one in view.mixed if one.entry == entry.entry), None)
    if mixed is None or (settled(mixed.own) and settled(mixed.other)):
        return None
    return Caution.BLENDED_WORKING


def _refracted(view: Batch, entry: Entry) -> Heed | None:
    """A refractometer's figure in a ferment is an estimate, each time."""
    read = next((r for r in view.readings if r.entry == entry.entry and r.estimated), None)
    if read is None or read.low is None:
        return None
    return Heed(caution=Caution.REFRACTED, figure=read.sg, limit=read.low)


RULES: tuple[Rule, ...] = (
    _refracted,
    _stirred,
    _starting_gravity,
    _pitching_temperature,
    _temperature,
    _racked_early,
    _stabilised_early,
    _bottled_early,
    _not_corrected,
    _yeast,
    _ferment,
    _swing,
    _doubled,
    _forgotten,
    _sulphite,
    _malolactic,
    _sweetened,
    _first_sulphite,
    _sorbate_over,
    _no_air,
    _blended,
    _broken,
)
