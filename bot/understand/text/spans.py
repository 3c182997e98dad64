"""Tokens to spans: names, times, quantities with their units, phrases of the grammar, and words left over."""

from collections.abc import Sequence
from functools import lru_cache
from typing import Literal, get_args

import msgspec

from bot.cellar.log.acts import Colour, StepName
from bot.understand.text.lexicon import Lexicon, Tag
from bot.understand.text.names import Names, Ref
from bot.understand.text.numbers import Number, codes, read_number, with_half
from bot.understand.text.scan import Token
from bot.understand.text.times import TimeSaid
from bot.understand.text.timewords import TimeGrammar

SpanKind = Literal["ref", "qty", "time", "phrase", "word", "mark", "line", "noise"]


_STEPS: tuple[StepName, ...] = get_args(StepName)
_COLOURS: tuple[Colour, ...] = get_args(Colour)


class Quantity(msgspec.Struct, frozen=True):
    """A number and the unit that was said with it. `decimals` as written; `signed` with + or - before it."""

    value: float
    unit: str | None
    decimals: int
    signed: bool
    text: str
    spoken: bool = False


def colour_among(tags: Sequence[Tag]) -> Colour | None:
    """The first colour that a word can mean."""
    for tag in tags:
        for name in _COLOURS:
            if tag.kind == "colour" and tag.value == name:
                return name
    return None


class Span:
    """A piece of the message that means one thing. `lo` and `hi` are its first and last-plus-one tokens."""

    __slots__ = ("fold", "hi", "kind", "lo", "mended", "moment", "opens", "qty", "ref", "tags", "used")

    def __init__(
        self,
        kind: SpanKind,
        lo: int,
        hi: int,
        fold: str,
        *,
        tags: tuple[Tag, ...] = (),
        ref: Ref | None = None,
        qty: Quantity | None = None,
        moment: TimeSaid | None = None,
        mended: bool = False,
    ) -> None:
        self.kind = kind
        self.lo = lo
        self.hi = hi
        self.fold = fold
        self.tags = tags
        self.ref = ref
        self.qty = qty
        self.moment = moment
        self.mended = mended
        self.used = False
        self.opens = False
        """Whether its first word is one that questions begin with."""

    def copied(self) -> "Span":
        """The same, to be changed by itself."""
        new = Span(
            self.kind,
            self.lo,
            self.hi,
            self.fold,
            tags=self.tags,
            ref=self.ref,
            qty=self.qty,
            moment=self.moment,
            mended=self.mended,
        )
        new.used, new.opens = self.used, self.opens
        return new

    def has(self, kind: str, form: str | None = None) -> bool:
        """Whether it can mean something of a kind (and form)."""
        for tag in self.tags:  # asked hundreds of times a message: a plain loop takes a third of the time
            if tag.kind == kind and (form is None or tag.form == form):
                return True
        return False

    def value(self, kind: str) -> str | None:
        """What it means as something of a kind."""
        for tag in self.tags:
            if tag.kind == kind:
                return tag.value
        return None

    def is_(self, kind: str, value: str) -> bool:
        """Whether it can mean just this."""
        for tag in self.tags:
            if tag.kind == kind and tag.value == value:
                return True
        return False

    @property
    def step(self) -> StepName | None:
        """The chore that it names."""
        value = self.value("step")
        return next((name for name in _STEPS if name == value), None)

    @property
    def colour(self) -> Colour | None:
        """The colour that it names."""
        return colour_among(self.tags)

    def __repr__(self) -> str:
        inner = (
            self.ref
            or self.qty
            or self.moment
            or [".".join(filter(None, (tag.kind, tag.value, tag.form))) for tag in self.tags]
        )
        return f"<{self.kind} {self.fold!r} {inner}>"


