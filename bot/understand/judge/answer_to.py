"""Whether a message answers what is open in its chat, and what that comes to.

It is asked in one order (`_ORDER`). What wants a word of its own ("why?", one option of a question, a bare number) is
asked before what the message says of itself; a letter, a look and a time only where that says nothing, or in reply.
"""

from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta
from typing import assert_never

import msgspec

from bot.cellar.log.acts import (
    Acidity,
    Act,
    Addition,
    Begin,
    Bottles,
    Done,
    Gravity,
    Look,
    Note,
    Ph,
    PutOff,
    Question,
    Remind,
    Step,
    TakeOn,
    Temperature,
    Undo,
    Volume,
)
from bot.cellar.log.subjects import Input, Reckon
from bot.science import practice
from bot.understand.claims.bottling import count_told
from bot.understand.claims.drafts import Draft
from bot.understand.claims.questions import asks_why
from bot.understand.claims.readings import celsius, gravity
from bot.understand.claims.reminders import Reply, letter_reply, mixed_reply, plain_reply
from bot.understand.claims.sums import filled
from bot.understand.forms.readings import clearness, instrument_meant
from bot.understand.judge import weigh
from bot.understand.judge.answers import MADE_OF_LITTLE, declines, denial, pick
from bot.understand.judge.offers import WHY
from bot.understand.judge.postponed import postponed, said_done, waited_for
from bot.understand.judge.reminders import reminder_words, with_time
from bot.understand.judge.settle import Settler
from bot.understand.scene import (
    FiguresWanted,
    JustSaid,
    KitWanted,
    LetterSaid,
    LookAsked,
    NumberWanted,
    Open,
    OptionsAsked,
    ReplyTo,
    Scene,
    Thing,
    TimeWanted,
    WorkingShown,
)
from bot.understand.text import moods
from bot.understand.text.clauses import DEGREES, Clause, reads_gravity
from bot.understand.text.message import Message
from bot.understand.text.spans import Quantity, Span
from bot.understand.text.split import split
from bot.understand.verdict import (
    AsksWhy,
    Chosen,
    Counted,
    Declined,
    Doubt,
    FiguresTold,
    Looked,
    ReadOff,
    ReadWith,
    Settled,
    Settles,
    Timed,
    Verdict,
)

ASKED_FOR = timedelta(hours=1)
"""For so long the next thing said may be what was asked for."""
LETTER_FOR = timedelta(hours=2)
"""For so long the next thing said may answer a letter: later it may be about anything."""
ASKED_LATELY = timedelta(days=3)
"""For so long what names a chore may put off what a letter asks for."""
AT_ONCE = timedelta(minutes=15)
"""For so long what fits several batches is of the one that a letter asks about."""
LOOK_FOR = timedelta(hours=12)
"""For so long words that name no wine may say what somebody found who looked."""

_ORDER = (WorkingShown, OptionsAsked, NumberWanted, FiguresWanted, LookAsked, LetterSaid, TimeWanted)
_BEFORE_ITS_OWN = (WorkingShown, OptionsAsked, NumberWanted, FiguresWanted)
_MEASURED = (Ph, Acidity, Gravity, Volume)
_TOLD = (Gravity, Temperature, Step, Addition, Bottles)
"""What may be told of one batch right after another was named."""
_MOST_BOTTLES = 10_000
NAMED_WITHIN = timedelta(minutes=15)
"""For so long a name in other words than the option's is an answer."""
_MOST_NAMING = 8
"""Words of it."""
_MOST_AROUND = 4
"""Words around a number: with more of them it says something of its own."""


class Answering(msgspec.Struct, frozen=True, kw_only=True):
    """A message that may answer: its words, what it says of its own, and who says it; `read` tells what other words of
    the same person mean in themselves."""

    text: str
    scene: Scene
    sent_at: datetime
    own: Verdict
    by: str | None
    replying_to: ReplyTo | None
    addressed: bool
    for_wine: bool = False
    read: Callable[[str, ReplyTo | None], Verdict]


