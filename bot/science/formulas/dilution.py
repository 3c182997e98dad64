"""Water that brings a must down to a gravity, or a wine to a strength."""

from bot.science.codes import Argument, Wrong
from bot.science.formulas.density import (
    WATER_20,
    ethanol_density,
    ethanol_fraction,
    sucrose_fraction,
    water_density,
)
from bot.science.formulas.hydrometer import OG
from bot.science.limits import LITRES, STRENGTH, BadInput

_NONE = 1e-9


def water_for_gravity(litres: float, sg: float, sg_to: float) -> float:
    """Litres of water at 20 °C that bring a must from one SG (20/20) to a lower one: its sugar by mass is conserved.

    Source: ICUMSA polynomial. Raises BadInput outside the ranges, for a rise, and for water alone.
    """
    LITRES.check(litres, Argument.MUST)
    before = sucrose_fraction(OG.check(sg, Argument.GRAVITY_NOW) * WATER_20)
    after = sucrose_fraction(OG.check(sg_to, Argument.GRAVITY_WANTED) * WATER_20)
    if sg_to > sg or after <= 0.0:
        raise BadInput(Wrong.ONLY_THINS, key="sg_to", value=sg_to, sg=sg)
    mass = litres * sg * WATER_20
    return max(0.0, mass * (before / after - 1.0)) / water_density(20.0)


def water_for_strength(litres: float, abv: float, abv_to: float) -> float:
    """Litres of water that bring a wine from one strength (% vol) to a lower one; alcohol and mass are conserved.

    Source: OIML R 22. Raises BadInput outside the ranges, for a rise, and for water alone.
    """
    LITRES.check(litres, Argument.WINE)
    STRENGTH.check(abv, Argument.STRENGTH_NOW)
    STRENGTH.check(abv_to, Argument.STRENGTH_WANTED)
    if not 0.0 < abv_to <= abv:
        raise BadInput(Wrong.ONLY_WEAKENS, key="abv_to", value=abv_to, abv=abv)
    if abv - abv_to < _NONE:
        return 0.0
    if litres * (abv / abv_to) > LITRES.hi:
        raise BadInput(Wrong.TOO_MUCH_IN_THE_END, key="abv_to", value=abv_to, range=LITRES)
    p, p_to = ethanol_fraction(abv), ethanol_fraction(abv_to)
    return litres * ethanol_density(p, 20.0) * (p / p_to - 1.0) / ethanol_density(0.0, 20.0)
