"""The catalogue's sums on litres: mixing, blending, bottles, drinks, cost, gas."""

from bot.science import practice
from bot.science.codes import Point, Wrong, remark
from bot.science.formulas.dilution import water_for_gravity, water_for_strength
from bot.science.formulas.hydrometer import OG
from bot.science.formulas.mixing import HAVE_LITRES, HAVE_SG, TARGET_TEMP, WATER_TEMP, mix_water
from bot.science.formulas.volumes import (
    BOTTLE,
    COUNT,
    GLASS,
    LOSS,
    MONEY,
    SPIRIT,
    SUGAR,
    blend,
    blend_to,
    bottling,
    carbon_dioxide,
    cost_per_bottle,
    drink,
)
from bot.science.limits import LITRES, STRENGTH, Lacking
from bot.science.sums.form import Given, Key, Outcome, Result, Sum


def _mix(given: Given) -> Outcome:
    n = given.number
    mix = mix_water(n("have_l"), n("have_c"), n("to_l"), n("target_c"), n("hot_c"), n("cold_c"), n("have_sg"))
    cautions = [remark(Point.MIXED_THERMOMETER)]
    if n("hot_c") > practice.SCALDS_C.value and mix.hot_l > 0.0:
        cautions.append(remark(Point.MIXED_SCALDS))
    if n("to_l") >= practice.HEAVY_LITRES.value:
        cautions.append(remark(Point.MIXED_HEAVY, kilos=n("to_l") * mix.sg))
    if not practice.YEAST_LIVES_C.value[0] <= mix.reached_c <= practice.YEAST_LIVES_C.value[1]:
        cautions.append(remark(Point.MIXED_YEAST))
    notes = [remark(Point.MIXED_MEASURED)]
    if n("have_sg") == 1.0 and n("have_l") > 0.0:
        notes.append(remark(Point.MIXED_AS_WATER))
    return Outcome(
        results={
            "hot_l": mix.hot_l,
            "cold_l": mix.cold_l,
            "reached_c": mix.reached_c,
            "feasible": mix.feasible,
            "sg": mix.sg,
        },
        answer=(
            remark(
                Point.MIXED if mix.feasible else Point.MIXED_NEAREST,
                hot_l=mix.hot_l,
                cold_l=mix.cold_l,
                reached_c=mix.reached_c,
                to_l=n("to_l"),
                target_c=n("target_c"),
                hot_c=n("hot_c"),
                cold_c=n("cold_c"),
            ),
        ),
        formula=remark(Point.MIXED_FORMULA),
        low=mix.reached_c - 1.0,
        high=mix.reached_c + 1.0,
        cautions=tuple(cautions),
        notes=tuple(notes),
    )


def _blend(given: Given) -> Outcome:
    litres_a, abv_a = given.number("litres_a"), given.number("abv_a")
    litres_b, abv_b = given.number("litres_b"), given.number("abv_b")
    target = given.maybe("abv_target")
    if target is None:
        made = blend(litres_a, abv_a, litres_b, abv_b)
        results: dict[str, Result] = {"abv": made.abv, "litres": made.litres}
        answer = remark(Point.BLENDED, abv=made.abv, litres=made.litres)
    else:
        made = blend_to(litres_a, abv_a, litres_b, abv_b, target)
        smaller = min(litres for litres in (made.litres_a, made.litres_b) if litres > 0.0)
        parts = made.litres_a / smaller, made.litres_b / smaller
        results = {
            "abv": made.abv,
            "litres": made.litres,
            "litres_a": made.litres_a,
            "litres_b": made.litres_b,
            "parts_a": parts[0],
            "parts_b": parts[1],
        }
        answer = remark(Point.BLENDED_PARTS, **results)
    return Outcome(
        results=results,
        answer=(answer,),
        formula=remark(Point.BLENDED_FORMULA),
        notes=(remark(Point.BLENDED_GLASS),),
    )


def _dilute(given: Given) -> Outcome:
    litres, abv, abv_to = given.number("litres"), given.maybe("abv"), given.maybe("abv_to")
    sg, sg_to = given.maybe("sg"), given.maybe("sg_to")
    if abv_to is not None and abv is not None:
        water, caution = water_for_strength(litres, abv, abv_to), Point.THINNED_TASTE
        point, down = Point.WEAKENED, {"now": abv, "to": abv_to}
    elif sg_to is not None and sg is not None:
        water, caution = water_for_gravity(litres, sg, sg_to), Point.THINNED_BEFORE_YEAST
        point, down = Point.THINNED, {"now": sg, "to": sg_to}
    elif abv_to is not None:
        raise Lacking(Wrong.NO_STRENGTH_NOW, ("abv",), abv_range=STRENGTH)
    elif sg_to is not None:
        raise Lacking(Wrong.NO_SG_NOW, ("sg",), sg_range=OG)
    else:
        raise Lacking(Wrong.NOTHING_WANTED, ("abv_to", "sg_to"))
    return Outcome(
        results={"water_l": water, "litres_after": litres + water},
        answer=(remark(point, water=water, litres=litres + water, **down),),
        formula=remark(Point.THINNED_FORMULA),
        cautions=(remark(caution), remark(Point.THINNED_WATER)),
    )


