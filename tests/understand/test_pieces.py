"""Whatever is told is heard beside anything else: sentences that two readers once shared between them, and what hands that
knew no rule told in few words, alone and put together."""

from datetime import datetime

import pytest

from bot.understand import understand
from tests.understand.labelled import SENT_AT, house
from tests.understand.pieces import pairs, pieces
from tests.understand.tables import brief

BESIDE = {
    "racked five litres of plum into demijohn 1": "split[plum]",
    "demijohn 2 has a capacity of five litres": "volume[demijohn 2] litres=5.0",
    "moved half of plum into demijohn 1": "split[plum]",
    "washed bucket 3 and bottled plum, 29 bottles": (
        "vessel[bucket 3] state=clean; step[plum] step=bottle bottles=29"
    ),
    "washed bucket 3 and racked plum into it": "vessel[bucket 3] state=clean; step[plum] step=rack to=bucket 3",
    "washed demijohn 1 and 2, racked plum into demijohn 1": (
        "vessel[demijohn 1] state=clean; vessel[demijohn 2] state=clean; step[plum] step=rack to=demijohn 1"
    ),
    "plum 1.012 and corks for plum cost 6": "gravity[plum] sg=1.012; cost[plum] what=corks amount=6.0",
    "plum 1.012, bucket 3 is dirty": "gravity[plum] sg=1.012; vessel[bucket 3] state=dirty",
    "plum is 1.012 and smells of vinegar": "gravity[plum] sg=1.012",
    "plum 1.012. is it all right?": "gravity[plum] sg=1.012; question[",
    "moved the white into demijohn 2, bucket 3 is dirty": (
        "step[harbour white] step=rack to=demijohn 2; vessel[bucket 3] state=dirty"
    ),
    "put a hundred and fifty grams of sugar in plum and half a teaspoon of tannin": (
        "addition[plum] what=sugar amount=150.0 unit=g; addition[plum] what=tannin amount=0.5 unit=tsp"
    ),
    "paid 12.50 for yeast for plum and racked plum into demijohn 1": (
        "cost[plum] what=yeast amount=12.5; step[plum] step=rack to=demijohn 1"
    ),
}


@pytest.mark.parametrize("text", BESIDE)
def test_whatever_is_told_is_heard_beside_anything_else(text: str) -> None:
    found = understand(text, house("harbour"), datetime.fromisoformat(SENT_AT), for_wine=True)
    assert found.verdict == "act", brief(found)
    assert all(each in brief(found) for each in BESIDE[text].split("; ")), brief(found)


PATTERNS = ("seen-*.jsonl", "aside-*.jsonl")
HEARD = {"seen-*.jsonl": (0.72, 0.44), "aside-*.jsonl": (0.66, 0.37)}
"""How many of the pieces that tell something are written as told: by themselves and beside another, told or not."""
BEGUN = {"seen-*.jsonl": 0.3, "aside-*.jsonl": 0.22}
"""How many beginnings are written as told."""
WRITTEN = {"seen-*.jsonl": 0.1, "aside-*.jsonl": 0.2}
"""How many at most of the pieces that tell nothing are written for a fact."""


@pytest.mark.parametrize("pattern", PATTERNS)
def test_so_many_are_heard(pattern: str) -> None:
    told = [one for one in pieces(pattern) if not one.untold and not one.begins]
    both = list(pairs(list(pieces(pattern)), 1))
    alone, together = HEARD[pattern]
    assert sum(one.fault(one.read()) is None for one in told) >= alone * len(told)
    assert sum(one.fault(one.read()) is None for one in both) >= together * len(both)


@pytest.mark.parametrize("pattern", PATTERNS)
def test_so_many_beginnings_are_heard(pattern: str) -> None:
    told = [one for one in pieces(pattern) if one.begins]
    assert sum(one.fault(one.read()) is None for one in told) >= BEGUN[pattern] * len(told)


@pytest.mark.parametrize("pattern", PATTERNS)
def test_what_has_not_happened_is_seldom_written(pattern: str) -> None:
    told = [one for one in pieces(pattern) if one.untold]
    assert sum(one.fault(one.read()) == "wrong act" for one in told) <= WRITTEN[pattern] * len(told)
