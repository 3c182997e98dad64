"""Pieces that tell two facts and have nothing to join them; numbers of lists, and values in the order of their wines."""

from datetime import datetime

import pytest

from bot.understand import understand
from tests.understand.labelled import house
from tests.understand.tables import SENT_AT, brief


def read(text: str, where: str = "solo") -> str:
    return brief(understand(text, house(where), datetime.fromisoformat(SENT_AT), for_wine=True))


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


@pytest.mark.parametrize(
    "text",
    ["stirred 200g sugar into the plum", "gave plum 2 campdens", "plum stands at 1.077 before the yeast"],
)
def test_one_fact_stays_whole(text):
    assert ";" not in read(text, "harbour")


def test_values_are_in_the_order_of_the_wines_before_them():
    found = read("plum 1.010, white 1.058. Temperatures 21C, 20C in that order.", "harbour")
    assert "temperature[plum] temp_c=21" in found
    assert "temperature[harbour white] temp_c=20" in found


def test_the_numbers_of_a_list_are_none_of_the_wine():
    numbered = read("1, 1.012. 2, stirred it. 3, kitchen quiet")
    assert numbered == read("1.012. stirred it. kitchen quiet")
