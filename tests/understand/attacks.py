"""Texts that make a regular expression work hard, derived from its own pieces; and how long it works on one.

Every repetition within a form is fed what it repeats, behind what the form wants before it, and so is every run of
its pieces that follow each other: where two of them fit the same text, there are many ways to share it out, and a
matcher that goes back tries them all.
"""

import re
import signal
import time
from collections.abc import Iterator, Sequence
from itertools import islice
from re import _constants as c  # type: ignore[attr-defined]  # private: only they know the pieces
from re import _parser as parser  # type: ignore[attr-defined]  # as above
from typing import Any

END = "\x01"
"""What no form has: whoever got so far has to go back."""

MOST_SAMPLES = 3
MOST_SEEDS = 100
_SPACE, _WORD, _DIGIT = " ", "a", "1"
_CLASSES = {
    c.CATEGORY_SPACE: _SPACE,
    c.CATEGORY_WORD: _WORD,
    c.CATEGORY_DIGIT: _DIGIT,
    c.CATEGORY_NOT_SPACE: _WORD,
    c.CATEGORY_NOT_WORD: _SPACE,
    c.CATEGORY_NOT_DIGIT: _WORD,
}
_LIKELY = " a1.,-:\n'z"


class TooLong(Exception):
    """The work was not finished in its time."""


def seeds(form: str, flags: int) -> list[tuple[str, str]]:
    """(what comes first, what is said over and over), from the pieces of a form."""
    found: dict[tuple[str, str], None] = {}
    tree = list(parser.parse(form, flags & ~re.DEBUG))
    for prefix, piece in _repeated(tree, ""):
        for said in (piece, piece + " "):
            found[(prefix, said)] = None
            found[("", said)] = None
    for lo in range(len(tree)):
        if len(found) > MOST_SEEDS:
            break
        for hi in range(lo + 1, min(lo + 6, len(tree)) + 1):
            for whole in _samples(tree[lo:hi]):
                found[("", whole)] = None
                found[("", whole + " ")] = None
    return [seed for seed in found if seed[1] and len(seed[1]) <= 120][:MOST_SEEDS]


def text_of(seed: tuple[str, str], length: int) -> str:
    """A text of about a length: what is repeated, and what cannot fit at the end."""
    first, piece = seed
    return first + piece * max(1, (length - len(first)) // len(piece)) + END


def cpu_seconds(pattern: "re.Pattern[str]", text: str, limit: float) -> float:
    """How long the pattern works on the text, however it is used. Raises TooLong above the limit."""
    begun = time.process_time()
    with Within(limit):
        pattern.match(text)
        at = 0
        while (found := pattern.search(text, at)) is not None:
            at = max(found.end(), at + 1)
            if at > len(text):
                break
    return time.process_time() - begun


class Within:
    """Lets a block work for so many seconds of processor time; works on expressions too, which look at signals."""

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds

    def __enter__(self) -> None:
        def late(number: int, frame: object) -> None:
            raise TooLong

        self.before = signal.signal(signal.SIGVTALRM, late)
        signal.setitimer(signal.ITIMER_VIRTUAL, self.seconds)

    def __exit__(self, *_: object) -> None:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, self.before)


def _repeated(nodes: Sequence[Any], before: str) -> Iterator[tuple[str, str]]:
    """Every repetition, with a sample of what stands before it and of what it repeats."""
    prefix = before
    for op, args in nodes:
        if op in (c.MAX_REPEAT, c.MIN_REPEAT, c.POSSESSIVE_REPEAT):
            _, most, inner = args
            if most > 1:
                for sample in _samples(inner):
                    if sample:
                        yield prefix, sample
            yield from _repeated(list(inner), prefix)
        elif op is c.SUBPATTERN:
            yield from _repeated(list(args[3]), prefix)
        elif op is c.ATOMIC_GROUP:
            yield from _repeated(list(args), prefix)
        elif op is c.BRANCH:
            for way in args[1]:
                yield from _repeated(list(way), prefix)
        elif op in (c.ASSERT, c.ASSERT_NOT):
            yield from _repeated(list(args[1]), prefix)
        prefix += next(iter(_samples([(op, args)])), "")


def _samples(nodes: Sequence[Any]) -> list[str]:
    """A few texts that a sequence fits, or nearly."""
    found = [""]
    for op, args in nodes:
        ways = list(islice(_one(op, args), MOST_SAMPLES))
        if ways:
            width = max(len(found), len(ways))
            found = [found[i % len(found)] + ways[i % len(ways)] for i in range(min(width, MOST_SAMPLES))]
    return list(dict.fromkeys(found))


def _one(op: Any, args: Any) -> Iterator[str]:
    if op is c.LITERAL:
        yield chr(args)
    elif op is c.NOT_LITERAL:
        yield "a" if args != ord("a") else "b"
    elif op is c.ANY:
        yield from ("a", " ")
    elif op is c.IN:
        yield from _of_a_set(args)
    elif op is c.BRANCH:
        for way in args[1]:
            yield from _samples(way)[:1]
    elif op is c.SUBPATTERN:
        yield from _samples(args[3])
    elif op is c.ATOMIC_GROUP:
        yield from _samples(args)
    elif op in (c.MAX_REPEAT, c.MIN_REPEAT, c.POSSESSIVE_REPEAT):
        least, most, inner = args
        count = max(least, 1) if most else 0
        for sample in _samples(inner):
            yield sample * count


def _of_a_set(items: Sequence[Any]) -> Iterator[str]:
    if items and items[0][0] is c.NEGATE:
        out = set()
        for op, args in items[1:]:
            if op is c.LITERAL:
                out.add(chr(args))
            elif op is c.RANGE:
                out |= {chr(n) for n in range(args[0], min(args[1], args[0] + 200) + 1)}
            elif op is c.CATEGORY:
                out |= {char for char in _LIKELY if re.match(_CATEGORY[args], char)}
        yield from (char for char in _LIKELY if char not in out)
        return
    for op, args in items:
        if op is c.LITERAL:
            yield chr(args)
        elif op is c.RANGE:
            yield chr(args[0])
        elif op is c.CATEGORY:
            yield _CLASSES[args]


_CATEGORY = {
    c.CATEGORY_SPACE: r"\s",
    c.CATEGORY_WORD: r"\w",
    c.CATEGORY_DIGIT: r"\d",
    c.CATEGORY_NOT_SPACE: r"\S",
    c.CATEGORY_NOT_WORD: r"\W",
    c.CATEGORY_NOT_DIGIT: r"\D",
}
