"""The catalogue: the contract's keys and results, one-line refusals, words that fit a phone."""

import json
import math
import re
import subprocess
import sys
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bot.edges.reckon import run
from bot.say.catalogue import (
    accepts,
    answer,
    gravity_text,
    halves,
    in_words,
    line,
    listing,
    range_text,
    refusal,
    scale_grams,
    to_plain,
    why,
    words,
)
from bot.science.codes import Point
from bot.science.limits import BadInput
from bot.science.sums.dose_sums import near_half
from bot.science.sums.reckon import CATALOGUE, Reckoned, reckon
from tests.science.refusals import refused

EXAMPLES: dict[str, dict[str, float | str]] = {
    "correct": {"sg": 1.079, "temp_c": 27},
    "convert": {"sg": 1.085},
    "abv": {"og": 1.080, "fg": 0.994},
    "mix": {"have_l": 5.5, "have_c": 18, "to_l": 23, "target_c": 22, "hot_c": 90, "cold_c": 12},
    "sulphite": {"litres": 23, "ph": 3.4},
    "sorbate": {"litres": 23, "abv": 12, "ph": 3.4},
    "sugar": {"litres": 23, "sg_from": 1.070, "sg_to": 1.080},
    "sweeten": {"litres": 23, "sg_from": 0.994, "sugar_g_l": 30, "abv": 12},
    "acid": {"litres": 23, "ta_from": 5, "ta_to": 6},
    "blend": {"litres_a": 10, "abv_a": 14, "litres_b": 5, "abv_b": 10},
    "bottles": {"litres": 23, "loss_l": 1},
    "drinks": {"abv": 12, "ml": 125},
    "cost": {"kit": 60, "extras": 12.5, "bottles": 29},
    "gas": {"sugar_g_l": 200, "litres": 23},
    "refract": {"brix": 8, "brix_from": 22},
    "dilute": {"litres": 10, "abv": 14, "abv_to": 12},
}
RESULTS = {
    "correct": {"sg"},
    "convert": {
        "sg",
        "plato",
        "brix",
        "oechsle",
        "baume",
        "density_kg_m3",
        "sugar_g_l",
        "potential_abv",
    },
    "abv": {"abv", "residual_sugar_g_l", "attenuation"},
    "mix": {"hot_l", "cold_l", "reached_c", "feasible"},
    "sulphite": {
        "grams",
        "tablets_0_44_g",
        "free_target_mg_l",
        "total_after_mg_l",
        "legal_max_total_mg_l",
        "over_limit",
    },
    "sorbate": {"grams", "sorbic_acid_mg_l", "legal_max_mg_l"},
    "sugar": {"grams", "litres_after", "sg_after"},
    "sweeten": {"grams", "litres_after", "sg_after", "abv_after"},
    "acid": {"grams"},
    "blend": {"abv"},
    "bottles": {"bottles", "corks", "left_ml"},
    "drinks": {"grams_alcohol", "uk_units", "kcal"},
    "cost": {"per_bottle"},
    "gas": {"co2_l", "caution"},
    "refract": {"sg", "low", "high"},
    "dilute": {"water_l", "litres_after"},
}
KEYS = {
    "correct": {"sg", "temp_c", "calibration_c"},
    "convert": {"sg", "plato", "brix", "oechsle", "baume", "density_kg_m3"},
    "abv": {"og", "fg", "og_temp_c", "fg_temp_c", "calibration_c", "sugar_added_g_l"},
    "mix": {"have_l", "have_c", "to_l", "target_c", "hot_c", "cold_c", "have_sg"},
    "sulphite": {
        "litres",
        "ph",
        "abv",
        "temp_c",
        "free_now_mg_l",
        "molecular_mg_l",
        "colour",
        "free_target_mg_l",
        "total_now_mg_l",
        "salt",
    },
    "sorbate": {"litres", "abv", "ph"},
    "sugar": {"litres", "abv_rise", "sg_from", "sg_to"},
    "sweeten": {"litres", "sg_from", "sugar_g_l", "abv"},
    "acid": {"litres", "ta_from", "ta_to"},
    "blend": {"litres_a", "abv_a", "litres_b", "abv_b", "abv_target"},
    "bottles": {"litres", "loss_l", "size_cl"},
    "drinks": {"abv", "ml", "sugar_g_l"},
    "cost": {"kit", "extras", "bottles"},
    "gas": {"sugar_g_l", "litres"},
    "refract": {"brix", "brix_from", "og"},
    "dilute": {"litres", "abv", "abv_to", "sg", "sg_to"},
}
NAMES = sorted(EXAMPLES)


