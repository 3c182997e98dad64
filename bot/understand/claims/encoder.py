"""What the pieces of a message say, by a small network that reads the whole message: the words in their order, those around
them, and what stands around the message (`setting.py`).

The log-linear model of `labels.py` counts words; this hears what they come to together: "gave it a swirl to wake it" and
"my arms gave up before the gas did". It is a transformer of few layers (attention over the message's word pieces), which
was taught by a large open one what our labelled messages mean (`ops/train_encoder.py`, `words/<language>/encoder.weights`).
Neither is surer than both together (`labels.labelled`).
"""

import json
import zlib
from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import accumulate
from typing import Any, NamedTuple

import msgspec
import numpy as np
import numpy.typing as npt

from bot.understand.text.language import file_of

Floats = npt.NDArray[np.float32]


class MessageRead(NamedTuple):
    """A message as the network has read it: what each of its word pieces means where it stands, where those of each word
    end, and what stands around it."""

    pieces: Floats
    ends: Sequence[int]
    setting: Sequence[int]


UNKNOWN = 1
"""The number of the word piece that stands for all that the list does not have."""
MOST_PIECES = 128
"""So much of a message is read."""
LONGEST_WORD = 24
HEADS = 4
OF_SETTING = 1.5
"""How much the setting's own say counts beside that of the words."""
_TINY = 1e-5
_NEVER = -6.0


