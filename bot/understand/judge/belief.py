"""How likely each reading of a message is right, and the message meant for the bot: what decision trees over its signs come
to together. They are learned by `sh ops/train` and kept in `words/<language>/choice.weights`."""

import json
import zlib
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

import msgspec
import numpy as np
import numpy.typing as npt

from bot.understand.text.language import file_of

ASKED_OF = ("rules", "told", "meant")
"""What is told of a message: whether what the rules read is right, what its sayings tell, and whether it is meant for the
bot at all."""


OF_TALK = ("open ", "just open", "bot spoke", "told just before")
"""How the signs begin of what was said before a message. Where there is none, other trees are asked, learned as if nothing
had been said before anything."""


class SignTrees(msgspec.Struct, frozen=True):
    """Trees over the `signs`, as many for each of `ASKED_OF` in a talk and for each where nothing was said before: arrays of
    their nodes, tree after tree, and where the root of each tree is, a row for each of `ASKED_OF` twice. A node asks whether
    its `sign` is at most `least` strong: if so the node after it is next, else the one at `over`; at the end of a tree that is
    the node itself. `worth` is what a node comes to
    on the mean, in log odds, and what the tree comes to where it ends; `start` is what each row has before any tree."""

    signs: Sequence[str]
    start: npt.NDArray[np.float32]
    roots: npt.NDArray[np.int32]
    sign: npt.NDArray[np.int32]
    least: npt.NDArray[np.float32]
    over: npt.NDArray[np.int32]
    worth: npt.NDArray[np.float32]
    trained_on: str


class Belief(NamedTuple):
    """How likely it is, from 0 to 1, that the rules are right, that the sayings are, that the bot is meant."""

    rules: float
    told: float
    meant: float


def belief(signs: Mapping[str, float], language: str) -> Belief:
    """What a message's signs come to."""
    trees = trees_of(language)
    rows = rows_asked(signs)
    *_, (at, _) = _steps(signs, rows, language)
    odds = trees.worth[at].sum(1) + trees.start[rows]
    return Belief(*(float(each) for each in 1 / (1 + np.exp(-odds))))


def worth_of(signs: Mapping[str, float], language: str) -> dict[str, list[tuple[str, float]]]:
    """What each sign says for each of `ASKED_OF`, what says most first: by how much what a tree comes to on the mean
    changes where it asks for that sign."""
    trees = trees_of(language)
    said: list[dict[str, float]] = [{} for _ in ASKED_OF]
    for at, then in _steps(signs, rows_asked(signs), language):
        change = trees.worth[then] - trees.worth[at]
        for row, tree in zip(*np.nonzero(then != at), strict=True):
            name = trees.signs[trees.sign[at[row, tree]]]
            said[row][name] = said[row].get(name, 0.0) + float(change[row, tree])
    return {
        asked: sorted(worth.items(), key=lambda pair: -abs(pair[1]))
        for asked, worth in zip(ASKED_OF, said, strict=True)
    }


def rows_asked(signs: Mapping[str, float]) -> slice:
    """The rows of the trees that are asked of a message with these signs."""
    if any(name.startswith(OF_TALK) for name in signs):
        return slice(0, len(ASKED_OF))
    return slice(len(ASKED_OF), None)


_Nodes = npt.NDArray[np.int32]


def _steps(signs: Mapping[str, float], rows: slice, language: str) -> Iterator[tuple[_Nodes, _Nodes]]:
    """The nodes that all trees of some rows stand at and go to next, until none goes on."""
    trees, places = trees_of(language), _places(language)
    strength = np.zeros(len(places), np.float32)
    for name, value in signs.items():
        if (place := places.get(name)) is not None:
            strength[place] = value
    at = trees.roots[rows]
    while True:
        less = strength.take(trees.sign.take(at)) <= trees.least.take(at)
        then = np.where(less, at + 1, trees.over.take(at))
        yield at, then
        if (then == at).all():
            return
        at = then


@lru_cache(maxsize=8)
def _places(language: str) -> Mapping[str, int]:
    return {name: place for place, name in enumerate(trees_of(language).signs)}


@lru_cache(maxsize=8)
def trees_of(language: str) -> SignTrees:
    """The trees of a language; the English ones where it has none."""
    return decode(file_of(language, "choice.weights").read_bytes())


_PACKED = (("roots", "<i4"), ("sign", "<i4"), ("least", "<f4"), ("over", "<i4"), ("worth", "<f4"))


def encode(trees: SignTrees) -> bytes:
    """The file of the trees: a line that tells what is in it, then the arrays, packed."""
    head = {
        "signs": list(trees.signs),
        "start": [round(float(each), 3) for each in trees.start],
        "trees": trees.roots.shape[1],
        "nodes": len(trees.sign),
        "trained_on": trees.trained_on,
    }
    body = b"".join(getattr(trees, name).astype(kind).tobytes() for name, kind in _PACKED)
    return json.dumps(head).encode() + b"\n" + zlib.compress(body, 9)


def decode(content: bytes) -> SignTrees:
    """The trees from their file."""
    line, _, packed = content.partition(b"\n")
    head = json.loads(line)
    body, start = zlib.decompress(packed), 0
    arrays: dict[str, npt.NDArray[Any]] = {}
    for name, kind in _PACKED:
        count = 2 * len(ASKED_OF) * head["trees"] if name == "roots" else head["nodes"]
        arrays[name] = np.frombuffer(body, kind, count, start)
        start += arrays[name].nbytes
    return SignTrees(
        signs=tuple(head["signs"]),
        start=np.array(head["start"], np.float32),
        roots=arrays.pop("roots").reshape(2 * len(ASKED_OF), -1),
        trained_on=head["trained_on"],
        **arrays,
    )
