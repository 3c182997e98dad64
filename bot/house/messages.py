"""A text message: a setting, or something to understand, carried out whether it answers or says something of its own."""

from collections.abc import Sequence
from typing import assert_never

import msgspec

from bot.cellar.log.acts import Remind, Undo
from bot.cellar.log.due_key import AskedKey
from bot.cellar.log.fold import standing
from bot.cellar.log.lengths import LABEL, NAME
from bot.house import awaiting, carry_out, first_aid, instruments
from bot.house.ask import MOST_BUTTONS, offer
from bot.house.carry_out import Author
from bot.house.home import recent_of
from bot.house.people import settings
from bot.house.replies import looks, words
from bot.house.turn import Turn
from bot.ids import EntryId, MessageId
from bot.say import answers, company, doubts
from bot.say.manner import said
from bot.store.press import AddVessel, ChooseOption, Labelled
from bot.store.refers import Refers, WantsTime
from bot.understand import Danger, dangers_beside, hardly_meant, in_view_of, not_told, reading
from bot.understand.scene import Open, ReplyTo, TimeWanted
from bot.understand.verdict import (
    AsksWhy,
    Chosen,
    Counted,
    Declined,
    Doubt,
    FiguresTold,
    KitSpokenOf,
    Looked,
    ReadOff,
    ReadWith,
    Settled,
    Timed,
    Verdict,
)


def hear(turn: Turn, *, hears_all: bool = True) -> None:
    """Takes a message to its end: something is written and answered, something is asked, or silence."""
    if settings.command(turn, hears_all=hears_all):
        return
    verdict = _understood(turn, awaiting.open_in(turn))
    found = _dangers(turn, verdict)
    turn = first_aid.with_aid(turn, found)
    _answer(turn, verdict, found)
    turn.say_aid()


def _answer(turn: Turn, verdict: Verdict, found: tuple[Danger, ...]) -> None:
    """Carries out what the message answers, or what it says of its own."""
    answer = verdict.answers
    match answer:
        case None | ReadOff():
            follow(turn, verdict, found)
        case Chosen():
            _choose(turn, answer)
        case Declined():
            turn.unit.questions.close(turn.home.id, answer.asked, turn.now)
            turn.reply(answers.LEFT_OUT)
        case AsksWhy():
            sent = turn.answers_to()
            turn.reply(said((sent.refers.why if sent is not None else None) or ""))
        case Counted():
            strikes = (answer.entry,) if answer.entry is not None else ()
            carry_out.carry_out(msgspec.structs.replace(turn, strikes=strikes), verdict.acts)
        case FiguresTold():
            carry_out.carry_out(turn, verdict.acts)
        case Looked():
            looks.carry_out(turn, answer)
        case Settled():
            if answer.beside:
                beside = Verdict(verdict="act", acts=answer.beside, why=verdict.why)
                follow(turn, beside, found)
            words.carry_out(turn, answer)
        case Timed():
            follow(msgspec.structs.replace(turn, lacked=answer.wish), verdict, found)
        case KitSpokenOf():
            carry_out.carry_out(turn, verdict.acts, kit=answer.told)
        case ReadWith():
            instruments.told(turn, answer.instrument)
        case _:
            assert_never(answer)


def amend(turn: Turn) -> None:
    """A message was edited: what it says now takes the place of what it said, in the entries and in the
    bot's answer."""
    home, incoming = turn.home, turn.incoming
    stand = {entry.entry for entry in standing(home.entries)}
    ever = [
        entry
        for entry in turn.unit.log.entries_of_message(home.id, incoming.chat_id, incoming.message_id)
        if not isinstance(entry.act, Undo)
    ]
    # What put one of them right since, in another message, is what the edit takes the place of.
    for later in home.entries:
        known = {entry.entry for entry in ever}
        if later.strikes in known and later.entry not in known and not isinstance(later.act, Undo):
            ever.append(later)
    said = [entry for entry in ever if entry.entry in stand]
    old = tuple(entry.entry for entry in said)
    without = [entry.entry for entry in ever]
    answered = turn.unit.post.answer_to(home.id, incoming.chat_id, incoming.message_id)
    verdict = _understood(turn, (*_wish_before(turn, answered), *awaiting.just_said(turn)), without)
    lacked = verdict.answers.wish if isinstance(verdict.answers, Timed) else None
    found = _dangers(turn, verdict)
    if old and verdict.verdict == "act" and tuple(entry.act for entry in said) == verdict.acts:
        if (aided := first_aid.with_aid(msgspec.structs.replace(turn, edits=answered), found)).edits is None:
            aided.say_aid()
        return
    if answered is None:  # an answer that has not left yet is to what it said before
        turn.unit.post.withdraw(home.id, incoming.chat_id, turn.now, reply_to=incoming.message_id)
    turn.unit.questions.close_asked(home.id, incoming.chat_id, incoming.message_id, turn.now)
    turn = msgspec.structs.replace(turn, strikes=old, edits=answered, lacked=lacked)
    turn = first_aid.with_aid(turn, found)
    if verdict.verdict == "ignore" and old:
        carry_out.undo(turn, old)
    elif not settings.command(turn):
        follow(turn, verdict, found)
    turn.say_aid()


