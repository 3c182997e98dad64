"""Which of two readings of a message is followed: the one by the rules, or the one by its sayings; or neither, alone.

The two know nothing of each other. Where they agree, that is as good as said plainly. Where only one has something, it
must be the surer the more a mistake would cost: a wrong entry most, silence less, a needless question least.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace

import msgspec

from bot.cellar.log.acts import (
    Act,
    Addition,
    Begin,
    Bottles,
    Gravity,
    Note,
    Promised,
    Question,
    Skip,
    Step,
    Temperature,
    Undo,
    Volume,
    kind,
)
from bot.cellar.log.subjects import Lore, Matter, WasDone
from bot.cellar.log.topics import topic_of
from bot.understand.judge.offers import WHY
from bot.understand.judge.sayings import SayingsRead
from bot.understand.text.clauses import chatter
from bot.understand.text.message import Message
from bot.understand.verdict import ASKS_SOMETHING, RESEMBLES, Doubt, Verdict

ACT, ACT_IN_FAMILY = 0.84, 0.88
"""How sure a reading by sayings alone must be to be written down: in a chat for the wine, and among family talk."""
ASK, ASK_IN_FAMILY = 0.3, 0.75
"""How sure it must be to be asked about."""
ANSWER, ANSWER_IN_FAMILY = 0.35, 0.75
"""How sure a question must be to be answered."""
ASKS, ASKS_IN_FAMILY, ASKS_BY_FORM = 0.6, 0.7, 0.2
"""How sure it must be that something is asked: by its words, among family talk, and where it has the form of a question."""
NEVER = 2.0
WORTH_ASKING = 0.1
"""How much of that the likeliest must have for it to be asked which of several is meant, where nothing else shows that it
is a question."""
ONE_QUESTION, ONE_IN_FAMILY = 0.35, 0.5
"""How much of that one question must have to be answered without asking which."""
TALK, SURE_TALK = 0.8, 0.93
"""How sure it must be that people talk to each other, in a chat for the wine; and where it has the form of a question."""
LIKELY_TALK = 0.4
"""From here on a message among family talk is taken for that, where no rule says otherwise."""
HARDLY_TALK, SURELY, SURELY_ASKS, SURELY_ONE = 0.06, 0.93, 0.8, 0.6
"""Below that hardly talk; and how sure what is told or asked must be then, where no word says that it is of the wine."""
SURELY_RIGHT = 0.95
"""From here on a reading that its own figures do not speak against is followed, whatever the rules doubt."""
SURELY_TALK = 0.95
"""From here on even a fact that the rules read is asked about, where it has the form of a question."""
PLAINLY_TALK = 0.9
"""From here on what the rules only doubt, and nobody's name is in, is talk."""
AGREED, AGREED_IN_FAMILY = 0.4, 0.75
"""How sure it must be where the rules read the same, but were in doubt."""
BETTER, MORE = 0.8, 0.55
"""How sure it must be to take the place of what the rules would write; or only to say more."""

_MISREAD = frozenset({Doubt.NAME_REFUSED, Doubt.NOTHING_TO_CORRECT})
"""Doubts about what was perhaps never said."""
_VAGUE = frozenset({Doubt.UNSURE, Doubt.HALF_UNDERSTOOD, Doubt.NOT_UNDERSTOOD, Doubt.KEEP_NOTE})
_BETWEEN_PEOPLE = Verdict(verdict="ignore", why="people talking to each other")
_OPEN = frozenset({Doubt.KEEP_NOTE, Doubt.NOT_UNDERSTOOD})
_UNSETTLED = frozenset(
    {Doubt.UNSURE, Doubt.UNKNOWN_BATCH, Doubt.HALF_UNDERSTOOD, Doubt.WHICH_BATCH, Doubt.WHICH_VESSEL}
)


