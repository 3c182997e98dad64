"""What is done with a message that neither reading made anything of, so that nobody who speaks of the wine is met by silence.

A sentence of it may ask something in known words; a remark is offered as a note; a question whose subject is unsure is
asked with its likeliest readings; one that cannot be answered gets what can be told at the batch's stage. What people
say to each other is left alone.
"""

from collections.abc import Sequence

import msgspec

from bot.cellar.log.acts import Act, Note, Question, Undo
from bot.cellar.log.subjects import Compare, Lore, Subject, Vessels
from bot.cellar.log.topics import subject_of, topic_of
from bot.understand.claims.labels import concepts_of
from bot.understand.forms.asked import called, known_question, of_wine, sentences
from bot.understand.judge.offers import IGNORE, WHY
from bot.understand.judge.sayings import SayingsRead
from bot.understand.scene import SceneBatch
from bot.understand.text import moods
from bot.understand.text.clauses import reads_wine
from bot.understand.text.message import Message
from bot.understand.text.split import split
from bot.understand.verdict import ASKS_SOMETHING, RESEMBLES, Doubt, Verdict

LIKELY, LIKELY_IN_FAMILY = 0.4, 0.4
"""How much of all that it may ask one question must have to be answered without asking which."""
OFFERED = 0.12
"""How much it must have to be offered."""
ASKS_IN_FAMILY = 0.6
"""How sure it must be among family talk that something is asked, where the wine is named."""
SURELY_ASKS = 0.85
"""And where it has not the form of a question, or nothing in it names the wine."""
TALK, TALK_IN_FAMILY, TALK_AT_ONCE = 0.8, 0.25, 0.5
"""From here on it is taken for talk: in a chat for the wine, in the family's, and there where the bot is called."""
REMARKS, HARDLY_TALK = 0.93, 0.03
"""How sure a remark on the wine must be to be kept among family talk, and how little it may be like talk."""
LIKELY_FACT = 0.3
THANKS = 0.6
_A_WISH = 0.05
"""From here on it may be a wish for a reminder, which has words of its own."""
A_NOTE = 0.25
"""How much a message of few words must be like a remark to be offered as one."""
ALONE, ALONE_ASKING, ALONE_OF_WINE = 0.5, 0.83, 0.9
"""From here on people are taken to talk to each other in a chat for the wine: where no word is of the wine, where something
is asked, and where a word or a figure is of the wine, though not of it alone."""
HARDLY_ASKED, MOSTLY_TALK = 0.2, 0.6
"""What is less like any question than the one, and more like talk than the other, cannot be answered."""
A_PROMISE = 0.2
"""How much of it may tell what somebody will do, or did, of the chores to be worth an answer."""
_FEWEST_WORDS = 3
_MOST_OFFERED = 3
_MOST_NOTES = 4

_VAGUE = frozenset({Doubt.UNSURE, Doubt.WHICH_VESSEL, Doubt.WHICH_BATCH})
SIGNS = frozenset(
    {"bubbles", "foam", "smell", "eggs", "haze", "sediment", "colour", "taste", "film", "crystals"}
)
"""What a remark of few words is about, by the concepts of its words."""
TRADE = frozenset(
    {
        "airlock",
        "concentrate",
        "finings",
        "hydrometer",
        "kit",
        "lid",
        "place",
        "sachet",
        "stabilise",
        "sulphite",
        "temperature",
        "vessel",
        "warm",
        "cold",
        "yeast",
    }
)
"""What else belongs to a wine that is being made, though not to it alone."""
_OF_CHORES = frozenset({"later", "mine", "remind", "done"})
"""Labels of what somebody says to a chore."""
_KNOWN = ("step", "measure", "substance", "question")
"""Words with which something of a wine is asked."""
_LOST = frozenset({Doubt.NOT_UNDERSTOOD, Doubt.KEEP_NOTE, Doubt.WHICH_QUESTION})