def answered(message: Answering) -> Verdict | None:
    """What the message answers of what is open, as a verdict; None where it answers nothing of that."""
    opens = [one for kind in _ORDER for one in message.scene.open if isinstance(one, kind)]
    before = [one for one in opens if isinstance(one, _BEFORE_ITS_OWN)]
    after = [
        one
        for one in opens
        if one not in before
        and (
            _replies(message, one)
            or message.own.verdict != "act"
            or _wishes_nothing(message)
            or (isinstance(one, LookAsked) and all(isinstance(act, Note) for act in message.own.acts))
        )
    ]
    found = _first(message, before) or _read_with(message) or _first(message, after)
    return found or _said_done(message, opens) or _unasked(message, opens)


def _replies(message: Answering, open_: Open) -> bool:
    return open_.replied or message.replying_to is not None


def _wishes_nothing(message: Answering) -> bool:
    """Whether by itself it only asks to be reminded, of nothing that it says."""
    own, nothing = message.own, reminder_words(message.scene.language).nothing
    wishes = [act for act in own.acts if isinstance(act, Remind) and act.step is None]
    return (
        own.verdict == "act"
        and bool(wishes)
        and len(wishes) == len(own.acts)
        and all(wish.about in (None, nothing) for wish in wishes)
    )


def _first(message: Answering, opens: Iterable[Open]) -> Verdict | None:
    return next((found for one in opens if (found := _answer(message, one)) is not None), None)


def _answer(message: Answering, open_: Open) -> Verdict | None:
    match open_:
        case WorkingShown():
            return _why(message)
        case OptionsAsked():
            return _to_options(message, open_)
        case NumberWanted():
            return _counted(message, open_)
        case FiguresWanted():
            return _completed(message, open_)
        case LookAsked():
            return _looked(message, open_)
        case LetterSaid():
            return _to_letter(message, open_)
        case TimeWanted():
            return _timed(message, open_)
        case JustSaid() | KitWanted():
            return None
        case _:
            assert_never(open_)


def _why(message: Answering) -> Verdict | None:
    if not asks_why(message.text, message.scene.language):
        return None
    return Verdict(verdict="act", why="asks for the working", answers=AsksWhy())


# ---------------------------------------------------------------------- a question with options


def _to_options(message: Answering, asked: OptionsAsked) -> Verdict | None:
    """The option meant. What says something of its own is none, and anybody but the one asked can only say yes or
    no."""
    chosen = _by_instrument(message, asked)
    if chosen is None:
        chosen = pick(message.text, asked.options, message.scene, message.own, others=asked.others)
    beside: tuple[Act, ...] = ()
    if chosen is None and not asked.others:
        chosen, beside = _picked_first(message, asked)
    if chosen is None:
        chosen = _named(message, asked)
    if chosen is None:
        chosen, beside = _goes_on(message, asked)
    if chosen is not None:
        return Verdict(
            verdict="act",
            acts=(*asked.options[chosen], *beside),
            why="answers what was asked",
            answers=Chosen(asked=asked.asked, option=chosen, beside=beside),
        )
    if declines(message.text, message.scene):
        return Verdict(verdict="act", why="none of what was asked", answers=Declined(asked=asked.asked))
    return _elsewhere(message, asked) or _instead(message, asked)


def _goes_on(message: Answering, asked: OptionsAsked) -> tuple[int | None, tuple[Act, ...]]:
    """The beginning of the first batch that was asked about, where somebody goes on with what was done to it: that is a
    yes. With what is told, as of that batch."""
    begins = [act for act in asked.options[0] if isinstance(act, Begin)] if len(asked.options) == 1 else []
    own = message.own
    if len(begins) != 1 or message.scene.batches or not own.acts or own.verdict == "ignore":
        return None, ()
    if own.doubt not in (None, Doubt.UNSURE, Doubt.WHICH_BATCH, Doubt.HALF_UNDERSTOOD):
        return None, ()
    if not all(isinstance(act, _DONE_TO_IT) and act.of is None for act in own.acts):
        return None, ()
    name = begins[0].name or begins[0].colour or begins[0].of
    return 0, tuple(msgspec.structs.replace(act, of=name) for act in own.acts)


