"""Names of the house found in tokens, and which of its batches and vessels they mean."""

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Literal

import msgspec

from bot.cellar.batch.bounds import one_more
from bot.understand.scene import Scene, SceneBatch
from bot.understand.text.lexicon import Lexicon, lexicon, nearest
from bot.understand.text.near import near_of
from bot.understand.text.scan import Token, fold, scan, tidy
from bot.understand.verdict import Doubt

_MOST_VESSELS = 40
"""No household counts its buckets further: "carboy 68" is a temperature."""
_MOST_UNKNOWN = 9
"""Beyond this a number in a list of vessels is none that the house does not have."""

_SHORTEST_STRANGE, _SHORTEST_PART, _SHORTEST_SLIP = 2, 3, 4

RefKind = Literal["batch", "vessel", "colour", "every", "unknown", "kind"]


class Ref(msgspec.Struct, frozen=True):
    """Something of the house that a message points at.

    `name` is the vessel's or batch's own name (`bucket 9` for an unknown vessel, the kind for "the bucket").
    `sure` is lower for a part of a name or a colour, which may well be an everyday word.
    """

    kind: RefKind
    name: str
    sure: float = 2.0


class Names:
    """Finds the house's names in tokens. Built once for a house."""

    def __init__(
        self,
        batches: tuple[tuple[str, tuple[str, ...]], ...],
        vessels: tuple[tuple[str, tuple[str, ...]], ...],
        words: Lexicon,
        common: Callable[[str], bool] = lambda word: False,
    ) -> None:
        self._words = words
        self._common = common
        self._phrases: dict[tuple[str, ...], Ref] = {}
        self._numbered: dict[tuple[str, int], str] = {}
        self._kinds: dict[str, list[str]] = {}
        for name, nicknames in vessels:
            for said in (name, *nicknames):
                self._learn(said, Ref("vessel", name), words)
            self._learn_number(name)
        for name, nicknames in batches:
            for said in (name, *nicknames):
                self._learn(said, Ref("batch", name), words)
        self._parts(batches)
        self._longest = max((len(phrase) for phrase in self._phrases), default=0)
        self._firsts = {phrase[0] for phrase in self._phrases}
        self._fuzzy = {
            first: sorted(
                {phrase[0] for phrase in self._phrases if len(phrase[0]) > 4 and phrase[0][0] == first}
            )
            for first in {phrase[0][0] for phrase in self._phrases}
        }

    def _learn(self, said: str, ref: Ref, words: Lexicon) -> None:
        phrase = _fold_all(said)
        if not phrase:
            return
        bare = tuple(token.owner or token.fold for token in scan(tidy(said)))
        if bare != phrase:
            self._phrases.setdefault(bare, ref)
        everyday = len(phrase) == 1 and (words.knows(phrase[0]) or phrase[0] in _time_words(words))
        if everyday:
            ref = msgspec.structs.replace(ref, sure=1.5)
        self._phrases.setdefault(phrase, ref)
        if (
            not phrase[-1].endswith("s")
            and phrase[-1].isascii()
            and phrase[-1].isalpha()
            and ref.kind == "batch"
        ):
            plural = (*phrase[:-1], phrase[-1] + "s")
            self._phrases.setdefault(plural, msgspec.structs.replace(ref, sure=1.5))

    def _learn_number(self, name: str) -> None:
        phrase = _fold_all(name)
        kinds = [tag.value for word in phrase for tag in self._words.tags(word) if tag.kind == "vessel"]
        if not kinds:
            return
        self._kinds.setdefault(kinds[0], []).append(name)
        if phrase[-1].isdecimal():
            self._numbered[(kinds[0], int(phrase[-1]))] = name

    def _parts(self, batches: tuple[tuple[str, tuple[str, ...]], ...]) -> None:
        """A word that only one batch's name has points at it too: "harbour" for "harbour white"."""
        owners: dict[str, set[str]] = {}
        for name, _ in batches:
            for word in _fold_all(name):
                owners.setdefault(word, set()).add(name)
        for word, names in owners.items():
            known = self._words.knows(word) or word in _time_words(self._words)
            if len(names) == 1 and len(word) > 3 and not known and word.isalpha():
                (name,) = names
                self._phrases.setdefault((word,), Ref("batch", name, 1.2))

    def find(self, tokens: Sequence[Token], at: int) -> tuple[int, Ref] | None:
        """The name that starts at a token and where it ends; an exact spelling, longest first."""
        if tokens[at].fold in self._firsts:
            for length in range(min(self._longest, len(tokens) - at), 0, -1):
                ref = self._phrases.get(tuple(token.fold for token in tokens[at : at + length]))
                if ref:
                    return at + length, ref
        return None

    def find_vessel(self, tokens: Sequence[Token], at: int) -> tuple[int, Ref] | None:
        """A kind of vessel and its number: "bkt 2", "b2", "bucket no. two", "bucket to"."""
        word = tokens[at].fold
        placed = self._placed(tokens, at)
        if placed is not None:
            return placed
        kind = self._words.vessel(word)
        if kind is None:
            return None
        found = self._number(tokens, at + 1, glued=len(word) == 1)
        if found is None:
            return (
                (at + 1, Ref("kind", kind, 1.5 if len(self._kinds.get(kind, ())) == 1 else 0.5))
                if len(word) > 1 and kind in self._kinds
                else None
            )
        end, count = found
        name = self._numbered.get((kind, count)) or self._elsewhere(kind, count)
        if name:
            return end, Ref("vessel", name)
        plain = len(word) > 1
        return end, Ref("unknown", f"{kind} {count}", 1.5 if plain else 0.5)

    def _placed(self, tokens: Sequence[Token], at: int) -> tuple[int, Ref] | None:
        """ "The second bucket", "2nd bucket"."""
        ends = tokens[at].kind == "num" and at + 1 < len(tokens) and tokens[at + 1].glued
        if not ends and not self._words.tells_place(tokens[at].fold):
            return None
        found = self._words.longest([token.fold for token in tokens[at : at + 2]], 0)
        places = [tag.value for tag in found[1] if tag.kind == "place"] if found else []
        if ends and tokens[at].fold.isdecimal():
            ordinal = tokens[at + 1].fold in self._words.times.get("ordinal_ends", ())
            found, places = (2, ()), [tokens[at].fold] if ordinal else []
        after = at + found[0] if found else at
        if not places or not places[0].isdecimal() or after >= len(tokens):
            return None
        for tag in self._words.tags(tokens[after].fold):
            name = self._numbered.get((tag.value, int(places[0]))) if tag.kind == "vessel" else None
            if name is not None:
                return after + 1, Ref("vessel", name)
        return None

    def _elsewhere(self, kind: str, count: int) -> str | None:
        """A house without that kind of vessel may still mean its only numbered kind."""
        if any(known == kind for known, _ in self._numbered):
            return None
        matching = [name for (_, number), name in self._numbered.items() if number == count]
        return matching[0] if len(matching) == 1 else None

    def next_vessel(self, before: Ref, number: float) -> Ref | None:
        """The vessel of the same kind as one named before, where a list goes on: "buckets 1, 2 and 9"."""
        if not number.is_integer() or not 1 <= number <= _MOST_VESSELS:
            return None
        kinds = [
            tag.value
            for word in _fold_all(before.name)
            for tag in self._words.tags(word)
            if tag.kind == "vessel"
        ]
        if not kinds:
            return None
        name = self._numbered.get((kinds[0], int(number)))
        if name is None and number > _MOST_UNKNOWN:
            return None  # "b3, 23, 14 d": a house that has it would know it
        return Ref("vessel", name) if name else Ref("unknown", f"{kinds[0]} {int(number)}", 1.5)

    def _number(self, tokens: Sequence[Token], at: int, *, glued: bool) -> tuple[int, int] | None:
        index = at
        while (
            index < len(tokens)
            and any(tag.kind == "numbermark" for tag in self._words.tags(tokens[index].fold))
            and index - at < 2
        ):
            index += 1
        if index >= len(tokens):
            return None
        token = tokens[index]
        if token.kind == "num" and token.fold.isdecimal() and int(token.fold) <= _MOST_VESSELS:
            if glued and not token.glued and tokens[at - 1].start > 0 and len(token.fold) > 1:
                return None
            return index + 1, int(token.fold)
        if glued:
            return None
        for tag in self._words.tags(token.fold):
            if tag.kind == "number" and float(tag.value) <= 20:
                return index + 1, int(tag.value)
            if tag.kind == "homophone" and (index + 1 == len(tokens) or tokens[index + 1].kind == "num"):
                return index + 1, int(tag.value)
        return None

    def near(self, tokens: Sequence[Token], at: int) -> tuple[int, Ref] | None:
        """A name with a slip of the finger in its first word."""
        word = tokens[at].fold
        if len(word) < _SHORTEST_SLIP or self._words.knows(word):
            return None
        meant = nearest(word, self._fuzzy.get(word[0], ()))
        if meant is None or (len(meant) == len(word) and self._common(word)):
            return None  # a driver is no drover
        mended = [msgspec.structs.replace(tokens[at], fold=meant), *tokens[at + 1 : at + self._longest]]
        found = self.find(mended, 0)
        return (at + found[0], found[1]) if found else None

    def begun_with(self, word: str, *, strange: bool = False) -> Ref | None:
        """The one batch whose name begins with a word of three letters or more, two where it is `strange`: "snow" for
        Snowbird, "ru" for Rust."""
        least = _SHORTEST_STRANGE if strange else _SHORTEST_PART
        return self._only_begun_with(word) if len(word) >= least and word.isalpha() else None

    def _only_begun_with(self, word: str) -> Ref | None:
        found = {
            ref.name
            for phrase, ref in self._phrases.items()
            if ref.kind == "batch" and phrase[0].startswith(word)
        }
        return Ref("batch", found.pop(), 1.2) if len(found) == 1 else None

    def shortened(self, tokens: Sequence[Token], at: int) -> Ref | None:
        """The one batch that a word which nothing knows is short for, beside a figure: "ru 1.066, ch 1.060", "D 28"."""
        word = tokens[at].fold
        figure = at + 1 < len(tokens) and tokens[at + 1].kind == "num"
        figure |= len(word) > 1 and at > 0 and tokens[at - 1].kind == "num" and not tokens[at].glued
        whole = word.isalpha() and tokens[at].kind == "word"
        return self._only_begun_with(word) if figure and whole else None

    def numbered(self, number: int) -> tuple[str, ...]:
        """The house's vessels of that number."""
        return tuple(name for (_, count), name in self._numbered.items() if count == number)

    def of_kind(self, kind: str) -> tuple[str, ...]:
        """The house's vessels of a kind."""
        return tuple(self._kinds.get(kind, ()))