def found_again(
    verdict: Verdict,
    heard: SayingsRead,
    message: Message,
    *,
    for_wine: bool,
    to_bot: bool,
    spoke: object | None,
) -> Verdict:
    """The verdict, or what becomes of a message that would be lost. `spoke` is what the bot said last, while that is
    fresh; `for_wine`: in a chat for the wine alone, or said to the bot, which is `to_bot`."""
    if message.replying_to is not None and message.replying_to.reminds:
        return verdict
    if not any(token.kind == "word" for token in message.tokens):
        return verdict  # a bare figure asks nothing
    alone = to_bot or message.replying_to is not None or len(message.scene.members) == 1
    empty = verdict.doubt in (Doubt.HALF_UNDERSTOOD, Doubt.UNSURE) and not verdict.acts
    if verdict.verdict == "ask" and (empty or verdict.doubt in _LOST):
        return _for_the_wine(verdict, heard, message, alone=alone, to_bot=to_bot) if for_wine else verdict
    if _only_asks(verdict):
        if for_wine and not alone and _of_other_things(verdict, heard, message):
            return IGNORE
        return _asked_surely(verdict, heard, message, for_wine=for_wine, spoke=spoke)
    if verdict.verdict != "ignore":
        return verdict
    if for_wine:
        return _of_silence(verdict, heard, message, spoke=spoke)
    return _in_family(verdict, heard, message, spoke=spoke)


def _only_asks(verdict: Verdict) -> bool:
    """Whether it is a question in doubt, or one that was only learned to be one."""
    learned = verdict.verdict == "act" and verdict.why == ASKS_SOMETHING
    return (
        (learned or verdict.doubt in _VAGUE)
        and bool(verdict.acts)
        and all(isinstance(act, Question) for act in verdict.acts)
    )


def _asked_surely(
    verdict: Verdict, heard: SayingsRead, message: Message, *, for_wine: bool, spoke: object | None
) -> Verdict:
    """What a sentence asks in known words, rather than what the whole resembles; of a question in doubt the likeliest
    readings."""
    addressed = for_wine or spoke is not None or called(message.text, message.scene.language)
    question = _by_a_sentence(message, addressed=addressed)
    if question is not None:
        return _answered(question)
    if for_wine and verdict.why == ASKS_SOMETHING and heard.sure < HARDLY_ASKED and heard.talk >= MOSTLY_TALK:
        return _cannot(message) or verdict
    if verdict.doubt is not Doubt.UNSURE or not for_wine or not heard.asking:
        return verdict
    likeliest = _likeliest(heard, message)
    if likeliest and likeliest[0][1] >= LIKELY and heard.asks >= ASKS_IN_FAMILY:
        return _answered(likeliest[0][0])
    offered = [act for act in verdict.acts if isinstance(act, Question)]
    offered += [question for question, share in likeliest if share >= OFFERED]
    return _offer(list(dict.fromkeys(offered))[:_MOST_OFFERED], Doubt.WHICH_QUESTION)


def _for_the_wine(
    verdict: Verdict, heard: SayingsRead, message: Message, *, alone: bool, to_bot: bool
) -> Verdict:
    """What is answered to a message that is for the bot, unless people may be talking to each other: who is `alone` with
    the bot does not."""
    question = _by_a_sentence(message, addressed=True)
    if question is not None:
        return _answered(question)
    if not alone and _among_people(heard, message):
        return IGNORE
    if verdict.doubt is Doubt.WHICH_QUESTION:
        return _which(heard, message) or _cannot(message) or verdict
    if _thanked(heard) or (message.only_polite() and not _sign(message)):
        return _said(Doubt.THANKED)
    if (likely := _likely_fact(heard)) is not None:
        return likely
    if heard.asking or heard.asks >= LIKELY:
        return _which(heard, message) or _cannot(message) or verdict
    if not message.scene.under_way and message.small.the_kit.intersection(message.folds_of(message.spans)):
        return _answered(Question(subject=Lore(topic="first_steps")))  # "got a kit"
    choices = None if to_bot else _cannot(message, Doubt.WHICH_QUESTION)
    return _offered(message, heard) or choices or verdict


def _among_people(heard: SayingsRead, message: Message) -> bool:
    """Whether people are likely to talk to each other: by how like talk it is, and by what in it may be of the wine. What
    is said to somebody by name, and thanks, are for them."""
    figures = [span.qty for span in message.spans if span.kind != "mark"]
    if len(figures) == 1 and figures[0] is not None and figures[0].decimals == 0:
        return False  # a bare figure
    best = heard.top[0][0] if heard.top else "rest"
    named, sign = _spoken_to(message), _sign(message)
    if best == "thanks":
        return named
    if message.only_polite() and not sign and not heard.asking:
        return heard.talk >= ALONE or named
    chore = sum(share for label, share in heard.top if label in _OF_CHORES)
    if _names_wine(message) or chore >= A_PROMISE:
        return False
    counted = any(span.qty is not None for span in message.spans)
    likely = ALONE_ASKING if heard.asking else ALONE
    if counted or sign or _of_the_trade(message):
        likely = ALONE_OF_WINE
        if heard.asking and not named:
            return False
    return heard.talk >= likely


