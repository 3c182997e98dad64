"""Words before and after what a message says: "update:", "quick one -", "... by the way", peeled off before it is read.

They tell nothing, and some of them would be taken for more: "quick one" for a count, "for the record" for the wine rack.
"""

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from bot.understand.text.language import tables_of
from bot.understand.text.scan import LONGEST_SAID, joined

_MOST = 3
"""So many openers, or tails, one after the other."""


@lru_cache(maxsize=8)
def _patterns(language: str) -> tuple[re.Pattern[str], re.Pattern[str]]:
    table: dict[str, Any] = tables_of(language, "peeled")
    marked, plain, tails = ("|".join(table[key]) for key in ("marked", "plain", "tails"))
    opens = re.compile(
        rf"\s{{0,4}}(?:(?:{marked})\s{{0,3}}(?:[:,.!;–—-]{{1,3}}|…)\s{{1,4}}|(?:{plain})[,:]? )",
        re.IGNORECASE,
    )
    ends = re.compile(rf"[\s,.;–—-]{{1,4}}(?:{tails})([.!?]{{0,4}})\s{{0,4}}$", re.IGNORECASE)
    return opens, ends


def peeled(text: str, language: str) -> str:
    """The text without what stands around it; as it is, where nothing else would be left."""
    if len(text) > LONGEST_SAID:
        return text
    opens, ends = _patterns(language)
    rest = text
    for _ in range(_MOST):
        found = opens.match(rest)
        if found is None or not _tells(rest[found.end() :]):
            break
        rest = rest[found.end() :]
    for _ in range(_MOST):
        last = ends.search(rest)
        if last is None or not _tells(rest[: last.start()]):
            break
        rest = rest[: last.start()] + last[1]
    return rest


class _SpokenMarks(NamedTuple):
    """What is said for each mark, where it stands, where a comma stands, and the words of figures beside one."""

    marks: Mapping[str, str]
    plainly: re.Pattern[str]
    comma: re.Pattern[str]
    figures: frozenset[str]


@lru_cache(maxsize=8)
def _spoken(language: str) -> _SpokenMarks:
    table: dict[str, Any] = tables_of(language, "spoken_marks")
    marks = re.compile(rf"(?<!\ba)(?<!\ba )\s?\b({'|'.join(table['marks'])})\b[.,]?", re.IGNORECASE)
    figures = table["figures"].split()
    figure = rf"(?:\d|(?:{'|'.join(figures)})\b)"
    comma = re.compile(rf"(?P<before>\S{{1,24}}) {table['comma']}\b(?P<figure>(?= {figure}))?", re.IGNORECASE)
    return _SpokenMarks(table["marks"], marks, comma, frozenset(figures))


def with_marks(text: str, language: str) -> str:
    """The text with the marks that somebody spoke to a telephone, "full stop", "comma"; between figures a comma is the
    point of a decimal, and stays as it is."""
    if len(text) > LONGEST_SAID:
        return text
    spoken = _spoken(language)
    text, marks = spoken.plainly.subn(lambda found: spoken.marks[found[1].casefold()], text)

    def marked(found: re.Match[str]) -> str:
        before = found["before"]
        counts = before[-1].isdigit() or before.casefold() in spoken.figures
        return found[0] if found["figure"] is not None and counts else f"{before},"

    with_commas, commas = spoken.comma.subn(marked, text)
    return with_commas if marks or commas > 1 else text


def as_meant(text: str, language: str) -> str:
    """A text as it is to be read: with the marks that were spoken, and without what stands around it."""
    return peeled(with_marks(joined(text), language), language)


def _tells(rest: str) -> bool:
    return any(each.isalnum() for each in rest)
