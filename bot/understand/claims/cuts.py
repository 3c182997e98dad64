"""Cuts a piece of a message where two things are told in it and nothing joins them: "1.088 yeast in lid on", "finings in
lid back on stood it on the freezer 16 up there".

Where pieces end is told by marks and words that join (`text/sayings.py`). Who dictates, or writes with a wet thumb, has
none: there the network, which has read the whole message once, is asked of every place between two words what each side
says, and the piece is cut where both surely tell a fact, and not the same.
"""

from collections.abc import Iterator, Sequence
from operator import itemgetter
from typing import NamedTuple

from bot.understand.claims.encoder import Encoder, MessageRead
from bot.understand.claims.labels import setting_said, words_of
from bot.understand.text.clauses import reads_wine
from bot.understand.text.message import Message
from bot.understand.text.sayings import Saying, asks, cut_at, tells
from bot.understand.text.small_words import SmallWords
from bot.understand.text.spans import Span

SURELY = 0.9
"""How likely each side of a cut must be what it is taken for."""
WHOLE = 0.97
"""A piece that says one thing more likely than this is one."""
_FACTS = frozenset({"gravity", "temperature", "step", "add", "bottles", "volume", "cost", "begin"})
_FEWEST = 3
"""Words of a piece that can say two things."""


def cut_apart(
    parts: Sequence[Saying], message: Message, network: Encoder
) -> tuple[list[Saying], MessageRead | None]:
    """The pieces, those cut that tell two things, and the message as the network read it, where it had to."""
    if not any(map(_long, parts)):
        return list(parts), None
    words = [[words_of([span], message.tokens) for span in part.spans] for part in parts]
    said = [[word for one in of_part for word in one] for of_part in words]
    read = network.read([word for each in said for word in each], setting_said(message, said))
    found: list[Saying] = []
    at = 0
    for part, of_part in zip(parts, words, strict=True):
        ends = [at]
        for one in of_part:
            ends.append(ends[-1] + len(one))
        at = ends[-1]
        found += _cut(part, ends, network, read, message) if _long(part) else [part]
    return found, read


def _long(part: Saying) -> bool:
    return len(part.spans) >= _FEWEST and not asks(part)


def _cut(
    part: Saying, ends: Sequence[int], network: Encoder, read: MessageRead, message: Message
) -> Iterator[Saying]:
    """The piece, cut at the likeliest place and each side again; whole where there is none."""
    spans = part.spans
    places = [
        at
        for at in range(1, len(spans))
        if _stands(spans[:at]) and _stands(spans[at:]) and not _belongs(spans, at, message.small)
    ]
    if not places:
        yield part
        return
    sides = [pair for at in places for pair in ((ends[0], ends[at]), (ends[at], ends[-1]))]
    whole, *told = (
        _Side(network.labels[row.argmax()], row.max())
        for row in network.shares_of(read, [(ends[0], ends[-1]), *sides])
    )
    cuts = [
        (one.sure * other.sure, at)
        for at, one, other in zip(places, told[::2], told[1::2], strict=True)
        if _tell_two(one, other, spans[at])
    ]
    if whole.sure >= WHOLE or not cuts:
        yield part
        return
    _, at = max(cuts, key=itemgetter(0))
    first, rest = cut_at(part, [0, at])
    yield from _cut(first, ends[: at + 1], network, read, message)
    yield from _cut(rest, ends[at:], network, read, message)


class _Side(NamedTuple):
    """What a side of a cut likeliest tells, and how likely that is."""

    label: str
    sure: float


def _tell_two(one: _Side, other: _Side, begins: Span) -> bool:
    """Whether both sides surely tell a fact, and not the same; what follows begins with that span: "the stabiliser |
    sachet" is one."""
    if min(one.sure, other.sure) < SURELY or one.label == other.label:
        return False
    if not all(each.label.partition(":")[0] in _FACTS for each in (one, other)):
        return False
    return not (begins.has("packet") and _put_in(one.label) and _put_in(other.label))


def _stands(spans: Sequence[Span]) -> bool:
    """Whether something is said there by itself: a gravity or degrees, a number that words follow, a word of its own that
    is not only the name of what is put in."""
    if spans[0].qty is not None and len(spans) > 1:
        return True  # "16 up there"
    if len(spans) == 1 and spans[0].has("substance") and not spans[0].has("step"):
        return False
    return any(
        reads_wine(span) or (span.qty is None and tells(span) and not span.has("put")) for span in spans
    )


def _belongs(spans: Sequence[Span], at: int, small: SmallWords) -> bool:
    """Whether what follows goes on with what is before: "before the yeast", "at 22", "2 g | sulphite"."""
    before, after = spans[at - 1], spans[at]
    if after.fold.partition(" ")[0] in small.goes_on or before.fold.rpartition(" ")[2] in small.never_last:
        return True
    if before.has("step") and not reads_wine(after):
        return True  # "stirred | 200 g sugar"
    return before.qty is not None and not reads_wine(before)


def _put_in(label: str) -> bool:
    """Whether it is told that something went in."""
    return label.startswith("add:") or label == "step:stabilise"
