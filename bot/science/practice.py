"""One table of the trade's figures: what is customary, or published, and has to be agreed on in one place.

A figure is known by its name here, and nothing repeats its value elsewhere:

>>> from bot.science import practice
>>> practice.FINISHED_BELOW.value, practice.FINISHED_BELOW.unit
(1.002, 'SG')
>>> practice.TABLET_G.source
'common practice, no source'

What is a formula's own (molar masses, coefficients, the tables of a norm) stands beside the formula with its source;
what a sum accepts is its range; what is this bot's manners and not wine's (quiet hours, how long a button counts) is
where it is used. To add a figure: one row, with its unit and its source.
"""

from collections.abc import Mapping
from datetime import timedelta
from types import MappingProxyType
from typing import Generic, Literal, TypeVar

import msgspec

T = TypeVar("T")

COMMON = "common practice, no source"
DEFINED = "by definition"

Ends = tuple[float, float]
Colour = Literal["red", "white", "rosé"]


class Figure(msgspec.Struct, Generic[T], frozen=True, kw_only=True):
    """A figure of the trade: its value (a number, a span of time, both ends of a range, or one for each of a kind),
    its unit, where it is from, and what it means."""

    value: T
    unit: str
    about: str
    source: str = COMMON


def _hours(hours: float, about: str, source: str = COMMON) -> Figure[timedelta]:
    return Figure(value=timedelta(hours=hours), unit="hours", about=about, source=source)


def _days(days: float, about: str, source: str = COMMON) -> Figure[timedelta]:
    return Figure(value=timedelta(days=days), unit="days", about=about, source=source)


def _sg(value: float, about: str, source: str = COMMON) -> Figure[float]:
    return Figure(value=value, unit="SG", about=about, source=source)


def _celsius(value: T, about: str, source: str = COMMON) -> Figure[T]:
    return Figure(value=value, unit="°C", about=about, source=source)


def _litres(value: T, about: str, source: str = COMMON) -> Figure[T]:
    return Figure(value=value, unit="litres", about=about, source=source)


def _share(value: T, about: str, source: str = COMMON) -> Figure[T]:
    return Figure(value=value, unit="share", about=about, source=source)


# ---- What may be written down -------------------------------------------------------------------------------------

SG_WRITTEN: Figure[Ends] = Figure(
    value=(0.980, 1.200), unit="SG", about="A gravity outside is none of a wine or must."
)
TEMPERATURE_WRITTEN: Figure[Ends] = _celsius(
    (-5.0, 110.0), "From a cold shed to boiling must: else it is no thermometer's."
)
PH_WRITTEN: Figure[Ends] = Figure(value=(2.0, 5.0), unit="pH", about="Must and wine lie well inside.")
LITRES_WRITTEN: Figure[Ends] = _litres(
    (0.01, 2000.0), "From a small sample to more than any household makes."
)
DAYS_WRITTEN = Figure(value=(1, 400), unit="days", about="How long a kit, or a leaflet's plan, can take.")

# ---- Gravities ----------------------------------------------------------------------------------------------------

DIVISION = _sg(0.001, "One division of a hobby hydrometer: as well as it is read.")
RISE_IN_READING = _sg(
    0.002, "A gravity that is higher by no more has not risen: two readings differ by that."
)
FALLS_AGAIN = _sg(0.002, "A later reading this far below a settled gravity says that it is fermenting again.")
HARDLY_FALLEN = _sg(0.003, "A fall within the error of two readings: not begun.")
CLEARLY_FALLEN = _sg(0.005, "A fall that no misreading explains: the yeast is at work.")
MISREAD = _sg(
    0.0075, "Two readings close in time may differ by so much: a quarter of a day at the fastest fall."
)
FERMENTS_BELOW = _sg(
    0.008,
    "So far below the starting gravity a refractometer shows alcohol, whether or not anybody told of yeast: more "
    "than two slips of reading.",
)
PROVES_YEAST = _sg(0.010, "A fall that neither a misreading nor a warm sample explains: the yeast is in.")
STARTS_AT_LEAST = _sg(1.040, "A first reading below was taken under way: no kit starts so low.")
LOWEST_SG = _sg(0.985, "No wine that has fermented dry reads lower.")
LOW_ENOUGH_TO_STABILISE = _sg(
    1.010, "Above, sulphite or finings belong to the start, not to the stabilising."
)
FINISHED_BELOW = _sg(
    1.002,
    "Above, a steady gravity is no proof of a finished dry wine. Of the dry reds in the data, 95 % lie below 1.0015.",
    "UCI Wine Quality (Cortez and others 2009)",
)
SETTLED_WITHIN = _sg(DIVISION.value, "How far apart readings that agree may be: one division.")
SETTLED_OVER = _hours(48, "Readings must agree over at least this long before the gravity counts as stopped.")
SOONEST_PROOF = _hours(6, "A reading that would be the proof may come sooner after the last one.")

