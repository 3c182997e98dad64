"""Litres, bottles and glasses: blending, bottling, what is in a glass, what a bottle cost, the gas given
off."""

import msgspec

from bot.science import practice
from bot.science.codes import Argument, Measure, Wrong
from bot.science.formulas.balance import CO2_PER_ALCOHOL, EXTRACT_PER_ALCOHOL
from bot.science.formulas.density import ETHANOL_20, ethanol_density, ethanol_fraction, strength_of
from bot.science.limits import LITRES, BadInput, Range

SPIRIT = Range(0.0, 96.0, Measure.ABV)
LOSS = Range(0.0, 2000.0, Measure.LITRES)
BOTTLE = Range(5.0, 1500.0, Measure.CENTILITRES)
GLASS = Range(1.0, 20000.0, Measure.MILLILITRES)
SUGAR = Range(0.0, 400.0, Measure.G_L)
MONEY = Range(0.0, 1e6, Measure.MONEY)
COUNT = Range(1.0, 10000.0, Measure.BOTTLES)

CO2_G_L = 1.8393
"""Carbon dioxide at 20 °C and 101.325 kPa, grams per litre of gas (CoolProp)."""
KCAL_PER_G_ALCOHOL, KCAL_PER_G_SUGAR = 7.0, 4.0
"""Energy factors of Reg. (EU) 1169/2011, Annex XIV."""

_NOTHING = 1e-9
_SAME_ABV = 1e-6
_SUCROSE_TO_CO2 = 4 * 44.0095 / 342.297


class Blended(msgspec.Struct, frozen=True):
    """A blend: its strength in % vol and litres, and what went in of each."""

    abv: float
    litres: float
    litres_a: float
    litres_b: float


class Bottling(msgspec.Struct, frozen=True):
    """Full bottles and what is left over, in ml."""

    bottles: int
    left_ml: float


class Drink(msgspec.Struct, frozen=True):
    """What is in a glass. A UK unit is 10 ml of pure alcohol."""

    grams_alcohol: float
    uk_units: float
    kcal: float


class Gas(msgspec.Struct, frozen=True):
    """Carbon dioxide in litres at 20 °C and 101.325 kPa: figure, low and high, and its mass in kg."""

    litres: float
    low: float
    high: float
    kg: float


def blend(litres_a: float, abv_a: float, litres_b: float, abv_b: float) -> Blended:
    """Two wines (or a wine and a spirit, up to 96 % vol) poured together at 20 °C.

    Alcohol and mass are conserved, volume is not quite: OIML R 22 says how much it shrinks, extract left
    aside. Raises BadInput outside the ranges.
    """
    LITRES.check(litres_a, Argument.FIRST_WINE)
    LITRES.check(litres_b, Argument.SECOND_WINE)
    (p_a, mass_a), (p_b, mass_b) = _alcohol_and_mass(litres_a, abv_a), _alcohol_and_mass(litres_b, abv_b)
    p = (p_a * mass_a + p_b * mass_b) / (mass_a + mass_b)
    return Blended(strength_of(p), (mass_a + mass_b) / ethanol_density(p, 20.0), litres_a, litres_b)


def blend_to(litres_a: float, abv_a: float, litres_b: float, abv_b: float, abv_target: float) -> Blended:
    """The most wine of `abv_target` that two wines give together, and how much of each it takes.

    Raises BadInput outside the ranges and when the target does not lie between the two strengths.
    """
    LITRES.check(litres_a, Argument.FIRST_WINE)
    LITRES.check(litres_b, Argument.SECOND_WINE)
    SPIRIT.check(abv_target, Argument.STRENGTH_WANTED)
    p = ethanol_fraction(abv_target)
    (p_a, mass_a), (p_b, mass_b) = _alcohol_and_mass(litres_a, abv_a), _alcohol_and_mass(litres_b, abv_b)
    low, high = sorted((abv_a, abv_b))
    if not low <= abv_target <= high:
        raise BadInput(Wrong.NOT_BETWEEN, key="abv_target", value=abv_target, low=low, high=high)
    if high - low < _SAME_ABV:
        return blend(litres_a, abv_a, litres_b, abv_b)
    share_a = min(1.0, max(0.0, (p - p_b) / (p_a - p_b)))
    # A billionth of a wine is none of it.
    share_a = 0.0 if share_a < _NOTHING else 1.0 if share_a > 1.0 - _NOTHING else share_a
    total = min(mass / share for mass, share in ((mass_a, share_a), (mass_b, 1.0 - share_a)) if share > 0.0)
    return Blended(
        abv_target,
        total / ethanol_density(p, 20.0),
        litres_a * total * share_a / mass_a,
        litres_b * total * (1.0 - share_a) / mass_b,
    )


