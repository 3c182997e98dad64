"""The scales on which a must's sugar is read, and specific gravity between them, all at 20 °C.

SG is specific gravity 20/20: density over water's density, both at 20 °C and in vacuum. All functions raise
BadInput outside their range.
"""

from bot.science.codes import Argument, Measure
from bot.science.formulas.density import SUCROSE_FRACTION, WATER_20, sucrose_density, sucrose_fraction
from bot.science.limits import Range
from bot.science.root import find_root

SG = Range(0.97, 1.40, Measure.SG)
BRIX = Range(-8.0, 78.0, Measure.MASS_PERCENT)
OECHSLE = Range(-30.0, 400.0, Measure.OECHSLE)
BAUME = Range(-4.5, 41.5, Measure.BAUME)
DENSITY = Range(SG.lo * WATER_20, SG.hi * WATER_20, Measure.KG_M3)

_BAUME_MODULUS = 145.0


def sg_from_brix(brix: float) -> float:
    """SG of a sugar solution of `brix` % sucrose by mass. Source: ICUMSA polynomial."""
    return sucrose_density(BRIX.check(brix, Argument.BRIX) / 100.0, 20.0) / WATER_20


def sg_from_plato(plato: float) -> float:
    """SG from degrees Plato, which are % sucrose by mass as Brix are."""
    return sg_from_brix(BRIX.check(plato, Argument.PLATO))


def sg_from_oechsle(oechsle: float) -> float:
    """SG from degrees Oechsle: thousandths above water. Definition of the scale (20/20)."""
    return 1.0 + OECHSLE.check(oechsle, Argument.OECHSLE) / 1000.0


def sg_from_baume(baume: float) -> float:
    """SG from degrees Baumé for liquids heavier than water, modulus 145. Definition of the scale."""
    return _BAUME_MODULUS / (_BAUME_MODULUS - BAUME.check(baume, Argument.BAUME))


def sg_from_density(density_kg_m3: float) -> float:
    """SG from the density at 20 °C in kg/m3."""
    return DENSITY.check(density_kg_m3, Argument.DENSITY) / WATER_20


def brix_from_sg(sg: float) -> float:
    """% sucrose by mass (Brix, Plato) of a sugar solution of this SG; negative below 1."""
    return 100.0 * sucrose_fraction(SG.check(sg, Argument.GRAVITY) * WATER_20)


def oechsle_from_sg(sg: float) -> float:
    """Degrees Oechsle."""
    return (SG.check(sg, Argument.GRAVITY) - 1.0) * 1000.0


def baume_from_sg(sg: float) -> float:
    """Degrees Baumé (modulus 145); negative below 1."""
    return _BAUME_MODULUS * (1.0 - 1.0 / SG.check(sg, Argument.GRAVITY))


def extract_g_l(sg: float) -> float:
    """Dissolved matter of a liquid without alcohol, g/l at 20 °C as sucrose. Source: ICUMSA polynomial."""
    density = SG.check(sg, Argument.GRAVITY) * WATER_20
    return sucrose_fraction(density) * density


def sg_from_extract(extract: float) -> float:
    """SG of a solution holding `extract` g/l of sucrose at 20 °C: `extract_g_l` turned round."""
    EXTRACT.check(extract, Argument.EXTRACT)
    w = find_root(
        lambda w: w * sucrose_density(w, 20.0) - extract, SUCROSE_FRACTION.lo, SUCROSE_FRACTION.hi, 1e-14
    )
    return sucrose_density(w, 20.0) / WATER_20


EXTRACT = Range(extract_g_l(SG.lo), extract_g_l(SG.hi), Measure.G_L)
