"""What a piece of a message tells or asks, learned: a log-linear model over its words and over what the grammar sees.

The rules hear the words that they were written with; this hears what resembles them. Features are the words alone and
two together, runs of three to five letters within a word (a slip changes few of them), what the grammar makes of each
span, the first and the last word, the words of the pieces around, what words mean nearly the same (`near.py`): their
kinds, and where they point together; and what stands around the message (`setting.py`): what is waited for, open, just
told. Numbers and names stand for their kind. The weights are learned from labelled
messages and talks (`sh ops/train`) and kept in `words/<language>/labels.weights`; a feature is looked up by its CRC-32.
"""

import json
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import combinations, pairwise
from math import sqrt
from typing import Any

import msgspec
import numpy as np
import numpy.typing as npt

from bot.understand.claims.encoder import Encoder, MessageRead, encoder_of
from bot.understand.claims.setting import setting_of
from bot.understand.claims.traits import numbers, runs, stem
from bot.understand.text.clauses import DEGREES, DOSES, VOLUMES, reads_gravity
from bot.understand.text.language import file_of, tables_of
from bot.understand.text.lexicon import Tag
from bot.understand.text.message import Message
from bot.understand.text.near import near_of
from bot.understand.text.sayings import Saying, asks, whole
from bot.understand.text.scan import Token
from bot.understand.text.spans import Quantity, Span

PLACES = 1 << 16
MOST_CONCEPTS = 12
"""Of which pairs are looked at."""
SETTING, OF_SETTING = "setting", 1.5
"""The group of what stands around the message, and how much it counts beside a group of the words' own."""
_MOST_KNOWN = 20_000
_SMALL = 40


class Weights(msgspec.Struct, frozen=True):
    """The weights, a row a place and a column a label, in steps; those of where words point, a row a dimension; what
    each label has before anything is looked at."""

    language: str
    labels: Sequence[str]
    bias: npt.NDArray[np.float32]
    step: float
    weights: npt.NDArray[np.int8]
    pointing: npt.NDArray[np.float32]
    trained_on: str
    beside: Encoder | None = None
    """The network that is asked as well; its labels are the same."""


class Traits(msgspec.Struct, frozen=True):
    """What stands in a saying: the places of the weights of its features, by their groups, and where its words point."""

    places: Mapping[str, Sequence[int]]
    direction: npt.NDArray[np.float32]


class LabelledSaying(msgspec.Struct, frozen=True):
    """A piece and how likely it says each of the model's labels."""

    saying: Saying
    shares: npt.NDArray[np.float64]
    labels: Sequence[str]

    def best(self) -> tuple[str, float]:
        """The likeliest label, and how likely it is."""
        at = int(self.shares.argmax())
        return self.labels[at], float(self.shares[at])

    def asked(self) -> tuple[str, float]:
        """The likeliest question, and how likely that is of all that it can be as a question."""
        every, likeliest = self.questions(1)
        name, share = likeliest[0]
        return name, share / (every or 1.0)

    def ranked(self, most: int = 6) -> list[tuple[str, float]]:
        """The labels by how likely they are, the likeliest first."""
        order = np.argsort(-self.shares)[:most]
        return [(self.labels[at], float(self.shares[at])) for at in order]

    def share(self, *labels: str) -> float:
        """How likely it is one of these labels."""
        at = _index(tuple(self.labels))
        return float(sum(self.shares[at[label]] for label in labels if label in at))

    def questions(self, most: int) -> tuple[float, list[tuple[str, float]]]:
        """How likely it asks something, and the likeliest questions."""
        at = _asking(tuple(self.labels))
        shares = self.shares[at]
        order = np.argsort(-shares)[:most]
        return float(shares.sum()), [(self.labels[at[one]], float(shares[one])) for one in order]


@lru_cache(maxsize=8)
def _index(labels: tuple[str, ...]) -> Mapping[str, int]:
    return {label: at for at, label in enumerate(labels)}


@lru_cache(maxsize=8)
def _asking(labels: tuple[str, ...]) -> npt.NDArray[np.intp]:
    return np.array([at for at, label in enumerate(labels) if label.startswith("ask:")], np.intp)


def labelled(
    parts: Sequence[Saying], message: Message, model: Weights, read: MessageRead | None = None
) -> tuple[list[LabelledSaying], LabelledSaying]:
    """How likely each saying of a message says each label, and how likely all of it as one does: shares that sum to
    one. Where the model has a network beside it, what both make of it: neither is surer. `read`: the words of these
    sayings, where the network has read them."""
    words = [words_of(part.spans, message.tokens) for part in parts]
    setting = setting_said(message, words)
    rows = list(_rows_of(parts, words, setting, message, model.language))
    if len(parts) > 1:
        every = [[word for said in words for word in said]]
        rows += _rows_of([whole(parts)], every, setting, message, model.language)
    shares = [_shares(row, model) for _, row in rows]
    if model.beside is not None:
        each, every_one = model.beside.shares(words, setting, read)
        others = [*each, every_one] if len(parts) > 1 else each
        shares = [_both(one, other) for one, other in zip(shares, others, strict=True)]
    found = [LabelledSaying(part, share, model.labels) for (part, _), share in zip(rows, shares, strict=True)]
    return found[: len(parts)], found[-1]


