"""Sayings: the smallest parts of a message that can each say one thing.

A saying ends at a mark, at a line, at a word that joins, and where a second value with a name of its own begins
("b1 1062 b2 1011"). What belongs together over several pieces is for those to say who read them.
"""

from collections.abc import Iterable, Sequence

from bot.understand.text import moods
from bot.understand.text.clauses import (
    DEGREES,
    SENTENCE_ENDS,
    VOLUMES,
    Clause,
    reads_gravity,
    reads_wine,
    tells_gravity,
)
from bot.understand.text.message import Message
from bot.understand.text.spans import Span
from bot.understand.text.times import TimeSaid

_HARD = SENTENCE_ENDS | {"…", "|"}
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
        return any(tells(span) for span in self.spans)


def asks(part: Saying) -> bool:
    """Whether it has the form of a question, by its mark or its first words."""
    return part.asked or moods.asks(Clause(list(part.spans)), by_words=True)


def sayings(message: Message, spans: Sequence[Span] | None = None) -> list[Saying]:
    """The pieces of a message, in order; of these of its spans where they are given."""
    found: list[Saying] = []
    current: list[Span] = []
    hard = True

    def end() -> None:
        nonlocal current, hard
        if current:
            for part in _chores_apart(Saying(current, hard=hard)):
                for one in _in_a_row(part):
                    found.extend(_values_apart(one))
            hard = False
        current = []

    every = message.spans if spans is None else spans
    for at, span in enumerate(every):
        if current and _lists_on(current, span, every[at + 1 :]):
            continue
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


def _lists_on(before: Sequence[Span], joint: Span, after: Sequence[Span]) -> bool:
    """Whether a word or mark joins two that one thing is told of, and ends no piece: "sanitised 1 and 2", "stirred the
    plum and the fig", "red and white mixed too"."""
    if not (_joins(joint) or (joint.kind == "mark" and joint.fold in _LISTS)):
        return False
    rest = [span for span in after if span.fold not in _ARTICLES]
    told = [span for span in before if span.fold not in _ARTICLES]
    if not told or not rest or not _alike(told[-1], rest[0]):
        return False
    if told[-1].ref is None and not calls_vessel(told, len(told) - 1):
        return False
    ends = next((span for span in rest[1:] if not span.has("filler")), None)
    if ends is None or ends.kind == "line" or (ends.kind == "mark" and ends.fold in _HARD):
        return True
    heads = all(span.fold in _ARTICLES or _is_target(span) for span in before)
    if heads and _chore(ends):
        return True
    return _joins(ends) and any(map(_chore, before))


_LISTS = frozenset({"&", "+", ","})


def _alike(one: Span, other: Span) -> bool:
    """Whether two names are both of vessels or both of wines; a small number is as a vessel."""
    kinds = [span.ref.kind if span.ref is not None else "" for span in (one, other)]
    if all(kind in ("batch", "colour") for kind in kinds):
        return one.ref != other.ref
    return all(
        _is_target(span) and kind in ("", "vessel") for span, kind in zip((one, other), kinds, strict=True)
    )


def calls_vessel(spans: Sequence[Span], at: int) -> bool:
    """Whether a number can be that of a vessel that something was done to: first, after a chore, or after another; not
    "sachet 1", "powder no 1"."""
    if at == 0:
        return True
    before = spans[at - 1]
    return _chore(before) or _is_target(before) or (before.ref is not None and before.ref.kind == "kind")


def _is_target(span: Span) -> bool:
    """Whether it can be what something was done to: a name of the house, a small number."""
    if span.ref is not None:
        return span.ref.kind in ("batch", "colour", "vessel")
    quantity = span.qty
    if quantity is None or quantity.unit is not None or quantity.decimals or quantity.spoken:
        return False
    return 0 < quantity.value < _MANY_VESSELS


def _joins(span: Span) -> bool:
    """Whether a word ends a piece; an arrow joins where wine came from with where it went."""
    return (
        span.is_("join", "soft") and span.ref is None and span.qty is None and not span.is_("part", "arrow")
    )


