"""Figures as tired thumbs write them: what is mended, what a bare one may mean, which one another takes the place of."""

from datetime import datetime, timedelta

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.cellar.log.acts import Act, Addition, Bottles, Gravity, Step, Temperature, Undo
from bot.ids import EntryId
from bot.understand import understand
from bot.understand.claims.figures import figures_mended
from bot.understand.scene import OptionsAsked, Recent, Scene, SceneVessel
from bot.understand.verdict import Verdict
from tests.understand.wines import falling, kept

NOW = datetime.fromisoformat("2026-03-04T19:30:00+00:00")
VESSELS = tuple(SceneVessel(name=name) for name in ("bucket 1", "bucket 2", "demijohn 1"))


FALLING = falling(NOW, (5, 1.088), (3, 1.062), (1, 1.042))
KEPT = kept(NOW)
FERMENTING = Scene(vessels=VESSELS, batches=(FALLING,))
CELLAR = Scene(vessels=VESSELS, batches=(KEPT,))


def told(text: str, scene: Scene = FERMENTING, *, for_wine: bool = True, by: str = "ana") -> Verdict:
    return understand(text, scene, NOW, by=by, for_wine=for_wine)


def after(act: Act, scene: Scene, *, by: str = "ana", minutes: float = 2) -> Scene:
    entry = Recent(entry=EntryId(7), act=act, by=by, said_at=NOW - timedelta(minutes=minutes))
    return msgspec.structs.replace(scene, recent=(entry,))


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("1o44", "1.044"),
        ("l.o44", "1.044"),
        ("1.O44 damson", "1.044 damson"),
        ("1,,044", "1.044"),
        ("1.0.44", "1.044"),
        ("1 .044", "1.044"),
        ("1;044", "1.044"),
        ("o..997", "0.997"),
        ("0. 997 at last", "0.997 at last"),
        (".99o", "0.990"),
        ("1.0 44", "1.044"),
        ("10 44", "1.044"),
        ("1 then 44", "1.044"),
        ("1 point 044", "1.044"),
        ("it stands at 1 and 44", "it stands at 1.044"),
        ("one then forty four", "1.044"),
        ("1..04", "1.04"),
        ("1.o4", "1.04"),
        ("ten forty for", "1.044"),
        ("one oh four fore", "1.044"),
    ],
)
def test_what_can_only_be_a_gravity_is_mended(written: str, meant: str) -> None:
    assert figures_mended(written, "en", for_wine=True).text == meant


@pytest.mark.parametrize(
    "written",
    [
        "1.044",
        "1,044",
        "1044",
        "1 044",
        "0.997",
        ".997",
        "997",
        "10.44",
        "1.0",
        "lol",
        "loll about",
        "100.4",
        "bucket 1 and 44",
        "1 and 44 grams of it",
        "10 44 bottles",
        "at 10 44 it rained",
        "1.0 44 c",
        "2 l 10 oz",
        "same. 995",
        "ten forty to bucket 2",
        "01632 960104",
        "2026-10-14",
    ],
)
def test_what_stands_as_it_is_or_may_be_something_else_is_not(written: str) -> None:
    assert figures_mended(written, "en", for_wine=True).text == written


@given(st.integers(0, 199), st.sampled_from(["{}o{}", "{}..0{}"]))
def test_a_mended_gravity_is_never_written(points: int, form: str) -> None:
    verdict = told(form.format("1", f"{points % 100:02d}"))
    assert verdict.verdict == "ask"
    assert any(isinstance(act, Gravity) and act.sg == 1 + points % 100 / 1000 for act in verdict.acts)


@given(st.integers(0, 99), st.sampled_from(["{}.o{}", "l.0{1}", "{},O{}"]))
def test_a_letter_that_looks_like_its_digit_is_that(points: int, form: str) -> None:
    mended = figures_mended(form.format("1", f"{points:02d}"), "en", for_wine=True)
    assert float(mended.text) == 1 + points / 1000
    assert not mended.figures, "nothing is to be asked"