_DONE_TO_IT = (Gravity, Temperature, Addition, Step)


def _named(message: Answering, asked: OptionsAsked) -> int | None:
    """The option of the one batch that the message names before anything else: "the white he means, the red stays". It
    says nothing of its own, and is said at once."""
    of = [{act.of for act in option} for option in asked.options]
    if len(asked.options) < 2 or any(len(names) != 1 for names in of) or asked.ago > NAMED_WITHIN:
        return None
    tells = any(not isinstance(act, Question) for act in message.own.acts) or "?" in message.text
    if (message.own.verdict == "act" and tells) or (asked.others and not message.for_wine):
        return None
    said = _message_of(message)
    first = next(iter(split(said.spans)), None)
    if first is None or len(first.spans) > _MOST_NAMING or first.quantities or moods.asks(first):
        return None
    if moods.denied(first) or first.any("step") or first.any("chatter"):
        return None
    names = {target.of for ref in first.refs for target in said.targets.of(ref)}
    meant = [place for place, batch in enumerate(of) if batch <= names]
    return meant[0] if len(meant) == 1 and len(names - {None}) == 1 else None


def _elsewhere(message: Answering, asked: OptionsAsked) -> Verdict | None:
    """The same wine, moved to another vessel than was asked about: "sorry, I mean bucket 3"."""
    moved = {
        (act.of, act.step) for option in asked.options for act in option if isinstance(act, Step) and act.to
    }
    if asked.others or len(moved) != 1 or asked.ago > NAMED_WITHIN or message.own.verdict == "act":
        return None
    said = _message_of(message)
    spans = [span for span in said.spans if span.kind not in ("mark", "line")]
    others = [span for span in spans if span.ref is None and span.qty is None]
    vessels = {span.ref.name for span in spans if span.ref is not None and span.ref.kind == "vessel"}
    numbers = {span.qty.value for span in spans if span.qty is not None and span.qty.unit is None}
    if not vessels and len(numbers) == 1:
        (number,) = numbers
        known = [one.name for one in message.scene.vessels if one.name.endswith(f" {number:g}")]
        near = {
            _kind(act.to) for option in asked.options for act in option if isinstance(act, Step) and act.to
        }
        vessels = {name for name in known if _kind(name) in near}
    if len(vessels) != 1 or len(others) > _MOST_AROUND or moods.asks(Clause(list(said.spans))):
        return None
    if any(span.has("step") or span.has("chatter") or span.has("measure") for span in others):
        return None
    ((of, step),) = moved
    verdict = _of_thing(message, Step(step=step, of=of, to=vessels.pop()), of)
    return verdict if verdict.verdict == "act" else None


def _kind(vessel: str | None) -> str:
    return (vessel or "").rpartition(" ")[0]


def _picked_first(message: Answering, asked: OptionsAsked) -> tuple[int | None, tuple[Act, ...]]:
    """ "That's plum. Damson is 1.036": the option that the first sentence names, and what the rest tells of another
    batch."""
    first, mark, rest = message.text.partition(". ")
    if not mark or not any(span.ref is not None for span in _spans_of(first, message)):
        return None, ()
    chosen = pick(first, asked.options, message.scene, message.read(first, message.replying_to))
    told = message.read(rest, message.replying_to) if chosen is not None else None
    if chosen is None or told is None or told.verdict != "act" or told.answers is not None:
        return None, ()
    named = {act.of for act in asked.options[chosen]}
    others = all(isinstance(act, _TOLD) and act.of not in named for act in told.acts)
    return (chosen, told.acts) if others and told.acts else (None, ())


