"""A household's first kit: begun from whatever is told of it, and completed by what is told after that.

Nobody knows a command on the first day. "It's a white one, ten days on the lid" begins the batch, "23 l" and "call it
Heron" go on with it; what says nothing of a wine while there is none is answered with the first question.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta

import msgspec

from bot.cellar.log.acts import (
    Act,
    Addition,
    Amend,
    Begin,
    Gravity,
    KitPart,
    Nickname,
    Note,
    Question,
    Step,
    Undo,
    Vessel,
    Volume,
)
from bot.cellar.log.subjects import Lore, Matter
from bot.understand.claims.kit_told import KitTold, another, greets, kit_told, of_a_kit
from bot.understand.claims.slips import mended
from bot.understand.judge.offers import NOT_UNDERSTOOD
from bot.understand.scene import KitWanted, Scene, SceneBatch
from bot.understand.text import moods
from bot.understand.text.clauses import Clause
from bot.understand.text.message import Message
from bot.understand.text.sayings import sayings
from bot.understand.verdict import Doubt, KitSpokenOf, Verdict

ASKED_FOR = timedelta(hours=1)
"""For so long a bare number may be what was asked of the kit."""

_OF_THE_KIT = (Begin, Amend, Volume, Nickname, Note, Vessel)
"""Acts that only say otherwise what is told of a kit."""
_LOST = (
    Doubt.NOT_UNDERSTOOD,
    Doubt.WHICH_QUESTION,
    Doubt.KEEP_NOTE,
    Doubt.THANKED,
    Doubt.UNSURE,
    Doubt.HALF_UNDERSTOOD,
)
"""Doubts about words that something told of a kit is surer than."""


def with_kit(
    text: str,
    scene: Scene,
    sent_at: datetime,
    verdict: Verdict,
    *,
    by: str | None,
    spoken: bool,
    for_wine: bool,
) -> Verdict:
    """The verdict on a message, or what it tells of the first kit of the house, or of one begun with little. `spoken`: it
    is said to the bot, or in a chat for the wine."""
    if not spoken or verdict.answers is not None:
        return verdict
    batch = _begun_with_little(scene)
    if scene.under_way and batch is None:
        return verdict
    message = Message(text, scene, sent_at, by=by, replying_to=None, addressed=True)
    if not message.spans:
        return verdict
    told = kit_told(message, _asked(scene))
    if (plain := mended(text, scene)) != text:  # but for the name, which may be any word
        again = Message(plain, scene, sent_at, by=by, replying_to=None, addressed=True)
        told.completed(kit_told(again, _asked(scene)))
    if any(isinstance(act, Step) and act.step == "sanitise" for act in verdict.acts):
        told.colours.clear()  # "soaking with the pink powder now"
    makes = told.amount is not None and not scene.batches and verdict.verdict == "ask"  # "makes 30 bottles"
    own = NOT_UNDERSTOOD if told.bare or makes else verdict  # whatever else such a number could be
    if any(_of_the_wine(act) for option in own.options for act in option):
        return verdict
    found = (
        _completed(own, batch, told, message)
        if batch is not None
        else _first(own, told, message, for_wine=for_wine)
    )
    return verdict if found is own else found


def _early(acts: Sequence[Act]) -> list[Act]:
    """What can be told of a wine that is not begun yet."""
    return [act for act in acts if not isinstance(act, Step) or _of_the_wine(act)]


def _of_the_wine(act: Act) -> bool:
    """Whether it may well be a fact of a wine that is being set up, and no kit's."""
    if isinstance(act, Step):
        return act.step in ("sanitise", "mix", "stir", "pitch", "top_up")
    return not isinstance(act, (*_OF_THE_KIT, Question))


def _asked(scene: Scene) -> KitPart | None:
    wanted = next((one for one in scene.open if isinstance(one, KitWanted)), None)
    return wanted.what if wanted is not None and wanted.ago <= ASKED_FOR else None


def _begun_with_little(scene: Scene) -> SceneBatch | None:
    """The one batch under way, where its beginning lacks something."""
    batch = scene.under_way[0] if len(scene.under_way) == 1 else None
    if batch is None or batch.begun is None or not isinstance(batch.begun.act, Begin):
        return None
    act = batch.begun.act
    whole = None not in (act.colour, act.days, act.litres, act.vessel)
    return None if whole and not _unnamed(act) else batch


def _unnamed(act: Begin) -> bool:
    """Whether it is only called by its colour, or by nothing."""
    return (act.name or "").casefold() in ("", "batch", (act.colour or "").casefold(), "rose")


# ---------------------------------------------------------------------- none begun yet


