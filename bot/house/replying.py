"""Replies to a reminder's letter: to which of the things that it says, and what then."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from bot.cellar.acts import Act
from bot.cellar.due import Due
from bot.house import answering, reminders, voice, writing
from bot.house.hours import hours_of
from bot.house.promising import LATER
from bot.house.turn import Press, Turn
from bot.house.writing import Author
from bot.say import ringing
from bot.store.postbox import SentRow
from bot.store.reminders import ReminderRow
from bot.understand import letter_reply
from bot.understand.letters import Answer, Reply

Thing = tuple[ReminderRow, Due]

_LONGEST_LABEL = 40
_ASK_FOR = timedelta(hours=1)
"""For so long the next thing said may answer the question; a reply to it may come later."""

_MEASURES = {"gravity": "reading", "temperature": "temperature"}


def answers_letter(turn: Turn) -> bool:
    """Whether the text answers a letter of reminders, or says which of its things is meant; then it is seen
    to. What one letter says of one chore is left to the grammar of replies."""
    sent, pending = _letter(turn)
    if sent is None or turn.incoming.forwarded:
        return False
    home = turn.home
    said = letter_reply(turn.incoming.text or "", home.scene(), turn.incoming.sent_at, pending)
    if not said or (turn.incoming.reply_to is None and not all(reply.named or reply.every for reply in said)):
        return False
    told = [row for row in _rows(turn, sent.refers["reminders"]) if not row.step.startswith("contact ")]
    things = _open(turn, told)
    if not told or (len(told) == 1 and pending is None and things and things[0][1].chore is not None):
        return False
    if not things and not any(reply.named for reply in said):
        turn.reply(ringing.SEEN_TO)
        return True
    return _sort_out(turn, said, told, things)


def pressed(turn: Turn, numbers: Sequence[int], action: Answer, until: str | None) -> bool:
    """A button under the question which one was meant; False when nothing of it is open any more."""
    things = _open(turn, _rows(turn, numbers))
    if things:
        reply = Reply(action=action, until=datetime.fromisoformat(until) if until else None)
        _carry_out(turn, reply, things)
    return bool(things)


def which(turn: Turn, numbers: Sequence[int], action: Answer) -> bool:
    """A button for several things: asks which of them; False when nothing of it is open any more."""
    things = _open(turn, _rows(turn, numbers))
    if len(things) == 1:
        _carry_out(turn, Reply(action=action), things)
    elif things:
        _ask(turn, Reply(action=action), things)
    return bool(things)


def _letter(turn: Turn) -> tuple[SentRow | None, Answer | None]:
    """The letter that the message replies to, or the bot's question about one: that may also be answered by
    the next thing said. With it what was said before, where only the which is open."""
    post, incoming = turn.unit.post, turn.incoming
    if incoming.reply_to is not None:
        sent = post.sent_message(turn.home.id, incoming.chat_id, incoming.reply_to)
    else:
        sent = post.latest(turn.home.id, incoming.chat_id)
        over = sent.refers.get("asked_until") if sent is not None else None
        if over is None or turn.now > datetime.fromisoformat(over):
            return None, None
    if sent is None or "reminders" not in sent.refers:
        return None, None
    return sent, sent.refers.get("pending")


def _rows(turn: Turn, numbers: Sequence[int]) -> list[ReminderRow]:
    found = (turn.unit.reminders.reminder(turn.home.id, number) for number in numbers)
    return [row for row in found if row is not None]


def _open(turn: Turn, rows: Sequence[ReminderRow]) -> list[Thing]:
    """What can still be answered."""
    wanted = reminders.wanted_in(turn.home)
    found = [(row, voice.due_of(row, wanted)) for row in rows if row.state in ("said", "moved")]
    return [(row, due) for row, due in found if due is not None]


def _sort_out(
    turn: Turn, said: Sequence[Reply], told: Sequence[ReminderRow], things: Sequence[Thing]
) -> bool:
    """Each thing said, done to what it means; False, with nothing done, when it means nothing in this letter."""
    found = [(reply, [thing for thing in things if _fits(turn, reply, thing)]) for reply in said]
    lost = [reply for reply, fitting in found if not fitting]
    if any(not any(_named(turn, reply, row) for row in told) for reply in lost):
        return False
    if lost:
        turn.reply(ringing.SEEN_TO)
    for reply, fitting in found:
        if len(fitting) == 1 or (fitting and reply.every):
            _carry_out(turn, reply, fitting)
        elif fitting:
            _ask(turn, reply, fitting)
    return True


def _fits(turn: Turn, reply: Reply, thing: Thing) -> bool:
    row, due = thing
    return (
        (not reply.of or _named(turn, reply, row) or due.of in reply.of)
        and reply.step in (None, due.chore)
        and (reply.measure is None or due.base.partition(" ")[0] == _MEASURES.get(reply.measure))
    )


def _named(turn: Turn, reply: Reply, row: ReminderRow) -> bool:
    view = turn.home.view.batch(row.batch)
    return view is not None and view.name in reply.of


def _carry_out(turn: Turn, reply: Reply, things: Sequence[Thing]) -> None:
    """Does it, and answers once; each number that "done" does not tell is asked for by itself."""
    if reply.action == "done":
        _done(turn, things)
        return
    hours = hours_of(turn.home.row)
    # An answer to an old question may name a time that has passed.
    until = hours.decent(reply.until) if reply.until is not None and reply.until > turn.now else None
    if reply.action == "later" and until is None:
        until = hours.decent(turn.now + LATER)
    names = [_label(turn, due) for _, due in things]
    for row, due in things:
        if reply.action == "later" and until is not None:
            answering.put_off(turn, row, due, until)
        else:
            answering.take_on(turn, due, until)
    when = turn.home.manner.when(until) if until is not None else None
    turn.reply(ringing.noted(reply.action, names, turn.member.name, when), refers=_refers(things))


def _done(turn: Turn, things: Sequence[Thing]) -> None:
    author = Author(member=turn.member, said_at=turn.now)
    facts: list[Act] = []
    over: list[Thing] = []
    unknown: list[Thing] = []
    for row, due in things:
        acts = answering.done_acts(turn, due)
        facts += acts
        if not acts and answering.done_by_word(due):
            answering.say_done(turn, due)
            over.append((row, due))
        elif not acts:
            unknown.append((row, due))
    if facts:
        writing.carry_out(turn, facts, author)
    if over:
        names = [_label(turn, due) for _, due in over]
        turn.reply(ringing.noted("done", names, turn.member.name, None), refers=_refers(over))
    for row, due in unknown:
        answering.ask_number(turn, row, due)


def _ask(turn: Turn, reply: Reply, things: Sequence[Thing]) -> None:
    """Which one: a button for each, and one for all where that leaves nothing to ask."""
    until = reply.until.isoformat() if reply.until is not None else None
    does: dict[str, Any] = {"press": "things", "action": reply.action, "until": until}
    buttons: list[Press] = [
        (_label(turn, due)[:_LONGEST_LABEL], does | {"ids": [row.id]}) for row, due in things
    ]
    if reply.action != "done" or all(answering.plainly_done(turn, due) for _, due in things):
        buttons.append((ringing.ALL_OF_THEM, does | {"ids": [row.id for row, _ in things]}))
    until = (turn.now + _ASK_FOR).isoformat()
    refers = _refers(things) | {"pending": reply.action, "asked_until": until}
    turn.reply(ringing.which(reply.action), buttons, refers, must=True)


def _refers(things: Sequence[Thing]) -> dict[str, Any]:
    """What a reply to the bot's answer is about."""
    return {"reminders": [row.id for row, _ in things]}


def _label(turn: Turn, due: Due) -> str:
    """Its batch or vessel, and what is to be done."""
    return ", ".join(filter(None, voice.called(turn.home, due)))