def _instead(message: Answering, asked: OptionsAsked) -> Verdict | None:
    """What is so instead of what was asked: "no, it's in bucket 2". What cannot be read is denied at least, where it
    names something of the house or is said to the bot."""
    rest = denial(message.text, message.scene) if not asked.others else None
    if rest is None or message.own.verdict == "act":
        return None
    names = {act.of for option in asked.options for act in option}
    about = ReplyTo(of=next(iter(names))) if len(names) == 1 else message.replying_to
    told = message.read(rest, about)
    if told.verdict != "ignore" and told.doubt not in MADE_OF_LITTLE:
        return told
    if message.own.verdict == "ask" and message.own.doubt not in (*MADE_OF_LITTLE, Doubt.NOTHING_TO_CORRECT):
        return None
    spoken_to = message.for_wine or message.own.verdict == "ask"  # among people a "no" is mostly theirs
    if not spoken_to and not any(span.ref is not None for span in _spans_of(rest, message)):
        return None
    return Verdict(verdict="act", why="none of what was asked", answers=Declined(asked=asked.asked))


def _spans_of(text: str, message: Answering) -> Sequence[Span]:
    return _message_of(message, text).spans


def _message_of(message: Answering, text: str | None = None) -> Message:
    return Message(
        message.text if text is None else text,
        message.scene,
        message.sent_at,
        by=message.by,
        replying_to=message.replying_to,
        addressed=message.addressed,
    )


def _by_instrument(message: Answering, asked: OptionsAsked) -> int | None:
    """The option that names the instrument in the message, where the question was for that."""
    told = [
        next((act.instrument for act in option if isinstance(act, Gravity) and act.brix is not None), None)
        for option in asked.options
    ]
    if len(told) < 2 or None in told:
        return None
    meant = instrument_meant(message.text, message.scene.language)
    return told.index(meant) if meant in told else None


def _read_with(message: Answering) -> Verdict | None:
    """ "Our brix come from a refractometer": it answers in advance what would be asked one day."""
    meant = instrument_meant(message.text, message.scene.language, stated=True)
    if meant is None:
        return None
    return Verdict(verdict="act", why="what Brix are read with", answers=ReadWith(instrument=meant))


# ---------------------------------------------------------------------- a number, figures, a time


def _counted(message: Answering, wanted: NumberWanted) -> Verdict | None:
    """The number that was asked for, alone or nearly."""
    units = (None, "bottle") if wanted.what == "bottles" else (None, *DEGREES)
    number = _only_number(message, wanted.of, units)
    if number is None:
        many = count_told(_message_of(message), wanted.of) if wanted.what == "bottles" else None
        return _of_bottling(wanted, many) if many is not None else None
    if wanted.what == "temperature":  # in the house's own unit where none is said
        return _read_off(message, number, wanted.of)
    if not number.value.is_integer() or number.decimals or not 1 <= number.value < _MOST_BOTTLES:
        return None
    return _of_bottling(wanted, int(number.value))


def _of_bottling(wanted: NumberWanted, many: int) -> Verdict:
    bottling = wanted.told or Step(step="bottle", of=wanted.of)
    return Verdict(
        verdict="act",
        acts=(msgspec.structs.replace(bottling, bottles=many),),
        why="the count of the bottling",
        answers=Counted(entry=wanted.entry),
    )


def _only_number(
    message: Answering, of: str | None, units: Sequence[str | None], *, every: bool = False
) -> Quantity | None:
    """The one number of a message that says nothing beside it but small words and what it is of, or that it is of
    `every` one."""
    spans = [span for span in _spans_of(message.text, message) if span.kind not in ("mark", "line")]
    numbers = [span.qty for span in spans if span.qty is not None]
    rest = [span for span in spans if span.qty is None]
    if len(numbers) != 1 or numbers[0].unit not in units or message.text.rstrip().endswith("?"):
        return None
    if numbers[0].text.startswith("0") or numbers[0].signed or len(rest) > _MOST_AROUND:
        return None
    return numbers[0] if all(_beside_a_number(span, of, every=every) for span in rest) else None


