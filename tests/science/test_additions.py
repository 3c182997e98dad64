"""Doses, sugar and water: against units worked out by pint, and what must always hold."""

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from bot.say.catalogue import refusal
from bot.science import practice
from bot.science.formulas.balance import fermented, must, wine
from bot.science.formulas.density import WATER_20, sucrose_density, water_density
from bot.science.formulas.doses import (
    acid_dose,
    legal_max_sulphite,
    molecular_share,
    sorbate_dose,
    sulphite_dose,
    sulphite_pk,
)
from bot.science.formulas.gravity import sg_from_brix
from bot.science.formulas.mixing import heat_capacity, mix_water
from bot.science.formulas.strength import lowest_gravity, potential_alcohol
from bot.science.formulas.sugaring import sugar_for_gravity, sugar_for_strength, sweetening
from bot.science.limits import BadInput
from tests.science.refusals import refused

UNITS = pint.UnitRegistry()
LITRES = st.floats(0.5, 200)
COLOURS = st.sampled_from(list(practice.MOLECULAR_TARGET.value))


@given(LITRES, st.floats(2.8, 3.9), COLOURS, st.floats(0, 60))
def test_sulphite_weighs_what_the_molar_masses_say(
    litres: float, ph: float, colour: str, free: float
) -> None:
    """Potassium metabisulphite 222.31 g/mol holds two of sulphur dioxide, 64.064."""
    molecular = practice.MOLECULAR_TARGET.value[colour]
    target = molecular * (1 + 10 ** (ph - practice.PK_CUSTOMARY.value))
    wanted = max(0.0, target - free) * UNITS.mg / UNITS.litre * litres * UNITS.litre
    salt = (wanted / (64.064 * UNITS.g / UNITS.mol) / 2 * (222.31 * UNITS.g / UNITS.mol)).to("g").magnitude
    dose = sulphite_dose(litres, ph, colour=colour, free_now_mg_l=free)
    assert dose.grams == pytest.approx(salt, rel=1e-9, abs=1e-12)
    assert dose.total_after_mg_l >= free


@given(st.floats(2.8, 3.9), st.floats(0.001, 0.1))
def test_a_higher_ph_needs_more_sulphite(ph: float, more: float) -> None:
    assert sulphite_dose(20, ph + more).grams > sulphite_dose(20, ph).grams


@given(st.floats(0, 25), st.floats(0, 40))
def test_the_customary_pk_is_the_cautious_one_in_wine(abv: float, temp_c: float) -> None:
    """From 1 % vol on OIV's pK is higher: more of the sulphite is molecular than the dose counts on."""
    if abv >= 1:
        assert sulphite_pk(abv, temp_c) > practice.PK_CUSTOMARY.value
        dose = sulphite_dose(20, 3.4, abv=abv, temp_c=temp_c)
        assert dose.molecular_oiv_mg_l is not None
        assert dose.molecular_mg_l is not None
        assert dose.molecular_oiv_mg_l > dose.molecular_mg_l


def test_what_the_law_allows() -> None:
    """Reg. (EU) 2019/934, Annex I, Part B, A.1-2."""
    allowed = {
        (c, s): legal_max_sulphite(c, s)
        for c in practice.MOLECULAR_TARGET.value
        for s in (0.0, 4.9, 5.0, 40.0)
    }
    assert {allowed["red", s] for s in (0.0, 4.9)} == {150.0}
    assert {allowed["red", s] for s in (5.0, 40.0)} == {200.0}
    assert {allowed[c, s] for c in ("white", "rosé") for s in (0.0, 4.9)} == {200.0}
    assert {allowed[c, s] for c in ("white", "rosé") for s in (5.0, 40.0)} == {250.0}


@pytest.mark.parametrize(("total", "over"), [(110.0, False), (117.0, False), (119.0, True), (200.0, True)])
def test_over_the_limit_is_said(total: float, over: bool) -> None:
    """To 32 mg/l free, nothing free yet: a red may hold 150 in all."""
    dose = sulphite_dose(23, 3.4, colour="red", molecular_mg_l=0.8, total_now_mg_l=total)
    assert dose.over_limit is over
    assert dose.total_after_mg_l == pytest.approx(total + 31.92, abs=0.01)


def test_enough_already_needs_none() -> None:
    assert sulphite_dose(23, 3.2, free_now_mg_l=60).grams == 0.0


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"ph": 4.5}, "above 4 no sane amount of sulphite or sorbate protects it"),
        ({"ph": 3.99, "molecular_mg_l": 1.2}, "bring the pH down first"),
        ({"ph": None}, "needs ph"),
        ({"ph": 3.4, "free_target_mg_l": 900}, "needs 0 to 150 mg/l, not 900"),
        ({"ph": 3.4, "free_now_mg_l": 20, "total_now_mg_l": 10}, "at least the free 20 mg/l, not 10"),
        ({"ph": 3.4, "abv": -1}, "needs 0 to 25 % vol, not -1"),
    ],
)
def test_sulphite_refuses_what_is_useless_or_dangerous(given: dict[str, float], says: str) -> None:
    with pytest.raises(BadInput) as error:
        sulphite_dose(23, **given)
    assert says in refusal(error.value)


