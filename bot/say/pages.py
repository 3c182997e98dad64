"""A long message in several: the chat service takes so much text and no more."""

import re
from collections.abc import Iterator

LONGEST = 4096
"""Characters of one message, counted as the platform does after the markup is read: in UTF-16 units
(which of the two it counts is not documented; this is the safe one)."""

LONGEST_CAPTION = 1024
"""The same of a message that carries a file."""

_TOKEN = re.compile(r"<(?P<end>/?)(?P<tag>\w+)[^>]*>|&#?\w{1,10};|.", re.S)


def pages(html: str, longest: int = LONGEST) -> list[str]:
    """The message in pieces of at most `longest`, cut at the end of a line where there is one, else at a
    space, else where it must be; markup that is open at a cut is closed and opened again."""
    if _units(html) <= longest:
        return [html]
    found = []
    tokens = list(_TOKEN.finditer(html))
    opened: list[str] = []
    while tokens:
        count = _cut(tokens, longest)
        before = list(opened)
        for token in tokens[:count]:
            _follow(opened, token)
        text = "".join(token[0] for token in tokens[:count]).strip("\n")
        page = f"{''.join(before)}{text}{''.join(_closing(opened))}"
        if text.strip():
            found.append(page)
        tokens = tokens[count:]
    return found or [html[:longest]]


def _cut(tokens: list[re.Match[str]], longest: int) -> int:
    """How many tokens make the next page."""
    length, line, space = 0, 0, 0
    for number, token in enumerate(tokens):
        if token["tag"] is None:
            length += 1 if token[0].startswith("&") and len(token[0]) > 1 else _units(token[0])
        if length > longest:
            return line or space or max(number, 1)
        if token[0] == "\n":
            line = number + 1
        elif token[0] == " ":
            space = number + 1
    return len(tokens)


def _follow(opened: list[str], token: re.Match[str]) -> None:
    if token["tag"] is None:
        return
    if token["end"]:
        if opened:
            opened.pop()
    else:
        opened.append(token[0])


def _closing(opened: list[str]) -> Iterator[str]:
    for tag in reversed(opened):
        yield f"</{tag.strip('<>').split()[0]}>"


def _units(text: str) -> int:
    return len(text.encode("utf-16-le", "surrogatepass")) // 2
