"""The catalogue's sums on what goes in by the gram: sulphite, sorbate, acid, sugar."""

from typing import cast

from bot.science.doses import (
    ACIDITY,
    BOUND_OF_FIRST,
    FREE_NOW,
    FREE_TARGET,
    MOLECULAR,
    MOLECULAR_TARGET,
    PH,
    PK_CUSTOMARY,
    SO2_SHARE,
    SORBIC_MAX_MG_L,
    SORBIC_SHARE,
    TABLET_G,
    TOTAL_NOW,
    WINE_SUGAR,
    WINE_TEMP,
    Colour,
    Salt,
    acid_dose,
    sorbate_dose,
    sulphite_dose,
)
from bot.science.hydrometer import OG, READING
from bot.science.limits import LITRES, STRENGTH, BadInput, Lacking
from bot.science.sugaring import (
    RISE,
    SUGAR_PER_PERCENT,
    SWEETNESS,
    sugar_for_gravity,
    sugar_for_strength,
    sweetening,
)
from bot.science.sums import Given, Key, Outcome, Sum, gravity_text

_PACK_FIRST = "What the pack says comes first."
_DECIDE = "your local rules decide"
_ALLERGEN_MG_L = 10.0
_TASTED_MG_L = 60.0
_SORBATE_SPOON_G = 3.0
_BIG_STEP_G_L = 1.0


def _sulphite(given: Given) -> Outcome:
    if given.maybe("molecular_mg_l") is not None and given.maybe("free_target_mg_l") is not None:
        raise BadInput("sulphite needs molecular_mg_l or free_target_mg_l, not both")
    litres, ph, salt = given.number("litres"), given.maybe("ph"), cast(Salt, given.word("salt"))
    if ph is None and given.maybe("free_target_mg_l") is None:
        raise Lacking(
            f"sulphite needs ph ({PH}), or free_target_mg_l ({FREE_TARGET})",
            ("the wine's pH, or how much free sulphite you want (mg/l)",),
            ("ph", "free_target_mg_l"),
        )
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
    tablets = dose.grams / TABLET_G
    if dose.grams == 0.0:
        answer = f"None needed: {given.number('free_now_mg_l'):g} mg/l free is enough already."
    else:
        answer = (
            f"{scale_grams(dose.grams)} of {salt} metabisulphite{_tablets(tablets)} "
            f"brings it to {dose.free_target_mg_l:.0f} mg/l free at first."
        )
    if dose.molecular_mg_l is not None and dose.molecular_oiv_mg_l is not None:
        answer += (
            f"\nMolecular {dose.molecular_mg_l:.2f} mg/l by pK {PK_CUSTOMARY}; "
            f"{dose.molecular_oiv_mg_l:.2f} by OIV's pK {dose.pk_oiv:.2f} for this strength and warmth."
        )
    cautions = [f"{_PACK_FIRST} Sulphite can set off asthma: do not breathe the dust, and tell your guests."]
    limit = (
        f"mg/l in total; the EU allows {dose.legal_max_total_mg_l:.0f} in such wine on sale "
        f"(Reg. (EU) 2019/934, Annex I, Part B), {_DECIDE}."
    )
    if dose.over_limit:
        cautions.append(f"Too much: it makes {dose.total_after_mg_l:.0f} {limit}")
        cautions.append(
            "Do not drink a wine that holds so much. Add less; if it is in already, blend it with wine that has none, or "
            "rack it with splashing and wait, and drink it only after a test of the total says less."
        )
    elif dose.free_target_mg_l > _TASTED_MG_L:
        cautions.append("That much free sulphite can be smelt: bringing the pH down first needs less.")
    if dose.grams > 0.0 and given.number("free_now_mg_l") == 0.0:
        stays = [dose.added_mg_l * (1.0 - share) for share in BOUND_OF_FIRST[::-1]]
        cautions.append(
            f"As a first dose it does not all stay free: a third to a half binds within days, and about {stays[0]:.0f} to "
            f"{stays[1]:.0f} mg/l are left. Test again then."
        )
    notes = [*small_dose(dose.grams)]
    if not dose.over_limit:
        known = "" if given.maybe("total_now_mg_l") is not None else "at least "
        notes.append(f"Afterwards {known}{dose.total_after_mg_l:.0f} {limit}")
    notes.append("Some of it binds within days: measure again, and allow for old or damp salt.")
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
            "allergen_statement": dose.total_after_mg_l > _ALLERGEN_MG_L,
        },
        answer=answer,
        formula=(
            f"free = molecular · (1 + 10^(pH − {PK_CUSTOMARY})); "
            f"grams = (free − free now) · litres / 1000 / {SO2_SHARE[salt]:.4f}"
        ),
        cautions=tuple(cautions),
        notes=tuple(notes),
    )


