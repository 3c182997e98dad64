"""What stands around a message, and slips in it: the same meaning, said slightly differently."""

import json
import random
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.understand.claims.slips import mended
from bot.understand.text.openers import peeled, with_marks
from tests.understand.labelled import Labelled, house, labelled

OPENERS = (
    "update: ",
    "hi all, ",
    "quick one - ",
    "right, ",
    "ok so ",
    "evening all. ",
    "just to say ",
    "fyi ",
)
TAILS = (" btw", " by the way", " for the record", ", phew", " thanks", " anyway", " xx")


@pytest.mark.parametrize(
    ("text", "rest"),
    [
        ("update: plum degassed", "plum degassed"),
        ("quick one - b2 acidity 5.8", "b2 acidity 5.8"),
        ("Evening all, quick update - plum 1.012 btw", "plum 1.012"),
        ("in went the sorbate, plum for the record", "in went the sorbate, plum"),
        ("is the plum ready by the way?", "is the plum ready?"),
        ("update", "update"),
        ("hi all", "hi all"),
        ("thanks", "thanks"),
        ("note: smells of bananas", "note: smells of bananas"),
        ("plum 1.012 on tuesday night", "plum 1.012 on tuesday night"),
        ("no, 1.014", "no, 1.014"),
    ],
)
def test_what_stands_around_is_peeled_off(text: str, rest: str) -> None:
    assert peeled(text, "en") == rest


@pytest.mark.parametrize(
    ("text", "marked"),
    [
        ("the red is one point oh six three comma twenty one full stop I gave it a stir",
         "the red is one point oh six three, twenty one. I gave it a stir"),
        ("red 1.063 comma stirred comma lid on full stop", "red 1.063, stirred, lid on."),
        ("it is one comma zero four", "it is one comma zero four"),
        ("it came to a full stop", "it came to a full stop"),
    ],
)  # fmt: skip
def test_spoken_marks_are_marks(text: str, marked: str) -> None:
    assert with_marks(text, "en") == marked


@given(st.text(max_size=80))
def test_something_is_always_left(text: str) -> None:
    rest = peeled(text, "en")
    assert any(map(str.isalnum, rest)) or not any(map(str.isalnum, text))


@pytest.mark.parametrize(
    ("slip", "meant"),
    [
        ("darnk two of the rosé", "drank two of the rosé"),
        ("racked the plum tonigght at 10", "racked the plum tonight at 10"),
        ("put labeels on the rosé", "put labels on the rosé"),
        ("is tehre any rosé left", "is there any rosé left"),
        ("cacel that last one", "cancel that last one"),
        ("mvoed it to the demijohn", "moved it to the demijohn"),
    ],
)
def test_a_word_that_is_none_is_the_one_that_is_a_slip_away(slip: str, meant: str) -> None:
    assert mended(slip, house("harbour")) == meant


@pytest.mark.parametrize(
    "text",
    [
        "Brora came over, cleo too",  # names
        "the checkeed one",  # a common word is nearer than one of the wine's
        "mowed the lawn, painted the shelf, hazel rang",
        "1 litrre",  # a unit is asked about
        "see https://example.org/whtie and @whtie",
    ],
)
def test_what_is_no_slip_of_the_grammar_stays(text: str) -> None:
    assert mended(text, house("harbour")) == text


def _read(message: Labelled, text: str) -> str:
    found = Labelled(message.file, message.line, {**message.message, "text": text}).read()
    acts: list[dict[str, Any]] = [
        {**act, "text": ""} if act["do"] == "note" else act for act in found["acts"]
    ]
    return json.dumps([found["verdict"], sorted(json.dumps(act, sort_keys=True) for act in acts)])


def _slipped(text: str, chance: random.Random) -> str | None:
    words = text.split(" ")
    able = [at for at, word in enumerate(words) if word.isalpha() and word.islower() and len(word) > 4]
    if not able:
        return None
    at = chance.choice(able)
    word, cut = words[at], chance.randrange(1, len(words[at]) - 1)
    words[at] = chance.choice(
        [
            word[:cut] + word[cut + 1] + word[cut] + word[cut + 2 :],
            word[:cut] + word[cut + 1 :],
            word[:cut] + word[cut] + word[cut:],
        ]
    )
    return " ".join(words)


def _said_otherwise(text: str, chance: random.Random) -> Iterator[tuple[str, str]]:
    yield "opener", chance.choice(OPENERS) + text
    end = "?" if text.endswith("?") else ""
    yield "tail", text.removesuffix("?") + chance.choice(TAILS) + end
    yield "lower case", text.lower()
    if (slip := _slipped(text, chance)) is not None:
        yield "slip", slip


AT_LEAST = {"opener": 0.99, "tail": 0.985, "lower case": 0.95, "slip": 0.85}
"""How many of the messages must mean the same. Of the slips some fall on own names, which nobody can mend."""


def test_said_slightly_differently_it_means_the_same() -> None:
    same, count = Counter[str](), Counter[str]()
    facts = [one for one in labelled() if "danger" not in one.file and one.message.get("verdict") == "act"]
    for message in random.Random(7).sample(facts, 500):
        if message.fault(message.read()) is not None:
            continue
        text: str = message.message["text"]
        plain = _read(message, text)
        for how, other in _said_otherwise(text, random.Random(text)):
            count[how] += 1
            same[how] += _read(message, other) == plain
    shares = {how: same[how] / count[how] for how in count}

    assert all(shares[how] >= least for how, least in AT_LEAST.items()), shares