def _of_other_things(verdict: Verdict, heard: SayingsRead, message: Message) -> bool:
    """Whether what seems to ask something of the wine is rather asked of somebody, with no word of the wine in it."""
    ours = _names_wine(message) or _sign(message) or _of_the_trade(message)
    if len(message.text.split()) < _FEWEST_WORDS:
        return False
    known = any(span.has(kind) for span in message.spans for kind in _KNOWN)
    return (
        heard.talk >= ALONE_OF_WINE
        and not ours
        and not known
        and _by_a_sentence(message, addressed=True) is None
    )


def _spoken_to(message: Message) -> bool:
    """Whether one of the house, or of the family, is called by name."""
    folds = message.folds_of(message.spans)
    concepts = concepts_of(message.scene.language).among(folds)
    return "people" in concepts or bool(set(folds) & set(message.scene.members))


def _names_wine(message: Message) -> bool:
    """Whether a batch or vessel of the house is named, or the wine by what it is always called."""
    return any(span.ref is not None for span in message.spans) or of_wine(
        message.text, message.scene.language
    )


def _of_the_trade(message: Message) -> bool:
    """Whether something is measured, added, done or named of a kit."""
    figure = any(map(reads_wine, message.spans))
    concepts = concepts_of(message.scene.language).among(message.folds_of(message.spans))
    return figure or bool(TRADE & set(concepts))


def _likely_fact(heard: SayingsRead) -> Verdict | None:
    """What it resembles, asked about, where that is likely enough."""
    told = heard.verdict
    if told is None or told.verdict != "act" or heard.sure < LIKELY_FACT or heard.asking:
        return None
    if any(isinstance(act, Question | Note | Undo) for act in told.acts):
        return None
    return Verdict(
        verdict="ask",
        acts=told.acts,
        why=RESEMBLES,
        doubt=Doubt.UNSURE,
        options=(told.acts,),
        unread=heard.left,
    )


def _of_silence(verdict: Verdict, heard: SayingsRead, message: Message, *, spoke: object | None) -> Verdict:
    """What a chat for the wine would be silent on: talk, unless it asks in known words or remarks on the wine. Who keeps
    house alone speaks to nobody else."""
    if len(message.scene.members) == 1 and message.spans:
        return _for_the_wine(_said(Doubt.THANKED), heard, message, alone=True, to_bot=True)
    question = _by_a_sentence(message, addressed=True)
    if question is not None:
        return _answered(question)
    whole = len(message.text.split()) >= _FEWEST_WORDS or called(message.text, message.scene.language)
    if spoke is not None and whole and _thanked(heard):  # "cheers love" may be for anybody
        return _said(Doubt.THANKED)
    sign = _sign(message)
    best = heard.top[0][0] if heard.top else "rest"
    if heard.talk >= TALK_AT_ONCE or not (sign or best not in ("talk", "thanks", "rest")):
        return verdict
    if message.only_polite() and not sign:
        return verdict
    return (_which(heard, message) if heard.asking else _offered(message, heard)) or verdict


def _in_family(verdict: Verdict, heard: SayingsRead, message: Message, *, spoke: object | None) -> Verdict:
    """Among family talk: a question, or a plain remark, with the wine, a name of the house or the bot in it."""
    language = message.scene.language
    to_bot = called(message.text, language)
    ours = of_wine(message.text, language) or any(span.ref is not None for span in message.spans)
    if not (to_bot or ours or spoke is not None) or not message.scene.batches:
        return verdict
    question = _by_a_sentence(message, addressed=True, remarks=to_bot or spoke is not None)
    if question is not None and heard.talk < TALK:
        return _answered(question)
    if heard.talk >= (TALK_AT_ONCE if to_bot else TALK_IN_FAMILY):
        return verdict
    kept = heard.verdict
    if kept is not None and kept.verdict == "act" and all(isinstance(act, Note) for act in kept.acts):
        sure = heard.sure >= REMARKS and heard.talk <= HARDLY_TALK and ours and not heard.asking
        return msgspec.structs.replace(kept, why=RESEMBLES) if sure else verdict
    named = ours or to_bot
    if heard.asks < (ASKS_IN_FAMILY if _asking(heard, message) and named else SURELY_ASKS):
        return verdict
    turned = any(span.is_("mood", "aux") or span.is_("mood", "ask") for span in message.spans)
    wish = any(label == "remind" and share >= _A_WISH for label, share in heard.top)
    if wish or not (turned or _asking(heard, message)):
        return verdict
    likeliest = [pair for pair in _likeliest(heard, message) if named or not _of_anything(pair[0])]
    if likeliest and likeliest[0][1] >= LIKELY_IN_FAMILY:
        return _answered(likeliest[0][0])
    return (_which(heard, message) or _cannot(message) or verdict) if to_bot else verdict


