"""What goes into a wine by the gram: sulphite, sorbate, acid."""

import math
from typing import Literal

import msgspec

from bot.science import practice
from bot.science.codes import Argument, Because, Measure, Wrong
from bot.science.limits import LITRES, STRENGTH, BadInput, Lacking, Range
from bot.science.practice import Colour

Salt = Literal["potassium", "sodium"]

PH = Range(2.7, 4.0, because=Because.WINE_LIES_THERE)
FREE_TARGET = Range(0.0, 150.0, Measure.MG_L, Because.TASTED)
MOLECULAR = Range(0.1, 2.0, Measure.MG_L, Because.STINGS)
FREE_NOW = Range(0.0, 300.0, Measure.MG_L)
TOTAL_NOW = Range(0.0, 500.0, Measure.MG_L)
WINE_TEMP = Range(0.0, 40.0, Measure.CELSIUS)
WINE_SUGAR = Range(0.0, 300.0, Measure.G_L)
ACIDITY = Range(1.0, 25.0, Measure.G_L_TARTARIC)

SO2_SHARE: dict[Salt, float] = {"potassium": 2 * 64.064 / 222.31, "sodium": 2 * 64.064 / 190.09}
"""Sulphur dioxide in the metabisulphite, by molar masses."""


SORBIC_SHARE = 112.13 / 150.22
"""Sorbic acid in potassium sorbate, by molar masses."""

CARBONATE_PER_TARTARIC = 100.09 / 150.09
"""Calcium carbonate that takes out its equal of tartaric acid: one to one by moles."""
BICARBONATE_PER_TARTARIC = 2 * 100.115 / 150.09
"""Potassium bicarbonate that neutralises tartaric acid: two to one by moles."""

_OIV_ABV = (0.0, 5.0, 10.0, 15.0)
_OIV_TEMP = (20.0, 25.0, 30.0, 35.0, 40.0)
_OIV_PK = (
    (1.798, 2.000, 2.219, 2.334, 2.493),
    (1.897, 2.098, 2.299, 2.397, 2.527),
    (1.997, 2.198, 2.394, 2.488, 2.606),
    (2.099, 2.301, 2.503, 2.607, 2.728),
)
_SORBATE_ABV = (10.0, 11.0, 12.0, 13.0, 14.0)
_SORBATE_PH = (3.1, 3.2, 3.3, 3.4, 3.5)
_SORBATE_MG_L = (
    (165.0, 180.0, 210.0, 240.0, 270.0),
    (135.0, 150.0, 180.0, 210.0, 225.0),
    (96.0, 105.0, 120.0, 135.0, 150.0),
    (78.0, 90.0, 96.0, 105.0, 120.0),
    (60.0, 66.0, 72.0, 81.0, 90.0),
)


class Sulphite(msgspec.Struct, frozen=True):
    """A dose of metabisulphite. Sulphur dioxide in mg/l; `*_oiv`: by OIV's pK for this strength and
    warmth."""

    grams: float
    free_target_mg_l: float
    added_mg_l: float
    total_after_mg_l: float
    legal_max_total_mg_l: float
    over_limit: bool
    molecular_mg_l: float | None
    molecular_oiv_mg_l: float | None
    pk_oiv: float


class Sorbate(msgspec.Struct, frozen=True):
    """A dose of potassium sorbate; `held_back` where the limit is lower than the table's dose."""

    grams: float
    sorbic_acid_mg_l: float
    held_back: bool


class Acid(msgspec.Struct, frozen=True):
    """Grams of tartaric acid (up), or of either salt (down). Potassium bicarbonate lies between the two
    figures: the smaller once the cold has brought down all the tartar it can, the larger before."""

    tartaric_g: float
    carbonate_g: float
    bicarbonate_low_g: float
    bicarbonate_high_g: float


def molecular_share(ph: float, pk: float = practice.PK_CUSTOMARY.value) -> float:
    """The part of free sulphur dioxide that is molecular, the part that protects: 1 / (1 + 10^(pH - pK))."""
    return 1.0 / (1.0 + math.pow(10.0, ph - pk))


def sulphite_pk(abv: float, temp_c: float) -> float:
    """The first pK of sulphurous acid at this strength and temperature (thermodynamic).

    Source: OIV-MA-AS323-04C, table I, between its lines; it covers 0-15 % vol and 20-40 °C, and its edge is
    used beyond. Raises BadInput outside 0-25 % vol and 0-40 °C.
    """
    STRENGTH.check(abv, Argument.STRENGTH)
    WINE_TEMP.check(temp_c, Argument.WINE_TEMPERATURE)
    inside = min(abv, _OIV_ABV[-1]), max(temp_c, _OIV_TEMP[0])
    return _between(_OIV_ABV, _OIV_TEMP, _OIV_PK, *inside)


def legal_max_sulphite(colour: Colour, sugar_g_l: float = 0.0) -> float:
    """Total sulphur dioxide allowed in wine for sale, mg/l. Source: Reg. (EU) 2019/934, Annex I, Part B."""
    WINE_SUGAR.check(sugar_g_l, Argument.SUGAR)
    more = practice.SULPHITE_MORE_MG_L.value if sugar_g_l >= practice.NOT_DRY_G_L.value else 0.0
    return practice.SULPHITE_MAX_MG_L.value[colour] + more