def _sorbate(given: Given) -> Outcome:
    litres = given.number("litres")
    dose = sorbate_dose(litres, given.number("abv"), given.number("ph"))
    most = litres * SORBIC_MAX_MG_L / SORBIC_SHARE / 1000.0
    spoons = near_half(dose.grams / _SORBATE_SPOON_G)
    cautions = [
        f"{_PACK_FIRST} Only with sulphite, in a clear wine that has finished: "
        "sorbate does not stop a running fermentation.",
        "Never with malolactic bacteria, now or earlier: the wine would smell of geraniums for good.",
    ]
    if dose.held_back:
        cautions.append(
            "At this strength and pH even the most allowed may not hold it: keep it cold, or dry."
        )
    return Outcome(
        results={
            "grams": dose.grams,
            "sorbic_acid_mg_l": dose.sorbic_acid_mg_l,
            "legal_max_mg_l": SORBIC_MAX_MG_L,
            "grams_at_legal_max": most,
        },
        answer=(
            f"{scale_grams(dose.grams)} of potassium sorbate, {dose.sorbic_acid_mg_l:.0f} mg/l as sorbic acid."
        ),
        formula=f"grams = litres · sorbic acid / 1000 / {SORBIC_SHARE:.4f}, sorbic acid by strength and pH",
        cautions=tuple(cautions),
        notes=(
            *small_dose(dose.grams),
            *(
                (f"By level 5 ml spoons of 3 g about {spoons} (common practice, no source).",)
                if spoons
                else ()
            ),
            f"At most {SORBIC_MAX_MG_L:.0f} mg/l, {scale_grams(most)} here "
            f"(OIV; in the EU Reg. 2019/934, Annex I): {_DECIDE}.",
        ),
    )


def _acid(given: Given) -> Outcome:
    litres, ta_from, ta_to = given.number("litres"), given.number("ta_from"), given.number("ta_to")
    dose = acid_dose(litres, ta_from, ta_to)
    cautions = [f"{_PACK_FIRST} Add half, stir, wait a day, taste and measure: then the rest."]
    if ta_to >= ta_from:
        answer = f"{scale_grams(dose.tartaric_g)} of tartaric acid, from {ta_from:g} to {ta_to:g} g/l."
        formula = "grams = litres · (TA wanted − TA now)"
        notes = [*small_dose(dose.tartaric_g)]
        limit = "2.5 g/l up in wine"
    else:
        answer = (
            f"{scale_grams(dose.carbonate_g)} of calcium carbonate, from {ta_from:g} to {ta_to:g} g/l; or "
            f"{scale_grams(dose.bicarbonate_low_g)} of potassium bicarbonate, chilled afterwards."
        )
        formula = "grams = litres · (TA now − TA wanted) · 100.09 / 150.09"
        cautions.append("It foams: leave headroom. The pH rises, so work the sulphite out anew.")
        notes = [
            "Potassium bicarbonate takes half in bubbles, half as tartar in the cold; unchilled it "
            f"needs up to {scale_grams(dose.bicarbonate_high_g)}."
        ]
        limit = "1 g/l down in wine"
    if abs(ta_to - ta_from) > _BIG_STEP_G_L:
        notes.append(f"EU wine for sale: {limit} (Reg. 1308/2013, Annex VIII, from memory); {_DECIDE}.")
    return Outcome(
        results={
            "grams": dose.tartaric_g if ta_to >= ta_from else dose.carbonate_g,
            "what": "tartaric acid" if ta_to >= ta_from else "calcium carbonate",
            "potassium_bicarbonate_g": dose.bicarbonate_low_g,
            "potassium_bicarbonate_unchilled_g": dose.bicarbonate_high_g,
        },
        answer=answer,
        formula=formula,
        cautions=tuple(cautions),
        notes=tuple(notes),
    )


