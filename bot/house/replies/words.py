"""Replies to a reminder's letter: to which of the things that it says, and what then."""

from collections.abc import Sequence

import msgspec

from bot.cellar.home.due import Due
from bot.cellar.log.acts import Act, Done
from bot.cellar.log.due_key import ContactKey
from bot.cellar.log.lengths import LABEL
from bot.house import carry_out as written
from bot.house.ask import ASK_FOR
from bot.house.carry_out import Author
from bot.house.hours import hours_of
from bot.house.letters import letter, plan
from bot.house.letters.promises import LATER
from bot.house.replies import answer
from bot.house.turn import Turn
from bot.say import reminders
from bot.store.press import AnswerThings, AskWhich, Labelled
from bot.store.queries.reminders import ReminderRow
from bot.store.refers import Refers, WantsWhich
from bot.understand.verdict import Settled, Settles

LetterThing = tuple[ReminderRow, Due]


def carry_out(turn: Turn, said: Settled) -> None:
    """Does what was answered to the things of a letter, in the order said; which one was meant is asked where that is
    not clear. The answers know to which letter they belong."""
    turn = msgspec.structs.replace(turn, among=said.among)
    if said.over:
        turn.reply(reminders.SEEN_TO)
    for one in said.settles:
        things = _open(turn, _told(turn, one.things))
        if one.which and things:
            _ask(turn, one, things)
        elif things:
            _carry_out(turn, one, things)


def pressed(turn: Turn, does: AnswerThings) -> bool:
    """A button under the question which one was meant; False when nothing of it is open any more."""
    things = _open(turn, _told(turn, does.ids))
    if things:
        _carry_out(
            turn, Settles(things=does.ids, action=does.action, until=does.until, whom=does.whom), things
        )
    return bool(things)


def which(turn: Turn, does: AskWhich) -> bool:
    """A button for several things: asks which of them; False when nothing of it is open any more."""
    things = _open(turn, _told(turn, does.ids))
    if len(things) == 1:
        _carry_out(turn, Settles(things=does.ids, action=does.action), things)
    elif things:
        _ask(turn, Settles(things=does.ids, action=does.action), things)
    return bool(things)


def _told(turn: Turn, numbers: Sequence[int]) -> list[ReminderRow]:
    """The rows that can be answered at all, whatever became of them."""
    found = (turn.unit.reminders.reminder(turn.home.id, number) for number in numbers)
    return [row for row in found if row is not None and not isinstance(row.key, ContactKey)]


def _open(turn: Turn, rows: Sequence[ReminderRow]) -> list[LetterThing]:
    """What can still be answered."""
    wanted = plan.wanted_in(turn.home)
    found = [(row, letter.due_of(row, wanted)) for row in rows if row.state in ("said", "moved")]
    return [(row, due) for row, due in found if due is not None]


def _carry_out(turn: Turn, reply: Settles, things: Sequence[LetterThing]) -> None:
    """Does it, and answers once; each number that "done" does not tell is asked for by itself."""
    if reply.action == "done":
        _done(turn, things, enough=reply.enough)
        return
    if reply.action == "release":
        _give_back(turn, things)
        return
    hours = hours_of(turn.home.row)
    # An answer to an old question may name a time that has passed.
    until = hours.decent(reply.until) if reply.until is not None and reply.until > turn.now else None
    if reply.action == "later" and until is None:
        until = hours.decent(turn.now + LATER)
    names = [_label(turn, due) for _, due in things]
    for row, due in things:
        if reply.action == "later" and until is not None:
            answer.put_off(turn, row, due, until)
        else:
            answer.take_on(turn, due, until, reply.whom)
    when = turn.home.manner.when(until) if until is not None else None
    who = reply.whom or turn.member.name
    turn.reply(reminders.noted(reply.action, names, who, when), refers=_refers(things))


def _give_back(turn: Turn, things: Sequence[LetterThing]) -> None:
    """Not the writer: what they had taken on is free again, and what nobody has is asked for later."""
    free = [(row, due) for row, due in things if due.claim is not None and due.claim.by == turn.member.name]
    for _, due in free:
        answer.release(turn, due)
    if free:
        names = [_label(turn, due) for _, due in free]
        turn.reply(reminders.noted("release", names, turn.member.name, None), refers=_refers(free))
    if nobodys := [(row, due) for row, due in things if due.claim is None]:
        _carry_out(turn, Settles(things=(), action="later"), nobodys)
    for row, due in things:
        if due.claim is not None and (row, due) not in free:
            names = [_label(turn, due)]
            turn.reply(reminders.noted("mine", names, due.claim.by, None), refers=_refers([(row, due)]))


def _done(turn: Turn, things: Sequence[LetterThing], *, enough: bool = False) -> None:
    """`enough`: of what is done several times, that was the last."""
    author = Author(member=turn.member, said_at=turn.now)
    facts: list[Act] = []
    over: list[LetterThing] = []
    unknown: list[LetterThing] = []
    for row, due in things:
        acts = answer.done_acts(turn, due)
        facts += acts
        if enough and acts:
            facts.append(Done(of=acts[0].of, what=due.base))
        if not acts and answer.done_by_word(due):
            answer.say_done(turn, due)
            over.append((row, due))
        elif not acts:
            unknown.append((row, due))
    if facts:
        written.carry_out(turn, facts, author)
    if over:
        names = [_label(turn, due) for _, due in over]
        turn.reply(reminders.noted("done", names, turn.member.name, None), refers=_refers(over))
    for row, due in unknown:
        answer.ask_number(turn, row, due)


def _ask(turn: Turn, reply: Settles, things: Sequence[LetterThing]) -> None:
    """Which one: a button for each, and one for all where that leaves nothing to ask."""
    every = AnswerThings(
        ids=tuple(row.id for row, _ in things), action=reply.action, until=reply.until, whom=reply.whom
    )
    buttons: list[Labelled] = [
        (_label(turn, due)[:LABEL], msgspec.structs.replace(every, ids=(row.id,))) for row, due in things
    ]
    if reply.action != "done" or all(answer.plainly_done(turn, due) for _, due in things):
        buttons.append((reminders.ALL_OF_THEM, every))
    wants = WantsWhich(action=reply.action, until=turn.now + ASK_FOR, whom=reply.whom)
    refers = msgspec.structs.replace(_refers(things), wants=wants)
    turn.reply(reminders.which(reply.action, reply.whom), buttons, refers, must=True)


def _refers(things: Sequence[LetterThing]) -> Refers:
    """What a reply to the bot's answer is about."""
    return Refers(reminders=tuple(row.id for row, _ in things))


def _label(turn: Turn, due: Due) -> str:
    """Its batch or vessel, and what is to be done."""
    return ", ".join(filter(None, letter.called(turn.home, due)))
