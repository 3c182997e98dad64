"""The words of a language, loaded once from the tables `words` of its files into one tree of phrases."""

from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import product
from typing import Any

import msgspec
from rapidfuzz.distance import OSA

from bot.understand.text.language import tables_of
from bot.understand.text.scan import fold, scan, tidy

SHORTEST_FUZZY = 5
LONG_WORD = 8
_MOST_KNOWN = 20_000
_NO_PHRASES = ("settings", "time", "weight")


class Tag(msgspec.Struct, frozen=True):
    """What a phrase means to the grammar: `step`, `rack`, `done`."""

    kind: str
    value: str
    form: str


class _Node:
    __slots__ = ("next", "tags")

    def __init__(self) -> None:
        self.next: dict[str, _Node] = {}
        self.tags: tuple[Tag, ...] = ()


class Lexicon:
    """A language's phrases, and the words near enough to one of them to be a slip of the finger."""

    def __init__(self, tables: dict[str, Any]) -> None:
        self._root = _Node()
        self._by_letter: dict[str, list[str]] = {}
        self._near: dict[str, str | None] = {}
        self._vessels: dict[str, str | None] = {}
        self._places: set[str] = set()
        settings = tables.get("settings", {})
        self.times: dict[str, Any] = tables.get("time", {})
        self.weights: dict[str, float] = tables.get("weight", {})
        self.why = frozenset(settings.get("why", ()))
        self.people = frozenset(word for words in settings.get("people", ()) for word in words.split())
        self.roles: dict[str, frozenset[str]] = {}
        """Which keys of sums a word beside a number names."""
        for key, words in settings.get("roles", {}).items():
            for word in words.split():
                self.roles[word] = self.roles.get(word, frozenset()) | {key}
        self._kept = frozenset(fold(word) for words in settings.get("real", ()) for word in words.split())
        singles: set[str] = set()
        for kind, table in tables.items():
            if kind in _NO_PHRASES:
                continue
            fuzzy = kind in settings.get("fuzzy", ())
            for value, phrases in table.items():
                forms = phrases if isinstance(phrases, dict) else {"": phrases}
                for form, items in forms.items():
                    for phrase in items:
                        for words in expand(phrase):
                            self._add(words, Tag(kind, value, form))
                            if fuzzy and len(words) == 1:
                                singles.add(words[0])
        for word in singles:
            if len(word) >= SHORTEST_FUZZY and word.isalpha():
                self._by_letter.setdefault(word[0], []).append(word)
        for words_of_letter in self._by_letter.values():
            words_of_letter.sort()
        self.counting = frozenset(
            word
            for word in self.singles()
            if any(
                tag.kind == "number"
                or (tag.kind, tag.value) in (("spoken", "point"), ("sign", "minus"), ("times", "1000"))
                for tag in self.tags(word)
            )
        )
        """The words with which a number in words can begin."""

    def _add(self, words: Sequence[str], tag: Tag) -> None:
        node = self._root
        for word in words:
            node = node.next.setdefault(word, _Node())
        if tag not in node.tags:
            node.tags = (*node.tags, tag)
        if tag.kind == "place":
            self._places.add(words[0])

    def longest(self, words: Sequence[str], at: int) -> tuple[int, tuple[Tag, ...]] | None:
        """Where the longest phrase that starts at a word ends, and what it means."""
        node = self._root
        found: tuple[int, tuple[Tag, ...]] | None = None
        for index in range(at, len(words)):
            following = node.next.get(words[index])
            if following is None:
                break
            node = following
            if node.tags:
                found = (index + 1, node.tags)
        return found

    def tags(self, word: str) -> tuple[Tag, ...]:
        """What a single word means."""
        node = self._root.next.get(word)
        return node.tags if node else ()

    def singles(self) -> Iterable[str]:
        """Every word that means something by itself."""
        return (word for word, node in self._root.next.items() if node.tags)

    def means(self, word: str, kind: str, value: str) -> bool:
        """Whether a single word can mean just this."""
        return any(tag.kind == kind and tag.value == value for tag in self.tags(word))

    def knows(self, word: str) -> bool:
        """Whether a word means something to the grammar, or is an everyday word."""
        return word in self._kept or bool(self.tags(word))

    def tells_place(self, word: str) -> bool:
        """Whether a phrase for a place in a row begins with a word: "second"."""
        return word in self._places

    def vessel(self, word: str) -> str | None:
        """The kind of vessel that a word means, perhaps with a slip of the finger."""
        if word in self._vessels:
            return self._vessels[word]
        found = self._vessel(word)
        if found is None and len(word) > SHORTEST_FUZZY - 1 and (meant := self.near(word)) is not None:
            found = self._vessel(meant)
        if len(self._vessels) < _MOST_KNOWN:
            self._vessels[word] = found
        return found

    def _vessel(self, word: str) -> str | None:
        return next((tag.value for tag in self.tags(word) if tag.kind == "vessel"), None)

    def near(self, word: str) -> str | None:
        """The word of the grammar that this one was meant to be, when it is a likely slip of the finger."""
        if word in self._near:
            return self._near[word]
        found = self._nearest(word)
        if len(self._near) < _MOST_KNOWN:
            self._near[word] = found
        return found

    def _nearest(self, word: str) -> str | None:
        if len(word) < SHORTEST_FUZZY or word in self._kept or not word.isalpha():
            return None
        return nearest(word, self._by_letter.get(word[0], ()))


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The one known word within a slip or two of this one; None when there is none, or more than one."""
    best: str | None = None
    least = 3
    for other in known:
        limit = 2 if min(len(other), len(word)) >= LONG_WORD else 1
        if abs(len(other) - len(word)) > limit:
            continue
        apart = OSA.distance(word, other, score_cutoff=limit)
        if apart <= limit and apart < least:
            best, least = other, apart
    return best


def expand(phrase: str) -> list[tuple[str, ...]]:
    """Every way to say a phrase written with `a|b` and `word?`."""
    slots: list[list[tuple[str, ...]]] = []
    for part in phrase.split(" "):
        optional = len(part) > 1 and part.endswith("?")
        plain = part.removesuffix("?") if optional else part
        choices: list[tuple[str, ...]] = [_words(choice) for choice in plain.split("|")]
        if optional:
            choices = [*choices, ()]
        slots.append(choices)
    ways = {tuple(word for piece in way for word in piece) for way in product(*slots)}
    return [way for way in sorted(ways) if way]


def _words(piece: str) -> tuple[str, ...]:
    return tuple(token.fold for token in scan(tidy(piece)))


@lru_cache(maxsize=8)
def lexicon(language: str) -> Lexicon:
    """The words of a language, read once; English where the language is not known."""
    return Lexicon(tables_of(language, "words"))
