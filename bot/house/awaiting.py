"""What is open in a chat: what the bot last asked or said there, as understanding needs to know it."""

from collections.abc import Collection, Iterator, Mapping
from datetime import timedelta
from typing import assert_never

import msgspec

from bot.cellar.home.due import Due
from bot.cellar.log.acts import Step
from bot.cellar.log.due_key import ClearKey, ContactKey, ReadingKey, TemperatureKey
from bot.cellar.log.fold import Entry, standing
from bot.house.letters import letter, plan
from bot.house.letters.letter import Occurrence
from bot.house.turn import Turn
from bot.store.press import ChooseOption
from bot.store.queries.postbox import SentRow
from bot.store.queries.questions import AskedRow
from bot.store.queries.reminders import ReminderRow
from bot.store.refers import WantsBottles, WantsFigures, WantsKit, WantsTemperature, WantsTime, WantsWhich
from bot.understand.scene import (
    FiguresWanted,
    JustSaid,
    KitWanted,
    LetterSaid,
    LookAsked,
    NumberWanted,
    Open,
    OptionsAsked,
    Thing,
    TimeWanted,
    WorkingShown,
)

ASKED_LATELY = timedelta(days=3)
"""So long what a letter asked for may be answered past other things that were said since."""


def open_in(turn: Turn) -> tuple[Open, ...]:
    """What the message in hand may answer: in reply that of the message replied to, else the chat's latest."""
    sent = turn.answers_to()
    letter_said = _letter(turn, sent) if sent is not None else None
    waits = letter_said is not None and any(not thing.settled for thing in letter_said.things)
    return tuple(
        one
        for one in (
            _options(turn),
            _working(turn, sent) if sent is not None else None,
            *(_wanted(turn, sent) if sent is not None else ()),
            letter_said,
            _earlier(turn) if not waits else None,
            _looks(turn, sent),
        )
        if one is not None
    ) + (just_said(turn) if _replies(turn) else _said(turn, sent))


def question_open(turn: Turn) -> AskedRow | None:
    """The question that the message may answer: the one it replies to, else the latest one that its writer was asked,
    else the latest."""
    questions, incoming = turn.unit.questions, turn.incoming
    if incoming.reply_to is None:
        return questions.open(turn.home.id, incoming.chat_id, turn.now, member=turn.member.id)
    sent = turn.answers_to()
    if sent is None:
        latest = questions.open(turn.home.id, incoming.chat_id, turn.now)
        return latest if latest is not None and latest.message_id == incoming.reply_to else None
    asked = next((does.asked for _, does in sent.buttons if isinstance(does, ChooseOption)), None)
    return questions.question(turn.home.id, asked, turn.now) if asked is not None else None


def time_wanted(turn: Turn, sent: SentRow | None) -> TimeWanted | None:
    """The wish for a reminder that was asked "When?" with that letter."""
    wants = sent.refers.wants if sent is not None else None
    if sent is None or not isinstance(wants, WantsTime):
        return None
    others = wants.member != turn.member.person_id
    return TimeWanted(wish=wants.text, others=others, ago=turn.now - sent.created_at, replied=_replies(turn))


def just_said(turn: Turn) -> tuple[JustSaid, ...]:
    """What the bot's latest message in this chat was about, whatever the message in hand replies to."""
    return _said(turn, turn.unit.post.latest(turn.home.id, turn.incoming.chat_id))


def _said(turn: Turn, latest: SentRow | None) -> tuple[JustSaid, ...]:
    if latest is None:
        return ()
    return (JustSaid(of=latest.refers.of, asked=latest.refers.asked, ago=_ago(turn, latest)),)


def looks_asked(turn: Turn) -> list[Due]:
    """The looks that were asked for and not answered yet, also those that were put off."""
    home = turn.home
    if not home.view.under_way:
        return []
    asked = {
        (row.batch, row.key)
        for row in home.unit.reminders.asked(home.id)
        if isinstance(row.key.base, ClearKey)
    }
    if not asked:
        return []
    wanted = plan.wanted_in(home, {batch for batch, _ in asked}).values()
    return [due for due in wanted if due.kind == "clearing" and (due.batch, due.key) in asked]


def _replies(turn: Turn) -> bool:
    return turn.incoming.reply_to is not None


def _ago(turn: Turn, sent: SentRow) -> timedelta:
    return turn.now - sent.created_at


def _options(turn: Turn) -> OptionsAsked | None:
    question = question_open(turn)
    if question is None:
        return None
    return OptionsAsked(
        asked=question.id,
        options=question.options,
        others=question.member_id != turn.member.id,
        ago=turn.now - question.said_at,
        replied=_replies(turn),
    )


def _working(turn: Turn, sent: SentRow) -> WorkingShown | None:
    shown = sent.refers.why is not None
    return WorkingShown(ago=_ago(turn, sent), replied=_replies(turn)) if shown else None


