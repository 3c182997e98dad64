"""Spans to clauses: where one ends and the next begins; and lists that name their kind once: "buckets 1, 2 and 3",
"added sorbate, sulphite and finings"."""

from collections.abc import Iterable, Sequence

from bot.understand.text.clauses import DEGREES, DOSES, SENTENCE_ENDS, VOLUMES, Clause, is_head, reads_gravity
from bot.understand.text.names import Names, Ref
from bot.understand.text.spans import Quantity, Span

_MOST_PIECES = 6
"""Of a clause that only goes on with a list of things put in."""

_MOST_UNKNOWN = 2

_OF_ITS_OWN = (("vague", "thing"), ("part", "washed"), ("part", "did"))
"""With these a piece tells something itself: "washed bucket 3", "cleo did the white"."""


_SOFT = frozenset(",/&+|()~•*–")
_MOST_JOINED = 40
"""A clause of more spans than this is not gone on with: all of it would be looked at for each piece."""


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


def in_turn(spans: Sequence[Span]) -> Sequence[Span]:
    """The spans, with each of several wines listed before as many gravities put before its own: "plum and white: 1.010
    and 1.058"."""
    lists: list[list[int]] = []
    values: list[list[int]] = []
    for at, span in enumerate(spans):
        ref = span.ref is not None and span.ref.kind in ("batch", "colour", "vessel")
        value = span.qty is not None and reads_gravity(span.qty)
        if not (ref or value):
            if not _joins(span) and span.qty is not None:
                return spans
            continue
        found = lists if ref else values
        joined = bool(found) and all(
            _joins(each) or (ref and each.has("filler")) for each in spans[found[-1][-1] + 1 : at]
        )
        if joined and at - found[-1][-1] > 1:
            found[-1].append(at)
        else:
            found.append([at])
    if len(lists) != 1 or len(values) != 1 or len(lists[0]) < 2 or len(lists[0]) != len(values[0]):
        return spans
    names, numbers = lists[0], values[0]
    between = spans[names[-1] + 1 : numbers[0]]
    if names[-1] > numbers[0] or any(span.kind == "line" or span.fold in (".", "?", "!") for span in between):
        return spans
    whose = dict(zip(numbers, names, strict=True))
    return [
        each
        for at, span in enumerate(spans)
        if at not in names
        for each in ((spans[whose[at]], span) if at in whose else (span,))
    ]


def split(spans: Sequence[Span]) -> list[Clause]:
    """The clauses of a message, in order."""
    pieces = _pieces(spans)
    clauses: list[Clause] = []
    headed = bool(pieces) and _names_only(pieces[0])  # "plum. stirred. white. stirred."
    for piece in pieces:
        heads = headed and piece.hard and _names_only(piece)
        if clauses and not heads and len(clauses[-1].spans) <= _MOST_JOINED and _belongs(clauses[-1], piece):
            clauses[-1].spans.extend(piece.spans)
            clauses[-1].asked = clauses[-1].asked or piece.asked
        else:
            clauses.append(piece)
    return [part for clause in clauses for part in _parts(clause)]


def _pieces(spans: Sequence[Span]) -> list[Clause]:
    pieces: list[Clause] = []
    current: list[Span] = []
    hard = True

    def close(*, asked: bool = False) -> None:
        nonlocal current
        if current:
            pieces.append(Clause(current, asked=asked, hard=hard))
            current = []
        elif asked and pieces:
            pieces[-1].asked = True

    for index, span in enumerate(spans):
        if span.kind == "line" or (
            span.kind == "mark" and span.fold in SENTENCE_ENDS and not _short(spans, index)
        ):
            close(asked=span.fold == "?")
            hard = True
        elif ((span.kind == "mark" and span.fold in _SOFT) or span.has("join")) and not (
            _keeps(spans, index) or _plus(spans, index)
        ):
            close()
            hard = False
        elif _asks_on(current, spans, index):
            close()
            hard = False
            current.append(span)
        else:
            current.append(span)
            continue
        if not pieces:
            hard = True
    close()
    return pieces


def _asks_on(current: Sequence[Span], spans: Sequence[Span], at: int) -> bool:
    """Whether a question begins after a reading without a comma: "b2 1.012 when do we rack"."""
    word = spans[at].is_("mood", "ask")
    after = spans[at + 1] if at + 1 < len(spans) else None
    if spans[at].is_("mood", "relative") and (after is None or not after.is_("mood", "aux")):
        return False
    return word and any(item.qty is not None and reads_gravity(item.qty) for item in current)


