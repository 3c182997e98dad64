"""Text to tokens: words, numbers and marks, each with its place in the text, so that a note keeps its own words.

Every kind of white space is one before any pattern sees a text. People paste from leaflets, web pages and other
keyboards: what looks like a space is a space, one is as good as many, and what nobody sees is not there. So no
pattern has to know more than " " and a line break.
"""

import re
import unicodedata
from functools import lru_cache
from typing import Literal

import msgspec

from bot.cellar.log.lengths import MESSAGE

LONGEST_SAID = 600
"""Characters of a message that somebody says; what is longer was pasted."""
_LATELY = 32
"""Texts that are remembered: each way to read a message looks at the same words again."""

_BREAKS = "\r\v\f\x1c\x1d\x1e\x85\u2028\u2029"
_BLANKS = "\u115f\u1160\u2800\u3164\uffa0"  # letters and patterns without ink
_JOINERS = "\u200c\u200d"  # they shape emojis and some scripts; beside plain letters they do nothing
_UNSEEN = (
    (0x00, 0x08), (0x0E, 0x1B), (0x1F, 0x1F), (0x7F, 0x84), (0x86, 0x9F), (0xAD, 0xAD), (0x61C, 0x61C),
    (0x180E, 0x180E), (0x200B, 0x200B), (0x200E, 0x200F), (0x202A, 0x202E), (0x2060, 0x206F), (0xFEFF, 0xFEFF),
    (0xFFF9, 0xFFFB), (0xE0001, 0xE0001),
)  # fmt: skip
"""Controls, and what only steers how a text is set (Unicode's categories Cc and Cf), first to last."""

_MOST_MARKS = 4
"""Marks on one letter: more is written by no language, and sorting them takes long."""

_TABLE: dict[int, str | None] = {
    **{code: None for first, last in _UNSEEN for code in range(first, last + 1)},
    **{ord(char): "\n" for char in _BREAKS},
    **{ord(char): " " for char in _BLANKS},
}
_SETTLED = re.compile(r"[\x20-\x7e\n]*")
_IDLE = re.compile(
    rf"(?<=[\x00-\x7f\s])[{_JOINERS}]+|[{_JOINERS}]+(?=[\x00-\x7f\s])|(?<=[{_JOINERS}])[{_JOINERS}]+"
)
_PARAGRAPHS = re.compile(r"\n{3,}")
_MARK = "[\u0300-\u036f\u0483-\u0489\u1ab0-\u1aff\u1dc0-\u1dff\u20d0-\u20ff\ufe20-\ufe2f]"
_HEAPS = re.compile(rf"({_MARK}{{{_MOST_MARKS}}}){_MARK}+")


_TOKEN = re.compile(
    r"""
    (?P<iso>(?<!\d)\d{4}-\d{2}-\d{2}(?!\d))
  | (?P<link>https?://\S+|www\.\S+)
  | (?P<phone>\+\d[\d ]{7,18}\d|(?<!\d)0\d{3,5}[ ]\d{3,7}(?:[ ]\d{3,4})?(?!\d)|(?<![\d.,])\d{9,15}(?![\d.,]))
  | (?P<date>(?<![\d.])\d{1,2}(?P<sep>[./-])\d{1,2}(?P=sep)(?:\d{4}|\d{2})(?!\d))
  | (?P<num>\d{1,9}(?:[.,:]\d{1,6})?|(?<![\w.])[.,]\d{2,4}(?!\d))
  | (?P<cjk>[\u0e00-\u0e7f\u3040-\u30ff\u3400-\u9fff\uf900-\ufaff])
  | (?P<word>[^\W\d_]+(?:['][^\W\d_]+)*)
  | (?P<line>\n)
  | (?P<mark>\S)
    """,
    re.VERBOSE,
)
# One character for one character, so that every token knows where it stood in the text.
_SAME = str.maketrans(
    {
        "’": "'",
        "‘": "'",
        "ʼ": "'",
        "`": "'",
        "´": "'",
        "“": '"',
        "”": '"',
        "„": '"',
        "«": '"',
        "»": '"',
        "–": "-",
        "—": "-",
        "‐": "-",
        "‑": "-",
        "−": "-",
        "٫": ".",
        "·": ".",
        "，": ",",
        "。": ".",
        "：": ":",
        "？": "?",
        "！": "!",
    }
)
_INVISIBLE = frozenset("\ufe0f\ufe0e\u200d\u200c\u20e3")
Kind = Literal["word", "num", "mark", "line", "date", "phone", "link"]


