"""What an answer to a reminder does, by its buttons as by words: done, later and until when, taken on, given back.

It writes what it means into the log; the letters follow from that when the house is planned anew.
"""

from datetime import datetime, timedelta
from typing import assert_never

import msgspec

from bot.cellar.home.due import Due
from bot.cellar.log.acts import Act, Addition, Done, Look, PutOff, Step, TakeOn, Timer, Undo, Vessel
from bot.cellar.log.due_key import is_meant
from bot.house import carry_out
from bot.house.carry_out import Author
from bot.house.hours import hours_of
from bot.house.letters import letter, plan
from bot.house.letters.promises import LATER
from bot.house.turn import Turn
from bot.ids import EntryId
from bot.say import company, reminders
from bot.science import practice
from bot.store.press import AnswerReminder
from bot.store.queries.reminders import ReminderRow
from bot.store.refers import Refers, WantsTemperature


def pressed(turn: Turn, does: AnswerReminder) -> str | None:
    """Carries out one press. One for what is settled already does nothing, and returns a line that says so to
    the one who pressed."""
    row = turn.unit.reminders.reminder(turn.home.id, does.id)
    if row is not None and row.state == "answered":
        return company.DONE_ALREADY
    if row is None or row.state not in ("said", "moved") or row.outbox_id is None:
        return company.GONE
    due = letter.due_of(row, plan.wanted_in(turn.home))
    if due is None:
        return company.GONE
    alone = len(turn.unit.reminders.in_letter(turn.home.id, row.outbox_id)) == 1
    hours = hours_of(turn.home.row)
    match does.action:
        case "done":
            _done(turn, row, due, alone=alone)
        case "release":
            release(turn, due)
        case "mine":
            take_on(turn, due)
        case "cloudy":
            say_cloudy(turn, due)
        case "timer":
            _run_timer(turn, due)
        case "later":
            put_off(turn, row, due, hours.decent(turn.now + LATER))
        case "hour":
            put_off(turn, row, due, hours.decent(turn.now + timedelta(hours=1)))
        case "evening":
            put_off(turn, row, due, hours.evening(turn.now))
        case "tomorrow":
            put_off(turn, row, due, hours.tomorrow(turn.now))
        case _:
            assert_never(does.action)
    return None


def _run_timer(turn: Turn, due: Due) -> None:
    """Its own minutes are counted from now."""
    if due.minutes is not None and due.chore is not None:
        runs_until = turn.now + timedelta(minutes=due.minutes)
        _write(turn, Timer(of=_of(turn, due), step=due.chore, until=runs_until), due)


def take_on(turn: Turn, due: Due, until: datetime | None = None, whom: str | None = None) -> None:
    """The writer will do it, or `whom` they say."""
    whom = None if whom == turn.member.name else whom
    mine = TakeOn(of=_of(turn, due), step=due.chore, what=due.base, until=until, whom=whom)
    _write(turn, mine, due)


def release(turn: Turn, due: Due) -> None:
    """The one who took it on is free of it: the promise is struck out."""
    if due.claim is not None:
        _write(turn, Undo(), due, strikes=due.claim.entry)


def put_off(turn: Turn, row: ReminderRow, due: Due, until: datetime) -> None:
    """It is asked for again then; another choice takes the place of an earlier one."""
    if row.state == "moved":
        turn.unit.reminders.mark(turn.home.id, row.id, "said")
    later = PutOff(of=_of(turn, due), step=due.chore, what=due.base, until=until)
    _write(turn, later, due, strikes=_put_off_by(turn, due))


def done_acts(turn: Turn, due: Due) -> list[Act]:
    """The facts that a "done" stands for; none where it is over by the word alone, or a number is wanted."""
    of = _of(turn, due)
    if due.kind == "wash":
        return [Vessel(of=due.of, state="clean")]
    if due.adds:
        return [Addition(of=of, what=what) for what in due.adds]
    return [Step(step=due.chore, of=of)] if due.chore is not None else []


