"""Which words of a beginning are the batch's name, learned: "reet, it's a red un, we're callin it owd flamer, 23 litre".

A name can be any word, so what stands around it tells: what leads to it and what follows, marks, capitals, what the grammar
makes of its words. Every run of words that can be one is weighed against the others and against none of them, by a
log-linear model (`ops/train_names.py`, `words/<language>/names.weights`). What the forms of `begun.py` take for the name is
one of the things it looks at.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache

import msgspec
import numpy as np
import numpy.typing as npt

from bot.understand.claims.traits import TraitWeights, decode, numbers, shares_by
from bot.understand.text.language import file_of
from bot.understand.text.message import Message
from bot.understand.text.near import near_of
from bot.understand.text.scan import fold
from bot.understand.text.spans import Span

_LONGEST, _LONGEST_TITLE = 4, 7
"""Words of a name; of one that is written as a title."""
_NUMBERED = (2, 3)
"""Words of a name that ends in a number: "Lot 9"."""
_FAR = 6
_GROUP = "name"
_KINDS = ("begin", "kitword", "filler", "mood", "join", "step", "unit")


class Candidate(msgspec.Struct, frozen=True):
    """Words that can be a name: where they stand among the tokens, and the name itself."""

    lo: int
    hi: int
    name: str


def named(
    message: Message, forms: Mapping[str, str], *, within: tuple[int, int] | None = None, one_of: int = 1
) -> tuple[str | None, float]:
    """The likeliest name in a message, or within a stretch of its tokens, and how likely that is; None where likelier
    nothing names it. `forms` is what other forms took for names, folded, and how; `one_of` so many that are begun."""
    model = weights_of(message.scene.language)
    found = candidates(message)
    every = shares_of(traits(message, found, forms), model)
    likely: dict[str, float] = {}
    written: dict[str, str] = {}
    for each, share in zip(found, every[:-1], strict=True):
        if within is None or (within[0] <= each.lo and each.hi <= within[1]):
            key = fold(each.name)
            likely[key] = likely.get(key, 0.0) + float(share)
            written.setdefault(key, each.name)
    none = float(every[-1]) / one_of  # each of several has but its part of all
    best = max(likely, key=lambda key: likely[key], default=None)
    if best is None or likely[best] <= none:
        return None, none
    return written[best], likely[best] / (likely[best] + none) if within is not None else likely[best]


def shares_of(rows: Iterable[Sequence[int]], model: TraitWeights) -> npt.NDArray[np.float64]:
    """How likely each candidate is the name, by its traits, and last that none is: shares that sum to one."""
    return shares_by([*map(model.score, rows), model.none])


def candidates(message: Message) -> list[Candidate]:
    """Every run of words that can be a name; the word before "'s" by itself too."""
    tokens, text = message.tokens, message.text
    measured = {
        place
        for span in message.spans
        if (span.qty is not None and span.qty.unit is not None)
        or (span.ref is not None and span.ref.kind == "vessel")
        for place in range(span.lo, span.hi)
    }
    found: list[Candidate] = []
    for lo, first in enumerate(tokens):
        if first.kind != "word" or lo in measured or _slip_of_colour(first.fold, message):
            continue
        for hi in range(lo + 1, min(len(tokens), lo + _LONGEST_TITLE) + 1):
            last = tokens[hi - 1]
            if last.kind not in ("word", "num") or (hi - 1 in measured and last.kind != "num"):
                break
            if last.kind == "num" and hi - lo not in _NUMBERED:
                break
            if hi - lo > _LONGEST and not _title(message, lo, hi):
                continue
            found.append(Candidate(lo, hi, text[first.start : last.end]))
            if last.owner and last.kind == "word":
                found.append(Candidate(lo, hi, text[first.start : last.start] + last.owner))
    return found


def _capital(message: Message, at: int) -> bool:
    return message.text[message.tokens[at].start].isupper()


def _title(message: Message, lo: int, hi: int) -> bool:
    return _capital(message, lo) and _capital(message, hi - 1)


def traits(message: Message, found: Sequence[Candidate], forms: Mapping[str, str]) -> Iterator[list[int]]:
    """The numbers of what stands in and around each candidate, each once."""
    around = _Around(message)
    for each in found:
        yield numbers(_GROUP, dict.fromkeys(_traits(around, each, forms)))


class _Around:
    """What a message has at each place, and beyond both its ends."""

    def __init__(self, message: Message) -> None:
        self.message = message
        self.tokens = message.tokens
        self.span: dict[int, Span] = {
            place: span for span in message.spans for place in range(span.lo, span.hi)
        }
        self.folds = Counter(token.fold for token in self.tokens)
        self.naming = [at for at, token in enumerate(self.tokens) if token.fold in message.small.name.by]
        self.capitals = any(
            _capital(message, at) and not self.opens(at)
            for at, token in enumerate(self.tokens)
            if token.kind == "word"
        )
        self.people = {fold(each) for each in (*message.scene.members, message.by or "")}

    def opens(self, at: int) -> bool:
        return at == 0 or self.tokens[at - 1].kind == "mark"

    def closes(self, at: int) -> bool:
        return at >= len(self.tokens) or self.tokens[at].kind == "mark"

    def word(self, at: int) -> str:
        """The word at a place; a number, a name or a time as what it is."""
        if not 0 <= at < len(self.tokens):
            return "^" if at < 0 else "$"
        span = self.span.get(at)
        if span is not None and span.qty is not None:
            return f"<{span.qty.unit}>"
        if span is not None and span.ref is not None:
            return f"<{span.ref.kind}>"
        return "<time>" if span is not None and span.moment is not None else self.tokens[at].fold

    def kind(self, at: int) -> str:
        """What the grammar makes of the word at a place."""
        if not 0 <= at < len(self.tokens):
            return "^" if at < 0 else "$"
        span = self.span.get(at)
        if self.tokens[at].kind == "mark" or span is None:
            return "mark"
        if span.qty is not None:
            return "number"
        if span.ref is not None:
            return span.ref.kind
        if span.colour is not None:
            return "colour"
        if span.moment is not None:
            return "time"
        if span.kind == "word" or span.mended:
            return "word"
        return next((kind for kind in _KINDS if span.has(kind)), "phrase")


def _traits(around: _Around, each: Candidate, forms: Mapping[str, str]) -> Iterator[str]:
    lo, hi, tokens = each.lo, each.hi, around.tokens
    size = hi - lo
    before, after = around.word(lo - 1), around.word(hi)
    led, followed = around.kind(lo - 1), around.kind(hi)
    yield from (
        f"before {before}",
        f"before {around.word(lo - 2)} {before}",
        f"two before {around.word(lo - 2)}",
        f"after {after}",
        f"after {after} {around.word(hi + 1)}",
        f"two after {around.word(hi + 1)}",
        f"after {after}, {around.kind(hi + 1)}",
        f"before {before}, {around.kind(lo - 2)}",
        f"between {before} {after}",
        f"led {led}",
        f"led {around.kind(lo - 2)} {led}",
        f"followed {followed}",
        f"followed {followed} {around.kind(hi + 1)}",
        f"held {led} {followed}",
    )
    kinds = [around.kind(at) for at in range(lo, hi)]
    yield from (f"has {kind}" for kind in sorted(set(kinds)))
    if size < _LONGEST:
        yield f"kinds {' '.join(kinds)}"
    yield f"unknown {kinds.count('word')} of {size}"
    yield f"first {'word' if kinds[0] == 'word' else tokens[lo].fold}"
    yield f"last {'word' if kinds[-1] == 'word' else tokens[hi - 1].fold}"
    yield from (f"word {tokens[at].fold}" for at in range(lo, hi))
    yield from _written(around, each)
    yield from _told(around, each, forms)


def _written(around: _Around, each: Candidate) -> Iterator[str]:
    """How it is written: capitals, marks around it, which piece of the message it is in."""
    lo, hi, message = each.lo, each.hi, around.message
    size = hi - lo
    capitals = [_capital(message, at) for at in range(lo, hi)]
    how = "all" if all(capitals) else "first" if capitals[0] else "some" if any(capitals) else "none"
    how = f"{how} {around.opens(lo)} {around.capitals}"
    exact = around.opens(lo) and around.closes(hi)
    marks = sum(token.kind == "mark" for token in around.tokens[:lo])
    yield from (f"capitals {how}", f"capitals {how} {size}", f"words {size}", f"alone {exact} {size}")
    yield from (f"at {min(lo, 3)}", f"piece {min(marks, 4)} {exact}")
    start = around.tokens[lo].start
    if start and message.text[start - 1] in "\"“‘'":
        yield "quoted"
    if around.tokens[hi - 1].owner:
        yield f"owner {fold(each.name).endswith('s')} {size}"


def _told(around: _Around, each: Candidate, forms: Mapping[str, str]) -> Iterator[str]:
    """What else says that it is the name, or that it is none."""
    lo, hi, message = each.lo, each.hi, around.message
    before = [at for at in around.naming if at < lo]
    after = [at for at in around.naming if at >= hi]
    yield f"named before {min(lo - before[-1], _FAR) if before else 'no'}"
    yield f"named after {min(after[0] - hi, _FAR) if after else 'no'}"
    if any(lo <= at < hi for at in around.naming):
        yield "names"
    yield f"again {max(around.folds[around.tokens[at].fold] for at in range(lo, hi)) > 1}"
    yield f"form {forms.get(fold(each.name))}"
    folds = [around.tokens[at].fold for at in range(lo, hi)]
    if not around.people.isdisjoint(folds):
        yield f"somebody {hi - lo}"
    near = near_of(message.scene.language)
    yield from (f"near {kind}" for kind in near.kinds_of(near.found(folds)))


def _slip_of_colour(word: str, message: Message) -> bool:
    """ "Wren whtie 23 l": whether a word is meant for a colour, where none is told otherwise."""
    colours = message.small.name.colours
    told = any(span.colour is not None for span in message.spans)
    return not told and any(_slipped(word, colour) for colour in colours)


def _slipped(word: str, colour: str) -> bool:
    """Whether a word is that of a colour with two letters changed about, or one left out or put twice."""
    if word == colour or abs(len(word) - len(colour)) > 1 or len(word) < len(colour) - 1:
        return False
    if len(word) == len(colour):
        return word[0] == colour[0] and sorted(word) == sorted(colour)
    long, short = (word, colour) if len(word) > len(colour) else (colour, word)
    return len(short) > 1 and any(long[:at] + long[at + 1 :] == short for at in range(1, len(long)))


@lru_cache(maxsize=8)
def weights_of(language: str) -> TraitWeights:
    """The weights of a language; the English ones where it has none."""
    return decode(file_of(language, "names.weights").read_bytes())
