"""Words about what is wrong with a wine: heard only where they are plainly that.

The forms are data, in `safety.toml`.
"""

import re
from collections.abc import Callable
from datetime import datetime
from functools import lru_cache

import msgspec

from bot.cellar.batch.signs import Sign
from bot.cellar.log.acts import Act, Note, Question
from bot.understand.forms.notation import LONGEST, HouseNames, group, wording
from bot.understand.scene import ReplyTo, Scene
from bot.understand.text.language import tables_of
from bot.understand.verdict import Doubt, Verdict

_NAME = r"(?P<batch>[^\W\d_][^,;:?.!]{0,39}?)(?: (?:wine|batch|kit))?"
_PARTS = {
    "<named>": rf"(?:the |our |my )?{_NAME}",
    "<of>": rf"(?: (?:of |from |on ))?(?:the |our |my )?{_NAME}",
}
_CLAUSE = re.compile(r"[,.;!?\n]|\bbut\b|\band\b")


class _SafetyWords(msgspec.Struct, frozen=True):
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
    """The verdict on words about a wine that is not well; None for any other message, and for one that tells a
    fact besides: `otherwise` reads that. Where several can be meant it asks, if the bot is spoken to
    (`addressed`)."""
    if len(text) > LONGEST or "\n" in text.strip():
        return None
    words, said = _words(scene.language), wording(text)
    house = HouseNames(scene, sent_at, replying_to)
    told = _told(text, said, house, words, addressed=addressed)
    if told is None or any(not isinstance(act, Question) for act in otherwise(text).acts):
        return None
    return told


def signs_of(text: str, language: str) -> tuple[Sign, ...]:
    """What a note tells is wrong with the wine, without what it denies."""
    words = _words(language)
    clauses = [wording(clause) for clause in _CLAUSE.split(text.casefold())]
    return tuple(
        sign
        for sign, form in words.signs.items()
        if any((hit := form.search(c)) and not words.deny.search(c[: hit.start()]) for c in clauses)
    )


def _told(text: str, said: str, house: HouseNames, words: _SafetyWords, *, addressed: bool) -> Verdict | None:
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
def _words(language: str) -> _SafetyWords:
    plain = tables_of(language, "safety")

    signs = {name: form for name, form in plain["signs"].items() if name != "deny"}
    return _SafetyWords(
        deny=re.compile(plain["signs"]["deny"]),
        signs={msgspec.convert(name, Sign): re.compile(form) for name, form in signs.items()},
        told=tuple(re.compile(_whole(form)) for form in plain["told"]["forms"]),
    )


def _whole(form: str) -> str:
    for mark, part in _PARTS.items():
        form = form.replace(mark, part)
    return form