def done_by_word(due: Due) -> bool:
    """Whether it is over when somebody says so: there is no number to tell, and no step that it would be."""
    told_of_none = not due.batch and due.chore != "sanitise"  # a chore of no batch stands nowhere in the log
    return due.kind in ("clearing", "collect", "taste", "asked") and (due.chore is None or told_of_none)


def plainly_done(turn: Turn, due: Due) -> bool:
    """Whether "done" says it all: no number, vessel or count of bottles is asked for after it."""
    return due.chore not in ("rack", "bottle") and bool(done_acts(turn, due))


def say_done(turn: Turn, due: Due) -> None:
    """It is over by the word alone."""
    of = _of(turn, due)
    if due.kind == "clearing":
        _write(turn, Look(of=of, what=due.base, found="clear"), due)
    else:
        _write(turn, Done(of=of, step=due.chore, what=due.base), due)


def ask_number(turn: Turn, row: ReminderRow, due: Due) -> None:
    """The number that a "done" alone does not tell."""
    of = _of(turn, due)
    told = (row.told or "").splitlines()[0]
    words = reminders.what_number(due, turn.home.manner)
    wants = WantsTemperature() if due.kind == "temperature" else None
    turn.reply(f"{told}\n{words}", refers=Refers(of=of, wants=wants))


def _of(turn: Turn, due: Due) -> str | None:
    """What it is of: the batch, else what was named."""
    view = turn.home.view.batch(due.batch)
    return view.name if view is not None else due.of


def _write(turn: Turn, act: Act, due: Due, strikes: EntryId | None = None) -> None:
    turn.home.write(act, turn.member, turn.source, said_at=turn.now, batch=due.batch or None, strikes=strikes)


def say_cloudy(turn: Turn, due: Due) -> datetime:
    """It has not cleared: it is looked at again at the time returned, and what wants it clear waits for that."""
    again = hours_of(turn.home.row).decent(turn.now + practice.LOOK_AGAIN.value)
    cloudy = Look(of=_of(turn, due), what=due.base, found="cloudy", until=again)
    _write(turn, cloudy, due, strikes=_put_off_by(turn, due))
    chore = next(
        (
            other
            for other in plan.wanted_in(turn.home, (due.batch,)).values()
            if (other.batch, other.level) == (due.batch, "first") and other.if_clear
        ),
        None,
    )
    if chore is not None:
        later = PutOff(
            of=_of(turn, chore), step=chore.chore, what=chore.base, until=again + practice.LOOK_BEFORE.value
        )
        _write(turn, later, due, strikes=_put_off_by(turn, chore))
    return again


def _put_off_by(turn: Turn, due: Due) -> EntryId | None:
    """The entry that put it off to where it is now: another choice takes its place."""
    view = turn.home.view.batch(due.batch)
    if view is None or not due.timed:
        return None
    last = [
        promise.entry
        for promise in view.promises
        if isinstance(promise.act, PutOff | Look)
        and is_meant(promise.act.what, due.key)
        and promise.ends is None
        and promise.until == due.at
    ]
    return last[-1] if last else None


def _done(turn: Turn, row: ReminderRow, due: Due, *, alone: bool) -> None:
    author = Author(member=turn.member, said_at=turn.now)
    afresh = msgspec.structs.replace(turn, edits=None)
    acts = done_acts(turn, due)
    if done_by_word(due):
        say_done(turn, due)
    elif not acts:
        ask_number(turn if alone else afresh, row, due)
    elif alone and isinstance(acts[0], Step):
        # The letter itself becomes the answer.
        turn.unit.reminders.mark(turn.home.id, row.id, "answered", reminders.done(turn.member.name))
        words = [(row.told or "").splitlines()[0], reminders.done(turn.member.name)]
        carry_out.carry_out(turn, acts, author, done=words, reminders=(row.id,))
    else:
        carry_out.carry_out(afresh, acts, author)
