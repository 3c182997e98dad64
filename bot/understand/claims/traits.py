"""What the learned models see of a word and of what stands beside it: stems, runs of letters, by which number the weight
of such a trait is found, and the weights of a model that only adds them up."""

import json
import re
import zlib
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from zlib import crc32

import msgspec
import numpy as np
import numpy.typing as npt

_SUFFIX = re.compile("(?:ing|ed|es|s|ly|er|y|e)$")
_LONGEST = 24
"""So much of a word is looked at."""


@lru_cache(maxsize=20_000)
def stem(word: str) -> str:
    """A word without its ending, where enough is left of it."""
    return _SUFFIX.sub("", word) if len(word) > 4 else word


@lru_cache(maxsize=20_000)
def runs(word: str) -> Sequence[int]:
    """The numbers of a word's runs of three to five letters, each once: a slip changes few of them."""
    held = f" {word[:_LONGEST]} "
    found = (held[at : at + size] for size in range(3, 6) for at in range(len(held) - size + 1))
    return numbers("letters", dict.fromkeys(found))


@lru_cache(maxsize=64)
def _start(group: str) -> int:
    return crc32(f"{group}:".encode())


def numbers(group: str, traits: Iterable[str]) -> list[int]:
    """The numbers of traits of one group: the CRC-32 of both."""
    start = _start(group)  # the CRC of a text goes on from that of its beginning
    return [crc32(each.encode(), start) for each in traits]


class TraitWeights(msgspec.Struct, frozen=True):
    """A choice among several: the weight of each trait by its number, and what it counts that it is none of them."""

    traits: Mapping[int, float]
    none: float
    trained_on: str

    def score(self, row: Iterable[int]) -> float:
        """What some traits count together."""
        return sum(self.traits.get(each, 0.0) for each in row)


def shares_by(scores: Sequence[float]) -> npt.NDArray[np.float64]:
    """How likely each of several is by what it counts: shares that sum to one."""
    counted = np.array(scores)
    powers = np.exp(counted - counted.max())
    out: npt.NDArray[np.float64] = powers / powers.sum()
    return out


def encode(model: TraitWeights) -> bytes:
    """The file of a model: a line that tells what is in it, then the traits' numbers and their weights, packed."""
    at = sorted(model.traits)
    head = {"none": round(model.none, 3), "trained_on": model.trained_on}
    body = np.array(at, "<u4").tobytes() + np.array([model.traits[each] for each in at], "<f2").tobytes()
    return json.dumps(head).encode() + b"\n" + zlib.compress(body, 9)


def decode(content: bytes) -> TraitWeights:
    """A model from its file."""
    line, _, packed = content.partition(b"\n")
    head = json.loads(line)
    body = zlib.decompress(packed)
    count = len(body) // 6
    at = np.frombuffer(body[: 4 * count], "<u4").tolist()
    worth = np.frombuffer(body[4 * count :], "<f2").astype(float).tolist()
    return TraitWeights(dict(zip(at, worth, strict=True)), head["none"], head["trained_on"])
