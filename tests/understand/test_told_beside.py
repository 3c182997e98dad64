"""Figures told beside a fact, how warm the wine is among other talk, what is only expected, and times told apart."""

from datetime import datetime, timedelta

import msgspec
import pytest

from bot.cellar.log.acts import Act, Addition, Bottles, Gravity, Step, Temperature
from bot.ids import EntryId
from bot.understand import understand
from bot.understand.scene import Recent, Scene, SceneVessel
from bot.understand.verdict import Doubt, Verdict
from tests.understand.wines import falling, kept

NOW = datetime.fromisoformat("2026-03-28T19:30:00+00:00")


FALLING = falling(NOW, (9, 1.088), (6, 1.036), (1, 1.014))
KEPT = kept(NOW)
VESSELS = (SceneVessel(name="bucket 1"), SceneVessel(name="bucket 2"))
CELSIUS = Scene(vessels=VESSELS, batches=(FALLING,), timezone="Europe/London")
FAHRENHEIT = msgspec.structs.replace(CELSIUS, temperature_unit="F")
CELLAR = Scene(vessels=VESSELS, batches=(KEPT,))


def told(text: str, scene: Scene = CELSIUS, *, by: str = "ana") -> Verdict:
    return understand(text, scene, NOW, by=by, for_wine=True)


def facts(verdict: Verdict) -> list[Act]:
    return [act for act in verdict.acts if isinstance(act, Gravity | Temperature | Addition | Step | Bottles)]


@pytest.mark.parametrize(
    ("text", "act"),
    [
        ("bottled, 28 x 750 ml, 180 ml left over", Step(step="bottle", of="damson", bottles=28)),
        ("bottled 27 with 200 ml to spare", Step(step="bottle", of="damson", bottles=27)),
        (
            "added 250 g sugar, dissolved in 300 ml of the wine",
            Addition(what="sugar", of="damson", amount=250, unit="g"),
        ),
        ("finings in, rehydrated in 100 ml warm water", Addition(what="finings", of="damson")),
        ("5 campden in, and we lost 3-1", Addition(what="sulphite", of="damson", amount=5, unit="tablet")),
        ("1 and a half tsp sorbate", Addition(what="sorbate", of="damson", amount=1.5, unit="tsp")),
        ("3 and half tsp sorbate", Addition(what="sorbate", of="damson", amount=3.5, unit="tsp")),
    ],
)
def test_a_figure_told_beside_is_no_second_fact(text: str, act: Act) -> None:
    assert facts(told(text)) == [act]


@pytest.mark.parametrize(
    ("text", "change"),
    [
        ("one smashed by someone under twelve", -1),
        ("first 3 bottles drunk and it's not half past four", -3),
        ("2 bottles drunk, it's not ten o'clock", -2),
    ],
)
def test_nor_are_years_or_an_hour_that_it_is_not(text: str, change: int) -> None:
    assert [act.change for act in told(text, CELLAR).acts if isinstance(act, Bottles)] == [change]


def test_water_that_is_added_is_still_told() -> None:
    verdict = told("added 500 ml water")
    assert facts(verdict) == [Addition(what="water", of="damson", amount=500, unit="ml")]


@pytest.mark.parametrize(
    "text",
    [
        "74 and holding, the wet towel helps",
        "the wine's at 74, and i have eaten all the ice",
        "74 on the wine, he says leave it be",
        "74 on the dial. the cat sits on it",
        "the brew's 74, the room's 91",
        "74 and still climbing. somebody open a window",
    ],
)
def test_a_figure_beside_talk_is_how_warm_the_wine_is(text: str) -> None:
    verdict = told(text, FAHRENHEIT)
    assert (verdict.verdict, facts(verdict)) == ("act", [Temperature(of="damson", temp_c=23.3)])


@pytest.mark.parametrize(
    "text",
    [
        "74 people came to the fair",
        "i'm 74 not dead",
        "granny is 74 today",
        "74 rinsed",
        "paid 74 for the boots",
    ],
)
def test_and_not_how_many_or_how_old(text: str) -> None:
    assert told(text, FAHRENHEIT).verdict != "act"


def test_what_may_be_a_gravity_as_well_is_asked() -> None:
    verdict = told("12")
    assert verdict.verdict == "ask"
    assert (Gravity(of="damson", sg=1.012),) in verdict.options
    assert (Temperature(of="damson", temp_c=12.0),) in verdict.options


def test_a_gravity_that_lost_its_zeros_is_asked() -> None:
    fresh = msgspec.structs.replace(FALLING, readings=(), next=("gravity", "pitch"))
    verdict = told("1.8", Scene(vessels=VESSELS, batches=(fresh,)))
    assert (verdict.verdict, verdict.options) == ("ask", ((Gravity(of="damson", sg=1.08),),))


@pytest.mark.parametrize(
    "text",
    [
        "should be 1.020 by now, day 5",
        "should be 1.085 for a white",
        "it ought to be 1.010 by monday",
        "if it's 1.002 tomorrow do we bottle",
        "i'd expect 1.012 about now",
    ],
)
def test_what_is_only_expected_is_no_gravity(text: str) -> None:
    said = Recent(
        entry=EntryId(7), act=Gravity(of="damson", sg=1.014), by="bo", said_at=NOW - timedelta(minutes=5)
    )
    verdict = told(text, msgspec.structs.replace(CELSIUS, recent=(said,)))
    assert not [act for act in verdict.acts if isinstance(act, Gravity)]


def test_a_well_is_no_plan() -> None:
    assert facts(told("well today it a 1.012")) == [Gravity(of="damson", sg=1.012)]


@pytest.mark.parametrize(
    ("text", "act"),
    [
        (
            "friday 2115, 1.015",
            Gravity(of="damson", at=datetime.fromisoformat("2026-03-27T21:15Z"), sg=1.015),
        ),
        pytest.param(
            "we came in on wednesday night, 10pm, and it was at 1.024",
            Gravity(of="damson", at=datetime.fromisoformat("2026-03-25T22:00Z"), sg=1.024),
            marks=pytest.mark.xfail(strict=True, reason="asked about"),
        ),
        (
            "stirred it thurs at 4.30 in the morning",
            Step(step="stir", of="damson", at=datetime.fromisoformat("2026-03-26T04:30Z")),
        ),
        ("dinner is at 7, 1.012", Gravity(of="damson", sg=1.012)),
    ],
)
def test_a_day_and_hour_told_beside_are_those_of_the_fact(text: str, act: Act) -> None:
    verdict = told(text)
    assert (verdict.verdict, verdict.acts) == ("act", (act,))


def test_what_cannot_have_been_at_that_time_is_asked() -> None:
    assert told("friday 2115, 1.050").doubt is Doubt.SLIPPED_DIGIT


@pytest.mark.parametrize(
    ("text", "doubt"), [("racked it on the 30th", Doubt.FUTURE), ("racked it on the 27th", None)]
)
def test_a_day_that_is_just_to_come_is_not_the_last_of_its_number(text: str, doubt: Doubt | None) -> None:
    assert told(text).doubt is doubt
