"""Short cases, one a line: `text -> verdict and acts in brief`. Add a line beside the phrase that it tests.

A line `# house NAME` chooses the house for the lines below it, `\\n` is a new line in the message.
"""

from collections import Counter
from datetime import datetime
from pathlib import Path

import pytest

from bot.cellar.log.plain import to_plain
from bot.understand import understand
from bot.understand.verdict import Verdict
from tests.understand.labelled import house

CASES = Path(__file__).with_name("cases")
SENT = {
    "b_us": "2026-03-05T01:30:00+00:00",
    "us": "2026-03-05T01:30:00+00:00",
    "b_berlin": "2026-03-29T08:30:00+00:00",
}
SENT_AT = "2026-03-04T19:30:00+00:00"


def brief(verdict: Verdict) -> str:
    """A verdict in one line."""
    acts = []
    for act in verdict.acts:
        plain = to_plain(act)
        kind, of = plain.pop("do"), plain.pop("of", None)
        fields = [f"{key}={value}" for key, value in plain.items() if value is not None]
        acts.append(" ".join([f"{kind}[{of or ''}]", *fields]))
    doubt = f"({verdict.doubt.value})" if verdict.doubt else ""
    return f"{verdict.verdict}{doubt} {'; '.join(acts)}".strip()


def _lines() -> list[tuple[str, str, str]]:
    found = []
    for path in sorted(CASES.glob("*.txt")):
        name = "harbour"
        for line in path.read_text(encoding="utf-8").splitlines():
            if line.startswith("# house "):
                name = line.removeprefix("# house ")
            elif line and not line.startswith("#"):
                text, _, expected = line.rpartition(" -> ")
                found.append((name, text.replace("\\n", "\n"), expected))
    return found


LINES = _lines()


@pytest.mark.parametrize(
    ("name", "text", "expected"), LINES, ids=[f"{name}: {text}" for name, text, _ in LINES]
)
def test_case(name: str, text: str, expected: str) -> None:
    sent_at = datetime.fromisoformat(SENT.get(name, SENT_AT))
    assert brief(understand(text, house(name), sent_at)) == expected


def test_no_case_twice() -> None:
    counted = Counter((name, text) for name, text, _ in LINES)
    assert [case for case, count in counted.items() if count > 1] == []
