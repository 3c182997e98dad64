"""Every kind of white space as one: before any pattern sees a text.

People paste from leaflets, web pages and other keyboards. What looks like a space is a space, one is as good as
many, and what nobody sees is not there: so no pattern has to know more than " " and a line break.
"""

import re

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


def joined(text: str) -> str:
    """The text with single spaces, "\\n" for every line break and at most one empty line, nothing around it and
    nothing unseen in it. Takes time in proportion to its length; done twice it is as done once."""
    if _SETTLED.fullmatch(text) is None:
        text = text.replace("\r\n", "\n").translate(_TABLE)
        text = _HEAPS.sub(r"\1", _IDLE.sub("", text))
    lines = "\n".join(" ".join(line.split()) for line in text.split("\n"))
    return _PARAGRAPHS.sub("\n\n", lines).strip("\n")
