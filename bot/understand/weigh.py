"""How much speaks for a reading of the message, and how much against it."""

from collections.abc import Iterable

from bot.understand.clauses import Clause
from bot.understand.spans import Span

SURE = 1.9
"""From here on a draft is written down."""
PERHAPS = 1.2
"""From here on it is asked about; below, it is taken for chatter."""

_ASIDE = frozenset({"before", "after", "during"})
"""What follows these only says when: "before the school run"."""

_UNKNOWN, _MOST_UNKNOWN = 0.35, 1.4
_CHATTER = {"strong": 1.5, "weak": 0.6}
_ELSEWHERE, _MOST_ELSEWHERE = 0.3, 0.8
_MILD = 0.35
"""Where a named batch in bottles is drunk or given, parties and people belong to it."""


def chatter(spans: Iterable[Span]) -> float:
    """The weight of everyday words that have no place in a message about wine."""
    total = 0.0
    aside = 0
    for span in spans:
        if span.fold in _ASIDE:
            aside = 4
        aside -= 1
        if span.used or span.ref is not None or aside > 0:
            continue
        if span.kind == "noise":
            total += 1.5
        for tag in span.tags:
            if tag.kind == "chatter":
                total += _CHATTER[tag.value]
                break
    return total


def against(clause: Clause, others: Iterable[Clause], *, mild: bool = False) -> float:
    """What speaks against reading a clause as about wine: its leftover words, and chatter around it."""
    unknown = sum(1 for span in clause.spans if span.kind == "word" and not span.used)
    numbers = sum(1 for span in clause.spans if span.qty is not None and not span.used)
    around = sum(chatter(other.spans) for other in others if other is not clause)
    total = (
        min(unknown * _UNKNOWN, _MOST_UNKNOWN)
        + 0.4 * numbers
        + chatter(clause.spans)
        + min(around * _ELSEWHERE, _MOST_ELSEWHERE)
    )
    return total * _MILD if mild else total