def _first(verdict: Verdict, told: KitTold, message: Message, *, for_wine: bool) -> Verdict:
    """What a household without a wine under way says: a kit that begins, one that is spoken of, facts that are kept."""
    if message.scene.batches and not of_a_kit(message):
        return verdict  # a house that knows how a batch is begun, and may speak of its bottles
    if _asks_how_to_begin(verdict, message):
        how = Question(subject=Lore(topic="first_steps"))
        return Verdict(
            verdict="act",
            acts=(how,),
            why="asks how to begin",
            answers=KitSpokenOf(told=_told_before(message.scene)),
        )
    if any(isinstance(act, Begin) for act in (*verdict.acts, *(a for one in verdict.options for a in one))):
        now = Begin() if len(told.colours) > 1 else msgspec.structs.replace(told.begin(), name=None)
        return _of_all_that_was_told(verdict, _with(_told_before(message.scene), now))
    lost = verdict.verdict == "ask" and verdict.doubt in _LOST
    lost |= verdict.doubt is Doubt.NO_ANSWER and (of_a_kit(message) or bool(told))
    silent = verdict.verdict == "ignore"
    takes = verdict.verdict == "act" or lost or (silent and _surely(told, message))
    if len(told.colours) > 1 and takes:
        begins = tuple(told.begin(colour) for colour in told.colours)
        return Verdict(
            verdict="act", acts=(*begins, *_facts(verdict, None, message)), why="tells of the first kits"
        )
    before = _told_before(message.scene)
    new = told.begin() if told and takes else Begin()
    whole = _with(before, new)
    facts = _early(_facts(verdict, whole.name or whole.colour or "batch", message))
    if whole != Begin() and (new != Begin() or any(map(_under_way, facts))):
        if _enough(whole, facts, message):
            return Verdict(
                verdict="act",
                acts=(_where_facts_were_told(whole, message), *facts),
                why="tells of the first kit",
            )
        if new != Begin():
            kept = tuple(_facts(verdict, None, message))
            return Verdict(
                verdict="act", acts=kept, why="speaks of a first kit", answers=KitSpokenOf(told=whole)
            )
    if message.scene.batches:
        return verdict
    notes = verdict.verdict == "act" and all(isinstance(act, Note) for act in verdict.acts)
    first = Question(subject=Lore(topic="first_steps"))
    leads_on = [first, Question(subject=Matter(about="next"))]
    if verdict.verdict == "act" and any(act in leads_on for act in verdict.acts):
        return msgspec.structs.replace(verdict, answers=KitSpokenOf(told=whole))
    if not (lost or notes or silent):
        return verdict
    if (of_a_kit(message) and not silent) or (greets(message) and lost):
        acts = (first,) if whole == Begin() else ()
        return Verdict(verdict="act", acts=acts, why="speaks of a first kit", answers=KitSpokenOf(told=whole))
    done = [act for act in verdict.acts if isinstance(act, _DONE)]
    if for_wine and lost and verdict.doubt is not Doubt.THANKED and not done:
        return Verdict(verdict="act", why="speaks of no wine", answers=KitSpokenOf(told=whole))
    return verdict


def _asks_how_to_begin(verdict: Verdict, message: Message) -> bool:
    """Whether what seems to begin a batch only asks how that is done."""
    begins = [act for act in verdict.acts if isinstance(act, Begin)]
    empty = all(msgspec.structs.replace(act, name=None) == Begin() for act in begins)
    asks = any(part.asked or moods.asks(Clause(list(part.spans))) for part in sayings(message))
    return bool(begins) and len(begins) == len(verdict.acts) and empty and asks


_DONE = (Step, Gravity, Addition)
"""Facts of a wine."""


def _under_way(act: Act) -> bool:
    """Whether it shows a wine to be under way: buckets are washed days before."""
    return isinstance(act, _DONE) and not (isinstance(act, Step) and act.step == "sanitise")


def _told_before(scene: Scene) -> Begin:
    wanted = next((one for one in scene.open if isinstance(one, KitWanted)), None)
    return (wanted.told if wanted is not None else None) or Begin()


def _of_all_that_was_told(verdict: Verdict, before: Begin) -> Verdict:
    """A verdict that begins batches, the one of them, where it is one, with what was told of it before."""

    def whole(acts: tuple[Act, ...]) -> tuple[Act, ...]:
        one = sum(isinstance(act, Begin) for act in acts) == 1
        return tuple(_with(before, act) if one and isinstance(act, Begin) else act for act in acts)

    if before == Begin():
        return verdict
    return msgspec.structs.replace(
        verdict, acts=whole(verdict.acts), options=tuple(whole(option) for option in verdict.options)
    )


def _with(before: Begin, new: Begin) -> Begin:
    """What was told before, and what is told now in its place."""
    told = {part: getattr(new, part) for part in ("name", "colour", "days", "litres", "vessel")}
    return msgspec.structs.replace(
        before, **{part: value for part, value in told.items() if value is not None}
    )