def choice(
    rules: Verdict,
    heard: SayingsRead,
    message: Message,
    *,
    to_bot: bool,
    for_wine: bool,
    spoke: Callable[[], object | None],
) -> Verdict:
    """The verdict on a message of which the rules make one thing and its sayings another, or the same."""
    rules, told = _once(rules, message), heard.verdict and _once(heard.verdict, message)
    if told is not None and all(isinstance(act, Undo) for act in told.acts):
        if for_wine and rules.verdict == "ignore" and heard.sure >= SURELY_RIGHT:
            return _struck_out(message) or rules
        told = None  # what is only taken back is for the rules alone
    if told is not None and _asked_notes(told, heard):
        told = None  # what is asked is no remark
    if message.replying_to is not None and message.replying_to.reminds:
        return rules
    if heard.completes and told is not None and for_wine:
        return told
    if told is not None and _of_nothing(told, message):
        told = None
        heard = heard if for_wine else replace(heard, questions=tuple)
    if told is not None and heard.sure >= BETTER and _begins_more(told, rules):
        return told
    counts = any(isinstance(act, Bottles) and act.left is not None for act in rules.acts)
    plainly_talk = not for_wine and told is None and heard.talk >= PLAINLY_TALK and not counts
    keeps = any(isinstance(act, Note) for act in rules.acts)
    named = _named(message)
    if plainly_talk and rules.doubt in _VAGUE and not named and not keeps:
        return _BETWEEN_PEOPLE
    if rules.verdict == "act":
        return _beside_an_act(rules, told, heard, message, for_wine=for_wine)
    if rules.verdict == "ask" and rules.doubt not in _OPEN:
        talk = not for_wine and heard.talk >= LIKELY_TALK
        return (
            rules
            if talk or _vague(message)
            else _beside_a_doubt(rules, told, heard, message, for_wine=for_wine)
        )
    of_wine = for_wine or _of_wine(message)
    if not for_wine:
        just_spoke = spoke() is not None
        of_wine = of_wine or _surely_of_wine(told, heard, message)
        if heard.talk >= LIKELY_TALK or not (of_wine or just_spoke):
            return rules
        everyday = chatter(message.spans) >= 1.0 and not named
        loose = not named and not any(span.is_("unit", "bottle") for span in message.spans)
        if loose and told is not None and any(isinstance(act, Bottles) for act in told.acts):
            told = None  # "12 left" may be of anything
        left_out = named and told is not None and all(isinstance(act, Skip) for act in told.acts)
        plainly = not _vague(message) and (just_spoke or _plainly_told(told, heard, message))
        if everyday or not (plainly or left_out):
            told = None  # a question may be one all the same
    return _alone(rules, told, heard, to_bot=to_bot, for_wine=for_wine, of_wine=of_wine)


_OF_ANYTHING = frozenset({"children", "drive", "moving", "light", "noises"})
"""Topics that families ask about with no wine in mind."""


def _begins_more(told: Verdict, rules: Verdict) -> bool:
    """Whether only the sayings begin a batch, or tell more of it than the rules do."""
    ours = [act for act in rules.acts if isinstance(act, Begin)]
    theirs = [act for act in told.acts if isinstance(act, Begin)]
    return bool(theirs) and (not ours or (len(ours) == len(theirs) and _detail(theirs) > _detail(ours)))


def _asked_notes(told: Verdict, heard: SayingsRead) -> bool:
    """Whether all that is told are remarks, in a message that asks something."""
    remarks = all(isinstance(act, Note) for act in told.acts)
    return remarks and bool(told.acts) and heard.asking


def _surely_of_wine(told: Verdict | None, heard: SayingsRead, message: Message) -> bool:
    """Whether a message without a word of the trade is of the wine all the same, by all that was learned of such."""
    if heard.talk >= HARDLY_TALK:
        return False
    if told is not None and not _asks(told):
        return told.verdict == "act" and heard.sure >= SURELY
    if not heard.asking or heard.asks < SURELY_ASKS:
        return False
    question, share = next(iter(heard.questions()), (None, 0.0))
    hinted = any(span.is_("batchword", "batch") or span.is_("unit", "bottle") for span in message.spans)
    subject = question.subject if question is not None else None
    craft = isinstance(subject, Lore) and not (
        subject.topic.startswith("what_is") or subject.topic in _OF_ANYTHING
    )
    return share >= SURELY_ONE and (craft or hinted)


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


