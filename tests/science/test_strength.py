"""Strength from gravities: against the balance solved by scipy, and what must always hold."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import fsolve

from bot.science.codes import ShortRule
from bot.science.formulas.balance import fermented, fermented_share, must
from bot.science.formulas.density import ETHANOL_20, WATER_20, ethanol_density, ethanol_fraction
from bot.science.formulas.gravity import brix_from_sg, extract_g_l, sg_from_extract
from bot.science.formulas.hydrometer import hydrometer_reading
from bot.science.formulas.strength import alcohol_by_volume, lowest_gravity, potential_alcohol
from tests.science.reference import Check, checks
from tests.science.refusals import refused

OGS = st.floats(1.02, 1.14)


def _finish(og: float, share: float) -> float:
    """A gravity between none and 95 % of the extract fermented."""
    return fermented_share(og, share).sg


@pytest.mark.parametrize("og", [1.04, 1.07, 1.08, 1.09, 1.1, 1.12])
@pytest.mark.parametrize("fg", [0.992, 0.996, 1.0, 1.01, 1.03])
def test_balance_as_scipy_solves_it(og: float, fg: float) -> None:
    """Both unknowns at once, in the forms printed by Nielsen et al. (Balling) and OIV-MA-AS2-03B (Tabarié)."""

    def both(unknown: list[float]) -> list[float]:
        alcohol_g_l, extract_g_l_ = unknown
        # Balling by mass of beer or wine: OE = 100 (2.0665 A + E) / (100 + 1.0665 A), A and E in % by mass.
        a, e = (100 * x / (fg * WATER_20) for x in (alcohol_g_l, extract_g_l_))
        balling = 100 * (2.0665 * a + e) / (100 + 1.0665 * a) - brix_from_sg(og)
        abv = alcohol_g_l / ETHANOL_20 * 100
        spirit = ethanol_density(ethanol_fraction(max(0.0, abv)), 20.0) / ethanol_density(0.0, 20.0)
        tabarie = fg - spirit + 1.0 - sg_from_extract(extract_g_l_)
        return [balling, 1000 * tabarie]

    alcohol, extract = fsolve(both, [60.0, 40.0], xtol=1e-12)
    ours = fermented(og, fg)
    assert ours.abv == pytest.approx(100 * alcohol / ETHANOL_20, abs=1e-6)
    assert ours.extract == pytest.approx(extract, abs=1e-5)


@given(OGS, st.floats(0.01, 0.95))
def test_mass_is_conserved(og: float, share: float) -> None:
    """Must = wine + carbon dioxide + yeast, and its extract = what is left + 2.0665 times the alcohol."""
    wine = fermented(og, _finish(og, share))
    alcohol = wine.abv / 100 * ETHANOL_20
    must_mass = wine.sg * WATER_20 + (0.9565 + 0.11) * alcohol
    assert wine.extract + 2.0665 * alcohol == pytest.approx(must_mass * must(og).w, abs=1e-6)


@given(OGS, st.floats(0.01, 0.95))
def test_a_share_fermented_is_that_share(og: float, share: float) -> None:
    strength = alcohol_by_volume(og, _finish(og, share))
    assert strength.real_attenuation == pytest.approx(share, abs=1e-6)


@given(OGS, st.floats(0.05, 0.9), st.floats(1e-4, 5e-3))
def test_more_fall_is_more_alcohol(og: float, share: float, step: float) -> None:
    fg = _finish(og, share)
    assert alcohol_by_volume(og + step, fg).abv > alcohol_by_volume(og, fg).abv
    assert alcohol_by_volume(og, fg - step / 10).abv > alcohol_by_volume(og, fg).abv


@given(OGS, st.floats(0.01, 0.95), st.floats(0, 100))
def test_sugar_on_the_way_is_as_if_it_had_been_there(og: float, share: float, sugar: float) -> None:
    """Per litre of must: the same grams dissolved at the start give the same strength."""
    assume(og + sugar * 0.0004 < 1.19)
    mass = og * WATER_20
    richer = (must(og).w * mass + sugar) / (mass + sugar)
    fg = _finish(og, share)
    fed = alcohol_by_volume(og, fg, sugar_added_g_l=sugar)
    assert brix_from_sg(fed.og) / 100 == pytest.approx(richer, abs=1e-9)
    assert fed.abv == pytest.approx(alcohol_by_volume(fed.og, fg).abv, abs=1e-9)
    assert fed.abv >= alcohol_by_volume(og, fg).abv - 1e-9


@given(OGS, st.floats(0.1, 0.92), st.floats(5, 38), st.floats(5, 38), st.sampled_from([20.0, 15.56]))
def test_temperatures_make_no_difference(
    og: float, share: float, og_temp: float, fg_temp: float, at: float
) -> None:
    """Whatever the samples' temperature and the instrument, it is the same wine."""
    fg = _finish(og, share)
    strength = alcohol_by_volume(
        hydrometer_reading(must(og), og_temp, at),
        hydrometer_reading(fermented(og, fg), fg_temp, at),
        og_temp_c=og_temp,
        fg_temp_c=fg_temp,
        calibration_c=at,
    )
    assert strength.abv == pytest.approx(alcohol_by_volume(og, fg).abv, abs=1e-4)