_OF_ANYTHING = frozenset(
    {"children", "drive", "moving", "light", "noises", "holidays", "serve", "opened_bottle", "help"}
)
"""Topics that families ask about with no wine in mind."""


def _of_anything(question: Question) -> bool:
    topic = topic_of(question.subject)
    return topic is None or topic in _OF_ANYTHING or topic.startswith("what_is")


def _asking(heard: SayingsRead, message: Message) -> bool:
    """Whether it, or a part of it, has the form of a question."""
    return heard.asking or any(clause.asked or moods.asks(clause) for clause in split(list(message.spans)))


def _by_a_sentence(message: Message, *, addressed: bool, remarks: bool = True) -> Question | None:
    """What one of several sentences asks in known words; a remark only where it asks nothing."""
    parts = sentences(message.text)
    for remarked in (False, True) if remarks else (False,):
        for part in parts:
            question = known_question(
                part,
                message.scene,
                message.sent_at,
                message.replying_to,
                addressed=addressed,
                remarks=remarked,
                late=True,
            )
            if question is not None:
                return _of_the_named(question, message)
    return None


def _of_the_named(question: Question, message: Message) -> Question:
    """The question of the one batch that another sentence names."""
    refs = {span.ref for span in message.spans if span.ref is not None}
    named = {
        target.batch.name for ref in refs for target in message.targets.of(ref) if target.batch is not None
    }
    whole = isinstance(question.subject, Compare | Vessels) or _of_none(question) != question
    if len(named) != 1 or whole or (question.of is not None and question.of in named):
        return question
    return msgspec.structs.replace(question, of=next(iter(named)))


def _answered(question: Question) -> Verdict:
    return Verdict(verdict="act", acts=(question,), why=ASKS_SOMETHING)


def _said(doubt: Doubt) -> Verdict:
    return Verdict(verdict="ask", why=WHY[doubt], doubt=doubt)


def _thanked(heard: SayingsRead) -> bool:
    best = heard.top[0] if heard.top else ("rest", 0.0)
    return best[0] == "thanks" and best[1] >= THANKS and not heard.asking


def _likeliest(heard: SayingsRead, message: Message) -> list[tuple[Question, float]]:
    """What it may ask, the likeliest first, but for what cannot be asked at the batch's stage."""
    fits = [(_of_none(question), share) for question, share in heard.questions() if _fits(question, message)]
    return sorted(fits, key=lambda pair: -pair[1])


def _of_none(question: Question) -> Question:
    """What a word means is told of no batch."""
    told = isinstance(question.subject, Lore) and question.subject.topic.startswith("what_is")
    return msgspec.structs.replace(question, of=None) if told else question


def _which(heard: SayingsRead, message: Message) -> Verdict | None:
    """The likeliest answered, or the likely ones offered; None where none is likely."""
    likeliest = [pair for pair in _likeliest(heard, message) if pair[1] >= OFFERED]
    if not likeliest or heard.asks < OFFERED:
        return None
    surely = heard.asking or heard.asks >= ASKS_IN_FAMILY
    alone = len(likeliest) == 1 and not _of_anything(likeliest[0][0])
    if surely and (alone or likeliest[0][1] >= LIKELY):
        return _answered(likeliest[0][0])
    return _offer([question for question, _ in likeliest[:_MOST_OFFERED]], Doubt.WHICH_QUESTION)


def _offer(questions: Sequence[Question], doubt: Doubt) -> Verdict:
    return Verdict(
        verdict="ask",
        acts=tuple(questions[:1]),
        why=WHY[doubt],
        doubt=doubt,
        options=tuple((question,) for question in questions),
    )


_OF_BOTTLES = frozenset(
    [
        "bottle_which",
        "deposit_bottle",
        "drink_when",
        "keeps",
        "serve",
        "opened_bottle",
        "give_away",
        "label_law",
        "label_how",
        "store",
        "drive",
        "freeze",
        "stock",
    ]
)
"""What is asked of a wine in bottles, or nearly there."""
_OF_MUST = frozenset(
    [
        "mix_how",
        "mix_temp",
        "leak_check",
        "first_steps",
        "volume_short",
        "tap_water",
        "yeast_how",
        "yeast_old",
        "sachets",
    ]
)
"""What is asked before the yeast is at work."""


