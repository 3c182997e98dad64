"""A text message: settings, "why?", an answer to an open question, or something to understand."""

from collections.abc import Sequence
from datetime import timedelta

import msgspec

from bot.cellar.log.acts import Acidity, Gravity, Ph, Question, Remind, Step, Temperature, Undo, Volume
from bot.cellar.log.due_key import AskedKey
from bot.cellar.log.fold import Entry, standing
from bot.cellar.log.lengths import LABEL, MESSAGE, NAME
from bot.cellar.log.subjects import Input, Reckon
from bot.house import carry_out, first_aid, instruments
from bot.house.ask import ASK_FOR, MOST_BUTTONS, offer
from bot.house.carry_out import Author
from bot.house.home import recent_of
from bot.house.people import settings
from bot.house.replies import looks, words
from bot.house.turn import Turn
from bot.ids import EntryId, MessageId
from bot.say import answers, company, doubts
from bot.say.manner import said
from bot.store.press import AddVessel, ChooseOption, Labelled
from bot.store.queries.questions import AskedRow
from bot.store.refers import Refers, WantsBottles, WantsFigures, WantsTemperature, WantsTime
from bot.understand import (
    Danger,
    asks_why,
    dangers_beside,
    declines,
    filled,
    hardly_meant,
    in_view_of,
    meaning,
    not_told,
    pick,
    tells_time,
)
from bot.understand.scene import ReplyTo
from bot.understand.verdict import Doubt, Verdict

_MEASURED = (Ph, Acidity, Gravity, Volume)
SPOKE_WITHIN = timedelta(minutes=10)
"""So long after the bot's own message, "it" can be what that was about."""


def hear(turn: Turn, *, hears_all: bool = True) -> None:
    """Takes a message to its end: something is written and answered, something is asked, or silence."""
    if settings.command(turn, hears_all=hears_all):
        return
    turn = first_aid.with_aid(turn, _dangers(turn, _understood(turn, turn.incoming.text or "")))
    _hear(turn)
    turn.say_aid()


def _hear(turn: Turn) -> None:
    if len(turn.incoming.text or "") > MESSAGE:
        follow(turn, _understood(turn, turn.incoming.text or ""))
        return
    if _why(turn) or _answers_question(turn) or _counts(turn):
        return
    if instruments.told(turn) or _completes_sum(turn):
        return
    replies = turn.incoming.reply_to is not None

    def otherwise(text: str) -> bool:
        beside = _understood(turn, text)
        if beside.verdict == "act":
            follow(turn, beside)
        return beside.verdict == "act"

    def answers() -> bool:
        return looks.answers_look(turn) or words.answers_letter(turn, otherwise) or _says_when(turn)

    if replies and answers():
        return
    verdict = _understood(turn, turn.incoming.text or "")
    # What is clear in itself needs no look at what the bot asked last.
    if verdict.verdict == "act" or replies or not answers():
        follow(turn, verdict)


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
    lacked = _lacked_before(turn, answered)
    timed = _with_time(turn, lacked, without) if lacked is not None else None
    verdict = timed or _understood(turn, incoming.text or "", without)
    found = _dangers(turn, verdict)
    if old and verdict.verdict == "act" and tuple(entry.act for entry in said) == verdict.acts:
        if (aided := first_aid.with_aid(msgspec.structs.replace(turn, edits=answered), found)).edits is None:
            aided.say_aid()
        return
    if answered is None:  # an answer that has not left yet is to what it said before
        turn.unit.post.withdraw(home.id, incoming.chat_id, turn.now, reply_to=incoming.message_id)
    turn.unit.questions.close_asked(home.id, incoming.chat_id, incoming.message_id, turn.now)
    turn = msgspec.structs.replace(turn, strikes=old, edits=answered, lacked=lacked if timed else None)
    turn = first_aid.with_aid(turn, found)
    if verdict.verdict == "ignore" and old:
        carry_out.undo(turn, old)
    elif not settings.command(turn):
        follow(turn, verdict)
    turn.say_aid()


def follow(turn: Turn, verdict: Verdict) -> None:
    """Does what the verdict says. What is not understood, or may be a question, is asked about only where no danger is
    answered."""
    verdict = in_view_of(verdict, _dangers(turn, verdict), turn.home.row.language)
    if turn.aid is not None and hardly_meant(verdict):
        return
    if _corrects_what_was_let_go(turn, verdict):
        turn.reply(company.TOO_LONG_AGO)
        return
    if verdict.verdict == "act":
        turn.unit.questions.close_all(turn.home.id, turn.incoming.chat_id, turn.member, turn.now)
        carry_out.carry_out(turn, verdict.acts)
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