def follow(turn: Turn, verdict: Verdict, found: tuple[Danger, ...]) -> None:
    """Does what the verdict says. What is not understood, or may be a question, is asked about only where no danger is
    answered."""
    verdict = in_view_of(verdict, found, turn.home.row.language)
    if turn.aid is not None and hardly_meant(verdict, found):
        return
    if _corrects_what_was_let_go(turn, verdict):
        turn.reply(company.TOO_LONG_AGO)
        return
    if verdict.verdict == "act":
        turn.unit.questions.close_all(turn.home.id, turn.incoming.chat_id, turn.member, turn.now)
        carry_out.carry_out(turn, verdict.acts, unread=verdict.unread)
    elif verdict.verdict == "ask":
        _ask(turn, verdict)


def _corrects_what_was_let_go(turn: Turn, verdict: Verdict) -> bool:
    """Whether something is to be struck out or put right in reply to a message of so long ago that nobody can tell
    what it was: then it must not be taken for what was said last."""
    home, incoming = turn.home, turn.incoming
    acts = (act for option in (verdict.acts, *verdict.options) for act in option)
    if incoming.reply_to is None or not any(isinstance(act, Undo) for act in acts):
        return False
    place = (home.id, incoming.chat_id, incoming.reply_to)
    return (
        turn.unit.post.was_let_go(*place)
        and turn.unit.post.sent_message(*place) is None
        and not turn.unit.log.entries_of_message(*place)
    )


def _understood(turn: Turn, open_: tuple[Open, ...], without: Sequence[EntryId] = ()) -> Verdict:
    """What the message means, where that is open, in a house without these entries."""
    incoming = turn.incoming
    to_bot, replying_to = _replied(turn)
    return reading(
        incoming.text or "",
        msgspec.structs.replace(turn.home.scene(without), open=open_),
        incoming.sent_at,
        by=turn.member.name,
        replying_to=replying_to,
        addressed=incoming.addressed or to_bot,
        for_wine=turn.for_wine,
        forwarded=incoming.forwarded,
    )


def _dangers(turn: Turn, verdict: Verdict) -> tuple[Danger, ...]:
    """The dangers in the message, but for those of which its own answer tells."""
    incoming, scene = turn.incoming, turn.home.scene()
    to_bot, replying_to = _replied(turn)
    spoken = incoming.addressed or to_bot or turn.for_wine
    found = dangers_beside(incoming.text or "", scene, verdict, replying_to, spoken=spoken)
    return not_told(found, verdict.acts, scene.language)


def _replied(turn: Turn) -> tuple[bool, ReplyTo | None]:
    """Whether the message replies to the bot, and what it is about."""
    incoming = turn.incoming
    if incoming.reply_to is None:
        return False, None
    sent = turn.unit.post.sent_message(turn.home.id, incoming.chat_id, incoming.reply_to)
    told = tuple(recent_of(entry) for entry in reversed(turn.replied_entries()))
    if sent is not None:
        of, step, wish = sent.refers.of, sent.refers.step, sent.refers.wish
    else:
        entries = turn.unit.log.entries_of_message(turn.home.id, incoming.chat_id, incoming.reply_to)
        of, step, wish = next((entry.act.of for entry in entries if entry.act.of), None), None, None
    what = AskedKey(entry=wish).text if wish is not None else None
    return sent is not None, ReplyTo(of=of, step=step, what=what, wishes=_wishes(turn, wish), told=told)