@lru_cache(maxsize=_LATELY)
def joined(text: str) -> str:
    """The text with single spaces, "\\n" for every line break and at most one empty line, nothing around it and
    nothing unseen in it. Takes time in proportion to its length; done twice it is as done once."""
    if _SETTLED.fullmatch(text) is None:
        text = text.replace("\r\n", "\n").translate(_TABLE)
        text = _HEAPS.sub(r"\1", _IDLE.sub("", text))
    lines = "\n".join(" ".join(line.split()) for line in text.split("\n"))
    return _PARAGRAPHS.sub("\n\n", lines).strip("\n")


class Token(msgspec.Struct, frozen=True):
    """A piece of the text. `fold` is what the grammar compares; `glued` means that no space came before it."""

    kind: Kind
    fold: str
    start: int
    end: int
    glued: bool
    owner: str = ""
    """The word without its "'s", where it has one."""


def fold(word: str) -> str:
    """A word without case, accents and apostrophes."""
    if word.isascii():
        return word.lower().replace("'", "")
    bare = unicodedata.normalize("NFD", word.casefold().replace("'", ""))
    return "".join(char for char in bare if not unicodedata.category(char).startswith("M"))


@lru_cache(maxsize=_LATELY)
def tidy(text: str) -> str:
    """The text with one kind of space and one spelling for each character, no longer than a message."""
    text = joined(text)[:MESSAGE]
    if text.isascii():
        return text
    text = unicodedata.normalize("NFC", text).translate(_SAME)
    if any(char.isdigit() and not char.isascii() for char in text):
        text = "".join(_digit(char) for char in text)
    return text


def _digit(char: str) -> str:
    if char.isascii() or not char.isdecimal():
        return char
    return str(unicodedata.decimal(char))


def scan(text: str) -> list[Token]:
    """The tokens of a tidied text."""
    return list(_scanned(text))


@lru_cache(maxsize=_LATELY)
def _scanned(text: str) -> tuple[Token, ...]:
    tokens: list[Token] = []
    last_end = 0
    for match in _TOKEN.finditer(text):
        kind = match.lastgroup
        if kind == "sep":
            kind = "date"
        start, end = match.span()
        piece = match.group()
        glued = start == last_end and start > 0
        if kind == "mark" and (piece in _INVISIBLE or unicodedata.combining(piece)):
            last_end = end
            continue
        if kind == "word":
            if len(piece) > 3 and piece[1] == "'" and piece[0] in "tTdDlL":
                tokens.append(Token("word", piece[0].lower(), start, start + 1, glued))
                piece, start, glued = piece[2:], start + 2, True
            owner = fold(piece[:-2]) if piece.endswith(("'s", "'S")) else ""
            tokens.append(Token("word", fold(piece), start, end, glued, owner))
        elif kind == "cjk":
            tokens.append(Token("word", piece, start, end, glued))
        elif kind in ("iso", "date"):
            tokens.append(Token("date", piece, start, end, glued))
        elif kind == "num":
            tokens.append(Token("num", piece, start, end, glued))
        elif kind == "phone":
            tokens.append(Token("phone", piece, start, end, glued))
        elif kind == "link":
            tokens.append(Token("link", piece, start, end, glued))
        elif kind == "line":
            tokens.append(Token("line", piece, start, end, glued))
        else:
            tokens.append(Token("mark", piece.casefold(), start, end, glued))
        last_end = end
    return tuple(tokens)
