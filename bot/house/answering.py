"""A reminder's buttons: done, later and until when, taken on, given back.

A press writes what it means into the log; the letters follow from that when the house is planned anew.
"""

from datetime import datetime, timedelta

import msgspec

from bot.cellar.acts import Act, Addition, Reminder, Step, Undo, Vessel
from bot.cellar.answers import batch_answer
from bot.cellar.checks import LOOK_AGAIN, LOOK_BEFORE
from bot.cellar.due import TIMER, Due
from bot.house import pouring, reminders, voice, writing
from bot.house.hours import hours_of
from bot.house.promising import LATER
from bot.house.turn import Press, Turn
from bot.house.writing import Author
from bot.say import answers, company, ringing
from bot.say.facts import HOW_MANY
from bot.store.postbox import SentRow
from bot.store.reminders import ReminderRow

_DONE_BY_WORD = ("clearing", "collect", "taste", "asked")
"""Over when somebody says so: there is no number to tell, and no step that it would be."""


def answer(turn: Turn, letter: SentRow, reminder_id: int, action: str) -> str | None:
    """Carries out one press. One for what is settled already does nothing, and returns a line that says so to
    the one who pressed."""
    row = turn.unit.reminders.reminder(turn.home.id, reminder_id)
    if row is not None and row.state == "answered":
        return company.DONE_ALREADY
    if row is None or row.state not in ("said", "moved") or row.outbox_id is None:
        return company.GONE
    due = voice.due_of(row, reminders.wanted_in(turn.home))
    if due is None:
        return company.GONE
    alone = len(turn.unit.reminders.in_letter(turn.home.id, row.outbox_id)) == 1
    if action == "done":
        _done(turn, row, due, alone=alone)
    elif action == "release":
        _release(turn, due)
    elif action == "mine":
        _write(turn, _promise(turn, due, "mine", None), due)
    elif action == "cloudy":
        _cloudy(turn, due)
    elif action == "timer" and due.minutes is not None:
        runs_until = turn.now + timedelta(minutes=due.minutes)
        _write(turn, msgspec.structs.replace(_promise(turn, due, "later", runs_until), what=TIMER), due)
    elif (until := _until(turn, action)) is not None:
        if row.state == "moved":
            turn.unit.reminders.mark(turn.home.id, row.id, "said")
        _write(turn, _promise(turn, due, "later", until), due, strikes=_put_off_by(turn, due))
    return None


def _until(turn: Turn, action: str) -> datetime | None:
    """Until when each choice puts it off; never into the night."""
    hours = hours_of(turn.home.row)
    match action:
        case "later":
            return hours.decent(turn.now + LATER)
        case "hour":
            return hours.decent(turn.now + timedelta(hours=1))
        case "evening":
            return hours.evening(turn.now)
        case "tomorrow":
            return hours.tomorrow(turn.now)
        case _:
            return None


def _promise(turn: Turn, due: Due, action: str, until: datetime | None) -> Reminder:
    view = turn.home.view.batch(due.batch)
    of = view.name if view is not None else due.of
    plain = {"action": action, "of": of, "step": due.chore, "what": due.base}
    return msgspec.structs.replace(msgspec.convert(plain, Reminder), until=until)


def _write(turn: Turn, act: Act, due: Due, strikes: int | None = None) -> None:
    turn.home.write(act, turn.member, turn.source, said_at=turn.now, batch=due.batch or None, strikes=strikes)


def _cloudy(turn: Turn, due: Due) -> None:
    """It has not cleared: it is looked at again, and bottling waits for that."""
    again = hours_of(turn.home.row).decent(turn.now + LOOK_AGAIN)
    _write(turn, _promise(turn, due, "later", again), due, strikes=_put_off_by(turn, due))
    bottling = next(
        (
            other
            for other in reminders.dues(turn.home)
            if (other.batch, other.chore, other.kind, other.level) == (due.batch, "bottle", "chore", "first")
        ),
        None,
    )
    if bottling is not None:
        _write(turn, _promise(turn, bottling, "later", again + LOOK_BEFORE), due)


def _put_off_by(turn: Turn, due: Due) -> int | None:
    """The entry that put it off to where it is now: another choice takes its place."""
    view = turn.home.view.batch(due.batch)
    if view is None or not due.timed:
        return None
    last = [p for p in view.promises if p.what == due.base and p.action == "later" and p.until == due.at]
    return last[-1].entry if last else None


def _release(turn: Turn, due: Due) -> None:
    """The one who took it on is free of it: the promise is struck out."""
    if due.claim is not None:
        _write(turn, Undo(), due, strikes=due.claim.entry)


def _done(turn: Turn, row: ReminderRow, due: Due, *, alone: bool) -> None:
    home, author = turn.home, Author(member=turn.member, said_at=turn.now)
    view = home.view.batch(due.batch)
    of = view.name if view is not None else due.of
    told = (row.told or "").splitlines()[0]
    afresh = msgspec.structs.replace(turn, edits=None)
    if due.kind == "wash":
        writing.carry_out(afresh, [Vessel(of=due.of, state="clean")], author)
    elif due.kind in _DONE_BY_WORD and (due.chore is None or not (due.batch or due.chore == "sanitise")):
        _write(turn, _promise(turn, due, "done", None), due)
    elif due.adds:
        writing.carry_out(afresh, [Addition(of=of, what=what) for what in due.adds], author)
    elif due.chore is None and alone:
        turn.reply(f"{told}\n{ringing.what_number(due, home.manner)}", refers={"of": of} if of else {})
    elif due.chore is None:
        afresh.reply(f"{told}\n{ringing.what_number(due, home.manner)}", refers={"of": of} if of else {})
    elif not alone:
        writing.carry_out(afresh, [Step(step=due.chore, of=of)], author)
    else:
        _done_alone(turn, row, Step(step=due.chore, of=of), author)


def _done_alone(turn: Turn, row: ReminderRow, act: Step, author: Author) -> None:
    """The one thing that a letter says is done: the letter itself becomes the answer."""
    home = turn.home
    entry = writing.write(turn, act, author)
    turn.unit.reminders.mark(turn.home.id, row.id, "answered", ringing.done(turn.member.name))
    lines = [(row.told or "").splitlines()[0], ringing.done(turn.member.name)]
    fresh = home.view.batch(row.batch)
    refers: dict[str, object] = {"entries": [entry.entry]}
    buttons: list[Press] = [("Undo", {"press": "undo", "entries": [entry.entry]})]
    if act.of is not None:
        refers["of"] = act.of
    if act.step == "bottle":
        lines.append(HOW_MANY)
        refers["wants"] = "bottles"
    elif fresh is not None:
        lines.append(answers.next_line(batch_answer(fresh, turn.now), home.manner))
    if fresh is not None:
        question, choices = pouring.where_to(turn, fresh, entry)
        lines.append(question)
        buttons = [*choices, *buttons]
    turn.reply("\n".join(filter(None, lines)), buttons, refers)
