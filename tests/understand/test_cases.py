"""Short cases, one a line of `cases/*.txt`. Add a line beside the phrase that it tests. Known misses must fail until their
line is deleted."""

from collections import Counter
from datetime import datetime
from pathlib import Path

import pytest

from bot.understand import understand
from tests.understand.labelled import house
from tests.understand.tables import LINES, SENT, SENT_AT, brief

KNOWN = Path(__file__).with_name("known_cases.txt")
_MISSED = frozenset(KNOWN.read_text(encoding="utf-8").splitlines())


@pytest.mark.parametrize(
    ("name", "text", "expected"), LINES, ids=[f"{name}: {text}" for name, text, _ in LINES]
)
def test_case(name: str, text: str, expected: str) -> None:
    sent_at = datetime.fromisoformat(SENT.get(name, SENT_AT))
    found = brief(understand(text, house(name), sent_at))
    if f"{name}: {text}" in _MISSED:
        assert found != expected, f"it is right now: delete its line from {KNOWN.name}"
        pytest.xfail(found)
    assert found == expected


def test_no_case_twice() -> None:
    counted = Counter((name, text) for name, text, _ in LINES)
    assert [case for case, count in counted.items() if count > 1] == []
