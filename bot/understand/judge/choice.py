"""Which of two readings of a message is followed: the one by the rules, or the one by its sayings; or whether something
is asked, or nothing said.

The two know nothing of each other. What speaks for each (`signs.py`) tells how likely it is right, and that the bot is
meant at all (`belief.py`, learned); then that is done which is likely to cost least: a wrong entry costs most, silence on
something real less, a needless question least.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import msgspec

from bot.cellar.log.acts import (
    Acidity,
    Addition,
    Begin,
    Bottles,
    Cost,
    Draw,
    Gravity,
    Note,
    Ph,
    Promised,
    Question,
    Skip,
    Step,
    Undo,
    Vessel,
    Volume,
)
from bot.cellar.log.plain import to_plain
from bot.cellar.log.subjects import Lore
from bot.cellar.log.topics import topic_of
from bot.understand.judge.belief import Belief, belief
from bot.understand.judge.offers import IGNORE, NOT_UNDERSTOOD, WHY, summary
from bot.understand.judge.once import once
from bot.understand.judge.sayings import SayingsRead
from bot.understand.judge.shares import of_a_part
from bot.understand.judge.signs import as_numbers, broad, detail, named, not_taken, of_nothing, signs
from bot.understand.text.message import Message
from bot.understand.verdict import ASKS_SOMETHING, RESEMBLES, Doubt, Verdict

WRONG_ENTRY, BESIDE_THE_POINT, NEEDLESS_QUESTION = 7.0, 1.5, 1.0
"""What it costs to write down what is not so, to answer another question, and to ask what was plain."""
WRONG_AT_FIRST = 1.5
"""What a wrong entry costs where there is no batch yet: it spoils nothing, and who begins is not to be held up."""
SILENCE, SILENCE_IN_FAMILY = 6.0, 4.0
"""What silence costs on something meant for the bot: in a chat for the wine, and among family talk."""
INTO_TALK, INTO_FAMILY_TALK = 1.0, 3.0
"""What a word into people's talk costs."""
CLEARLY, LIKELY_ENOUGH = 0.15, 0.6
"""By so much one question must be likelier than another; and how likely a narrow one is enough beside a broad one."""
SURELY_BEGUN = 0.8
"""From here on batches that only the sayings begin are believed; those of few words are asked about there."""
SURELY_TOLD = 0.95
"""From here on what the sayings take back is believed."""
ONE_QUESTION, ONE_IN_FAMILY = 0.15, 0.4
"""How much of all that it may ask one question must have to be answered without asking which."""
ONE_BROAD = 0.5
"""The same of a question that much is taken for."""
SOMETHING_ASKED = 0.2
"""From here on it may be a question, where it has the form of one; WORTH_ASKING: how much of that the likeliest has."""
WORTH_ASKING = 0.1
SURELY_NUMBERS, HARDLY = 0.85, 0.5
"""From here on what the numbers are is believed; so much is left of what was believed of a reading that they speak against."""
SURELY_MEANT = 0.8
"""From here on a question is taken for what the sayings hear, where the rules hear one that much is taken for."""
SURELY_ASKED = 0.6
"""From here on it is a question whatever its form."""

HARDLY_ASKED = 0.2
"""Below this the likeliest of all questions is none that a message asks."""
SURELY_SAME, AGREED = 0.8, 0.95
"""From here on two readings that tell the same of what is seldom told are believed, and how much: of 313 such messages
that weights were learned from 311 were right."""
HARDLY_TALK, PLAINLY_MEANT = 0.05, 0.7
"""Below this hardly talk; how likely what has the form of a fact is then meant for the bot at least."""
_NEARLY_ALL = 3
SHORT = 3
"""What is left over in more words than this, and without a figure, is mere colour."""

TALK = Verdict(verdict="ignore", why="takes back something that people said to each other")
_SOFT = frozenset(
    {Doubt.UNSURE, Doubt.HALF_UNDERSTOOD, Doubt.NOT_UNDERSTOOD, Doubt.KEEP_NOTE, Doubt.WHICH_QUESTION}
)
"""Doubts about whether and how something was meant, not about what it would come to."""