# ---- The course of a ferment --------------------------------------------------------------------------------------

PITCHED_WITHIN = _hours(24, "Yeast goes in within a day of the starting gravity.")
OG_GRACE = _hours(
    12, "A first reading so soon after the yeast is the starting gravity: the yeast is hardly awake."
)
STARTED_BY = _hours(48, "By now the gravity should have moved; at 72 hours something is wrong.")
STUCK_OVER = _hours(48, "The same gravity for so long, and too high for a finished wine, is a stuck ferment.")
SLOW_ABOVE = _sg(1.010, "Below, a ferment is slow by nature.")
SLOW_FALL: Figure[float] = Figure(
    value=0.002, unit="SG a day", about="A smaller fall, still well above the end, is slow."
)
SLOW_OVER = _hours(20, "Two readings nearer together do not tell that it is slow.")
RATE_OVER = _hours(6, "Two readings nearer together do not tell how fast it falls.")
RATE_WITHIN = _days(
    4,
    "Over a longer gap a fall down to the end says nothing of how it goes now: a ferment is fast at first and slow at "
    "its end.",
)
RATE_KNOWN_FOR = _days(3, "A fall read longer ago than this says nothing of how it goes now.")
HARDLY_MOVING: Figure[float] = Figure(
    value=DIVISION.value / 2,
    unit="SG a day",
    about="A fall that tells nothing about the end: half a division a day.",
)
FASTEST_FALL: Figure[float] = Figure(value=0.030, unit="SG a day", about="No kit ferments faster.")
LIKELY_FALL: Figure[float] = Figure(
    value=0.008, unit="SG a day", about="How fast it falls where one reading is all there is."
)
STEADY_FALL: Figure[float] = Figure(
    value=0.020, unit="SG a day", about="A fall is not expected to go on faster."
)
DRY_SG = _sg(0.992, "Where a kit's wine ends, as far as a guess goes.")
SLOWING: Figure[float] = Figure(
    value=1.5,
    unit="times",
    about="The fall slows down as the sugar runs out, so a straight line to the end is too early: its days become half "
    "as many again.",
)
SWEET_PART = _share(1 / 3, "Of a ferment's days, when most of the sugar has gone.")
FAR_FROM_CURVE = _sg(0.025, "So far from its own curve a reading is taken for another batch's.")
NEAR_CURVE = _sg(0.006, "So near to another's curve a reading is taken for that batch's.")
ON_CURVE = _sg(0.020, "So near to its curve a reading with a slipped digit comes once it is put right.")

# ---- Temperatures -------------------------------------------------------------------------------------------------

FERMENT_C: Figure[Ends] = _celsius((18.0, 24.0), "To ferment at, where a leaflet gives nothing.")
PITCH_C: Figure[Ends] = _celsius((20.0, 22.0), "To put the yeast in at, where a leaflet gives nothing.")
YEAST_LIVES_C: Figure[Ends] = _celsius((15.0, 35.0), "Colder, most wine yeasts sleep; warmer, they die.")
HURTS_YEAST_C = _celsius(32.0, "Above, wine yeast is hurt.")
KILLS_YEAST_C = _celsius(40.0, "From about here wine yeast dies.")
STILL_SO = _hours(6, "A must told too warm so long ago may have cooled since.")
SWING_C = _celsius(4.0, "Yeast dislikes a larger jump within so short a time as `SWING_WITHIN`.")
SWING_WITHIN = _hours(36, "A jump of the temperature within this is a jump.")
TEMPERATURE_KNOWN_FOR = _days(3, "A temperature told longer ago says nothing of how warm it is now.")
BACK_IN_RANGE = _hours(12, "After a temperature out of range was told, it is worth another look.")
ROOM_C: Figure[Ends] = _celsius((0.0, 45.0), "No wine stands in a room outside.")
SAMPLE_C: Figure[Ends] = _celsius((5.0, 45.0), "A sample in its jar is hardly outside.")
LIKELY_C: Figure[Ends] = _celsius((13.0, 30.0), "A bare number inside is likely how warm the wine is.")
BARE_C: Figure[Ends] = _celsius((10.0, 35.0), "A bare number outside is no temperature that somebody tells.")
SCALDS_C = _celsius(50.0, "Hotter water scalds.")