def _fold_all(name: str) -> tuple[str, ...]:
    return tuple(token.fold for token in scan(tidy(name)))


@lru_cache(maxsize=8)
def _time_words(words: Lexicon) -> frozenset[str]:
    tables = words.times
    groups = [tables.get(key, {}) for key in ("weekday", "month", "day", "part")]
    return frozenset(fold(word) for table in groups for phrases in table.values() for word in phrases)


@lru_cache(maxsize=256)
def _names(
    batches: tuple[tuple[str, tuple[str, ...]], ...],
    vessels: tuple[tuple[str, tuple[str, ...]], ...],
    language: str,
) -> Names:
    return Names(batches, vessels, lexicon(language), near_of(language).common)


def names_of(scene: Scene) -> Names:
    """The house's names, ready to be found."""
    known: Names | None = scene.__dict__.get("names")
    if known is None:
        known = scene.__dict__["names"] = _names(
            tuple((batch.name, batch.nicknames) for batch in scene.batches),
            tuple((vessel.name, vessel.nicknames) for vessel in scene.vessels),
            scene.language,
        )
    return known


class Target(msgspec.Struct, frozen=True):
    """What an act is about: its `of`, the batch when there is one, or the doubt about it."""

    of: str | None
    batch: SceneBatch | None = None
    vessel: str | None = None
    doubt: Doubt | None = None
    about: str | None = None
    choices: tuple[str, ...] = ()