def test_as_it_sounds_and_as_it_stands_are_both_offered() -> None:
    verdict = told("ten thirty too")
    assert verdict.options == (
        (Gravity(of="damson", sg=1.032),),
        (Gravity(of="damson", sg=1.03),),
    )


@pytest.mark.parametrize(
    "text",
    [
        "36",
        "36.",
        pytest.param("now 36", marks=pytest.mark.xfail(strict=True, reason="taken for 36 degrees")),
        pytest.param("it's 36 today", marks=pytest.mark.xfail(strict=True, reason="taken for 36 degrees")),
        "damson 36",
        "down to 36",
        "still 36",
    ],
)
def test_shorthand_is_asked_about(text: str) -> None:
    verdict = told(text)
    assert verdict.verdict == "ask"
    assert (Gravity(of="damson", sg=1.036),) in verdict.options


def test_what_can_be_two_things_is_asked_which() -> None:
    verdict = told("29")
    assert verdict.verdict == "ask"
    assert set(verdict.options) <= {
        (Gravity(of="damson", sg=1.029),),
        (Temperature(of="damson", temp_c=29.0),),
    }


@pytest.mark.parametrize("text", ["11", "20.5", "11 now"])
def test_out_of_the_curves_reach_it_is_how_warm_it_is(text: str) -> None:
    assert {type(act) for act in told(text).acts} == {Temperature}


@pytest.mark.parametrize("text", ["36", "-1", "10 36", "3"])
def test_among_family_a_figure_alone_is_left_alone(text: str) -> None:
    assert told(text, for_wine=False).verdict == "ignore"


@given(st.integers(1, 130))
def test_a_figure_alone_is_never_met_with_silence_nor_written_as_a_gravity(points: int) -> None:
    verdict = told(str(points))
    assert verdict.verdict != "ignore"
    assert verdict.verdict == "ask" or not any(isinstance(act, Gravity) for act in verdict.acts)


@pytest.mark.parametrize("read", ["day 8", "mixed with the water, all the 23"])
def test_days_and_litres_are_no_readings(read: str) -> None:
    assert not any(isinstance(act, Gravity | Temperature) for act in told(read).acts)


@pytest.mark.parametrize(("text", "change"), [("-1", -1), ("+1", 1), ("-3!", -3)])
def test_a_sign_and_a_count_are_of_the_bottles(text: str, change: int) -> None:
    verdict = told(text, CELLAR)
    assert verdict.acts == (Bottles(of="medlar", change=change),)


def test_a_sign_and_a_count_are_of_the_bottles_while_another_wine_ferments() -> None:
    both = msgspec.structs.replace(FERMENTING, batches=(FALLING, KEPT))
    verdict = told("-1", both)
    assert verdict.acts == (Bottles(of="medlar", change=-1),)


TABLETS = Addition(of="damson", what="sulphite", amount=6.0, unit="tablet")
BOTTLED = Step(of="medlar", step="bottle", bottles=28)
WARM = Temperature(of="damson", temp_c=25.0)
SWAPPED = Gravity(of="damson", sg=1.063)


@pytest.mark.parametrize(
    ("act", "text", "right"),
    [
        (TABLETS, "whoops, 5", {"amount": 5.0}),
        (TABLETS, "no it was 5, the last one rolled away", {"amount": 5.0}),
        (TABLETS, "5!! five", {"amount": 5.0}),
        (WARM, "typo, 21", {"temp_c": 21.0}),
        (WARM, "21,5 i wanted to say", {"temp_c": 21.5}),
        (SWAPPED, "i read the wrong side. 1.036", {"sg": 1.036}),
        (SWAPPED, "1.036, my bad", {"sg": 1.036}),
    ],
)
def test_another_figure_takes_the_place_of_the_last(act: Act, text: str, right: dict[str, float]) -> None:
    verdict = told(text, after(act, FERMENTING))
    assert verdict.acts == (Undo(entry=EntryId(7)), msgspec.structs.replace(act, **right))
    assert verdict.verdict == "act"