# ---- Volumes, bottles, vessels ------------------------------------------------------------------------------------

KIT_LITRES = _litres(23.0, "What a kit makes.")
SMALLEST_KIT_LITRES = _litres(15.0, "The smallest vessel that a kit is planned in.")
BOTTLE_LITRES = _litres(0.75, "A wine bottle.", DEFINED)
HALF_BOTTLE_LITRES = _litres(0.375, "Half a wine bottle.", DEFINED)
GALLON_LITRES: Figure[Mapping[str, float]] = _litres(
    MappingProxyType({"imperial": 4.54609, "us": 3.785411784}),
    "Litres in a gallon, exact.",
    "by their legal definitions; comes from memory",
)
PINT_LITRES: Figure[Mapping[str, float]] = _litres(
    MappingProxyType({"imperial": 0.56826125, "us": 0.473176473}),
    "Litres in a pint: an eighth of the gallon.",
    "by their legal definitions; comes from memory",
)
LOST_LITRES = _litres(0.5, "Lees and samples take about half a litre.")
ROUNDED_LITRES = _litres(
    0.1, "By so much a vessel takes more than it is said to hold: capacities are round numbers."
)
LEFT_BEHIND = _share(
    0.10, "Of a wine a racking may leave so much with its lees; more of it, said of no vessel, stayed."
)
FOAM_ROOM = _share(0.10, "Of a vessel, to leave free while a ferment foams.")
LARGEST_HEADSPACE = _share(
    0.10, "Of a vessel, that may stay empty once it has fermented: air spoils still wine."
)
MORE_THAN_WRITTEN: Figure[float] = Figure(
    value=1.4,
    unit="times",
    about="A batch holds this much more than was written down for it.",
)
MORE_IN_BOTTLES: Figure[float] = Figure(
    value=1.2,
    unit="times",
    about="A batch fills bottles with this much more than was written down for it, topped up or measured roughly.",
)
LITTLE_OF_IT = _share(0.4, "A whole batch that is less of what it was is more likely some of it.")
HEAVY_LITRES = _litres(10.0, "From here a full vessel is heavy.")
BUCKET_KG: Figure[float] = Figure(
    value=2.0, unit="kg", about="An empty bucket with its lid weighs about so much."
)
CELLAR_M3: Figure[float] = Figure(value=30.0, unit="m³", about="A small room, to show what its gas comes to.")

# ---- What goes in -------------------------------------------------------------------------------------------------

