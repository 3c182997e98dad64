"""One household voice: the letter that says what is due, and how it changes when that is answered.

A letter is written from the reminders that it says, so it is the same whoever changed it and however often.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

import msgspec

from bot.cellar.batch.due import TIMER, Due, base_of
from bot.cellar.batch.looks import temperatures
from bot.cellar.batch.place import doing_of
from bot.cellar.home.vessels import emptied
from bot.cellar.log.acts import Reminder
from bot.cellar.log.fold import BatchView, standing
from bot.house import mail
from bot.house.home import Home
from bot.house.hours import hours_of
from bot.ids import BatchId, ChatId, LetterId
from bot.say import looks, reminders
from bot.say.manner import said
from bot.store.postbox import Outgoing
from bot.store.reminders import ReminderRow, State

Key = tuple[BatchId, str, datetime]
Press = tuple[str, dict[str, Any]]

AWAY_AFTER = timedelta(hours=6)
"""Something said so long after it should have been: the bot was off."""

MOST_WITH_ALL_BUTTONS = 3
"""A letter that says more things has fewer buttons for each: they must not fill the screen."""

_EACH = frozenset({"done", "cloudy", "release"})

_TOLD_LATE = timedelta(hours=12)
"""A reading taken so long before a reminder may still be what it asked for, when it was told afterwards."""


def key(row: ReminderRow) -> Key:
    return (row.batch, row.step, row.due)


def tell(home: Home, chat_id: ChatId, told: Sequence[tuple[ReminderRow, Due]]) -> None:
    """Puts one letter in the outbox that says all of these, in this order."""
    words = _words(home, told)
    rows = [
        msgspec.structs.replace(
            row, state="said", said_at=home.now, told=words[row.id], mark=_claimed(home, due)
        )
        for row, due in told
    ]
    letter = _letter(home, chat_id, rows, {key(row): due for row, due in told})
    letter_id = mail.post(home.unit, home.id, letter, home.now)
    home.unit.reminders.said(home.id, rows, letter_id)


def close(home: Home, rows: Sequence[ReminderRow], wanted: Mapping[Key, Due]) -> None:
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
        plan = home.plan(view) if view is not None else None
        if len(told) == 1:
            words[row.id] = reminders.reminder(due, view, plan, home.manner)
            continue
        caution = reminders.caution(due, plan) if due.level == "first" else ""
        line = reminders.line(due, view, plan, home.manner)
        words[row.id] = line if not caution or caution in cautions else f"{line} {said(caution)}"
        cautions.add(caution)
    return words


def amend(home: Home, outbox_id: LetterId, wanted: Mapping[Key, Due]) -> None:
    """Changes the letter to what is so now; one that has not left yet leaves as changed."""
    rows = home.unit.reminders.in_letter(home.id, outbox_id)
    found = home.unit.post.message_of(home.id, outbox_id)
    if found is None or not rows:
        return
    chat_id, message_id, waiting = found
    sent = home.unit.post.letter(home.id, chat_id, outbox_id)
    order = sent.refers.get("reminders", []) if sent is not None else []
    rows.sort(key=lambda row: order.index(row.id) if row.id in order else len(order))
    letter = _letter(home, chat_id, rows, wanted)
    if waiting:
        home.unit.post.rewrite(home.id, outbox_id, letter)
    elif message_id is not None:
        mail.post(home.unit, home.id, msgspec.structs.replace(letter, edits=message_id), home.now)


def stands(home: Home, row: ReminderRow, wanted: Mapping[Key, Due]) -> tuple[State, str | None]:
    """How it is with something that was said: still open, done, moved, or no longer needed."""
    due = wanted.get(key(row))
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


def due_of(row: ReminderRow, wanted: Mapping[Key, Due]) -> Due | None:
    """What the reminder is about as it is now, at whatever time."""
    exact = wanted.get(key(row))
    if exact is not None:
        return exact
    same = [d for d in wanted.values() if (d.batch, d.step) == (row.batch, row.step)]
    # What was said once more is put off together with the thing itself.
    first = [d for d in wanted.values() if d.batch == row.batch and d.step == base_of(row.step) and d.timed]
    return next(iter(first if base_of(row.step) != row.step and first else same), None)


def _settled(home: Home, row: ReminderRow, view: BatchView | None) -> str | None:
    """By whom it was done; None when it was not."""
    base = base_of(row.step)
    kind, _, number = base.partition(" ")
    promises = view.promises if view is not None else home.view.promises
    over = [promise.by for promise in promises if promise.action == "done" and promise.what == base]
    if over:
        return reminders.done(over[-1])
    if kind == "wash":
        return _washed(home, base)
    if view is None:
        return None
    if kind == "temperature":
        return _felt(home, row, view)
    if base == "reading":
        said_at = row.said_at or home.now
        read = [r for r in view.readings if r.at > said_at - _TOLD_LATE and r.at >= row.due - _TOLD_LATE * 2]
        return reminders.has_read(read[-1].sg, read[-1].by) if read else None
    told = {e.entry for e in home.entries if row.said_at is None or e.said_at >= row.said_at}
    event = doing_of(view, home.plan(view), base, told)
    if event is not None:
        return reminders.done(event.by)
    if kind in ("asked", TIMER):
        promised = next((e for e in standing(home.entries) if number == str(e.entry)), None)
        act = promised.act if promised is not None else None
        if promised is not None and isinstance(act, Reminder):
            did = [c for c in view.chores if c.step == act.step and c.at >= promised.at]
            return reminders.done(did[-1].by) if did else None
    return None


def _washed(home: Home, vessel: str) -> str | None:
    """Who washed the vessel of that key."""
    by = next((one.washed_by for one in emptied(home.view) if one.key == vessel), None)
    return reminders.done(by) if by is not None else None


def _felt(home: Home, row: ReminderRow, view: BatchView) -> str | None:
    """What the thermometer was said to show since the reminder, and by whom."""
    told = [found for found in temperatures(view) if found.at > row.due - _TOLD_LATE]
    return reminders.has_felt(told[-1].value, told[-1].by, home.manner) if told else None


def _letter(home: Home, chat_id: ChatId, rows: Sequence[ReminderRow], wanted: Mapping[Key, Due]) -> Outgoing:
    alone = len(rows) == 1
    lines: list[str] = [] if alone else [_head(home, rows)]
    for row in rows:
        told = row.told or ""
        lines.append("\n".join([told.splitlines()[0], row.mark]) if row.mark else told)
    labels = None if alone else _labels(home, rows, wanted)
    keys = [_buttons(row, due_of(row, wanted), labels.get(row.id) if labels else None) for row in rows]
    buttons = [key for of_row in keys for key in of_row]
    if sum(map(bool, keys)) > MOST_WITH_ALL_BUTTONS:
        buttons = _fewer(buttons)
    refers: dict[str, object] = {"reminders": [row.id for row in rows]}
    if alone:
        refers |= _refers(home, due_of(rows[0], wanted))
    return Outgoing(
        chat_id=chat_id, html="\n".join(lines), buttons=tuple(buttons), refers=refers, is_reminder=True
    )


def _fewer(buttons: Sequence[Press]) -> list[Press]:
    """One button a thing that can be done, and one for all that asks which of them is put off or taken on."""
    each = [press for press in buttons if press[1]["action"] in _EACH]
    for action, words in reminders.WHICH.items():
        ids = [does["id"] for _, does in buttons if does["action"] == action]
        if ids:
            each.append((words, {"press": "which", "ids": ids, "action": action}))
    return each


def _head(home: Home, rows: Sequence[ReminderRow]) -> str:
    if any(row.said_at is not None and row.said_at - row.ring_at > AWAY_AFTER for row in rows):
        return reminders.AWAY
    return reminders.MORNING if hours_of(home.row).digest else reminders.TODAY


def called(home: Home, due: Due) -> tuple[str | None, str]:
    """What a thing is called on a button: the batch or vessel that it is for, if any, and what is to be done."""
    view = home.view.batch(due.batch)
    if view is None:
        return due.of, reminders.label(due, None)
    return view.name, reminders.label(due, home.plan(view))


def _labels(home: Home, rows: Sequence[ReminderRow], wanted: Mapping[Key, Due]) -> dict[int, str]:
    """What each is called among the others: its batch, and what is to be done where that is not enough."""
    found = {row.id: called(home, due) for row in rows if (due := due_of(row, wanted)) is not None}
    names = [of for of, _ in found.values()]
    return {
        number: what if of is None else of if names.count(of) == 1 else f"{of}, {what}"
        for number, (of, what) in found.items()
    }


def _buttons(row: ReminderRow, due: Due | None, label: str | None) -> list[Press]:
    """The ways to answer one thing; among several each says which it is for."""
    if due is None or due.kind in ("contact", "watch") or row.state not in ("said", "moved"):
        return []
    actions = reminders.CLEAR if due.kind == "clearing" else {"done": "Done"}
    if row.state == "moved":
        actions = actions | reminders.DO_LATER
    elif due.kind != "timer":
        actions = actions | {"later": "Later"}
        actions |= {"mine": "I'll do it"} if due.claim is None else {"release": "Not me after all"}
    if due.kind == "chore" and due.chore and due.minutes and due.begun is None and row.state == "said":
        actions |= {"timer": looks.start(due)}
    return [
        (
            words if label is None else f"{words}: {label}"[:40],
            {"press": "reminder", "id": row.id, "action": action},
        )
        for action, words in actions.items()
    ]


def _refers(home: Home, due: Due | None) -> dict[str, object]:
    """What a reply to the reminder is about."""
    if due is None:
        return {}
    view = home.view.batch(due.batch)
    of = view.name if view is not None else due.of
    what = due.base if due.kind == "asked" else None
    told = (("of", of), ("step", due.chore), ("adds", list(due.adds) or None), ("what", what))
    return {name: value for name, value in told if value is not None}