class Reader:
    """Labels the tokens of a message with what the words of a language and the names of a house make of them."""

    def __init__(self, words: Lexicon, names: Names) -> None:
        self._words = words
        self._names = names
        self._times = _grammar(words)

    def label(self, tokens: Sequence[Token]) -> list[Span]:
        """The spans of a message, in order, none overlapping, every token in one."""
        tokens = [self._plain(token) if token.owner else token for token in tokens]
        folds = [token.fold for token in tokens]
        spans: list[Span] = []
        named = codes(tokens, self._words, self._is_name)
        at = 0
        while at < len(tokens):
            if at in named:
                span = Span("word", at, named[at], _said(folds, at, named[at]))
            else:
                span = self._span(tokens, folds, at)
            spans.append(span)
            at = span.hi
        return spans

    def _plain(self, token: Token) -> Token:
        """ "Plum's" as "plum", unless "what's" and the like is a word of its own."""
        number = any(tag.kind == "number" for tag in self._words.tags(token.owner))
        tags = self._words.tags(token.fold)
        painted = bool(tags) and all(tag.kind == "colour" for tag in tags)
        vessel = any(tag.kind == "vessel" for tag in self._words.tags(token.owner))
        if number or painted or vessel or not self._words.tags(token.fold):
            return msgspec.structs.replace(token, fold=token.owner)
        return token

    def _span(self, tokens: Sequence[Token], folds: Sequence[str], at: int) -> Span:
        token = tokens[at]
        if token.kind == "line":
            return Span("line", at, at + 1, "\n")
        if token.kind in ("phone", "link"):
            return Span("noise", at, at + 1, token.fold)
        phrase = self._phrase(folds, at)
        name = self._names.find(tokens, at)
        if name and (phrase is None or name[0] >= phrase[0]):
            return Span(
                "ref", at, name[0], _said(folds, at, name[0]), ref=name[1], tags=phrase[1] if phrase else ()
            )
        vessel = self._names.find_vessel(tokens, at) if token.kind in ("word", "num") else None
        if vessel and (phrase is None or vessel[0] >= phrase[0]):
            return Span("ref", at, vessel[0], _said(folds, at, vessel[0]), ref=vessel[1])
        when = self._times.find(tokens, at, self._is_amount)
        if when and self._part_of(folds, when[0]) is not None:
            when = None  # "3/4 of a teaspoon" is no day
        if when and (phrase is None or when[0] >= phrase[0]):
            return Span(
                "time",
                at,
                when[0],
                _said(folds, at, when[0]),
                moment=when[1],
                tags=phrase[1] if phrase else (),
            )
        quantity = self._quantity(tokens, folds, at)
        if quantity and (phrase is None or quantity[0] >= phrase[0]):
            tags = phrase[1] if phrase else ()
            return Span("qty", at, quantity[0], _said(folds, at, quantity[0]), qty=quantity[1], tags=tags)
        if phrase:
            kind: SpanKind = "mark" if token.kind == "mark" and phrase[0] == at + 1 else "phrase"
            span = Span(kind, at, phrase[0], _said(folds, at, phrase[0]), tags=phrase[1])
            span.opens = any(
                tag.kind == "mood" and tag.value in ("ask", "aux") for tag in self._words.tags(folds[at])
            )
            return span
        if token.kind == "mark":
            return Span("mark", at, at + 1, token.fold)
        return self._mend(tokens, at)

    def _phrase(self, folds: Sequence[str], at: int) -> tuple[int, tuple[Tag, ...]] | None:
        """The longest phrase that begins at a word, without the first word of a figure read out: "scratch that | one oh
        one two"."""
        phrase = self._words.longest(folds, at)
        if phrase is None or phrase[0] - at < 2 or phrase[0] >= len(folds):
            return phrase
        if any(tag.value == "and_half" for tag in phrase[1]) and self._unit(folds, phrase[0] + 1):
            return self._words.longest(folds[: at + 1], at)  # "sugar and half a teaspoon"
        figure = folds[phrase[0] - 1] in self._words.counting and any(
            tag.kind == "spoken" for tag in self._words.tags(folds[phrase[0]])
        )
        return self._words.longest(folds[: phrase[0] - 1], at) if figure else phrase

    def _mend(self, tokens: Sequence[Token], at: int) -> Span:
        """A word that nothing knows: perhaps a slip of the finger."""
        word = tokens[at].fold
        if tokens[at].kind == "word":
            name = self._names.near(tokens, at)
            if name:
                ref = msgspec.structs.replace(name[1], sure=min(name[1].sure, 1.5))
                return Span("ref", at, name[0], word, ref=ref, mended=True)
            short = self._names.shortened(tokens, at)
            if short is not None:
                return Span("ref", at, at + 1, word, ref=short)
            meant = self._words.near(word)
            if meant:
                mended = [token.fold for token in tokens[at : at + 6]]
                mended[0] = meant
                found = self._words.longest(mended, 0)
                if found:
                    return Span("phrase", at, at + found[0], meant, tags=found[1], mended=True)
        return Span("word", at, at + 1, word)

    def _is_name(self, tokens: Sequence[Token], at: int) -> bool:
        """Whether a name of the house begins here: "plum1.012", "b2-1012"."""
        return self._names.find(tokens, at) is not None or self._names.find_vessel(tokens, at) is not None

    def _is_amount(self, word: str) -> bool:
        """Whether a word after a number makes it an amount and not an hour."""
        return any(
            tag.kind in ("unit", "substance", "vessel", "packet", "spoken", "number", "times")
            for tag in self._words.tags(word)
        )

    def _quantity(
        self, tokens: Sequence[Token], folds: Sequence[str], at: int
    ) -> tuple[int, Quantity] | None:
        number = read_number(tokens, at, self._words)
        if number is None:
            return self._one_and_a_half(tokens, folds, at)
        unit_at = number.end
        if unit_at < len(folds) and folds[unit_at] == "x" and tokens[unit_at].glued:
            unit_at += 1
        unit = None if _initial_after(number, tokens, unit_at) else self._unit(folds, unit_at)
        end, name = unit if unit else (unit_at, None)
        if unit is None and unit_at < len(folds) and folds[unit_at] == "-" and tokens[unit_at].glued:
            hyphened = self._unit(folds, unit_at + 1)
            if hyphened:
                end, name = hyphened
        if unit is None and 0 < number.value < 1 and number.decimals < _OF_GRAVITY[0]:
            part = self._part_of(folds, unit_at)
            end, name = part if part else (end, name)
        if name not in (None, "bottle", "sachet", "tablet"):  # "twenty two degrees and a half"
            halved = with_half(tokens, msgspec.structs.replace(number, end=end), self._words)
            number, end = halved, halved.end
        return end, _as_quantity(number, name, _said(folds, at, end))

    def _one_and_a_half(
        self, tokens: Sequence[Token], folds: Sequence[str], at: int
    ) -> tuple[int, Quantity] | None:
        """ "A teaspoon and a half"."""
        unit = self._unit(folds, at + 1) if self._words.means(folds[at], "amount", "1") else None
        if unit is None:
            return None
        number = with_half(tokens, Number(end=unit[0], value=1.0, decimals=0), self._words)
        if number.end == unit[0]:
            return None
        return number.end, _as_quantity(number, unit[1], _said(folds, at, number.end))

    def _part_of(self, folds: Sequence[str], at: int) -> tuple[int, str] | None:
        """ "3/4 of a teaspoon": the unit of which a part is said."""
        found = self._words.longest(folds, at)
        if found is None or not any(tag.value == "some" for tag in found[1]):
            return None
        at = found[0]
        one = at < len(folds) and self._words.means(folds[at], "amount", "1")
        return self._unit(folds, at + 1 if one else at)

    def _unit(self, folds: Sequence[str], at: int) -> tuple[int, str] | None:
        found = self._words.longest(folds, at)
        if found is None:
            meant = self._words.near(folds[at]) if at < len(folds) else None
            slip = [tag.value for tag in self._words.tags(meant) if tag.kind == "unit"] if meant else []
            return (at + 1, slip[0]) if slip else None
        for tag in found[1]:
            if tag.kind == "unit":
                return found[0], tag.value
        for tag in self._words.tags(folds[at]):
            if tag.kind == "unit":
                return at + 1, tag.value
        return None


@lru_cache(maxsize=8)
def _grammar(words: Lexicon) -> TimeGrammar:
    return TimeGrammar(words.times)


def _initial_after(number: Number, tokens: Sequence[Token], at: int) -> bool:
    """ "P 1.012 H 1.010": whether a letter apart from a gravity is the beginning of a name, and no unit."""
    gravity = number.decimals >= _OF_GRAVITY[0] and _OF_GRAVITY[1] < number.value < _OF_GRAVITY[2]
    return gravity and at < len(tokens) and len(tokens[at].fold) == 1 and not tokens[at].glued


_OF_GRAVITY = (3, 0.97, 1.13)
"""Decimals of a gravity, and between what it is."""


def _as_quantity(number: Number, unit: str | None, text: str) -> Quantity:
    return Quantity(number.value, unit, number.decimals, number.signed, text, number.spoken)


def _said(folds: Sequence[str], lo: int, hi: int) -> str:
    return folds[lo] if hi == lo + 1 else " ".join(folds[lo:hi])