def _keeps(spans: Sequence[Span], at: int) -> bool:
    """Whether a comma or "and" only joins two parts of one thing."""
    return _sample(spans, at) or _packets(spans, at)


def _packets(spans: Sequence[Span], at: int) -> bool:
    """Whether an "and" stands between the numbers of "sachets 2 and 3"."""
    if at < 2 or at + 1 >= len(spans) or not any(span.has("packet") for span in spans[max(0, at - 4) : at]):
        return False
    after = spans[at + 1]
    plain = after.qty is not None and after.qty.unit is None and after.qty.value in range(1, 21)
    counts = at + 2 < len(spans) and spans[at + 2].has("substance")
    if plain and counts:
        return False  # "packet 2 and two campden tablets"
    return (plain or (len(after.fold) == 1 and after.fold.isalpha())) and spans[at - 2].fold != after.fold


def _sample(spans: Sequence[Span], at: int) -> bool:
    """Whether a comma, stroke or "and" stands between a gravity and the sample's temperature."""
    before = spans[at - 1].qty if at else None
    after = spans[at + 1].qty if at + 1 < len(spans) else None
    if before is None or after is None:
        return False
    if reads_gravity(after) and not reads_gravity(before):
        starts = at < 2 or spans[at - 2].kind in ("mark", "line", "ref")
        return starts and (before.unit in DEGREES or _bare(before))
    if not reads_gravity(before):
        return False
    if after.unit in DEGREES:
        return True
    ends = at + 2 >= len(spans) or spans[at + 2].kind in ("mark", "line") or spans[at + 2].has("join")
    return _bare(after) and ends


def _short(spans: Sequence[Span], at: int) -> bool:
    """Whether a full stop only ends a short word before a number: "sachet no. 1"."""
    numbered = at and spans[at - 1].has("packet") and " " in spans[at - 1].fold
    return bool(numbered) and spans[at].fold == "." and at + 1 < len(spans) and spans[at + 1].qty is not None


def _plus(spans: Sequence[Span], at: int) -> bool:
    """ "Plum + 100 g elderberries": a plus between a name and an amount of something."""
    if spans[at].fold != "+" or not at or at + 2 >= len(spans):
        return False
    dose = spans[at + 1].qty
    return spans[at - 1].ref is not None and dose is not None and dose.unit in DOSES


def _bare(quantity: Quantity) -> bool:
    """A number without a unit that a sample's temperature can be."""
    return (
        quantity.unit is None
        and quantity.decimals <= 1
        and not quantity.signed
        and 8 <= quantity.value <= 100
    )


def _belongs(before: Clause, piece: Clause) -> bool:
    """Whether a piece only completes the clause before it."""
    if _names_only(piece) and _unnamed(before):
        return True
    if before.asked:
        return False
    if goes_on_adding(before, piece):
        return True
    if not before.has_head():
        return _opens(before, piece)
    return _completes(before, piece) if piece.has_head() else _adds_detail(before, piece)


def _opens(before: Clause, piece: Clause) -> bool:
    """Whether a clause that says nothing yet opens what the piece says: "plum, 1.012", "no, 1.014"."""
    if before.any("correct") and all(span.has("correct") or span.kind == "mark" for span in before.spans):
        return piece.has_head() or bool(piece.refs)
    if before.only_words() and piece.quantities and piece.quantities[0].unit in DOSES:
        return piece.spans[0].qty is not None and not piece.any("substance")
    if not before.clean() or not (before.refs or before.moments or before.any("measure")):
        return False
    if piece.refs and before.refs and not (_only(before, "ref") and not piece.hard):
        return False
    if piece.hard and before.any("measure") and not before.refs:
        return False
    return piece.has_head() or piece.clean()


def _adds_detail(before: Clause, piece: Clause) -> bool:
    """Whether a piece that says nothing by itself tells of which batch, when, or how much: "1.012, plum"."""
    amountless = before.any("substance") and not before.quantities
    if amountless and not piece.hard and piece.only_amount_in_words():
        return True
    if piece.hard or any(piece.means(*tells) for tells in _OF_ITS_OWN):
        return False
    if not piece.clean():
        led = piece.refs and not before.refs and piece.spans[0].has("filler") and piece.spans[0].ref is None
        return bool(led) and len(piece.words()) <= 2 and before.only_amount_of()
    clocks = [moment.exact for moment in before.moments]
    if piece.moments and (any(clocks) or sum(span.has("filler") for span in piece.spans) > 1):
        return bool(piece.refs) and not before.refs
    if len(piece.refs) > 1 and before.any("step"):
        return False
    if piece.refs:
        return not before.refs or not before.quantities
    return bool(piece.spans)