class Way(NamedTuple):
    """Something that can be done about a message, and what that is likely to cost."""

    cost: float
    verdict: Verdict


class Choice(NamedTuple):
    """What is done about a message. What was weighed is told where anything was: what is likely, from which signs, and
    every way with its cost."""

    verdict: Verdict
    signs: Mapping[str, float] = {}
    believed: Belief | None = None
    ways: Sequence[Way] = ()


def choice(
    rules: Verdict,
    heard: SayingsRead,
    message: Message,
    *,
    to_bot: bool,
    for_wine: bool,
    spoke: Callable[[], object | None],
) -> Choice:
    """What is done about a message of which the rules make one thing and its sayings another, or the same."""
    rules, heard = said_once(rules, heard, message)
    told = heard.verdict
    only_undoes = told is not None and _takes_back(told)
    if only_undoes and for_wine and rules.verdict == "ignore" and heard.sure >= SURELY_TOLD:
        return Choice(_struck_out(message) or rules)
    if _bottled_too_soon(rules, message):
        rules = NOT_UNDERSTOOD
    if told is not None and _set_aside(told, rules, heard, message):
        heard = replace(heard, verdict=None)
    if message.replying_to is not None and message.replying_to.reminds:
        return Choice(rules)
    if heard.completes and told is not None and for_wine and not _names(rules):
        return Choice(told)
    if told is not None and heard.sure >= SURELY_BEGUN and _begins(told) > _begins(rules) > 0:
        return Choice(told)
    if rules == TALK or (rules.verdict == "act" and _of_own_form(rules, told)):
        return Choice(rules)
    spoken = not for_wine and spoke() is not None
    seen = signs(rules, heard, message, to_bot=to_bot, for_wine=for_wine, spoke=spoken)
    believed = belief(seen, message.scene.language)
    if rules.verdict == "act" and asks(rules) and not _tells_and_asks(told):
        # that it asks something is plain; what, perhaps not
        better = _better_question(rules, heard, believed)
        return Choice(better or rules, seen, believed)
    ways = tuple(_ways(rules, heard, believed, message, for_wine=for_wine))
    best = min(ways, key=lambda way: way.cost).verdict
    best = _with_what_is_asked(best, told) if for_wine else best
    if best.verdict == "act" and best.acts and _guesses(message) and not asks(best) and not _remarks(best):
        best = _confirmed(best, WHY[Doubt.UNSURE])
    if best.verdict == "ask" and best.acts and _takes_back(best):
        best = _struck_out(message) or IGNORE
    if best.verdict == "act" and best.unread is None and _is_lost(rules.unread, best, message):
        best = msgspec.structs.replace(best, unread=rules.unread)
    return Choice(best, seen, believed, ways)


def _set_aside(told: Verdict, rules: Verdict, heard: SayingsRead, message: Message) -> bool:
    """Whether what the sayings tell is not weighed at all: what is only taken back is for the rules alone; wine is in no
    bottles before its yeast; and what the rules read well, and doubt, is no question: "40 bottles of plum left", of ten."""
    doubted = rules.verdict == "ask" and rules.doubt not in _SOFT
    unasked = doubted and asks(told) and not heard.asking
    return _takes_back(told) or _bottled_too_soon(told, message) or unasked


def _takes_back(verdict: Verdict) -> bool:
    """Whether it does nothing but strike out."""
    return all(isinstance(act, Undo) for act in verdict.acts)


def _guesses(message: Message) -> bool:
    """ "Maybe racked it": whether it begins with a guess, and is asked about however plain the rest is."""
    first = message.spans[0] if message.spans else None
    return first is not None and (first.is_("hedge", "guess") or first.is_("mood", "unsure"))


def _bottled_too_soon(told: Verdict, message: Message) -> bool:
    """Whether wine is told to be in bottles that has no yeast yet: "poured the goo in, filled it up, 22 on the strip"."""
    if any(span.step == "bottle" or span.is_("unit", "bottle") for span in message.spans):
        return False  # who says so plainly never told of the yeast
    waits = {batch.name for batch in message.scene.under_way if "pitch" in batch.next}
    return any(isinstance(act, Step) and act.step == "bottle" and act.of in waits for act in told.acts)


