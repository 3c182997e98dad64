"""Lists that name their kind once: "buckets 1, 2 and 3", "added sorbate, sulphite and finings"."""

from collections.abc import Sequence

from bot.understand.text.clauses import Clause
from bot.understand.text.names import Names, Ref
from bot.understand.text.spans import Span

_MOST_PIECES = 6
"""Of a clause that only goes on with a list of things put in."""

_MOST_UNKNOWN = 2


def vessels_listed(spans: Sequence[Span], names: Names) -> None:
    """Turns the numbers that go on with a list of vessels into vessels, in place."""
    last: Ref | None = None
    for index, span in enumerate(spans):
        if span.ref is not None:
            last = span.ref if span.ref.kind in ("vessel", "unknown") else None
        elif span.qty is not None:
            ref = names.next_vessel(last, span.qty.value) if last and _goes_on(spans, index) else None
            if ref is not None:
                span.ref, span.qty, span.kind, span.tags = ref, None, "ref", ()
            last = ref
        elif not _joins(span):
            last = None


def _joins(span: Span) -> bool:
    return span.has("join") or (span.kind == "mark" and span.fold in ",&+/")


def _goes_on(spans: Sequence[Span], at: int) -> bool:
    """Whether a plain number after a vessel and a comma or "and" is no amount of what follows it."""
    number = spans[at].qty
    if (
        number is None
        or number.unit is not None
        or number.decimals
        or number.signed
        or not _joins(spans[at - 1])
    ):
        return False
    after = spans[at + 1] if at + 1 < len(spans) else None
    if after is None or _joins(after) or after.kind in ("line", "time"):
        return True
    return (after.kind == "mark" and after.fold in ".;!?:") or after.has("step", "done") or _leads(after)


def _leads(span: Span) -> bool:
    """Words between a list of names and what is said of them."""
    return span.qty is None and (
        span.is_("mood", "aux") or span.is_("part", "at") or span.is_("part", "into")
    )


def goes_on_adding(before: Clause, piece: Clause) -> bool:
    """Whether a clause only names more of what the clause before put in, or puts in what that one only names."""
    if piece.hard or before.asked or piece.asked or not (_adds(before) and _adds(piece)):
        return False
    if before.refs and piece.refs:
        return False
    if piece.quantities or not (_only_things(piece) or _only_things(before)):
        return False
    return before.means("put", "done") or (not before.quantities and _only_things(before) and _into(piece))


def _adds(clause: Clause) -> bool:
    others = ("step", "question", "begin", "chatter", "bottles", "fill", "move")
    return clause.any("substance") and not any(
        span.has(kind) and not span.has("substance") and not span.has("put")
        for span in clause.spans
        for kind in others
    )


def _only_things(clause: Clause) -> bool:
    return (
        len(clause.spans) <= _MOST_PIECES
        and all(
            span.has("substance")
            or span.has("filler")
            or span.ref is not None
            or span.kind in ("mark", "time")
            for span in clause.spans
        )
        and not clause.means("put", "done")
    )


def _into(clause: Clause) -> bool:
    return bool(clause.refs) and any(span.is_("part", "into") for span in clause.spans)


def goes_on_unknown(clause: Clause) -> bool:
    """Whether a clause goes on with a list of things put in, in words that nobody knows: "and zorbulon to the
    plum", "and some other stuff"."""
    rest = [span for span in clause.spans if span.kind != "mark"]
    vague = clause.means("vague", "thing") and not clause.words()
    small = all(
        span.kind == "word" or span.has("filler") or span.has("vague") or span.ref is not None
        for span in rest
    )
    named = len(clause.words()) <= _MOST_UNKNOWN and bool(clause.words()) and _into(clause)
    return not clause.hard and small and (named or vague)


def all_listed(clause: Clause, count: int) -> bool:
    """Whether so many names stand one after the other with no more than commas and "and" between them: "buckets
    1 and 2", but not "the plum in bucket 3"."""
    places = [
        index for index, span in enumerate(clause.spans) if span.ref is not None and span.ref.kind != "every"
    ]
    between = clause.spans[places[0] : places[-1]] if places else []
    return len(places) == count and all(span.ref is not None or _joins(span) for span in between)


def times_done(clause: Clause) -> int:
    """How often the clause says that something was done: 2 for "twice", 1 where it does not say,
    0 where it cannot be counted: "twice a day"."""
    said = next((span.value("often") for span in clause.spans if span.has("often")), None)
    return int(said) if said else 1