def _completes(before: Clause, piece: Clause) -> bool:
    """Whether a piece that could stand alone is the rest of the clause before: a sample's temperature, an amount."""
    listed = all(span.has("substance") or span.has("filler") for span in before.spans)
    if listed and piece.means("put", "done") and not piece.hard:
        return True
    if piece.only_degrees():
        return any(reads_gravity(quantity) for quantity in before.quantities) and not any(
            quantity.unit in DEGREES for quantity in before.quantities
        )
    if piece.only_amount() and not piece.refs:
        unit = piece.quantities[0].unit
        bottles = unit in (None, "bottle") and not reads_gravity(piece.quantities[0])
        if before.means("step", "bottle") and bottles:
            return not before.quantities
        if before.any("substance") and not piece.hard and unit in DOSES:
            return not before.quantities
    return False


def _names_only(clause: Clause) -> bool:
    """Only a batch or vessel said after what it is about: "1.012!! plum!!", "now what? plum"."""
    rest = [span for span in clause.spans if span.ref is None and span.kind != "mark"]
    named = [ref for ref in clause.refs if ref.kind in ("batch", "vessel", "colour")]
    return len(named) == len(clause.refs) == 1 and not clause.asked and all(_linking(span) for span in rest)


def _linking(span: Span) -> bool:
    return span.is_("part", "into") or span.is_("filler", "link")


def _unnamed(clause: Clause) -> bool:
    """One reading, chore or question alone, without a name and without a word too many."""
    heads = [span for span in clause.spans if is_head(span)]
    return (
        len(heads) == 1
        and not clause.refs
        and not clause.means("mood", "negation")
        and all(span in heads or span.kind == "mark" or span.has("filler") for span in clause.spans)
    )


def _only(clause: Clause, kind: str) -> bool:
    return all(span.kind == kind or span.kind == "mark" or span.has("filler") for span in clause.spans)


def _measured(spans: Iterable[Span], *, named: bool = False) -> bool:
    return any(
        span.qty is not None
        and (
            reads_gravity(span.qty)
            or span.qty.unit in DEGREES
            or span.qty.unit in VOLUMES
            or (named and span.qty.unit is None)
        )
        for span in spans
    )


def _parts(clause: Clause) -> list[Clause]:
    """A clause that says two things of two batches without a comma: "b1 1062 b2 1011"."""
    parts: list[list[Span]] = [[]]
    if clause.asked:
        return [clause]
    named = clause.any("measure")
    measured = referred = (
        False  # of the last part: asked anew for every span, it would take the square of the time
    )
    for span in clause.spans:
        current = parts[-1]
        done = measured and referred
        measure = span.value("measure") if done else None
        if measure is not None and any(item.is_("measure", measure) for item in current):
            parts.append([])
        begins = done and (
            span.ref is not None
            or (span.qty is not None and reads_gravity(span.qty) and _gravity_in(current))
        )
        if begins and _complete(current, span):
            parts.append([])
            while len(current) > 1 and (current[-1].has("correct") or current[-1].kind == "mark"):
                parts[-1].append(current.pop())
            parts[-1].reverse()
        if parts[-1] is not current:
            measured = _measured(parts[-1], named=named)
            referred = any(item.ref is not None for item in parts[-1])
        parts[-1].append(span)
        measured = measured or _measured((span,), named=named)
        referred = referred or span.ref is not None
    heading = next((span for span in parts[0] if span.has("measure")), None)
    if heading is not None and parts[0][0] is heading:
        for part in parts[1:]:
            if not any(span.has("measure") for span in part):
                part.insert(0, heading)
    if len(parts) > 1 and not _measured(parts[-1], named=named) and not Clause(parts[-1]).has_head():
        last = parts.pop()
        parts[-1].extend(last)
    return [
        Clause(part, asked=clause.asked, hard=clause.hard and index == 0) for index, part in enumerate(parts)
    ]


def _gravity_in(spans: Iterable[Span]) -> bool:
    return any(span.qty is not None and reads_gravity(span.qty) for span in spans)


def _complete(spans: Sequence[Span], following: Span) -> bool:
    """Whether the clause so far names its batch and its value, so that `following` starts another."""
    if following.ref is None:
        return True
    first = next(span for span in spans if span.ref is not None or (span.qty is not None))
    return first.ref is not None or sum(span.ref is not None for span in spans) >= 1
