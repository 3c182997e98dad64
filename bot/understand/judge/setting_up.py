"""What is told between the box and the yeast, in everyday words: washing, emptying the bag in, whipping air into the must.

The same words mean something else later: "whisked it like mad" is air for the yeast now and degassing after the ferment;
"the bag is in" is the juice now and a packet then.
"""

from collections.abc import Sequence
from datetime import datetime
from functools import lru_cache

import msgspec

from bot.cellar.log.acts import Act, Addition, Note, Step, Temperature, Volume
from bot.understand.judge.offers import WHY
from bot.understand.scene import Scene, SceneBatch
from bot.understand.text import moods
from bot.understand.text.language import tables_of
from bot.understand.text.message import Message
from bot.understand.text.split import split
from bot.understand.verdict import Doubt, Verdict

_LEAST_MARK = 4.0
"""Litres to which a kit is filled up, at least: less is what goes in."""
_MOST_WORDS = 14
"""Words of a message that only tells that something was washed."""


class _SettingUpWords(msgspec.Struct, frozen=True):
    """Words of the first hour (`setting_up` in `beginnings.toml`)."""

    juice: frozenset[str]
    into: frozenset[str]
    gas: frozenset[str]
    whips: frozenset[str]
    washed: frozenset[str]
    gear: frozenset[str]
    beside: frozenset[str]


@lru_cache(maxsize=8)
def _words(language: str) -> _SettingUpWords:
    table = tables_of(language, "setting_up")
    return msgspec.convert({key: said.split() for key, said in table.items()}, type=_SettingUpWords)


def before_the_yeast(
    text: str, scene: Scene, sent_at: datetime, verdict: Verdict, *, by: str | None, spoken: bool
) -> Verdict:
    """The verdict as it is meant while a wine is set up: of one whose yeast is not in, or none yet. `spoken`: it is said
    to the bot, or in a chat for the wine."""
    waits = [batch for batch in scene.under_way if "pitch" in batch.next and len(batch.readings) < _FELL]
    if (scene.under_way and not waits) or verdict.answers is not None:
        return verdict
    message = Message(text, scene, sent_at, by=by, replying_to=None, addressed=True)
    folds = frozenset(message.folds_of(message.spans))
    words = _words(scene.language)
    found = _stirred(verdict, waits, folds, words)
    if any(
        clause.asked or moods.asks(clause) or moods.denied(clause) for clause in split(list(message.spans))
    ):
        return found
    if folds & words.whips:
        found = _surely_stirred(found)
    if folds & words.juice and folds & words.into:
        found = _mixed(found, scene, waits) or found
    if spoken and folds & words.washed:
        found = _washed(found, message, waits, words) or found
    return found


_FELL = 2
"""Readings after which the yeast is at work, whoever forgot to say so."""


def _stirred(
    verdict: Verdict, waits: Sequence[SceneBatch], folds: frozenset[str], words: _SettingUpWords
) -> Verdict:
    """Whatever is whipped before the yeast is stirred: no gas is in it yet."""
    if folds & words.gas:
        return verdict
    names = {batch.name for batch in waits}

    def meant(act: Act) -> Act:
        early = isinstance(act, Step) and act.step == "degas" and (act.of in names or not waits)
        return msgspec.structs.replace(act, step="stir") if early else act

    return msgspec.structs.replace(
        verdict,
        acts=tuple(map(meant, verdict.acts)),
        options=tuple(tuple(map(meant, option)) for option in verdict.options),
    )


def _surely_stirred(verdict: Verdict) -> Verdict:
    """Stirring that was in doubt: nothing else is whipped before the yeast."""
    option = verdict.options[0] if len(verdict.options) == 1 else ()
    stirs = len(option) == 1 and isinstance(option[0], Step) and option[0].step == "stir"
    if verdict.doubt is not Doubt.UNSURE or not stirs:
        return verdict
    return Verdict(verdict="act", acts=option, why="stirred before the yeast")


def _mixed(verdict: Verdict, scene: Scene, waits: Sequence[SceneBatch]) -> Verdict | None:
    """The bag emptied in, hot water on it, cold to the line: that is the mixing, whatever of it was read."""
    unmixed = [batch for batch in waits if "mix" in batch.next]
    acts = verdict.acts if verdict.verdict == "act" or not verdict.options else verdict.options[0]
    if len(unmixed) > 1 or (waits and not unmixed) or not acts or not all(map(_of_mixing, acts)):
        return None
    if {act.of for act in acts} - {None, *(name for one in unmixed for name in (one.name, one.vessel))}:
        return None
    of = unmixed[0].name if unmixed else None
    mixed: list[Act] = [Step(step="mix", of=of)]
    mixed += [act for act in acts if isinstance(act, Step) and act.step == "stir"]
    marks = [act for act in acts if isinstance(act, Volume) and act.litres > _LEAST_MARK]
    if marks and not (unmixed and unmixed[0].litres is not None):
        mixed.append(max(marks, key=lambda act: act.litres))
    return Verdict(verdict="act", acts=tuple(mixed), why="the kit is mixed")


def _of_mixing(act: Act) -> bool:
    """Whether it can be a part of the mixing: what goes in then, hot or cold, and up to which line."""
    match act:
        case Step(step="mix" | "stir" | "top_up"):
            return True
        case Addition(what="water" | "sachet" | "juice" | "concentrate") | Volume() | Note():
            return True
        case Temperature():
            return act.temp_c >= _HOT
    return False


_HOT = 45.0
"""°C of water that a concentrate is loosened with, and no must has."""


def _washed(
    verdict: Verdict, message: Message, waits: Sequence[SceneBatch], words: _SettingUpWords
) -> Verdict | None:
    """ "Cleaned", "scrubbed the tub and the spoon": whether that was the sanitising, which is next, is asked."""
    lost = verdict.verdict == "ignore" or verdict.doubt in (
        Doubt.NOT_UNDERSTOOD,
        Doubt.KEEP_NOTE,
        Doubt.THANKED,
        Doubt.WHICH_QUESTION,
    )
    folds = message.folds_of(message.spans)
    only = set(folds) <= words.washed | words.gear | words.beside
    if not lost or len(folds) > _MOST_WORDS or not only or message.text.rstrip().endswith("?"):
        return None
    if waits and not any("sanitise" in batch.next for batch in waits):
        return None
    act = Step(step="sanitise")
    return Verdict(verdict="ask", acts=(act,), why=WHY[Doubt.UNSURE], doubt=Doubt.UNSURE, options=((act,),))