@given(LITRES, st.floats(0, 25), st.floats(2.7, 4.0))
def test_sorbate_never_passes_the_limit(litres: float, abv: float, ph: float) -> None:
    """OIV II.3.4.5: 200 mg/l as sorbic acid, 112.13 of the 150.22 g/mol of potassium sorbate."""
    dose = sorbate_dose(litres, abv, ph)
    assert 0 < dose.sorbic_acid_mg_l <= 200.0000001
    assert dose.grams * 112.13 / 150.22 == pytest.approx(litres * dose.sorbic_acid_mg_l / 1000, rel=1e-9)


@given(st.floats(0, 24), st.floats(2.7, 3.9), st.floats(0.01, 1), st.floats(0.01, 0.1))
def test_weaker_or_less_sour_wine_needs_more_sorbate(abv: float, ph: float, more: float, up: float) -> None:
    assert sorbate_dose(20, abv + more, ph).grams <= sorbate_dose(20, abv, ph).grams + 1e-12
    assert sorbate_dose(20, abv, ph + up).grams >= sorbate_dose(20, abv, ph).grams - 1e-12


def test_sorbate_says_when_the_limit_holds_it_back() -> None:
    assert sorbate_dose(20, 8.0).held_back
    assert not sorbate_dose(20, 12.0).held_back


@given(LITRES, st.floats(1, 25), st.floats(1, 25))
def test_acid_goes_one_way(litres: float, ta_from: float, ta_to: float) -> None:
    dose = acid_dose(litres, ta_from, ta_to)
    assert (dose.tartaric_g > 0) == (ta_to > ta_from)
    assert (dose.carbonate_g > 0) == (ta_to < ta_from)
    assert dose.bicarbonate_high_g == pytest.approx(2 * dose.bicarbonate_low_g)


@given(LITRES, st.floats(1.0, 1.1), st.floats(0.0, 0.09))
def test_sugar_for_gravity_conserves_mass(litres: float, sg_from: float, rise: float) -> None:
    dose = sugar_for_gravity(litres, sg_from, sg_from + rise)
    mass = litres * sg_from * WATER_20 + dose.grams
    assert dose.sg_after is not None
    assert dose.litres_after * dose.sg_after * WATER_20 == pytest.approx(mass, rel=1e-9)
    assert dose.sg_after == pytest.approx(sg_from + rise, abs=2e-9)
    sugar = litres * must(sg_from).w * sg_from * WATER_20 + dose.grams
    assert must(dose.sg_after).w == pytest.approx(sugar / mass, abs=1e-8)


@given(LITRES, st.floats(1.0, 1.12), st.floats(0.001, 0.03), st.floats(0.001, 0.03))
def test_sugar_in_two_steps_is_sugar_in_one(litres: float, sg: float, first: float, second: float) -> None:
    one = sugar_for_gravity(litres, sg, sg + first + second)
    a = sugar_for_gravity(litres, sg, sg + first)
    b = sugar_for_gravity(a.litres_after, sg + first, sg + first + second)
    assert a.grams + b.grams == pytest.approx(one.grams, rel=1e-6)
    assert b.litres_after == pytest.approx(one.litres_after, rel=1e-9)


def test_sugar_for_strength_lies_between_the_yields_in_use() -> None:
    """15.99 g/l of sucrose (OIV's 16.83 of must sugar) to 17 g/l (cellar practice), a per cent."""
    assert 15.99 < sugar_for_strength(1.0, 1.0).grams < 17.0


@pytest.mark.parametrize("rise", [0.5, 1.0, 2.0, 4.0])
@pytest.mark.parametrize("sg", [1.0, 1.060, 1.080, 1.110])
def test_sugar_for_strength_does_what_it_says(rise: float, sg: float) -> None:
    """The must so enriched ferments to all its old leftover and none of the new sugar: so strong, by the balance."""
    dose = sugar_for_strength(23, rise, sg)
    assert dose.sg_after is not None
    leftover = 23 * 0.12 * must(sg).extract
    low, high = lowest_gravity(dose.sg_after), dose.sg_after
    for _ in range(60):
        fg = (low + high) / 2
        made = fermented(dose.sg_after, fg)
        mass = 23 * sg * WATER_20 + dose.grams - (0.9565 + 0.11) * dose.grams / 2.0665
        litres = (mass - 1.0665 * 23 * 0.88 * must(sg).extract / 2.0665) / (fg * WATER_20)
        low, high = (fg, high) if made.extract * litres < leftover else (low, fg)
    assert made.abv - potential_alcohol(sg)[0] == pytest.approx(rise, abs=1e-4)