def _done(name: str, **given: float | str) -> Reckoned:
    return reckon(name, {**EXAMPLES[name], **given})


def _figure(done: Reckoned, key: str) -> float:
    value = done.results[key]
    assert isinstance(value, float)
    return value


def test_the_catalogue_is_the_contracts() -> None:
    assert set(CATALOGUE) == set(KEYS) == set(RESULTS) == set(EXAMPLES)


@pytest.mark.parametrize("name", NAMES)
def test_keys_and_results_are_the_contracts(name: str) -> None:
    assert KEYS[name] <= {key.name for key in CATALOGUE[name].keys}
    plain = to_plain(_done(name))
    assert RESULTS[name] | {"method", "source"} <= set(plain)
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain
    assert plain["method"]
    assert plain["source"]
    if "low" in plain:
        assert plain["low"] < plain["high"]


@pytest.mark.parametrize("name", NAMES)
def test_words_fit_a_phone(name: str) -> None:
    done = _done(name)
    for said in (in_words(done), why(done)):
        lines = said.splitlines()
        assert 2 <= len(lines) <= 8
        assert all(line == line.strip() and line for line in lines)
        assert not re.search(r"\bnan\b|\binf\b|None|\d\.\d{6}", said)
        assert words().sums[name].source in said
        assert all(key in said for key in done.given)
    assert in_words(done).startswith(answer(done))
    assert line(done.formula) in why(done)


@pytest.mark.parametrize("name", NAMES)
def test_text_is_read_as_numbers_are(name: str) -> None:
    as_text = {
        key: value if isinstance(value, str) else f" {value} ".replace(".", ",")
        for key, value in EXAMPLES[name].items()
    }
    assert reckon(name, as_text) == _done(name)


@pytest.mark.parametrize("name", NAMES)
def test_a_missing_key_is_named_with_its_range(name: str) -> None:
    for key in CATALOGUE[name].keys:
        if key.required:
            given = {k: v for k, v in EXAMPLES[name].items() if k != key.name}
            with pytest.raises(BadInput) as error:
                reckon(name, given)
            assert key.name in refusal(error.value)
            assert accepts(key) in refusal(error.value)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    "bad", ["", "abc", "nan", "inf", "-inf", "1e999", "1_0", "0x10", "−3", None, True, [1]]
)
def test_no_nonsense_passes_for_a_number(name: str, bad: Any) -> None:
    for key in EXAMPLES[name]:
        with pytest.raises(BadInput) as error:
            reckon(name, {**EXAMPLES[name], key: bad})
        assert refusal(error.value).startswith(f"{key} needs")
        assert isinstance(bad, str) or "not that" in refusal(error.value)
        assert "\n" not in refusal(error.value)


@pytest.mark.parametrize("name", NAMES)
def test_each_range_is_held_to(name: str) -> None:
    for key in CATALOGUE[name].keys:
        if key.range is None:
            continue
        for beyond in (key.range.lo - 1.0, key.range.hi * 1.01 + 1.0):
            with pytest.raises(BadInput) as error:
                reckon(name, {**EXAMPLES[name], key.name: beyond})
            assert range_text(key.range) in refusal(error.value)