def _begins(verdict: Verdict) -> int:
    return sum(isinstance(act, Begin) for act in verdict.acts)


def _with_what_is_asked(best: Verdict, told: Verdict | None) -> Verdict:
    """The same facts with what is asked beside them, or with the words of it that nobody can answer."""
    if told is None or best.verdict != "act" or told.verdict != "act":
        return best
    facts = tuple(act for act in told.acts if not isinstance(act, Question | Note))
    asked = tuple(act for act in told.acts if isinstance(act, Question))
    if not facts or facts != best.acts or not (asked or told.unread):
        return best
    return msgspec.structs.replace(best, acts=(*best.acts, *asked), unread=best.unread or told.unread)


_SURELY_UNNAMED = 0.7
"""How likely it must be that a beginning has no name, where the rules' forms hear one."""


def _named_as_told(rules: Verdict, told: Verdict, named: float, message: Message) -> Verdict:
    """The rules' reading with the name that the sayings hear, where both begin one batch: which words are a name is
    learned, and the rules' forms are among what that looks at."""
    pair = [[act for act in verdict.acts if isinstance(act, Begin)] for verdict in (rules, told)]
    if [len(begun) for begun in pair] != [1, 1] or rules.doubt is Doubt.NAME_REFUSED:
        return rules
    begun, name = pair[0][0], pair[1][0].name
    stated = name is not None and begun.name is not None and name in begun.name
    if name is None and named < _SURELY_UNNAMED:
        return rules
    if begun.name == name or (stated and message.spans[0].has("begin")):  # "new batch: red velvet"
        return rules
    again = msgspec.structs.replace(begun, name=name)
    return msgspec.structs.replace(
        rules,
        acts=tuple(again if act is begun else act for act in rules.acts),
        options=tuple(tuple(again if act == begun else act for act in option) for option in rules.options),
    )


def _names(verdict: Verdict) -> bool:
    """Whether it begins a batch by a name of its own."""
    return any(isinstance(act, Begin) and act.name not in (None, act.colour) for act in verdict.acts)


def _is_lost(left: str | None, done: Verdict, message: Message) -> bool:
    """Whether what the rules did not take may have told something, and what is done has not taken it either."""
    if left is None:
        return False
    return not_taken(done.acts, message)[0] > 0 if _has_figure(left) else len(left.split()) <= SHORT


def _has_figure(left: str) -> bool:
    return any(letter.isdigit() for letter in left)


def _of_own_form(rules: Verdict, told: Verdict | None) -> bool:
    """Whether it has a form that only the rules read: a note, a topping up, a refractometer, a beginning of which the
    sayings tell no more, a sum, a list; or a question that the sayings
    only hear less exactly."""
    for act in rules.acts:
        if isinstance(act, Note) or (isinstance(act, Step) and act.step == "top_up"):
            return True
        if isinstance(act, Gravity) and act.instrument is not None:
            return True
        if isinstance(act, Begin) and not (told is not None and detail(told.acts) > detail(rules.acts)):
            return True
        topic = topic_of(act.subject) if isinstance(act, Question) else ""
        others = [other for other in (told.acts if told else ()) if isinstance(other, Question)]
        if topic is None or (topic and any(topic_of(other.subject) == topic for other in others)):
            return asks(rules)
    return False


def _without_remarks(told: Verdict) -> Verdict | None:
    """What is told in a message that asks: what is asked is no remark."""
    acts = tuple(act for act in told.acts if not isinstance(act, Note))
    if len(acts) == len(told.acts):
        return told
    return msgspec.structs.replace(told, acts=acts) if acts and told.verdict == "act" else None


