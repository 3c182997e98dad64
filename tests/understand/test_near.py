"""Words that mean nearly the same: the table, and what of it reaches a message that nobody taught."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.understand.text.near import near_of, pack, unpack

NEAR = near_of("en")


def likeness(one: str, other: str) -> float:
    """How far two words point the same way: 1 where they do."""
    return float(NEAR.direction(NEAR.found([one])) @ NEAR.direction(NEAR.found([other])))


@pytest.mark.parametrize(
    ("word", "near", "far"),
    [
        ("stench", "smell", "bottle"),
        ("shoved", "pushed", "tasted"),
        ("filthy", "dirty", "sweet"),
        ("shattered", "broke", "stirred"),
        ("toddler", "child", "yeast"),
        ("nephew", "uncle", "gravity"),
    ],
)
def test_words_of_nearly_the_same_meaning_point_the_same_way(word: str, near: str, far: str) -> None:
    assert likeness(word, near) > likeness(word, far) + 0.1


@given(st.lists(st.sampled_from(["racked", "the", "<batch>", "stench", "qqzx", "", "\ud7ff"])))
def test_any_words_point_somewhere_or_nowhere(words: Sequence[str]) -> None:
    found = NEAR.found(words)
    length = float(np.linalg.norm(NEAR.direction(found)))
    assert length == pytest.approx(1 if found else 0, abs=1e-4)
    assert len(NEAR.kinds_of(found)) <= len(set(words))


def test_a_table_is_the_same_after_it_was_written_and_read() -> None:
    numbers = np.array([3, 7, 2**32 - 1], np.uint32)
    directions = np.array([[1, -127], [0, 5], [127, 0]], np.int8)
    kinds, tells = np.array([4, 4, 700], np.uint16), np.array([255, 51, 0], np.uint8)
    again = unpack(pack(numbers, kinds, tells, directions, "a test"))
    assert dict(again.rows) == {3: 0, 7: 1, 2**32 - 1: 2}
    assert again.kinds == ["kind 4", "kind 4", "kind 700"]
    assert (again.directions == directions).all()
    assert again.tells == pytest.approx([1, 0.2, 0])


def test_a_language_without_a_table_has_the_english_one() -> None:
    assert near_of("xx").digest == near_of("../en").digest == NEAR.digest


def test_the_table_stays_small() -> None:
    source = Path(__file__).parents[2] / "bot" / "understand" / "words" / "en" / "near.weights"
    assert source.stat().st_size < 1_500_000
