"""Replies to a reminder's letter: to which of the things that it says, and what then."""

from collections.abc import Callable, Collection, Sequence
from datetime import timedelta

import msgspec

from bot.cellar.home.due import Due
from bot.cellar.log.acts import Act, Done
from bot.cellar.log.due_key import ContactKey, DueKey, ReadingKey, TemperatureKey
from bot.cellar.log.lengths import LABEL
from bot.house import carry_out
from bot.house.carry_out import Author
from bot.house.hours import hours_of
from bot.house.letters import letter, plan
from bot.house.letters.promises import LATER
from bot.house.replies import answer
from bot.house.turn import Turn
from bot.say import reminders
from bot.store.press import AnswerThings, AskWhich, Labelled
from bot.store.queries.postbox import SentRow
from bot.store.queries.reminders import ReminderRow
from bot.store.refers import Refers, WantsWhich
from bot.understand import letter_reply, mixed_reply, plain_reply
from bot.understand.claims.reminders import Reply

Thing = tuple[ReminderRow, Due]

_ASK_FOR = timedelta(hours=1)
"""For so long the next thing said may answer the question; a reply to it may come later."""

_FRESH_FOR = timedelta(hours=2)
"""For so long the next thing said may answer a letter: later it may be about anything."""

_MEASURES: dict[str, type[DueKey]] = {"gravity": ReadingKey, "temperature": TemperatureKey}


def answers_letter(turn: Turn, otherwise: Callable[[str], bool]) -> bool:
    """Whether the text answers a letter of reminders, or says which of its things is meant; then it is seen
    to. What one letter says of one chore is left to the grammar of replies; what is told beside an answer is
    written down by `otherwise`, which says whether it can be."""
    incoming = turn.incoming
    if incoming.forwarded:
        return False
    if incoming.reply_to is None:
        return _answers_latest(turn)
    sent = turn.unit.post.sent_message(turn.home.id, incoming.chat_id, incoming.reply_to)
    if sent is None or not sent.refers.reminders:
        return False
    asked = _which_asked(sent)
    pending = asked.action if asked is not None else None
    text, scene, said_at = incoming.text or "", turn.home.scene(), incoming.sent_at
    said, facts = letter_reply(text, scene, said_at, pending), ""
    if not said:
        said, facts = mixed_reply(text, scene, said_at)
    if not said:
        return False
    told = _told(turn, sent.refers.reminders)
    things = _open(turn, told)
    alone = len(told) == 1 and pending is None and bool(things) and things[0][1].chore is not None
    if not told or (alone and not any(reply.of_its_own for reply in said)):
        return False
    turn = _about(turn, sent, told)
    said = _as_asked(said, sent)
    if facts:
        return _means_something(turn, said, told, things) and otherwise(facts) and _sort_out(turn, said, told)
    if not things and not any(reply.named for reply in said):
        turn.reply(reminders.SEEN_TO)
        return True
    return _sort_out(turn, said, told)


def _answers_latest(turn: Turn) -> bool:
    """The same without a reply: only what can hardly be anything but an answer, while the letter, or the
    question about it, is the latest that the bot said. It is silent where nothing of that is open."""
    incoming = turn.incoming
    sent = turn.unit.post.latest(turn.home.id, incoming.chat_id)
    if sent is None or not (sent.refers.reminders or sent.refers.among):
        return False
    asked = _which_asked(sent)
    if turn.now > (asked.until if asked is not None else sent.created_at + _FRESH_FOR):
        return False
    read = letter_reply if incoming.addressed else plain_reply
    pending = asked.action if asked is not None else None
    said = read(incoming.text or "", turn.home.scene(), incoming.sent_at, pending)
    named = all(reply.named or reply.every for reply in said)
    if not said or (asked is not None and not named):
        return False
    told = _told(turn, sent.refers.reminders)
    if named and not any(reply.every for reply in said):
        told = _told(turn, _among(sent, told))
    if not _open(turn, told):
        return False
    return _sort_out(_about(turn, sent, told), _as_asked(said, sent), told, silent=True)


def _about(turn: Turn, sent: SentRow, told: Sequence[ReminderRow]) -> Turn:
    """The turn, whose answers know which letter they belong to."""
    return msgspec.structs.replace(turn, among=_among(sent, told))


def _among(sent: SentRow, told: Sequence[ReminderRow]) -> tuple[int, ...]:
    """The reminders of the letter to which that message belongs, or which it is."""
    return sent.refers.among or tuple(row.id for row in told)


def _which_asked(sent: SentRow) -> WantsWhich | None:
    """What was said and lacked which of the things is meant, where the message asks that."""
    return sent.refers.wants if isinstance(sent.refers.wants, WantsWhich) else None


def _as_asked(said: Sequence[Reply], sent: SentRow) -> tuple[Reply, ...]:
    """With the one who will do it, where only the which was asked."""
    asked = _which_asked(sent)
    whom = asked.whom if asked is not None else None
    return tuple(
        msgspec.structs.replace(reply, whom=reply.whom or whom) if reply.action == "mine" else reply
        for reply in said
    )


def pressed(turn: Turn, does: AnswerThings) -> bool:
    """A button under the question which one was meant; False when nothing of it is open any more."""
    things = _open(turn, _told(turn, does.ids))
    if things:
        _carry_out(turn, Reply(action=does.action, until=does.until, whom=does.whom), things)
    return bool(things)


def which(turn: Turn, does: AskWhich) -> bool:
    """A button for several things: asks which of them; False when nothing of it is open any more."""
    things = _open(turn, _told(turn, does.ids))
    if len(things) == 1:
        _carry_out(turn, Reply(action=does.action), things)
    elif things:
        _ask(turn, Reply(action=does.action), things)
    return bool(things)