def _wanted(turn: Turn, sent: SentRow) -> Iterator[Open]:
    """A number, figures or a time that the letter asks for."""
    wants, ago, replied = sent.refers.wants, _ago(turn, sent), _replies(turn)
    match wants:
        case WantsTemperature():
            yield NumberWanted(what="temperature", of=sent.refers.of, ago=ago, replied=replied)
        case WantsKit():
            yield KitWanted(what=wants.what, told=wants.told, ago=ago, replied=replied)
        case WantsBottles():
            old = uncounted(turn, sent.refers.entries)
            if old is not None and isinstance(old.act, Step):
                told = msgspec.structs.replace(old.act, at=old.at)
                yield NumberWanted(
                    what="bottles", of=told.of, told=told, entry=old.entry, ago=ago, replied=replied
                )
        case WantsFigures():
            yield FiguresWanted(
                reckon=wants.reckon,
                keys=wants.keys,
                given=wants.given,
                of=wants.of,
                vessel=wants.vessel,
                others=wants.member != turn.member.person_id,
                ago=ago,
                replied=replied,
            )
        case WantsTime():
            if (wish := time_wanted(turn, sent)) is not None:
                yield wish
        case WantsWhich() | None:
            return
        case _:
            assert_never(wants)


def uncounted(turn: Turn, entries: Collection[int]) -> Entry | None:
    """The bottling among these entries that stands without its count."""
    return next(
        (
            entry
            for entry in standing(turn.home.entries)
            if entry.entry in entries
            and isinstance(entry.act, Step)
            and entry.act.step == "bottle"
            and entry.act.bottles is None
        ),
        None,
    )


def _letter(turn: Turn, sent: SentRow) -> LetterSaid | None:
    refers = sent.refers
    if not (refers.reminders or refers.among) or (_replies(turn) and not refers.reminders):
        return None
    asked = refers.wants if isinstance(refers.wants, WantsWhich) else None
    wanted = plan.wanted_in(turn.home)
    return LetterSaid(
        things=_things(turn, refers.reminders, wanted),
        among=_things(turn, refers.among, wanted),
        action=asked.action if asked is not None else None,
        whom=asked.whom if asked is not None else None,
        ago=_ago(turn, sent),
        replied=_replies(turn),
    )


def _earlier(turn: Turn) -> LetterSaid | None:
    """What letters asked for lately and nobody has answered yet, whatever was said since."""
    home = turn.home
    rows = [
        row
        for row in home.unit.reminders.asked(home.id)
        if row.said_at is not None and turn.now - row.said_at <= ASKED_LATELY
    ]
    if not rows:
        return None
    latest = {(row.batch, row.key.base): row.id for row in sorted(rows, key=lambda row: row.id)}
    things = _things(turn, latest.values(), plan.wanted_in(home))
    things = tuple(thing for thing in things if not thing.settled)
    if not things:
        return None
    ago = turn.now - max(row.said_at for row in rows if row.said_at is not None)
    return LetterSaid(things=things, earlier=True, ago=ago, replied=_replies(turn))


def _things(turn: Turn, numbers: Collection[int], wanted: Mapping[Occurrence, Due]) -> tuple[Thing, ...]:
    """What can be answered at all, whatever became of it."""
    rows = (turn.unit.reminders.reminder(turn.home.id, number) for number in numbers)
    return tuple(
        _thing(turn, row, wanted) for row in rows if row is not None and not isinstance(row.key, ContactKey)
    )


def _thing(turn: Turn, row: ReminderRow, wanted: Mapping[Occurrence, Due]) -> Thing:
    view = turn.home.view.batch(row.batch)
    of = view.name if view is not None else None
    due = letter.due_of(row, wanted) if row.state in ("said", "moved") else None
    if due is None:
        return Thing(id=row.id, of=of, settled=True)
    measure = {ReadingKey: "gravity", TemperatureKey: "temperature"}.get(type(due.key))
    return msgspec.convert(
        {
            "id": row.id,
            "of": of if of is not None else due.of,
            "also": due.of,
            "step": due.chore,
            "measure": measure,
            "what": due.base,
            "buys": due.kind == "collect",
            "about": (due.about or "") if due.kind == "asked" and due.chore is None else None,
        },
        type=Thing,
    )


def _looks(turn: Turn, sent: SentRow | None) -> LookAsked | None:
    looks = looks_asked(turn)
    if not looks:
        return None
    names = {view.batch: view.name for view in turn.home.view.batches}
    asked = tuple(names[due.batch] for due in looks)
    about = sent.refers.of if sent is not None and not sent.refers.reminders else None
    rows = [
        turn.unit.reminders.reminder(turn.home.id, number)
        for number in (sent.refers.reminders if sent is not None else ())
    ]
    told = [(row, row.said_at) for row in rows if row is not None and row.said_at is not None]
    view = turn.home.view.named(about) if about is not None else None
    return LookAsked(
        of=asked,
        letter=tuple(dict.fromkeys(names[row.batch] for row, _ in told if row.batch in names)),
        alone=len(told) == 1
        and isinstance(told[0][0].key, ClearKey)
        and told[0][0].key.base == told[0][0].key,
        about=view.name if view is not None else about,
        ago=max((turn.now - said_at for _, said_at in told), default=timedelta()),
        replied=_replies(turn),
    )
