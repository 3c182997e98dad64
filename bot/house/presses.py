"""Buttons: what each press does. What a button means is looked up in the outbox, never taken from the chat."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

import msgspec

from bot.cellar.acts import Follow
from bot.cellar.answers import batch_answer
from bot.house import answering, hearing, setup, writing
from bot.house.turn import Turn
from bot.house.writing import Author
from bot.say import answers
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
    answering.answer(turn, letter, pressed["id"], pressed["action"])


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