def bottling(
    litres: float, loss_l: float = 0.0, size_cl: float = 100.0 * practice.BOTTLE_LITRES.value
) -> Bottling:
    """Full bottles of `size_cl` centilitres from what is left after `loss_l` litres of lees and samples.

    Raises BadInput outside the ranges and when the loss is all there is.
    """
    LITRES.check(litres, Argument.WINE)
    BOTTLE.check(size_cl, Argument.BOTTLE)
    LOSS.check(loss_l, Argument.LOSS)
    if loss_l > litres:
        raise BadInput(Wrong.LOSES_ALL, key="loss_l", value=loss_l, litres=litres)
    # Whole tenths of a millilitre, so that 22.5 litres in 75 cl are thirty bottles and not a hair less.
    tenths, bottle = round((litres - loss_l) * 10000.0), round(size_cl * 100.0)
    return Bottling(tenths // bottle, tenths % bottle / 10.0)


def drink(abv: float, ml: float, sugar_g_l: float = 0.0) -> Drink:
    """Alcohol, UK units and energy of `ml` millilitres. Energy: Reg. (EU) 1169/2011, Annex XIV.

    Raises BadInput outside the ranges.
    """
    SPIRIT.check(abv, Argument.STRENGTH)
    GLASS.check(ml, Argument.GLASS)
    SUGAR.check(sugar_g_l, Argument.SUGAR)
    grams = ml * abv / 100.0 * ETHANOL_20 / 1000.0
    kcal = KCAL_PER_G_ALCOHOL * grams + KCAL_PER_G_SUGAR * sugar_g_l * ml / 1000.0
    return Drink(grams, ml * abv / 1000.0, kcal)


def cost_per_bottle(kit: float, extras: float, bottles: float) -> float:
    """What one bottle cost, in the money given. Raises BadInput outside the ranges or for part of a
    bottle."""
    MONEY.check(kit, Argument.KIT)
    MONEY.check(extras, Argument.EXTRAS)
    if COUNT.check(bottles, Argument.BOTTLES) != int(bottles):
        raise BadInput(Wrong.NO_WHOLE_NUMBER, key="bottles", value=bottles, range=COUNT)
    return (kit + extras) / bottles


def carbon_dioxide(sugar_g_l: float, litres: float) -> Gas:
    """The gas that `sugar_g_l` grams of sugar a litre give off in `litres`, once fermented.

    Figure: Balling, 0.9565 g from 2.0665 g. The band reaches from 5 % less, some sugar left over, to all of
    it turned by the bare equation of sucrose. Raises BadInput outside the ranges.
    """
    sugar = SUGAR.check(sugar_g_l, Argument.SUGAR) * LITRES.check(litres, Argument.MUST)
    grams = sugar * CO2_PER_ALCOHOL / EXTRACT_PER_ALCOHOL
    return Gas(grams / CO2_G_L, 0.95 * grams / CO2_G_L, sugar * _SUCROSE_TO_CO2 / CO2_G_L, grams / 1000.0)


def _alcohol_and_mass(litres: float, abv: float) -> tuple[float, float]:
    """Ethanol mass fraction and mass in g."""
    p = ethanol_fraction(SPIRIT.check(abv, Argument.STRENGTH))
    return p, litres * ethanol_density(p, 20.0)
