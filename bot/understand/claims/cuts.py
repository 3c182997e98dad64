"""Cuts a piece of a message where two things are told in it and nothing joins them: "1.088 yeast in lid on", "finings in
lid back on stood it on the freezer 16 up there".

Where pieces end is told by marks and words that join (`text/sayings.py`). Who dictates, or writes with a wet thumb, has
none: there the network, which has read the whole message once, is asked of every place between two words what each side
says, and the piece is cut where both surely tell a fact, and not the same.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from bot.understand.claims.encoder import Encoder, MessageRead
from bot.understand.claims.labels import setting_said, words_of
from bot.understand.text.clauses import DEGREES, reads_gravity
from bot.understand.text.message import Message
from bot.understand.text.sayings import Saying, asks, tells_something
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
    pieces = [
        (ends[0], ends[-1]),
        *(pair for at in places for pair in ((ends[0], ends[at]), (ends[at], ends[-1]))),
    ]
    shares = network.shares_of(read, pieces)
    likeliest = shares.argmax(1)
    sure = shares[np.arange(len(shares)), likeliest]
    packets = [spans[at].has("packet") for at in places]
    best = _best(network.labels, likeliest, sure, packets) if sure[0] < WHOLE else None
    if best is None:
        yield part
        return
    at = places[best]
    yield from _cut(_part(part, 0, at), ends[: at + 1], network, read, message)
    yield from _cut(_part(part, at, len(spans)), ends[at:], network, read, message)


def _stands(spans: Sequence[Span]) -> bool:
    """Whether something is said there by itself: a gravity or degrees, a number that words follow, a word of its own that
    is not only the name of what is put in."""
    if spans[0].qty is not None and len(spans) > 1:
        return True  # "16 up there"
    if len(spans) == 1 and spans[0].has("substance") and not spans[0].has("step"):
        return False
    return any(
        _is_reading(span) or (span.qty is None and tells_something([span]) and not span.has("put"))
        for span in spans
    )


def _is_reading(span: Span) -> bool:
    return span.qty is not None and (reads_gravity(span.qty) or span.qty.unit in DEGREES)


def _belongs(spans: Sequence[Span], at: int, small: SmallWords) -> bool:
    """Whether what follows goes on with what is before: "before the yeast", "at 22", "2 g | sulphite"."""
    before, after = spans[at - 1], spans[at]
    if after.fold.partition(" ")[0] in small.goes_on or before.fold.rpartition(" ")[2] in small.never_last:
        return True
    if before.has("step") and not (after.qty is not None and _is_reading(after)):
        return True  # "stirred | 200 g sugar"
    return before.qty is not None and not _is_reading(before)


def _best(
    labels: Sequence[str], likeliest: Sequence[int], sure: Sequence[float], packets: Sequence[bool]
) -> int | None:
    """Which of the places has the two surest facts on its sides; the first row is of the piece as one. `packets`: whether
    the word for a packet begins what follows."""
    found, most = None, 0.0
    for number, packet in enumerate(packets):
        one, other = 1 + 2 * number, 2 + 2 * number
        kinds = [labels[likeliest[side]] for side in (one, other)]
        facts = all(kind.partition(":")[0] in _FACTS for kind in kinds)
        same = kinds[0] == kinds[1] or (packet and all(map(_put_in, kinds)))
        both = float(sure[one] * sure[other])
        if facts and not same and min(sure[one], sure[other]) >= SURELY and both > most:
            found, most = number, both
    return found


def _put_in(label: str) -> bool:
    """Whether it is told that something went in: "the stabiliser | sachet" is one thing."""
    return label.startswith("add:") or label == "step:stabilise"


def _part(part: Saying, lo: int, hi: int) -> Saying:
    found = Saying(part.spans[lo:hi], hard=part.hard and not lo)
    found.asked = part.asked and hi == len(part.spans)
    return found
