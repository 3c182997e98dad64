"""What the numbers of a message are, and of which wine each is."""

from datetime import datetime

import pytest

from bot.understand.claims import whose
from bot.understand.claims.traits import decode, encode
from bot.understand.judge.sayings import hear
from bot.understand.text.message import Message
from ops import train_whose
from tests.understand.labelled import SENT_AT, house

PLUM, WHITE, ROSE = "plum", "harbour white", "last year's rosé"


def message_of(text: str) -> Message:
    moment = datetime.fromisoformat(SENT_AT)
    return Message(text, house("harbour"), moment, by="ana", replying_to=None, addressed=True)


def read(text: str) -> set[tuple[str, float, frozenset[str]]]:
    """What the numbers of a message are: each with its wines, none where no name says whose it is."""
    message = message_of(text)
    found = whose.values(message)
    known = whose.mentions(message, found)
    meant, _ = whose.likeliest(whose.shares(message, found, known), found, known)
    return {
        (one.role, value.figure(one.role), known[one.mention].batches(one.role) if one.mention is not None else frozenset())
        for one, value in zip(meant, found, strict=True)
        if one.role
    }  # fmt: skip


def of(*names: str) -> frozenset[str]:
    return frozenset(names)


def test_the_weights_are_learned_from_what_lies_in_the_fixtures() -> None:
    assert whose.weights_of("en").trained_on == train_whose.digest(), "run sh ops/train"


def test_the_weights_are_the_same_again_from_their_file() -> None:
    weights = whose.weights_of("en")
    assert decode(encode(weights)).traits == weights.traits


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("plum 1012 and 23 harbour 1056 and 21",
         {("sg", 1.012, of(PLUM)), ("warm", 23.0, of(PLUM)), ("sg", 1.056, of(WHITE)), ("warm", 21.0, of(WHITE))}),
        ("1.012 plum and 1.056 harbour", {("sg", 1.012, of(PLUM)), ("sg", 1.056, of(WHITE))}),
        ("1.012 and 1.056, plum then harbour", {("sg", 1.012, of(PLUM)), ("sg", 1.056, of(WHITE))}),
        ("plum is 1.012, harbour 1.056, both at 21",
         {("sg", 1.012, of(PLUM)), ("sg", 1.056, of(WHITE)), ("warm", 21.0, of(PLUM, WHITE))}),
        ("it says 1.012 and it's 22 in there", {("sg", 1.012, of()), ("warm", 22.0, of())}),
        ("gave 2 of the rosé to mum", {("gone", 2.0, of(ROSE))}),
        ("plum 1.012 and the corks were 6 quid", {("sg", 1.012, of(PLUM))}),
        ("back at 19.30, there are 4 of us for tea", set()),
    ],
)  # fmt: skip
def test_each_number_is_that_of_its_wine(text: str, told: set[tuple[str, float, frozenset[str]]]) -> None:
    assert read(text) == told


def test_values_in_a_row_are_those_of_the_names_in_a_row() -> None:
    """What the sayings tell, "then" and "both" among the words that tell whose a value is."""
    verdict = hear(message_of("1.012 and 1.056, plum then harbour, both at 21")).verdict
    assert verdict is not None
    told = {(act.of, getattr(act, "sg", None), getattr(act, "temp_c", None)) for act in verdict.acts}
    assert told == {
        (PLUM, 1.012, None),
        (WHITE, 1.056, None),
        (PLUM, None, 21.0),
        (WHITE, None, 21.0),
    }


def test_a_number_has_a_place_among_all_that_it_can_be() -> None:
    message = message_of("plum 1.012, harbour 21, 2 bottles")
    found = whose.values(message)
    known = whose.mentions(message, found)
    for value, shares in zip(found, whose.shares(message, found, known), strict=True):
        assert len(shares) == len(whose.candidates(value, known))
        assert sum(shares) == pytest.approx(1.0)
