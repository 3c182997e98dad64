"""Figures as tired thumbs write them, mended before a message is read: "1o76", "1..053", "1.0 32", "ten sixty too".

Only a gravity is mended, since it alone has a form of its own; and what was mended is asked about, unless a letter only
stands for the digit that it looks like ("1.o74").
"""

import re
from collections.abc import Callable, Iterator

import msgspec

from bot.science import practice
from bot.understand.text.lexicon import Lexicon, lexicon
from bot.understand.text.numbers import Number, read_number
from bot.understand.text.scan import LONGEST_SAID, Token, scan, tidy
from bot.understand.text.small_words import SmallWords, small_words

_FEWEST_DIGITS = 2
"""Letters beside fewer digits than this spell a word."""
_FEW = 6
"""Words and marks: in more of them figures a space apart are two figures."""
_BESIDE = 3
"""The same of "10 42", which is a time as well."""

_DIGIT, _PARTED, _END = "[0-9oOlI]", r"[ .,;:'*/_-]", r"(?!\w|[.,:/-]\d)"
_ABOVE = re.compile(
    rf"(?<![\w.,:;/'-])(?P<one>[1lI])(?P<sep>{_PARTED}{{0,3}})(?P<zero>[01oOlI])(?P<gap>[ .,]{{0,2}})"
    rf"(?P<tens>{_DIGIT})(?P<apart>[ .]?)(?P<ones>{_DIGIT}){_END}"
)
_BELOW = re.compile(
    rf"(?<![\w.,:;/'-])(?P<zero>[0oO]?)(?P<sep>[ .,;:]{{0,3}})9(?P<tens>{_DIGIT})(?P<ones>{_DIGIT}){_END}"
)
_DOUBLED = re.compile(r"(?<![\w.,:;/'-])(?P<whole>[01])[.,]{2,3}(?P<rest>\d{1,2})(?!\w|[.,:/-]\d)")
_LETTERED = re.compile(r"(?<![\w.,:;/'-])[1lI][.,][oO](?P<rest>\d)(?!\w|[.,:/-]\d)")
_TENS = re.compile(r"(?<![\w.,:;/'-])(?P<tens>[1-3])[oO](?= ?(?:$|[°cC,.!?\n]))")
_AS_WRITTEN = re.compile(r"1[.,]?[01]\d\d|1 [01]\d\d|1[01][.,]\d\d|[0oO]?[.,]?9\d\d|0 9\d\d")
"""Forms that are read as they stand."""
_LOOKS_SO = re.compile(r"[01lIoO]?[.,][01oOlI9][0-9oOlI]{2}")
"""Figures in which a letter only stands for the digit that looks like it: nothing else can be meant."""
_LETTERS = str.maketrans("oOlI", "0011")
_SPACES_ONLY = re.compile(r"[\d ]+|1[.,] ?[\d ]+")


class Mended(msgspec.Struct, frozen=True):
    """A text, and the figures in it that were mended: as they are now, with what they were without that, if anything."""

    text: str
    figures: dict[float, float | None]


def figures_mended(text: str, language: str, *, for_wine: bool) -> Mended:
    """The text with its figures mended. `for_wine`: in a chat for the wine alone, where figures with a space within are one."""
    if len(text) > LONGEST_SAID or (not any(char.isdigit() for char in text) and " " not in text):
        return Mended(text, {})
    words, small = lexicon(language), small_words(language)
    found: dict[float, float | None] = {}
    text = tidy(text)
    for form, read in _FORMS:
        for match in reversed(list(form.finditer(text))):
            if _AS_WRITTEN.fullmatch(match[0]) or (_spaced(match) and not for_wine):
                continue
            if _spaced(match) and not _stands_alone(text, match, words):
                continue
            sg = read(match)
            if sg is not None:
                if not _LOOKS_SO.fullmatch(match[0]):
                    found[sg] = None
                text = f"{text[: match.start()]}{sg:.3f}{text[match.end() :]}"
    for form in (_DOUBLED, _LETTERED):
        for match in reversed(list(form.finditer(text))):
            said = f"{match.groupdict().get('whole', '1')}.{'0' if form is _LETTERED else ''}{match['rest']}"
            if form is _DOUBLED:
                found[float(said)] = None
            text = f"{text[: match.start()]}{said}{text[match.end() :]}"
    if for_wine:
        for match in reversed(list(_TENS.finditer(text))):
            found[float(f"{match['tens']}0")] = None
            text = f"{text[: match.start()]}{match['tens']}0{text[match.end() :]}"
        for start, end, sg in reversed(list(_pointed(text, words, small))):
            found[sg] = None
            text = f"{text[:start]}{sg:.3f}{text[end:]}"
    for start, end, sg, plain in reversed(list(_sounded(text, words, small))):
        found[sg] = plain
        text = f"{text[:start]}{sg:.3f}{text[end:]}"
    return Mended(text, found)