def _understood(turn: Turn, text: str, without: Sequence[EntryId] = ()) -> Verdict:
    incoming = turn.incoming
    known = (text, tuple(without), len(turn.home.entries))
    if (before := turn.home.understood.get(known)) is not None:
        return before
    to_bot, replying_to = _replied(turn)
    verdict = meaning(
        text,
        turn.home.scene(without),
        incoming.sent_at,
        by=turn.member.name,
        replying_to=replying_to,
        addressed=incoming.addressed or to_bot,
        for_wine=turn.for_wine,
        forwarded=incoming.forwarded,
        spoke=lambda: _spoke(turn),
    )
    turn.home.understood[known] = verdict = _with_temperature(turn, verdict)
    return verdict


def _spoke(turn: Turn) -> ReplyTo | None:
    """What the bot's latest message in this chat was about, while that is fresh."""
    sent = turn.unit.post.latest(turn.home.id, turn.incoming.chat_id)
    if sent is None or turn.now > sent.created_at + SPOKE_WITHIN:
        return None
    return ReplyTo(of=sent.refers.of, asked=sent.refers.asked)


def _dangers(turn: Turn, verdict: Verdict) -> tuple[Danger, ...]:
    """The dangers in the message, but for those of which its own answer tells."""
    incoming, scene = turn.incoming, turn.home.scene()
    to_bot, replying_to = _replied(turn)
    spoken = incoming.addressed or to_bot or turn.for_wine
    known = (incoming.text or "", verdict.verdict, verdict.doubt, spoken)
    found = turn.home.heard.get(known)
    if found is None:
        found = dangers_beside(incoming.text or "", scene, verdict, replying_to, spoken=spoken)
        turn.home.heard[known] = found
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


def _with_temperature(turn: Turn, verdict: Verdict) -> Verdict:
    """A bare temperature in reply to a gravity is the temperature of that sample."""
    facts = [act for act in verdict.acts if not isinstance(act, Undo)]
    if len(facts) != 1 or not isinstance(facts[0], Temperature) or verdict.verdict != "act":
        return verdict
    read = [entry for entry in turn.replied_entries() if isinstance(entry.act, Gravity)]
    if len(read) != 1 or read[0].act.of != facts[0].of:
        return verdict
    whole = msgspec.structs.replace(read[0].act, temp_c=facts[0].temp_c, at=read[0].at)
    return Verdict(verdict="act", acts=(Undo(entry=read[0].entry), whole), why=verdict.why)


def _why(turn: Turn) -> bool:
    """Answers "why?" with the working of the answer replied to, else of the bot's latest."""
    incoming = turn.incoming
    if not asks_why(incoming.text or "", turn.home.row.language):
        return False
    sent = turn.answers_to()
    working = sent.refers.why if sent is not None else None
    if working is None:
        return False
    turn.reply(said(working))
    return True


def _answers_question(turn: Turn) -> bool:
    """Whether the text answers the question that is open in this chat; then it is carried out. What says
    something of its own is no answer, and anybody but the one asked can only say yes or no."""
    question = _open_question(turn)
    if question is None or turn.incoming.forwarded:
        return False
    text, scene = turn.incoming.text or "", turn.home.scene()
    others = question.member_id != turn.member.id
    chosen = instruments.chosen(turn, question)
    if chosen is None:
        chosen = pick(text, question.options, scene, _understood(turn, text), others=others)
    if chosen is not None:
        _carry(turn, question, chosen)
        return True
    if not declines(text, scene):
        return False
    turn.unit.questions.close(turn.home.id, question.id, turn.now)
    turn.reply(answers.LEFT_OUT)
    return True


def _open_question(turn: Turn) -> AskedRow | None:
    """The question that the message may answer: the one it replies to, else the latest one open."""
    questions, incoming = turn.unit.questions, turn.incoming
    if incoming.reply_to is None:
        return questions.open(turn.home.id, incoming.chat_id, turn.now)
    sent = turn.unit.post.sent_message(turn.home.id, incoming.chat_id, incoming.reply_to)
    if sent is None:
        latest = questions.open(turn.home.id, incoming.chat_id, turn.now)
        return latest if latest is not None and latest.message_id == incoming.reply_to else None
    asked = next((does.asked for _, does in sent.buttons if isinstance(does, ChooseOption)), None)
    return questions.question(turn.home.id, asked, turn.now) if asked is not None else None


def _counts(turn: Turn) -> bool:
    """Whether the text is the bare number of bottles, or of degrees, that was asked for: in reply, or as the next
    thing said."""
    incoming = turn.incoming
    text = (incoming.text or "").strip()
    if not (text.isascii() and text.isdecimal() and 1 <= len(text) <= 4) or incoming.forwarded:
        return False
    sent = turn.answers_to()
    wants = sent.refers.wants if sent is not None else None
    if sent is not None and isinstance(wants, WantsTemperature):
        degrees = f"{text}{turn.home.row.temperature_unit} {sent.refers.of or ''}"
        follow(turn, _understood(turn, degrees.strip()))
        return True
    if sent is None or not isinstance(wants, WantsBottles):
        return False
    ids = set(sent.refers.entries)
    old = next((e for e in standing(turn.home.entries) if e.entry in ids and _uncounted(e)), None)
    if old is None:
        return False
    count = msgspec.structs.replace(old.act, bottles=int(text), at=old.at)
    carry_out.carry_out(msgspec.structs.replace(turn, strikes=(old.entry,)), [count])
    return True


