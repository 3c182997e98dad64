"""Water that brings a must down to a gravity, or a wine to a strength."""

from bot.science.density import WATER_20, sucrose_fraction, water_density
from bot.science.hydrometer import OG
from bot.science.limits import LITRES, STRENGTH, BadInput
from bot.science.root import find_root
from bot.science.volumes import blend

_NONE = 1e-9


def water_for_gravity(litres: float, sg: float, sg_to: float) -> float:
    """Litres of water at 20 °C that bring a must from one SG (20/20) to a lower one: its sugar by mass is conserved.

    Source: ICUMSA polynomial. Raises BadInput outside the ranges, for a rise, and for water alone.
    """
    LITRES.check(litres, "the must")
    before = sucrose_fraction(OG.check(sg, "the gravity now") * WATER_20)
    after = sucrose_fraction(OG.check(sg_to, "the gravity wanted") * WATER_20)
    if sg_to > sg or after <= 0.0:
        raise BadInput(
            f"the gravity wanted needs to lie between 1.001 and the {sg:.3f} there is: water only thins"
        )
    mass = litres * sg * WATER_20
    return max(0.0, mass * (before / after - 1.0)) / water_density(20.0)


def water_for_strength(litres: float, abv: float, abv_to: float) -> float:
    """Litres of water that bring a wine from one strength (% vol) to a lower one; alcohol and mass are conserved.

    Source: OIML R 22. Raises BadInput outside the ranges, for a rise, and for water alone.
    """
    LITRES.check(litres, "the wine")
    STRENGTH.check(abv, "the strength now")
    STRENGTH.check(abv_to, "the strength wanted")
    if not 0.0 < abv_to <= abv:
        raise BadInput(f"the strength wanted needs to lie above 0 and up to the {abv:g} % vol there is")
    if abv - abv_to < _NONE:
        return 0.0
    most = litres * (abv / abv_to)
    if most > LITRES.hi:
        raise BadInput(f"that would be more than {LITRES.hi:g} litres in the end")
    return find_root(
        lambda water: blend(litres, abv, max(water, LITRES.lo), 0.0).abv - abv_to, 0.0, most, 1e-6
    )
