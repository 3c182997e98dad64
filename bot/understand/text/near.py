"""Which words mean nearly the same, of words that nobody taught too: each word's kind and direction.

The table (`words/<language>/near.weights`) is made by `ops/train_words.py` from an open sentence encoder, which is not
needed here: a word is looked up by its CRC-32 and has a kind (a number that words of nearly the same meaning share), a
direction (a vector), and how much it tells (common words tell little).
"""

import json
import zlib
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from math import sqrt

import msgspec
import numpy as np
import numpy.typing as npt

from bot.understand.text.language import file_of


class Near(msgspec.Struct, frozen=True):
    """The table: the row of each word, by CRC-32, and what the rows hold."""

    rows: Mapping[int, int]
    kinds: Sequence[str]
    tells: npt.NDArray[np.float32]
    directions: npt.NDArray[np.int8]
    digest: str

    def common(self, word: str) -> bool:
        """Whether it is a word that many use."""
        return zlib.crc32(word.encode()) in self.rows

    def found(self, words: Iterable[str]) -> list[int]:
        """The rows of the words that are known."""
        rows = [self.rows.get(zlib.crc32(word.encode())) for word in words]
        return [row for row in rows if row is not None]

    def kinds_of(self, found: Sequence[int]) -> list[str]:
        """The kinds of the words of these rows, each once."""
        return list(dict.fromkeys([self.kinds[row] for row in found]))

    def direction(self, found: Sequence[int]) -> npt.NDArray[np.float32]:
        """Where the words of these rows point together: a vector of length one; of no words, of length nothing."""
        if not found:
            return np.zeros(self.directions.shape[1], np.float32)
        together = self.tells.take(found) @ self.directions.take(found, axis=0).astype(np.float32)
        length = sqrt(float(together @ together))
        return together * np.float32(1 / length) if length else together


def pack(
    numbers: npt.NDArray[np.uint32],
    kinds: npt.NDArray[np.uint16],
    tells: npt.NDArray[np.uint8],
    directions: npt.NDArray[np.int8],
    made_from: str,
) -> bytes:
    """The file of a table: a line that tells what is in it, then the columns, packed."""
    head = {"words": len(numbers), "dimensions": directions.shape[1], "made_from": made_from}
    columns = (
        numbers.astype("<u4"),
        kinds.astype("<u2"),
        tells.astype("u1"),
        np.ascontiguousarray(directions.T, np.int8),
    )
    return json.dumps(head).encode() + b"\n" + zlib.compress(b"".join(each.tobytes() for each in columns), 9)


def unpack(content: bytes) -> Near:
    """A table from its file."""
    line, _, packed = content.partition(b"\n")
    head = json.loads(line)
    count, body = head["words"], zlib.decompress(packed)
    numbers = np.frombuffer(body, "<u4", count)
    kinds = np.frombuffer(body, "<u2", count, 4 * count)
    tells = np.frombuffer(body, "u1", count, 6 * count)
    directions = np.frombuffer(body, np.int8, count * head["dimensions"], 7 * count)
    return Near(
        rows={number: row for row, number in enumerate(numbers.tolist())},
        kinds=[f"kind {kind}" for kind in kinds.tolist()],
        tells=tells.astype(np.float32) / np.float32(255),
        directions=np.ascontiguousarray(directions.reshape(head["dimensions"], count).T),
        digest=f"{zlib.crc32(content):08x}",
    )


@lru_cache(maxsize=8)
def near_of(language: str) -> Near:
    """The table of a language; the English one where it has none."""
    return unpack(file_of(language, "near.weights").read_bytes())