def _better_question(rules: Verdict, heard: SayingsRead, believed: Belief) -> Verdict | None:
    """The question that the sayings hear, where it says more, is surer, or where the rules hear one that much is taken for."""
    told = heard.verdict
    if told is None or not asks(told) or told.verdict != "act":
        return None
    mine = [act for act in rules.acts if isinstance(act, Question)]
    theirs = [act for act in told.acts if isinstance(act, Question)]
    if [act.about for act in theirs] == [act.about for act in mine]:
        more = detail(told.acts) > detail(rules.acts) and broad(rules.acts)
        of_what = heard.sure >= SURELY_MEANT and any(map(_given, theirs)) and not any(map(_given, mine))
        return told if more or of_what else None  # the same, more exactly: "how many bottles will I need"
    if broad(told.acts):
        return told if broad(rules.acts) and believed.told > believed.rules + CLEARLY else None
    meanings = [act for act in theirs if _topic(act).startswith("what_is")]
    loose = _OF_WHAT_IT_IS if meanings else _LOOSE
    how = any(_topic(act).endswith("_how") for act in theirs)  # "how do i rack", and not whether it is ready
    if heard.sure >= (_HOW_MEANT if how else SURELY_MEANT) and all(act.about in loose for act in mine):
        return told
    narrower = broad(rules.acts) and believed.told >= LIKELY_ENOUGH
    return told if narrower or believed.told > believed.rules + CLEARLY else None


_LOOSE = frozenset(
    {"additions", "next", "stage", "chart", "stock", "temperature", "ready_to_rack", "finish_time", "cost"}
)
"""Questions that the rules take a word for: "what do i rinse after the campden" is none of what went in."""
_HOW_MEANT = 0.5
"""How sure the sayings must be of how something is done."""
_OF_WHAT_IT_IS = frozenset({"additions", "chart"})
"""The same, where the sayings hear what a word means."""


def _given(question: Question) -> bool:
    return "given" in to_plain(question)


def _topic(question: Question) -> str:
    return topic_of(question.subject) or ""


def said_once(rules: Verdict, heard: SayingsRead, message: Message) -> tuple[Verdict, SayingsRead]:
    """The two readings, with what each says twice said once; nothing is told by sayings of a vessel that holds no wine."""
    rules = of_a_part(once(rules, message), message)
    told = heard.verdict and of_a_part(once(heard.verdict, message), message)
    if told is not None and _begins(told) > _begins(rules) and of_nothing(rules.acts, message):
        rules = IGNORE  # what is told of the vessel is of the wine that begins in it
    if told is not None and set(told.acts) == set(rules.acts) and len(told.acts) < len(rules.acts):
        told = rules  # "degassed it twice"
    if told is not None:
        rules = _named_as_told(rules, told, heard.named, message)
    if told is not None and told.acts != rules.acts and of_nothing(told.acts, message):
        told = None
    elif told is not None and told.verdict == "act" and told.acts and _cannot_be(rules, told, message):
        rules = IGNORE
    if told is not None and heard.asking:
        told = _without_remarks(told)
    if told is not None and (told.verdict == "ask" or asks(told)):
        told = msgspec.structs.replace(told, why=ASKS_SOMETHING if told.verdict == "act" else RESEMBLES)
    return rules, replace(heard, verdict=told)


def _cannot_be(rules: Verdict, told: Verdict, message: Message) -> bool:
    """Whether the rules tell what cannot be, where the sayings tell something else: "cleaned demijohn 2, stirred plum" stirs
    no empty demijohn; of "paid 12.50 for yeast" nothing weighs 12.5."""
    paid = {act.amount for act in told.acts if isinstance(act, Cost)}
    put_in = {act.amount for act in rules.acts if isinstance(act, Addition) and act.unit is None}
    return told.acts != rules.acts and (of_nothing(rules.acts, message) or bool(paid & put_in))


def _tells_and_asks(told: Verdict | None) -> bool:
    """Whether the sayings tell a fact, and ask something beside it."""
    if told is None or told.verdict != "act":
        return False
    return len({isinstance(act, Question) for act in told.acts}) > 1