def _told(turn: Turn, numbers: Sequence[int]) -> list[ReminderRow]:
    """The rows that can be answered at all, whatever became of them."""
    found = (turn.unit.reminders.reminder(turn.home.id, number) for number in numbers)
    return [row for row in found if row is not None and not isinstance(row.key, ContactKey)]


def _open(turn: Turn, rows: Sequence[ReminderRow]) -> list[Thing]:
    """What can still be answered."""
    wanted = plan.wanted_in(turn.home)
    found = [(row, letter.due_of(row, wanted)) for row in rows if row.state in ("said", "moved")]
    return [(row, due) for row, due in found if due is not None]


def _means_something(
    turn: Turn, said: Sequence[Reply], told: Sequence[ReminderRow], things: Sequence[Thing]
) -> bool:
    """Whether everything said is about something in this letter, open or not."""
    return all(
        any(_fits(turn, reply, thing) for thing in things) or any(_named(turn, reply, row) for row in told)
        for reply in said
    )


def _sort_out(
    turn: Turn, said: Sequence[Reply], told: Sequence[ReminderRow], *, silent: bool = False
) -> bool:
    """Each thing said, done to what it means; False, with nothing done, when it means nothing in this letter,
    or, if `silent`, nothing that is open."""
    things = _open(turn, told)
    found = [(reply, [thing for thing in things if _fits(turn, reply, thing)]) for reply in said]
    lost = [reply for reply, fitting in found if not fitting]
    if not _means_something(turn, said, told, things) or (lost and silent):
        return False
    if lost:
        turn.reply(reminders.SEEN_TO)
    for reply, fitting in found:
        if reply.excepting and fitting:
            _ask(turn, reply, fitting)
        elif len(fitting) == 1 or (fitting and reply.every):
            _carry_out(turn, reply, fitting)
        elif fitting:
            _ask(turn, reply, fitting)
    return True


def _fits(turn: Turn, reply: Reply, thing: Thing) -> bool:
    row, due = thing
    return (
        (not reply.of or _named(turn, reply, row) or due.of in reply.of)
        and reply.step in (None, due.chore)
        and (reply.measure is None or isinstance(due.key, _MEASURES.get(reply.measure, ())))
        and (reply.goods is None or _to_buy(due, reply.goods))
    )


def _to_buy(due: Due, goods: Collection[str]) -> bool:
    """Whether it is about getting those: bottles and corks, or what somebody asked for by such a word."""
    about = (due.about or "").casefold()
    own = due.kind == "asked" and due.chore is None
    return due.kind == "collect" or (own and (not goods or any(word in about for word in goods)))


def _named(turn: Turn, reply: Reply, row: ReminderRow) -> bool:
    view = turn.home.view.batch(row.batch)
    return view is not None and view.name in reply.of


def _carry_out(turn: Turn, reply: Reply, things: Sequence[Thing]) -> None:
    """Does it, and answers once; each number that "done" does not tell is asked for by itself."""
    if reply.action == "done":
        _done(turn, things, enough=bool(reply.enough))
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


def _give_back(turn: Turn, things: Sequence[Thing]) -> None:
    """Not the writer: what they had taken on is free again, and what nobody has is asked for later."""
    free = [(row, due) for row, due in things if due.claim is not None and due.claim.by == turn.member.name]
    for _, due in free:
        answer.release(turn, due)
    if free:
        names = [_label(turn, due) for _, due in free]
        turn.reply(reminders.noted("release", names, turn.member.name, None), refers=_refers(free))
    if nobodys := [(row, due) for row, due in things if due.claim is None]:
        _carry_out(turn, Reply(action="later"), nobodys)
    for row, due in things:
        if due.claim is not None and (row, due) not in free:
            names = [_label(turn, due)]
            turn.reply(reminders.noted("mine", names, due.claim.by, None), refers=_refers([(row, due)]))


def _done(turn: Turn, things: Sequence[Thing], *, enough: bool = False) -> None:
    """`enough`: of what is done several times, that was the last."""
    author = Author(member=turn.member, said_at=turn.now)
    facts: list[Act] = []
    over: list[Thing] = []
    unknown: list[Thing] = []
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
        carry_out.carry_out(turn, facts, author)
    if over:
        names = [_label(turn, due) for _, due in over]
        turn.reply(reminders.noted("done", names, turn.member.name, None), refers=_refers(over))
    for row, due in unknown:
        answer.ask_number(turn, row, due)


def _ask(turn: Turn, reply: Reply, things: Sequence[Thing]) -> None:
    """Which one: a button for each, and one for all where that leaves nothing to ask."""
    whom = reply.whom or None
    every = AnswerThings(
        ids=tuple(row.id for row, _ in things), action=reply.action, until=reply.until, whom=whom
    )
    buttons: list[Labelled] = [
        (_label(turn, due)[:LABEL], msgspec.structs.replace(every, ids=(row.id,))) for row, due in things
    ]
    if reply.action != "done" or all(answer.plainly_done(turn, due) for _, due in things):
        buttons.append((reminders.ALL_OF_THEM, every))
    wants = WantsWhich(action=reply.action, until=turn.now + _ASK_FOR, whom=whom)
    refers = msgspec.structs.replace(_refers(things), wants=wants)
    turn.reply(reminders.which(reply.action, reply.whom), buttons, refers, must=True)


def _refers(things: Sequence[Thing]) -> Refers:
    """What a reply to the bot's answer is about."""
    return Refers(reminders=tuple(row.id for row, _ in things))


def _label(turn: Turn, due: Due) -> str:
    """Its batch or vessel, and what is to be done."""
    return ", ".join(filter(None, letter.called(turn.home, due)))
