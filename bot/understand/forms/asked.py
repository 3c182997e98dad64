"""Short questions and remarks that are known by all their words: what a topic is asked by, in whatever company.

Their wordings are data, under `asked`. A message is looked at whole; one that nothing else reads, a sentence at a time.
"""

import re
from collections.abc import Iterator
from datetime import datetime
from functools import lru_cache
from typing import Any

from bot.cellar.log.acts import Question
from bot.cellar.log.subjects import FermentRange, Lore, Matter, Subject
from bot.cellar.log.topics import CRAFT, subject_of
from bot.understand.forms.notation import HouseNames, group
from bot.understand.scene import ReplyTo, Scene
from bot.understand.text.language import tables_of
from bot.understand.text.names import Target
from bot.understand.text.scan import tidy

LONGEST = 400
"""Characters of a message in which such a question is looked for."""
_DEEP = 4
"""So many words may stand for others in turn."""
_POINTING = frozenset(
    [
        "it",
        "that",
        "this",
        "these",
        "those",
        "they",
        "she",
        "he",
        "both",
        "wine",
        "wines",
        "stuff",
        "bucket",
        "yeast",
        "yeasts",
        "one",
    ]
)
_NAME = r"(?:the |our |my )?(?P<batch>[^\W_][^\W_]*(?: [^\W_]+)??)"
_DEGREES = r"(?:at |about |around )?(?P<degrees>\d{1,3}(?:[.,]\d)?) ?(?:°|degrees?|deg)? ?(?P<scale>c|f|celsius|fahrenheit)?\b"
_TERM = r"(?P<term>[^\W\d_]+(?: [^\W\d_]+)?)"
_MARKS = re.compile(r"[’'\"“”`]")
_REST = re.compile(r"[^\w.°%\s-]|(?<!\d)\.|\.(?!\d)|(?<!\w)-|-(?!\w)")
_MARKED = re.compile(r"\?[\W_]*$")
"""A question mark ends it, whatever signs follow."""
_SENTENCES = re.compile(r"(?<=[.!?;,:])\s+|\n+| - | – ")
_WATER_BOILS_C = 100.0


class _Wordings:
    """The wordings of a language, ready to be matched."""

    def __init__(self, table: dict[str, Any]) -> None:
        self._words: dict[str, str] = table["words"]
        before, after = (
            "|".join(sorted(map(re.escape, table[key]), key=len, reverse=True)) for key in ("before", "after")
        )
        self.before = re.compile(rf"(?:{before})\s+")
        self.after = re.compile(rf"\s+(?:{after})$")
        called, others = ("|".join(table[key]) for key in ("bot", "not_called"))
        self.called = re.compile(rf"(?:^|[\s,])(?:{called})(?=$|[\s,.:;!?])", re.IGNORECASE)
        self.spoken_of = re.compile(rf"\b(?:{others})\s+(?:{called})\b", re.IGNORECASE)
        self.wine = re.compile(rf"\b(?:{'|'.join(map(re.escape, table['wine']))})\b")
        self.topics = {name: self._forms(forms) for name, forms in table["topics"].items()}
        self.marked = {name: self._forms(forms) for name, forms in table["marked"].items()}
        self.late = {name: self._forms(forms) for name, forms in table["late"].items()}
        self.same: dict[str, str] = table["same"]
        self.remarks = {name: self._forms(forms) for name, forms in table["remarks"].items()}

    def _forms(self, forms: list[str]) -> list[re.Pattern[str]]:
        return [re.compile(self._filled(form)) for form in forms]

    def _filled(self, form: str) -> str:
        for _ in range(_DEEP):
            for word, said in self._words.items():
                form = form.replace(f"<{word}>", said)
        for mark, said in (("<batch>", _NAME), ("<degrees>", _DEGREES), ("<term>", _TERM)):
            first, *rest = form.split(mark)
            again = re.sub(r"\(\?P<\w+>", "(?:", said)  # a name is caught where it stands first
            form = first + (said if rest else "") + again.join(rest)
        return form


@lru_cache(maxsize=8)
def _patterns(language: str) -> _Wordings:
    return _Wordings(tables_of(language, "asked"))


def called(text: str, language: str) -> bool:
    """Whether the bot is called by that word, and not only spoken of."""
    known = _patterns(language)
    return known.called.search(text) is not None and known.spoken_of.search(text) is None


def of_wine(text: str, language: str) -> bool:
    """Whether words are in it with which people mean their wine and nothing else."""
    return _patterns(language).wine.search(_plain(text)) is not None


def sentences(text: str) -> list[str]:
    """The sentences of a message, the last first: what is asked mostly comes last."""
    return [part for part in reversed(_SENTENCES.split(text)) if part.strip()]