def _ways(
    rules: Verdict, heard: SayingsRead, believed: Belief, message: Message, *, for_wine: bool
) -> Iterator[Way]:
    """What can be done about a message, each with what it is likely to cost; of two that cost the same the first."""
    meant = believed.meant
    if heard.talk < HARDLY_TALK and _plainly_meant(rules, heard, message):
        meant = max(meant, PLAINLY_MEANT)
    into_talk = (1 - meant) * (INTO_TALK if for_wine else INTO_FAMILY_TALK)
    least = AGREED if _agree_on_what_is_rare(rules, heard) else 0.0
    for verdict, right in ((rules, max(believed.rules, least)), (heard.verdict, max(believed.told, least))):
        if verdict is None:
            continue
        if verdict is rules and _against_the_numbers(rules, heard):
            right *= HARDLY
        if asks(verdict) and heard.sure < HARDLY_ASKED and verdict is heard.verdict:
            right *= HARDLY
        begin = any(isinstance(act, Begin) and _says_which(act) for act in verdict.acts)
        first = not message.scene.batches and (for_wine or begin)
        wrong = WRONG_AT_FIRST if first else WRONG_ENTRY
        likeliest = right >= max(believed.rules, believed.told if heard.verdict is not None else 0.0)
        right = max(right, meant) if first and likeliest and not _remarks(verdict) else right
        if (done := writable(verdict, first=first)) is not None:
            if asks(verdict):
                yield Way((1 - right) * meant * BESIDE_THE_POINT + into_talk, done)
            else:
                yield Way((1 - right) * wrong, done)
    question = _question(rules, heard, believed, for_wine=for_wine)
    if question is not None:
        yield Way(meant * NEEDLESS_QUESTION + into_talk, question)
    yield Way(meant * (SILENCE if for_wine else SILENCE_IN_FAMILY), IGNORE)


def _agree_on_what_is_rare(rules: Verdict, heard: SayingsRead) -> bool:
    """Whether both readings, which know nothing of each other, tell the same, and something that is told so seldom that what
    they are worth there is hardly learned."""
    told = heard.verdict
    same = told is not None and told.verdict == rules.verdict == "act" and told.acts == rules.acts
    rare = any(
        isinstance(act, _RARE) or (isinstance(act, Bottles) and act.left is not None) for act in rules.acts
    )
    return same and rare and heard.sure >= SURELY_SAME and heard.talk < 1 - SURELY_SAME


_RARE = (Draw, Volume, Vessel, Cost, Ph, Acidity)


def _against_the_numbers(rules: Verdict, heard: SayingsRead) -> bool:
    """Whether the rules give a number to another wine than it surely is of, and the sayings do not."""
    told, numbers = heard.verdict, heard.numbers
    if told is None or numbers.sure < SURELY_NUMBERS or not numbers.figures:
        return False
    return as_numbers(told.acts, numbers) == (0, 0) and min(as_numbers(rules.acts, numbers)) > 0


def _says_which(begin: Begin) -> bool:
    """Whether more is told of a batch than a word that may be its name."""
    return any(each is not None for each in (begin.colour, begin.days, begin.litres, begin.vessel))


def _says_all(begin: Begin) -> bool:
    """Whether a batch has a name of its own, and hardly anything is left to ask."""
    told = (begin.colour, begin.days, begin.litres, begin.vessel)
    return begin.name is not None and sum(each is not None for each in told) >= _NEARLY_ALL


def _plainly_meant(rules: Verdict, heard: SayingsRead, message: Message) -> bool:
    """Whether it has a form that only wants for something, somebody's name or a vessel, or takes a chore on; or surely asks
    of something of the house."""
    wants = rules.verdict == "ask" and rules.doubt not in _SOFT
    takes_on = any(isinstance(act, Promised) for act in rules.acts)
    told = heard.verdict
    asked = told is not None and asks(told) and heard.sure >= SURELY_TOLD and named(message)
    leaves_out = told is not None and any(isinstance(act, Skip) for act in told.acts) and named(message)
    return wants or takes_on or asked or leaves_out


