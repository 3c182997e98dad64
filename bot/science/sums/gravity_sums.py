"""The catalogue's sums on gravity and strength."""

import math

from bot.science import practice
from bot.science.codes import Because, Measure, Point, Remark, Wrong, remark
from bot.science.formulas.density import WATER_20
from bot.science.formulas.gravity import (
    BAUME,
    BRIX,
    DENSITY,
    OECHSLE,
    SG,
    baume_from_sg,
    brix_from_sg,
    extract_g_l,
    oechsle_from_sg,
    sg_from_baume,
    sg_from_brix,
    sg_from_density,
    sg_from_oechsle,
    sg_from_plato,
)
from bot.science.formulas.hydrometer import OG, READING, SAMPLE_TEMP, correct_gravity
from bot.science.formulas.refraction import SHOWN, STARTED, gravity_refracted
from bot.science.formulas.strength import SUGAR_ADDED, alcohol_by_volume, potential_alcohol
from bot.science.limits import STRENGTH, BadInput, Lacking, Range
from bot.science.sums.form import Given, Key, Outcome, Result, Sum

_CALIBRATION = Range(15.0, 20.0, Measure.CELSIUS, Because.PRINTED_ON_IT)

_SCALES = {
    "sg": lambda sg: sg,
    "plato": sg_from_plato,
    "brix": sg_from_brix,
    "oechsle": sg_from_oechsle,
    "baume": sg_from_baume,
    "density_kg_m3": sg_from_density,
}


def _correct(given: Given) -> Outcome:
    read, temp_c, at = given.number("sg"), given.number("temp_c"), given.number("calibration_c")
    og, abv = given.maybe("og"), given.maybe("abv")
    if og is not None and abv is not None:
        raise BadInput(Wrong.OG_AND_ABV)

    def at_temp(warmth: float) -> float:
        return correct_gravity(read, warmth, at, og, abv=abv)

    sg = at_temp(temp_c)
    by_degree = 0.5 * abs(
        at_temp(min(SAMPLE_TEMP.hi, temp_c + 1.0)) - at_temp(max(SAMPLE_TEMP.lo, temp_c - 1.0))
    )
    spread = math.hypot(practice.DIVISION.value, by_degree)
    if og is not None or abv is not None:
        taken = Point.ALCOHOL_COUNTED
    else:
        taken = Point.TAKEN_AS_MUST if sg >= 1.0 else Point.TAKEN_AS_SPIRIT
    return Outcome(
        results={"sg": sg, "correction": sg - read},
        answer=(remark(Point.CORRECT, sg=sg, at=at, read=read, temp_c=temp_c, correction=sg - read),),
        formula=remark(Point.CORRECT_FORMULA),
        low=sg - spread,
        high=sg + spread,
        notes=(remark(taken),),
    )


def _convert(given: Given) -> Outcome:
    told = [(name, scale, given.maybe(name)) for name, scale in _SCALES.items()]
    values = [(name, scale, value) for name, scale, value in told if value is not None]
    if not values:
        raise Lacking(Wrong.NO_SCALE, ("sg", "brix"), scales=tuple(_SCALES))
    if len(values) != 1:
        raise BadInput(Wrong.SEVERAL_SCALES, scales=tuple(_SCALES))
    [(_, scale, value)] = values
    sg = min(SG.hi, max(SG.lo, scale(value)))
    sugar = max(0.0, extract_g_l(sg))
    potential = potential_alcohol(max(1.0, sg)) if sg <= OG.hi else None
    results: dict[str, Result] = {
        "sg": sg,
        "plato": brix_from_sg(sg),
        "brix": brix_from_sg(sg),
        "oechsle": oechsle_from_sg(sg),
        "baume": baume_from_sg(sg),
        "density_kg_m3": sg * WATER_20,
        "sugar_g_l": sugar,
        "potential_abv": potential[0] if potential else None,
        "potential_abv_low": potential[1] if potential else None,
        "potential_abv_high": potential[2] if potential else None,
    }
    scales = remark(
        Point.SCALES,
        sg=sg,
        brix=brix_from_sg(sg),
        oechsle=oechsle_from_sg(sg),
        baume=baume_from_sg(sg),
        density=sg * WATER_20,
    )
    last = remark(Point.SCALES_SUGAR, sugar=sugar)
    notes = [remark(Point.AS_SUCROSE)]
    if potential and potential[0] > 0.0:
        dry, low, high = potential
        last = remark(Point.SCALES_STRENGTH, sugar=sugar, dry=dry, low=low, high=high)
        if sugar > 2.0 * practice.SUGAR_FREE_EXTRACT.value:
            notes = [remark(Point.GRAPE_MUST, less=practice.SUGAR_FREE_EXTRACT.value)]
    if potential is None:
        notes.append(remark(Point.TOO_DENSE))
    if sg < 1.0:
        notes = [remark(Point.BELOW_WATER)]
    return Outcome(
        results=results,
        answer=(scales, last),
        formula=remark(Point.SCALES_FORMULA),
        notes=tuple(notes),
    )