def _bottles(given: Given) -> Outcome:
    made = bottling(given.number("litres"), given.number("loss_l"), given.number("size_cl"))
    return Outcome(
        results={"bottles": made.bottles, "corks": made.bottles, "left_ml": made.left_ml},
        answer=(
            remark(
                Point.BOTTLED_ONE if made.bottles == 1 else Point.BOTTLED,
                bottles=made.bottles,
                left_ml=made.left_ml,
            ),
        ),
        formula=remark(Point.BOTTLED_FORMULA),
        cautions=(remark(Point.BOTTLED_BURSTS),),
        notes=(remark(Point.BOTTLED_CORKS),),
    )


def _drinks(given: Given) -> Outcome:
    glass = drink(given.number("abv"), given.number("ml"), given.number("sugar_g_l"))
    return Outcome(
        results={
            "grams_alcohol": glass.grams_alcohol,
            "uk_units": glass.uk_units,
            "kcal": glass.kcal,
        },
        answer=(remark(Point.GLASS, grams=glass.grams_alcohol, units=glass.uk_units, kcal=glass.kcal),),
        formula=remark(Point.GLASS_FORMULA),
        cautions=(remark(Point.GLASS_ADVICE),),
    )


def _cost(given: Given) -> Outcome:
    kit, extras, bottles = given.number("kit"), given.number("extras"), given.number("bottles")
    each = cost_per_bottle(kit, extras, bottles)
    return Outcome(
        results={"per_bottle": each, "total": kit + extras},
        answer=(remark(Point.COST, each=each, total=kit + extras, bottles=bottles),),
        formula=remark(Point.COST_FORMULA),
    )


def _gas(given: Given) -> Outcome:
    gas = carbon_dioxide(given.number("sugar_g_l"), given.number("litres"))
    share = 100.0 * gas.litres / 1000.0 / practice.CELLAR_M3.value
    return Outcome(
        results={"co2_l": gas.litres, "co2_kg": gas.kg, "caution": Point.GAS_GATHERS},
        answer=(remark(Point.GAS, litres=gas.litres, kg=gas.kg),),
        formula=remark(Point.GAS_FORMULA),
        low=gas.low,
        high=gas.high,
        cautions=(remark(Point.GAS_GATHERS),),
        notes=(remark(Point.GAS_IN_A_ROOM, room=practice.CELLAR_M3.value, share=share),),
    )


VOLUME_SUMS = (
    Sum(
        name="mix",
        keys=(
            Key(name="have_l", range=HAVE_LITRES, required=True),
            Key(name="have_c", range=WATER_TEMP, required=True),
            Key(name="to_l", range=LITRES, required=True),
            Key(name="target_c", range=TARGET_TEMP, required=True),
            Key(name="hot_c", range=WATER_TEMP, required=True),
            Key(name="cold_c", range=WATER_TEMP, required=True),
            Key(name="have_sg", range=HAVE_SG, default=1.0),
        ),
        work=_mix,
    ),
    Sum(
        name="blend",
        keys=(
            Key(name="litres_a", range=LITRES, required=True),
            Key(name="abv_a", range=SPIRIT, required=True),
            Key(name="litres_b", range=LITRES, required=True),
            Key(name="abv_b", range=SPIRIT, required=True),
            Key(name="abv_target", range=SPIRIT),
        ),
        work=_blend,
    ),
    Sum(
        name="dilute",
        keys=(
            Key(name="litres", range=LITRES, required=True),
            Key(name="abv", range=STRENGTH),
            Key(name="abv_to", range=STRENGTH),
            Key(name="sg", range=OG),
            Key(name="sg_to", range=OG),
        ),
        work=_dilute,
    ),
    Sum(
        name="bottles",
        keys=(
            Key(name="litres", range=LITRES, required=True),
            Key(name="loss_l", range=LOSS, default=0.0),
            Key(name="size_cl", range=BOTTLE, default=100.0 * practice.BOTTLE_LITRES.value),
        ),
        work=_bottles,
    ),
    Sum(
        name="drinks",
        keys=(
            Key(name="abv", range=SPIRIT, required=True),
            Key(name="ml", range=GLASS, required=True),
            Key(name="sugar_g_l", range=SUGAR, default=0.0),
        ),
        work=_drinks,
    ),
    Sum(
        name="cost",
        keys=(
            Key(name="kit", range=MONEY, required=True),
            Key(name="extras", range=MONEY, default=0.0),
            Key(name="bottles", range=COUNT, required=True),
        ),
        work=_cost,
    ),
    Sum(
        name="gas",
        keys=(
            Key(name="sugar_g_l", range=SUGAR, required=True),
            Key(name="litres", range=LITRES, required=True),
        ),
        work=_gas,
    ),
)
