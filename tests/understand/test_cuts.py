"""Pieces that tell two facts and have nothing to join them; numbers of lists, and values in the order of their wines."""

from datetime import datetime
from typing import Any

import pytest

from bot.understand import understand
from bot.understand.explain import explained
from tests.understand.labelled import house
from tests.understand.tables import SENT_AT, brief


def read(text: str, where: str = "solo") -> str:
    return brief(understand(text, house(where), datetime.fromisoformat(SENT_AT), for_wine=True))


def shown(text: str, where: str) -> dict[str, Any]:
    return explained(text, house(where), datetime.fromisoformat(SENT_AT), for_wine=True)[1]


def pieces(text: str, where: str = "solo") -> list[str]:
    """The pieces of a message as they were heard, after which all of it stands as one, where it has several."""
    said = [one["said"] for one in shown(text, where)["sayings"]]
    return said[:-1] if len(said) > 1 else said


def told(text: str, where: str = "solo") -> list[dict[str, Any]]:
    """What its pieces tell, whatever is made of that."""
    return [
        {name: value for name, value in act.items() if value is not None}
        for act in shown(text, where)["heard"]["read"]["acts"]
    ]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        pytest.param(
            "1.088",
            "yeast in lid on hot water cupboard",
            marks=pytest.mark.xfail(strict=True, reason="heard as one"),
        ),
        ("damson 1.012 again", "racked it to bucket 1"),
        (".996 again", "racked it to bucket 3 left a good litre of muck"),
    ],
)
def test_a_piece_is_cut_where_two_facts_are_told_and_nothing_joins_them(one, other):
    assert pieces(f"{one} {other}") == [one, other]


@pytest.mark.parametrize("text", ["I stirred in the sorbate sachet", "topped up with half a litre of water"])
def test_a_piece_of_one_fact_is_not_cut(text):
    assert pieces(text, "harbour") == [text]


@pytest.mark.parametrize(
    "text",
    ["stirred 200g sugar into the plum", "gave plum 2 campdens", "plum stands at 1.077 before the yeast"],
)
def test_one_fact_stays_whole(text):
    assert pieces(text, "harbour") == [text]
    assert ";" not in read(text, "harbour")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("1.012 again finings in lid back on stood it on the freezer", ("sg=1.012", "finings")),
        ("damson 1.010 i stirred it and put the lid back", ("sg=1.01", "step=stir")),
        ("it was 1.014 twenty one degrees i topped up the airlock", ("sg=1.014", "temp_c=21")),
    ],
)
def test_two_facts_without_a_word_that_joins_are_both_told(text, told):
    found = read(text)
    assert all(each in found for each in told), found


def test_values_are_in_the_order_of_the_wines_before_them():
    found = read("plum 1.010, white 1.058. Temperatures 21C, 20C in that order.", "harbour")
    assert "temperature[plum] temp_c=21" in found
    assert "temperature[harbour white] temp_c=20" in found


def test_words_that_say_so_do_not_hide_that_values_stand_in_order():
    found = told("Tuesday 1.010, Вишня 1.058, Bob 1.034. 21, 20, 22 respectively", "b_names")
    warm = [(act["of"], act["temp_c"]) for act in found if act["do"] == "temperature"]
    assert warm == [("Tuesday", 21.0), ("Вишня", 20.0), ("Bob", 22.0)]


def test_the_numbers_of_a_list_are_none_of_the_wine():
    numbered = read("1, 1.012. 2, stirred it. 3, kitchen quiet")
    assert numbered == read("1.012. stirred it. kitchen quiet")


def test_the_number_of_what_follows_in_a_list_is_no_amount():
    found = told("1, finings in. 2, 17 deg in there. 3, cloudy as")
    assert found[0] == {"do": "addition", "of": "damson", "what": "finings"}
