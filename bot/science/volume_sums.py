"""The catalogue's sums on litres: mixing, blending, bottles, drinks, cost, gas."""

from bot.science.dilution import water_for_gravity, water_for_strength
from bot.science.hydrometer import OG
from bot.science.limits import LITRES, STRENGTH, Lacking, Range
from bot.science.mixing import HAVE_LITRES, HAVE_SG, TARGET_TEMP, WATER_TEMP, mix_water
from bot.science.sums import Given, Key, Outcome, Result, Sum
from bot.science.volumes import (
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

_HEAVY_LITRES = 10.0
_YEAST_TEMP = Range(15.0, 35.0, "°C")
_SCALD_C = 50.0
_ROOM_M3 = 30.0
_WATERED = "Water thins taste and acid too: try it in a glass first."


def _mix(given: Given) -> Outcome:
    n = given.number
    mix = mix_water(n("have_l"), n("have_c"), n("to_l"), n("target_c"), n("hot_c"), n("cold_c"), n("have_sg"))
    pour = (
        f"{mix.hot_l:.1f} litres of hot water ({n('hot_c'):g} °C) and {mix.cold_l:.1f} litres of cold "
        f"({n('cold_c'):g} °C)"
    )
    if mix.feasible:
        answer = f"{pour}: {n('to_l'):g} litres at {mix.reached_c:.0f} °C."
    else:
        answer = (
            f"{n('target_c'):g} °C cannot be reached with this water. "
            f"The nearest is {mix.reached_c:.1f} °C: {pour}."
        )
    cautions = [
        "Check with a thermometer before the yeast goes in; the order of things is the kit leaflet's."
    ]
    if n("hot_c") > _SCALD_C and mix.hot_l > 0.0:
        cautions.append("Hot water scalds, warps thin plastic and cracks glass: pour it slowly, onto cold.")
    if n("to_l") >= _HEAVY_LITRES:
        kilos = n("to_l") * mix.sg
        cautions.append(f"Full it weighs about {kilos:.0f} kg: mix it where it will stand.")
    if not _YEAST_TEMP.lo <= mix.reached_c <= _YEAST_TEMP.hi:
        cautions.append(
            "Most wine yeasts want about 18 to 25 °C and die well above 35: see the yeast's pack."
        )
    notes = [
        "Hot and cold are each measured at their own temperature; the bucket and the room cost up to 1 °C."
    ]
    if n("have_sg") == 1.0 and n("have_l") > 0.0:
        notes.append("What is there is counted as water: give have_sg for a must, which holds less heat.")
    return Outcome(
        results={
            "hot_l": mix.hot_l,
            "cold_l": mix.cold_l,
            "reached_c": mix.reached_c,
            "feasible": mix.feasible,
            "sg": mix.sg,
        },
        answer=answer,
        formula="Σ m · ∫ c dT = 0 over must, hot and cold; c = 4184 − 2511 w + 7.5 w t J/(kg K)",
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
        answer = f"{made.abv:.1f} % vol, {made.litres:.1f} litres."
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
        answer = (
            f"{made.litres_a:.2f} litres of the first to {made.litres_b:.2f} of the second "
            f"({parts[0]:.2f} to {parts[1]:.2f} parts): {made.litres:.1f} litres at {made.abv:.1f} % vol."
        )
    return Outcome(
        results=results,
        answer=answer,
        formula="alcohol by mass and mass are conserved; the volume follows from the density",
        notes=("Blend a glass of each first: strength adds up, taste does not.",),
    )


def _dilute(given: Given) -> Outcome:
    litres, abv, abv_to = given.number("litres"), given.maybe("abv"), given.maybe("abv_to")
    sg, sg_to = given.maybe("sg"), given.maybe("sg_to")
    if abv_to is not None and abv is not None:
        water = water_for_strength(litres, abv, abv_to)
        aim, caution = f"{abv:g} down to {abv_to:g} % vol", _WATERED
    elif sg_to is not None and sg is not None:
        water = water_for_gravity(litres, sg, sg_to)
        aim, caution = (
            f"{sg:.3f} down to {sg_to:.3f}",
            "Before the yeast only: later it thins a wine for good.",
        )
    elif abv_to is not None:
        raise Lacking(f"dilute needs abv ({STRENGTH}) with abv_to", ("the strength now (% vol)",), ("abv",))
    elif sg_to is not None:
        raise Lacking(f"dilute needs sg ({OG}) with sg_to", ("the gravity now",), ("sg",))
    else:
        raise Lacking(
            "dilute needs abv and abv_to, or sg and sg_to",
            ("the strength wanted (% vol), or the gravity wanted",),
            ("abv_to", "sg_to"),
        )
    return Outcome(
        results={"water_l": water, "litres_after": litres + water},
        answer=f"{water:.2f} litres of water bring {aim}: about {litres + water:.1f} litres then.",
        formula="alcohol and sugar by mass are conserved",
        cautions=(caution, "Boiled and cooled water, and work the sulphite and the acid out anew."),
    )


def _bottles(given: Given) -> Outcome:
    made = bottling(given.number("litres"), given.number("loss_l"), given.number("size_cl"))
    bottles = (
        "1 full bottle and 1 cork" if made.bottles == 1 else f"{made.bottles} full bottles and as many corks"
    )
    return Outcome(
        results={"bottles": made.bottles, "corks": made.bottles, "left_ml": made.left_ml},
        answer=f"{bottles}; {made.left_ml:.0f} ml left over.",
        formula="bottles = ⌊(litres − loss) / size⌋",
        cautions=(
            "Only when the gravity has stood still for days and the gas is out: bottles that still ferment burst.",
        ),
        notes=("A few spare corks help; leave about 15 mm of air below each (common practice, no source).",),
    )


def _drinks(given: Given) -> Outcome:
    glass = drink(given.number("abv"), given.number("ml"), given.number("sugar_g_l"))
    return Outcome(
        results={
            "grams_alcohol": glass.grams_alcohol,
            "uk_units": glass.uk_units,
            "kcal": glass.kcal,
        },
        answer=(
            f"{glass.grams_alcohol:.1f} g of alcohol, {glass.uk_units:.1f} UK units, {glass.kcal:.0f} kcal."
        ),
        formula="grams = ml · % vol · 0.78924 / 100; unit = 10 ml of alcohol; 7 kcal/g alcohol, 4 kcal/g sugar",
        cautions=(
            "UK advice: at most 14 units a week, over 3 days or more; none when pregnant, none before driving.",
        ),
    )


def _cost(given: Given) -> Outcome:
    kit, extras, bottles = given.number("kit"), given.number("extras"), given.number("bottles")
    each = cost_per_bottle(kit, extras, bottles)
    return Outcome(
        results={"per_bottle": each, "total": kit + extras},
        answer=f"{each:.2f} a bottle: {kit + extras:.2f} over {bottles:.0f}.",
        formula="(kit + extras) / bottles",
    )


def _gas(given: Given) -> Outcome:
    gas = carbon_dioxide(given.number("sugar_g_l"), given.number("litres"))
    share = 100.0 * gas.litres / 1000.0 / _ROOM_M3
    caution = (
        "Carbon dioxide gathers low and unnoticed in closed rooms: air the room, "
        "do not sleep in it, never put your head into a vessel."
    )
    return Outcome(
        results={"co2_l": gas.litres, "co2_kg": gas.kg, "caution": caution},
        answer=f"{gas.litres:.0f} litres of carbon dioxide at 20 °C ({gas.kg:.2f} kg).",
        formula="litres = sugar · 0.9565 / 2.0665 / 1.8393 g/l",
        low=gas.low,
        high=gas.high,
        cautions=(caution,),
        notes=(
            f"Shut in a room of {_ROOM_M3:.0f} m³ that would be {share:.1f} %; "
            "the UK's limits at work are 0.5 % over 8 hours and 1.5 % over 15 minutes (EH40).",
        ),
    )


VOLUME_SUMS = (
    Sum(
        name="mix",
        purpose="hot and cold water that bring a kit to volume and temperature",
        keys=(
            Key(name="have_l", what="what is there already", range=HAVE_LITRES, required=True),
            Key(name="have_c", what="its temperature", range=WATER_TEMP, required=True),
            Key(name="to_l", what="volume wanted", range=LITRES, required=True),
            Key(name="target_c", what="temperature wanted", range=TARGET_TEMP, required=True),
            Key(name="hot_c", what="temperature of the hot water", range=WATER_TEMP, required=True),
            Key(name="cold_c", what="temperature of the cold water", range=WATER_TEMP, required=True),
            Key(name="have_sg", what="gravity of what is there", range=HAVE_SG, default=1.0),
        ),
        method="balance of masses and heats",
        source="Kell 1975, ICUMSA sucrose polynomial (densities); Bubník et al. (heat of sugar solutions)",
        work=_mix,
    ),
    Sum(
        name="blend",
        purpose="two wines poured together, or how much of each for a strength",
        keys=(
            Key(name="litres_a", what="the first wine", range=LITRES, required=True),
            Key(name="abv_a", what="its strength", range=SPIRIT, required=True),
            Key(name="litres_b", what="the second wine", range=LITRES, required=True),
            Key(name="abv_b", what="its strength", range=SPIRIT, required=True),
            Key(name="abv_target", what="strength wanted, between the two", range=SPIRIT),
        ),
        method="balance of alcohol and mass",
        source="OIML R 22 (1973)",
        work=_blend,
    ),
    Sum(
        name="dilute",
        purpose="how much water brings a must or wine down to a gravity or strength",
        keys=(
            Key(name="litres", what="the volume", range=LITRES, required=True),
            Key(name="abv", what="strength now", range=STRENGTH),
            Key(name="abv_to", what="strength wanted", range=STRENGTH),
            Key(name="sg", what="gravity now", range=OG),
            Key(name="sg_to", what="gravity wanted", range=OG),
        ),
        method="balance of masses",
        source="OIML R 22 (1973); ICUMSA sucrose polynomial",
        work=_dilute,
    ),
    Sum(
        name="bottles",
        purpose="how many bottles and corks a batch takes",
        keys=(
            Key(name="litres", what="how much", range=LITRES, required=True),
            Key(name="loss_l", what="lees, samples and spills", range=LOSS, default=0.0),
            Key(name="size_cl", what="size of a bottle", range=BOTTLE, default=75.0),
        ),
        method="full bottles only",
        source="counting",
        work=_bottles,
    ),
    Sum(
        name="drinks",
        purpose="alcohol, units and energy in a glass or bottle",
        keys=(
            Key(name="abv", what="strength", range=SPIRIT, required=True),
            Key(name="ml", what="how much", range=GLASS, required=True),
            Key(name="sugar_g_l", what="sugar in the wine", range=SUGAR, default=0.0),
        ),
        method="mass of alcohol; energy factors of food law",
        source="OIML R 22; UK Chief Medical Officers' unit; Reg. (EU) 1169/2011, Annex XIV",
        work=_drinks,
    ),
    Sum(
        name="cost",
        purpose="what a bottle cost",
        keys=(
            Key(name="kit", what="price of the kit", range=MONEY, required=True),
            Key(name="extras", what="corks, labels and the rest", range=MONEY, default=0.0),
            Key(name="bottles", what="bottles filled", range=COUNT, required=True),
        ),
        method="division",
        source="counting",
        work=_cost,
    ),
    Sum(
        name="gas",
        purpose="the carbon dioxide a fermentation gives off",
        keys=(
            Key(name="sugar_g_l", what="sugar that ferments", range=SUGAR, required=True),
            Key(name="litres", what="how much must", range=LITRES, required=True),
        ),
        method="Balling's yield of carbon dioxide",
        source="Balling; density of the gas 1.8393 g/l (CoolProp); UK EH40/2005",
        work=_gas,
    ),
)