def _enough(kit: Begin, facts: Sequence[Act], message: Message) -> bool:
    """Whether so much is told of a kit that it is being begun: two things, or one and something done to it."""
    told = sum(each is not None for each in (kit.colour, kit.days, kit.litres))
    place = (kit.vessel is not None) + (kit.name is not None)
    done = any(map(_under_way, facts))
    done |= any(_under_way(entry.act) for entry in message.scene.recent or ())
    return told > 0 and (told + place > 1 or done)


def _surely(told: KitTold, message: Message) -> bool:
    """Whether it is of the kit although it may be said among people: several things, or a kit is spoken of."""
    several = sum(each is not None for each in (told.colour, told.days, told.amount, told.vessel)) > 1
    return several or told.plainly or of_a_kit(message) or len(message.scene.members) <= 1


def _where_facts_were_told(begin: Begin, message: Message) -> Begin:
    """In the one vessel of which facts were told before there was a batch."""
    known = {vessel.name for vessel in message.scene.vessels}
    told = {entry.act.of for entry in message.scene.recent or () if entry.act.of in known}
    if begin.vessel is not None or len(told) != 1 or message.scene.batches:
        return begin
    return msgspec.structs.replace(begin, vessel=told.pop())


def _facts(verdict: Verdict, of: str | None, message: Message) -> list[Act]:
    """What is told or asked besides, of that batch where it names none."""
    if verdict.verdict != "act":
        return []
    return [
        msgspec.structs.replace(act, of=of) if act.of is None and not isinstance(act, Question) else act
        for act in verdict.acts
        if not isinstance(act, _OF_THE_KIT) or (isinstance(act, Note) and act.text != message.text.strip())
    ]


# ---------------------------------------------------------------------- begun with little


def _completed(verdict: Verdict, batch: SceneBatch, told: KitTold, message: Message) -> Verdict:
    """The beginning with what the message tells of it, in its place."""
    assert batch.begun is not None
    old = batch.begun.act
    assert isinstance(old, Begin)
    begins = [act for act in verdict.acts if isinstance(act, Begin)]
    if begins:
        its_own = verdict.doubt is Doubt.VESSEL_BUSY and begins[0].vessel in (batch.vessel, old.vessel)
        likely = verdict.verdict == "act" or its_own or verdict.doubt is Doubt.UNSURE
        goes_on = len(begins) == 1 and likely and not another(message)
        new = begins[0] if goes_on else None
    elif (
        verdict.verdict == "act"
        or (verdict.verdict == "ask" and verdict.doubt in _LOST)
        or told.name is not None
        or told.plainly
        or (verdict.verdict == "ignore" and _asked(message.scene) is not None)
    ):
        new = _lacking(told, old, verdict)
    else:
        new = None
    whole = _joined(old, new) if new is not None else None
    if whole is None:
        return verdict
    facts = [act for act in _facts(verdict, whole.name, message) if not isinstance(act, Undo)]
    facts = [msgspec.structs.replace(act, of=whole.name) if act.of == batch.name else act for act in facts]
    return Verdict(
        verdict="act", acts=(Undo(entry=batch.begun.entry), whole, *facts), why="completes a beginning"
    )


def _lacking(told: KitTold, old: Begin, verdict: Verdict) -> Begin | None:
    """What is told that the beginning lacks, by the words of a kit or as a change of what was begun."""
    acts = verdict.acts if verdict.verdict == "act" else ()
    changed = next((act for act in acts if isinstance(act, Amend)), Amend())
    amount = next((act.litres for act in acts if isinstance(act, Volume)), None)
    new = Begin(
        name=told.name if _unnamed(old) else None,
        colour=told.colour or changed.colour if old.colour is None else None,
        days=told.days or changed.days if old.days is None else None,
        litres=told.amount or amount if old.litres is None else None,
        vessel=told.vessel or changed.vessel if old.vessel is None else None,
    )
    return None if new == Begin() or any(isinstance(act, Undo) for act in acts) else new


def _joined(old: Begin, new: Begin) -> Begin | None:
    """The one beginning that two tell of; None where the second is another's, or says nothing new."""
    if new.name is not None and not _unnamed(old) and new.name.casefold() != (old.name or "").casefold():
        return None
    pairs = (
        (old.colour, new.colour),
        (old.days, new.days),
        (old.litres, new.litres),
        (old.vessel, new.vessel),
    )
    if any(after is not None and before not in (None, after) for before, after in pairs):
        return None
    named = new.name is not None and _unnamed(old) and not _unnamed(new)
    if not named and all(after in (None, before) for before, after in pairs):
        return None
    name = new.name if named else old.name
    if not named and _unnamed(old):
        name = old.colour or new.colour or name
    return msgspec.structs.replace(
        old,
        of=name,
        name=name,
        colour=old.colour or new.colour,
        days=old.days or new.days,
        litres=old.litres if old.litres is not None else new.litres,
        vessel=old.vessel or new.vessel,
        plan=old.plan if old.days is not None else new.plan,
    )