def test_sugar_in_a_rich_must_has_its_thinning_to_make_good() -> None:
    assert sugar_for_strength(23, 1.0, 1.080).grams > 1.08 * sugar_for_strength(23, 1.0).grams


@given(LITRES, st.floats(0.988, 1.02), st.floats(0, 150), st.floats(9, 15))
def test_sweetening_conserves_mass_sugar_and_alcohol(
    litres: float, sg: float, sugar: float, abv: float
) -> None:
    dose = sweetening(litres, sg, sugar, abv)
    assert dose.sg_after is not None
    assert dose.grams == pytest.approx(sugar * dose.litres_after, rel=1e-9, abs=1e-9)
    mass = litres * sg * WATER_20 + dose.grams
    assert dose.litres_after * dose.sg_after * WATER_20 == pytest.approx(mass, rel=1e-9)
    assert dose.abv_after * dose.litres_after == pytest.approx(abv * litres, rel=1e-9)
    before, after = wine(sg, abv), wine(dose.sg_after, dose.abv_after)
    extract = before.extract * litres + dose.grams
    assert after.extract * dose.litres_after == pytest.approx(extract, rel=1e-6, abs=1e-6)


def test_sweetening_refuses_an_impossible_wine() -> None:
    with refused("12 % vol of alcohol alone floats that high"):
        sweetening(23, 0.975, 30, 12)


@example(1.25512823048106e-15, 22.953921992521263, 40.0, 28.338349344060635, 100.0, 30.0, 0.0)
@given(
    st.floats(0, 10),
    st.floats(5, 30),
    st.floats(11, 40),
    st.floats(10, 40),
    st.floats(0, 100),
    st.floats(0, 30),
    st.floats(0, 70),
)
def test_mix_balances_mass_and_heat(
    have_l: float, have_c: float, to_l: float, target: float, hot: float, cold: float, brix: float
) -> None:
    if cold > hot:
        hot, cold = cold, hot
    mix = mix_water(have_l, have_c, to_l, target, hot, cold, sg_from_brix(brix))
    w = brix / 100
    have = have_l * sucrose_density(w, have_c) / 1000
    hot_kg, cold_kg = (
        mix.hot_l * water_density(hot) / 1000,
        mix.cold_l * water_density(cold) / 1000,
    )
    assert mix.hot_l >= 0
    assert mix.cold_l >= 0
    whole = have + hot_kg + cold_kg
    assert whole == pytest.approx(to_l * sucrose_density(have * w / whole, mix.reached_c) / 1000, rel=1e-7)

    def heat(of: float, kg: float, temp_c: float) -> float:
        """kJ above the temperature reached, with the heat capacity half way: exact where it is linear."""
        return kg * heat_capacity(of, (temp_c + mix.reached_c) / 2) * (temp_c - mix.reached_c) / 1000

    left_over = heat(w, have, have_c) + heat(0.0, hot_kg, hot) + heat(0.0, cold_kg, cold)
    assert left_over == pytest.approx(0.0, abs=1e-3)
    assert mix.feasible == (abs(mix.reached_c - target) < 0.005)
    if not mix.feasible and hot - cold > 0.01:
        only = mix.cold_l if mix.reached_c < target else mix.hot_l
        assert only == pytest.approx(0.0, abs=1e-5)


def test_must_holds_less_heat_than_water() -> None:
    """Counting a concentrate as water asks for more hot water, by 0.06 to 0.24 l (computed apart)."""
    as_water = mix_water(5.5, 18, 23, 22, 90, 12)
    as_must = mix_water(5.5, 18, 23, 22, 90, 12, sg_from_brix(66))
    assert 0.0 < as_water.hot_l - as_must.hot_l < 0.3


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ((25, 18, 23, 20, 90, 12), "to_l needs at least the 25 litres already there"),
        ((5, 18, 23, 20, 12, 90), "hot_c needs to be at least cold_c"),
        ((5, 18, 23, 90, 95, 12), "needs 1 to 60 °C, not 90"),
        ((5, 18, 23, 20, 120, 12), "the hot water needs 0 to 100 °C, not 120"),
    ],
)
def test_mix_refuses(given: tuple[float, ...], says: str) -> None:
    with pytest.raises(BadInput) as error:
        mix_water(*given)
    assert says in refusal(error.value)


def test_full_already_is_left_alone() -> None:
    mix = mix_water(23, 18, 23, 18, 60, 12)
    assert (mix.hot_l, mix.cold_l, mix.feasible) == (0.0, 0.0, True)
    assert not mix_water(23, 18, 23, 22, 60, 12).feasible


def test_molecular_share_is_a_half_at_its_pk() -> None:
    assert molecular_share(practice.PK_CUSTOMARY.value) == 0.5
