"""Which reading is followed: what the signs are worth, and what each way costs."""

import json
from datetime import datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.cellar.log.acts import Step, Temperature
from bot.understand import understand
from bot.understand.judge import choice
from bot.understand.judge.belief import (
    ASKED_OF,
    belief,
    decode,
    encode,
    rows_asked,
    trees_of,
    worth_of,
)
from bot.understand.scene import Scene, SceneBatch, SceneVessel
from ops import train_choice
from tests.understand.labelled import SENT_AT, house

SIGNS = st.dictionaries(st.sampled_from(trees_of("en").signs), st.floats(-1, 1), max_size=40)


def test_the_weights_are_learned_from_what_lies_in_the_fixtures() -> None:
    assert trees_of("en").trained_on == train_choice.digest(), "run sh ops/train"


def test_the_weights_are_the_same_again_from_their_file() -> None:
    trees = trees_of("en")
    again = decode(encode(trees))
    assert (again.signs, again.trained_on) == (trees.signs, trees.trained_on)
    for name in ("roots", "sign", "least", "over", "worth", "start"):
        assert np.array_equal(getattr(again, name), getattr(trees, name))


@given(SIGNS)
def test_what_each_sign_says_sums_to_the_belief(signs: dict[str, float]) -> None:
    found, trees = belief(signs, "en"), trees_of("en")
    rows = rows_asked(signs)
    starts = trees.start[rows] + trees.worth[trees.roots[rows]].sum(1)
    for at, (asked, before) in enumerate(zip(ASKED_OF, starts, strict=True)):
        odds = before + sum(worth for _, worth in worth_of(signs, "en")[asked])
        assert found[at] == pytest.approx(1 / (1 + np.exp(-odds)), abs=1e-3)


@given(SIGNS, st.dictionaries(st.text(max_size=8).map("unheard of ".__add__), st.floats(-1, 1), max_size=5))
def test_a_sign_that_was_never_seen_says_nothing(signs: dict[str, float], others: dict[str, float]) -> None:
    assert belief({**signs, **others}, "en") == belief(signs, "en")


@pytest.mark.parametrize(
    "text", ["plum is down to 1.011", "stirred the plum twice", "gave two of the rosé to ines"]
)
def test_the_dearer_a_wrong_entry_the_more_is_asked(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def verdict(cost: float) -> str:
        monkeypatch.setattr(choice, "WRONG_ENTRY", cost)
        return understand(text, house("harbour"), datetime.fromisoformat(SENT_AT), for_wine=True).verdict

    assert [verdict(cost) for cost in (0.01, 1e6)] == ["act", "ask"]


def test_what_the_other_reading_took_is_not_said_to_be_lost() -> None:
    waits = SceneBatch(name="tansy", vessel="bucket 2", litres=23, next=("mix", "gravity", "pitch"))
    scene = Scene(vessels=(SceneVessel(name="bucket 2"),), batches=(waits,))
    text = "mixed it to the top line, bit warm at 27"
    verdict = understand(text, scene, datetime.fromisoformat(SENT_AT), for_wine=True)
    assert [type(act) for act in verdict.acts] == [Step, Temperature]
    assert verdict.unread is None


def test_what_was_set_aside_is_not_learned_from() -> None:
    assert not any(path.name.startswith("aside") for path in train_choice.talks_learned())
    assert json.dumps([path.name for path in train_choice.talks_learned()]).count("seen")