def _beside_a_number(span: Span, of: str | None, *, every: bool) -> bool:
    if span.ref is not None:
        return span.ref.name == of or (every and span.ref.kind == "every")
    small = span.is_("filler", "link") or span.has("batchword") or span.has("measure") or span.has("bottles")
    if span.is_("filler", "social") and not small:
        small = span.has("answer")
    other = ("mood", "hedge", "chatter", "place", "correct", "vague")
    return small and not any(span.has(kind) and not span.is_("mood", "subject") for kind in other)


def _read_off(message: Answering, degrees: Quantity, of: str | None) -> Verdict:
    act = Temperature(temp_c=celsius(degrees.value, degrees.unit, message.scene))
    return msgspec.structs.replace(_of_thing(message, act, of), answers=ReadOff())


def _of_thing(message: Answering, act: Act, of: str | None) -> Verdict:
    """A value of that batch, held against it as any is."""
    told = Message(
        message.text,
        message.scene,
        message.sent_at,
        by=message.by,
        replying_to=ReplyTo(of=of),
        addressed=True,
    )
    return Settler(told).verdict([Draft(act, weigh.SURE)], half=False)


def _completed(message: Answering, wanted: FiguresWanted) -> Verdict | None:
    """What the sum still needs, with the sum asked once more."""
    own = message.own
    if wanted.others or (not wanted.replied and wanted.ago > ASKED_FOR):
        return None
    if any(isinstance(act, Question) for act in own.acts):
        return None
    told = filled(wanted.reckon, wanted.keys, message.text, message.scene)
    inputs = tuple(Input(key=key, value=value) for key, value in {**wanted.given, **told}.items())
    asked = Reckon(sum=wanted.reckon, inputs=inputs, vessel=wanted.vessel)
    sum_again = Question(subject=asked, of=wanted.of)
    # "The plum's pH is 3.4" is a fact of the batch, which the sum then finds there.
    facts = own.acts if own.verdict == "act" and not told and wanted.of is not None else ()
    measured = bool(facts) and all(isinstance(act, _MEASURED) and act.of == wanted.of for act in facts)
    if not told and not measured:
        return None
    return Verdict(verdict="act", acts=(*facts, sum_again), why="completes a sum", answers=FiguresTold())


def _timed(message: Answering, wanted: TimeWanted) -> Verdict | None:
    """The wish with the time that the message says and nothing else."""
    if wanted.others or (not wanted.replied and wanted.ago > ASKED_FOR):
        return None
    verdict = with_time(
        wanted.wish,
        message.text,
        message.scene,
        message.sent_at,
        message.replying_to,
        lambda said: message.read(said, message.replying_to),
        by=message.by,
        addressed=message.addressed,
    )
    return msgspec.structs.replace(verdict, answers=Timed(wish=wanted.wish)) if verdict is not None else None


# ---------------------------------------------------------------------- a look


def _looked(message: Answering, asked: LookAsked) -> Verdict | None:
    """What somebody found who looked. It has to be asked for: a wine of the letter replied to, of the bot's latest one,
    or named."""
    said = clearness(message.text, message.scene, message.sent_at)
    if said is None:
        return None
    replies = _replies(message, asked)
    if said.of is not None:
        of = [said.of]
    elif said.bare and not replies:
        return None  # a plain "no" between two people is no answer
    elif asked.about is not None and not said.bare:
        of = [asked.about]
    elif asked.about is not None or (said.bare and not asked.alone) or (not replies and asked.ago > LOOK_FOR):
        return None
    else:
        of = list(asked.letter)
    meant = tuple(name for name in asked.of if name in of)
    if not meant:
        return None
    acts = tuple(Look(of=name, what="clear", found=said.found) for name in meant)
    return Verdict(
        verdict="act" if len(meant) == 1 else "ask",
        acts=acts,
        why="what was found in the wine",
        doubt=None if len(meant) == 1 else Doubt.WHICH_BATCH,
        answers=Looked(of=meant, found=said.found),
    )