TABLET_G: Figure[float] = Figure(value=0.44, unit="g", about="A tablet of sulphite.")
TEASPOON_G: Figure[float] = Figure(value=5.0, unit="g", about="A level teaspoon of sulphite.")
SORBATE_SPOON_G: Figure[float] = Figure(value=3.0, unit="g", about="A level 5 ml spoon of potassium sorbate.")
WEIGHED_G: Figure[float] = Figure(value=1.0, unit="g", about="Under this a kitchen scale only guesses.")
PK_CUSTOMARY: Figure[float] = Figure(
    value=1.81, unit="pK", about="Of sulphurous acid, for a dose: the customary value, and the cautious side."
)
MOLECULAR_TARGET: Figure[Mapping[Colour, float]] = Figure(
    value=MappingProxyType({"red": 0.5, "white": 0.8, "rosé": 0.8}),
    unit="mg/l",
    about="Molecular sulphur dioxide that protects a wine of that colour.",
)
BOUND_OF_FIRST: Figure[Ends] = _share(
    (0.3, 0.5),
    "Of a first addition of sulphur dioxide, what binds within days in a sound wine that holds none: a third to a half.",
    "comes from memory: Ribéreau-Gayon et al., Handbook of Enology 1, on the additions that sulphiting takes",
)
SMELT_MG_L: Figure[float] = Figure(
    value=60.0, unit="mg/l", about="More free sulphite than this can be smelt."
)
ALLERGEN_MG_L: Figure[float] = Figure(
    value=10.0,
    unit="mg/l",
    about="From more sulphite on a label must say so.",
    source="Reg. (EU) 1169/2011, Annex II; comes from memory",
)
SULPHITE_MAX_MG_L: Figure[Mapping[Colour, float]] = Figure(
    value=MappingProxyType({"red": 150.0, "white": 200.0, "rosé": 200.0}),
    unit="mg/l",
    about="Total sulphur dioxide allowed in dry wine for sale.",
    source="Reg. (EU) 2019/934, Annex I, Part B",
)
SULPHITE_MORE_MG_L: Figure[float] = Figure(
    value=50.0,
    unit="mg/l",
    about="So much more is allowed in a wine that is not dry.",
    source="Reg. (EU) 2019/934, Annex I, Part B",
)
NOT_DRY_G_L: Figure[float] = Figure(
    value=5.0,
    unit="g/l",
    about="From so much sugar a wine is not dry, for the limit of sulphite.",
    source="Reg. (EU) 2019/934, Annex I, Part B",
)
SORBIC_MAX_MG_L: Figure[float] = Figure(
    value=200.0,
    unit="mg/l",
    about="Sorbic acid allowed in wine.",
    source="OIV code of oenological practices II.3.4.5",
)
ACID_STEP_G_L: Figure[float] = Figure(
    value=1.0, unit="g/l", about="A larger step of acidity is near what the law allows."
)
PLANNED_MOST_G_L: Figure[Mapping[str, float]] = Figure(
    value=MappingProxyType(
        {
            "sulphite": 0.35,
            "sorbate": 0.4,
            "yeast": 2.0,
            "nutrient": 3.0,
            "bentonite": 6.0,
            "tannin": 1.5,
            "acid": 8.0,
        }
    ),
    unit="g/l",
    about="The most that any kit's leaflet asks for at once; above it the line is asked about. Sulphite: about what makes "
    "the law's 200 mg/l in one go; sorbate: half more than the law's 200 mg/l of sorbic acid.",
)
ADDED_MOST_PER_LITRE: Figure[Mapping[str, Mapping[str, float]]] = Figure(
    value=MappingProxyType(
        {
            "sulphite": {"g": 0.35, "tsp": 0.07, "tablet": 0.6, "sachet": 0.2},
            "sorbate": {"g": 1.2, "tsp": 0.3, "sachet": 0.2},
            "yeast": {"g": 3.0, "tsp": 0.6, "sachet": 0.3},
            "nutrient": {"g": 3.0, "tsp": 0.6, "sachet": 0.3, "tablet": 1.0},
            "finings": {"g": 4.0, "ml": 12.0, "sachet": 0.3, "tsp": 0.8},
            "bentonite": {"g": 6.0, "tsp": 1.2, "sachet": 0.3},
            "sugar": {"g": 200.0, "tsp": 40.0, "l": 0.3, "ml": 300.0},
            "acid": {"g": 8.0, "tsp": 1.6, "ml": 40.0},
            "tannin": {"g": 1.5, "tsp": 0.4, "ml": 5.0, "sachet": 0.3},
            "oak": {"g": 15.0, "sachet": 0.3},
            "water": {"l": 1.0, "ml": 1000.0},
        }
    ),
    unit="of its own unit a litre",
    about="The most of each in one go that makes sense: several times what kits and recipes ask for. A sachet is the "
    "kit's own.",
)
ADDED_TWICE_WITHIN = _hours(24, "The same addition twice within this is asked about.")

# ---- Strength and extract -----------------------------------------------------------------------------------------

YIELD_SPREAD = _share(
    0.026,
    "Half-width of the strength for the same two gravities: yeasts and musts differ in yield, by about 0.3 % vol at "
    "11.4.",
    "the spread of the mass-based rules in use",
)
DRY_SHARE = _share(
    0.88,
    "Of a must's extract, what has fermented when a wine is dry; the rest is acids, salts and by-products.",
)
DRY_BAND: Figure[Ends] = _share(
    (0.85, 0.91), "Within this the share lies that has fermented when a wine is dry."
)
SUGAR_FREE_EXTRACT: Figure[float] = Figure(
    value=25.0,
    unit="g/l",
    about="Acids, glycerol, salts and colour, counted as sucrose: the extract of a bone-dry wine.",
    source="the middle of `SUGAR_FREE_BAND`",
)
SUGAR_FREE_BAND: Figure[Ends] = Figure(
    value=(16.0, 37.0),
    unit="g/l",
    about="The extract of bone-dry wines: whites hold 16 to 24, reds 25 to 37 (5 to 95 %).",
    source="UCI Wine Quality (Cortez and others 2009)",
)
LEAST_EXTRACT: Figure[float] = Figure(
    value=-10.0,
    unit="g/l",
    about="As much below nothing as misread gravities can make an extract look. Further down they are wrong.",
)
THIN_EXTRACT: Figure[float] = Figure(value=12.0, unit="g/l", about="Hardly any wine ends with less extract.")
STRONGEST_ABV: Figure[float] = Figure(value=18.0, unit="% vol", about="Few yeasts get past it.")
SUGAR_A_PERCENT: Figure[Ends] = Figure(
    value=(15.99, 17.0),
    unit="g/l",
    about="Sucrose for one % vol more: the least, the law's 16.83 g/l of must sugar, and the most, as cellars count.",
    source="the law's 16.83 g/l (Reg. (EU) 1308/2013) as sucrose; 17: common practice, no source",
)
READ_TO_BRIX: Figure[float] = Figure(value=0.2, unit="Brix", about="How well a hand refractometer is read.")
SHARES_TO_BRIX: Figure[float] = Figure(
    value=0.5,
    unit="Brix",
    about="How far the shares of acids, glycerol and alcohol in the bending of light are known: glycerol and acids bend "
    "it a little less than the sugar they are counted as.",
)

