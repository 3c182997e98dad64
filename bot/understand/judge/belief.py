"""How likely each reading of a message is right, and the message meant for the bot: log-linear in its signs, and in its
signs two by two. The weights are learned by `sh ops/train` and kept in `words/<language>/choice.weights`."""

import json
import zlib
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

import msgspec
import numpy as np
import numpy.typing as npt

from bot.understand.text.language import file_of

ASKED_OF = ("rules", "told", "meant")
"""What is told of a message: whether what the rules read is right, what its sayings tell, and whether it is meant for the
bot at all."""


class SignWeights(msgspec.Struct, frozen=True):
    """What each two of the `signs` are worth together for each of `ASKED_OF`, and one with itself alone: shape
    (sign, sign, asked), nothing below the diagonal. `bias` is what each has before anything is looked at."""

    signs: Sequence[str]
    bias: npt.NDArray[np.float32]
    worth: npt.NDArray[np.float32]
    trained_on: str


class Belief(NamedTuple):
    """How likely it is, from 0 to 1, that the rules are right, that the sayings are, that the bot is meant."""

    rules: float
    told: float
    meant: float


def belief(signs: Mapping[str, float], language: str) -> Belief:
    """What a message's signs come to."""
    odds = _worth(signs, language)[1].sum((0, 1)) + weights_of(language).bias
    return Belief(*(float(each) for each in 1 / (1 + np.exp(-odds))))


def worth_of(signs: Mapping[str, float], language: str) -> dict[str, list[tuple[str, float]]]:
    """What each sign says for each of `ASKED_OF`, what says most first; what two say together is shared by them."""
    names, worth = _worth(signs, language)
    each = (worth.sum(0) + worth.sum(1)) / 2
    return {
        asked: sorted(
            ((name, float(value)) for name, value in zip(names, each[:, at], strict=True)),
            key=lambda pair: -abs(pair[1]),
        )
        for at, asked in enumerate(ASKED_OF)
    }


def _worth(signs: Mapping[str, float], language: str) -> tuple[list[str], npt.NDArray[np.float32]]:
    """The known signs, and what each two of them say: one alone by its strength, two by the product of theirs."""
    weights, places = weights_of(language), _places(language)
    names = sorted(name for name in signs if name in places)
    at = np.array([places[name] for name in names], np.intp)
    strength = np.array([signs[name] for name in names], np.float32)
    counts = np.outer(strength, strength)
    np.fill_diagonal(counts, strength)
    return names, weights.worth[at[:, None], at] * counts[:, :, None]


@lru_cache(maxsize=8)
def _places(language: str) -> Mapping[str, int]:
    return {name: place for place, name in enumerate(weights_of(language).signs)}


@lru_cache(maxsize=8)
def weights_of(language: str) -> SignWeights:
    """The weights of a language; the English ones where it has none."""
    return decode(file_of(language, "choice.weights").read_bytes())


def encode(weights: SignWeights) -> bytes:
    """The file of the weights: a line that tells what is in it, then the worth of the pairs, packed."""
    head = {
        "signs": list(weights.signs),
        "bias": [round(float(each), 3) for each in weights.bias],
        "trained_on": weights.trained_on,
    }
    return json.dumps(head).encode() + b"\n" + zlib.compress(weights.worth.astype("<f2").tobytes(), 9)


def decode(content: bytes) -> SignWeights:
    """The weights from their file."""
    line, _, packed = content.partition(b"\n")
    head = json.loads(line)
    many = len(head["signs"])
    worth = np.frombuffer(zlib.decompress(packed), "<f2").astype(np.float32)
    return SignWeights(
        signs=tuple(head["signs"]),
        bias=np.array(head["bias"], np.float32),
        worth=worth.reshape(many, many, len(ASKED_OF)),
        trained_on=head["trained_on"],
    )
