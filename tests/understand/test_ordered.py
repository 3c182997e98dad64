"""Wines told by their order, their age or the letter they begin with."""

from datetime import datetime

import pytest

from bot.understand.text.message import Message
from tests.understand.labelled import SENT_AT, house

OLDER, NEWER = "plum", "harbour white"


def named(text: str) -> list[str]:
    """The wines that a message names, in order."""
    moment = datetime.fromisoformat(SENT_AT)
    message = Message(text, house("harbour"), moment, by="ana", replying_to=None, addressed=True)
    return [span.ref.name for span in message.spans if span.ref is not None and span.ref.kind == "batch"]


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("second 1.056, first is 1.012", [NEWER, OLDER]),
        ("old one 1.012 new one 1.056", [OLDER, NEWER]),
        ("the oldest 1.012", [OLDER]),
        ("1.012 in first", [OLDER]),
        ("i put second in bucket 3", [NEWER]),
        ("P 1.012 H 1.056", [OLDER, NEWER]),
        ("stirred P + H", [OLDER, NEWER]),
        ("second reading tomorrow", []),
        ("first of all wash the bucket", []),
        ("the second packet is in", []),
        ("PLEASE READ H TODAY", []),
        ("new batch: fig, red, 23 l in bucket 3", []),
    ],
)
def test_order_age_and_letters_name_wines(text: str, names: list[str]) -> None:
    assert named(text) == names
