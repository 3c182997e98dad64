"""The catalogue's sums on what goes in by the gram: sulphite, sorbate, acid, sugar."""

from typing import cast

from bot.science import practice
from bot.science.codes import Point, Remark, Wrong, remark
from bot.science.formulas.doses import (
    ACIDITY,
    FREE_NOW,
    FREE_TARGET,
    MOLECULAR,
    PH,
    SO2_SHARE,
    SORBIC_SHARE,
    TOTAL_NOW,
    WINE_SUGAR,
    WINE_TEMP,
    Salt,
    acid_dose,
    sorbate_dose,
    sulphite_dose,
)
from bot.science.formulas.hydrometer import OG, READING
from bot.science.formulas.sugaring import (
    RISE,
    SUGAR_PER_PERCENT,
    SWEETNESS,
    sugar_for_gravity,
    sugar_for_strength,
    sweetening,
)
from bot.science.limits import LITRES, STRENGTH, BadInput, Lacking
from bot.science.practice import Colour
from bot.science.sums.form import Given, Key, Outcome, Sum

_DISSOLVE_G, _IN_ML = 10.0, 100.0


def _sulphite(given: Given) -> Outcome:
    if given.maybe("molecular_mg_l") is not None and given.maybe("free_target_mg_l") is not None:
        raise BadInput(Wrong.TWO_TARGETS)
    litres, ph, salt = given.number("litres"), given.maybe("ph"), cast(Salt, given.word("salt"))
    colour = cast(Colour, given.word("colour"))
    dose = sulphite_dose(
        litres,
        ph,
        colour=colour,
        molecular_mg_l=given.maybe("molecular_mg_l"),
        free_target_mg_l=given.maybe("free_target_mg_l"),
        free_now_mg_l=given.number("free_now_mg_l"),
        total_now_mg_l=given.maybe("total_now_mg_l"),
        salt=salt,
        abv=given.number("abv"),
        temp_c=given.number("temp_c"),
        sugar_g_l=given.number("sugar_g_l"),
    )
    tablets = dose.grams / practice.TABLET_G.value
    now = given.number("free_now_mg_l")
    if dose.grams == 0.0:
        answer = [remark(Point.SULPHITE_NONE, free=now)]
    else:
        pieces = near_half(tablets)
        point = Point.SULPHITE_TABLETS if pieces else Point.SULPHITE
        if pieces is not None and pieces <= 1.0:
            point = Point.SULPHITE_TABLET
        answer = [
            remark(
                point,
                grams=dose.grams,
                salt=salt,
                tablets=pieces,
                tablet_g=practice.TABLET_G.value,
                free=dose.free_target_mg_l,
            )
        ]
    if dose.molecular_mg_l is not None and dose.molecular_oiv_mg_l is not None:
        answer.append(
            remark(
                Point.MOLECULAR,
                molecular=dose.molecular_mg_l,
                pk=practice.PK_CUSTOMARY.value,
                by_oiv=dose.molecular_oiv_mg_l,
                pk_oiv=dose.pk_oiv,
            )
        )
    limit = {"total": dose.total_after_mg_l, "most": dose.legal_max_total_mg_l}
    cautions = [remark(Point.SULPHITE_ASTHMA)]
    if dose.over_limit:
        cautions += [remark(Point.SULPHITE_OVER, **limit), remark(Point.SULPHITE_UNDRINKABLE)]
    elif dose.free_target_mg_l > practice.SMELT_MG_L.value:
        cautions.append(remark(Point.SULPHITE_SMELT))
    if dose.grams > 0.0 and now == 0.0:
        low, high = (dose.added_mg_l * (1.0 - share) for share in practice.BOUND_OF_FIRST.value[::-1])
        cautions.append(remark(Point.SULPHITE_BINDS, low=low, high=high))
    notes = [*small_dose(dose.grams)]
    if not dose.over_limit:
        known = given.maybe("total_now_mg_l") is not None
        notes.append(remark(Point.TOTAL_AFTER if known else Point.TOTAL_AT_LEAST, **limit))
    notes.append(remark(Point.MEASURE_AGAIN))
    return Outcome(
        results={
            "grams": dose.grams,
            "tablets_0_44_g": tablets,
            "free_target_mg_l": dose.free_target_mg_l,
            "added_mg_l": dose.added_mg_l,
            "molecular_mg_l": dose.molecular_mg_l,
            "molecular_oiv_mg_l": dose.molecular_oiv_mg_l,
            "pk_oiv": dose.pk_oiv,
            "total_after_mg_l": dose.total_after_mg_l,
            "legal_max_total_mg_l": dose.legal_max_total_mg_l,
            "over_limit": dose.over_limit,
            "allergen_statement": dose.total_after_mg_l > practice.ALLERGEN_MG_L.value,
        },
        answer=tuple(answer),
        formula=remark(Point.SULPHITE_FORMULA, pk=practice.PK_CUSTOMARY.value, share=SO2_SHARE[salt]),
        cautions=tuple(cautions),
        notes=tuple(notes),
    )