def _plainly_told(told: Verdict | None, heard: SayingsRead, message: Message) -> bool:
    """Whether facts among family talk are beyond doubt though the bot has not spoken: nothing is asked then."""
    named = _named(message)
    least = ASK_IN_FAMILY if named else ACT_IN_FAMILY  # what is not sure enough to be written is asked about
    if told is None or told.verdict != "act" or heard.sure < least:
        return False
    remarks = any(isinstance(act, Note) for act in told.acts)
    unnamed = not chatter(message.spans) and not any(isinstance(act, Bottles) for act in told.acts)
    return not remarks and (named or unnamed)


def _named(message: Message) -> bool:
    """Whether a name of the house is in it."""
    return any(span.ref is not None for span in message.spans)


def _of_nothing(told: Verdict, message: Message) -> bool:
    """Whether something is told of a vessel that holds no wine."""
    vessels = {vessel.name for vessel in message.scene.vessels}
    chores = (
        act
        for act in told.acts
        if isinstance(act, Step | Addition) or (isinstance(act, Question) and act.about == "stage")
    )
    return any(act.of in vessels and not (isinstance(act, Step) and act.step == "sanitise") for act in chores)


def _once(verdict: Verdict, message: Message) -> Verdict:
    """The verdict with what it says twice said once: a chore counted and not, a vessel and what stands in it; and yeast
    that went in as what it is."""
    if verdict.verdict != "act":
        return verdict
    acts: list[Act] = []
    vessels = {vessel.name for vessel in message.scene.vessels}
    cleaned = {act.of for act in verdict.acts if isinstance(act, Step) and act.step == "sanitise"}
    refs = {span.ref for span in message.spans if span.ref is not None}
    wines = {
        target.of for ref in refs if ref.kind in ("batch", "colour") for target in message.targets.of(ref)
    }
    mixed = {act.of for act in verdict.acts if isinstance(act, Step) and act.step == "mix"}
    warm = any(isinstance(act, Temperature) for act in verdict.acts) and "?" not in message.text
    for act in verdict.acts:
        if isinstance(act, Question) and (done := _whether_done(act, message)) is not None:
            act = done
        if warm and isinstance(act, Question) and act.about == "temperature":
            continue  # it was just told
        if isinstance(act, Step) and act.step in ("stir", "top_up") and act.of in mixed:
            continue  # how it was mixed
        told = act.of is not None and (act.of in vessels or not cleaned & set(vessels))
        if isinstance(act, Step) and act.step == "sanitise" and len(cleaned) > max(len(refs), 1) and not told:
            continue  # what was cleaned is told besides
        if isinstance(act, Step) and act.step == "sanitise" and act.of in wines and cleaned & vessels:
            continue  # a wine is not cleaned, and the vessel is told besides
        if isinstance(act, Addition) and act.what == "water" and _no_addition(act, message):
            continue
        if isinstance(act, Addition) and act.what == "yeast" and act.amount is None:
            act = Step(of=act.of, at=act.at, step="pitch")
        twin = next((place for place, old in enumerate(acts) if _twice(old, act)), None)
        if twin is None:
            acts.append(act)
        elif isinstance(act, Step) and isinstance(old := acts[twin], Step) and _weight(act) > _weight(old):
            acts[twin] = act
    if not acts:
        return Verdict(verdict="ignore", why="nothing that is told of the wine")
    return msgspec.structs.replace(verdict, acts=tuple(acts))


_DISSOLVES_IN = 5
"""Spans between "in" and the water that something is dissolved in."""


_LITTLE = 0.5
"""Litres of water that are only what something is dissolved in, at most."""


def _no_addition(act: Addition, message: Message) -> bool:
    """Whether a little water is only what something else is dissolved in, or goes into an airlock."""
    spans = message.spans
    at = next((at for at, span in enumerate(spans) if span.is_("substance", "water")), None)
    if at is None:
        return False
    small = message.small
    if any(set(span.fold.split()) & small.airlock for span in spans):
        return True
    other = any(
        span.has("packet") or (span.has("substance") and not span.is_("substance", "water"))
        for span in spans[:at]
    )
    led = any(span.is_("part", "inside") for span in spans[max(0, at - _DISSOLVES_IN) : at])
    litres = (act.amount or 0.0) / (1000.0 if act.unit == "ml" else 1.0)
    return other and led and litres <= _LITTLE