def carried(parts: Sequence[Saying | Clause]) -> dict[int, list[TimeSaid]]:
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


def _chores_apart(piece: Saying) -> Iterable[Saying]:
    """The piece, cut where another chore, reading or question begins without a word that joins: "cleaned the bucket
    sanitised it mixed the plum", "bo stirred the plum i stirred the white", "1.008 do we rack now"."""
    spans = piece.spans
    starts = [0]
    for at in range(1, len(spans)):
        since = spans[starts[-1] : at]
        if _another_chore(since, spans, at) or _read_next(since, spans, at) or _then_asked(since, spans, at):
            led = spans[at - 1].fold in _DOES or spans[at - 1].fold in _ARTICLES
            start = at - 1 if led and at - 1 > starts[-1] else at
            starts.append(start)
    return cut_at(piece, starts)


def cut_at(piece: Saying, starts: Sequence[int]) -> list[Saying]:
    """The piece in parts that start at these of its spans, the first at its first."""
    ends = [*starts[1:], len(piece.spans)]
    return [
        Saying(piece.spans[lo:hi], hard=piece.hard and not lo) for lo, hi in zip(starts, ends, strict=True)
    ]


def _in_a_row(piece: Saying) -> Iterable[Saying]:
    """The piece, cut before each thing that is told of in one word or number, where three or more follow each other and
    nothing else is said: "cleaned mixed 1086 yeast"."""
    spans = piece.spans
    things = [at for at in range(len(spans)) if _is_thing(spans, at)]
    bare = all(at in things or _beside_things(span) for at, span in enumerate(spans))
    doses = len(things) > 1 and all(spans[at].has("substance") for at in things)
    if not bare or not (doses or (len(things) >= _IN_A_ROW and any(map(_chore, spans)))):
        return [piece]
    first = spans[things[0]] if things else None
    behind = (
        doses
        and first is not None
        and all(
            at + 1 < len(spans) and spans[at + 1].qty is not None and not measured(spans[at + 1])
            for at in things
        )
    )  # "sulphite 2 g sorbate 5 g"
    starts = [0, *(at - (0 if behind else _leads_to(spans, at)) for at in things[1:])]
    return cut_at(piece, starts)


_IN_A_ROW = 3


def _is_thing(spans: Sequence[Span], at: int) -> bool:
    """Whether a chore, a gravity, a temperature of its own or something put in is told there."""
    span = spans[at]
    if span.qty is not None:
        warm = span.qty.unit in DEGREES
        return reads_gravity(span.qty) or (warm and at > 0 and not tells_gravity(spans[at - 1]))
    return _chore(span) or (span.has("substance") and not span.has("step"))


def _chore(span: Span) -> bool:
    return span.has("step") or span.is_("part", "washed")


def _beside_things(span: Span) -> bool:
    """What may stand among them: names, amounts, the words of what is measured."""
    return span.ref is not None or span.qty is not None or span.moment is not None or span.has("measure")


def _leads_to(spans: Sequence[Span], at: int) -> int:
    """How many spans before it are of that thing: "og" before its gravity, "2 g" before what went in."""
    before = spans[at - 1]
    amount = spans[at].has("substance") and before.qty is not None and not measured(before)
    return int(before.has("measure") or before.ref is not None or amount)


def _another_chore(since: Sequence[Span], spans: Sequence[Span], at: int) -> bool:
    """Whether a second chore begins: a verb of what was done, not after an article or "is", or "after racking it"."""
    span, before = spans[at], spans[at - 1]
    after = spans[at + 1] if at + 1 < len(spans) else None
    if span.fold == "after" and after is not None and after.has("step", "ing"):
        return any(map(_does, since))
    if not _does(span) or not all(tag.form == "done" for tag in span.tags if tag.kind == "step"):
        return False
    led = before.is_("mood", "aux") or before.is_("part", "into") or before.has("amount")
    led = led or before.is_("mood", "negation") or before.fold in _ARTICLES
    return not led and any(map(_does, since))


def _does(span: Span) -> bool:
    """Whether a word says that something was done."""
    return span.has("step", "done") or span.is_("put", "done") or span.is_("part", "washed")


