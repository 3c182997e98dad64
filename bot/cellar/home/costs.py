"""What a batch cost, and each bottle of it, in the household's own money."""

import msgspec

from bot.cellar.log.fold import Batch, HouseView
from bot.cellar.log.views import Spent
from bot.science.formulas.volumes import bottling, cost_per_bottle
from bot.science.limits import BadInput


class Costs(msgspec.Struct, frozen=True, kw_only=True):
    """All that was spent, its kit and its extras; `bottles` made, or to be expected of its litres (`made` says
    which), and what one of them cost. None where too little is known."""

    spent: tuple[Spent, ...]
    kit: float
    extras: float
    bottles: int | None
    made: bool
    per_bottle: float | None


def costs_of(view: Batch, house: HouseView) -> Costs:
    """The batch's costs, with those of what was poured into it."""
    spent = _spent(view, house)
    kit = sum(item.amount for item in spent if item.what == "kit")
    extras = sum(item.amount for item in spent if item.what != "kit")
    bottles = view.bottles_made if view.bottles_made else expected_bottles(view)
    per_bottle = None
    if spent and bottles:
        try:
            per_bottle = cost_per_bottle(kit, extras, bottles)
        except BadInput:
            per_bottle = None
    return Costs(
        spent=spent,
        kit=kit,
        extras=extras,
        bottles=bottles,
        made=bool(view.bottles_made),
        per_bottle=per_bottle,
    )


def _spent(view: Batch, house: HouseView) -> tuple[Spent, ...]:
    found = list(view.costs)
    for mixed in view.mixed:
        other = house.batch(mixed.other.batch)
        found += _spent(other, house) if other is not None else mixed.other.costs
    return tuple(found)


def expected_bottles(view: Batch) -> int | None:
    """Full bottles of 75 cl that its litres give; None where no volume is known."""
    if not view.litres:
        return None
    try:
        return bottling(view.litres).bottles
    except BadInput:
        return None
