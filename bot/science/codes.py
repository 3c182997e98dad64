"""What a sum says, as codes: units, arguments, what is wrong with an input, and the remarks to an answer.

Their words are `say`'s (`bot/say/sums.toml`): each code has its line there, and a test holds the two together.
"""

from collections.abc import Mapping
from enum import StrEnum

import msgspec


class Measure(StrEnum):
    """The unit in which a quantity is counted."""

    RATIO = "ratio"
    SG = "sg"
    MASS_PERCENT = "mass_percent"
    BRIX = "brix"
    OECHSLE = "oechsle"
    BAUME = "baume"
    KG_M3 = "kg_m3"
    CELSIUS = "celsius"
    LITRES = "litres"
    CENTILITRES = "centilitres"
    MILLILITRES = "millilitres"
    ABV = "abv"
    G_L = "g_l"
    G_L_TARTARIC = "g_l_tartaric"
    MG_L = "mg_l"
    MONEY = "money"
    BOTTLES = "bottles"


class Because(StrEnum):
    """Why a range ends where it does."""

    TABLES_END = "tables_end"
    PRINTED_ON_IT = "printed_on_it"
    SUCH_A_MUST = "such_a_must"
    REFRACTOMETER_SHOWS = "refractometer_shows"
    YEAST_MAY_STOP = "yeast_may_stop"
    WINE_LIES_THERE = "wine_lies_there"
    TASTED = "tasted"
    STINGS = "stings"


class Argument(StrEnum):
    """What a formula was given, where it is called by no key of a sum."""

    ACIDITY_NOW = "acidity_now"
    ACIDITY_WANTED = "acidity_wanted"
    ALCOHOL_MASS_FRACTION = "alcohol_mass_fraction"
    BAUME = "baume"
    BOTTLE = "bottle"
    BOTTLES = "bottles"
    BRIX = "brix"
    COLD_WATER = "cold_water"
    DENSITY = "density"
    EXTRACT = "extract"
    EXTRAS = "extras"
    FIRST_WINE = "first_wine"
    FREE_SULPHITE_NOW = "free_sulphite_now"
    FREE_SULPHITE_WANTED = "free_sulphite_wanted"
    GLASS = "glass"
    GRAVITY = "gravity"
    GRAVITY_BEFORE_FERMENTING = "gravity_before_fermenting"
    GRAVITY_NOW = "gravity_now"
    GRAVITY_OF_WHAT_IS_THERE = "gravity_of_what_is_there"
    GRAVITY_WANTED = "gravity_wanted"
    HOT_WATER = "hot_water"
    HYDROMETER_RESOLUTION = "hydrometer_resolution"
    KIT = "kit"
    LIQUID_TEMPERATURE = "liquid_temperature"
    LOSS = "loss"
    MOLECULAR_SULPHITE_WANTED = "molecular_sulphite_wanted"
    MUST = "must"
    OECHSLE = "oechsle"
    PLATO = "plato"
    READING = "reading"
    REFRACTOMETER_BRIX = "refractometer_brix"
    RISE = "rise"
    SAMPLE_TEMPERATURE = "sample_temperature"
    SECOND_WINE = "second_wine"
    SOLUTION_DENSITY = "solution_density"
    SOLUTION_TEMPERATURE = "solution_temperature"
    STRENGTH = "strength"
    STRENGTH_NOW = "strength_now"
    STRENGTH_SO_FAR = "strength_so_far"
    STRENGTH_WANTED = "strength_wanted"
    SUGAR = "sugar"
    SUGAR_ADDED = "sugar_added"
    SUGAR_MASS_FRACTION = "sugar_mass_fraction"
    SUGAR_WANTED = "sugar_wanted"
    TEMPERATURE_WANTED = "temperature_wanted"
    TOTAL_NOW = "total_now"
    VOLUME_WANTED = "volume_wanted"
    WATER_TEMPERATURE = "water_temperature"
    WHAT_IS_THERE = "what_is_there"
    WINE = "wine"
    WINE_TEMPERATURE = "wine_temperature"


