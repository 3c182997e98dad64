"""Names made of letters and digits, such as yeasts' and lots' ("XY1118", "lot 1012"): no number in them is a value."""

from collections.abc import Callable, Sequence
from itertools import pairwise

from bot.understand.text.lexicon import Lexicon
from bot.understand.text.scan import Token

_KNOWN_BEFORE = (
    "measure",
    "vessel",
    "unit",
    "number",
    "part",
    "hedge",
    "correct",
    "join",
    "question",
    "begin",
)
"""What may stand right before a number without making it a name: "sg1012", "b2", "at21"."""

_KNOWN_AFTER = ("unit", "hedge", "part", "join", "times", "numbermark", "often", "vessel")
_LIKE_A_GRAVITY = (960, 1200)


def codes(
    tokens: Sequence[Token], words: Lexicon, is_name: Callable[[Sequence[Token], int], bool]
) -> dict[int, int]:
    """Where each name of that kind begins and ends. `is_name` says whether one of the house's own begins there."""
    found: dict[int, int] = {}
    at = 0
    while at < len(tokens):
        end = _run(tokens, at)
        if end - at > 1 and _is_code(tokens[at:end], words) and not is_name(tokens, at):
            found[at] = end
        elif tokens[at].kind == "num" and _numbered(tokens, at, words):
            found[at] = at + 1
        at = end
    return found


def _run(tokens: Sequence[Token], at: int) -> int:
    """The end of what is written without a space: letters, digits and hyphens."""
    end = at + 1
    if tokens[at].kind not in ("word", "num"):
        return end
    while end < len(tokens) and tokens[end].glued:
        joined = tokens[end].kind in ("word", "num")
        hyphen = tokens[end].fold == "-" and end + 1 < len(tokens) and tokens[end + 1].glued
        if not joined and not (hyphen and tokens[end + 1].kind in ("word", "num")):
            break
        end += 1
    return end


def _is_code(run: Sequence[Token], words: Lexicon) -> bool:
    """Whether letters in it that mean nothing beside a number, or stand between two, make it a name."""
    parts = [token for token in run if token.fold != "-"]
    after = {id(token): other for token, other in pairwise(run)}
    if not any(token.kind == "num" and _like_gravity(token.fold) for token in parts):
        return False
    for place, token in enumerate(parts):
        if token.kind != "word":
            continue
        before = parts[place - 1] if place else None
        kinds = {tag.kind for tag in words.tags(token.fold)}
        if before is not None and before.kind == "num":
            numbered = token is not run[-1] and after[id(token)].kind == "num"
            if not kinds.intersection(_KNOWN_AFTER) or (kinds == {"vessel"} and not numbered):
                return True
        elif place + 1 < len(parts) and parts[place + 1].kind == "num" and not kinds & set(_KNOWN_BEFORE):
            return True
    return False


def _numbered(tokens: Sequence[Token], at: int, words: Lexicon) -> bool:
    """ "Lot 1012", "code no. 1040": the number of a thing, by the words before it."""
    if not _like_gravity(tokens[at].fold) or not tokens[at].fold.isdecimal():
        return False
    before, marked = at - 1, False
    while before >= 0 and at - before <= 3:
        tags = words.tags(tokens[before].fold)
        if any(tag.kind == "code" and (tag.value == "name" or marked) for tag in tags):
            return True
        marked = any(tag.kind == "numbermark" for tag in tags) and tokens[before].kind == "word"
        if tokens[before].kind == "mark" or any(tag.kind == "numbermark" for tag in tags):
            before -= 1
            continue
        return False
    return False


def _like_gravity(text: str) -> bool:
    plain = text.replace(",", ".")
    if plain.isdecimal():
        return _LIKE_A_GRAVITY[0] <= int(plain) <= _LIKE_A_GRAVITY[1]
    return "." in plain and ":" not in plain