def known_question(
    text: str,
    scene: Scene,
    sent_at: datetime,
    replying_to: ReplyTo | None = None,
    *,
    addressed: bool,
    remarks: bool = False,
    late: bool = False,
) -> Question | None:
    """The question that all of a text asks, by its words; with `remarks` also what is remarked and wants an answer, and
    with `late` what may as well be told as asked. Where
    it is not `addressed` to the bot, its words or a name of the house must say that the wine is meant."""
    if len(text) > LONGEST:
        return None
    known = _patterns(scene.language)
    ways = _ways(text, known)
    house = HouseNames(scene, sent_at, replying_to)
    ours = addressed or of_wine(text, scene.language)
    groups = [
        known.topics,
        *([known.marked] if addressed and _MARKED.search(text) is not None else []),
        *([known.remarks] if remarks and addressed else []),
        *([known.late] if late else []),
    ]
    for table in groups:
        for topic, forms in table.items():
            for form in forms:
                for words in ways:
                    found = form.fullmatch(words)
                    question = (
                        _question(topic, found, house, remarked=table is known.remarks) if found else None
                    )
                    if question is not None and (ours or (question.of is not None and _named(found))):
                        return question
    return None


def _plain(text: str) -> str:
    return " ".join(_REST.sub(" ", _MARKS.sub("", tidy(text).casefold())).split())


def _ways(text: str, known: _Wordings) -> list[str]:
    """The words as they are, and without what stands before and after them."""
    words = " ".join(known.same.get(word, word) for word in _plain(text).split())
    ways = [words]
    while (found := known.before.match(words)) is not None:
        words = words[found.end() :]
        ways.append(words)
    for each in list(ways):
        rest = each
        while (tail := known.after.search(rest)) is not None:
            rest = rest[: tail.start()]
            ways.append(rest)
    return [way for way in dict.fromkeys(ways) if way] or [""]


def _named(found: re.Match[str] | None) -> bool:
    said = group(found, "batch") if found is not None else None
    return said is not None and said.split()[-1] not in _POINTING


def _question(topic: str, found: re.Match[str], house: HouseNames, *, remarked: bool) -> Question | None:
    """The question of that topic; None where a name in it is none of the house's, or nothing is there to ask of."""
    of = None
    if _named(found):
        target = _target(group(found, "batch") or "", house, bottled=topic == "stock")
        if target is None or target.batch is None:
            return None
        of = target.batch.name
    elif group(found, "batch") is not None or topic not in _OF_THE_HOUSE:
        of = _last_named(found.string, house) or house.batch(found)
    subject = _subject(topic, found, house, remarked=remarked)
    craft = isinstance(subject, Lore)
    if subject is None or (not house.scene.batches and not craft):
        return None
    if topic == "stock" and all(batch.bottled is None for batch in house.scene.batches):
        return None
    if isinstance(subject, Lore) and subject.topic.startswith("what_is"):
        of = None
    return Question(subject=subject, of=of)


def _last_named(words: str, house: HouseNames) -> str | None:
    """The batch whose name a question ends in: "is 18 ok for coot"."""
    last = words.split()[-2:]
    for said in dict.fromkeys((" ".join(last), *last[-1:])):
        target = house.target(said) if said not in _POINTING else None
        if target is not None and target.batch is not None:
            return target.batch.name
    return None


def _target(said: str, house: HouseNames, *, bottled: bool) -> Target | None:
    """What is named; a number alone is the vessel's of that number."""
    numbered = [vessel.name for vessel in house.scene.vessels if vessel.name.split()[-1] == said]
    return house.target(numbered[0] if said.isdigit() and len(numbered) == 1 else said, bottled=bottled)


_OF_THE_HOUSE = frozenset({"stock", "vessels", "compare"})
_FIRST = frozenset({"sanitise", "mix", "gravity", "pitch"})


def _subject(topic: str, found: re.Match[str], house: HouseNames, *, remarked: bool) -> Subject | None:
    scene = house.scene
    if topic == "what_is":
        return next(map(subject_of, _terms(group(found, "term") or "")), None)
    if topic == "ferment_range":
        at_c = _celsius(found, scene)
        warm = at_c is not None or remarked
        return FermentRange(at_c=at_c) if warm else Matter(about="temperature")
    if topic == "first_steps" and scene.under_way:
        waits = [batch.next[:1] for batch in scene.under_way]
        begun = all(
            batch.next and batch.readings and batch.next[0] not in ("sanitise", "mix", "pitch")
            for batch in scene.under_way
        )
        return Matter(about="next") if waits and begun else Lore(topic=topic)
    return subject_of(topic)


def _terms(said: str) -> Iterator[str]:
    """The topics that a word of the craft may be told under."""
    word = said.replace(" ", "_")
    for each in (word, word.removesuffix("s"), f"{word}s", word.removesuffix("e") + "ing"):
        if f"what_is_{each}" in CRAFT:
            yield f"what_is_{each}"


def _celsius(found: re.Match[str], scene: Scene) -> float | None:
    """The degrees that were named, in °C; None where none were, or no room has that."""
    said = group(found, "degrees")
    if said is None:
        return None
    value = float(said.replace(",", "."))
    scale = (group(found, "scale") or scene.temperature_unit)[:1].upper()
    celsius = (value - 32.0) / 1.8 if scale == "F" else value
    return round(celsius, 1) if celsius < _WATER_BOILS_C else None
