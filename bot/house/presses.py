"""Buttons: what each press does. What a button means is looked up in the outbox, never taken from the chat."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

import msgspec

from bot.cellar.answers import batch_answer
from bot.cellar.log.acts import Follow
from bot.cellar.log.fold import standing
from bot.house import buttons, carry_out, messages
from bot.house.carry_out import Author
from bot.house.people import membership, settings
from bot.house.replies import buttons as answering
from bot.house.replies import words
from bot.house.turn import Turn
from bot.say import answers, company
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
    carry_out.carry_out(turn, question.options[pressed["option"]], Author.of(question, author))
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
    carry_out.undo(turn, pressed["entries"])
    return None


def _follow(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    view = turn.home.view.batch(pressed["batch"])
    if view is None or view.ended_at is not None or view.plan == pressed["plan"]:
        return company.GONE
    turn = msgspec.structs.replace(turn, edits=None)
    carry_out.carry_out(turn, (Follow(of=view.name, plan=pressed["plan"]),))
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
    messages.again(msgspec.structs.replace(turn, member=author, incoming=incoming), pressed["text"])
    return None


def _how(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    view = turn.home.view.batch(pressed["batch"])
    if view is None:
        return company.GONE
    turn = msgspec.structs.replace(turn, edits=None)
    turn.reply(answers.how(batch_answer(view, turn.now)), refers={"of": view.name})
    return None


def _setup(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    settings.pressed(turn, pressed["asked"], pressed.get("choice", ""))
    return None


def _remove(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    return membership.pressed(turn, pressed["member"])


def _reminder(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    return answering.answer(turn, letter, pressed["id"], pressed["action"])


def _things(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    return None if words.pressed(turn, pressed) else company.DONE_ALREADY


def _which(turn: Turn, letter: SentRow, pressed: dict[str, Any]) -> str | None:
    afresh = msgspec.structs.replace(turn, edits=None)
    return None if words.which(afresh, pressed["ids"], pressed["action"]) else company.DONE_ALREADY


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
    "things": _things,
    "which": _which,
}
