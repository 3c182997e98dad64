"""Spans to clauses: the pieces of a message that each say one thing, with their mood."""

import itertools
from collections.abc import Iterable, Sequence

from bot.understand.lexicon import Tag
from bot.understand.names import Ref
from bot.understand.scene import Scene
from bot.understand.spans import Quantity, Span
from bot.understand.times import Moment

_HARD = frozenset(".;!?")
_SOFT = frozenset(",/&+|()~•*–")
SCALES = frozenset({"brix", "plato", "oechsle", "baume"})
DEGREES = frozenset({"celsius", "fahrenheit", "degree"})
VOLUMES = frozenset({"litre", "gallon", "ml", "cl", "pint"})
DOSES = frozenset(
    {"g", "kg", "mg", "oz", "lb", "tsp", "tbsp", "tablet", "sachet", "ml", "litre", "cl", "pint", "gallon"}
)


class Clause:
    """A piece of a message. `asked` when it ends in a question mark."""

    __slots__ = ("_heads", "asked", "hard", "spans")

    def __init__(self, spans: list[Span], *, asked: bool = False, hard: bool = False) -> None:
        self.spans = spans
        self.asked = asked
        self.hard = hard
        """Whether a full stop or a new line came before it."""

    def __repr__(self) -> str:
        return f"Clause({self.spans}{' ?' if self.asked else ''})"

    def each(self, kind: str, form: str | None = None) -> list[Span]:
        """Its spans that can mean something of a kind (and form)."""
        return [span for span in self.spans if span.has(kind, form)]

    def any(self, kind: str, form: str | None = None) -> bool:
        """Whether one of its spans can mean something of a kind (and form)."""
        for span in self.spans:
            if span.tags and span.has(kind, form):
                return True
        return False

    def means(self, kind: str, value: str) -> bool:
        """Whether one of its spans can mean just this."""
        for span in self.spans:
            if span.tags and span.is_(kind, value):
                return True
        return False

    @property
    def refs(self) -> list[Ref]:
        """The batches and vessels it names, in order."""
        return [span.ref for span in self.spans if span.ref is not None]

    @property
    def moments(self) -> list[Moment]:
        """The times it names, in order."""
        return [
            span.moment
            for index, span in enumerate(self.spans)
            if span.moment is not None and not _not_when(self.spans[:index])
        ]

    @property
    def quantities(self) -> list[Quantity]:
        """Its numbers, in order."""
        return [span.qty for span in self.spans if span.qty is not None]

    def words(self) -> list[Span]:
        """Its words that mean nothing to the grammar."""
        return [span for span in self.spans if span.kind == "word"]

    def clean(self) -> bool:
        """Whether all in it is a name, a time, a small word or the name of a measure."""
        return all(
            span.kind in ("ref", "time", "mark", "line")
            or span.has("filler")
            or span.has("measure")
            or span.has("batchword")
            or span.has("hedge")
            for span in self.spans
        ) and not any(span.is_("mood", "negation") for span in self.spans)

    def has_head(self) -> bool:
        """Whether something in it could be a fact or a question by itself."""
        return any(_is_head(span) for span in self.spans)

    def only_degrees(self) -> bool:
        """A temperature and small words only: the sample's, when a gravity came just before."""
        heads = [span for span in self.spans if _is_head(span)]
        return (
            len(heads) == 1
            and heads[0].qty is not None
            and (
                heads[0].qty.unit in DEGREES
                or (heads[0].qty.unit is None and self.means("measure", "temperature"))
            )
            and not self.refs
            and all(
                span in heads or span.kind == "mark" or span.has("filler") or span.has("measure")
                for span in self.spans
            )
        )

    def only_words(self) -> bool:
        """One to three words that mean nothing to the grammar, and nothing else."""
        return len(self.spans) <= 3 and all(span.kind == "word" for span in self.spans)

    def only_amount_of(self) -> bool:
        """Words and an amount: "elderflowers, 20 g"."""
        return len(self.quantities) == 1 and self.quantities[0].unit in DOSES

    def only_amount_in_words(self) -> bool:
        """An amount in words and small words only: "a level tsp", "half a teaspoon"."""
        units = [span for span in self.spans if span.value("unit") in DOSES]
        return (
            bool(units)
            and self.any("amount")
            and not self.quantities
            and len(self.words()) <= 1
            and all(
                span.kind in ("word", "mark") or span.has("filler") or span.has("amount") or span in units
                for span in self.spans
            )
        )

    def only_amount(self) -> bool:
        """A number (with a unit) and small words only."""
        return len(self.quantities) == 1 and all(
            span.qty is not None or span.kind in ("mark", "time") or span.has("filler") or span.has("unit")
            for span in self.spans
        )


