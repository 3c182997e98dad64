"""Slips of the finger, mended before a message is read: "darnk two of the rosé", "racked it tonigght".

A word that nobody knows (no word of the grammar, no name of the house, no common word) is taken for the one word of the
grammar that is a slip away: a letter too many, too few or wrong, or two swapped; of a short word only where that is one
of the wine's own. Numbers and units are left alone: of these the reader knows a slip itself, and asks.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import lru_cache
from string import ascii_lowercase
from typing import Any

from rapidfuzz.distance import OSA

from bot.understand.claims.encoder import encoder_of
from bot.understand.scene import Scene
from bot.understand.text.language import tables_of
from bot.understand.text.lexicon import Lexicon, expand, lexicon
from bot.understand.text.near import near_of
from bot.understand.text.scan import LONGEST_SAID, fold

_SHORT, _SHORTEST, _LONG = 5, 4, 8
"""Letters: shorter than the first only a word of the wine's own is meant; two slips in a word of the last."""
_MOST = 8
"""Unknown words: with more it is another language, or none."""
_WORD = re.compile(r"(?<![\w@/.’'-])[^\W\d_]{3,20}(?![\w@’'-])")
_OWN = frozenset(
    {"step", "measure", "substance", "vessel", "put", "colour", "bottles", "question", "undo", "move"}
)
_COUNTED = frozenset({"unit", "number", "spoken"})
_SHORTENED = ("step", "substance", "colour", "vessel", "measure", "part:washed", "put", "move")
"""What people write in short, "mxd", "yst", "wht": the first is meant first."""
_MISSPELLED = frozenset({"step", "substance", "vessel", "measure", "part:washed"})
_LEAST, _MOST_SHORTENED = 3, 6
_VOWELS = re.compile("[aeiou]")


class _GrammarWords:
    """The words that a slip can be meant for: those of the wine, and all others of the grammar."""

    def __init__(self, language: str) -> None:
        self.language = language
        self.lexicon: Lexicon = lexicon(language)
        self.near = near_of(language)
        self.real = encoder_of(language).pieces
        own, others = set[str](), set(_times(self.lexicon.times))
        for kind, table in tables_of(language, "words").items():
            if kind in ("settings", "time", "weight") or not isinstance(table, dict):
                continue
            for words in _words_of(table):
                (own if kind in _OWN else others).update(words)
        self.small = frozenset(
            word
            for reader in ("sayings", "shelf", "bottling")
            for said in _strings(tables_of(language, reader))
            for word in _WORDS_IN.findall(said)
        )
        counted = {word for word in self.lexicon.singles() if _counts(self.lexicon, word)}
        self.consonants = _in_consonants(own - counted, self.shortened)
        self.own = _by_length(own - counted)
        self.others = _by_length(others - own - counted)

    def shortened(self, word: str) -> str | None:
        """The first kind of what a word means, of those that may be meant in short."""
        tags = self.lexicon.tags(word)
        kinds = {f"{tag.kind}:{tag.value}" if tag.kind == "part" else tag.kind for tag in tags}
        return next((kind for kind in _SHORTENED if kind in kinds), None)

    def knows(self, word: str) -> bool:
        """Whether it is a word of the grammar, or one that is common."""
        known = self.lexicon.knows(word) or word in self.lexicon.people or word in self.small
        common = self.near.common(word)
        common = common and (word in self.real or not _slipped(word, self.language))
        return known or common or any(word in words.get(len(word), ()) for words in (self.own, self.others))


def mended(text: str, scene: Scene) -> str:
    """The text with its slips mended. Names of the house, and words that begin with a capital within a sentence, are
    nobody's slips."""
    if len(text) > LONGEST_SAID:
        return text
    text = _spelled_out(text, scene)
    known = _known(scene.language)
    strange = [
        found
        for found in _WORD.finditer(text)
        if not known.knows(word := fold(found[0])) or _consonants_only(word, known.lexicon)
    ]
    if not strange or len(strange) > _MOST:
        return text
    names = {
        word
        for said in (*scene.members, *_said_names(scene))
        for word in fold(said).replace("-", " ").replace("'", " ").split()
    }
    names |= {f"{name}s" for name in names}  # "27 of stans"
    naming = _begins(text, known)
    for found in reversed(strange):  # from the end, so that the places before stay right
        word = fold(found[0])
        meant = None if word in names or _is_name(found) else _meant(word, scene.language)
        if meant is not None and not (naming and known.shortened(meant) not in _NO_NAMES):
            text = text[: found.start()] + meant + text[found.end() :]
    return text


