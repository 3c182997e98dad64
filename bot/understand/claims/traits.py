"""What the learned models see of a word and of what stands beside it: stems, runs of letters, and by which number the
weight of such a trait is found."""

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from zlib import crc32

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