# ---------------------------------------------------------------------- a letter


def _to_letter(message: Answering, letter: LetterSaid) -> Verdict | None:
    """What is said of the letter's things, or which of them is meant. What one letter says of one chore is left to the
    grammar of replies."""
    if letter.earlier:
        return _postponed(message, letter)
    told = _in_reply_to(message, letter) if letter.replied else _to_latest(message, letter)
    return told or _as_waited_for(message, letter) or _postponed(message, letter)


def _postponed(message: Answering, letter: LetterSaid) -> Verdict | None:
    """What is put off or taken on in any words. What says something else of its own is none, nor what came so long after
    the letter that it may be about anything."""
    if letter.action is not None or not (_little(message) or _wishes_nothing(message)):
        return None
    if not letter.replied and letter.ago > (LETTER_FOR if message.for_wine else ASKED_LATELY):
        return None
    replied = letter.replied and not letter.earlier
    said = postponed(
        _message_of(message),
        ago=letter.ago,
        replied=replied,
        for_wine=message.for_wine or letter.replied,
    )
    if said is None or (not letter.replied and all(thing.settled for thing in letter.things)):
        return None
    return _sorted_out(_by_whom([said], letter), letter.things, letter, silent=not letter.replied)


def _as_waited_for(message: Answering, letter: LetterSaid) -> Verdict | None:
    """What is not sure by itself, and is just what a fresh letter asks for: "both at 21"; a bare value of the one thing
    that wants such a value."""
    own = message.own
    if own.verdict == "act" or (letter.ago > LETTER_FOR and not letter.replied):
        return None
    things = [thing for thing in letter.things if not thing.settled]
    if own.doubt is Doubt.WHICH_BATCH and letter.ago > AT_ONCE and not letter.replied:
        return None  # it may have been read from any of them
    if own.verdict == "ask" and own.doubt in (Doubt.UNSURE, Doubt.WHICH_BATCH):
        meant = [
            option for option in own.options if option and all(_waits_for(act, things) for act in option)
        ]
        if len(meant) == 1:
            return Verdict(verdict="act", acts=meant[0], why="what the letter asked for")
        return None
    if own.verdict == "ask" and own.doubt not in MADE_OF_LITTLE:
        return None
    several = any(
        span.ref is not None and span.ref.kind == "every" for span in _spans_of(message.text, message)
    )
    number = _only_number(message, None, (None, *DEGREES), every=several)
    if number is None:
        return None
    sg = gravity(number) if reads_gravity(number) else None
    waits = [thing for thing in things if thing.measure == ("gravity" if sg is not None else "temperature")]
    if not waits or several != (len(waits) > 1):
        return None
    if sg is not None:
        return _of_things(message, Gravity(sg=sg), waits)
    temp_c = celsius(number.value, number.unit, message.scene)
    if number.unit is None and not practice.BARE_C.value[0] <= temp_c <= practice.BARE_C.value[1]:
        return None
    return _of_things(message, Temperature(temp_c=temp_c), waits)


def _of_things(message: Answering, act: Act, things: Sequence[Thing]) -> Verdict | None:
    """The same value of each of them, where each can be true."""
    told = [_of_thing(message, act, thing.of) for thing in things]
    if len(told) == 1:
        return told[0]
    if any(verdict.verdict != "act" for verdict in told):
        return None
    return Verdict(
        verdict="act",
        acts=tuple(act for verdict in told for act in verdict.acts),
        why="what the letter asked for",
    )


def _waits_for(act: Act, things: Sequence[Thing]) -> bool:
    """Whether a thing of the letter asks for that."""
    measure = {Gravity: "gravity", Temperature: "temperature"}.get(type(act))
    step = act.step if isinstance(act, Step) else None
    return any(
        act.of in thing.names
        and ((measure is not None and thing.measure == measure) or (step is not None and thing.step == step))
        for thing in things
    )