class Encoder(msgspec.Struct, frozen=True):
    """The network: the numbers of its word pieces and of what can stand around a message, its labels, and its tensors by
    name. `learned_from` names the talks that it was taught with."""

    pieces: Mapping[str, int]
    settings: Mapping[str, int]
    labels: Sequence[str]
    layers: int
    learned_from: frozenset[str]
    tensors: Mapping[str, Floats]

    def shares(
        self, words: Sequence[Sequence[str]], setting: Sequence[str], read: MessageRead | None = None
    ) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        """How likely each piece of a message says each label, a row a piece, and how likely all of it as one does. `words`
        are those of each piece, as `labels.words_of` gives them; a piece without words says what all of it does."""
        if read is None:
            read = self.read([word for said in words for word in said], setting)
        ends = list(accumulate(len(said) for said in words))
        found = self.shares_of(read, [*zip([0, *ends[:-1]], ends, strict=True), (0, ends[-1] if ends else 0)])
        return found[:-1], found[-1]

    def read(self, words: Sequence[str], setting: Sequence[str]) -> MessageRead:
        """Reads a message of these words, as `labels.words_of` gives them."""
        ids: list[int] = []
        ends = [0]
        for word in words:
            ids += cut(word, self.pieces)
            ends.append(len(ids))
        around = [self.settings[each] for each in setting if each in self.settings]
        return MessageRead(self._read(np.array(ids[:MOST_PIECES] or [UNKNOWN])), ends, around)

    def shares_of(self, read: MessageRead, pieces: Sequence[tuple[int, int]]) -> npt.NDArray[np.float64]:
        """How likely each piece of what was read says each label, a row a piece; each from which to which of its words.
        A piece without words says what all of it does."""
        mean = read.pieces.mean(0)
        rows = []
        for lo, hi in pieces:
            held = read.pieces[read.ends[lo] : read.ends[hi]]
            rows.append(np.concatenate([held.mean(0) if len(held) else mean, mean]))
        return self._labelled(np.stack(rows), read.setting)

    def among(self, labels: Sequence[str]) -> "Encoder":
        """The same with these labels, in this order; one that it has not learned is hardly ever said."""
        at = {label: number for number, label in enumerate(self.labels)}
        columns = [at.get(label, -1) for label in labels]
        tensors = dict(self.tensors)
        for name in ("says", "says bias", "around says", "hidden says", "hidden says bias"):
            never = _NEVER if name == "says bias" else 0.0
            held = tensors[name]
            padded = np.concatenate([held, np.full((*held.shape[:-1], 1), never, np.float32)], axis=-1)
            tensors[name] = np.ascontiguousarray(padded[..., columns])
        return msgspec.structs.replace(self, labels=tuple(labels), tensors=tensors)

    def _read(self, ids: npt.NDArray[np.int64]) -> Floats:
        """What each word piece means where it stands."""
        tensors = self.tensors
        x = _even(tensors["words"][ids] + tensors["places"][: len(ids)], tensors, "first")
        for at in range(self.layers):
            x = x + self._attended(_even(x, tensors, f"{at} attention"), at)
            inner = _even(x, tensors, f"{at} inner") @ tensors[f"{at} up"] + tensors[f"{at} up bias"]
            x = x + np.maximum(inner, 0) @ tensors[f"{at} down"] + tensors[f"{at} down bias"]
        return _even(x, tensors, "last")

    def _attended(self, x: Floats, at: int) -> Floats:
        """What each piece takes from the others."""
        count, size = x.shape
        every = x @ self.tensors[f"{at} asked"] + self.tensors[f"{at} asked bias"]
        asks, offers, gives = every.reshape(count, 3, HEADS, size // HEADS).transpose(1, 2, 0, 3)
        fits = asks @ offers.transpose(0, 2, 1) / np.float32(np.sqrt(size // HEADS))
        taken = _shares(fits) @ gives
        out: Floats = taken.transpose(1, 0, 2).reshape(count, size) @ self.tensors[f"{at} taken"]
        return out + self.tensors[f"{at} taken bias"]

    def _labelled(self, pooled: Floats, setting: Sequence[int]) -> npt.NDArray[np.float64]:
        tensors = self.tensors
        part = np.float32(1 / np.sqrt(max(len(setting), 1)))
        around = tensors["around"][list(setting)].sum(0) * part
        says = tensors["around says"][list(setting)].sum(0) * part
        both = np.concatenate([pooled, np.broadcast_to(around, (len(pooled), around.size))], axis=1)
        hidden = np.maximum(both @ tensors["hidden"] + tensors["hidden bias"], 0)
        z = pooled @ tensors["says"] + tensors["says bias"] + OF_SETTING * says
        z = z + hidden @ tensors["hidden says"] + tensors["hidden says bias"]
        return _shares(z.astype(np.float64))


def _shares(z: npt.NDArray[Any]) -> npt.NDArray[Any]:
    powers = np.exp(z - z.max(-1, keepdims=True))
    out: npt.NDArray[Any] = powers / powers.sum(-1, keepdims=True)
    return out


def _even(x: Floats, tensors: Mapping[str, Floats], name: str) -> Floats:
    """Layer normalisation."""
    centred = x - x.mean(-1, keepdims=True)
    spread = np.sqrt((centred * centred).mean(-1, keepdims=True) + _TINY)
    out: Floats = centred / spread * tensors[f"{name} scale"] + tensors[f"{name} shift"]
    return out


def encode(model: Encoder) -> bytes:
    """The file of a network: a line that tells what is in it, then its tensors in that order, packed: the words' a byte a
    number with a step a row, the others two bytes."""
    head: dict[str, Any] = {
        "pieces": list(model.pieces),
        "settings": list(model.settings),
        "labels": list(model.labels),
        "layers": model.layers,
        "learned_from": sorted(model.learned_from),
        "shapes": {name: tensor.shape for name, tensor in model.tensors.items()},
    }
    body = b""
    for name, tensor in model.tensors.items():
        if name == "words":
            steps = np.abs(tensor).max(1, keepdims=True).astype("<f2").astype(np.float32) / 127 + 1e-8
            body += steps.astype("<f4").tobytes() + np.round(tensor / steps).astype(np.int8).tobytes()
        else:
            body += tensor.astype("<f2").tobytes()
    return zlib.compress(json.dumps(head).encode(), 9) + b"\n\n" + zlib.compress(body, 9)


def decode(content: bytes) -> Encoder:
    """A network from its file."""
    opened = zlib.decompressobj()
    head = json.loads(opened.decompress(content))
    body = zlib.decompress(opened.unused_data[2:])
    tensors: dict[str, Floats] = {}
    at = 0
    for name, shape in head["shapes"].items():
        count = int(np.prod(shape))
        if name == "words":
            steps = np.frombuffer(body, "<f4", shape[0], at)[:, None]
            found = np.frombuffer(body, np.int8, count, at + 4 * shape[0]).reshape(shape) * steps
            at += 4 * shape[0] + count
        else:
            found = np.frombuffer(body, "<f2", count, at).reshape(shape)
            at += 2 * count
        tensors[name] = found.astype(np.float32)
    return Encoder(
        pieces={piece: number for number, piece in enumerate(head["pieces"])},
        settings={each: number for number, each in enumerate(head["settings"])},
        labels=tuple(head["labels"]),
        layers=head["layers"],
        learned_from=frozenset(head["learned_from"]),
        tensors=tensors,
    )


@lru_cache(maxsize=8)
def encoder_of(language: str) -> Encoder:
    """The network of a language; the English one where it has none."""
    return decode(file_of(language, "encoder.weights").read_bytes())


def cut(word: str, known: Mapping[str, int]) -> list[int]:
    """The numbers of the longest pieces that a list has, from the beginning of a word: those after the first are marked
    "##". What stands for a kind ("<gravity>") is one piece."""
    if word.startswith("<"):
        return [known.get(word, UNKNOWN)]
    found: list[int] = []
    rest = word[:LONGEST_WORD]
    while rest:
        mark = "##" if found else ""
        size = next((size for size in range(len(rest), 0, -1) if mark + rest[:size] in known), 0)
        if not size:
            return [UNKNOWN]
        found.append(known[mark + rest[:size]])
        rest = rest[size:]
    return found
