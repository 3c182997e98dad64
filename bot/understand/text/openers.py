"""Words before and after what a message says: "update:", "quick one -", "... by the way", peeled off before it is read.

They tell nothing, and some of them would be taken for more: "quick one" for a count, "for the record" for the wine rack.
"""

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from bot.understand.text.language import tables_of
from bot.understand.text.scan import LONGEST_SAID

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


@lru_cache(maxsize=8)
def _spoken(language: str) -> tuple[Mapping[str, str], re.Pattern[str], re.Pattern[str]]:
    table: dict[str, Any] = tables_of(language, "spoken_marks")
    marks = re.compile(rf"(?<!\ba)(?<!\ba )\s?\b({'|'.join(table['marks'])})\b[.,]?", re.IGNORECASE)
    figure = rf"(?:\d|(?:{'|'.join(table['figures'].split())})\b)"
    comma = re.compile(rf"(?P<before>\S{{1,24}}) {table['comma']}\b(?P<figure>(?= {figure}))?", re.IGNORECASE)
    return table["marks"], marks, comma


def with_marks(text: str, language: str) -> str:
    """The text with the marks that somebody spoke to a telephone, "full stop", "comma"; between figures a comma is the
    point of a decimal, and stays as it is."""
    if len(text) > LONGEST_SAID:
        return text
    marks, plainly, comma = _spoken(language)
    text, count = plainly.subn(lambda found: marks[found[1].casefold()], text)
    figures = frozenset(tables_of(language, "spoken_marks")["figures"].split())

    def marked(found: re.Match[str]) -> str:
        before = found["before"]
        of_figure = found["figure"] is not None and (before[-1].isdigit() or before.casefold() in figures)
        return found[0] if of_figure else f"{before},"

    return comma.sub(marked, text) if count or len(comma.findall(text)) > 1 else text


def _tells(rest: str) -> bool:
    return any(each.isalnum() for each in rest)