def _above(match: re.Match[str]) -> float | None:
    sep, gap, tens = match["sep"], match["gap"], match["tens"]
    digits = match["zero"] + tens + match["ones"]
    if match["zero"] in "1lI" and sep not in (".", ","):
        return None
    if (gap and not tens.isdigit()) or (match["apart"] == "." and not sep):
        return None
    if any(mark in sep for mark in ":'*/_-;") and (gap or match["apart"] or len(sep) > 1):
        return None
    return _gravity(match["one"], digits, match[0])


def _below(match: re.Match[str]) -> float | None:
    if not match["zero"] and (len(match["sep"]) < 2 or " " in match["sep"]) and match[0].isdecimal():
        return None
    if not match["zero"] and " " in match["sep"]:
        return None  # a full stop, and 995
    return _gravity("0", "9" + match["tens"] + match["ones"], match[0])


_FORMS: tuple[tuple[re.Pattern[str], Callable[[re.Match[str]], float | None]], ...] = (
    (_ABOVE, _above),
    (_BELOW, _below),
)


def _gravity(whole: str, decimals: str, said: str) -> float | None:
    if sum(char.isdigit() for char in said) < _FEWEST_DIGITS:
        return None
    return _held(float(f"{whole}.{decimals}".translate(_LETTERS)))


def _held(sg: float) -> float | None:
    low, high = practice.SG_WRITTEN.value
    return round(sg, 3) if low <= sg <= high else None


def _spaced(match: re.Match[str]) -> bool:
    """Whether only spaces make it no figure as it stands."""
    return _SPACES_ONLY.fullmatch(match[0]) is not None


def _stands_alone(text: str, match: re.Match[str], words: Lexicon) -> bool:
    """Whether figures a space apart are one: in few words, with no unit and no figure after them, and no time of day."""
    tokens = scan(text)
    after = [token for token in tokens if token.start >= match.end()]
    before = [token for token in tokens if token.end <= match.start()]
    if after and (after[0].kind == "num" or any(tag.kind == "unit" for tag in words.tags(after[0].fold))):
        return False
    clock = match["gap"] == " " and not match["sep"] and not match["apart"]
    led = bool(before) and any(tag.kind == "vessel" for tag in words.tags(before[-1].fold))
    timed = bool(before) and words.means(before[-1].fold, "part", "at")
    return not led and not timed and len(before) + len(after) <= (_BESIDE if clock else _FEW)


def _pointed(text: str, words: Lexicon, small: SmallWords) -> Iterator[tuple[int, int, float]]:
    """ "1 then 82", "1 point 082", "one and eighty two": a figure read out, with a word for its point."""
    tokens = scan(text)
    for at in range(len(tokens) - 2):
        one, point, rest = tokens[at : at + 3]
        parted = at > 0 and (tokens[at - 1].kind == "num" or _is(tokens[at - 1], "vessel", words))
        if one.fold not in small.one or parted:
            continue
        end, digits = at + 2, ""
        while end < len(tokens) and tokens[end].fold.isdecimal() and len(digits) < 3:
            digits += tokens[end].fold
            end += 1
        number = read_number(tokens, at + 2, words) if not digits and rest.kind == "word" else None
        if number is not None and number.spoken and number.value.is_integer():
            digits, end = f"{number.value:.0f}", number.end
        likely = point.fold in small.point or (point.fold in small.joint and end == len(tokens) <= _FEW)
        if not likely or len(digits) != (3 if digits.startswith("0") else 2):
            continue
        sg = _held(float(f"1.{digits if len(digits) == 3 else '0' + digits}"))
        if sg is not None:
            yield one.start, tokens[end - 1].end, sg


def _is(token: Token, tag: str, words: Lexicon) -> bool:
    return any(each.kind == tag for each in words.tags(token.fold))


def _sounded(text: str, words: Lexicon, small: SmallWords) -> Iterator[tuple[int, int, float, float | None]]:
    """ "Ten sixty too": a figure in words whose last one was written as it sounds; with what it is without that."""
    tokens = scan(text)
    for at, token in enumerate(tokens):
        digit = small.sounds.get(token.fold)
        last = at + 1 == len(tokens) or tokens[at + 1].kind in ("mark", "line")
        if digit is None or not last or not at or not _spoken(tokens[at - 1], words):
            continue
        start = at
        while start and tokens[start - 1].kind == "word" and _spoken(tokens[start - 1], words):
            start -= 1
        meant = [*tokens[:at], msgspec.structs.replace(token, fold=digit), *tokens[at + 1 :]]
        number, plain = read_number(meant, start, words), read_number(tokens, start, words)
        sg = _said(number) if number is not None and number.end == at + 1 else None
        if sg is not None:
            yield tokens[start].start, token.end, sg, _said(plain) if plain and plain.end == at else None


def _spoken(token: Token, words: Lexicon) -> bool:
    return any(tag.kind in ("number", "spoken") for tag in words.tags(token.fold))


def _said(number: Number) -> float | None:
    value = number.value / 1000 if not number.decimals else number.value
    return _held(value) if number.spoken else None