def _whether_done(act: Question, message: Message) -> Question | None:
    """ "Have we racked the plum" asks whether that chore was done, and not only how things are."""
    steps = {span.step for span in message.spans if span.step is not None}
    asks = bool(message.spans) and message.spans[0].is_("mood", "aux")
    if not asks or len(steps) != 1 or not isinstance(act.subject, Matter) or act.subject.about != "stage":
        return None
    return msgspec.structs.replace(act, subject=WasDone(step=next(iter(steps))))


def _twice(old: Act, new: Act) -> bool:
    if not (isinstance(old, Step) and isinstance(new, Step)) or old.step != new.step or old.step == "degas":
        return False
    if old.step == "bottle" and old.of == new.of:
        return True  # "28, and one I dropped"
    if old.at != new.at:
        return False
    both = (old.bottles, new.bottles, old.to, new.to)
    if new.of is not None and new.of == old.to and new.to is None:
        return True
    return old.of == new.of and (None in both[:2] and None in both[2:])


def _weight(step: Step) -> int:
    return sum(each is not None for each in (step.of, step.to, step.bottles))


_FEWEST = 4
"""A question of fewer words is what the rules take it for."""
_BROAD = frozenset({"help", "overview", "stage"})
"""Questions that much is taken for."""

_WINE_WORDS = ("measure", "substance", "step", "packet", "kitword", "vessel", "move")


def _of_wine(message: Message) -> bool:
    """Whether a word of the message is one of the trade, or a name of the house."""
    return message.anchored or any(
        span.ref is not None
        or any(span.has(kind) for kind in _WINE_WORDS)
        or (span.is_("batchword", "batch") and span.fold not in message.small.anything)
        for span in message.spans
    )


def _being_done(message: Message) -> bool:
    """ "Racking plum": it is being done, or will be."""
    return any(tag.kind == "step" and tag.form == "ing" for span in message.spans for tag in span.tags)


def _vague(message: Message) -> bool:
    """Whether something in it is not told exactly, denied or only supposed: then it is asked about whatever else is
    plain."""
    if _being_done(message):
        return True
    for span in message.spans:
        if span.has("often") or span.is_("unit", "glass"):
            return True
        vague = span.has("vague") and not (span.is_("place", "other") and len(message.scene.under_way) == 2)
        if vague or span.is_("unit", "other") or span.is_("part", "either"):
            return True
        if span.qty is not None and span.qty.unit in ("other", "glass"):
            return True
        if span.fold == '"' or span.is_("hedge", "guess") or span.is_("part", "place"):
            return True
        if any(span.is_("mood", mood) for mood in ("unsure", "perhaps", "negation", "unreal", "request")):
            return True
    return False


def _elsewhere(rules: Sequence[Act], told: Sequence[Act], message: Message) -> bool:
    """Whether the rules took something for a batch that nobody named, where the other reading has one that was."""
    named = {target.of for span in message.spans if span.ref for target in message.targets.of(span.ref)}
    ours, theirs = {act.of for act in rules}, {act.of for act in told}
    return not (ours & named) and ours != theirs and bool(theirs)


def _gas_out(rules: Sequence[Act], told: Sequence[Act]) -> bool:
    """Whether what the rules take for stirring is getting the gas out."""
    stirred = [act for act in rules if isinstance(act, Step) and act.step == "stir"]
    gassed = [act for act in told if isinstance(act, Step) and act.step == "degas"]
    return bool(stirred) and len(stirred) == len(gassed) and len(rules) == len(told)


