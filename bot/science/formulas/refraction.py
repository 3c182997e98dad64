"""What a refractometer shows once there is alcohol, and the gravity that it stands for.

A refractometer made for sugar turns the bending of light into % sucrose. Alcohol bends light too, so in a ferment
it shows more than there is. The share of each is taken as its own: n(wine) = n(alcohol in water) + n(sugar in
water) - n(water), as Tabarié does with densities; the mass balance of the must says how much of each there is.
"""

import math
from bisect import bisect_right
from functools import lru_cache

import msgspec

from bot.science import practice
from bot.science.codes import Argument, Because, Measure, Wrong
from bot.science.formulas.balance import Wine, fermented
from bot.science.formulas.gravity import sg_from_brix
from bot.science.formulas.strength import lowest_gravity
from bot.science.limits import BadInput, Range
from bot.science.root import find_root

SHOWN = Range(0.0, 40.0, Measure.BRIX, Because.REFRACTOMETER_SHOWS)
STARTED = Range(5.0, 40.0, Measure.BRIX, Because.SUCH_A_MUST)

# Refractive index at 20 °C and 589 nm by % by mass: sucrose after ICUMSA, ethanol after the CRC Handbook of Chemistry
# and Physics (concentrative properties of aqueous solutions). Both come from memory.
_SUCROSE = (
    *((0.0, 1.33299), (1.0, 1.33442), (2.0, 1.33586), (3.0, 1.33732), (4.0, 1.33879), (5.0, 1.34026)),
    *((6.0, 1.34175), (7.0, 1.34325), (8.0, 1.34476), (9.0, 1.34629), (10.0, 1.34782), (12.0, 1.35093)),
    *((14.0, 1.35408), (16.0, 1.35729), (18.0, 1.36054), (20.0, 1.36384), (22.0, 1.36720), (24.0, 1.37060)),
    *((26.0, 1.37406), (28.0, 1.37758), (30.0, 1.38115), (35.0, 1.39032), (40.0, 1.39986)),
)
_ETHANOL = (
    *((0.0, 1.33299), (1.0, 1.3336), (2.0, 1.3342), (3.0, 1.3348), (4.0, 1.3354), (5.0, 1.3360)),
    *((6.0, 1.3367), (7.0, 1.3374), (8.0, 1.3381), (9.0, 1.3388), (10.0, 1.3395), (12.0, 1.3410)),
    *((14.0, 1.3425), (16.0, 1.3440), (18.0, 1.3455), (20.0, 1.3469), (24.0, 1.3498)),
)


class Estimate(msgspec.Struct, frozen=True):
    """A gravity (SG 20/20) worked out from a refractometer, with its honest band."""

    sg: float
    low: float
    high: float


def brix_shown(wine: Wine) -> float:
    """What a refractometer for sugar shows in the wine, in Brix."""
    n = _at(_ETHANOL, 100.0 * wine.p) + _at(_SUCROSE, max(0.0, 100.0 * wine.w)) - _SUCROSE[0][1]
    return _at(tuple((index, brix) for brix, index in _SUCROSE), n)


@lru_cache(maxsize=4096)
def gravity_refracted(brix: float, started_sg: float) -> Estimate:
    """The gravity of a ferment in which a refractometer shows `brix` (0-40), by the must's own SG 20/20 before the
    yeast (`started_sg`).

    Sources: the tables above; Balling's balance. The band holds the reading of both figures and what is not known
    of the shares. Raises BadInput outside the ranges, for a figure above the must's own, and for one too low for
    any wine of that must.
    """
    SHOWN.check(brix, Argument.REFRACTOMETER_BRIX)
    if not sg_from_brix(STARTED.lo) <= started_sg <= sg_from_brix(STARTED.hi):
        raise BadInput(Wrong.START_OUTSIDE, key="og", value=started_sg, range=STARTED)
    figure = _gravity(brix, started_sg)
    by_reading = _gravity(brix + practice.READ_TO_BRIX.value, started_sg) - figure
    by_shares = _gravity(brix + practice.SHARES_TO_BRIX.value, started_sg) - figure
    by_start = _gravity(brix, started_sg + practice.DIVISION.value) - figure
    spread = max(practice.DIVISION.value, math.hypot(by_reading, by_shares, by_start))
    return Estimate(figure, figure - spread, figure + spread)


def _gravity(brix: float, started_sg: float) -> float:
    lowest = lowest_gravity(started_sg)
    ended = brix_shown(fermented(started_sg, lowest))
    begun = brix_shown(fermented(started_sg, started_sg))
    if brix > begun + 1.0:
        raise BadInput(Wrong.MORE_THAN_BEGUN, key="brix", value=brix, begun=begun)
    if brix < ended - 0.5:
        raise BadInput(Wrong.LESS_THAN_ENDED, key="brix", value=brix, ended=ended)
    brix = min(max(brix, ended), begun)
    if brix == begun:
        return started_sg
    return find_root(lambda sg: brix_shown(fermented(started_sg, sg)) - brix, lowest, started_sg, 1e-7)


def _at(table: tuple[tuple[float, float], ...], x: float) -> float:
    """The table's value between its lines, carried on straight beyond its ends."""
    place = min(max(bisect_right(table, (x, math.inf)), 1), len(table) - 1)
    (x0, y0), (x1, y1) = table[place - 1], table[place]
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
