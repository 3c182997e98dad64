"""Sugar put in: before fermenting for strength, afterwards for taste."""

from collections.abc import Callable

import msgspec

from bot.science import practice
from bot.science.codes import Argument, Because, Measure, Wrong
from bot.science.formulas.balance import EXTRACT_PER_ALCOHOL, Wine, fermented_share, must
from bot.science.formulas.balance import wine as wine_of
from bot.science.formulas.density import ETHANOL_20, WATER_20, ethanol_fraction, sucrose_fraction
from bot.science.formulas.gravity import extract_g_l, sg_from_extract
from bot.science.formulas.hydrometer import OG, READING
from bot.science.formulas.strength import with_sugar
from bot.science.limits import LITRES, STRENGTH, BadInput, Range
from bot.science.root import find_root

RISE = Range(0.0, 10.0, Measure.ABV, Because.YEAST_MAY_STOP)
SWEETNESS = Range(0.0, 250.0, Measure.G_L)

SUGAR_PER_PERCENT = EXTRACT_PER_ALCOHOL * ETHANOL_20 / 100.0
"""Grams of sucrose per litre of finished wine and % vol (Balling): 16.31. The law's 16.83 g of must sugar are
15.99 g of sucrose, cellar practice counts 17."""
_CLOSE_SG = 1e-9
_CLOSE_L = 1e-12
_NOTHING_G = 1e-7
_NOTHING_ABV = 1e-6
_MOST_G_L = 600.0


class Sugared(msgspec.Struct, frozen=True):
    """Grams of sucrose, and the batch once it is dissolved. `sg_after` is None where nothing tells it."""

    grams: float
    litres_after: float
    sg_after: float | None
    abv_after: float


def sugar_for_gravity(litres: float, sg_from: float, sg_to: float) -> Sugared:
    """Sucrose that lifts a must from one SG (20/20) to another. Mass is conserved; no heat, no fermentation.

    Raises BadInput outside the ranges and when `sg_to` is lower.
    """
    LITRES.check(litres, Argument.MUST)
    READING.check(sg_from, Argument.GRAVITY_NOW)
    OG.check(sg_to, Argument.GRAVITY_WANTED)
    if sg_to < sg_from:
        raise BadInput(Wrong.ONLY_LIFTS, key="sg_to", value=sg_to, sg_from=sg_from)
    before = must(sg_from)
    if sg_to - sg_from < _CLOSE_SG:
        return _sugared(before, litres, litres, 0.0)
    mass = litres * before.density(20.0)

    def grams_for(after: float) -> float:
        return after * sg_to * WATER_20 - mass

    def too_dense(after: float) -> float:
        return _thinned(before, litres, after, grams_for(after)).sg - sg_to

    after = find_root(too_dense, litres, 2.5 * litres, _CLOSE_L * litres)
    return _sugared(before, litres, after, grams_for(after))


def sugar_for_strength(litres: float, abv_rise: float, sg_from: float | None = None) -> Sugared:
    """Sucrose that makes the wine `abv_rise` % vol stronger, once it has all fermented (Balling's balance).

    With `sg_from`, the must's SG now, the sugar also makes good for the strength that its own volume thins.
    Raises BadInput outside the ranges.
    """
    LITRES.check(litres, Argument.MUST)
    RISE.check(abv_rise, Argument.RISE)
    sg = 1.0 if sg_from is None else OG.check(sg_from, Argument.GRAVITY_NOW)
    extract = extract_g_l(sg)
    anyway = fermented_share(sg, practice.DRY_SHARE.value).abv

    def too_strong(per_litre: float) -> float:
        share = (practice.DRY_SHARE.value * extract + per_litre) / (extract + per_litre)
        return fermented_share(with_sugar(sg, per_litre), share).abv - anyway - abv_rise

    per_litre = 0.0
    if abv_rise > _NOTHING_ABV:
        per_litre = find_root(too_strong, _NOTHING_G, _MOST_G_L, 1e-9)
    before, grams = must(sg), per_litre * litres
    sugared = _sugared(before, litres, _room_for(before, litres, lambda _: grams), grams)
    return sugared if sg_from is not None else msgspec.structs.replace(sugared, sg_after=None)


def sweetening(litres: float, sg_from: float, sugar_g_l: float, abv: float) -> Sugared:
    """Sucrose that gives a finished wine `sugar_g_l` more sugar, counted in the sweetened wine.

    The volume it takes up thins the alcohol. Raises BadInput outside the ranges.
    """
    LITRES.check(litres, Argument.WINE)
    READING.check(sg_from, Argument.GRAVITY_NOW)
    SWEETNESS.check(sugar_g_l, Argument.SUGAR_WANTED)
    before = wine_of(sg_from, STRENGTH.check(abv, Argument.STRENGTH))
    if before.extract < practice.LEAST_EXTRACT.value:
        alone = Wine(before.p, 0.0).sg
        raise BadInput(Wrong.FLOATS_HIGHER, key="sg_from", value=sg_from, alone=alone, abv=abv)
    after = _room_for(before, litres, lambda v: sugar_g_l * v)
    return _sugared(before, litres, after, sugar_g_l * after)


def _room_for(before: Wine, litres: float, grams: Callable[[float], float]) -> float:
    """Litres once the sugar is dissolved, its grams depending on them: mass is conserved, density
    Tabarié's."""
    mass = litres * before.density(20.0)

    def left_over(after: float) -> float:
        sugar = grams(after)
        return mass + sugar - after * _thinned(before, litres, after, sugar).density(20.0)

    if grams(litres) < _NOTHING_G * litres:
        return litres
    return find_root(left_over, litres, 1.5 * litres, _CLOSE_L * litres)


def _thinned(before: Wine, litres: float, after: float, grams: float) -> Wine:
    """What was `litres` and is now `after` litres with `grams` of sucrose more."""
    p = ethanol_fraction(before.abv * litres / after) if before.p else 0.0
    sugar = sg_from_extract((before.extract * litres + grams) / after)
    return Wine(p, sucrose_fraction(sugar * WATER_20))


def _sugared(before: Wine, litres: float, after: float, grams: float) -> Sugared:
    mass = litres * before.density(20.0) + grams
    return Sugared(grams, after, mass / after / WATER_20, before.abv * litres / after)
