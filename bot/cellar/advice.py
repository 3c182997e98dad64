"""Rules of winemaking: what a fact just written down should make the house think about.

A rule reads the view and the entry and returns a caution, or nothing; it never changes an entry, so the
order of rules cannot matter. To add one: a member of `Caution`, a function, a line in `RULES`, its words in
`say/`.
"""

from collections.abc import Callable
from enum import StrEnum

from bot.cellar.acts import Addition, Step, Temperature
from bot.cellar.log import BatchView, Entry
from bot.cellar.plans import Plan
from bot.cellar.stages import settled


class Caution(StrEnum):
    """Something the house should hear once, kindly."""

    STIRRED_AFTER_YEAST = "stirred_after_yeast"
    NO_STARTING_GRAVITY = "no_starting_gravity"
    PITCHED_WARM = "pitched_warm"
    PITCHED_COLD = "pitched_cold"
    TOO_WARM = "too_warm"
    TOO_COLD = "too_cold"
    RACKED_EARLY = "racked_early"
    STABILISED_EARLY = "stabilised_early"
    BOTTLED_EARLY = "bottled_early"
    NOT_CORRECTED = "not_corrected"


Rule = Callable[[BatchView, Plan, Entry], Caution | None]


def cautions(view: BatchView, plan: Plan, entry: Entry) -> tuple[Caution, ...]:
    """What the entry, already part of the view, gives cause to say."""
    return tuple(found for rule in RULES if (found := rule(view, plan, entry)) is not None)


def _is(entry: Entry, step: str) -> bool:
    return isinstance(entry.act, Step) and entry.act.step == step


def _stirred(view: BatchView, plan: Plan, entry: Entry) -> Caution | None:
    late = view.pitched_at is not None and entry.at > view.pitched_at
    return Caution.STIRRED_AFTER_YEAST if _is(entry, "stir") and late else None


def _starting_gravity(view: BatchView, plan: Plan, entry: Entry) -> Caution | None:
    return Caution.NO_STARTING_GRAVITY if _is(entry, "pitch") and view.starting is None else None


def _pitching_temperature(view: BatchView, plan: Plan, entry: Entry) -> Caution | None:
    if not _is(entry, "pitch"):
        return None
    known = [m.value for m in view.temperatures if m.at <= entry.at]
    if not known or plan.pitch_c[0] <= known[-1] <= plan.pitch_c[1]:
        return None
    return Caution.PITCHED_WARM if known[-1] > plan.pitch_c[1] else Caution.PITCHED_COLD


def _temperature(view: BatchView, plan: Plan, entry: Entry) -> Caution | None:
    fermenting = view.pitched_at is not None and entry.at > view.pitched_at and settled(view) is None
    if not isinstance(entry.act, Temperature) or not fermenting:
        return None
    low, high = plan.ferment_c
    if entry.act.temp_c > high:
        return Caution.TOO_WARM
    return Caution.TOO_COLD if entry.act.temp_c < low else None


def _racked_early(view: BatchView, plan: Plan, entry: Entry) -> Caution | None:
    first = next((step for step in plan.steps if step.does == "rack"), None)
    if not _is(entry, "rack") or first is None or view.pitched_at is None:
        return None
    latest = view.latest
    low = next((step.sg for step in plan.steps if step.gate == "sg_at_most"), None)
    if settled(view) is not None or (low is not None and latest is not None and latest.sg <= low):
        return None
    return Caution.RACKED_EARLY


def _stabilised_early(view: BatchView, plan: Plan, entry: Entry) -> Caution | None:
    sorbate = isinstance(entry.act, Addition) and entry.act.what == "sorbate"
    if not (_is(entry, "stabilise") or sorbate) or settled(view) is not None:
        return None
    return Caution.STABILISED_EARLY


def _bottled_early(view: BatchView, plan: Plan, entry: Entry) -> Caution | None:
    return Caution.BOTTLED_EARLY if _is(entry, "bottle") and settled(view) is None else None


def _not_corrected(view: BatchView, plan: Plan, entry: Entry) -> Caution | None:
    start = view.starting
    if start is None or start.entry != entry.entry or start.temp_c is not None:
        return None
    return Caution.NOT_CORRECTED


RULES: tuple[Rule, ...] = (
    _stirred,
    _starting_gravity,
    _pitching_temperature,
    _temperature,
    _racked_early,
    _stabilised_early,
    _bottled_early,
    _not_corrected,
)
