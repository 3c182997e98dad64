"""Numbers in digits and in words; and names made of letters and digits, such as yeasts' and lots' ("XY1118", "lot
1012"), in which no number is a value."""

from collections.abc import Callable, Sequence
from itertools import pairwise

import msgspec

from bot.understand.text.lexicon import Lexicon
from bot.understand.text.scan import Token

_FRACTIONS = {"½": 0.5, "¼": 0.25, "¾": 0.75, "⅓": 1 / 3, "⅔": 2 / 3}


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
_TWO_DIGITS = 10


class Number(msgspec.Struct, frozen=True):
    """A number, the token after it, how many decimals were written, and whether it was said in words."""

    end: int
    value: float
    decimals: int
    signed: bool = False
    spoken: bool = False


def read_number(tokens: Sequence[Token], at: int, words: Lexicon) -> Number | None:
    """The number that starts at a token, in digits or words; None where there is none."""
    token = tokens[at]
    if token.kind == "mark" and token.fold in "+-" and not (token.glued and _after_word(tokens, at)):
        following = tokens[at + 1] if at + 1 < len(tokens) else None
        if following and following.kind == "num" and following.glued:
            plain = _digits(tokens, at + 1)
            if plain:
                return msgspec.structs.replace(
                    plain, value=-plain.value if token.fold == "-" else plain.value, signed=True
                )
        return None
    if token.kind == "num":
        plain = _pointed(tokens, at, words) or _digits(tokens, at)
        return _times(tokens, with_half(tokens, plain, words), words) if plain else None
    if token.kind == "mark" and token.fold in _FRACTIONS:
        return Number(at + 1, _FRACTIONS[token.fold], 2)
    if token.kind == "word" and token.fold in words.counting:
        if words.means(token.fold, "sign", "minus") and at + 1 < len(tokens):
            plain = read_number(tokens, at + 1, words)
            return (
                msgspec.structs.replace(plain, value=-plain.value, signed=True)
                if plain and not plain.signed
                else None
            )
        return _hundreds(tokens, at, words) or _in_words(tokens, at, words)
    if token.kind == "word" and _is_times(tokens, at + 1, 100, words):
        return _hundreds(tokens, at, words)
    return None


def _pointed(tokens: Sequence[Token], at: int, words: Lexicon) -> Number | None:
    """ "22 point 5", "1 point 012": digits with their point spoken."""
    if at + 2 >= len(tokens) or not tokens[at].fold.isdecimal() or not _point(tokens, at + 1, words):
        return None
    digits, end = _decimals(tokens, at + 2, words)
    if not digits and tokens[at + 2].fold.isdecimal():
        digits, end = tokens[at + 2].fold, at + 3
    if not 0 < len(digits) <= _DECIMALS:
        return None
    return Number(end, float(f"{tokens[at].fold}.{digits}"), len(digits), spoken=True)


_DECIMALS = 4


def _decimals(tokens: Sequence[Token], at: int, words: Lexicon) -> tuple[str, int]:
    """The digits said after a point, and the token after them: "oh one two", "oh eighty four". What comes after the third
    is another number: "point nine nine eight twenty degrees"."""
    values, end = _run(tokens, at, words)
    digits, place = "", 0
    while place < len(values):
        joined = _whole(values[place : place + 2])
        count = 1 if joined is None or place + 1 == len(values) else 2
        said = str(values[place] if count == 1 else joined)
        if len(digits) + len(said) > _SAID_DECIMALS:
            break
        digits += said
        place += count
    return digits, end if place == len(values) else _run(tokens, at, words, most=place)[1]


_SAID_DECIMALS = 3


def _times(tokens: Sequence[Token], number: Number, words: Lexicon) -> Number:
    """ "3 dozen", "4 hundred"."""
    if number.end < len(tokens):
        for tag in words.tags(tokens[number.end].fold):
            if tag.kind == "times":
                return msgspec.structs.replace(
                    number, end=number.end + 1, value=number.value * int(tag.value)
                )
    return number


def _after_word(tokens: Sequence[Token], at: int) -> bool:
    return at > 0 and tokens[at - 1].kind in ("word", "num")


