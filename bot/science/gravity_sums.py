"""The catalogue's sums on gravity and strength."""

import math
import re

from bot.science.density import WATER_20
from bot.science.gravity import (
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
from bot.science.hydrometer import OG, READING, SAMPLE_TEMP, correct_gravity
from bot.science.limits import STRENGTH, BadInput, Lacking, Range
from bot.science.refraction import SHOWN, STARTED, gravity_refracted
from bot.science.strength import (
    SUGAR_ADDED,
    SUGAR_FREE_EXTRACT,
    alcohol_by_volume,
    potential_alcohol,
)
from bot.science.sums import Given, Key, Outcome, Result, Sum, gravity_text

_CALIBRATION = Range(15.0, 20.0, "°C", "it is 20 or 15.56, as printed on the hydrometer")
_RESOLUTION = 0.001
_THIN_EXTRACT_G_L = 12.0
_STRONG_ABV = 18.0

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
        raise BadInput("correct needs og or abv, not both")

    def at_temp(warmth: float) -> float:
        return correct_gravity(read, warmth, at, og, abv=abv)

    sg = at_temp(temp_c)
    by_degree = 0.5 * abs(
        at_temp(min(SAMPLE_TEMP.hi, temp_c + 1.0)) - at_temp(max(SAMPLE_TEMP.lo, temp_c - 1.0))
    )
    spread = math.hypot(_RESOLUTION, by_degree)
    if og is not None or abv is not None:
        taken = "It counts the alcohol made so far."
    elif sg >= 1.0:
        taken = "The sample is taken as must, without alcohol; give og or abv once it ferments."
    else:
        taken = "Lighter than water, so it is taken as alcohol and water; give og for a closer figure."
    return Outcome(
        results={"sg": sg, "correction": sg - read},
        answer=_minus(
            f"{sg:.4f} at {at:g} °C: the {gravity_text(read)} read at {temp_c:g} °C, {sg - read:+.4f}."
        ),
        formula="reading = ρ(sample, T) · (1 + 25e-6 · (T − Tc)) / ρ(water, Tc), solved for the sample",
        low=sg - spread,
        high=sg + spread,
        notes=(taken,),
    )


def _convert(given: Given) -> Outcome:
    told = [(name, scale, given.maybe(name)) for name, scale in _SCALES.items()]
    values = [(name, scale, value) for name, scale, value in told if value is not None]
    if not values:
        raise Lacking(
            f"convert needs one of {', '.join(_SCALES)}, such as sg=1.080 (at 20 °C)",
            ("a figure, such as 1.080 or 20 Brix",),
            ("sg", "brix"),
        )
    if len(values) != 1:
        raise BadInput(f"convert needs one of {', '.join(_SCALES)}, such as sg=1.080 (at 20 °C)")
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
    answer = (
        f"SG {sg:.4f} · {brix_from_sg(sg):.1f} Brix or Plato · {oechsle_from_sg(sg):.0f} °Oe · "
        f"{baume_from_sg(sg):.1f} °Bé · {sg * WATER_20:.1f} kg/m³\n{sugar:.0f} g/l of sugar"
    )
    notes = ["Sugar is counted as if all that is dissolved were sucrose."]
    if potential and potential[0] > 0.0:
        low, high = potential[1:]
        answer += f"; fermented dry about {potential[0]:.1f} % vol ({low:.1f} to {high:.1f})"
        if sugar > 2.0 * SUGAR_FREE_EXTRACT:
            notes = [
                f"A grape must holds about {SUGAR_FREE_EXTRACT:.0f} g/l less: that much is acids and salts."
            ]
    if potential is None:
        notes.append("Too dense to ferment as it is, so no strength is given.")
    if sg < 1.0:
        notes = ["Lighter than water: the sugar scales stop at 0, what lies below is only arithmetic."]
    return Outcome(
        results=results,
        answer=_minus(answer + "."),
        formula="SG = ρ(sucrose, 20 °C) / ρ(water, 20 °C); °Oe = 1000 (SG − 1); °Bé = 145 (1 − 1/SG)",
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
    band = f"{s.residual_sugar_low:.0f} to {s.residual_sugar_high:.0f}"
    if s.residual_sugar_g_l >= 1.0:
        sugar = f"about {s.residual_sugar_g_l:.0f} g/l of sugar left ({band})"
    else:
        sugar = f"dry or nearly ({band} g/l of sugar)"
    cautions = []
    if s.abv > 0.0 and s.real_extract_g_l < _THIN_EXTRACT_G_L:
        cautions.append("That ends lower than almost any wine does: read both gravities again.")
    if s.abv > _STRONG_ABV:
        cautions.append("Few yeasts get past 18 % vol: check both readings.")
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
        answer=f"{s.abv:.1f} % vol ({s.low:.1f} to {s.high:.1f}), {sugar}; from {gravity_text(s.og)} to {gravity_text(s.fg)}.",
        formula=(
            "OE = (RE + 2.0665 A) / (FG · 998.2 + 1.0665 A), RE from SG(RE) = FG − SG(alcohol) + 1; "
            "solved for alcohol A"
        ),
        low=s.low,
        high=s.high,
        cautions=tuple(cautions),
        notes=(
            "Shorter rules say " + ", ".join(f"{value:.1f} ({name})" for name, value in s.rules) + ".",
            f"Extract left {s.real_extract_g_l:.0f} g/l, of which 16 to 37 are acids, glycerol and salts.",
        ),
    )


def _refract(given: Given) -> Outcome:
    brix, og, begun = given.number("brix"), given.maybe("og"), given.maybe("brix_from")
    if og is None and begun is None:
        raise Lacking(
            f"refract needs og ({OG}), or brix_from ({STARTED})",
            ("what it began with before the yeast, in Brix or as a gravity",),
            ("brix_from", "og"),
        )
    if og is not None and begun is not None:
        raise BadInput("refract needs og or brix_from, not both")
    found = gravity_refracted(brix, og if og is not None else sg_from_brix(begun or 0.0))
    return Outcome(
        results={"sg": found.sg},
        answer=f"About {found.sg:.3f} ({found.low:.3f} to {found.high:.3f}): alcohol bends light too.",
        formula="n(wine) = n(alcohol in water) + n(sugar in water) − n(water), with Balling's balance",
        low=found.low,
        high=found.high,
        cautions=("An estimate, and never proof of an end: only a hydrometer is that.",),
    )


def _minus(text: str) -> str:
    """A true minus sign before a figure."""
    return re.sub(r"(?<![\w.])-(?=\d)", "−", text)


_CALIBRATION_KEY = Key(
    name="calibration_c", what="temperature the hydrometer is made for", range=_CALIBRATION, default=20.0
)

GRAVITY_SUMS = (
    Sum(
        name="correct",
        purpose="a hydrometer reading put right for the sample's temperature",
        keys=(
            Key(name="sg", what="gravity as read", range=READING, required=True),
            Key(name="temp_c", what="temperature of the sample", range=SAMPLE_TEMP, required=True),
            _CALIBRATION_KEY,
            Key(name="og", what="gravity before fermenting, to count the alcohol so far", range=OG),
            Key(name="abv", what="strength so far, instead of og", range=STRENGTH),
        ),
        method="density of the liquid and swelling of the glass",
        source="ICUMSA sucrose polynomial, Kell 1975 (water), OIML R 22 (alcohol), ISO 1768:1975 (glass)",
        work=_correct,
    ),
    Sum(
        name="convert",
        purpose="one scale of sugar into all the others, at 20 °C",
        keys=(
            Key(name="sg", what="specific gravity 20/20", range=SG),
            Key(name="plato", what="degrees Plato", range=BRIX),
            Key(name="brix", what="degrees Brix", range=BRIX),
            Key(name="oechsle", what="degrees Oechsle", range=OECHSLE),
            Key(name="baume", what="degrees Baumé", range=BAUME),
            Key(name="density_kg_m3", what="density", range=DENSITY),
        ),
        method="density of sugar solutions; strength by Balling with 88 % (85 to 91) of the extract fermented",
        source="ICUMSA sucrose polynomial, Kell 1975 (water); definitions of the scales; Balling",
        work=_convert,
    ),
    Sum(
        name="abv",
        purpose="strength of a wine from its gravity before and after",
        keys=(
            Key(name="og", what="gravity before fermenting", range=OG, required=True),
            Key(name="fg", what="gravity now", range=READING, required=True),
            Key(name="og_temp_c", what="sample's temperature at og", range=SAMPLE_TEMP),
            Key(name="fg_temp_c", what="sample's temperature at fg", range=SAMPLE_TEMP),
            _CALIBRATION_KEY,
            Key(
                name="sugar_added_g_l",
                what="sugar fed on the way, per litre of must",
                range=SUGAR_ADDED,
                default=0.0,
            ),
        ),
        method="mass balance (Balling), closed with Tabarié's relation",
        source="Balling; OIV-MA-AS2-03B (Tabarié); OIML R 22 (alcohol); ICUMSA sucrose polynomial",
        work=_abv,
    ),
    Sum(
        name="refract",
        purpose="the gravity behind a refractometer's figure, once there is alcohol",
        keys=(
            Key(name="brix", what="what the refractometer shows", range=SHOWN, required=True),
            Key(name="brix_from", what="what it showed before the yeast", range=STARTED),
            Key(name="og", what="gravity before fermenting, instead", range=OG),
        ),
        method="shares of alcohol and sugar in the bending of light, by the mass balance of the must",
        source="ICUMSA (sucrose), CRC Handbook (ethanol), both tables from memory; Balling",
        work=_refract,
    ),
)
