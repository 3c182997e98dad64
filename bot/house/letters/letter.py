"""One household voice: the letter that says what is due, and how it changes when that is answered.

A letter is written from the reminders that it says, so it is the same whoever changed it and however often.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

import msgspec

from bot.cellar.batch.looks import temperatures
from bot.cellar.batch.place import doing_of
from bot.cellar.home.due import Due
from bot.cellar.home.vessels import emptied
from bot.cellar.log.acts import PutOff, Remind, TakeOn, Timer
from bot.cellar.log.due_key import (
    AskedKey,
    DueKey,
    ReadingKey,
    TemperatureKey,
    TimerKey,
    WashKey,
    is_meant,
)
from bot.cellar.log.fold import Batch, standing
from bot.cellar.log.lengths import LABEL
from bot.house import outbox
from bot.house.home import Home
from bot.house.hours import hours_of
from bot.ids import BatchId, ChatId, LetterId
from bot.say import looks, reminders
from bot.say.manner import said
from bot.store.press import AnswerReminder, AskWhich, Labelled, ReminderAnswer
from bot.store.queries.postbox import Outgoing
from bot.store.queries.reminders import ReminderRow, ReminderState
from bot.store.refers import Refers

Occurrence = tuple[BatchId, DueKey, datetime]
"""What makes a reminder unique in its house: the batch, the thing, and when it falls due."""

AWAY_AFTER = timedelta(hours=6)
"""Something said so long after it should have been: the bot was off."""

MOST_WITH_ALL_BUTTONS = 3
"""A letter that says more things has fewer buttons for each: they must not fill the screen."""

_EACH = frozenset({"done", "cloudy", "release"})

_TOLD_LATE = timedelta(hours=12)
"""A reading taken so long before a reminder may still be what it asked for, when it was told afterwards."""


def occurrence(row: ReminderRow) -> Occurrence:
    return (row.batch, row.key, row.due)


def tell(home: Home, chat_id: ChatId, told: Sequence[tuple[ReminderRow, Due]]) -> None:
    """Puts one letter in the outbox that says all of these, in this order."""
    words = _words(home, told)
    rows = [
        msgspec.structs.replace(
            row, state="said", said_at=home.now, told=words[row.id], mark=_claimed(home, due)
        )
        for row, due in told
    ]
    letter = _letter(home, chat_id, rows, {occurrence(row): due for row, due in told})
    letter_id = outbox.post(home.unit, home.id, letter, home.now)
    home.unit.reminders.said(home.id, rows, letter_id)


def close(home: Home, rows: Sequence[ReminderRow], wanted: Mapping[Occurrence, Due]) -> None:
    """What was put off until now is asked again: in the letters that said so there is nothing to press for it."""
    for row in rows:
        home.unit.reminders.mark(home.id, row.id, "withdrawn", reminders.ASKED_AGAIN)
    for letter in dict.fromkeys(row.outbox_id for row in rows):
        if letter is not None:
            amend(home, letter, wanted)


def _words(home: Home, told: Sequence[tuple[ReminderRow, Due]]) -> dict[int, str]:
    """Each at length when it is alone; else in a line, with each caution once."""
    words: dict[int, str] = {}
    cautions: set[str] = set()
    for row, due in told:
        view = home.view.batch(due.batch)
        if len(told) == 1:
            words[row.id] = reminders.reminder(due, view, home.manner)
            continue
        caution = reminders.caution(due, view) if due.level == "first" else ""
        line = reminders.line(due, view, home.manner)
        words[row.id] = line if not caution or caution in cautions else f"{line} {said(caution)}"
        cautions.add(caution)
    return words


def amend(home: Home, outbox_id: LetterId, wanted: Mapping[Occurrence, Due]) -> None:
    """Changes the letter to what is so now; one that has not left yet leaves as changed."""
    rows = home.unit.reminders.in_letter(home.id, outbox_id)
    found = home.unit.post.message_of(home.id, outbox_id)
    if found is None or not rows:
        return
    chat_id, message_id, waiting = found
    sent = home.unit.post.letter(home.id, chat_id, outbox_id)
    order = sent.refers.reminders if sent is not None else ()
    rows.sort(key=lambda row: order.index(row.id) if row.id in order else len(order))
    letter = _letter(home, chat_id, rows, wanted)
    if waiting:
        home.unit.post.rewrite(home.id, outbox_id, letter)
    elif message_id is not None:
        outbox.post(home.unit, home.id, msgspec.structs.replace(letter, edits=message_id), home.now)


def stands(
    home: Home, row: ReminderRow, wanted: Mapping[Occurrence, Due]
) -> tuple[ReminderState, str | None]:
    """How it is with something that was said: still open, done, moved, or no longer needed."""
    due = wanted.get(occurrence(row))
    if due is not None:
        return "said", _claimed(home, due)
    view = home.view.batch(row.batch)
    settled = _settled(home, row, view)
    if settled is not None:
        return "answered", settled
    other = due_of(row, wanted)
    if other is not None and row.state == "moved":
        return "moved", row.mark
    if other is not None:
        when = home.manner.on(max(other.at, home.now))
        return "moved", reminders.put_off(when) if other.timed else reminders.moved(when)
    return "withdrawn", reminders.NO_LONGER_NEEDED


def _claimed(home: Home, due: Due) -> str | None:
    """Who has it in hand, or has begun it."""
    if due.begun is not None:
        return looks.begun(due.begun.by, home.manner.clock(due.begun.at))
    return reminders.taken(due.claim.by) if due.claim is not None else None


def due_of(row: ReminderRow, wanted: Mapping[Occurrence, Due]) -> Due | None:
    """What the reminder is about as it is now, at whatever time."""
    exact = wanted.get(occurrence(row))
    if exact is not None:
        return exact
    same = [d for d in wanted.values() if (d.batch, d.key) == (row.batch, row.key)]
    # What was said once more is put off together with the thing itself.
    first = [d for d in wanted.values() if d.batch == row.batch and d.key == row.key.base and d.timed]
    return next(iter(first if row.key.base != row.key and first else same), None)


def _settled(home: Home, row: ReminderRow, view: Batch | None) -> str | None:
    """By whom it was done; None when it was not."""
    base = row.key.base
    promises = view.promises if view is not None else home.view.promises
    over = [promise.by for promise in promises if is_meant(promise.ends, base)]
    if over:
        return reminders.done(over[-1])
    if isinstance(base, WashKey):
        return _washed(home, base)
    if view is None:
        return None
    if isinstance(base, TemperatureKey):
        return _felt(home, row, view)
    if isinstance(base, ReadingKey):
        said_at = row.said_at or home.now
        read = [r for r in view.readings if r.at > said_at - _TOLD_LATE and r.at >= row.due - _TOLD_LATE * 2]
        return reminders.has_read(read[-1].sg, read[-1].by) if read else None
    told = {e.entry for e in home.entries if row.said_at is None or e.said_at >= row.said_at}
    event = doing_of(view, base.text, told)
    if event is not None:
        return reminders.done(event.by)
    if isinstance(base, AskedKey | TimerKey):
        promised = next((e for e in standing(home.entries) if e.entry == base.entry), None)
        act = promised.act if promised is not None else None
        if promised is not None and isinstance(act, Remind | PutOff | TakeOn | Timer):
            did = [c for c in view.chores if c.step == act.step and c.at >= promised.at]
            return reminders.done(did[-1].by) if did else None
    return None


def _washed(home: Home, vessel: WashKey) -> str | None:
    """Who washed the vessel of that key."""
    by = next((one.washed_by for one in emptied(home.view) if one.key == vessel), None)
    return reminders.done(by) if by is not None else None


def _felt(home: Home, row: ReminderRow, view: Batch) -> str | None:
    """What the thermometer was said to show since the reminder, and by whom."""
    told = [found for found in temperatures(view) if found.at > row.due - _TOLD_LATE]
    return reminders.has_felt(told[-1].value, told[-1].by, home.manner) if told else None


def _letter(
    home: Home, chat_id: ChatId, rows: Sequence[ReminderRow], wanted: Mapping[Occurrence, Due]
) -> Outgoing:
    alone = len(rows) == 1
    lines: list[str] = [] if alone else [_head(home, rows)]
    for row in rows:
        told = row.told or ""
        lines.append("\n".join([told.splitlines()[0], row.mark]) if row.mark else told)
    labels = None if alone else _labels(home, rows, wanted)
    keys = [_buttons(row, due_of(row, wanted), labels.get(row.id) if labels else None) for row in rows]
    every = [key for of_row in keys for key in of_row]
    buttons: Sequence[Labelled] = _fewer(every) if sum(map(bool, keys)) > MOST_WITH_ALL_BUTTONS else every
    refers = Refers(reminders=tuple(row.id for row in rows))
    if alone:
        refers = _about(home, due_of(rows[0], wanted), refers)
    return Outgoing(
        chat_id=chat_id, html="\n".join(lines), buttons=tuple(buttons), refers=refers, is_reminder=True
    )


def _fewer(buttons: Sequence[tuple[str, AnswerReminder]]) -> list[Labelled]:
    """One button a thing that can be done, and one for all that asks which of them is put off or taken on."""
    each: list[Labelled] = [button for button in buttons if button[1].action in _EACH]
    for action, words in reminders.WHICH.items():
        ids = tuple(does.id for _, does in buttons if does.action == action)
        if ids:
            each.append((words, AskWhich(ids=ids, action=action)))
    return each


def _head(home: Home, rows: Sequence[ReminderRow]) -> str:
    if any(row.said_at is not None and row.said_at - row.ring_at > AWAY_AFTER for row in rows):
        return reminders.AWAY
    return reminders.MORNING if hours_of(home.row).digest else reminders.TODAY


def called(home: Home, due: Due) -> tuple[str | None, str]:
    """What a thing is called on a button: the batch or vessel that it is for, if any, and what is to be done."""
    view = home.view.batch(due.batch)
    return (due.of if view is None else view.name), reminders.label(due, view)


def _labels(home: Home, rows: Sequence[ReminderRow], wanted: Mapping[Occurrence, Due]) -> dict[int, str]:
    """What each is called among the others: its batch, and what is to be done where that is not enough."""
    found = {row.id: called(home, due) for row in rows if (due := due_of(row, wanted)) is not None}
    names = [of for of, _ in found.values()]
    return {
        number: what if of is None else of if names.count(of) == 1 else f"{of}, {what}"
        for number, (of, what) in found.items()
    }


def _buttons(row: ReminderRow, due: Due | None, label: str | None) -> list[tuple[str, AnswerReminder]]:
    """The ways to answer one thing; among several each says which it is for."""
    if due is None or due.kind in ("contact", "watch") or row.state not in ("said", "moved"):
        return []
    ways: list[tuple[ReminderAnswer, str]] = (
        [*reminders.CLEAR.items()] if due.kind == "clearing" else [("done", reminders.DONE)]
    )
    if row.state == "moved":
        ways += reminders.DO_LATER.items()
    elif due.kind != "timer":
        ways.append(("later", reminders.LATER))
        ways.append(("mine", reminders.MINE) if due.claim is None else ("release", reminders.RELEASE))
    if due.kind == "chore" and due.chore and due.minutes and due.begun is None and row.state == "said":
        ways.append(("timer", looks.start(due)))
    return [
        (
            words if label is None else f"{words}: {label}"[:LABEL],
            AnswerReminder(id=row.id, action=action),
        )
        for action, words in ways
    ]


def _about(home: Home, due: Due | None, refers: Refers) -> Refers:
    """What a reply to a reminder that is alone in its letter is about."""
    if due is None:
        return refers
    view = home.view.batch(due.batch)
    wish = due.key.entry if isinstance(due.key, AskedKey) else None
    return msgspec.structs.replace(
        refers, of=view.name if view is not None else due.of, step=due.chore, wish=wish
    )