def _read_next(since: Sequence[Span], spans: Sequence[Span], at: int) -> bool:
    """Whether a wine and its value begin after a chore of a wine: "stirred the plum the plum is 1.011"."""
    after = spans[at + 1 : at + 3]
    value = bool(after) and after[-1].qty is not None and measured(after[-1])
    if spans[at].ref is None or not value or (len(after) > 1 and not after[0].has("filler")):
        return False
    return any(span.has("step", "done") for span in since) and any(span.ref is not None for span in since)


def _then_asked(since: Sequence[Span], spans: Sequence[Span], at: int) -> bool:
    """Whether a question begins after a fact: "do we", "when can I"."""
    ask = spans[at].is_("mood", "ask") and not spans[at].is_("mood", "relative")
    first = at + 1 if ask or spans[at].is_("mood", "relative") else at
    if first + 1 >= len(spans) or spans[at - 1].fold in _DOES:
        return False
    if _turns_round(since, spans, at):
        return True
    if spans[first].fold not in _ASKING or not spans[first + 1].is_("mood", "subject"):
        return False
    if any(span.has("step", "done") or (span.qty is not None and measured(span)) for span in since):
        return True
    stopped = spans[first + 1].fold in _DOES  # "it stopped fizzing do we rack"
    return stopped and len(since) > 2 and not any(map(_asks_before, since))


def _turns_round(since: Sequence[Span], spans: Sequence[Span], at: int) -> bool:
    """ "Smells like bananas is that ok": a helping verb before who or what was spoken of, after words that tell something."""
    verb, who, before = spans[at], spans[at + 1], spans[at - 1]
    if before.is_("mood", "subject") or before.is_("mood", "aux") or not who.is_("mood", "subject"):
        return False
    if verb.fold not in _ASKING and not (verb.fold in _ASKING_WHOM and who.fold in _DOES):
        return False
    told = len(since) > 1 and any(tells(span) or span.qty is not None for span in since)
    return told and not any(map(_asks_before, since))


def _asks_before(span: Span) -> bool:
    return any(span.is_("mood", mood) for mood in ("ask", "want", "relative", "unreal", "aux"))


_ARTICLES = frozenset({"a", "an", "the"})
_DOES = frozenset({"i", "we", "you", "he", "she", "they"})
_ASKING = frozenset({"do", "does", "can", "could", "should", "shall", "is", "are", "was", "will", "isnt"})
_ASKING_WHOM = frozenset({"am", "did", "have", "were", "must", "would"})
"""Verbs that ask before "I" or "you" only: "mum did it"."""


def _values_apart(piece: Saying) -> Iterable[Saying]:
    """The piece, cut before each further value that has a name of its own beside it."""
    parts: list[list[Span]] = [[]]
    named = valued = False
    for at, span in enumerate(piece.spans):
        value = span.qty is not None and measured(span)
        name = span.ref is not None or _numbers_a_vessel(piece.spans, at)
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


def _numbers_a_vessel(spans: Sequence[Span], at: int) -> bool:
    """ "1 is .997 2 is 1.012": whether a small number stands before a gravity, as the number of its vessel."""
    quantity = spans[at].qty
    if quantity is None or quantity.unit is not None or quantity.decimals or quantity.spoken:
        return False
    rest = [span for span in spans[at + 1 : at + 3] if not span.has("filler")]
    after = rest[0].qty if rest else None
    return 0 < quantity.value < _MANY_VESSELS and after is not None and reads_gravity(after)


_MANY_VESSELS = 10


def measured(span: Span) -> bool:
    """Whether it is a number that a measurement of wine can be by itself."""
    return reads_wine(span) or (span.qty is not None and span.qty.unit in VOLUMES)


def tells(span: Span) -> bool:
    """Whether it is a word of its own, beside names, numbers, times and small words."""
    if span.kind == "word":
        return True
    if span.kind != "phrase":
        return False
    return not (span.has("filler") or span.has("hedge")) or any(
        span.has(kind)
        for kind in ("step", "put", "move", "substance", "bottles", "measure", "question", "fill")
    )
