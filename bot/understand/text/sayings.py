"""Sayings: the smallest parts of a message that can each say one thing.

A saying ends at a mark, at a line, at a word that joins, and where a second value with a name of its own begins
("b1 1062 b2 1011"). What belongs together over several pieces is for those to say who read them.
"""

from collections.abc import Iterable, Sequence

from bot.understand.text.clauses import DEGREES, VOLUMES, Clause, reads_gravity
from bot.understand.text.message import Message
from bot.understand.text.spans import Span
from bot.understand.text.times import TimeSaid

_HARD = frozenset({".", "!", "?", ";", "…", "|"})
_SOFT = frozenset({",", ":", "(", ")", "&", "+"})
_SPACED = frozenset({"-", "/", "="})
"""Marks that end a piece only where a space stands before them."""


class Saying:
    """A part of a message. `hard`: a sentence begins with it; `asked`: a question mark ends it."""

    __slots__ = ("asked", "hard", "spans")

    def __init__(self, spans: list[Span], *, hard: bool = False) -> None:
        self.spans = spans
        self.hard = hard
        self.asked = False

    def __repr__(self) -> str:
        return f"Saying({self.spans}{' ?' if self.asked else ''})"

    @property
    def wordy(self) -> bool:
        """Whether it has a word of its own, beside names, numbers, times and small words."""
        return any(_tells(span) for span in self.spans)


def sayings(message: Message, spans: Sequence[Span] | None = None) -> list[Saying]:
    """The pieces of a message, in order; of these of its spans where they are given."""
    found: list[Saying] = []
    current: list[Span] = []
    hard = True

    def end() -> None:
        nonlocal current, hard
        if current:
            found.extend(_values_apart(Saying(current, hard=hard)))
            hard = False
        current = []

    for span in message.spans if spans is None else spans:
        if span.kind == "line" or (span.kind == "mark" and span.fold in _HARD):
            end()
            if span.fold == "?" and found:
                found[-1].asked = True
            hard = True
        elif (
            span.kind == "mark"
            and (span.fold in _SOFT or (span.fold in _SPACED and not message.tokens[span.lo].glued))
        ) or _joins(span):
            end()
        else:
            current.append(span)
    end()
    return found


def _joins(span: Span) -> bool:
    """Whether a word ends a piece; an arrow joins where wine came from with where it went."""
    return (
        span.is_("join", "soft") and span.ref is None and span.qty is None and not span.is_("part", "arrow")
    )


def carried(parts: Sequence[Saying]) -> dict[int, list[TimeSaid]]:
    """The times told before a saying that are its own too, by its identity: "yesterday: racked the plum, 1.002". A time
    that leads is that of all that goes on after it, until a sentence, another time or another name begins."""
    found: dict[int, list[TimeSaid]] = {}
    current: list[TimeSaid] = []
    named = False
    headed = False
    for part in parts:
        spans = [span for span in part.spans if not (span.has("join") or span.kind == "mark")]
        own = Clause(list(part.spans)).moments
        names = any(span.ref is not None for span in spans)
        if part.hard and not headed:
            current = []
        headed = False
        if own:
            leads = bool(spans) and spans[0].moment is not None
            current = own if leads else []
            headed = all(span.moment is not None or span.has("filler") for span in spans)
            named = names
        elif current and not (names and named):
            found[id(part)] = current
            named = named or names
        else:
            current = []
    return found


def whole(parts: Sequence[Saying]) -> Saying:
    """Several sayings as one."""
    one = Saying([span for part in parts for span in part.spans], hard=parts[0].hard)
    one.asked = parts[-1].asked
    return one


def _values_apart(piece: Saying) -> Iterable[Saying]:
    """The piece, cut before each further value that has a name of its own beside it."""
    parts: list[list[Span]] = [[]]
    named = valued = False
    for span in piece.spans:
        value = span.qty is not None and measured(span)
        name = span.ref is not None
        if named and valued and (name or value):
            parts.append([])
            named = valued = False
        parts[-1].append(span)
        named, valued = named or name, valued or value
    if len(parts) > 1 and not (
        named and valued
    ):  # the last has only one of the two: it belongs to what is before
        parts[-2].extend(parts.pop())
    return [Saying(part, hard=piece.hard and not index) for index, part in enumerate(parts)]


def measured(span: Span) -> bool:
    """Whether it is a number that a measurement of wine can be by itself."""
    quantity = span.qty
    return quantity is not None and (
        reads_gravity(quantity) or quantity.unit in DEGREES or quantity.unit in VOLUMES
    )


def _tells(span: Span) -> bool:
    if span.kind == "word":
        return True
    if span.kind != "phrase":
        return False
    return not (span.has("filler") or span.has("hedge")) or any(
        span.has(kind)
        for kind in ("step", "put", "move", "substance", "bottles", "measure", "question", "fill")
    )
