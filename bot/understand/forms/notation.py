"""The notation of forms: patterns with slots, filled with the words of a language, and the names of a house found in
what a slot holds."""

import re
from collections.abc import Callable
from datetime import datetime
from functools import lru_cache
from typing import Any

import msgspec

from bot.cellar.log.acts import Act
from bot.science import practice
from bot.understand.scene import ReplyTo, Scene
from bot.understand.text.language import tables_of
from bot.understand.text.lexicon import lexicon
from bot.understand.text.names import Names, Target, Targets, names_of
from bot.understand.text.scan import fold, scan, tidy
from bot.understand.text.times import TimeSaid, resolve
from bot.understand.text.timewords import TimeGrammar
from bot.understand.verdict import Doubt

LONGEST = 300
"""Characters of a message that may still have a form."""

MARK = re.compile(r"(?<!\?P)<\w+>")

_NAMED = re.compile(r"\(\?P<\w+>")

COMMA = re.compile(r" ?(?:,|&|\band\b|\bplus\b) ?")

Unknown = tuple[Doubt, str]
"""What is named and is not there, and what it would be."""


class Forms:
    """The forms of a language, ready to be matched."""

    def __init__(self, tables: dict[str, Any]) -> None:
        words: dict[str, str] = tables["words"]
        self.open = re.compile(tables["open"])
        self.wish = re.compile(tables["occasion"]["wish"] + "$")
        self.days: dict[str, str] = tables["occasion"]["days"]
        self.between = re.compile(tables["occasion"]["between"])
        self.no_tap = re.compile(rf"\b(?:{words['no_tap']})\b")
        self.everybody = tuple(words["everybody"].split("|"))
        self.readings = re.compile(words["readings"])
        self.pots = tuple(words["pots"].split("|"))
        self.patterns = {
            name: [pattern(form, tables) for form in table["forms"]]
            for name, table in tables.items()
            if isinstance(table, dict) and "forms" in table
        }
        """Every form as it is written, by the names under which they are read."""
        every = (_NAMED.sub("(?:", form) for forms in self.patterns.values() for form in forms)
        self._any = re.compile("|".join(f"(?:{form})" for form in every))
        self._compiled: dict[str, tuple[re.Pattern[str], ...]] = {}

    def named(self, name: str) -> tuple[re.Pattern[str], ...]:
        """The forms of a name, each compiled when one of them is first looked for: that takes long."""
        if name not in self._compiled:
            self._compiled[name] = tuple(map(re.compile, self.patterns[name]))
        return self._compiled[name]

    def has(self, words: str) -> bool:
        """Whether the words are of any of the forms: most messages are of none, and one look tells that."""
        return self._any.match(words) is not None


def compiled(form: str, tables: dict[str, Any], *, end: str | None = None) -> re.Pattern[str]:
    """A form as `pattern` writes it, ready to be matched."""
    return re.compile(pattern(form, tables, end=end))


def pattern(form: str, tables: dict[str, Any], *, end: str | None = None) -> str:
    """A form as a pattern, its marks filled in; `tables` are those of the file of forms, `end` what may follow it
    where that is not their "when" and "close"."""
    words: dict[str, str] = tables["words"]
    the = r"(?:the |our |my )?"
    parts = {
        "<batch>": the + r"(?P<batch>[^\W\d_][^,;:?]{0,39}?)(?: (?:wine|batch|kit))?",
        "<other>": the + r"(?P<other>[^\W\d_][^,;:?]{0,39}?)(?: (?:wine|batch))?",
        "<vessel>": the + r"(?P<vessel>[^\W\d_][^,;:?]{0,39}?)",
        "<plan>": r"(?P<plan>[^\W\d_][^,;:?]{0,39}?)",
        "<list>": the + r"(?P<list>[^\W\d_].{0,80}?)",
        "<shares>": r"(?P<shares>.{3,160}?)",
        "<ids>": r"(?P<ids>[a-z0-9](?: ?(?:,|and|&|\+|, and) ?[a-z0-9])*)",
        "<number>": r"(?P<number>\d{1,4}(?:[.,]\d{1,2})?)",
        "<volume>": rf"(?P<volume>{words['volume']})\b",
        "<money>": words["money"],
        "<coin>": words["coin"],
        "<second>": words["money"].replace("P<money>", "P<second>"),
        "<tap>": words["tap"],
        "<people>": r"(?P<people>[^\W\d_][^;:?]{0,60}?)",
        "<chore>": rf"(?:the |our |taking the |taking )?(?P<chore>{words['readings']}|[^\W\d_]+ing)",
        "<cellar>": rf"(?:the |our )?(?:{words['cellar']})",
        "<stands>": words["stands"],
        "<sanitiser>": words["sanitiser"],
        "<thing>": rf"(?P<thing>{words['thing']})",
    }
    whole = MARK.sub(lambda mark: parts[mark[0]], form)
    return rf"{whole}{tables['when'] if end is None else end}{tables['close']}$"


