"""Buttons: what each press does. What a button means is looked up in the outbox, never taken from the chat."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

import msgspec

from bot.cellar.acts import Addition, Follow, Reminder, Step
from bot.cellar.answers import batch_answer
from bot.cellar.log import standing
from bot.house import buttons, hearing, membership, pouring, reminders, setup, writing
from bot.house.promising import promise
from bot.house.turn import Press, Turn
from bot.house.writing import Author
from bot.say import answers, company, ringing
from bot.say.facts import HOW_MANY
from bot.store.postbox import SentRow


def press(turn: Turn) -> str | None:
    """Carries out the pressed button. One that came too late changes nothing: then the answer is a line for
    the one who pressed it."""
    found = buttons.find(turn.unit, turn.home.id, turn.incoming)
    if isinstance(found, str):
        return found
    turn = msgspec.structs.replace(turn, edits=turn.incoming.message_id)
    return _PRESSES[found.does["press"]](turn, found.letter, found.does)


def _choose(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    question = turn.unit.questions.question(turn.home.id, pressed["asked"], turn.now)
    if question is None:
        return company.OVER
    turn.unit.questions.close(turn.home.id, question.id, turn.now)
    author = next((m for m in turn.home.members if m.id == question.member_id), turn.member)
    turn = msgspec.structs.replace(turn, strikes=tuple(pressed.get("strikes", ())))
    writing.carry_out(
        turn, question.options[pressed["option"]], Author(member=author, said_at=question.said_at)
    )
    return None


def _drop(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    question = turn.unit.questions.question(turn.home.id, pressed["asked"], turn.now)
    if question is None:
        return company.OVER
    turn.unit.questions.close(turn.home.id, question.id, turn.now)
    turn.reply(answers.LEFT_OUT)
    return None


def _undo(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    stand = {entry.entry for entry in standing(turn.home.entries)}
    if stand.isdisjoint(pressed["entries"]):
        return company.STRUCK_ALREADY
    writing.undo(turn, pressed["entries"])
    return None


def _follow(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    view = turn.home.view.batch(pressed["batch"])
    if view is None or view.ended_at is not None or view.plan == pressed["plan"]:
        return company.GONE
    turn = msgspec.structs.replace(turn, edits=None)
    writing.carry_out(turn, (Follow(of=view.name, plan=pressed["plan"]),))
    return None


def _vessel(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    home = turn.home
    if turn.unit.log.entries_of_message(home.id, turn.incoming.chat_id, pressed["message_id"]):
        return company.WRITTEN_ALREADY
    name = pressed["name"]
    if name.casefold() not in {vessel.name.casefold() for vessel in turn.home.vessels}:
        turn.home.add_vessel(name)
    author = turn.unit.people.member(turn.home.id, pressed["member"]) or turn.member
    incoming = msgspec.structs.replace(
        turn.incoming,
        press=None,
        text=pressed["text"],
        message_id=pressed["message_id"],
        sent_at=datetime.fromisoformat(pressed["sent_at"]),
    )
    hearing.again(msgspec.structs.replace(turn, member=author, incoming=incoming), pressed["text"])
    return None


def _how(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    view = turn.home.view.batch(pressed["batch"])
    if view is None:
        return company.GONE
    turn = msgspec.structs.replace(turn, edits=None)
    turn.reply(answers.how(batch_answer(view, turn.now)), refers={"of": view.name})
    return None


def _setup(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    setup.pressed(turn, pressed["asked"], pressed.get("choice", ""))
    return None


def _remove(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    return membership.pressed(turn, pressed["member"])


def _reminder(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    home = turn.home
    row = turn.unit.reminders.reminder(home.id, pressed["id"])
    if row is None:
        return company.GONE
    if row.state == "answered":
        return company.DONE_ALREADY
    view = home.view.batch(row.batch)
    step = letter.refers.get("step")
    base = letter.refers.get("base", letter.html)
    what = base.splitlines()[0]
    action = pressed["action"]
    refers = {**letter.refers, "base": base}
    author = Author(member=turn.member, said_at=turn.now)
    if action == "done":
        if adds := letter.refers.get("adds"):
            turn.unit.reminders.mark(home.id, row.id, "answered")
            turn = msgspec.structs.replace(turn, edits=None)
            of = view.name if view else None
            writing.carry_out(turn, [Addition(of=of, what=what) for what in adds], author)
            return None
        if step is None:
            turn.reply(f"{what}\n{ringing.WHAT_READING}", refers=refers)
            return None
        act = Step(step=step, of=view.name if view else letter.refers.get("of"))
        entry = writing.write(turn, act, author)
        turn.unit.reminders.mark(home.id, row.id, "answered")
        lines = [ringing.done(turn.member.name, what)]
        fresh = home.view.batch(row.batch)
        if step == "bottle":
            lines.append(HOW_MANY)
        elif fresh is not None:
            lines.append(answers.next_line(batch_answer(fresh, turn.now), home.manner))
        below: list[Press] = [("Undo", {"press": "undo", "entries": [entry.entry]})]
        if fresh is not None:
            question, choices = pouring.where_to(turn, fresh, entry)
            lines.append(question)
            below = [*choices, *below]
        turn.reply("\n".join(filter(None, lines)), below, {**refers, "entries": [entry.entry]})
        return None
    act_of = view.name if view else letter.refers.get("of")
    promised = Reminder(action=action, of=act_of, step=step)
    promise(turn, promised, turn.member, turn.now)
    due = next((d for d in reminders.dues(home) if (d.batch, d.step) == (row.batch, row.step)), None)
    if action == "mine":
        rest = tuple((label, data) for label, data in letter.buttons if data.get("action") != "mine")
        turn.reply(ringing.taken(turn.member.name, what), rest, refers)
        return None
    until = due.at if due is not None and due.at > turn.now else turn.now
    turn.reply(ringing.put_off(home.manner.when(until), what), letter.buttons, refers)
    return None


_PRESSES: dict[str, Callable[[Turn, SentRow, dict[str, Any]], str | None]] = {
    "choose": _choose,
    "drop": _drop,
    "undo": _undo,
    "how": _how,
    "follow": _follow,
    "vessel": _vessel,
    "setup": _setup,
    "remove": _remove,
    "reminder": _reminder,
}
