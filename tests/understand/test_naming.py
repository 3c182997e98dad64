"""Which words of a beginning are the batch's name."""

from datetime import datetime

import msgspec
import pytest

from bot.understand.claims.naming import candidates, named, weights_of
from bot.understand.claims.traits import decode, encode
from bot.understand.text.message import Message
from ops import train_names
from tests.understand.labelled import SENT_AT, house


def message_of(text: str, by: str = "ana") -> Message:
    scene = msgspec.structs.replace(house("harbour"), batches=(), recent=())
    return Message(text, scene, datetime.fromisoformat(SENT_AT), by=by, replying_to=None, addressed=True)


def test_the_weights_are_learned_from_what_lies_in_the_fixtures() -> None:
    assert weights_of("en").trained_on == train_names.digest(), "run sh ops/train"


def test_the_weights_are_the_same_again_from_their_file() -> None:
    weights = weights_of("en")
    again = decode(encode(weights))
    assert again.trained_on == weights.trained_on
    assert again.traits == weights.traits
    assert again.none == weights.none


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("new batch: marmalade, red, 23 l in bucket 1, 14 day kit", "marmalade"),
        ("sloop, white, b2, 23 l, 10 days", "sloop"),
        ("Right then! It's a red, 23 litres in bucket 2, we're calling it Rusty Gate, fortnight kit", "Rusty Gate"),
        ("lantern is what we call it, rosé, bucket 1, 23 litres", "lantern"),
        ("New batch: Lot 7, white, 23 l, bucket 1, 21 day kit", "Lot 7"),
        ("it's a white, 23 litres, 14 days, going in bucket 1", None),
        ("red kit, 6 weeks, bucket 2, makes 23 litres", None),
    ],
)  # fmt: skip
def test_the_name_is_heard_where_one_is_told(text: str, name: str | None) -> None:
    assert named(message_of(text), {})[0] == name


def test_whoever_writes_is_no_name() -> None:
    text = "Bo here, a red in bucket 1, 23 litres, 14 days"
    assert named(message_of(text, by="bo"), {})[0] is None


def test_only_the_words_of_a_stretch_can_be_its_name() -> None:
    message = message_of("ash in bucket 1, elm in bucket 2, both red, 23 l")
    elm = next(each for each in candidates(message) if each.name == "elm")
    assert named(message, {}, within=(elm.lo, elm.hi))[0] == "elm"


def test_a_name_is_no_measure_and_crosses_no_mark() -> None:
    found = {each.name for each in candidates(message_of("fig, honey 23 l in bucket 1"))}
    assert {"fig", "honey"} <= found
    assert not any("," in each or "23 l" in each or "bucket 1" in each for each in found)