def _sorbate(given: Given) -> Outcome:
    litres = given.number("litres")
    dose = sorbate_dose(litres, given.number("abv"), given.number("ph"))
    most = litres * practice.SORBIC_MAX_MG_L.value / SORBIC_SHARE / 1000.0
    spoons = near_half(dose.grams / practice.SORBATE_SPOON_G.value)
    cautions = [remark(Point.SORBATE_WHEN), remark(Point.SORBATE_GERANIUMS)]
    if dose.held_back:
        cautions.append(remark(Point.SORBATE_HELD_BACK))
    notes = [*small_dose(dose.grams)]
    if spoons:
        notes.append(remark(Point.SORBATE_SPOONS, spoons=spoons, spoon_g=practice.SORBATE_SPOON_G.value))
    notes.append(remark(Point.SORBATE_LIMIT, most=practice.SORBIC_MAX_MG_L.value, grams=most))
    return Outcome(
        results={
            "grams": dose.grams,
            "sorbic_acid_mg_l": dose.sorbic_acid_mg_l,
            "legal_max_mg_l": practice.SORBIC_MAX_MG_L.value,
            "grams_at_legal_max": most,
        },
        answer=(remark(Point.SORBATE, grams=dose.grams, sorbic=dose.sorbic_acid_mg_l),),
        formula=remark(Point.SORBATE_FORMULA, share=SORBIC_SHARE),
        cautions=tuple(cautions),
        notes=tuple(notes),
    )


def _acid(given: Given) -> Outcome:
    litres, ta_from, ta_to = given.number("litres"), given.number("ta_from"), given.number("ta_to")
    dose = acid_dose(litres, ta_from, ta_to)
    up = ta_to >= ta_from
    cautions = [remark(Point.ACID_BY_HALVES)]
    step = {"ta_from": ta_from, "ta_to": ta_to}
    if up:
        answer = remark(Point.ACID_UP, grams=dose.tartaric_g, **step)
        notes = [*small_dose(dose.tartaric_g)]
    else:
        answer = remark(Point.ACID_DOWN, grams=dose.carbonate_g, bicarbonate=dose.bicarbonate_low_g, **step)
        cautions.append(remark(Point.ACID_FOAMS))
        notes = [remark(Point.ACID_UNCHILLED, bicarbonate=dose.bicarbonate_high_g)]
    if abs(ta_to - ta_from) > practice.ACID_STEP_G_L.value:
        notes.append(remark(Point.ACID_UP_LIMIT if up else Point.ACID_DOWN_LIMIT))
    return Outcome(
        results={
            "grams": dose.tartaric_g if up else dose.carbonate_g,
            "what": Point.TARTARIC_ACID if up else Point.CALCIUM_CARBONATE,
            "potassium_bicarbonate_g": dose.bicarbonate_low_g,
            "potassium_bicarbonate_unchilled_g": dose.bicarbonate_high_g,
        },
        answer=(answer,),
        formula=remark(Point.ACID_UP_FORMULA if up else Point.ACID_DOWN_FORMULA),
        cautions=tuple(cautions),
        notes=tuple(notes),
    )


def _sugar(given: Given) -> Outcome:
    litres, rise = given.number("litres"), given.maybe("abv_rise")
    sg_from, sg_to = given.maybe("sg_from"), given.maybe("sg_to")
    notes: tuple[Remark, ...] = ()
    low = high = None
    if rise is not None and sg_to is None:
        dose = sugar_for_strength(litres, rise, sg_from)
        formula = remark(Point.SUGAR_FOR_STRENGTH_FORMULA, per_percent=SUGAR_PER_PERCENT)
        low, high = (dose.grams * grams / SUGAR_PER_PERCENT for grams in practice.SUGAR_A_PERCENT.value)
        point, aim = Point.SUGAR_FOR_STRENGTH, {"rise": rise}
        if sg_from is None:
            notes = (remark(Point.SUGAR_THINS),)
    elif rise is None and sg_from is not None and sg_to is not None:
        dose = sugar_for_gravity(litres, sg_from, sg_to)
        formula = remark(Point.SUGAR_FOR_GRAVITY_FORMULA)
        point, aim = Point.SUGAR_FOR_GRAVITY, {"sg_from": sg_from, "sg_to": sg_to}
    elif rise is None and sg_to is not None:
        raise Lacking(Wrong.NO_GRAVITY_NOW, ("sg_from",), sg_range=READING)
    elif rise is None:
        raise Lacking(Wrong.NO_RISE, ("abv_rise", "sg_to"), rise_range=RISE, sg_range=OG)
    else:
        raise BadInput(Wrong.TWO_RISES, rise_range=RISE, sg_range=OG)
    return Outcome(
        results={"grams": dose.grams, "litres_after": dose.litres_after, "sg_after": dose.sg_after},
        answer=(remark(point, grams=dose.grams, litres=dose.litres_after, **aim),),
        formula=formula,
        low=low,
        high=high,
        cautions=(remark(Point.SUGAR_FOAMS), remark(Point.SUGAR_BURSTS)),
        notes=notes,
    )