def writable(verdict: Verdict, *, first: bool = False) -> Verdict | None:
    """The verdict as one that is done without a question; None where what it would come to is in doubt. `first`: there is
    no batch yet, so one may be begun of few words, and what is told is kept for it."""
    if verdict.verdict == "act":
        return verdict
    soft = _SOFT | {Doubt.WHICH_BATCH} if first else _SOFT
    if verdict.verdict == "ignore" or not verdict.acts or verdict.doubt not in soft:
        return None
    begun = [act for act in verdict.acts if isinstance(act, Begin)]
    if begun and not all(_says_all(act) or (first and _says_which(act)) for act in begun):
        return None  # a batch is not begun of a few words without a yes
    left = verdict.unread if verdict.unread and _has_figure(verdict.unread) else None  # colour is let go
    return Verdict(verdict="act", acts=verdict.acts, why=summary(verdict.acts), unread=left)


def _question(rules: Verdict, heard: SayingsRead, believed: Belief, *, for_wine: bool) -> Verdict | None:
    """What is asked about a message, or answered to what it may ask; None where nothing can be."""
    told = heard.verdict
    if rules.verdict == "ask" and rules.doubt not in _SOFT:
        return rules
    facts = [
        (right, verdict)
        for verdict, right in ((rules, believed.rules), (told, believed.told))
        if verdict is not None and verdict.acts and not asks(verdict) and not _remarks(verdict)
    ]
    if facts:
        likeliest = max(facts, key=lambda pair: pair[0])[1]
        return _confirmed(likeliest, WHY[Doubt.UNSURE] if likeliest is rules else RESEMBLES)
    asked = _asked(heard, for_wine=for_wine)
    if asked is not None:
        return asked
    if rules.verdict == "ask":
        return rules
    if not for_wine:
        return _confirmed(rules) if rules.acts else None
    return _confirmed(told) if told is not None and told.acts else NOT_UNDERSTOOD


def _remarks(verdict: Verdict) -> bool:
    return all(isinstance(act, Note) for act in verdict.acts)


def _struck_out(message: Message) -> Verdict | None:
    """Whether to strike out what was written last, which is named: people say so of other things too."""
    last = message.entry
    if last is None or last.entry is None:
        return None
    gone = (Undo(entry=last.entry),)
    return Verdict(
        verdict="ask",
        acts=gone,
        why=WHY[Doubt.STRIKE_OUT],
        doubt=Doubt.STRIKE_OUT,
        options=(gone,),
    )


def _asked(heard: SayingsRead, *, for_wine: bool) -> Verdict | None:
    """The answer to what is asked, or which of several questions it is; None where nothing is asked."""
    if heard.asks < SOMETHING_ASKED or not (heard.asking or heard.asks >= SURELY_ASKED):
        return None
    asked = [pair for pair in heard.questions() if not _what_is_of_one(pair[0])]
    if not asked:
        return None
    first, share = asked[0]
    least = ONE_QUESTION if for_wine else ONE_IN_FAMILY
    if share >= (ONE_BROAD if broad([first]) else least):
        return Verdict(verdict="act", acts=(first,), why=ASKS_SOMETHING)
    if not for_wine or (share < WORTH_ASKING and not heard.asking):
        return None
    options = tuple((question,) for question, _ in asked)
    return Verdict(
        verdict="ask",
        acts=(first,),
        why=WHY[Doubt.WHICH_QUESTION],
        doubt=Doubt.WHICH_QUESTION,
        options=options,
    )


def _what_is_of_one(question: Question) -> bool:
    """Whether it would tell what a word means where a batch is asked about."""
    topic = question.subject.topic if isinstance(question.subject, Lore) else ""
    return question.of is not None and topic.startswith("what_is")


def _confirmed(told: Verdict, why: str = RESEMBLES) -> Verdict:
    """The same, asked about."""
    if told.verdict == "ask":
        return told
    return Verdict(verdict="ask", acts=told.acts, why=why, doubt=Doubt.UNSURE, options=(told.acts,))


def asks(verdict: Verdict) -> bool:
    return bool(verdict.acts) and all(isinstance(act, Question) for act in verdict.acts)