def _in_reply_to(message: Answering, letter: LetterSaid) -> Verdict | None:
    text, scene, sent_at = message.text, message.scene, message.sent_at
    facts: tuple[str, ...] = ()
    said = letter_reply(text, scene, sent_at, letter.action)
    if not said:
        said, facts = mixed_reply(text, scene, sent_at)
    told = letter.things
    things = [thing for thing in told if not thing.settled]
    alone = len(told) == 1 and letter.action is None and bool(things) and things[0].step is not None
    if not said or not told or (alone and not any(reply.of_its_own for reply in said)):
        return None
    said = _by_whom(said, letter)
    if facts and _means_something(said, told):
        beside = [message.read(run, message.replying_to) for run in facts]
        if any(verdict.verdict != "act" for verdict in beside):
            return None
        return _sorted_out(
            said, told, letter, beside=tuple(act for verdict in beside for act in verdict.acts)
        )
    if facts:
        return None
    if not things and not any(reply.named for reply in said):
        return _settled((), letter, told, over=True)
    return _sorted_out(said, told, letter)


def _to_latest(message: Answering, letter: LetterSaid) -> Verdict | None:
    """The same without a reply: only what can hardly be anything but an answer, while the letter, or the question about
    it, is fresh. It is silent where nothing of that is open."""
    if letter.ago > (ASKED_FOR if letter.action is not None else LETTER_FOR):
        return None
    read = letter_reply if message.addressed else plain_reply
    said = read(message.text, message.scene, message.sent_at, letter.action)
    named = all(reply.named or reply.every for reply in said)
    if not said or (letter.action is not None and not named):
        return None
    told = letter.things
    if named and not any(reply.every for reply in said):
        told = letter.among or told
    if all(thing.settled for thing in told):
        return None
    return _sorted_out(_by_whom(said, letter), told, letter, silent=True)


def _said_done(message: Answering, opens: Sequence[Open]) -> Verdict | None:
    """ "Done. It's in bucket 2": what was only likely is so where the message says so besides, and the plan waits for it."""
    own = message.own
    if own.verdict != "ask" or own.doubt is not Doubt.UNSURE or len(own.options) != 1 or own.unread:
        return None
    spoken_to = message.for_wine or message.addressed or any(isinstance(one, LetterSaid) for one in opens)
    clauses = split(_message_of(message).spans)
    told = any(span.has("substance") or span.ref is not None for one in clauses[1:] for span in one.spans)
    if not spoken_to or not told or not clauses[0].means("mood", "done") or not said_done(clauses[0]):
        return None
    next_ = {batch.name: batch.next for batch in message.scene.under_way}
    (acts,) = own.options
    fits = any(
        {getattr(act, "step", None), "fine" if isinstance(act, Addition) else None}
        & {*next_.get(act.of or "", ())}
        for act in acts
    )
    return Verdict(verdict="act", acts=acts, why="it is done") if fits else None


def _unasked(message: Answering, opens: Sequence[Open]) -> Verdict | None:
    """What is put off or taken on though no letter has asked for it: the one thing that the plans wait for."""
    asked = any(isinstance(one, LetterSaid) and (one.replied or one.ago <= ASKED_LATELY) for one in opens)
    if asked or not _little(message):
        return None
    said = _message_of(message)
    reply = postponed(said, ago=None, replied=False, for_wine=message.for_wine)
    thing = waited_for(said, reply) if reply is not None and reply.whom is None else None
    if reply is None or thing is None:
        return None
    of, step, what = thing
    act: Act = (
        TakeOn(of=of, step=step, what=what, until=reply.until)
        if reply.action == "mine"
        else PutOff(of=of, step=step, what=what, until=reply.until)
    )
    return Verdict(verdict="act", acts=(act,), why="of what the plan waits for")