class Wrong(StrEnum):
    """What is wrong with an input."""

    OUT_OF_RANGE = "out_of_range"
    NO_NUMBER = "no_number"
    NO_SUCH_WORD = "no_such_word"
    NO_SUCH_KEY = "no_such_key"
    NO_SUCH_SUM = "no_such_sum"
    NO_KEYS = "no_keys"
    STILL_NEEDS = "still_needs"
    NO_WHOLE_NUMBER = "no_whole_number"
    CALIBRATION = "calibration"
    OG_AND_ABV = "og_and_abv"
    NO_SCALE = "no_scale"
    SEVERAL_SCALES = "several_scales"
    ROSE = "rose"
    UNREACHABLE = "unreachable"
    NO_START = "no_start"
    TWO_STARTS = "two_starts"
    START_OUTSIDE = "start_outside"
    MORE_THAN_BEGUN = "more_than_begun"
    LESS_THAN_ENDED = "less_than_ended"
    NO_PH = "no_ph"
    TWO_TARGETS = "two_targets"
    PH_TOO_HIGH = "ph_too_high"
    TOTAL_BELOW_FREE = "total_below_free"
    NO_GRAVITY_NOW = "no_gravity_now"
    NO_RISE = "no_rise"
    TWO_RISES = "two_rises"
    ONLY_LIFTS = "only_lifts"
    FLOATS_HIGHER = "floats_higher"
    LESS_THAN_THERE = "less_than_there"
    HOT_BELOW_COLD = "hot_below_cold"
    NOT_BETWEEN = "not_between"
    LOSES_ALL = "loses_all"
    NO_STRENGTH_NOW = "no_strength_now"
    NO_SG_NOW = "no_sg_now"
    NOTHING_WANTED = "nothing_wanted"
    ONLY_THINS = "only_thins"
    ONLY_WEAKENS = "only_weakens"
    TOO_MUCH_IN_THE_END = "too_much_in_the_end"


class ShortRule(StrEnum):
    """A shorter rule for the strength than the balance."""

    ONE_FACTOR = "one_factor"
    LINEAR = "linear"
    LAW = "law"


