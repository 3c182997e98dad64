"""Readings as people tell them: of which wine, which figure of several, and what is no reading."""

from datetime import datetime, timedelta

import pytest

from bot.cellar.log.acts import Gravity, Temperature
from bot.understand.judge.sayings import hear
from bot.understand.scene import Scene, SceneBatch
from bot.understand.text.message import Message
from tests.understand.labelled import SENT_AT

NOW = datetime.fromisoformat(SENT_AT)


def wine(name: str, colour: str, vessel: str, by: str, last: float) -> SceneBatch:
    begun = NOW - timedelta(days=4)
    return SceneBatch(
        name=name,
        colour=colour,  # type: ignore[arg-type]
        vessel=vessel,
        litres=23,
        started=begun,
        readings=((begun, 1.082), (NOW - timedelta(days=1), last)),
        next=("gravity",),
        by=by,
    )


SLOE = wine("sloe", "red", "bucket 1", "ana", 1.036)
QUINCE = wine("quince", "white", "bucket 2", "bo", 1.034)
TWO = Scene(batches=(SLOE, QUINCE), members=("ana", "bo", "cleo"))
ONE = Scene(batches=(SLOE,), members=("ana", "bo", "cleo"))


def told(text: str, scene: Scene, by: str = "ana") -> list[tuple[str | None, float]] | None:
    """Each gravity and temperature with its wine; None where nothing is sure."""
    verdict = hear(Message(text, scene, NOW, by=by, replying_to=None, addressed=True)).verdict
    if verdict is None or verdict.verdict != "act":
        return None
    found: list[tuple[str | None, float]] = []
    for act in verdict.acts:
        if isinstance(act, Gravity):
            found.append((act.of, act.sg))
            found += [(act.of, act.temp_c)] if act.temp_c is not None else []
        elif isinstance(act, Temperature):
            found.append((act.of, act.temp_c))
    return found


@pytest.mark.parametrize(
    ("text", "figures"),
    [
        ("sloe: ten thirty. quince: ten twenty eight", [("sloe", 1.030), ("quince", 1.028)]),
        ("sloe = 1.030 / quince = 1.028", [("sloe", 1.030), ("quince", 1.028)]),
        ("quince (1.028) sloe (1.030)", [("quince", 1.028), ("sloe", 1.030)]),
        ("sloe and quince: 1.030 and 1.028", [("sloe", 1.030), ("quince", 1.028)]),
        ("the red is on 1.030. the other is 1.027", [("sloe", 1.030), ("quince", 1.027)]),
        ("both 1.030", [("sloe", 1.030), ("quince", 1.030)]),
    ],
)
def test_each_figure_goes_to_the_wine_that_it_is_told_of(text: str, figures: list[tuple[str, float]]) -> None:
    assert told(text, TWO) == figures


@pytest.mark.parametrize(
    ("text", "by", "name"),
    [
        ("bo's is at 1.027", "cleo", "quince"),
        ("hers is 1.027", "bo", "sloe"),
        ("mine is 1.027", "bo", "quince"),
    ],
)
def test_a_wine_may_be_called_by_whose_it_is(text: str, by: str, name: str) -> None:
    assert told(text, TWO, by=by) == [(name, 1.027)]


def test_two_figures_told_of_nobody_s_in_particular_are_not_guessed() -> None:
    assert told("bos 1.027 1.031", TWO, by="cleo") is None


@pytest.mark.parametrize(
    ("text", "sg"),
    [
        ("one thousand and twenty six", 1.026),
        ("its at one thousand and eighteen", 1.018),
        ("a thousand and thirty dead", 1.030),
        ("one point double oh nine", 1.009),
        ("just under the 1.030 line, 1.028", 1.028),
        ("a hair over 1.020, call it 1.021", 1.021),
        ("it was 1.036, now 1.025", 1.025),
        ("from 1.036 down to 1.026", 1.026),
    ],
)
def test_the_figure_that_is_the_reading_is_taken(text: str, sg: float) -> None:
    assert told(text, ONE) == [("sloe", sg)]


def test_a_gravity_below_water_may_be_read_out_in_full() -> None:
    dry = Scene(batches=(wine("sloe", "red", "bucket 1", "ana", 0.996),))
    assert told("nine hundred and ninety five", dry) == [("sloe", 0.995)]


@pytest.mark.parametrize(
    "text",
    ["can it go below 0.990", "would 1.010 be all right", "a thousand thanks", "the hall was 17 overnight"],
)
def test_what_is_asked_or_is_of_something_else_is_no_reading(text: str) -> None:
    assert not told(text, ONE)


def test_how_warm_the_room_is_is_not_how_warm_the_wine_is() -> None:
    assert told("garage is 14, the wine's at 19", ONE) == [("sloe", 19.0)]