def _digits(tokens: Sequence[Token], at: int) -> Number | None:
    text = tokens[at].fold
    if ":" in text:
        return None
    after = tokens[at + 1 : at + 5]
    if text.isdecimal() and len(after) > 1 and after[0].fold == "/" and after[0].glued and after[1].glued:
        below = after[1].fold
        if below in {"2", "3", "4", "8"} and int(text) < int(below):
            return Number(at + 3, int(text) / int(below), 2)
    whole = float(text.replace(",", "."))
    if text.isdecimal() and after:
        if after[0].fold in _FRACTIONS:
            return Number(at + 2, whole + _FRACTIONS[after[0].fold], 2)
        if len(after) > 3 and after[0].fold == "1" and after[1].fold == "/" and after[2].fold in {"2", "4"}:
            return Number(at + 4, whole + 1 / int(after[2].fold), 2)
        if whole == 1 and not after[0].glued and len(after[0].fold) == 3 and _zeroed(after[0].fold):
            return Number(at + 2, float(f"1.{after[0].fold}"), 3)
        parted = whole == 1 and after[0].fold in {".", ","} and len(after) > 1
        if parted and after[1].fold.startswith("0") and after[1].fold.isdecimal() and len(after[1].fold) == 3:
            return Number(at + 3, float(f"1.{after[1].fold}"), 3)
    decimals = 0 if text.isdecimal() else len(text.replace(",", ".").split(".")[1])
    return Number(at + 1, whole, decimals)


def _zeroed(text: str) -> bool:
    """Decimals that a space split off: "1 012"."""
    return text.isdecimal() and text.startswith("0")


def _word_value(token: Token, words: Lexicon) -> int | None:
    for tag in words.tags(token.fold):
        if tag.kind == "number":
            return int(tag.value)
        if tag.kind == "spoken" and tag.value != "point":
            return int(tag.value)
    return None


def _in_words(tokens: Sequence[Token], at: int, words: Lexicon) -> Number | None:
    """ "Twenty one", "one point oh one two", "ten twelve", "one oh six four", "nineteen and a half", "a thousand and six"."""
    if _is_times(tokens, at, 1000, words):
        return _thousand(tokens, at, [1], words)
    if not any(tag.kind == "number" for tag in words.tags(tokens[at].fold)) and not _point(tokens, at, words):
        return None
    values, index = _run(tokens, at, words)
    thousand = _thousand(tokens, index, values, words)
    if thousand is not None:
        return thousand
    if index < len(tokens) and _point(tokens, index, words):
        digits, end = _decimals(tokens, index + 1, words)
        whole = _whole(values) if values else 0
        if digits and whole is not None:
            return Number(end, float(f"{whole}.{digits}"), len(digits), spoken=True)
        if not values:
            return None
    if not values:
        return None
    if len(values) > 1:
        said = _digits_said(values)
        if said and 900 <= int(said) <= 1200:
            return Number(index, float(said), 0, spoken=True)
    if len(values) > 1 and values[0] >= 20 and values[0] % 10 == 0 and 0 < values[1] < 10:
        return with_half(
            tokens, Number(_step(tokens, at, 2), float(values[0] + values[1]), 0, spoken=True), words
        )
    return _times(tokens, with_half(tokens, Number(at + 1, float(values[0]), 0, spoken=True), words), words)


def _is_times(tokens: Sequence[Token], at: int, times: int, words: Lexicon) -> bool:
    return at < len(tokens) and words.means(tokens[at].fold, "times", str(times))


def _thousand(tokens: Sequence[Token], at: int, values: list[int], words: Lexicon) -> Number | None:
    """ "One thousand and twelve", "thousand twelve", "one thousand dead"."""
    if values != [1] or not _is_times(tokens, at, 1000, words):
        return None
    start = at + 2 if at + 1 < len(tokens) and words.means(tokens[at + 1].fold, "sign", "and") else at + 1
    rest, end = _run(tokens, start, words)
    more = _whole(rest) if rest else None
    if more is not None:
        return Number(end, 1000.0 + more, 0, spoken=True)
    exact = start == at + 1 and start < len(tokens) and words.means(tokens[start].fold, "sign", "exact")
    return Number(start, 1000.0, 0, spoken=True) if exact else None


