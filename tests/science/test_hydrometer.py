"""Readings put right for temperature."""

import iapws
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.say.catalogue import refusal
from bot.science.formulas.balance import fermented, must, wine
from bot.science.formulas.hydrometer import correct_gravity, hydrometer_reading
from bot.science.limits import BadInput

CALIBRATIONS = st.sampled_from([20.0, 15.56])
TEMPS = st.floats(0, 40)


def _water(temp_c: float) -> float:
    return float(iapws.IAPWS95(T=temp_c + 273.15, P=0.101325).rho)


@pytest.mark.parametrize("temp_c", [5, 10, 15, 25, 30, 40])
@pytest.mark.parametrize(("named", "exact"), [(20.0, 20.0), (15.56, 15 + 5 / 9)])
def test_water_reads_as_physics_has_it(temp_c: float, named: float, exact: float) -> None:
    """IAPWS-95 water and ISO 1768 glass: what a household can try with a glass of water."""
    physics = _water(temp_c) * (1 + 25e-6 * (temp_c - exact)) / _water(exact)
    assert hydrometer_reading(must(1.0), temp_c, named) == pytest.approx(physics, abs=2e-6)


@given(st.floats(1.0, 1.15), TEMPS, CALIBRATIONS)
def test_a_reading_leads_back_to_its_must(sg: float, temp_c: float, at: float) -> None:
    liquid = must(sg)
    read = hydrometer_reading(liquid, temp_c, at)
    there = correct_gravity(read, temp_c, at)
    assert there == pytest.approx(hydrometer_reading(liquid, 20 if at == 20 else 15 + 5 / 9, at), abs=2e-9)


@given(st.floats(1.03, 1.15), st.floats(0.0, 0.9), TEMPS, CALIBRATIONS)
def test_a_reading_leads_back_to_its_wine(og: float, share: float, temp_c: float, at: float) -> None:
    fg = og - share * (og - 0.995)
    liquid = fermented(og, fg)
    read = hydrometer_reading(liquid, temp_c, at)
    back = correct_gravity(read, temp_c, at, og)
    assert back == pytest.approx(hydrometer_reading(liquid, 20 if at == 20 else 15 + 5 / 9, at), abs=5e-9)
    assert correct_gravity(read, temp_c, at, abv=liquid.abv) == pytest.approx(back, abs=1e-7)


@given(st.floats(0.98, 1.15), CALIBRATIONS, st.floats(0, 38), st.floats(0.1, 2))
def test_a_warmer_sample_needs_more_added(read: float, at: float, temp_c: float, more: float) -> None:
    """Water is densest at 4 °C, and glass swells all along: below about 6 °C the order may turn."""
    if temp_c > 6:
        assert correct_gravity(read, temp_c + more, at) > correct_gravity(read, temp_c, at)


@given(st.floats(0.98, 1.19), st.floats(1e-6, 1e-2), TEMPS, CALIBRATIONS)
def test_a_higher_reading_stays_higher(read: float, more: float, temp_c: float, at: float) -> None:
    assert correct_gravity(read + more, temp_c, at) > correct_gravity(read, temp_c, at)


@given(st.floats(0.97, 1.2))
def test_nothing_to_do_at_the_calibration_temperature(read: float) -> None:
    assert correct_gravity(read, 20.0) == pytest.approx(read, abs=2e-9)


def test_no_step_where_must_turns_into_wine() -> None:
    assert correct_gravity(1.0 - 1e-7, 20.0) == pytest.approx(correct_gravity(1.0 + 1e-7, 20.0), abs=3e-7)
    below, above = correct_gravity(0.9976, 30.0), correct_gravity(0.9978, 30.0)
    assert 0 < above - below < 4e-4


def test_alcohol_counts() -> None:
    """A dry wine at 30 °C is half a point further off than a must that reads the same would be."""
    read = hydrometer_reading(wine(0.994, 11.4), 30.0)
    assert correct_gravity(read, 30.0, og=1.080) == pytest.approx(0.994, abs=2e-5)
    assert correct_gravity(read, 30.0) < 0.9937


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"sg_read": 1080, "temp_c": 20}, "needs 0.970 to 1.200 SG, not 1080"),
        ({"sg_read": 1.08, "temp_c": 68}, "needs 0 to 40 °C, not 68: the density tables end there"),
        ({"sg_read": 1.08, "temp_c": 20, "calibration_c": 17}, "needs 20 or 15.56 °C"),
        ({"sg_read": 1.08, "temp_c": 20, "og": 0.9}, "needs 1.000 to 1.200 SG, not 0.9"),
        ({"sg_read": 1.08, "temp_c": 20, "abv": 40}, "needs 0 to 25 % vol, not 40"),
        ({"sg_read": float("nan"), "temp_c": 20}, "not nan"),
    ],
)
def test_what_it_refuses(given: dict[str, float], says: str) -> None:
    with pytest.raises(BadInput) as error:
        correct_gravity(**given)
    assert says in refusal(error.value)