_OF_NETWORK = 0.6
"""How much of the mean is the network's."""


def _both(one: npt.NDArray[np.float64], other: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """What the weights and the network say together: the geometric mean of their shares, the network's counting more."""
    mean = one ** (1 - _OF_NETWORK) * other**_OF_NETWORK
    out: npt.NDArray[np.float64] = mean / mean.sum()
    return out


def setting_said(message: Message, words: Sequence[Sequence[str]]) -> list[str]:
    """What stands around a message that has these words."""
    figures = sorted({word for said in words for word in said if word.startswith("<")} - _NO_FIGURES)
    return setting_of(message, figures)


_FEW = 256
"""Of so many rows every sum has a place in 16 bits, and adding goes faster."""


def _shares(row: Traits, model: Weights) -> npt.NDArray[np.float64]:
    scores = model.bias + (row.direction @ model.pointing).astype(np.float64)
    for group, found in row.places.items():
        if found:
            wide = np.int16 if len(found) <= _FEW else np.int32
            total = np.add.reduce(model.weights.take(found, axis=0), axis=0, dtype=wide)
            scores += total * (share_of(group, found) * model.step)
    scores -= scores.max()
    shares = np.exp(scores)
    out: npt.NDArray[np.float64] = shares / shares.sum()
    return out


def share_of(group: str, found: Sequence[int]) -> float:
    """How much each feature of a group counts beside so many."""
    return (OF_SETTING if group == SETTING else 1.0) / sqrt(max(len(found), 1))


def rows_of(parts: Sequence[Saying], message: Message, language: str) -> Iterator[tuple[Saying, Traits]]:
    """What stands in each saying, and around the message; a feature counts once. What is asked beside other things is
    looked at as were it asked alone: what is told beside it says little of what it asks."""
    words = [words_of(part.spans, message.tokens) for part in parts]
    yield from _rows_of(parts, words, setting_said(message, words), message, language)


def _rows_of(
    parts: Sequence[Saying],
    words: Sequence[Sequence[str]],
    setting: Sequence[str],
    message: Message,
    language: str,
) -> Iterator[tuple[Saying, Traits]]:
    """The same, where the words of each saying and what stands around the message are known."""
    near, concepts = near_of(language), concepts_of(language)
    around_all = list(_each(SETTING, setting))
    for at, part in enumerate(parts):
        alone = len(parts) > 1 and asks(part)
        around = [word for other, said in enumerate(words) if other != at and not alone for word in said]
        found = near.found(words[at])
        places = _places(part, words[at], around, concepts)
        places["near"] = list(_each("near", near.kinds_of(found)))
        places[SETTING] = (
            list(_each(SETTING, setting_said(message, words[at : at + 1]))) if alone else around_all
        )
        yield part, Traits(places, near.direction(found))


def _places(
    part: Saying, words: Sequence[str], around: Sequence[str], concepts: "Concepts"
) -> dict[str, list[int]]:
    """Where the weights of what stands in a piece are."""
    stems = [stem(word) for word in words]
    held = ["^", *stems, "$"]
    beside = [f"{one} {other}" for one, other in pairwise(held)]
    over = [f"{one} _ {other}" for one, other in zip(held, held[2:], strict=False)]
    letters: dict[int, None] = {}
    for word in words:
        if word.isalpha():
            letters |= _runs(word)
    grammar: dict[int, None] = {}
    for span in part.spans:
        grammar |= _tags(span.tags, span.mended)
    marks = ["?"] if part.asked else []
    grammar |= _each("grammar", [*marks, f"words {min(len(words), 6)}"])
    about = concepts.among(words)
    together = [f"{one} {other}" for one, other in combinations(sorted(about)[:MOST_CONCEPTS], 2)]
    return {
        "word": list(_each("word", [*stems, *beside, *over])),
        "letters": list(letters),
        "grammar": list(grammar),
        "around": list(_each("around", map(stem, around))),
        "about": list(_each("about", about)),
        "together": list(_each("together", together)),
    }


def _each(group: str, features: Iterable[str]) -> dict[int, None]:
    """Where the weights of these features of a group stand, each once."""
    return dict.fromkeys([number % PLACES for number in numbers(group, features)])


_NO_FIGURES = frozenset({"<time>", "<vessel>", "<batch>", "<every>", "<colour>"})


def words_of(spans: Sequence[Span], tokens: Sequence[Token]) -> list[str]:
    """The words of a piece; numbers, names and times as what they are."""
    words: list[str] = []
    for span in spans:
        if span.ref is not None:
            words.append(f"<{'vessel' if span.ref.kind in ('vessel', 'unknown', 'kind') else span.ref.kind}>")
        elif span.qty is not None:
            words.append(_number(span.qty))
        elif span.moment is not None:
            words.append("<time>")
        else:
            words.extend(token.fold for token in tokens[span.lo : span.hi] if token.kind != "num")
    return words


def _number(quantity: Quantity) -> str:
    if reads_gravity(quantity):
        return "<gravity>"
    if quantity.unit in DEGREES:
        return "<degrees>"
    if quantity.unit in VOLUMES:
        return "<volume>"
    if quantity.unit in DOSES:
        return f"<dose {quantity.unit}>"
    if quantity.unit is not None:
        return f"<{quantity.unit}>"
    if quantity.decimals:
        return "<decimal>"
    return "<few>" if quantity.value <= 10 else "<some>" if quantity.value <= _SMALL else "<many>"


@lru_cache(maxsize=8_000)
def _tags(tags: tuple[Tag, ...], mended: bool) -> dict[int, None]:
    """Where the weights of what a span means to the grammar stand."""
    found: list[str] = []
    for tag in tags:
        found.append(f"{tag.kind} {tag.value}")
        if tag.form:
            found.append(f"{tag.kind} {tag.value} {tag.form}")
    return _each("grammar", [*found, "mended"] if mended else found)


@lru_cache(maxsize=20_000)
def _runs(word: str) -> dict[int, None]:
    """Where the weights of a word's runs of letters stand."""
    return dict.fromkeys([number % PLACES for number in runs(word)])


class Concepts:
    """What words are about: `*` in the data stands for any ending, `_` joins words that follow each other."""

    def __init__(self, table: Mapping[str, str]) -> None:
        self._words: dict[str, list[str]] = {}
        self._starts: dict[str, list[tuple[str, str]]] = {}
        self._runs: dict[str, list[tuple[tuple[str, ...], str]]] = {}
        for concept, said in table.items():
            for word in said.split():
                parts = tuple(word.split("_"))
                if len(parts) > 1:
                    self._runs.setdefault(parts[0], []).append((parts, concept))
                elif word.endswith("*"):
                    self._starts.setdefault(word[:2], []).append((word[:-1], concept))
                else:
                    self._words.setdefault(word, []).append(concept)
        self._known: dict[str, tuple[str, ...]] = {}

    def _of(self, word: str) -> tuple[str, ...]:
        found = self._known.get(word)
        if found is None:
            starts = [concept for start, concept in self._starts.get(word[:2], ()) if word.startswith(start)]
            found = tuple(dict.fromkeys((*self._words.get(word, ()), *starts)))
            if len(self._known) < _MOST_KNOWN:
                self._known[word] = found
        return found

    def among(self, words: Sequence[str]) -> list[str]:
        """The concepts that some words are about, each once."""
        found: dict[str, None] = {}
        for at, word in enumerate(words):
            found |= dict.fromkeys(self._of(word))
            for run, concept in self._runs.get(word, ()):
                if tuple(words[at : at + len(run)]) == run:
                    found[concept] = None
        return list(found)


@lru_cache(maxsize=8)
def concepts_of(language: str) -> Concepts:
    """The concepts of a language."""
    return Concepts(tables_of(language, "concepts"))


@lru_cache(maxsize=8)
def model_of(language: str) -> Weights:
    """The weights of a language; the English ones where it has none."""
    return with_network(decode(file_of(language, "labels.weights").read_bytes()), encoder_of(language))


def with_network(model: Weights, network: Encoder) -> Weights:
    """The same weights with a network beside them, its labels in their order."""
    return msgspec.structs.replace(model, beside=network.among(model.labels))


def encode(model: Weights) -> bytes:
    """The file of a model: a line that tells what is in it, then where each weight stands that is not nothing (the
    count of each row, its columns) and the weights, packed, and those of where words point."""
    rows, columns = np.nonzero(model.weights)
    head: dict[str, Any] = {
        "language": model.language,
        "labels": list(model.labels),
        "bias": [round(float(each), 3) for each in model.bias],
        "step": model.step,
        "trained_on": model.trained_on,
        "count": len(rows),
    }
    counts = np.bincount(rows, minlength=PLACES).astype(np.uint8)
    body = counts.tobytes() + columns.astype(np.uint8).tobytes() + model.weights[rows, columns].tobytes()
    body += model.pointing.astype("<f2").tobytes()
    return json.dumps(head).encode() + b"\n" + zlib.compress(body, 9)


def decode(content: bytes) -> Weights:
    """A model from its file."""
    line, _, packed = content.partition(b"\n")
    head = json.loads(line)
    body = np.frombuffer(zlib.decompress(packed), np.uint8)
    counts, columns, values, pointing = np.split(body, np.cumsum([PLACES, head["count"], head["count"]]))
    weights = np.zeros((PLACES, len(head["labels"])), np.int8)
    weights[np.repeat(np.arange(PLACES), counts), columns] = values.view(np.int8)
    return Weights(
        language=head["language"],
        labels=tuple(head["labels"]),
        bias=np.array(head["bias"], np.float32),
        step=head["step"],
        weights=weights,
        pointing=pointing.view("<f2").astype(np.float32).reshape(-1, len(head["labels"])),
        trained_on=head["trained_on"],
    )
