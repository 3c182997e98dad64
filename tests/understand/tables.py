"""The tables of short cases in `cases/`, one a line: `text -> verdict and acts in brief`.

A line `# house NAME` chooses the house for the lines below it, `\\n` is a new line in the message.
"""

from pathlib import Path

from bot.cellar.log.plain import to_plain
from bot.understand.verdict import Verdict

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
