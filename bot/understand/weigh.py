"""How much speaks for a reading of the message, and how much against it."""

from collections.abc import Iterable

from bot.understand.clauses import Clause
from bot.understand.spans import Span

SURE = 1.9
"""From here on a draft is written down."""
PERHAPS = 1.2
"""From here on it is asked about; below, it is taken for chatter."""

_UNKNOWN, _MOST_UNKNOWN = 0.35, 1.4
_CHATTER = {"strong": 1.5, "weak": 0.6}
_ELSEWHERE, _MOST_ELSEWHERE = 0.3, 0.8


def chatter(spans: Iterable[Span]) -> float:
    """The weight of everyday words that have no place in a message about wine."""
    total = 0.0
    for span in spans:
        if span.used or span.ref is not None:
            continue
        if span.kind == "noise":
            total += 1.5
        for tag in span.tags:
            if tag.kind == "chatter":
                total += _CHATTER[tag.value]
                break
    return total


def against(clause: Clause, others: Iterable[Clause]) -> float:
    """What speaks against reading a clause as about wine: its leftover words, and chatter around it."""
    unknown = sum(1 for span in clause.spans if span.kind == "word" and not span.used)
    numbers = sum(1 for span in clause.spans if span.qty is not None and not span.used)
    around = sum(chatter(other.spans) for other in others if other is not clause)
    return (
        min(unknown * _UNKNOWN, _MOST_UNKNOWN)
        + 0.4 * numbers
        + chatter(clause.spans)
        + min(around * _ELSEWHERE, _MOST_ELSEWHERE)
    )