def _sugar(given: Given) -> Outcome:
    litres, rise = given.number("litres"), given.maybe("abv_rise")
    sg_from, sg_to = given.maybe("sg_from"), given.maybe("sg_to")
    notes: tuple[str, ...] = ()
    low = high = None
    if rise is not None and sg_to is None:
        dose = sugar_for_strength(litres, rise, sg_from)
        formula = (
            f"about {SUGAR_PER_PERCENT:.2f} g/l a % vol (Balling), solved for the volume that the sugar adds"
        )
        low, high = (dose.grams * grams / SUGAR_PER_PERCENT for grams in (15.99, 17.0))
        aim = f"raises the strength by {rise:g} % vol once fermented"
        if sg_from is None:
            notes = (
                "It also thins what strength the must would have had: give sg_from to make up for that.",
            )
    elif rise is None and sg_from is not None and sg_to is not None:
        dose = sugar_for_gravity(litres, sg_from, sg_to)
        formula = "grams / (mass + grams) from the sugar's share by mass at both gravities"
        aim = f"lifts {gravity_text(sg_from)} to {gravity_text(sg_to)}"
    elif rise is None and sg_to is not None:
        raise Lacking(f"sugar needs sg_from ({READING}) with sg_to", ("the gravity now",), ("sg_from",))
    elif rise is None:
        raise Lacking(
            f"sugar needs either abv_rise ({RISE}), or sg_from and sg_to ({OG})",
            ("how much more strength you want (% vol), or the gravity wanted",),
            ("abv_rise", "sg_to"),
        )
    else:
        raise BadInput(f"sugar needs either abv_rise ({RISE}), or sg_from and sg_to ({OG})")
    return Outcome(
        results={"grams": dose.grams, "litres_after": dose.litres_after, "sg_after": dose.sg_after},
        answer=f"{scale_grams(dose.grams)} of sugar {aim}; {dose.litres_after:.1f} litres then.",
        formula=formula,
        low=low,
        high=high,
        cautions=(
            "Dissolve it first and stir it in by portions: fermenting must foams over.",
            "Bottle only when the gravity has stopped again: bottles that still ferment burst.",
        ),
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
            f"{scale_grams(dose.grams)} of sugar adds {wanted:g} g/l: {dose.litres_after:.1f} litres "
            f"at {dose.sg_after:.4f} and {dose.abv_after:.1f} % vol."
        ),
        formula="grams = g/l · litres after; mass conserved, density by Tabarié",
        cautions=(
            "Stabilise first: sugar and live yeast ferment again, and bottles burst. Sulphite and sorbate, "
            "then a week in which the gravity stands still.",
        ),
        notes=(
            *small_dose(dose.grams),
            "Counts the sugar you add, not what the wine still holds. Sweeten a glass first.",
        ),
    )


def scale_grams(grams: float) -> str:
    """Grams as a kitchen scale shows them: to 0.1 g, whole grams from 100 g, kilograms from 1,000 g."""
    if grams >= 1000.0:
        return f"{grams / 1000.0:.2f} kg"
    if grams >= 100.0:
        return f"{grams:.0f} g"
    return f"{grams:.1f} g" if grams >= 1.0 or grams == 0.0 else f"{grams:.2f} g"


def small_dose(grams: float) -> tuple[str, ...]:
    """What to do with a soluble dose that a kitchen scale cannot weigh."""
    if not 0.0 < grams < 1.0:
        return ()
    return (
        "Under 1 g a kitchen scale only guesses: dissolve 10 g in water, make it up to 100 ml, "
        f"and measure {10.0 * grams:.1f} ml of that.",
    )


def near_half(count: float) -> str:
    """A count in whole and half pieces, “2½”; empty where the nearest half is more than 15 % off."""
    twice = round(2.0 * count)
    if abs(0.5 * twice - count) > 0.15 * count:
        return ""
    return (f"{twice // 2}" if twice >= 2 else "") + ("½" if twice % 2 else "")