def _completes_sum(turn: Turn) -> bool:
    """Whether the text is what the sum asked of the writer still needs: in reply, or as the next thing said within the
    hour."""
    incoming, sent = turn.incoming, turn.answers_to()
    lacks = sent.refers.wants if sent is not None else None
    if sent is None or not isinstance(lacks, WantsFigures) or incoming.forwarded:
        return False
    late = incoming.reply_to is None and turn.now > sent.created_at + ASK_FOR
    if late or lacks.member != turn.member.person_id:
        return False
    alone = _understood(turn, incoming.text or "")
    if any(isinstance(act, Question) for act in alone.acts):
        return False
    told = filled(lacks.reckon, lacks.keys, incoming.text or "", turn.home.scene())
    given = {**lacks.given, **told}
    inputs = tuple(Input(key=key, value=value) for key, value in given.items())
    sum_again = Question(subject=Reckon(sum=lacks.reckon, inputs=inputs), of=lacks.of)
    # "The plum's pH is 3.4" is a fact of the batch, which the sum then finds there.
    facts = alone.acts if alone.verdict == "act" and not told and lacks.of is not None else ()
    measured = bool(facts) and all(isinstance(a, _MEASURED) and a.of == lacks.of for a in facts)
    if not told and not measured:
        return False
    carry_out.carry_out(turn, [*facts, sum_again])
    return True


def _says_when(turn: Turn) -> bool:
    """Whether the text is the time that a reminder lacked; then that is carried out."""
    lacked = _lacks_time(turn)
    verdict = _with_time(turn, lacked) if lacked is not None else None
    if verdict is None:
        return False
    follow(msgspec.structs.replace(turn, lacked=lacked), verdict)
    return True


def _lacks_time(turn: Turn) -> str | None:
    """The wish for a reminder that was asked "When?" of the writer: in reply, or as the next thing said within
    the hour."""
    incoming, sent = turn.incoming, turn.answers_to()
    if incoming.reply_to is None and sent is not None and turn.now > sent.created_at + ASK_FOR:
        return None
    wants = sent.refers.wants if sent is not None else None
    return wants.text if isinstance(wants, WantsTime) and wants.member == turn.member.person_id else None


def _with_time(turn: Turn, lacked: str, without: Sequence[EntryId] = ()) -> Verdict | None:
    """The wish with the time that the message says; None when it says none, or more than that."""
    incoming, text = turn.incoming, turn.incoming.text or ""
    if incoming.forwarded or not tells_time(text, turn.home.row.language):
        return None
    verdict = _understood(turn, f"{text}, {lacked}", without)
    return verdict if verdict.verdict == "act" else None


def _lacked_before(turn: Turn, answered: MessageId | None) -> str | None:
    """The wish that the edited message gave its time to, or may do now."""
    home, chat_id = turn.home, turn.incoming.chat_id
    sent = turn.unit.post.sent_message(home.id, chat_id, answered) if answered is not None else None
    lacked = sent.refers.lacked if sent is not None else None
    return lacked if lacked is not None else _lacks_time(turn)


def _uncounted(entry: Entry) -> bool:
    act = entry.act
    return isinstance(act, Step) and act.step == "bottle" and act.bottles is None


def _carry(turn: Turn, question: AskedRow, chosen: int) -> None:
    turn.unit.questions.close(turn.home.id, question.id, turn.now)
    author = next((m for m in turn.home.members if m.id == question.member_id), turn.member)
    carry_out.carry_out(turn, question.options[chosen], Author.of(question, author))


def _ask(turn: Turn, verdict: Verdict) -> None:
    """Asks back with a button for each candidate, or says in a line what to write instead."""
    doubt = verdict.doubt or Doubt.NOT_UNDERSTOOD
    options = [option for option in verdict.options[:MOST_BUTTONS] if option]
    subject = [verdict.doubted] if verdict.doubted is not None else []
    acts = [*subject, *(act for act in verdict.acts if act is not verdict.doubted)]
    also = doubts.common(options) if options else ()
    likely = options[0][0] if doubt is Doubt.TOO_SMALL and options else None
    also = () if likely is not None else also
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


def again(turn: Turn, text: str) -> None:
    """Takes a message anew, now that what it lacked is there."""
    follow(turn, _understood(turn, text))


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
    }
)