class Point(StrEnum):
    """What a remark is about: an answer, its formula, a caution or a note."""

    CORRECT = "correct"
    CORRECT_FORMULA = "correct_formula"
    ALCOHOL_COUNTED = "alcohol_counted"
    TAKEN_AS_MUST = "taken_as_must"
    TAKEN_AS_SPIRIT = "taken_as_spirit"

    SCALES = "scales"
    SCALES_SUGAR = "scales_sugar"
    SCALES_STRENGTH = "scales_strength"
    SCALES_FORMULA = "scales_formula"
    AS_SUCROSE = "as_sucrose"
    GRAPE_MUST = "grape_must"
    TOO_DENSE = "too_dense"
    BELOW_WATER = "below_water"

    ABV = "abv"
    ABV_DRY = "abv_dry"
    ABV_FORMULA = "abv_formula"
    ENDS_TOO_LOW = "ends_too_low"
    TOO_STRONG = "too_strong"
    SHORT_RULES = "short_rules"
    EXTRACT_LEFT = "extract_left"

    REFRACTED = "refracted"
    REFRACTED_FORMULA = "refracted_formula"
    ESTIMATE_ONLY = "estimate_only"

    SULPHITE = "sulphite"
    SULPHITE_TABLET = "sulphite_tablet"
    SULPHITE_TABLETS = "sulphite_tablets"
    SULPHITE_NONE = "sulphite_none"
    MOLECULAR = "molecular"
    SULPHITE_FORMULA = "sulphite_formula"
    SULPHITE_ASTHMA = "sulphite_asthma"
    SULPHITE_OVER = "sulphite_over"
    SULPHITE_UNDRINKABLE = "sulphite_undrinkable"
    SULPHITE_SMELT = "sulphite_smelt"
    SULPHITE_BINDS = "sulphite_binds"
    TOTAL_AFTER = "total_after"
    TOTAL_AT_LEAST = "total_at_least"
    MEASURE_AGAIN = "measure_again"

    SORBATE = "sorbate"
    SORBATE_FORMULA = "sorbate_formula"
    SORBATE_WHEN = "sorbate_when"
    SORBATE_GERANIUMS = "sorbate_geraniums"
    SORBATE_HELD_BACK = "sorbate_held_back"
    SORBATE_SPOONS = "sorbate_spoons"
    SORBATE_LIMIT = "sorbate_limit"

    ACID_UP = "acid_up"
    ACID_UP_FORMULA = "acid_up_formula"
    ACID_DOWN = "acid_down"
    ACID_DOWN_FORMULA = "acid_down_formula"
    ACID_BY_HALVES = "acid_by_halves"
    ACID_FOAMS = "acid_foams"
    ACID_UNCHILLED = "acid_unchilled"
    ACID_UP_LIMIT = "acid_up_limit"
    ACID_DOWN_LIMIT = "acid_down_limit"
    TARTARIC_ACID = "tartaric_acid"
    CALCIUM_CARBONATE = "calcium_carbonate"

    SUGAR_FOR_STRENGTH = "sugar_for_strength"
    SUGAR_FOR_STRENGTH_FORMULA = "sugar_for_strength_formula"
    SUGAR_FOR_GRAVITY = "sugar_for_gravity"
    SUGAR_FOR_GRAVITY_FORMULA = "sugar_for_gravity_formula"
    SUGAR_THINS = "sugar_thins"
    SUGAR_FOAMS = "sugar_foams"
    SUGAR_BURSTS = "sugar_bursts"

    SWEETENED = "sweetened"
    SWEETENED_FORMULA = "sweetened_formula"
    STABILISE_FIRST = "stabilise_first"
    SWEETENED_COUNTS = "sweetened_counts"

    SMALL_DOSE = "small_dose"

    MIXED = "mixed"
    MIXED_NEAREST = "mixed_nearest"
    MIXED_FORMULA = "mixed_formula"
    MIXED_THERMOMETER = "mixed_thermometer"
    MIXED_SCALDS = "mixed_scalds"
    MIXED_HEAVY = "mixed_heavy"
    MIXED_YEAST = "mixed_yeast"
    MIXED_MEASURED = "mixed_measured"
    MIXED_AS_WATER = "mixed_as_water"

    BLENDED = "blended"
    BLENDED_PARTS = "blended_parts"
    BLENDED_FORMULA = "blended_formula"
    BLENDED_GLASS = "blended_glass"

    WEAKENED = "weakened"
    THINNED = "thinned"
    THINNED_FORMULA = "thinned_formula"
    THINNED_TASTE = "thinned_taste"
    THINNED_BEFORE_YEAST = "thinned_before_yeast"
    THINNED_WATER = "thinned_water"

    BOTTLED = "bottled"
    BOTTLED_ONE = "bottled_one"
    BOTTLED_FORMULA = "bottled_formula"
    BOTTLED_BURSTS = "bottled_bursts"
    BOTTLED_CORKS = "bottled_corks"

    GLASS = "glass"
    GLASS_FORMULA = "glass_formula"
    GLASS_ADVICE = "glass_advice"

    COST = "cost"
    COST_FORMULA = "cost_formula"

    GAS = "gas"
    GAS_FORMULA = "gas_formula"
    GAS_GATHERS = "gas_gathers"
    GAS_IN_A_ROOM = "gas_in_a_room"


class Remark(msgspec.Struct, frozen=True):
    """One thing to say: what it is about, and the figures in it, by name."""

    point: Point
    figures: Mapping[str, object]


def remark(point: Point, **figures: object) -> Remark:
    """The remark with its figures."""
    return Remark(point, figures)