def _not_when(before: Sequence[Span]) -> bool:
    """Whether what stands before a time makes it another thing's: "ready for tomorrow", "dinner at 8"."""
    if not before:
        return False
    besides = before[-1].has("chatter") and not any(span.is_("mood", "relative") for span in before)
    return besides or before[-1].is_("part", "purpose")


_HEADS = ("step", "substance", "packet", "question", "undo", "begin")


def _is_head(span: Span) -> bool:
    if span.qty is not None:
        return True
    return any(tag.kind in _HEADS and tag.form != "weak" for tag in span.tags) or span.is_("put", "done")


def reads_gravity(quantity: Quantity) -> bool:
    """Whether a number looks like a gravity by itself: 1.012, 0.998, .998, 1012."""
    if quantity.unit in SCALES:
        return True
    if quantity.unit is not None or quantity.signed:
        return False
    if quantity.decimals >= 3:
        return 0.9 <= quantity.value < 1.3
    return quantity.decimals == 0 and 960 <= quantity.value <= 1200


def colours(spans: Sequence[Span], scene: Scene) -> None:
    """Turns a colour into a name where the house has such a batch and no other thing is painted with it."""
    have = {batch.colour for batch in scene.batches}
    several = len(scene.under_way) > 1
    for index, span in enumerate(spans):
        if several and (span.is_("batchword", "every") or span.is_("batchword", "named")):
            span.ref = Ref("every", span.fold, 2.0 if span.is_("batchword", "named") else 1.3)
            span.kind = "ref"
            continue
        colour = span.value("colour")
        if span.kind != "phrase" or colour not in have or colour is None:
            continue
        after = spans[index + 1] if index + 1 < len(spans) else None
        if after is not None and after.has("chatter"):
            continue
        span.ref = Ref("colour", colour, 1.1 if after is not None and after.kind == "word" else 1.5)
        span.kind = "ref"
    for before, span in itertools.pairwise(spans):
        kind = span.ref is not None and span.ref.kind == "kind"
        if kind and before.ref is not None and before.ref.kind in ("colour", "batch"):
            span.ref, span.kind = None, "phrase"
            span.tags = (Tag("filler", "reading", ""),)


def members(spans: Sequence[Span], scene: Scene) -> None:
    """Makes the household's people small words, who can be the subject of a question."""
    for span in spans:
        if span.kind == "word" and span.fold in scene.members:
            span.kind = "phrase"
            span.tags = (Tag("mood", "subject", ""), Tag("filler", "social", ""))


def split(spans: Sequence[Span]) -> list[Clause]:
    """The clauses of a message, in order."""
    pieces = _pieces(spans)
    clauses: list[Clause] = []
    for piece in pieces:
        if clauses and _belongs(clauses[-1], piece):
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
        if span.kind == "line" or (span.kind == "mark" and span.fold in _HARD and not _short(spans, index)):
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
    if not before.has_head():
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
    if not piece.has_head():
        if (
            before.any("substance")
            and not before.quantities
            and not piece.hard
            and piece.only_amount_in_words()
        ):
            return True
        if piece.hard or piece.means("vague", "thing"):
            return False
        if not piece.clean():
            led = (
                piece.refs and not before.refs and piece.spans[0].has("filler") and piece.spans[0].ref is None
            )
            return bool(led) and len(piece.words()) <= 2 and before.only_amount_of()
        clocks = [moment.exact for moment in before.moments]
        if piece.moments and (any(clocks) or sum(span.has("filler") for span in piece.spans) > 1):
            return bool(piece.refs) and not before.refs
        if len(piece.refs) > 1 and before.any("step"):
            return False
        if piece.refs:
            return not before.refs or not before.quantities
        return bool(piece.spans)
    listed = all(span.has("substance") or span.has("filler") for span in before.spans)
    if listed and piece.means("put", "done") and not piece.hard:
        return True
    if piece.only_degrees():
        return any(reads_gravity(quantity) for quantity in before.quantities) and not any(
            quantity.unit in DEGREES for quantity in before.quantities
        )
    if piece.only_amount() and not piece.refs:
        unit = piece.quantities[0].unit
        if (
            before.means("step", "bottle")
            and unit in (None, "bottle")
            and not reads_gravity(piece.quantities[0])
        ):
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
    heads = [span for span in clause.spans if _is_head(span)]
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
    for span in clause.spans:
        current = parts[-1]
        done = _measured(current, named=named) and any(item.ref is not None for item in current)
        measure = span.value("measure") if done else None
        if measure is not None and any(item.is_("measure", measure) for item in current):
            parts.append([])
        begins = span.ref is not None or (
            span.qty is not None and reads_gravity(span.qty) and _gravity_in(current)
        )
        if done and begins and _complete(current, span):
            parts.append([])
            while len(current) > 1 and (current[-1].has("correct") or current[-1].kind == "mark"):
                parts[-1].insert(0, current.pop())
        parts[-1].append(span)
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