def _little(message: Answering) -> bool:
    own = message.own
    return own.verdict == "ignore" or (own.verdict == "ask" and own.doubt in MADE_OF_LITTLE)


def _by_whom(said: Sequence[Reply], letter: LetterSaid) -> tuple[Reply, ...]:
    """With the one who will do it, where only the which was asked."""
    return tuple(
        msgspec.structs.replace(reply, whom=reply.whom or letter.whom) if reply.action == "mine" else reply
        for reply in said
    )


def _means_something(said: Sequence[Reply], told: Sequence[Thing]) -> bool:
    """Whether everything said is about something in this letter, open or not."""
    return all(
        any((_fits(reply, thing) and not thing.settled) or thing.of in reply.of for thing in told)
        for reply in said
    )


def _sorted_out(
    said: Sequence[Reply],
    told: Sequence[Thing],
    letter: LetterSaid,
    *,
    silent: bool = False,
    beside: tuple[Act, ...] = (),
) -> Verdict | None:
    """Each thing said, and what it means of the letter; None when it means nothing in it, or, if `silent`, nothing that
    is open."""
    things = [thing for thing in told if not thing.settled]
    found = [(reply, [thing for thing in things if _fits(reply, thing)]) for reply in said]
    lost = any(not fitting for _, fitting in found)
    if not _means_something(said, told) or (lost and silent):
        return None
    settles = [
        (reply, fitting, reply.excepting or (len(fitting) > 1 and not reply.every))
        for reply, fitting in found
        if fitting
    ]
    return _settled(settles, letter, told, over=lost, beside=beside)


def _settled(
    settles: Sequence[tuple[Reply, Sequence[Thing], bool]],
    letter: LetterSaid,
    told: Sequence[Thing],
    *,
    over: bool,
    beside: tuple[Act, ...] = (),
) -> Verdict:
    asks = [(reply, things) for reply, things, which in settles if which]
    acts = tuple(_act(reply, thing) for reply, things, _ in settles for thing in things)
    options = tuple((_act(reply, thing),) for reply, things in asks[:1] for thing in things)
    doubt = Doubt.WHICH_BATCH if asks else None
    return Verdict(
        verdict="ask" if asks else "act",
        acts=(*beside, *acts),
        why=WHY[doubt] if doubt is not None else "answers a letter",
        doubt=doubt,
        options=options,
        answers=Settled(
            settles=tuple(
                Settles(
                    things=tuple(thing.id for thing in things),
                    action=reply.action,
                    until=reply.until,
                    whom=reply.whom,
                    enough=bool(reply.enough),
                    which=which,
                )
                for reply, things, which in settles
            ),
            among=tuple(thing.id for thing in letter.among or told),
            over=over,
            beside=beside,
        ),
    )


def _act(reply: Reply, thing: Thing) -> Act:
    """The answer as an act; of whoever gives it back, what they had taken on is struck out."""
    match reply.action:
        case "done":
            return Done(of=thing.of, step=thing.step, what=thing.what)
        case "later":
            return PutOff(of=thing.of, step=thing.step, what=thing.what, until=reply.until)
        case "mine":
            return TakeOn(of=thing.of, step=thing.step, what=thing.what, until=reply.until, whom=reply.whom)
        case "release":
            return Undo(of=thing.of)
        case _:
            assert_never(reply.action)


def _fits(reply: Reply, thing: Thing) -> bool:
    return (
        (not reply.of or bool(thing.names & reply.of))
        and reply.step in (None, thing.step)
        and reply.measure in (None, thing.measure)
        and (reply.goods is None or _to_buy(thing, reply))
    )


def _to_buy(thing: Thing, reply: Reply) -> bool:
    """Whether it is about getting those: bottles and corks, or what somebody asked for by such a word."""
    if thing.buys:
        return True
    about = (thing.about or "").casefold()
    own = thing.about is not None and thing.step is None
    return own and (not reply.goods or any(word in about for word in reply.goods))
