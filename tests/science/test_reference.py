"""Every formula against its published values."""

from collections.abc import Callable

import pytest

from bot.science import practice
from bot.science.formulas.balance import Wine, fermented, must
from bot.science.formulas.density import (
    ethanol_density,
    ethanol_fraction,
    sucrose_density,
    water_density,
)
from bot.science.formulas.dilution import water_for_gravity, water_for_strength
from bot.science.formulas.doses import acid_dose, molecular_share, sorbate_dose, sulphite_dose, sulphite_pk
from bot.science.formulas.gravity import (
    baume_from_sg,
    brix_from_sg,
    extract_g_l,
    sg_from_brix,
    sg_from_density,
)
from bot.science.formulas.hydrometer import correct_gravity, hydrometer_reading
from bot.science.formulas.mixing import heat_capacity, mix_water
from bot.science.formulas.refraction import brix_shown, gravity_refracted
from bot.science.formulas.strength import alcohol_by_volume
from bot.science.formulas.volumes import bottling, carbon_dioxide, drink
from tests.science.reference import FOLDER, Check, checks


def _ethanol_gravity(c: Check) -> float:
    t = c.number("temp_c")
    return ethanol_density(c.number("mass_percent") / 100, t) / ethanol_density(0.0, t)


def _correction(c: Check) -> float:
    """Points to add, for the liquid named: the reading is what the instrument shows in it."""
    liquid, t, at = c.given["liquid"], c.number("temp_c"), c.number("calibration_c")
    abv = 12.0 if liquid == "12 % vol" else 0.0
    if liquid == "water":
        inside = Wine(0.0, 0.0)
    elif abv:
        inside = Wine(ethanol_fraction(abv), 0.0)
    else:
        inside = must(float(liquid))
    reading = hydrometer_reading(inside, t, at)
    return 1000 * (correct_gravity(reading, t, at, abv=abv) - reading)


def _mix_litres(c: Check) -> float:
    n = c.number
    mix = mix_water(
        n("have_l"), n("have_c"), n("to_l"), n("target_c"), n("hot_c"), n("cold_c"), sg_from_brix(n("brix"))
    )
    assert mix.feasible
    return mix.hot_l if c.given["which"] == "hot" else mix.cold_l


def _mix_water(c: Check) -> float:
    """The temperature at which the mix asks for just this share of hot water."""
    n = c.number
    hot, cold = n("hot_l") * water_density(n("hot_c")), n("cold_l") * water_density(n("cold_c"))
    low, high = n("cold_c"), n("hot_c")
    for _ in range(60):
        middle = (low + high) / 2
        mix = mix_water(0.0, 20.0, 20.0, middle, n("hot_c"), n("cold_c"))
        share = (
            mix.hot_l
            * water_density(n("hot_c"))
            / (mix.hot_l * water_density(n("hot_c")) + mix.cold_l * water_density(n("cold_c")))
        )
        low, high = (middle, high) if share < hot / (hot + cold) else (low, middle)
    return low


FORMULAS: dict[str, Callable[[Check], float]] = {
    "water_density": lambda c: water_density(c.number("temp_c")),
    "ethanol_density": lambda c: ethanol_density(ethanol_fraction(c.number("abv")), c.number("temp_c")),
    "ethanol_gravity": _ethanol_gravity,
    "sucrose_density": lambda c: sucrose_density(c.number("brix") / 100, c.number("temp_c")),
    "sucrose_gravity": lambda c: sg_from_brix(c.number("brix")),
    "brix": lambda c: brix_from_sg(c.number("sg")),
    "baume": lambda c: baume_from_sg(sg_from_brix(c.number("brix"))),
    "hydrometer_correction": _correction,
    "abv": lambda c: alcohol_by_volume(c.number("og"), c.number("fg")).abv,
    "real_extract": lambda c: fermented(c.number("og"), c.number("fg")).extract,
    "must_sugar": lambda c: (
        extract_g_l(sg_from_density(1000 * c.number("density_kg_l"))) - practice.SUGAR_FREE_EXTRACT.value
    ),
    "sulphite_pk": lambda c: sulphite_pk(c.number("abv"), c.number("temp_c")),
    "molecular_percent": lambda c: 100 * molecular_share(c.number("ph"), c.number("pk")),
    "sulphite_grams": lambda c: (
        sulphite_dose(
            c.number("litres"),
            free_target_mg_l=c.number("free_mg_l"),
            salt="sodium" if c.given["salt"] == "sodium" else "potassium",
        ).grams
    ),
    "sorbate_grams": lambda c: sorbate_dose(c.number("litres"), c.number("abv"), c.number("ph")).grams,
    "acid_grams": lambda c: getattr(
        acid_dose(c.number("litres"), c.number("ta_from"), c.number("ta_to")), c.given["which"]
    ),
    "mix_litres": _mix_litres,
    "mix_water": _mix_water,
    "refraction": lambda c: brix_shown(Wine(c.number("mass_percent") / 100, 0.0)),
    "refracted_gravity": lambda c: (
        gravity_refracted(c.number("brix"), sg_from_brix(c.number("started_brix"))).sg
    ),
    "dilution": lambda c: (water_for_gravity if c.given["which"] == "sg" else water_for_strength)(
        c.number("litres"), c.number("from"), c.number("to")
    ),
    "heat_capacity": lambda c: heat_capacity(c.number("brix") / 100, 20.0),
    "drinks": lambda c: getattr(drink(c.number("abv"), c.number("ml")), c.given["which"]),
    "gas_litres": lambda c: getattr(
        carbon_dioxide(c.number("sugar_g_l"), c.number("litres")),
        "litres" if c.given["which"] == "figure" else c.given["which"],
    ),
    "bottles": lambda c: getattr(
        bottling(c.number("litres"), c.number("loss_l"), c.number("size_cl")), c.given["which"]
    ),
}

ALL = [check for formula in FORMULAS for check in checks(formula)]


@pytest.mark.parametrize(
    "check", ALL, ids=lambda c: f"{c.formula}-{'-'.join(c.given.values())}".replace(" ", "")
)
def test_published_value(check: Check) -> None:
    got = FORMULAS[check.formula](check)
    assert abs(got - check.value) <= check.tolerance + 1e-12, (
        f"{check.formula} of {check.given} gives {got:.6g}, where “{check.source}” has "
        f"{check.value} ± {check.tolerance}"
    )


def test_every_table_has_its_formula() -> None:
    assert {path.stem for path in FOLDER.glob("*.csv")} == set(FORMULAS)


def test_every_value_names_its_source_and_its_tolerance() -> None:
    assert all(check.source and check.tolerance >= 0 for check in ALL)