def _hundreds(tokens: Sequence[Token], at: int, words: Lexicon) -> Number | None:
    """ "Nine hundred and ninety six", a gravity below water, "a hundred and fifty", "two hundred and twenty"."""
    one = words.means(tokens[at].fold, "amount", "1")
    values, index = ([1], at + 1) if one else _run(tokens, at, words)
    if len(values) != 1 or not 1 <= values[0] <= 9 or not _is_times(tokens, index, 100, words):
        return None
    start = index + 1
    start += start < len(tokens) and words.means(tokens[start].fold, "sign", "and")
    rest, end = _run(tokens, start, words)
    more = _whole(rest) if rest else None
    if more is not None and 0 < more < 100:
        return Number(end, 100.0 * values[0] + more, 0, spoken=True)
    return Number(index + 1, 100.0, 0, spoken=True) if one else None


def _digits_said(values: list[int]) -> str | None:
    """The digits of a gravity said as 10 13, 10 oh 5, 1 0 6 4 or 9 9 8."""
    text = ""
    for position, value in enumerate(values):
        if value >= 20 and value % 10 == 0 and position + 1 < len(values) and 0 < values[position + 1] < 10:
            text += str(value // 10)
        else:
            text += str(value)
    return text if len(text) in (3, 4) and (len(values) > 2 or values[0] == 10) else None


def _step(tokens: Sequence[Token], at: int, count: int) -> int:
    """The token after `count` number words, which hyphens may join."""
    index = at
    while count:
        if tokens[index].fold != "-":
            count -= 1
        index += 1
    return index


def _run(tokens: Sequence[Token], at: int, words: Lexicon, most: int = 6) -> tuple[list[int], int]:
    """The number words in a row, at most so many, and the token after them."""
    values: list[int] = []
    index = at
    while index < len(tokens) and len(values) < most:
        here = index
        if tokens[here].fold == "-" and values and here + 1 < len(tokens) and tokens[here].glued:
            here += 1
        twice = tokens[here].kind == "word" and words.means(tokens[here].fold, "sign", "double")
        here += twice
        value = (
            _word_value(tokens[here], words) if here < len(tokens) and tokens[here].kind == "word" else None
        )
        if value is None:
            break
        values.extend([value, value] if twice and value < _TWO_DIGITS else [value])
        index = here + 1
    return values, index


def _whole(values: list[int]) -> int | None:
    if len(values) == 1:
        return values[0]
    if len(values) == 2 and values[0] >= 20 and values[0] % 10 == 0 and 0 < values[1] < 10:
        return values[0] + values[1]
    return None


def _point(tokens: Sequence[Token], at: int, words: Lexicon) -> bool:
    return any(tag.kind == "spoken" and tag.value == "point" for tag in words.tags(tokens[at].fold))


def with_half(tokens: Sequence[Token], number: Number, words: Lexicon) -> Number:
    """The number, and a half more where that follows its end."""
    found = words.longest([token.fold for token in tokens[number.end : number.end + 3]], 0)
    if found is None or not any(tag.kind == "sign" and tag.value == "and_half" for tag in found[1]):
        return number
    end = number.end + found[0]
    if end < len(tokens) and any(tag.kind == "times" for tag in words.tags(tokens[end].fold)):
        return number  # "21 degrees and half dozen left"
    return msgspec.structs.replace(number, end=end, value=number.value + 0.5, decimals=1)


def codes(
    tokens: Sequence[Token], words: Lexicon, is_name: Callable[[Sequence[Token], int], bool]
) -> dict[int, int]:
    """Where each name of that kind begins and ends. `is_name` says whether one of the house's own begins there."""
    found: dict[int, int] = {}
    at = 0
    while at < len(tokens):
        end = _written_as_one(tokens, at)
        if end - at > 1 and _is_code(tokens[at:end], words) and not is_name(tokens, at):
            found[at] = end
        elif tokens[at].kind == "num" and _numbered(tokens, at, words):
            found[at] = at + 1
        at = end
    return found


def _written_as_one(tokens: Sequence[Token], at: int) -> int:
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
