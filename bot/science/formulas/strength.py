"""Alcohol by volume from gravities, with its honest band and what the trade's short rules say."""

import math

import msgspec

from bot.science import practice
from bot.science.codes import Argument, Measure, ShortRule, Wrong
from bot.science.formulas.balance import EXTRACT_PER_ALCOHOL, Wine, fermented, fermented_share, must
from bot.science.formulas.density import ETHANOL_20, WATER_20
from bot.science.formulas.gravity import brix_from_sg, extract_g_l, sg_from_brix
from bot.science.formulas.hydrometer import OG, READING, liquid_read
from bot.science.limits import BadInput, Range

SUGAR_ADDED = Range(0.0, 200.0, Measure.G_L)
RESOLUTION = Range(0.0, 0.005)


class Strength(msgspec.Struct, frozen=True):
    """A strength in % vol at 20 °C with its band, and what else the balance tells.

    `og` and `fg` are the gravities used: corrected, SG 20/20, `og` with all sugar added on the way. Extract
    is in g/l counted as sucrose. The attenuations are fractions: `attenuation` of the gravity, as the trade
    has it (over 1 for a dry wine), `real_attenuation` of the extract. `rules` are what shorter rules say.
    """

    abv: float
    low: float
    high: float
    og: float
    fg: float
    real_extract_g_l: float
    residual_sugar_g_l: float
    residual_sugar_low: float
    residual_sugar_high: float
    attenuation: float
    real_attenuation: float
    rules: tuple[tuple[ShortRule, float], ...]


def alcohol_by_volume(
    og: float,
    fg: float,
    *,
    og_temp_c: float | None = None,
    fg_temp_c: float | None = None,
    calibration_c: float = 20.0,
    sugar_added_g_l: float = 0.0,
    resolution_sg: float = practice.DIVISION.value,
) -> Strength:
    """The strength of a wine from its gravity before (`og`, 1.000-1.200) and now (`fg`, 0.970-1.200).

    Readings as the hydrometer shows them: with a sample temperature (°C, 0-40) they are corrected, without
    one they were taken at `calibration_c`. `sugar_added_g_l`: sucrose fed on the way, grams per litre of
    must. Mass balance of Balling closed with Tabarié's relation, OIML R 22 and the ICUMSA sugar table. The
    band holds `resolution_sg` for each reading and the spread of yields. Raises BadInput outside the
    ranges, when the gravity has risen, and when no fermentation of that must can end so low.
    """
    OG.check(og, Argument.GRAVITY_BEFORE_FERMENTING)
    READING.check(fg, Argument.GRAVITY_NOW)
    SUGAR_ADDED.check(sugar_added_g_l, Argument.SUGAR_ADDED)
    RESOLUTION.check(resolution_sg, Argument.HYDROMETER_RESOLUTION)
    begun = with_sugar(max(1.0, liquid_read(og, og_temp_c, calibration_c).sg), sugar_added_g_l)
    now = liquid_read(fg, fg_temp_c, calibration_c, og=min(begun, OG.hi))
    ended = now.sg
    if ended > begun + practice.RISE_IN_READING.value:
        raise BadInput(Wrong.ROSE, key="fg", value=ended, begun=begun)
    wine = _wine_of(begun, ended)
    if wine.extract < practice.LEAST_EXTRACT.value:
        raise BadInput(Wrong.UNREACHABLE, key="fg", value=ended, begun=begun, lowest=lowest_gravity(begun))
    abv = wine.abv
    by_reading = math.hypot(
        _wine_of(begun + resolution_sg, ended).abv - abv, abv - _wine_of(begun, ended + resolution_sg).abv
    )
    spread = math.hypot(by_reading, practice.YIELD_SPREAD.value * abv)
    extract = max(0.0, wine.extract)
    used = EXTRACT_PER_ALCOHOL * abv * ETHANOL_20 / 100.0
    return Strength(
        abv=abv,
        low=max(0.0, abv - spread),
        high=abv + spread,
        og=begun,
        fg=ended,
        real_extract_g_l=extract,
        residual_sugar_g_l=max(0.0, extract - practice.SUGAR_FREE_EXTRACT.value),
        residual_sugar_low=max(0.0, extract - practice.SUGAR_FREE_BAND.value[1]),
        residual_sugar_high=max(0.0, extract - practice.SUGAR_FREE_BAND.value[0]),
        attenuation=(begun - ended) / (begun - 1.0) if begun > max(1.0, ended) else 0.0,
        real_attenuation=used / (used + extract) if used > 0.0 else 0.0,
        rules=_short_rules(begun, ended, wine),
    )


def potential_alcohol(og: float, expected_fg: float | None = None) -> tuple[float, float, float]:
    """The strength in % vol that a must of `og` (SG 20/20) can reach: figure, low, high.

    At `expected_fg` where that is known; else dry, which is when 88 % (85-91) of the extract has fermented:
    the rest is acids, salts and what the yeast makes beside alcohol. Raises BadInput as `alcohol_by_volume`.
    """
    OG.check(og, Argument.GRAVITY_BEFORE_FERMENTING)
    if expected_fg is not None:
        strength = alcohol_by_volume(og, expected_fg)
        return strength.abv, strength.low, strength.high
    shallow, dry, deep = (
        fermented_share(og, share).abv
        for share in (practice.DRY_BAND.value[0], practice.DRY_SHARE.value, practice.DRY_BAND.value[1])
    )
    spread = practice.YIELD_SPREAD.value * dry
    return dry, max(0.0, dry - math.hypot(dry - shallow, spread)), dry + math.hypot(deep - dry, spread)


def lowest_gravity(og: float) -> float:
    """The SG at which a must of `og` would hold alcohol and water alone: no wine ends lower."""
    return fermented_share(OG.check(og, Argument.GRAVITY_BEFORE_FERMENTING), 1.0).sg


def _wine_of(og: float, fg: float) -> Wine:
    return fermented(og, fg) if fg < og else Wine(0.0, must(max(1.0, fg)).w)


def with_sugar(og: float, grams_per_litre: float) -> float:
    """The SG that a must of `og` (SG 20/20) has with so much sucrose more in each litre of it."""
    if grams_per_litre == 0.0:
        return og
    mass = og * WATER_20
    sugar = brix_from_sg(og) / 100.0 * mass
    return sg_from_brix(100.0 * (sugar + grams_per_litre) / (mass + grams_per_litre))


def _short_rules(og: float, fg: float, wine: Wine) -> tuple[tuple[ShortRule, float], ...]:
    """What shorter rules say: a course's one factor, Balling's linear form, the EU's 16.83 g/l."""
    original, apparent = brix_from_sg(og), brix_from_sg(fg)
    real = 0.1808 * original + 0.8192 * apparent
    by_mass = (original - real) / (EXTRACT_PER_ALCOHOL - 0.010665 * original)
    return (
        (ShortRule.ONE_FACTOR, 131.25 * (og - fg)),
        (ShortRule.LINEAR, by_mass * fg * WATER_20 / ETHANOL_20),
        (ShortRule.LAW, (extract_g_l(og) - wine.extract) / 16.83),
    )
