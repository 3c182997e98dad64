"""Buttons: what each press does. What a button means is looked up in the outbox, never taken from the chat."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

import msgspec

from bot.cellar.acts import Addition, Follow, Reminder, Step
from bot.cellar.answers import batch_answer
from bot.house import hearing, pouring, reminders, setup, writing
from bot.house.promising import promise
from bot.house.turn import Press, Turn
from bot.house.writing import Author
from bot.say import answers, ringing
from bot.say.facts import HOW_MANY
from bot.store.postbox import SentRow


def press(turn: Turn) -> None:
    """Carries out the pressed button; one that is not (or no longer) there does nothing."""
    data = turn.incoming.press or ""
    letter_id, _, number = data.partition(":")
    if not (data.isascii() and letter_id.isdecimal() and number.isdecimal() and len(letter_id) < 19):
        return
    letter = turn.unit.post.letter(turn.home.id, turn.incoming.chat_id, int(letter_id))
    if letter is None or int(number) >= len(letter.buttons):
        return
    _, pressed = letter.buttons[int(number)]
    turn = msgspec.structs.replace(turn, edits=turn.incoming.message_id)
    _PRESSES[pressed["press"]](turn, letter, pressed)


def _choose(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> None:
    question = turn.unit.questions.question(turn.home.id, pressed["asked"], turn.now)
    if question is None:
        return
    turn.unit.questions.close(turn.home.id, question.id, turn.now)
    author = next((m for m in turn.home.members if m.id == question.member_id), turn.member)
    turn = msgspec.structs.replace(turn, strikes=tuple(pressed.get("strikes", ())))
    writing.carry_out(
        turn, question.options[pressed["option"]], Author(member=author, said_at=question.said_at)
    )


def _drop(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> None:
    question = turn.unit.questions.question(turn.home.id, pressed["asked"], turn.now)
    if question is not None:
        turn.unit.questions.close(turn.home.id, question.id, turn.now)
        turn.reply(answers.LEFT_OUT)


def _undo(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> None:
    writing.undo(turn, pressed["entries"])


def _follow(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> None:
    view = turn.home.view.batch(pressed["batch"])
    if view is not None and view.ended_at is None and view.plan != pressed["plan"]:
        turn = msgspec.structs.replace(turn, edits=None)
        writing.carry_out(turn, (Follow(of=view.name, plan=pressed["plan"]),))


def _vessel(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> None:
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


def _how(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> None:
    view = turn.home.view.batch(pressed["batch"])
    if view is not None:
        turn = msgspec.structs.replace(turn, edits=None)
        turn.reply(answers.how(batch_answer(view, turn.now)), refers={"of": view.name})


def _setup(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> None:
    setup.pressed(turn, pressed["asked"], pressed.get("choice", ""))


def _reminder(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> None:
    home = turn.home
    row = turn.unit.reminders.reminder(home.id, pressed["id"])
    if row is None or row.state == "answered":
        return
    view = home.view.batch(row.batch)
    step = letter.refers.get("step")
    base = letter.refers.get("base", letter.html)
    what = base.splitlines()[0]
    action = pressed["action"]
    refers = {**letter.refers, "base": base}
    author = Author(member=turn.member, said_at=turn.now)
    if action == "done":
        if adds := letter.refers.get("adds"):
            turn.unit.reminders.mark(row.id, "answered")
            turn = msgspec.structs.replace(turn, edits=None)
            of = view.name if view else None
            writing.carry_out(turn, [Addition(of=of, what=what) for what in adds], author)
            return
        if step is None:
            turn.reply(f"{what}\n{ringing.WHAT_READING}", refers=refers)
            return
        act = Step(step=step, of=view.name if view else letter.refers.get("of"))
        entry = writing.write(turn, act, author)
        turn.unit.reminders.mark(row.id, "answered")
        lines = [ringing.done(turn.member.name, what)]
        fresh = home.view.batch(row.batch)
        if step == "bottle":
            lines.append(HOW_MANY)
        elif fresh is not None:
            lines.append(answers.next_line(batch_answer(fresh, turn.now), home.manner))
        buttons: list[Press] = [("Undo", {"press": "undo", "entries": [entry.entry]})]
        if fresh is not None:
            question, choices = pouring.where_to(turn, fresh, entry)
            lines.append(question)
            buttons = [*choices, *buttons]
        turn.reply("\n".join(filter(None, lines)), buttons, {**refers, "entries": [entry.entry]})
        return
    act_of = view.name if view else letter.refers.get("of")
    promised = Reminder(action=action, of=act_of, step=step)
    promise(turn, promised, turn.member, turn.now)
    due = next((d for d in reminders.dues(home) if (d.batch, d.step) == (row.batch, row.step)), None)
    if action == "mine":
        rest = tuple((label, data) for label, data in letter.buttons if data.get("action") != "mine")
        turn.reply(ringing.taken(turn.member.name, what), rest, refers)
        return
    until = due.at if due is not None and due.at > turn.now else turn.now
    turn.reply(ringing.put_off(home.manner.when(until), what), letter.buttons, refers)


_PRESSES: dict[str, Callable[[Turn, SentRow, dict[str, Any]], None]] = {
    "choose": _choose,
    "drop": _drop,
    "undo": _undo,
    "how": _how,
    "follow": _follow,
    "vessel": _vessel,
    "setup": _setup,
    "reminder": _reminder,
}