def _fits(question: Question, message: Message) -> bool:
    """Whether it can be asked now, of what the house has."""
    topic = topic_of(question.subject) or ""
    scene = message.scene
    names = {batch.name for batch in scene.batches}
    if question.of is not None and question.of not in names:
        return False  # a vessel that nothing is in
    if topic.startswith("what_is") and any(span.ref is not None for span in message.spans):
        return False  # it would tell what a word means where a batch is asked about
    if topic == "stock":
        return any(batch.bottled is not None for batch in scene.batches)
    near = any(_stage(batch) in ("bottling", "bottled") for batch in scene.batches)
    must = any(_stage(batch) == "begun" for batch in scene.batches) or not scene.under_way
    if topic in _OF_BOTTLES:
        return near
    return topic not in _OF_MUST or must


_AT_STAGE: dict[str, Sequence[str]] = {
    "none": ("first_steps", "equipment", "how_long_all"),
    "begun": ("next", "mix_temp", "how_long_all"),
    "fermenting": ("next", "all_right", "finish_time"),
    "clearing": ("next", "clear_time", "ready_to_bottle"),
    "bottling": ("ready_to_bottle", "bottle_how", "bottles_to_come"),
    "bottled": ("stock", "drink_when", "keeps"),
}
"""What is offered to be told, by how far the house's wine is."""


def _stage(batch: SceneBatch) -> str:
    if batch.bottled is not None:
        return "bottled"
    first = batch.next[:1]
    if first and first[0] in ("sanitise", "mix", "pitch"):
        return "begun"
    if first == ("gravity",) or not first:
        return "fermenting" if batch.readings or "pitch" not in batch.next else "begun"
    return "bottling" if first[0] in ("bottle", "filter") else "clearing"


def _cannot(message: Message, doubt: Doubt = Doubt.NO_ANSWER) -> Verdict | None:
    """That it cannot be answered, and what can be told, by how far the wine is that is meant; or, of what is no question,
    which of that is wanted."""
    scene = message.scene
    named = [target.batch for span in message.spans if span.ref for target in message.targets.of(span.ref)]
    known = [batch for batch in named if batch is not None] or [*scene.under_way] or [*scene.batches[-1:]]
    stage = _stage(known[0]) if known else "none"
    of = known[0].name if len(known) == 1 else None
    subjects: list[Subject | None] = [subject_of(topic) for topic in _AT_STAGE[stage]]
    questions = [Question(subject=subject, of=of) for subject in subjects if subject is not None]
    return _offer(questions, doubt) if questions else None


def _sign(message: Message) -> bool:
    """Whether its words are about what is seen, smelt or tasted of a wine."""
    concepts = concepts_of(message.scene.language).among(message.folds_of(message.spans))
    return bool(SIGNS & set(concepts))


def _offered(message: Message, heard: SayingsRead) -> Verdict | None:
    """An offer to keep a remark: of what is under way, else of what was bottled last."""
    text = message.text.strip()
    if not any(span.kind == "word" or span.tags for span in message.spans) or not any(map(str.isalpha, text)):
        return None
    few = len(text.split()) < _FEWEST_WORDS
    ours = _sign(message) or (not few and (_names_wine(message) or _of_the_trade(message)))
    promised = not few and sum(share for label, share in heard.top if label in _OF_CHORES) >= A_PROMISE
    if not (ours or promised) and dict(heard.top).get("note", 0.0) < A_NOTE:
        return None
    named = [target.batch for span in message.spans if span.ref for target in message.targets.of(span.ref)]
    replied = message.replied
    batches: Sequence[SceneBatch] = [batch for batch in named if batch is not None]
    if not batches and replied is not None and replied.batch is not None:
        batches = [replied.batch]
    batches = batches or message.scene.under_way or message.scene.batches[-1:]
    notes: list[tuple[Act, ...]] = [(Note(of=batch.name, text=text),) for batch in batches[:_MOST_NOTES]]
    if not notes:
        return None
    both = any(f" {each} " in f" {' '.join(message.folds_of(message.spans))} " for each in message.small.two)
    options = (tuple(act for note in notes for act in note),) if both and len(notes) > 1 else tuple(notes)
    return Verdict(
        verdict="ask",
        acts=tuple(act for option in options for act in option),
        why=WHY[Doubt.KEEP_NOTE],
        doubt=Doubt.KEEP_NOTE,
        options=options,
    )