def _wishes(turn: Turn, wish: EntryId | None) -> tuple[EntryId, ...]:
    """The reminders asked for in the message replied to, or the one that it is the letter of (`wish`)."""
    asked = [entry for entry in standing(turn.home.entries) if isinstance(entry.act, Remind)]
    if wish is not None:
        return tuple(entry.entry for entry in asked if entry.entry == wish)
    replied = {entry.entry for entry in turn.replied_entries()}
    return tuple(sorted(entry.entry for entry in asked if entry.entry in replied))


def _wish_before(turn: Turn, answered: MessageId | None) -> tuple[Open, ...]:
    """The wish that the edited message gave its time to, or may do now."""
    home, chat_id = turn.home, turn.incoming.chat_id
    sent = turn.unit.post.sent_message(home.id, chat_id, answered) if answered is not None else None
    if sent is not None and sent.refers.lacked is not None:
        return (TimeWanted(wish=sent.refers.lacked, replied=True),)
    wish = awaiting.time_wanted(turn, turn.answers_to())
    return (wish,) if wish is not None else ()


def _choose(turn: Turn, answer: Chosen) -> None:
    question = turn.unit.questions.question(turn.home.id, answer.asked, turn.now)
    assert question is not None
    turn.unit.questions.close(turn.home.id, question.id, turn.now)
    author = next((m for m in turn.home.members if m.id == question.member_id), turn.member)
    turn = msgspec.structs.replace(turn, strikes=_replaced(turn, answer))
    acts = (*question.options[answer.option], *answer.beside)
    carry_out.carry_out(turn, acts, Author.of(question, author))


def _replaced(turn: Turn, answer: Chosen) -> tuple[EntryId, ...]:
    """What the option takes the place of: that stands in its button alone."""
    sent = turn.answers_to()
    return next(
        (
            does.strikes
            for _, does in (sent.buttons if sent is not None else ())
            if isinstance(does, ChooseOption) and (does.asked, does.option) == (answer.asked, answer.option)
        ),
        (),
    )


def _ask(turn: Turn, verdict: Verdict) -> None:
    """Asks back with a button for each candidate, or says in a line what to write instead."""
    doubt = verdict.doubt or Doubt.NOT_UNDERSTOOD
    options = [option for option in verdict.options[:MOST_BUTTONS] if option]
    subject = [verdict.doubted] if verdict.doubted is not None else []
    acts = [*subject, *(act for act in verdict.acts if act is not verdict.doubted)]
    acts.sort(key=lambda act: isinstance(act, Undo))  # the question is about what takes the place
    also = [act for act in doubts.common(options) if not isinstance(act, Undo)] if options else []
    likely = options[0][0] if doubt is Doubt.TOO_SMALL and options else None
    also = [] if likely is not None or len(also) < 2 else also
    html = carry_out.doubt_words(turn, doubt.value, acts, verdict.about, also, likely)
    html += doubts.unread(verdict.unread)
    if doubt is Doubt.UNKNOWN_VESSEL and verdict.about is not None:
        turn.reply(html, (_offer_vessel(turn, verdict.about),), must=True)
        return
    if not options or doubt in _ONE_LINE:
        turn.unit.questions.close_all(turn.home.id, turn.incoming.chat_id, turn.member, turn.now)
        lacks = WantsTime(text=turn.incoming.text or "", member=turn.member.person_id)
        turn.reply(html, refers=Refers(wants=lacks if doubt is Doubt.WHEN else None))
        return
    offer(turn, html, options, turn.incoming.sent_at)


def again(turn: Turn) -> None:
    """Takes a message anew, now that what it lacked is there."""
    verdict = _understood(turn, awaiting.just_said(turn))
    follow(turn, verdict, _dangers(turn, verdict))


def _offer_vessel(turn: Turn, vessel: str) -> Labelled:
    """A button that adds the vessel and takes the message anew, as its author's."""
    return (
        doubts.add_vessel(vessel)[:LABEL],
        AddVessel(
            name=vessel[:NAME],
            text=turn.incoming.text,
            message_id=turn.incoming.message_id,
            sent_at=turn.incoming.sent_at,
            member=turn.member.person_id,
        ),
    )


_ONE_LINE = frozenset(
    {
        Doubt.OUT_OF_RANGE,
        Doubt.UNKNOWN_BATCH,
        Doubt.UNKNOWN_MEMBER,
        Doubt.VESSEL_BUSY,
        Doubt.FUTURE,
        Doubt.NAME_REFUSED,
        Doubt.TOO_LONG,
        Doubt.NOT_UNDERSTOOD,
        Doubt.THANKED,
    }
)
