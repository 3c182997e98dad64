"""Words about what may hurt somebody, or about what is wrong with a wine: heard only where they are plainly that.

The forms are data, in `patterns/<language>_safety.toml`.
"""

import re
from collections.abc import Callable
from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

import msgspec

from bot.cellar.acts import Act, Note, Question
from bot.cellar.signs import Sign
from bot.understand.forms import LONGEST, wording
from bot.understand.language import tables_of
from bot.understand.pieces import HouseNames, group
from bot.understand.scene import ReplyTo, Scene
from bot.understand.verdict import Doubt, Verdict

_NAME = r"(?P<batch>[^\W\d_][^,;:?.!]{0,39}?)(?: (?:wine|batch|kit))?"
_PARTS = {
    "<named>": rf"(?:the |our |my )?{_NAME}",
    "<of>": rf"(?: (?:of |from |on ))?(?:the |our |my )?{_NAME}",
    "<bottled>": _NAME,
}
_CLAUSE = re.compile(r"[,.;!?\n]|\bbut\b|\band\b")


class _Topic(NamedTuple):
    name: str
    sure: tuple[re.Pattern[str], ...]
    spoken: tuple[re.Pattern[str], ...]
    bottled: tuple[re.Pattern[str], ...]


class _Words(NamedTuple):
    never: re.Pattern[str]
    topics: tuple[_Topic, ...]
    deny: re.Pattern[str]
    signs: dict[Sign, re.Pattern[str]]
    told: tuple[re.Pattern[str], ...]


def read_safety(
    text: str,
    scene: Scene,
    sent_at: datetime,
    replying_to: ReplyTo | None,
    otherwise: Callable[[str], Verdict],
    *,
    addressed: bool,
) -> Verdict | None:
    """The verdict on words about a danger, or about a wine that is not well; None for any other message, and
    for one that tells a fact besides: `otherwise` reads that. Unless the bot is spoken to (`addressed`) only
    what can hardly mean anything else is heard."""
    if len(text) > LONGEST or "\n" in text.strip():
        return None
    words, said = _words(scene.language), wording(text)
    asked = said + ("?" if text.rstrip().endswith("?") else "")
    house = HouseNames(scene, sent_at, replying_to)
    topic = danger(asked, scene.language, spoken=addressed) or _in_bottles(said, house, words)
    if topic is not None:
        act = Question(about="safety", given={"topic": topic})
        verdict = Verdict(verdict="act", acts=(act,), why="about safety")
    elif (told := _told(text, said, house, words, addressed=addressed)) is not None:
        verdict = told
    else:
        return None
    fact = any(not isinstance(act, Question) for act in otherwise(text).acts)
    return None if fact else verdict


def danger(said: str, language: str, *, spoken: bool) -> str | None:
    """The danger that the words are plainly about, if any."""
    words = _words(language)
    if words.never.search(said):
        return None
    for topic in words.topics:
        if any(form.search(said) for form in topic.sure + (topic.spoken if spoken else ())):
            return topic.name
    return None


def signs_of(text: str, language: str) -> tuple[Sign, ...]:
    """What a note tells is wrong with the wine, without what it denies."""
    words = _words(language)
    clauses = [wording(clause) for clause in _CLAUSE.split(text.casefold())]
    return tuple(
        sign
        for sign, form in words.signs.items()
        if any((hit := form.search(c)) and not words.deny.search(c[: hit.start()]) for c in clauses)
    )


def _in_bottles(said: str, house: HouseNames, words: _Words) -> str | None:
    """ "Plum is fizzy", where the plum is in bottles."""
    for topic in words.topics:
        for form in topic.bottled:
            found = form.match(said)
            target = house.target(group(found, "batch"), bottled=True) if found else None
            if target is not None and target.batch is not None and target.batch.bottled is not None:
                return topic.name
    return None


def _told(text: str, said: str, house: HouseNames, words: _Words, *, addressed: bool) -> Verdict | None:
    """ "Lid popped off", "plum smells of vinegar": kept as a note."""
    if text.rstrip().endswith("?"):
        return None
    for form in words.told:
        found = form.fullmatch(said)
        if found is None:
            continue
        of = house.batch(found)
        if of is not None:
            note: Act = Note(of=of, text=text.strip())
            return Verdict(verdict="act", acts=(note,), why="something is wrong with a wine")
        if group(found, "batch") is None and addressed and house.scene.under_way:
            notes: list[Act] = [Note(of=batch.name, text=text.strip()) for batch in house.scene.under_way]
            options = tuple((one,) for one in notes)
            why = "several wines are under way"
            return Verdict(
                verdict="ask", acts=tuple(notes), why=why, doubt=Doubt.WHICH_BATCH, options=options
            )
    return None


@lru_cache(maxsize=8)
def _words(language: str) -> _Words:
    plain = tables_of(language, "patterns/{}_safety.toml")

    def compiled(forms: list[str]) -> tuple[re.Pattern[str], ...]:
        return tuple(re.compile(_whole(form, plain["wine"])) for form in forms)

    signs = {name: form for name, form in plain["signs"].items() if name != "deny"}
    return _Words(
        never=re.compile(plain["never"]),
        topics=tuple(
            _Topic(
                topic["name"],
                compiled(topic["sure"]),
                compiled(topic["spoken"]),
                compiled(topic.get("bottled", [])),
            )
            for topic in plain["topics"]
        ),
        deny=re.compile(plain["signs"]["deny"]),
        signs={msgspec.convert(name, Sign): re.compile(form) for name, form in signs.items()},
        told=compiled(plain["told"]["forms"]),
    )


def _whole(form: str, wine: str) -> str:
    for mark, part in {**_PARTS, "<wine>": wine}.items():
        form = form.replace(mark, part)
    return form
