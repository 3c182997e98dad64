"""How like the messages that told of a danger another one is: a log-linear model over its words.

Rules of classes (`dangers.py`) hear what they were written for; this hears what resembles it. A message is what stands
in it: the stems of its words alone and two together, runs of three to five letters within a word, the classes of the
rules, and two classes together. Each feature has a weight of being a danger at all; stems and classes have one for
each topic too. The weights are learned from the labelled messages (`sh ops/train`) and kept in
`words/<language>/dangers.weights`: a
feature is looked up by its CRC-32, so that the file is small and read at once, and what shares a place shares a weight.
"""

import json
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import combinations, pairwise
from math import exp, sqrt

import msgspec

from bot.understand.claims.traits import numbers, runs, stem
from bot.understand.text.language import file_of

PLACES = 1 << 17
TOPIC_PLACES = 1 << 12
MOST_CLASSES = 24
"""Of which pairs are looked at."""

GROUPS = ("stem", "letters", "class", "pair")
WITH_TOPIC = frozenset({"stem", "class"})


class Model(msgspec.Struct, frozen=True):
    """The weights: of `danger` and of each topic, in steps, and those of where a message was said."""

    danger: memoryview
    step: float
    context: Mapping[str, float]
    topics: Sequence[str]
    topic: memoryview
    topic_step: float
    topic_bias: Sequence[float]
    trained_on: str


def odds(words: Sequence[str], classes: Collection[str], context: Collection[str], model: Model) -> float:
    """How far a message is like one of danger, as log odds. `words` are folded, `classes` those that the rules found in
    them, `context` any of "spoken", "fact", "asked"."""
    found = model.context["always"] + sum(model.context[name] for name in context)
    for _, places in features(words, classes):
        if places:
            found += 1 / sqrt(len(places)) * model.step * sum(map(model.danger.__getitem__, places))
    return found


def topics(words: Sequence[str], classes: Collection[str], model: Model) -> tuple[tuple[str, float], ...]:
    """What a message of danger is likely about: the three topics of the greatest share, the likeliest first."""
    scores = list(model.topic_bias)
    count = len(scores)
    for group, places in features(words, classes):
        if group not in WITH_TOPIC or not places:
            continue
        share = 1 / sqrt(len(places))
        for each in places:
            at = each % TOPIC_PLACES * count
            for which, weight in enumerate(model.topic[at : at + count]):
                if weight:
                    scores[which] += share * model.topic_step * weight
    highest = max(scores)
    shares = [exp(score - highest) for score in scores]
    total = sum(shares)
    ranked = sorted(zip(model.topics, shares, strict=True), key=lambda pair: -pair[1])
    return tuple((name, share / total) for name, share in ranked[:3])


def features(words: Sequence[str], classes: Collection[str]) -> Iterator[tuple[str, Sequence[int]]]:
    """The places of what stands in a message, by the groups of features; each counts once."""
    stems = [stem(word) for word in words]
    beside = [f"{one} {other}" for one, other in pairwise(stems)]
    over = [f"{one} _ {other}" for one, other in zip(stems, stems[2:], strict=False)]
    yield "stem", _places("stem", dict.fromkeys([*stems, *beside, *over]))
    letters: dict[int, None] = {}
    for word in words:
        letters |= dict.fromkeys(runs(word))
    yield "letters", [number % PLACES for number in letters]
    known = sorted(classes)[:MOST_CLASSES]
    yield "class", _places("class", known)
    yield "pair", _places("pair", map(" ".join, combinations(known, 2)))


def _places(group: str, traits: Iterable[str]) -> Sequence[int]:
    """Where the weights of traits stand."""
    return [number % PLACES for number in numbers(group, traits)]


@lru_cache(maxsize=8)
def model_of(language: str) -> Model:
    """The weights of a language; the English ones where it has none."""
    return decode(file_of(language, "dangers.weights").read_bytes())


def encode(model: Model) -> bytes:
    """The file of a model: a line that tells what is in it, then the weights, a byte each."""
    head = {name: getattr(model, name) for name in _HEAD}
    return json.dumps(head).encode() + b"\n" + bytes(model.danger) + bytes(model.topic)


def decode(content: bytes) -> Model:
    """A model from its file."""
    head, _, weights = content.partition(b"\n")
    view = memoryview(weights).cast("b")
    return Model(danger=view[:PLACES], topic=view[PLACES:], **json.loads(head))


_HEAD = ("step", "context", "topics", "topic_step", "topic_bias", "trained_on")
