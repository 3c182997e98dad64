"""The platform's HTML: which markup it takes, what is left when the markup is gone, and how long that is."""

import html
import re

TAGS = frozenset(
    [
        "b",
        "strong",
        "i",
        "em",
        "u",
        "ins",
        "s",
        "strike",
        "del",
        "code",
        "pre",
        "a",
        "span",
        "tg-spoiler",
        "tg-emoji",
        "blockquote",
    ],
)
LONGEST_TEXT = 4096  # UTF-16 units, after the markup is gone
_ENTITY = re.compile(r"&(?:lt|gt|amp|quot|#\d+|#x[0-9a-fA-F]+);")
_TAG = re.compile(r"(/?)([A-Za-z][A-Za-z0-9-]*)((?:\s[^<>]*)?)$")


class MarkupError(ValueError):
    """What the platform answers to markup that it cannot take."""


def plain_text(marked: str) -> str:
    """The text without its markup. Raises MarkupError as the platform would refuse it."""
    out: list[str] = []
    open_tags: list[str] = []
    position = 0
    while position < len(marked):
        if marked[position] == "<":
            end = marked.find(">", position)
            offset = len(marked[:position].encode())
            if end < 0:
                raise MarkupError(f"unclosed start tag at byte offset {offset}")
            tag = _TAG.match(marked[position + 1 : end])
            if tag is None or tag[2].lower() not in TAGS:
                name = tag[2] if tag else ""
                raise MarkupError(f'unsupported start tag "{name}" at byte offset {offset}')
            name = tag[2].lower()
            if not tag[1]:
                open_tags.append(name)
            elif not open_tags or open_tags.pop() != name:
                raise MarkupError(f"unexpected end tag at byte offset {offset}")
            position = end + 1
        else:
            end = marked.find("<", position)
            end = len(marked) if end < 0 else end
            out.append(_ENTITY.sub(lambda found: html.unescape(found[0]), marked[position:end]))
            position = end
    if open_tags:
        raise MarkupError(f'can\'t find end tag corresponding to start tag "{open_tags[-1]}"')
    return "".join(out)


def utf16_length(text: str) -> int:
    """How long the platform thinks it is."""
    return len(text.encode("utf-16-le", "surrogatepass")) // 2