def _tablets(count: float) -> str:
    pieces = near_half(count)
    plural = "" if pieces in ("½", "1") else "s"
    return f", or {pieces} crushed tablet{plural} of {TABLET_G} g," if pieces else ""


_BATCH = Key(name="litres", what="the volume", range=LITRES, required=True)
_WORDS_COLOUR = tuple(MOLECULAR_TARGET)
_WORDS_SALT = tuple(SO2_SHARE)

DOSE_SUMS = (
    Sum(
        name="sulphite",
        purpose="how much sulphite protects a wine at its pH",
        keys=(
            _BATCH,
            Key(name="ph", what="the wine's pH (needed unless a free figure is wanted)", range=PH),
            Key(name="colour", what="colour of the wine", words=_WORDS_COLOUR, default="white"),
            Key(
                name="molecular_mg_l",
                what="molecular sulphur dioxide wanted (0.5 red, 0.8 other)",
                range=MOLECULAR,
            ),
            Key(name="free_target_mg_l", what="free sulphur dioxide wanted, instead", range=FREE_TARGET),
            Key(name="free_now_mg_l", what="free sulphur dioxide now", range=FREE_NOW, default=0.0),
            Key(name="total_now_mg_l", what="total sulphur dioxide now", range=TOTAL_NOW),
            Key(name="salt", what="which metabisulphite", words=_WORDS_SALT, default="potassium"),
            Key(name="abv", what="strength, for OIV's pK", range=STRENGTH, default=12.0),
            Key(name="temp_c", what="temperature of the wine, for OIV's pK", range=WINE_TEMP, default=20.0),
            Key(name="sugar_g_l", what="sugar in the wine, for the limit", range=WINE_SUGAR, default=0.0),
        ),
        method="molecular sulphur dioxide at the wine's pH, pK 1.81 (the cautious side)",
        source="molar masses; pK 1.81 customary; OIV-MA-AS323-04C, table I; Reg. (EU) 2019/934",
        work=_sulphite,
    ),
    Sum(
        name="sorbate",
        purpose="how much sorbate keeps a finished wine from starting again",
        keys=(
            _BATCH,
            Key(name="abv", what="strength", range=STRENGTH, required=True),
            Key(name="ph", what="the wine's pH", range=PH, default=3.5),
        ),
        method="handbook table by strength and pH, never above the limit",
        source="Underhill, Making Better Wines (table); OIV II.3.4.5 (limit); molar masses",
        work=_sorbate,
    ),
    Sum(
        name="acid",
        purpose="acid up with tartaric acid, down with a carbonate",
        keys=(
            _BATCH,
            Key(name="ta_from", what="titratable acidity now", range=ACIDITY, required=True),
            Key(name="ta_to", what="titratable acidity wanted", range=ACIDITY, required=True),
        ),
        method="stoichiometry of tartaric acid",
        source="molar masses; Ribéreau-Gayon et al., Handbook of Enology 2",
        work=_acid,
    ),
    Sum(
        name="sugar",
        purpose="sugar before or while fermenting, for more strength or gravity",
        keys=(
            _BATCH,
            Key(name="abv_rise", what="more strength wanted", range=RISE),
            Key(name="sg_from", what="gravity now", range=READING),
            Key(name="sg_to", what="gravity wanted, instead of abv_rise", range=OG),
        ),
        method="mass balance of sucrose; yield by Balling",
        source="ICUMSA sucrose polynomial; Balling (the law's 16.83 g/l is 15.99 of sucrose, practice 17)",
        work=_sugar,
    ),
    Sum(
        name="sweeten",
        purpose="sugar into a finished wine, for taste",
        keys=(
            _BATCH,
            Key(name="sg_from", what="gravity now", range=READING, required=True),
            Key(name="sugar_g_l", what="sugar to add, in the sweetened wine", range=SWEETNESS, required=True),
            Key(name="abv", what="strength", range=STRENGTH, required=True),
        ),
        method="mass balance of sucrose, density by Tabarié's relation",
        source="ICUMSA sucrose polynomial; OIML R 22; OIV-MA-AS2-03B",
        work=_sweeten,
    ),
)
