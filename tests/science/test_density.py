"""Densities against general-purpose libraries, other published fits and open data."""

import iapws
import pytest
from CoolProp import CoolProp
from hypothesis import given
from hypothesis import strategies as st

from bot.science.formulas.density import (
    WATER_20,
    ethanol_density,
    ethanol_fraction,
    strength_of,
    sucrose_density,
    sucrose_fraction,
    water_density,
)
from bot.science.formulas.gravity import (
    SG,
    baume_from_sg,
    brix_from_sg,
    extract_g_l,
    oechsle_from_sg,
    sg_from_baume,
    sg_from_brix,
    sg_from_density,
    sg_from_extract,
    sg_from_oechsle,
    sg_from_plato,
)
from tests.science.refusals import refused

AIR = 1.2


@pytest.mark.parametrize("temp_c", [0.01, 5, 10, 15, 20, 30, 40, 60, 80, 99])
def test_water_is_iapws(temp_c: float) -> None:
    tolerance = 0.01 if temp_c <= 40 else 0.03
    kelvin = temp_c + 273.15
    assert water_density(temp_c) == pytest.approx(
        CoolProp.PropsSI("D", "T", kelvin, "P", 101325, "Water"), abs=tolerance
    )
    assert water_density(temp_c) == pytest.approx(iapws.IAPWS95(T=kelvin, P=0.101325).rho, abs=tolerance)


@pytest.mark.parametrize("mass", [0.05, 0.08, 0.10, 0.12, 0.15])
def test_ethanol_water_lies_where_coolprop_has_it(mass: float) -> None:
    """CoolProp's incompressible mixture is off by up to 0.3 kg/m3 itself: a bound, not an oracle."""
    theirs = CoolProp.PropsSI("D", "T", 293.15, "P", 101325, f"INCOMP::MEA-{100 * mass}%")
    assert ethanol_density(mass, 20.0) == pytest.approx(theirs, abs=0.35)


@pytest.mark.parametrize("brix", range(0, 31))
def test_brix_agrees_with_the_fits_of_the_sugar_tables(brix: int) -> None:
    """NBS Circular C440 and ASBC tables, as cubics of the apparent gravity in air."""
    density = sucrose_density(brix / 100, 20.0)
    s = (density - AIR) / (WATER_20 - AIR)
    nbs = 182.46007 * s**3 - 775.68212 * s**2 + 1262.7794 * s - 669.56218
    asbc = 135.997 * s**3 - 630.272 * s**2 + 1111.14 * s - 616.868
    ours = brix_from_sg(density / WATER_20)
    assert ours == pytest.approx(nbs, abs=0.02)
    assert ours == pytest.approx(asbc, abs=0.02)


@given(st.floats(-0.1, 0.78))
def test_sugar_turns_round(w: float) -> None:
    assert sucrose_fraction(sucrose_density(w, 20.0)) == pytest.approx(w, abs=1e-12)


@given(st.floats(0, 100))
def test_strength_turns_round(abv: float) -> None:
    assert strength_of(ethanol_fraction(abv)) == pytest.approx(abv, abs=1e-9)


@given(st.floats(0.971, 1.399))
def test_the_scales_turn_round(sg: float) -> None:
    assert sg_from_brix(brix_from_sg(sg)) == pytest.approx(sg, abs=1e-12)
    assert sg_from_plato(brix_from_sg(sg)) == pytest.approx(sg, abs=1e-12)
    assert sg_from_oechsle(oechsle_from_sg(sg)) == pytest.approx(sg, abs=1e-12)
    assert sg_from_baume(baume_from_sg(sg)) == pytest.approx(sg, abs=1e-12)
    assert sg_from_density(sg * WATER_20) == pytest.approx(sg, abs=1e-12)
    assert sg_from_extract(extract_g_l(sg)) == pytest.approx(sg, abs=1e-11)


@given(st.floats(0, 0.3), st.floats(0.001, 0.1), st.floats(0, 40))
def test_sugar_makes_heavier(w: float, more: float, temp_c: float) -> None:
    assert sucrose_density(w + more, temp_c) > sucrose_density(w, temp_c)


@given(st.floats(0, 0.2), st.floats(0.001, 0.1), st.floats(0, 40))
def test_alcohol_makes_lighter(p: float, more: float, temp_c: float) -> None:
    assert ethanol_density(p + more, temp_c) < ethanol_density(p, temp_c)


@given(st.floats(0, 0.3), st.floats(4, 39), st.floats(0.1, 1))
def test_warmth_makes_lighter(w: float, temp_c: float, more: float) -> None:
    assert sucrose_density(w, temp_c + more) < sucrose_density(w, temp_c)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -1e9, 1e9])
def test_out_of_range_is_refused(value: float) -> None:
    for formula in (
        lambda: water_density(value),
        lambda: sucrose_density(value, 20.0),
        lambda: sucrose_density(0.1, value),
        lambda: ethanol_density(value, 20.0),
        lambda: ethanol_density(0.1, value),
        lambda: ethanol_fraction(value),
        lambda: sucrose_fraction(value),
        lambda: brix_from_sg(value),
        lambda: sg_from_extract(value),
    ):
        with refused("needs"):
            formula()


def test_sg_starts_and_ends_where_it_says() -> None:
    assert SG.check(SG.lo, "sg") == 0.97
    with refused(r"sg needs 0\.970 to 1\.400 SG, not 1080"):
        SG.check(1080, "sg")