def test_a_bottling_is_counted_again() -> None:
    right = (Undo(entry=EntryId(7)), msgspec.structs.replace(BOTTLED, bottles=29))
    own = told("sorry 29, one was behind the door", after(BOTTLED, CELLAR))
    assert (own.verdict, own.acts) == ("act", right)
    others = told("29. one was behind the door", after(BOTTLED, CELLAR, by="bo"), for_wine=False)
    assert (others.verdict, others.acts) == ("ask", right)


@pytest.mark.parametrize(
    ("act", "text"),
    [
        (TABLETS, "sorry 1.034"),
        (TABLETS, "was it 5?"),
        (TABLETS, "oops, 20 °C"),
        (BOTTLED, "sorry, one went to the postman as well"),
        (SWAPPED, "no that's right"),
    ],
)
def test_what_is_of_another_kind_or_more_takes_the_place_of_nothing(act: Act, text: str) -> None:
    verdict = told(text, after(act, msgspec.structs.replace(FERMENTING, batches=(FALLING, KEPT))))
    assert not any(isinstance(each, Undo) for each in verdict.acts)


def test_long_after_it_is_no_correction() -> None:
    late = after(TABLETS, FERMENTING, minutes=45)
    assert not any(isinstance(act, Undo) for act in told("no it was 5, i think", late).acts)


def test_what_was_asked_is_told_with_another_figure() -> None:
    asked = OptionsAsked(
        options=((Step(of="damson", step="stir"), msgspec.structs.replace(TABLETS, amount=60.0)),), asked=3
    )
    verdict = told("6! six", msgspec.structs.replace(FERMENTING, open=(asked,)))
    assert verdict.acts == (Step(of="damson", step="stir"), TABLETS)


@pytest.mark.parametrize(
    "text",
    [
        "the soup is at 82 degrees",
        "the new oven thermometer was 19.99",
        "see you at the station, 10.30",
    ],
)
def test_heat_prices_and_hours_are_not_the_wines(text: str) -> None:
    assert told(text, for_wine=False).verdict == "ignore"


def test_a_figure_read_out_is_put_right_as_it_is_read() -> None:
    verdict = told("damson is one oh four one scratch that one oh three nine")
    assert verdict.acts == (Gravity(of="damson", sg=1.039),)


@pytest.mark.parametrize("text", ["1.036, the same like before yesterday", "1.036 same like yesterday"])
def test_what_a_reading_is_like_is_not_when_it_was(text: str) -> None:
    assert told(text).acts == (Gravity(of="damson", sg=1.036),)


@pytest.mark.parametrize("text", ["hydro 1.036, temp 2o", "1.036 at 2o c"])
def test_a_mended_temperature_is_asked_about(text: str) -> None:
    verdict = told(text)
    assert (verdict.verdict, verdict.acts) == ("ask", (Gravity(of="damson", sg=1.036, temp_c=20.0),))


def test_a_bare_figure_for_each_of_several_is_asked_about() -> None:
    other = msgspec.structs.replace(FALLING, name="sloe", vessel="bucket 2")
    verdict = told("b1 12 b2 22", msgspec.structs.replace(FERMENTING, batches=(FALLING, other)))
    assert verdict.verdict == "ask"
    assert verdict.acts == (Temperature(of="damson", temp_c=12.0), Temperature(of="sloe", temp_c=22.0))


@pytest.mark.parametrize(("text", "verdict"), [("1.03", "ask"), ("1,03", "ask"), ("1.12", "ignore")])
def test_a_short_gravity_alone_among_family_is_asked_about_where_a_wine_is_there(
    text: str, verdict: str
) -> None:
    assert told(text, for_wine=False).verdict == verdict


def test_litres_of_other_things_are_not_the_wines() -> None:
    assert told("it takes 12 litres, that tank", for_wine=False).verdict == "ignore"