@lru_cache(maxsize=8)
def forms_of(language: str) -> Forms:
    """The forms of a language; English where it is not known."""
    return Forms(tables_of(language, "forms"))


def wording(text: str) -> str:
    """The message as forms see it: lower case, single spaces, no final mark."""
    return " ".join(tidy(text).casefold().split()).rstrip(" .!?")


def group(found: re.Match[str], name: str) -> str | None:
    """The text of a named group; None where the form has none of that name, or it is empty."""
    return found.groupdict().get(name)


class HouseNames:
    """The names of a house, found in a piece of a message."""

    def __init__(self, scene: Scene, sent_at: datetime, replying_to: ReplyTo | None) -> None:
        self.scene, self.sent_at = scene, sent_at
        self.names: Names = names_of(scene)
        self.targets = Targets(scene, self.names)
        self.unknown: Unknown | None = None
        """A vessel or person that was named and is none of the house's."""
        self.replied = self.targets.named(replying_to.of) if replying_to is not None else None

    def target(self, said: str | None, *, bottled: bool = False) -> Target | None:
        """What a piece names, when the whole piece is a name of the house."""
        if said is None:
            return None
        words = said.removesuffix("'s").strip()
        tokens = scan(tidy(words))
        if not tokens:
            return None
        found = self.names.find(tokens, 0)
        if found is None or found[0] < len(tokens):
            found = self.names.find_vessel(tokens, 0) or found
        if found is not None and found[0] >= len(tokens) and found[1].kind == "unknown" and found[1].sure > 1:
            self.unknown = (Doubt.UNKNOWN_VESSEL, found[1].name)
        if found is not None and found[0] >= len(tokens) and found[1].kind in ("batch", "vessel", "kind"):
            target = self.targets.of(found[1], bottled=bottled)[0]
            return target if target.doubt is None else None
        colour = next(
            (tag.value for tag in lexicon(self.scene.language).tags(fold(words)) if tag.kind == "colour"),
            None,
        )
        fits = [batch for batch in self.scene.batches if colour and batch.colour == colour]
        fits = [batch for batch in fits if (batch.bottled is not None) == bottled] or fits
        return self.targets.batch(fits[0]) if len(fits) == 1 else None

    def batch(self, found: re.Match[str], *, bottled: bool = False, piece: str = "batch") -> str | None:
        """The batch that a form names; where it has none, the one replied to or the only one under way."""
        said = group(found, piece)
        if said is not None and said in ("it", "that", "this"):
            said = None
        if said is not None:
            target = self.target(said, bottled=bottled)
            return target.batch.name if target is not None and target.batch is not None else None
        if self.replied is not None and self.replied.batch is not None:
            return self.replied.batch.name
        under_way = self.scene.under_way
        return under_way[0].name if len(under_way) == 1 else None

    def vessel(self, said: str | None) -> str | None:
        """The vessel that a piece names: not a batch, though there may be one in it."""
        if said is None:
            return None
        target = self.target(said)
        known = {name.casefold() for v in self.scene.vessels for name in (v.name, *v.nicknames)}
        if target is None or target.vessel is None:
            return None
        return (
            target.vessel if said in known or target.of == target.vessel or not self._is_batch(said) else None
        )

    def _is_batch(self, said: str) -> bool:
        return any(
            said in (b.name.casefold(), *(n.casefold() for n in b.nicknames)) for b in self.scene.batches
        )

    def litres(self, number: str, unit: str | None) -> float:
        value = float(number.replace(",", "."))
        gallons = unit is not None and unit.startswith("g")
        if unit is None and self.scene.volume_unit.lower().startswith("g"):
            gallons = True
        return round(value * practice.GALLON_LITRES.value[self.scene.gallon], 3) if gallons else value

    def moments(self, said: str) -> list[TimeSaid]:
        """The times in a piece of text."""
        grammar = TimeGrammar(lexicon(self.scene.language).times)
        tokens, at, found = scan(tidy(said)), 0, []
        while at < len(tokens):
            hit = grammar.find(tokens, at, lambda word: False)
            if hit:
                found.append(hit[1])
            at = hit[0] if hit else at + 1
        return found

    def timed(self, acts: tuple[Act, ...], found: re.Match[str]) -> tuple[Act, ...]:
        """The acts at the time that was said with them; none when that is still to come."""
        said = group(found, "when")
        if not said:
            return acts
        moments = self.moments(said)
        at = resolve(moments[0], self.sent_at, self.scene.zone, "past") if moments else None
        if at is None or at > self.sent_at:
            return acts
        return tuple(msgspec.structs.replace(act, at=at) for act in acts)


ReadsForm = Callable[[re.Match[str], HouseNames, Forms], tuple[Act, ...]]
