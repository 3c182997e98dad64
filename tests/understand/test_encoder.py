"""The small network that hears what the pieces of a message say."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.understand.claims.encoder import MOST_PIECES, UNKNOWN, cut, decode, encode, encoder_of
from ops.watched import TALKS
from tests.understand.pieces import PIECES

WORDS = st.text(alphabet="abcdefghijklmnopqrstuvwxyzé<>#", min_size=1, max_size=30)


def test_it_was_taught_with_nothing_that_was_set_aside() -> None:
    learned = encoder_of("en").learned_from
    paths = (*TALKS.glob("*.txt"), *PIECES.glob("*.jsonl"))
    writers = {path.stem.partition("-")[2]: path.stem for path in paths}
    assert learned
    assert learned <= writers.keys()
    assert not [name for name in learned if writers[name].startswith("aside")]


def test_it_is_the_same_again_from_its_file() -> None:
    network = encoder_of("en")
    again = decode(encode(network))
    words = [["yeast", "in"], ["<gravity>"]]
    assert (again.pieces, again.settings, again.labels) == (network.pieces, network.settings, network.labels)
    assert again.learned_from == network.learned_from
    for one, other in zip(again.shares(words, ["wine"]), network.shares(words, ["wine"]), strict=True):
        np.testing.assert_allclose(one, other, atol=0.02)


@given(st.lists(st.lists(WORDS, max_size=12), min_size=1, max_size=12), st.lists(WORDS, max_size=3))
def test_whatever_is_said_has_shares_that_sum_to_one(words: list[list[str]], setting: list[str]) -> None:
    network = encoder_of("en")
    parts, whole = network.shares(words, setting)
    assert parts.shape == (len(words), len(network.labels))
    np.testing.assert_allclose([*parts.sum(1), whole.sum()], 1.0, atol=1e-6)


def test_no_message_is_too_long() -> None:
    parts, _ = encoder_of("en").shares([["word"] * MOST_PIECES, ["<gravity>"]], [])
    assert np.isfinite(parts).all()


def test_labels_are_put_in_another_order() -> None:
    network = encoder_of("en")
    turned = network.among([*reversed(network.labels), "unheard of"])
    found = network.shares([["yeast", "in"]], [])[1]
    other = turned.shares([["yeast", "in"]], [])[1]
    np.testing.assert_allclose(other[:-1][::-1], found, atol=0.01)
    assert other[-1] < 0.01


@pytest.mark.parametrize(
    ("word", "pieces"),
    [("yeast", ["yeast"]), ("<gravity>", ["<gravity>"]), ("degas", ["de", "##gas"]), ("☃", None), ("", [])],
)
def test_a_word_is_cut_into_the_longest_pieces_that_are_known(word: str, pieces: list[str] | None) -> None:
    known = {"[PAD]": 0, "[UNK]": UNKNOWN, "yeast": 2, "<gravity>": 3, "de": 4, "##gas": 5, "##g": 6, "d": 7}
    assert cut(word, known) == ([UNKNOWN] if pieces is None else [known[each] for each in pieces])
