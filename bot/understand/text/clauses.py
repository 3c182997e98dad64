"""Clauses: the pieces of a message that each say one thing, with their mood."""

import itertools
from collections.abc import Iterable, Sequence

from bot.understand.scene import Scene
from bot.understand.text.lexicon import Tag
from bot.understand.text.names import Ref
from bot.understand.text.spans import Quantity, Span
from bot.understand.text.times import TimeSaid

SCALES = frozenset({"brix", "plato", "oechsle", "baume"})
DEGREES = frozenset({"celsius", "fahrenheit", "degree"})
VOLUMES = frozenset({"litre", "gallon", "ml", "cl", "pint"})
DOSES = frozenset(
    {"g", "kg", "mg", "oz", "lb", "tsp", "tbsp", "tablet", "sachet", "ml", "litre", "cl", "pint", "gallon"}
)
SENTENCE_ENDS = frozenset(".;!?")
"""Marks after which another sentence begins."""


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
    def moments(self) -> list[TimeSaid]:
        """The times it names, in order."""
        found: list[TimeSaid] = []
        before: Span | None = None
        relative = False
        for span in self.spans:
            if span.moment is not None and not _not_when(before, relative=relative):
                found.append(span.moment)
            relative = relative or span.is_("mood", "relative")
            before = span
        return found

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
        return any(is_head(span) for span in self.spans)

    def only_degrees(self) -> bool:
        """A temperature and small words only: the sample's, when a gravity came just before."""
        heads = [span for span in self.spans if is_head(span)]
        return (
            len(heads) == 1
            and heads[0].qty is not None
            and (
                heads[0].qty.unit in DEGREES
                or (heads[0].qty.unit is None and self.means("measure", "temperature"))
            )
            and not self.refs
            and not self.means("part", "warm")
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


def _not_when(before: Span | None, *, relative: bool) -> bool:
    """Whether what stands before a time makes it another thing's: "ready for tomorrow", "dinner at 8", "same as Friday"."""
    if before is None:
        return False
    return (
        (before.has("chatter") and not relative)
        or before.is_("part", "purpose")
        or before.is_("part", "likened")
    )


_NEEDY = ("step", "put", "move", "fill", "bottles", "measure", "topic")
_HEADS = ("step", "substance", "packet", "question", "undo", "begin")


def is_head(span: Span) -> bool:
    if span.qty is not None:
        return True
    return any(tag.kind in _HEADS and tag.form != "weak" for tag in span.tags) or span.is_("put", "done")


def may_tell(span: Span) -> bool:
    """Whether something can be told with it: a head, or a verb or measure that needs more to be one."""
    return is_head(span) or any(span.has(kind) for kind in _NEEDY)


_CHATTER = {"strong": 1.5, "weak": 0.6}
_ASIDE_WORDS = 3


def chatter(spans: Iterable[Span]) -> float:
    """The weight of everyday words that have no place in a message about wine."""
    total = 0.0
    aside = 0
    for span in spans:
        if span.is_("part", "aside"):
            aside = _ASIDE_WORDS + 1
        aside -= 1
        if span.used or span.ref is not None or aside > 0:
            continue
        if span.kind == "noise":
            total += _CHATTER["strong"]
        for tag in span.tags:
            if tag.kind == "chatter":
                total += _CHATTER[tag.value]
                break
    return total


def of_bottles(span: Span) -> bool:
    """Whether it speaks of bottles, by the word or by a number of them."""
    return span.is_("unit", "bottle") or (span.qty is not None and span.qty.unit == "bottle")


def reads_gravity(quantity: Quantity) -> bool:
    """Whether a number looks like a gravity by itself: 1.012, 0.998, .998, 1012."""
    if quantity.unit in SCALES:
        return True
    if quantity.unit is not None or quantity.signed:
        return False
    if quantity.decimals >= 3:
        return 0.9 <= quantity.value < 1.3
    return quantity.decimals == 0 and 960 <= quantity.value <= 1200


def tells_gravity(span: Span) -> bool:
    """Whether it is a number that is a gravity by itself."""
    return span.qty is not None and reads_gravity(span.qty)


def reads_wine(span: Span) -> bool:
    """Whether it is a gravity, or a number with a unit of temperature."""
    return tells_gravity(span) or (span.qty is not None and span.qty.unit in DEGREES)


def is_packet(span: Span) -> bool:
    """Whether it is a packet, or so many of them."""
    return span.has("packet") or (span.qty is not None and span.qty.unit == "sachet")


def colours(spans: Sequence[Span], scene: Scene) -> None:
    """Turns a colour into a name where the house has such a batch and no other thing is painted with it."""
    have = {batch.colour for batch in scene.batches}
    several = len(scene.under_way) > 1 or len(scene.batches) - len(scene.under_way) > 1
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