def _beside_an_act(
    rules: Verdict, told: Verdict | None, heard: SayingsRead, message: Message, *, for_wine: bool
) -> Verdict:
    broad = all(isinstance(act, Question) and topic_of(act.subject) in _BROAD for act in rules.acts)
    if broad and for_wine and (meant := _asked(told, heard, for_wine=True)) is not None:
        return meant if meant.verdict == "act" else rules
    if told is not None and told.verdict == "ask" and _of_nothing(rules, message):
        return told if told.acts and not _asks(told) else rules
    named = _named(message)
    asking = heard.asking or any(span.is_("mood", "aux") for span in message.spans[:2])
    if told is None and heard.talk >= SURELY_TALK and asking and not named and not _asks(rules):
        return _confirmed(rules)  # "Jess, have you sterilised that spoon?"
    mixed = told is not None and any(isinstance(act, Step) and act.step == "mix" for act in told.acts)
    topped = all(isinstance(act, Step) and act.step == "top_up" and act.litres is None for act in rules.acts)
    if told is not None and told.verdict == "act" and topped and mixed and heard.sure >= MORE:
        return told  # to the mark, with the water that the kit is mixed with
    if told is None or told.verdict != "act" or any(map(_read_whole, rules.acts)):
        return rules
    if not for_wine and heard.talk >= LIKELY_TALK:
        return rules
    promised = all(isinstance(act, Promised) for act in rules.acts)
    if promised and heard.sure >= BETTER and not _asks(told) and not _being_done(message):
        return told
    asked = all(isinstance(act, Question) for act in rules.acts)
    if asked and any(topic_of(act.subject) is None for act in rules.acts if isinstance(act, Question)):
        return rules
    if asked:
        sure = BETTER if for_wine else ANSWER_IN_FAMILY
        craft = any(isinstance(act, Question) and isinstance(act.subject, Lore) for act in told.acts)
        words = sum(token.kind == "word" for token in message.tokens)
        better = craft and words >= _FEWEST and not _named(message)
        return told if heard.sure >= sure and _asks(told) and (better or broad) else rules
    mine, theirs = _kinds(rules.acts), _kinds(told.acts)
    more = theirs > mine or (not (mine - theirs) and theirs != mine)
    if any(isinstance(act, Gravity) and act.temp_c is not None for act in rules.acts):
        more = more and bool(theirs - mine - Counter({"temperature": 9}))
    if more and heard.sure >= MORE and all(_found(act, told.acts) for act in rules.acts):
        return told
    if heard.sure >= MORE and _of_nothing(rules, message):
        return told
    if mine == theirs and heard.sure >= MORE and _elsewhere(rules.acts, told.acts, message):
        return told
    if heard.sure >= ACT and _gas_out(rules.acts, told.acts):
        return told
    chores = all(isinstance(act, Step | Addition) for act in rules.acts)
    if mine == theirs and chores and heard.sure >= ASK and _detail(told.acts) > _detail(rules.acts):
        return told
    return rules


def _read_whole(act: Act) -> bool:
    """Whether an act has a form of its own that nothing else reads."""
    return isinstance(act, Note) or (isinstance(act, Step) and act.step == "top_up")


def _detail(acts: Sequence[Act]) -> int:
    """How much is told of them."""
    return sum(value is not None for act in acts for value in msgspec.structs.astuple(act))


def _beside_a_doubt(
    rules: Verdict, told: Verdict | None, heard: SayingsRead, message: Message, *, for_wine: bool
) -> Verdict:
    misread = rules.doubt in _MISREAD or not (_kinds(rules.acts) - _kinds(told.acts if told else ()))
    sure = heard.sure >= SURELY_RIGHT and heard.talk < HARDLY_TALK and heard.left is None
    if told is not None and told.verdict == "act" and for_wine and sure and misread and not _asks(told):
        return told  # its figures were held against the curve as those of the rules were
    if any(isinstance(act, Question) for act in rules.acts):
        return rules
    if told is None or told.verdict != "act" or _asks(told):
        return rules
    if (
        rules.doubt is Doubt.OTHER_CURVE
        and heard.sure >= BETTER
        and _elsewhere(rules.acts, told.acts, message)
    ):
        return told
    if rules.doubt not in _UNSETTLED:
        return rules
    if rules.doubt is Doubt.WHICH_VESSEL and not any(isinstance(act, Step) and act.to for act in told.acts):
        return rules
    if rules.unread is not None and len(told.acts) <= len(rules.acts):
        return rules
    if all(isinstance(act, Note) for act in told.acts):
        return rules
    if not for_wine and any(isinstance(act, Bottles) for act in told.acts):
        return rules  # much is given and drunk in a family
    options = [option for option in (rules.acts, *rules.options) if option]
    agreed = any(_kinds(told.acts) == _kinds(option) for option in options)
    more = any(all(_found(act, told.acts) for act in option) for option in options)
    least = AGREED if agreed else MORE if more else BETTER
    if heard.sure >= (least if for_wine or (more and not agreed) else AGREED_IN_FAMILY):
        return told
    return rules