def _sweeten(given: Given) -> Outcome:
    litres, wanted = given.number("litres"), given.number("sugar_g_l")
    dose = sweetening(litres, given.number("sg_from"), wanted, given.number("abv"))
    return Outcome(
        results={
            "grams": dose.grams,
            "litres_after": dose.litres_after,
            "sg_after": dose.sg_after,
            "abv_after": dose.abv_after,
        },
        answer=(
            remark(
                Point.SWEETENED,
                grams=dose.grams,
                wanted=wanted,
                litres=dose.litres_after,
                sg=dose.sg_after,
                abv=dose.abv_after,
            ),
        ),
        formula=remark(Point.SWEETENED_FORMULA),
        cautions=(remark(Point.STABILISE_FIRST),),
        notes=(*small_dose(dose.grams), remark(Point.SWEETENED_COUNTS)),
    )


def small_dose(grams: float) -> tuple[Remark, ...]:
    """What to do with a soluble dose that a kitchen scale cannot weigh: dissolve ten grams, and measure of that."""
    if not 0.0 < grams < practice.WEIGHED_G.value:
        return ()
    return (
        remark(
            Point.SMALL_DOSE,
            weighed=practice.WEIGHED_G.value,
            dissolve_g=_DISSOLVE_G,
            in_ml=_IN_ML,
            ml=_IN_ML / _DISSOLVE_G * grams,
        ),
    )


def near_half(count: float) -> float | None:
    """A count in whole and half pieces; None where it is none, or the nearest half is more than 15 % off."""
    nearest = 0.5 * round(2.0 * count)
    return nearest if nearest > 0.0 and abs(nearest - count) <= 0.15 * count else None


_BATCH = Key(name="litres", range=LITRES, required=True)
_WORDS_COLOUR = tuple(practice.MOLECULAR_TARGET.value)
_WORDS_SALT = tuple(SO2_SHARE)

DOSE_SUMS = (
    Sum(
        name="sulphite",
        keys=(
            _BATCH,
            Key(name="ph", range=PH),
            Key(name="colour", words=_WORDS_COLOUR, default="white"),
            Key(
                name="molecular_mg_l",
                range=MOLECULAR,
            ),
            Key(name="free_target_mg_l", range=FREE_TARGET),
            Key(name="free_now_mg_l", range=FREE_NOW, default=0.0),
            Key(name="total_now_mg_l", range=TOTAL_NOW),
            Key(name="salt", words=_WORDS_SALT, default="potassium"),
            Key(name="abv", range=STRENGTH, default=12.0),
            Key(name="temp_c", range=WINE_TEMP, default=20.0),
            Key(name="sugar_g_l", range=WINE_SUGAR, default=0.0),
        ),
        work=_sulphite,
    ),
    Sum(
        name="sorbate",
        keys=(
            _BATCH,
            Key(name="abv", range=STRENGTH, required=True),
            Key(name="ph", range=PH, default=3.5),
        ),
        work=_sorbate,
    ),
    Sum(
        name="acid",
        keys=(
            _BATCH,
            Key(name="ta_from", range=ACIDITY, required=True),
            Key(name="ta_to", range=ACIDITY, required=True),
        ),
        work=_acid,
    ),
    Sum(
        name="sugar",
        keys=(
            _BATCH,
            Key(name="abv_rise", range=RISE),
            Key(name="sg_from", range=READING),
            Key(name="sg_to", range=OG),
        ),
        work=_sugar,
    ),
    Sum(
        name="sweeten",
        keys=(
            _BATCH,
            Key(name="sg_from", range=READING, required=True),
            Key(name="sugar_g_l", range=SWEETNESS, required=True),
            Key(name="abv", range=STRENGTH, required=True),
        ),
        work=_sweeten,
    ),
)