def _begins(text: str, known: _GrammarWords) -> bool:
    """Whether it tells what a beginning tells, so that a word which nobody knows may be a name: "soot rd 4.5l dj2 14d"."""
    told = {tag.kind for word in re.findall(r"[a-z]+", fold(text)) for tag in known.lexicon.tags(word)}
    return len(told & {"begin", "colour", "vessel"}) + len(set(_MEASURED.findall(fold(text)))) >= _TELLING


_MEASURED = re.compile(r"\d ?(l|days?|dy?|dj|b)(?![a-z])|\b(days?|litres?|liters?|dj|kit|gal)\b")
_TELLING = 3
"""So much that a beginning tells makes one."""
_NO_NAMES = frozenset({"step", "substance", "colour", "vessel", "measure", "part:washed"})
"""What a slip beside a beginning may be meant for, and no name."""


def _spelled_out(text: str, scene: Scene) -> str:
    """The text with words that are cut off, or written with a digit, in their whole: "b4 bed", where the house has no
    bucket 4."""
    form, whole = _in_short(scene.language)
    if form.search(text) is None:
        return text
    said = [fold(name) for name in (*_said_names(scene), *scene.members)]
    names = {name.replace(" ", "") for name in said}
    names |= {f"{name[0]}{name.split()[-1]}" for name in said if " " in name}

    def spelled(found: re.Match[str]) -> str:
        word = fold(found[0])
        placed = _PLACED.match(word) and not _GOES_ON.match(text, found.end())  # a bucket that nobody has
        return found[0] if word in names or placed else whole[word]

    return form.sub(spelled, text)


_PLACED = re.compile(r"[a-z]\d+")
_GOES_ON = re.compile(r" [^\W\d]")


@lru_cache(maxsize=8)
def _in_short(language: str) -> tuple[re.Pattern[str], Mapping[str, str]]:
    whole: Mapping[str, str] = tables_of(language, "in_short")
    return re.compile(rf"(?<![\w.,])(?:{'|'.join(whole)})(?![\w.,])", re.IGNORECASE), whole


def _is_name(found: re.Match[str]) -> bool:
    """Whether a word is written as names are: with a capital within a sentence."""
    before = found.string[: found.start()].rstrip()[-1:]
    return found[0][0].isupper() and not found[0].isupper() and before not in ("", ".", "!", "?", "\n", ":")


def _said_names(scene: Scene) -> Iterator[str]:
    for batch in scene.batches:
        yield from (batch.name, *batch.nicknames)
    for vessel in scene.vessels:
        yield from (vessel.name, *vessel.nicknames)
    yield from scene.plans


@lru_cache(maxsize=20_000)
def _meant(word: str, language: str) -> str | None:
    known = _known(language)
    short = _consonants_only(word, known.lexicon)
    if short and word in known.consonants:
        return known.consonants[word]
    if len(word) < _SHORTEST:
        return None
    found = _nearest(word, known.own)
    if not found and len(word) >= _SHORT:
        found = _nearest(word, known.others)
    found = _alike(found, known.lexicon)
    if len(found) != 1 or (short and _consonants(found[0]) != word):
        return None
    # Of two slips it is not the one, where a common word is only one away.
    far = OSA.distance(word, found[0]) > 1
    return None if far and any(known.knows(one) for one in _one_away(word)) else found[0]


@lru_cache(maxsize=20_000)
def _slipped(word: str, language: str) -> bool:
    """Whether a word that people write often is no more than a chore or a thing of the wine's, misspelled: "steralised",
    "yeest", and no tool of that: "stirrer"."""
    known = _known(language)
    found = _alike(_nearest(word, known.own), known.lexicon) if len(word) >= _SHORTEST else []
    if len(found) != 1 or (len(word) < _SHORT and _consonants(word) != _consonants(found[0])):
        return False
    return not word.rstrip("s").endswith("er") and known.shortened(found[0]) in _MISSPELLED