def sulphite_dose(
    litres: float,
    ph: float | None = None,
    *,
    colour: Colour = "white",
    molecular_mg_l: float | None = None,
    free_target_mg_l: float | None = None,
    free_now_mg_l: float = 0.0,
    total_now_mg_l: float | None = None,
    salt: Salt = "potassium",
    abv: float = 12.0,
    temp_c: float = 20.0,
    sugar_g_l: float = 0.0,
) -> Sulphite:
    """Grams of metabisulphite that bring the free sulphur dioxide from `free_now_mg_l` to its target.

    The target is `free_target_mg_l`, or what `molecular_mg_l` (0.5 red, 0.8 otherwise) takes at this pH
    (2.7-4.0) by pK 1.81, the cautious side. All of the addition is counted as free at first; some of it binds
    within days. An unknown total is taken as what is free now. Raises BadInput outside the ranges.
    """
    LITRES.check(litres, Argument.WINE)
    FREE_NOW.check(free_now_mg_l, Argument.FREE_SULPHITE_NOW)
    pk = sulphite_pk(abv, temp_c)
    if ph is not None:
        PH.check(ph, Argument.WINE)
    if free_target_mg_l is not None:
        target = FREE_TARGET.check(free_target_mg_l, Argument.FREE_SULPHITE_WANTED)
    elif ph is None:
        raise Lacking(Wrong.NO_PH, ("ph", "free_target_mg_l"), ph_range=PH, free_range=FREE_TARGET)
    else:
        aim = practice.MOLECULAR_TARGET.value[colour] if molecular_mg_l is None else molecular_mg_l
        target = MOLECULAR.check(aim, Argument.MOLECULAR_SULPHITE_WANTED) / molecular_share(ph)
        if target > FREE_TARGET.hi:
            raise BadInput(
                Wrong.PH_TOO_HIGH, key="ph", value=ph, range=FREE_TARGET, molecular=aim, free=target
            )
    total_now = (
        free_now_mg_l if total_now_mg_l is None else TOTAL_NOW.check(total_now_mg_l, Argument.TOTAL_NOW)
    )
    if total_now < free_now_mg_l:
        raise BadInput(Wrong.TOTAL_BELOW_FREE, key="total_now_mg_l", value=total_now, free=free_now_mg_l)
    added = max(0.0, target - free_now_mg_l)
    after = total_now + added
    legal = legal_max_sulphite(colour, sugar_g_l)
    free = free_now_mg_l + added
    return Sulphite(
        grams=added * litres / 1000.0 / SO2_SHARE[salt],
        free_target_mg_l=target,
        added_mg_l=added,
        total_after_mg_l=after,
        legal_max_total_mg_l=legal,
        over_limit=after > legal,
        molecular_mg_l=None if ph is None else free * molecular_share(ph),
        molecular_oiv_mg_l=None if ph is None else free * molecular_share(ph, pk),
        pk_oiv=pk,
    )


def sorbate_dose(litres: float, abv: float, ph: float = 3.5) -> Sorbate:
    """Grams of potassium sorbate that keep a clear, finished wine's last yeasts from multiplying.

    The weaker the wine and the higher its pH, the more: table for 10-14 % vol and pH 3.1-3.5 from a
    winemaking handbook (Underhill, Making Better Wines), carried on below 10 % vol and above pH 3.5, never
    above 200 mg/l of sorbic acid (OIV code of oenological practices II.3.4.5). Raises BadInput outside the
    ranges.
    """
    LITRES.check(litres, Argument.WINE)
    STRENGTH.check(abv, Argument.STRENGTH)
    PH.check(ph, Argument.WINE)
    inside = min(abv, _SORBATE_ABV[-1]), max(ph, _SORBATE_PH[0])
    wanted = _between(_SORBATE_ABV, _SORBATE_PH, _SORBATE_MG_L, *inside)
    most = practice.SORBIC_MAX_MG_L.value / SORBIC_SHARE
    given = min(wanted, most)
    return Sorbate(litres * given / 1000.0, given * SORBIC_SHARE, wanted > most * 1.01)


def acid_dose(litres: float, ta_from: float, ta_to: float) -> Acid:
    """What moves the titratable acidity (g/l as tartaric acid, 1-25) from one figure to another.

    Stoichiometry: tartaric acid counts as itself; calcium carbonate takes it out one to one; potassium
    bicarbonate neutralises it two to one, and what tartar then falls out takes as much again (Ribéreau-Gayon
    et al., Handbook of Enology 2). Raises BadInput outside the ranges.
    """
    LITRES.check(litres, Argument.WINE)
    change = ACIDITY.check(ta_to, Argument.ACIDITY_WANTED) - ACIDITY.check(ta_from, Argument.ACIDITY_NOW)
    down = max(0.0, -change) * litres
    bicarbonate = down * BICARBONATE_PER_TARTARIC
    return Acid(max(0.0, change) * litres, down * CARBONATE_PER_TARTARIC, bicarbonate / 2.0, bicarbonate)


def _between(
    rows: tuple[float, ...],
    columns: tuple[float, ...],
    table: tuple[tuple[float, ...], ...],
    at_row: float,
    at_column: float,
) -> float:
    """The table's value between its lines, carried on straight beyond its edges."""
    i = max(k for k in range(len(rows) - 1) if k == 0 or rows[k] <= at_row)
    j = max(k for k in range(len(columns) - 1) if k == 0 or columns[k] <= at_column)
    down = (at_row - rows[i]) / (rows[i + 1] - rows[i])
    across = (at_column - columns[j]) / (columns[j + 1] - columns[j])
    upper = table[i][j] + across * (table[i][j + 1] - table[i][j])
    lower = table[i + 1][j] + across * (table[i + 1][j + 1] - table[i + 1][j])
    return upper + down * (lower - upper)