def _abv(given: Given) -> Outcome:
    strength = alcohol_by_volume(
        given.number("og"),
        given.number("fg"),
        og_temp_c=given.maybe("og_temp_c"),
        fg_temp_c=given.maybe("fg_temp_c"),
        calibration_c=given.number("calibration_c"),
        sugar_added_g_l=given.number("sugar_added_g_l"),
    )
    s = strength
    cautions: list[Remark] = []
    if s.abv > 0.0 and s.real_extract_g_l < practice.THIN_EXTRACT.value:
        cautions.append(remark(Point.ENDS_TOO_LOW))
    if s.abv > practice.STRONGEST_ABV.value:
        cautions.append(remark(Point.TOO_STRONG, most=practice.STRONGEST_ABV.value))
    return Outcome(
        results={
            "abv": s.abv,
            "residual_sugar_g_l": s.residual_sugar_g_l,
            "attenuation": s.attenuation,
            "real_attenuation": s.real_attenuation,
            "real_extract_g_l": s.real_extract_g_l,
            "og_used": s.og,
            "fg_used": s.fg,
        },
        answer=(
            remark(
                Point.ABV if s.residual_sugar_g_l >= 1.0 else Point.ABV_DRY,
                abv=s.abv,
                low=s.low,
                high=s.high,
                sugar=s.residual_sugar_g_l,
                sugar_low=s.residual_sugar_low,
                sugar_high=s.residual_sugar_high,
                og=s.og,
                fg=s.fg,
            ),
        ),
        formula=remark(Point.ABV_FORMULA),
        low=s.low,
        high=s.high,
        cautions=tuple(cautions),
        notes=(
            remark(Point.SHORT_RULES, rules=s.rules),
            remark(
                Point.EXTRACT_LEFT,
                extract=s.real_extract_g_l,
                least=practice.SUGAR_FREE_BAND.value[0],
                most=practice.SUGAR_FREE_BAND.value[1],
            ),
        ),
    )


def _refract(given: Given) -> Outcome:
    brix, og, begun = given.number("brix"), given.maybe("og"), given.maybe("brix_from")
    if og is None and begun is None:
        raise Lacking(Wrong.NO_START, ("brix_from", "og"), og_range=OG, brix_range=STARTED)
    if og is not None and begun is not None:
        raise BadInput(Wrong.TWO_STARTS)
    found = gravity_refracted(brix, og if og is not None else sg_from_brix(begun or 0.0))
    return Outcome(
        results={"sg": found.sg},
        answer=(remark(Point.REFRACTED, sg=found.sg, low=found.low, high=found.high),),
        formula=remark(Point.REFRACTED_FORMULA),
        low=found.low,
        high=found.high,
        cautions=(remark(Point.ESTIMATE_ONLY),),
    )


_CALIBRATION_KEY = Key(name="calibration_c", range=_CALIBRATION, default=20.0)

GRAVITY_SUMS = (
    Sum(
        name="correct",
        keys=(
            Key(name="sg", range=READING, required=True),
            Key(name="temp_c", range=SAMPLE_TEMP, required=True),
            _CALIBRATION_KEY,
            Key(name="og", range=OG),
            Key(name="abv", range=STRENGTH),
        ),
        work=_correct,
    ),
    Sum(
        name="convert",
        keys=(
            Key(name="sg", range=SG),
            Key(name="plato", range=BRIX),
            Key(name="brix", range=BRIX),
            Key(name="oechsle", range=OECHSLE),
            Key(name="baume", range=BAUME),
            Key(name="density_kg_m3", range=DENSITY),
        ),
        work=_convert,
    ),
    Sum(
        name="abv",
        keys=(
            Key(name="og", range=OG, required=True),
            Key(name="fg", range=READING, required=True),
            Key(name="og_temp_c", range=SAMPLE_TEMP),
            Key(name="fg_temp_c", range=SAMPLE_TEMP),
            _CALIBRATION_KEY,
            Key(
                name="sugar_added_g_l",
                range=SUGAR_ADDED,
                default=0.0,
            ),
        ),
        work=_abv,
    ),
    Sum(
        name="refract",
        keys=(
            Key(name="brix", range=SHOWN, required=True),
            Key(name="brix_from", range=STARTED),
            Key(name="og", range=OG),
        ),
        work=_refract,
    ),
)