def _consonants_only(word: str, known: Lexicon) -> bool:
    return _LEAST <= len(word) <= _MOST_SHORTENED and not _VOWELS.search(word) and not known.knows(word)


def _in_consonants(words: Iterable[str], kind_of: Callable[[str], str | None]) -> dict[str, str]:
    """Words that have a kind by their consonants, none twice in a row: "mxd" for "mixed". Of several the one of the first
    kind, and the shortest."""
    placed = sorted(
        (_SHORTENED.index(kind), len(word), word) for word in words if (kind := kind_of(word)) is not None
    )
    found: dict[str, str] = {}
    for *_, word in placed:
        found.setdefault(_consonants(word), word)
    return found


def _consonants(word: str) -> str:
    return _DOUBLED.sub(r"\1", word[0] + _VOWELS.sub("", word[1:]))


_DOUBLED = re.compile(r"(.)\1+")


def _alike(found: list[str], known: Lexicon) -> list[str]:
    """The longest of some words that mean the same: "mixd" is "mix" or "mixed"."""
    steps = [{tag.value for tag in known.tags(word) if tag.kind == "step"} for word in found]
    same = len(found) > 1 and bool(steps[0]) and all(each == steps[0] for each in steps)
    return [max(found, key=len)] if same else found


def _nearest(word: str, known: Mapping[int, frozenset[str]]) -> list[str]:
    """The known words that are the fewest slips away, with the same first letter or the first two swapped."""
    least = most = 2 if len(word) >= _LONG else 1
    best: list[str] = []
    for length in range(len(word) - most, len(word) + most + 1):
        for other in known.get(length, ()):
            if other[0] != word[0] and other[:2] != word[1::-1]:
                continue
            apart = OSA.distance(word, other, score_cutoff=least)
            if apart < least:
                best, least = [], apart
            if apart == least:
                best.append(other)
    stems = {one.rstrip("s") for one in best}
    return sorted(best) if len(stems) != 1 else sorted(best)[:1]


def _one_away(word: str) -> Iterator[str]:
    """Every word that is one slip away."""
    for at in range(len(word) + 1):
        start, rest = word[:at], word[at:]
        yield from (start + letter + rest for letter in ascii_lowercase)
        if rest:
            yield start + rest[1:]
            yield from (start + letter + rest[1:] for letter in ascii_lowercase)
        if len(rest) > 1:
            yield start + rest[1] + rest[0] + rest[2:]


def _by_length(words: Iterable[str]) -> dict[int, frozenset[str]]:
    found: dict[int, set[str]] = {}
    for word in words:
        if word.isalpha() and len(word) >= _SHORTEST:
            found.setdefault(len(word), set()).add(word)
    return {length: frozenset(each) for length, each in found.items()}


def _counts(words: Lexicon, word: str) -> bool:
    return any(tag.kind in _COUNTED and tag.value != "bottle" for tag in words.tags(word))


def _words_of(table: Mapping[str, Any]) -> Iterator[tuple[str, ...]]:
    for phrases in table.values():
        for items in phrases.values() if isinstance(phrases, dict) else (phrases,):
            for phrase in items:
                yield from expand(phrase)


_WORDS_IN = re.compile(r"(?<!\\)\b[a-z]{4,}\b")
"""Words within a pattern of words."""


def _strings(table: object) -> Iterator[str]:
    """Every text in a table."""
    if isinstance(table, str):
        yield table
    elif isinstance(table, Mapping):
        for each in table.values():
            yield from _strings(each)
    elif isinstance(table, list | tuple):
        for each in table:
            yield from _strings(each)


def _times(table: object) -> Iterator[str]:
    """Every word with which a time is told."""
    if isinstance(table, str):
        yield from table.split()
    elif isinstance(table, Mapping):
        for key, each in table.items():
            yield from (str(key), *_times(each))
    elif isinstance(table, list | tuple):
        for each in table:
            yield from _times(each)


@lru_cache(maxsize=8)
def _known(language: str) -> _GrammarWords:
    return _GrammarWords(language)