VALUES = st.one_of(
    st.floats(),
    st.integers(),
    st.floats(0.9, 1.3),
    st.floats(0, 100),
    st.sampled_from(["red", "white", "rose", "potassium", "sodium", "1,080", "\n", "10" * 200, 10**400]),
    st.text(max_size=12),
    st.none(),
    st.booleans(),
    st.binary(max_size=3),
    st.lists(st.integers(), max_size=2),
)


@settings(max_examples=600, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_nothing_but_bad_input_is_ever_raised(data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(NAMES))
    names = [key.name for key in CATALOGUE[name].keys]
    given_ = dict(EXAMPLES[name]) if data.draw(st.booleans()) else {}
    given_ |= data.draw(st.dictionaries(st.sampled_from([*names, "nonsense"]), VALUES, max_size=5))
    _reckons_or_refuses(name, given_)


@settings(max_examples=1200, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_whatever_the_ranges_allow_works_or_is_refused(data: st.DataObject) -> None:
    """Every key anywhere in its own range, edges included: figures are finite, or the refusal is one line."""
    name = data.draw(st.sampled_from(NAMES))
    given_: dict[str, Any] = {}
    for key in CATALOGUE[name].keys:
        if not key.required and not data.draw(st.booleans()):
            continue
        if key.range is None:
            given_[key.name] = data.draw(st.sampled_from(key.words))
        else:
            lo, hi = key.range.lo, key.range.hi
            given_[key.name] = data.draw(st.one_of(st.sampled_from([lo, hi]), st.floats(lo, hi)))
    _reckons_or_refuses(name, given_)


def _reckons_or_refuses(name: str, given_: dict[str, Any]) -> None:
    text = ""
    try:
        done = reckon(name, given_)
    except BadInput as error:
        text = refusal(error)
    if text:
        assert text.isprintable()
        assert len(text) < 600
        return
    for value in (*done.results.values(), done.low, done.high):
        assert not isinstance(value, float) or math.isfinite(value)
    assert len(in_words(done).splitlines()) <= 8
    assert len(why(done).splitlines()) <= 8
    json.dumps(to_plain(done), allow_nan=False)


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(
    st.one_of(
        st.none(),
        st.integers(),
        st.text().filter(lambda name: name not in CATALOGUE),
        st.binary(),
        st.lists(st.integers()),
    )
)
def test_an_unknown_name_is_refused(name: Any) -> None:
    with pytest.raises(BadInput) as error:
        reckon(name, {})
    assert refusal(error.value).startswith("There is no sum called")
    assert "\n" not in refusal(error.value)


@pytest.mark.parametrize("given", [None, 3, "og=1.08", [("og", 1.08)]])
def test_input_without_keys_is_refused(given: Any) -> None:
    with refused("abv needs keys with values"):
        reckon("abv", given)


class TestWhatTheSumsSay:
    def test_correct_counts_alcohol_when_told(self) -> None:
        plain = _done("correct", sg=0.991, temp_c=30)
        told = _done("correct", sg=0.991, temp_c=30, og=1.080)
        assert 0.0003 < _figure(told, "sg") - _figure(plain, "sg") < 0.0006
        with refused("og or abv, not both"):
            _done("correct", og=1.08, abv=5)

    def test_correct_refuses_another_calibration(self) -> None:
        with refused(r"calibration_c needs 20 or 15\.56 °C"):
            _done("correct", calibration_c=17)

    def test_convert_wants_just_one_scale(self) -> None:
        for given_ in ({}, {"sg": 1.08, "brix": 20}):
            with refused("convert needs one of sg, plato, brix"):
                reckon("convert", given_)

    @pytest.mark.parametrize("scale", ["plato", "brix", "oechsle", "baume", "density_kg_m3"])
    def test_convert_goes_there_and_back(self, scale: str) -> None:
        there = reckon("convert", {"sg": 1.085})
        back = reckon("convert", {scale: _figure(there, scale)})
        assert _figure(back, "sg") == pytest.approx(1.085, abs=2e-6)

    def test_abv_says_its_band_and_the_shorter_rules(self) -> None:
        done = _done("abv")
        assert (done.low, done.high) == (pytest.approx(11.09, abs=0.01), pytest.approx(11.80, abs=0.01))
        assert "11.4 % vol (11.1 to 11.8)" in in_words(done)
        assert "131.25" in in_words(done)

    def test_abv_doubts_an_ending_too_low(self) -> None:
        assert "read both gravities again" in in_words(_done("abv", og=1.070, fg=0.988))

    def test_mix_out_of_reach_gives_the_nearest(self) -> None:
        done = _done("mix", target_c=40, hot_c=35)
        assert done.results["feasible"] is False
        assert done.results["cold_l"] == pytest.approx(0.0, abs=1e-6)
        assert "cannot be reached" in in_words(done)

    def test_sulphite_shows_both_pks_and_defers_to_the_pack(self) -> None:
        said = in_words(_done("sulphite"))
        assert "pK 1.81" in said
        assert "OIV's pK 2.04" in said
        assert "asthma" in said
        assert "pack" in said
        assert "your local rules decide" in said

    def test_sulphite_names_the_law_when_it_is_too_much(self) -> None:
        done = _done("sulphite", colour="red", total_now_mg_l=140, free_now_mg_l=5)
        assert done.results["over_limit"] is True
        assert "Reg. (EU) 2019/934, Annex I, Part B" in in_words(done)

    def test_sulphite_wants_one_target(self) -> None:
        with refused("not both"):
            _done("sulphite", molecular_mg_l=0.8, free_target_mg_l=30)
        with refused("sulphite needs ph"):
            reckon("sulphite", {"litres": 23})

    def test_sulphite_at_ph_4_5_says_why_not(self) -> None:
        with refused("no sane amount of sulphite"):
            _done("sulphite", ph=4.5)

    def test_a_small_dose_says_how_to_measure_it(self) -> None:
        done = _done("sulphite", litres=4.5)
        assert done.results["grams"] == pytest.approx(0.2493, rel=1e-3)
        assert "measure 2.5 ml" in in_words(done)

    def test_sorbate_warns_of_running_fermentations_and_geraniums(self) -> None:
        said = in_words(_done("sorbate"))
        assert "does not stop a running fermentation" in said
        assert "malolactic" in said

    def test_what_may_burst_says_so(self) -> None:
        for name in ("sugar", "sweeten", "bottles"):
            assert "burst" in in_words(_done(name)), name

    def test_gas_says_to_air_the_room(self) -> None:
        done = _done("gas")
        assert "air the room" in to_plain(done)["caution"]
        assert "air the room" in in_words(done)

    def test_sugar_wants_a_rise_or_two_gravities(self) -> None:
        for given_ in (
            {"litres": 23},
            {"litres": 23, "sg_to": 1.08},
            {"litres": 23, "sg_from": 1.07, "sg_to": 1.08, "abv_rise": 1},
        ):
            with refused("sugar needs"):
                reckon("sugar", given_)

    def test_acid_down_offers_both_salts(self) -> None:
        done = _done("acid", ta_from=9, ta_to=6.5)
        assert done.results["what"] is Point.CALCIUM_CARBONATE
        assert done.results["grams"] == pytest.approx(2.5 * 23 * 100.09 / 150.09, rel=1e-6)
        assert "potassium bicarbonate" in in_words(done)

    def test_blend_for_a_strength_gives_parts(self) -> None:
        done = _done("blend", abv_target=12.5)
        assert done.results["parts_a"] == pytest.approx(1.667, abs=0.002)
        assert done.results["parts_b"] == 1.0


@pytest.mark.parametrize(
    ("grams", "shown"),
    [
        (0.0, "0.0 g"),
        (0.254, "0.25 g"),
        (1.27, "1.3 g"),
        (99.94, "99.9 g"),
        (378.7, "379 g"),
        (1234, "1.23 kg"),
    ],
)
def test_grams_as_a_kitchen_scale_shows_them(grams: float, shown: str) -> None:
    assert scale_grams(grams) == shown


@given(st.floats(0.01, 1e6))
def test_what_the_scale_shows_is_near_enough(grams: float) -> None:
    text = scale_grams(grams)
    value = float(text.split()[0]) * (1000 if text.endswith("kg") else 1)
    assert value == pytest.approx(grams, abs=0.051 if grams >= 1 else 0.0051, rel=0.006)


@pytest.mark.parametrize(
    ("count", "pieces"), [(0.1, ""), (0.5, "½"), (0.8, ""), (1.04, "1"), (2.5, "2½"), (2.9, "3"), (0.0, "")]
)
def test_tablets_only_where_halves_come_near(count: float, pieces: str) -> None:
    found = near_half(count)
    assert (halves(found) if found is not None else "") == pieces


@pytest.mark.parametrize(
    ("sg", "text"), [(1.08, "1.080"), (0.994, "0.994"), (1.08114, "1.0811"), (1.0, "1.000")]
)
def test_gravities_have_three_decimals_or_four(sg: float, text: str) -> None:
    assert gravity_text(sg) == text


class TestCommand:
    def test_json(self) -> None:
        status, out, err = run(["abv", "og=1.080", "fg=0.994", "--json"])
        assert (status, err) == (0, "")
        assert json.loads(out)["abv"] == pytest.approx(11.44, abs=0.01)

    def test_words(self) -> None:
        status, out, err = run(["bottles", "litres=23", "loss_l=1"])
        assert (status, err) == (0, "")
        assert out.startswith("29 full bottles")

    @pytest.mark.parametrize(
        ("argv", "says"),
        [
            ([], "Name a sum: correct, convert"),
            (["--json"], "Name a sum"),
            (["wine"], "There is no sum called “wine”; there are correct"),
            (["abv"], "abv still needs og: gravity before fermenting, 1.000 to 1.200 SG; fg:"),
            (["abv", "og=1080", "fg=0.994"], "og needs 1.000 to 1.200 SG, not 1080"),
            (["abv", "1.080", "0.994"], "Write key=value, such as litres=23, not “1.080”"),
            (["abv", "og=1.08", "og=1.09", "fg=1"], "“og” is there twice"),
            (["abv", "og=1.08", "fg=1", "ph=3"], "abv knows no “ph”; its keys are og, fg"),
            (
                ["sulphite", "litres=23", "ph=3.4", "salt=table"],
                "salt needs potassium or sodium, not “table”",
            ),
            (["wine", "--help"], "There is no sum called"),
        ],
    )
    def test_wrong_input_is_status_2_and_one_line(self, argv: list[str], says: str) -> None:
        status, out, err = run(argv)
        assert (status, out) == (2, "")
        assert err.startswith(says)
        assert "\n" not in err

    def test_help_lists_the_catalogue(self) -> None:
        status, out, err = run(["--help"])
        assert (status, err) == (0, "")
        assert all(f"  {name} " in out for name in CATALOGUE)
        assert out == listing()

    @pytest.mark.parametrize("name", NAMES)
    def test_help_of_one_lists_its_keys(self, name: str) -> None:
        status, out, _ = run([name, "-h"])
        assert status == 0
        assert all(
            f"  {key.name}: {words().sums[name].keys[key.name]}, {accepts(key)}" in out
            for key in CATALOGUE[name].keys
        )


def test_science_brings_no_heavy_library_along() -> None:
    code = (
        "import sys, bot.edges.reckon\n"
        "heavy = {'numpy', 'scipy', 'pint', 'CoolProp', 'sqlalchemy', 'telegram', 'asyncio'} & set(sys.modules)\n"
        "print(sorted(heavy))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