@given(OGS, st.floats(0.0, 0.95))
def test_the_band_holds_the_figure(og: float, share: float) -> None:
    strength = alcohol_by_volume(og, _finish(og, share) if share else og)
    assert 0 <= strength.low <= strength.abv <= strength.high
    assert 0 <= strength.residual_sugar_low <= strength.residual_sugar_g_l <= strength.residual_sugar_high


def test_the_band_is_as_wide_as_two_readings_and_the_yield() -> None:
    """0.139 and 0.135 % vol a point, and 0.3 for the yield: 0.35 in all (1.080 to 0.994)."""
    strength = alcohol_by_volume(1.080, 0.994)
    assert strength.high - strength.abv == pytest.approx(0.355, abs=0.01)
    fine = alcohol_by_volume(1.080, 0.994, resolution_sg=0.0)
    assert fine.high - fine.abv == pytest.approx(0.30, abs=0.01)


@pytest.mark.parametrize(
    ("rule", "value", "tolerance"),
    [
        (ShortRule.ONE_FACTOR, 11.29, 0.006),  # teaching formula sheet of a brewing course
        (ShortRule.LINEAR, 11.57, 0.006),  # linear form of Balling's relation
        (ShortRule.LAW, 11.0, 0.08),  # factor of OIV OENO 21/2004, volume taken constant
    ],
)
def test_shorter_rules_are_given_as_they_are(rule: ShortRule, value: float, tolerance: float) -> None:
    assert dict(alcohol_by_volume(1.080, 0.994).rules)[rule] == pytest.approx(value, abs=tolerance)


@pytest.mark.parametrize("check", checks("must_sugar"), ids=lambda c: c.given["density_kg_l"])
def test_potential_stays_near_the_legal_table(check: Check) -> None:
    """French table, 16.83 g/l a per cent: its strength is at most 0.9 under ours, whose musts are riper."""
    figure, low, high = potential_alcohol(check.number("density_kg_l") * 1000 / WATER_20)
    legal = check.value / 16.83
    assert low < figure < high
    assert figure - 0.9 < legal < high


@given(OGS, st.floats(1e-4, 1e-2))
def test_potential_rises_with_the_gravity(og: float, more: float) -> None:
    assert potential_alcohol(og + more)[0] > potential_alcohol(og)[0]


def test_potential_at_a_known_end_is_the_strength_there() -> None:
    strength = alcohol_by_volume(1.085, 0.996)
    assert potential_alcohol(1.085, 0.996) == (strength.abv, strength.low, strength.high)


@given(st.floats(1.02, 1.09))
def test_nothing_ends_below_alcohol_and_water(og: float) -> None:
    lowest = lowest_gravity(og)
    assert fermented(og, lowest).extract == pytest.approx(0.0, abs=1e-5)
    with refused("can reach"):
        alcohol_by_volume(og, lowest - 0.006)


def test_nothing_fermented_is_no_alcohol() -> None:
    strength = alcohol_by_volume(1.080, 1.080)
    assert (strength.abv, strength.attenuation, strength.real_attenuation) == (0.0, 0.0, 0.0)
    assert strength.real_extract_g_l == pytest.approx(extract_g_l(1.080))


def test_a_rise_within_the_scale_is_no_alcohol_and_a_real_one_is_refused() -> None:
    assert alcohol_by_volume(1.080, 1.081).abv == 0.0
    with refused("no higher than og"):
        alcohol_by_volume(1.080, 1.084)
