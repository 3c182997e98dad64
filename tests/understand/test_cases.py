"""Short cases, one a line of `cases/*.txt`. Add a line beside the phrase that it tests."""

from collections import Counter
from datetime import datetime

import pytest

from bot.understand import understand
from tests.understand.labelled import house
from tests.understand.tables import LINES, SENT, SENT_AT, brief


@pytest.mark.parametrize(
    ("name", "text", "expected"), LINES, ids=[f"{name}: {text}" for name, text, _ in LINES]
)
def test_case(name: str, text: str, expected: str) -> None:
    sent_at = datetime.fromisoformat(SENT.get(name, SENT_AT))
    assert brief(understand(text, house(name), sent_at)) == expected


def test_no_case_twice() -> None:
    counted = Counter((name, text) for name, text, _ in LINES)
    assert [case for case, count in counted.items() if count > 1] == []