# ---- When what is due ---------------------------------------------------------------------------------------------

USUAL_KIT_DAYS = Figure(value=14, unit="days", about="How long a kit takes where nobody said.")
FIRST_LOOK = _hours(48, "After the yeast: by then it should have begun.")
CLOSEST_LOOK = _days(1, "Readings are not nearer together: every opening of the bucket risks the wine.")
LONGEST_LOOK = _days(3, "Readings are not further apart.")
OVERDUE_AFTER = _hours(72, "A reading so long overdue is brought up once more.")
UNSEEN_AFTER = _hours(
    24, "The first one after the yeast sooner, since by 72 hours a ferment must have begun."
)
MATTERS_AFTER: Figure[Mapping[str, timedelta]] = Figure(
    value=MappingProxyType(
        {
            "mix": timedelta(days=4),
            "pitch": timedelta(days=4),
            "rack": timedelta(days=14),
            "stabilise": timedelta(days=7),
            "degas": timedelta(days=7),
            "fine": timedelta(days=7),
            "bottle": timedelta(days=45),
        }
    ),
    unit="days",
    about="When leaving a chore undone begins to matter for the wine: must without yeast spoils within days, wine on its "
    "lees or without stabiliser within weeks.",
)
CONTACT = Figure(
    value=timedelta(minutes=10),
    unit="minutes",
    about="The customary contact time of a no-rinse sanitiser, where a house has not said what its pack says.",
)
STALE_AFTER = _hours(24, "Sanitised longer ago than this, a vessel wants it again; the pack decides.")
WASH_AFTER = _hours(
    3, "Lees dry on: an emptied vessel is brought up once the bottles or the transfer are seen to."
)
WASH_WITHIN = _days(10, "After that nobody is told any more to wash an emptied vessel.")
DEGAS_EVERY = _hours(4, "How long apart what is done several times is, where the leaflet does not say.")
LOOK_BEFORE = _hours(24, "So long before a chore that wants a clear wine somebody looks.")
LOOK_AGAIN = _days(3, "How much longer a cloudy wine is left alone.")
COLLECT_BEFORE = _days(7, "Bottles and corks are fetched so long before bottling day.")
UNDER_WAY_BY = _days(3, "For a short kit they are fetched once its ferment is so long under way.")
TASTE_AFTER = Figure(
    value=(timedelta(weeks=4), timedelta(weeks=13), timedelta(weeks=26)),
    unit="weeks",
    about="After bottling: once it has got over that, and then as it ages.",
)
REST_DAYS: Figure[Mapping[str, int]] = Figure(
    value=MappingProxyType({"red": 28, "white": 14, "rosé": 14}),
    unit="days",
    about="Rest in the bottle before it is poured.",
)
WASH_DAYS = Figure(value=1, unit="days", about="Between two kits in one vessel.")
SIGN_LASTS: Figure[Mapping[str, timedelta]] = Figure(
    value=MappingProxyType({"eggs": timedelta(days=14), "open": timedelta(days=3)}),
    unit="days",
    about="Some signs pass: a smell of eggs with time, a lid once it is back on. The others do not mend by themselves.",
)
SIGNS_LAST = _days(60, "Of what was told longer ago nothing is known any more.")

TABLE: Mapping[str, Figure[object]] = MappingProxyType(
    {name: row for name, row in globals().items() if isinstance(row, Figure)}
)
"""Every figure by its name."""