def _alone(
    rules: Verdict, told: Verdict | None, heard: SayingsRead, *, to_bot: bool, for_wine: bool, of_wine: bool
) -> Verdict:
    """Where the rules made nothing of it."""
    best = heard.top[0] if heard.top else ("rest", 0.0)
    if for_wine and rules.verdict == "ignore" and heard.asking and heard.talk < SURE_TALK:
        rules = Verdict(verdict="ask", why=WHY[Doubt.NOT_UNDERSTOOD], doubt=Doubt.NOT_UNDERSTOOD)
    told_fact = told is not None and not _asks(told) and heard.sure >= ASK
    if (
        rules.doubt in _OPEN
        and not told_fact
        and not to_bot
        and best[0] in ("talk", "thanks", "rest")
        and best[1] >= (SURE_TALK if heard.asking else TALK)
    ):
        return _BETWEEN_PEOPLE
    asks = _asked(told, heard, for_wine=for_wine) if of_wine else None
    if asks is not None:
        return asks
    if told is None or _asks(told):
        return rules
    if any(isinstance(act, Note) for act in told.acts) and not for_wine and not of_wine:
        return rules
    least = ACT if for_wine else ACT_IN_FAMILY
    if told.verdict == "act" and heard.sure >= least:
        return told
    if heard.sure >= (ASK if for_wine else ASK_IN_FAMILY):
        return msgspec.structs.replace(told, why=RESEMBLES) if told.verdict == "ask" else _confirmed(told)
    return rules


def _asked(told: Verdict | None, heard: SayingsRead, *, for_wine: bool) -> Verdict | None:
    """The answer to what is asked, or which of several questions it is; None where nothing is asked."""
    facts = told is not None and not _asks(told) and heard.sure >= ASK
    by_form, by_words = (ASKS_BY_FORM, ASKS) if for_wine else (ASKS_IN_FAMILY, NEVER)
    least = by_form if heard.asking else by_words
    if facts or heard.asks < least:
        return None
    asked = [pair for pair in heard.questions() if not _what_is_of_one(pair[0])]
    if not asked:
        return None
    first, share = asked[0]
    if share >= (ONE_QUESTION if for_wine else ONE_IN_FAMILY):
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


def _confirmed(told: Verdict) -> Verdict:
    """The same, asked about."""
    return Verdict(verdict="ask", acts=told.acts, why=RESEMBLES, doubt=Doubt.UNSURE, options=(told.acts,))


def _asks(verdict: Verdict) -> bool:
    return bool(verdict.acts) and all(isinstance(act, Question) for act in verdict.acts)


def _kinds(acts: Sequence[Act]) -> Counter[str]:
    """What kinds of things are told, as often as they are."""
    return Counter(_kind(act) for act in acts)


def _kind(act: Act) -> str:
    if isinstance(act, Step):
        return "add finings" if act.step == "fine" else f"step {act.step}"
    if isinstance(act, Addition):
        return "step pitch" if act.what == "yeast" else f"add {act.what}"
    if isinstance(act, Question):
        return f"ask {act.about}"
    return kind(act)


def _found(act: Act, among: Sequence[Act]) -> bool:
    """Whether the other reading has the same, of whatever batch."""
    return any(_kind(other) == _kind(act) and _value(other) == _value(act) for other in among)


def _value(act: Act) -> object:
    """The number that an act is about."""
    match act:
        case Gravity():
            return act.sg
        case Temperature():
            return act.temp_c
        case Volume():
            return act.litres
        case Bottles():
            return act.change
        case _:
            return None