class Targets:
    """Finds the batch or vessel that a name points at."""

    def __init__(self, scene: Scene, names: Names) -> None:
        self.scene = scene
        self.names = names
        self.by_name = {batch.name: batch for batch in scene.batches}
        self.in_vessel = {batch.vessel: batch for batch in scene.under_way if batch.vessel}
        self.in_vessel |= {vessel: batch for batch in scene.under_way for vessel in batch.also_in}

    def of(self, ref: Ref, *, bottled: bool = False) -> tuple[Target, ...]:
        """What a name points at; several for "both". `bottled` prefers batches in bottles."""
        if ref.kind == "batch":
            return (self.batch(self.by_name[ref.name]),)
        if ref.kind == "vessel":
            return (self.vessel(ref.name),)
        if ref.kind == "unknown":
            return (Target(None, doubt=Doubt.UNKNOWN_VESSEL, about=ref.name),)
        if ref.kind == "every":
            kept = [
                batch for batch in self.scene.batches if batch.bottled is not None and batch.bottles_left != 0
            ]
            return tuple(self.batch(batch) for batch in (kept if bottled and kept else self.scene.under_way))
        if ref.kind == "colour":
            return (self._colour(ref.name, bottled=bottled),)
        return (self._kind(ref.name),)

    def one_more(self, ref: Ref) -> bool:
        """Whether an unknown vessel is the next of its kind by number."""
        return ref.kind == "unknown" and one_more(ref.name, [vessel.name for vessel in self.scene.vessels])

    def batch(self, batch: SceneBatch) -> Target:
        """The target that a batch is."""
        return Target(batch.name, batch=batch, vessel=batch.vessel)

    def vessel(self, name: str) -> Target:
        """The batch in a vessel, else the vessel itself."""
        batch = self.in_vessel.get(name)
        return Target(batch.name if batch else name, batch=batch, vessel=name)

    def named(self, of: str | None) -> Target | None:
        """The target behind a batch's or vessel's plain name, as a reply carries it."""
        if of is None:
            return None
        if of in self.by_name:
            return self.batch(self.by_name[of])
        for vessel in self.scene.vessels:
            if of in (vessel.name, *vessel.nicknames):
                return self.vessel(vessel.name)
        for batch in self.scene.batches:
            if of in batch.nicknames:
                return self.batch(batch)
        return None

    def _colour(self, colour: str, *, bottled: bool) -> Target:
        have = [batch for batch in self.scene.batches if batch.colour == colour]
        preferred = [batch for batch in have if (batch.bottled is not None) == bottled] or have
        if len(preferred) == 1:
            return self.batch(preferred[0])
        return Target(
            None, doubt=Doubt.WHICH_BATCH, about=colour, choices=tuple(batch.name for batch in preferred)
        )

    def _kind(self, kind: str) -> Target:
        """ "The bucket": the only one of its kind, or the only one in use."""
        vessels = self.names.of_kind(kind)
        busy = [name for name in vessels if name in self.in_vessel]
        if len(vessels) == 1:
            return self.vessel(vessels[0])
        if len(busy) == 1:
            return self.vessel(busy[0])
        choices = tuple(self.vessel(name).of or name for name in busy or vessels)
        return Target(None, doubt=Doubt.WHICH_VESSEL, about=kind, choices=choices)
