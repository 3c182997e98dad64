"""A message read by its sayings: each labelled by what was learned, filled from what stands in it, and about the batch that
the household waits for, where none is named."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import cache, partial
from itertools import pairwise
from math import prod
from typing import get_args

import msgspec

from bot.cellar.log.acts import (
    Act,
    Addition,
    Amend,
    Begin,
    Bottles,
    Gravity,
    Note,
    Question,
    Step,
    StepName,
    Temperature,
    Undo,
    Volume,
)
from bot.cellar.log.subjects import Matter, Subject, Vessels, WasDone
from bot.cellar.log.topics import subject_of
from bot.understand.claims.begun import attributes, beginnings
from bot.understand.claims.corrections import mended
from bot.understand.claims.cuts import cut_apart
from bot.understand.claims.drafts import Draft, WithTime
from bot.understand.claims.encoder import encoder_of
from bot.understand.claims.labels import LabelledSaying, labelled, model_of
from bot.understand.claims.measured import NO_NUMBERS, Numbers, put_right
from bot.understand.claims.readings import gravity
from bot.understand.claims.said import AS_LAST, SURE, AllTold, Claim, Teller, cued, is_reading
from bot.understand.judge import plausible
from bot.understand.judge.settle import Settler
from bot.understand.scene import Scene, SceneBatch
from bot.understand.text import moods
from bot.understand.text.clauses import Clause, reads_gravity
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.sayings import Saying, carried, sayings
from bot.understand.text.spans import Span
from bot.understand.verdict import Doubt, Verdict

JUST_NOW = timedelta(minutes=20)
"""So long what was spoken of is still what is spoken of."""

_SOON = 3
"""So many of the chores to come can be the one that is told of."""

_FIRST = ("sanitise", "mix", "gravity", "pitch")


@dataclass(frozen=True, slots=True)
class SayingsRead:
    """What the sayings of a message come to: the verdict of what they tell, how sure that is all and right, how likely
    it is talk between people, and the labels that have no reader here."""

    verdict: Verdict | None
    sure: float
    talk: float
    labels: tuple[str, ...]
    top: tuple[tuple[str, float], ...]
    left: str | None = None
    asks: float = 0.0
    """How likely it asks something, whatever that is."""
    asking: bool = False
    """Whether it has the form of a question."""
    questions: Callable[[], Sequence[tuple[Question, float]]] = tuple
    """What it may ask, the likeliest first, each with its part of all that it may ask; worked out when asked for."""
    together: float = 1.0
    """How likely all its parts are right, were each as likely as it seems by itself."""
    parts: int = 1
    untold: int = 0
    """How many parts it has, and how many of these with words of their own told nothing."""
    completes: bool = False
    """Whether it only tells what the beginning of a batch left out."""
    named: float = 1.0
    """How likely the names of what it begins are right, or that they have none."""
    numbers: Numbers = NO_NUMBERS
    """What its numbers are, each of its wine."""
    said: Sequence[LabelledSaying] = ()
    """Its sayings, each with how likely it says each label."""


def hear(message: Message) -> SayingsRead:
    """Reads a message by its sayings."""
    message.spans = mended(message.spans)
    said, whole = said_in(message)
    first, said_first = message, said
    begun, taken, well_named = beginnings(message, said)
    completing = _completing(begun or attributes(message, said), message)
    if completing:
        completed = Settler(message).verdict(completing, half=bool(begun) and len(taken) < len(said))
        top = tuple(whole.ranked(5)) if whole is not None else ()
        return SayingsRead(completed, _BEGUN, 0.0, ("amend",), top, completes=True, said=said)
    if begun:
        message, said, whole = _after(message, said, begun, taken)
    told = Teller(message, said, whole).read() if whole is not None else AllTold()
    numbers = put_right(told, message, said)
    if begun:
        unsure = [
            claim for claim in told.claims if _HALF <= claim.sure < _BESIDE and claim.label in _OF_CHORES
        ]
        told.left = [part for part in told.left if cued(part)]  # "right ladies"
        told.left += [claim.part for claim in unsure]
        told.claims = [
            claim for claim in told.claims if claim.label not in _OF_BEGINNINGS and claim.sure >= _BESIDE
        ]
    if not begun:
        _completed(told, message)
    told.left += [
        claim.part for claim in told.claims if claim.draft is None and claim.label in _READ_ELSEWHERE
    ]
    unasked = _unasked(told)
    drafts = _drafts(told, message, begun, _begun_at(said_first, taken) if len(begun) == 1 else None)
    top = tuple(whole.ranked(5)) if whole is not None else ()
    left = ", ".join(message.words_of(part.spans) for part in told.left) or None
    sure = min([_BEGUN, well_named, *(claim.sure for claim in told.claims)]) if begun else told.sure
    sums_up = partial(
        SayingsRead,
        sure=sure,
        talk=told.talk,
        labels=told_labels(told, begun),
        top=top,
        left=left,
        together=prod(claim.sure for claim in told.claims if claim.draft is not None),
        parts=len(said),
        untold=sum(one.saying.wordy and not _told_by(one.saying, told) for one in said),
        named=well_named,
        said=said_first,
        numbers=numbers,
    )
    asks, asking, questions = _questions(message, whole)
    if not (drafts or begun):
        return sums_up(None, asks=asks, asking=asking, questions=questions)
    verdict = Settler(message).verdict(drafts, half=bool(told.left), unread=left) if drafts else None
    if begun:
        verdict = _begun(
            Settler(first).verdict(begun, half=not drafts and bool(told.left), unread=left), verdict
        )
    if verdict is not None and verdict.verdict == "act" and unasked and verdict.unread is None:
        words = ", ".join(message.words_of(part.spans) for part in unasked)
        verdict = msgspec.structs.replace(verdict, unread=words)
    return sums_up(verdict, asks=asks, asking=asking, questions=questions)


def _told_by(part: Saying, told: AllTold) -> bool:
    """Whether a part told something of its own."""
    return any(claim.part is part for claim in told.claims)


def _unasked(told: AllTold) -> list[Saying]:
    """Takes from what is told the questions beside facts that are like no question in particular, and gives their
    words."""
    if not any(claim.draft is not None for claim in told.claims):
        return []
    lost = [
        claim for claim in told.claims if claim.label.startswith("ask:") and claim.sure < _ASKED_IN_PARTICULAR
    ]
    told.claims = [claim for claim in told.claims if claim not in lost]
    return [claim.part for claim in lost]


_ASKED_IN_PARTICULAR = 0.5
"""How sure at least it is which question a part asks beside facts."""

_READ_ELSEWHERE = frozenset(
    {
        "amend", "begin", "correct", "cost", "draw", "follow", "give_up", "nickname", "remind", "rota", "skip", "split",
        "blend", "vessel", "ph", "acidity",
    }
)  # fmt: skip
"""Labels of facts that have no reader here: what is told with one is but a part of the message."""

_MOST_ASKED = 3
_LEAST = 0.15
"""Below this nobody asks."""
_BY_MARK = 0.5
"""How likely at least it is a question that ends in a question mark."""


def _questions(
    message: Message, whole: LabelledSaying | None
) -> tuple[float, bool, Callable[[], Sequence[tuple[Question, float]]]]:
    """How likely a message asks something, whether it has the form of a question, and what it may ask."""
    if whole is None or not any(token.kind == "word" for token in message.tokens):
        return 0.0, False, tuple  # a bare figure asks nothing
    every, likeliest = whole.questions(_MOST_ASKED)
    marked = message.text.rstrip().endswith("?")
    asking = (
        marked
        or moods.asks(Clause(list(message.spans)), by_words=True)
        or moods.asks_within(message.spans, message.small.we | message.small.you)
    )
    asks = max(every, _BY_MARK) if marked else every
    if asks < _LEAST:
        return asks, asking, tuple
    refs = [span.ref for span in message.spans if span.ref is not None]
    return asks, asking, cache(partial(_settled, message, refs, likeliest, every or 1.0))


def _settled(
    message: Message, refs: Sequence[Ref], likeliest: Sequence[tuple[str, float]], every: float
) -> Sequence[tuple[Question, float]]:
    """The likeliest questions, each about what the message names, with its part of `every`."""
    settler = Settler(message)
    found: list[tuple[Question, float]] = []
    for label, share in likeliest:
        subject = subject_of(_put_straight(label.partition(":")[2], message))
        if subject is not None:
            draft = Draft(Question(subject=subject), SURE, "nothing", refs=list(refs))
            act = settler.verdict([draft], half=False).acts[0]
            assert isinstance(act, Question)
            found.append((act, share / every))
    return found


_OF_MOVING = frozenset({"restart", "moving", "rack_why", "stuck"})


def _put_straight(topic: str, message: Message) -> str:
    """The topic, unless a denial, or the chore that is next, says that another is meant: "nothing is bubbling", and "do we
    move it" while it is to be drawn off."""
    if topic == "still_bubbling" and any(span.is_("mood", "negation") for span in message.spans):
        return "no_bubbles"
    moves = any(span.has("move") or span.has("movable") for span in message.spans)
    waits = [batch.next[:1] for batch in message.scene.under_way]
    if topic in _OF_MOVING and moves and ("rack",) in waits:
        return "ready_to_rack"
    return topic


def _completing(begun: Sequence[Draft], message: Message) -> list[Draft]:
    """What a message that looks like a beginning tells of the batch that was begun just before, with little: "red, 23 l,
    14 days"; nothing where it begins another."""
    act = begun[0].act if len(begun) == 1 else None
    soon = [entry for entry in message.scene.recent or () if message.sent_at - entry.said_at <= JUST_NOW]
    last = next((entry.act for entry in soon if isinstance(entry.act, Begin)), None)
    old = next(
        (batch for batch in message.scene.under_way if last is not None and batch.name == last.of), None
    )
    if not isinstance(act, Begin) or last is None or old is None or act.name not in (None, old.name):
        return []
    pairs = (
        (act.colour, old.colour),
        (act.vessel, old.vessel),
        (act.litres, old.litres),
        (act.days, last.days),
    )
    if any(new is not None and known not in (None, new) for new, known in pairs):
        return []
    if all(new is None or new == known for new, known in pairs):
        return []
    refs = [Ref("batch", old.name)]
    told = [Draft(Amend(days=act.days, colour=act.colour, vessel=act.vessel), SURE, refs=refs)]
    if act.litres is not None:
        told.append(Draft(Volume(litres=act.litres), SURE, refs=refs))
    return [draft for draft in told if draft.act != Amend()]


_OF_CHORES = frozenset({"step", "add", "bottles", "gravity", "temperature"})
_HALF, _BESIDE, _BEGUN = 0.4, 0.7, 0.97
"""How sure something must be that is told beside a beginning; how sure a beginning is with all that makes one."""

_OF_BEGINNINGS = frozenset({"begin", "amend", "volume", "vessel"})


def _begun(beginning: Verdict, after: Verdict | None) -> Verdict:
    """A beginning and what is told of it besides; what is in doubt of the one is asked with the other."""
    if after is None or (beginning.verdict == "ask" and beginning.doubt is not Doubt.HALF_UNDERSTOOD):
        return beginning
    acts = (*beginning.acts, *after.acts)
    if beginning.verdict == after.verdict == "act":
        return msgspec.structs.replace(beginning, acts=acts)
    worse = after if after.verdict == "ask" else beginning
    return msgspec.structs.replace(worse, acts=acts, options=(acts,))


def _completed(told: AllTold, message: Message) -> None:
    """ "Done": the chore that is next, to be asked about unless a vessel is named for it; "and in Bramble": the same that
    was just told, of another batch."""
    scene = message.scene
    refs = [span.ref for span in message.spans if span.ref is not None]
    done = [claim for claim in told.claims if claim.label == "done"]
    waits = {batch.next[0] for batch in scene.under_way if batch.next and batch.next[0] in _STEPS}
    if done and len(told.claims) == 1 and len(waits) == 1:
        step = next(each for each in _STEPS if each in waits)
        vessel = next((ref for ref in refs if ref.kind == "vessel"), None) if step == "rack" else None
        done[0].draft = Draft(Step(step=step), SURE, "anything" if step == "sanitise" else "batch", to=vessel)
        told.sure = min(told.sure, 0.8 if vessel is not None else _DONE)
        return
    last = (scene.recent or (None,))[0]
    told_now = last is not None and message.sent_at - last.said_at <= JUST_NOW
    idle = not any(span.kind == "word" or span.qty is not None for span in message.spans)
    also = any(token.fold in message.small.also for token in message.tokens)
    refs = [ref for ref in refs if ref.kind in ("batch", "colour")]
    if told_now and last is not None and isinstance(last.act, Step | Addition) and _same_again(told, message):
        told.claims.clear()
        again = msgspec.structs.replace(last.act, of=None, at=None)
        told.claims.append(Claim(Draft(again, SURE, refs=refs), 0.85, "again", Saying(list(message.spans))))
        told.sure = 0.85
        return
    if (
        told.claims
        or not refs
        or not told_now
        or last is None
        or not idle
        or not also
        or message.text.endswith("?")
    ):
        return
    if isinstance(last.act, Step | Addition) and all(last.act.of != ref.name for ref in refs):
        again = msgspec.structs.replace(last.act, of=None, at=None)
        told.claims.append(Claim(Draft(again, SURE, refs=refs), 0.85, "again", Saying(list(message.spans))))
        told.sure = 0.85


def _same_again(told: AllTold, message: Message) -> bool:
    """ "Same for the other one": what was just done, and no gravity."""
    said = f" {' '.join(token.fold for token in message.tokens)} "
    small = not any(span.kind == "word" or span.qty is not None for span in message.spans)
    acts = [claim.draft.act for claim in told.claims if claim.draft is not None]
    gravity = all(isinstance(act, Gravity) and act.sg == AS_LAST for act in acts)
    return small and gravity and any(f" {each} " in said for each in message.small.again)


_STEPS: tuple[StepName, ...] = get_args(StepName)
_DONE = 0.5
"""How sure "done" alone is the chore that is next."""


def told_labels(told: AllTold, begun: Sequence[Draft]) -> tuple[str, ...]:
    return (*(("begin",) * len(begun)), *told.labels)


def said_in(
    message: Message, *, spent: Sequence[tuple[int, int]] = ()
) -> tuple[list[LabelledSaying], LabelledSaying | None]:
    """The sayings of a message, those cut that tell two things, and all of it as one; without those that begin where it is
    `spent`, from token to token."""
    model = model_of(message.scene.language)
    every, read = cut_apart(sayings(message), message, encoder_of(model.language))
    parts = [part for part in every if not any(lo <= part.spans[0].lo < hi for lo, hi in spent)]
    if not parts:
        return [], None
    return labelled(parts, message, model, read if len(parts) == len(every) else None)


def _after(
    message: Message, said: Sequence[LabelledSaying], begun: Sequence[Draft], taken: set[int]
) -> tuple[Message, list[LabelledSaying], LabelledSaying | None]:
    """The message in a house that has the batches it begins, and what it says besides."""
    spent = [(said[at].saying.spans[0].lo, said[at].saying.spans[-1].hi) for at in taken]
    scene = message.scene
    new: list[SceneBatch] = []
    for draft in begun:
        act = draft.act
        assert isinstance(act, Begin)
        name = act.name or act.colour or "batch"
        new.append(
            SceneBatch(
                name=name,
                colour=act.colour,
                vessel=act.vessel,
                litres=act.litres,
                started=message.sent_at,
                next=_FIRST,
                by=message.by,
            )
        )
    with_new = msgspec.structs.replace(scene, batches=(*scene.batches, *new))
    again = Message(
        message.text,
        with_new,
        message.sent_at,
        by=message.by,
        replying_to=message.replying_to,
        addressed=message.addressed,
    )
    return again, *said_in(again, spent=spent)


# ---------------------------------------------------------------------- which batch


def _begun_at(said: Sequence[LabelledSaying], taken: set[int]) -> int | None:
    """Where in the message a beginning starts."""
    return min((said[at].saying.spans[0].lo for at in taken), default=None)


def _drafts(
    told: AllTold, message: Message, begun: Sequence[Draft], begun_at: int | None = None
) -> list[Draft]:
    """What is told, each of its wine; what follows from `begun_at` on is of the one that begins there: "plum 1.045, and we
    started the white: 23 litres, mixed, 1.078"."""
    drafts: list[Draft] = []
    _in_order(told, message)
    focus = _Focus(message, [_name(draft.act) for draft in begun])
    times = carried(told.parts)
    beside = any(claim.draft is not None and not isinstance(claim.draft.act, Note) for claim in told.claims)
    at = 0
    for claim in told.claims:
        if begun_at is not None and claim.part.spans[0].lo >= begun_at:
            focus.refs, begun_at = [Ref("batch", _name(begun[0].act))], None
        at = _follow(focus, told, claim, at)
        draft = claim.draft if claim.draft is not None else _question(claim, message)
        if draft is None:
            focus.name(claim.part)
            continue
        if isinstance(draft.act, Gravity) and draft.act.sg == AS_LAST and _same_told(told):
            continue
        if isinstance(draft.act, Bottles) and not _any_bottles(told, message):
            continue
        if isinstance(draft.act, Note) and begun and draft.act.text == message.text.strip():
            continue  # it tells of a kit, and that is taken
        focus.settle(draft, claim.part)
        if isinstance(draft.act, Note) and not draft.refs and len(message.scene.under_way) > 1 and beside:
            continue  # colour beside facts, of no wine in particular
        if isinstance(draft.act, WithTime) and not draft.moments:
            draft.moments = times.get(id(claim.part), [])
        _counted(draft, claim, message)
        _kept(draft, message.scene)
        if isinstance(draft.act, Gravity) and draft.act.sg == AS_LAST and not focus.as_last(draft):
            continue
        drafts.append(draft)
    focus.as_one()
    return _read_once(drafts, message)


def _read_once(drafts: Sequence[Draft], message: Message) -> list[Draft]:
    """The drafts, of several gravities of one wine at one time only the one that stands: told twice it is one, and of
    "1.016, no hold on, 1.018" it is the last, of "1.018. scratch the 1.021" the first."""
    read = [draft for draft in drafts if isinstance(draft.act, Gravity)]
    gone: list[Draft] = []
    for at, draft in enumerate(read):
        alike = [other for other in read[:at] if other.refs == draft.refs and other.moments == draft.moments]
        if any(other.act == draft.act for other in alike):
            gone.append(draft)
        elif alike and (struck := _struck(alike[-1], draft, message)) is not None:
            gone.append(struck)
    return [draft for draft in drafts if not any(draft is each for each in gone)]


def _struck(first: Draft, second: Draft, message: Message) -> Draft | None:
    """Which of two gravities is taken back; None where nothing says so."""
    start, end = (_place(draft, message) for draft in (first, second))
    if start is None or end is None:
        return None
    between = message.spans[start + 1 : end]
    last = next((span for span in reversed(between) if not span.has("filler")), None)
    if last is not None and last.is_("undo", "verb"):
        return second  # "scratch the 1.021"
    return first if any(span.has("correct") or span.is_("undo", "verb") for span in between) else None


def _place(draft: Draft, message: Message) -> int | None:
    """The place of the number that a gravity was read from."""
    assert isinstance(draft.act, Gravity)
    sg = draft.act.sg
    places = (at for at, span in enumerate(message.spans) if span.qty is not None and gravity(span.qty) == sg)
    return next(places, None)


def _in_order(told: AllTold, message: Message) -> None:
    """ "Plum and harbour: 1.012 and 0.996": as many gravities after as many names, each to its own, in that order."""
    values = [claim.draft for claim in told.claims if claim.draft is not None and _read_off(claim.draft.act)]
    figures = [span.lo for span in message.spans if span.qty is not None and reads_gravity(span.qty)]
    kinds = ("batch", "colour", "vessel")
    named = [(span.lo, span.ref) for span in message.spans if span.ref is not None and span.ref.kind in kinds]
    refs = [ref for _, ref in named]
    if not 1 < len(values) == len(figures) == len(named) or len(set(refs)) < len(refs):
        return
    if named[-1][0] < figures[0]:
        for draft, ref in zip(values, refs, strict=True):
            draft.refs = [ref]


def _read_off(act: Act) -> bool:
    return isinstance(act, Gravity) and act.sg != AS_LAST


def _follow(focus: "_Focus", told: AllTold, claim: Claim, at: int) -> int:
    """Goes on to the part that a claim is from: what the parts before it only name is what is then spoken of."""
    place = next((n for n, part in enumerate(told.parts) if part is claim.part), None)
    if place is None:
        return at
    own = {id(each.part) for each in told.claims}
    for part in told.parts[at:place]:
        if id(part) not in own:
            focus.name(part)
    return max(at, place)


def _any_bottles(told: AllTold, message: Message) -> bool:
    """Whether there is a wine in bottles, or the message bottles one, or names one of which it is then asked."""
    acts = [claim.draft.act for claim in told.claims if claim.draft is not None]
    filled = any(isinstance(act, Step) and act.step == "bottle" for act in acts)
    named = any(span.ref is not None and span.ref.kind in ("batch", "colour") for span in message.spans)
    return filled or named or any(batch.bottled is not None for batch in message.scene.batches)


def _same_told(told: AllTold) -> bool:
    """Whether a gravity is told beside "the same as on Friday": then that only says what it is like."""
    read = [claim.draft.act for claim in told.claims if claim.draft is not None]
    return any(isinstance(act, Gravity) and act.sg != AS_LAST for act in read)


def _counted(draft: Draft, claim: Claim, message: Message) -> None:
    """ "Gull, 28" while gull waits to be bottled: a bare number is what the batch waits for."""
    numbers = [span.qty for span in claim.part.spans if span.qty is not None]
    if (
        not isinstance(draft.act, Temperature)
        or claim.part.wordy
        or len(numbers) != 1
        or numbers[0].unit is not None
    ):
        return
    names = {target.of for ref in draft.refs for target in message.targets.of(ref)}
    batch = next((each for each in message.scene.under_way if {each.name} == names), None)
    if batch is not None and batch.next[:1] == ("bottle",) and numbers[0].value.is_integer():
        draft.act = Step(step="bottle", bottles=int(numbers[0].value))


def _kept(draft: Draft, scene: Scene) -> None:
    """Gives bottles that were counted the change since they were last known."""
    act = draft.act
    if not isinstance(act, Bottles) or act.left is None:
        return
    kept = [batch for batch in scene.batches if batch.bottled is not None and batch.bottles_left]
    names = [ref.name for ref in draft.refs]
    batch = next((each for each in kept if each.name in names), kept[0] if len(kept) == 1 else None)
    if batch is not None and batch.bottles_left is not None:
        draft.act = msgspec.structs.replace(act, change=act.left - batch.bottles_left)
        draft.refs = draft.refs or [Ref("batch", batch.name)]


def _name(act: Act) -> str:
    assert isinstance(act, Begin)
    return act.name or act.colour or "batch"


def _question(claim: Claim, message: Message) -> Draft | None:
    kind, _, topic = claim.label.partition(":")
    subject = subject_of(_put_straight(topic, message)) if kind == "ask" else None
    if subject is None:
        return None
    refs = [span.ref for span in claim.part.spans if span.ref is not None]
    return Draft(Question(subject=_filled(subject, claim.part.spans, message)), SURE, "nothing", refs=refs)


def _filled(subject: Subject, spans: Sequence[Span], message: Message) -> Subject:
    """The subject with what the words tell of it: which chore, or that free vessels are wanted."""
    if isinstance(subject, WasDone):
        step = next((span.step for span in spans if span.step is not None), None)
        return WasDone(step=step) if step is not None else Matter(about="stage")
    if isinstance(subject, Vessels):
        return Vessels(free=any(span.fold in message.small.free for span in spans))
    return subject


def _cleans(act: Act) -> bool:
    return isinstance(act, Step) and act.step == "sanitise"


class _Focus:
    """Which batch is spoken of where a saying names none: the one named before it, the one that it fits."""

    def __init__(self, message: Message, begun: Sequence[str]) -> None:
        self.message = message
        self.scene: Scene = message.scene
        self.begun = begun
        self.refs: list[Ref] = []
        self.fitted: SceneBatch | None = None
        """The batch that something told before fits alone."""
        self.every = [span.ref for span in message.spans if span.ref is not None]
        self._filled: list[Ref] = []
        """What the message bottles."""
        self._unnamed: list[Draft] = []
        """What is told of no wine by name."""

    def settle(self, draft: Draft, part: Saying) -> None:
        """Gives the draft its batch, if there is one that it can be about."""
        self._settle(draft, part)
        if isinstance(draft.act, Step) and draft.act.step == "bottle":
            self._filled = draft.refs

    def _settle(self, draft: Draft, part: Saying) -> None:
        filled = self._filled if isinstance(draft.act, Step) and draft.act.step == "label" else []
        if filled and not any(ref.kind in ("batch", "colour") for ref in draft.refs):
            draft.refs = filled  # "every one has a label on it": of what was bottled
            return
        several = [ref for ref in draft.refs if ref.kind == "batch"]
        own = several if len(several) > 1 else self._owned(part, draft) or self._pointed(part, draft)
        own = own or [ref for ref in draft.refs if ref != draft.to]
        if any(ref.kind == "every" for ref in own) and self._counts_things(part, draft):
            own = [ref for ref in own if ref.kind != "every"]
            draft.refs = own
        if own:
            draft.refs = own
            if not (_cleans(draft.act) and self.refs) and not all(map(self._empty, own)):
                self.refs = own
            return
        if (
            draft.doubt is Doubt.WHICH_BATCH
            or isinstance(draft.act, Question | Undo)
            or (self.message.replying_to is not None and self.message.replying_to.of)
        ):
            return
        if isinstance(draft.act, Step) and draft.act.step == "sanitise":
            return
        if self.refs and not (isinstance(draft.act, Note) and part.hard):
            draft.refs = self.refs
            return
        named = [ref for ref in self.every if ref.kind in ("batch", "colour") and ref != draft.to]
        if not named and is_reading(draft.act):  # "24 and 1.086, bucket 2"
            named = [ref for ref in self.every if ref.kind == "vessel" and not self._empty(ref)]
        if len(set(named)) == 1:
            draft.refs = named[:1]
            return
        if self.begun:
            draft.refs = [Ref("batch", self.begun[-1])]
            return
        self._unnamed.append(draft)
        found = self.fitted = self._fitting(draft) or self.fitted
        if found is not None:
            draft.refs = [Ref("batch", found.name)]

    def as_one(self) -> None:
        """Gives what one message tells of no wine by name to the one that all of it fits: "mixed, 22 c" to the one that
        waits to be mixed."""
        kinds = [type(draft.act) for draft in self._unnamed if is_reading(draft.act)]
        of_each = len(kinds) == len(self._unnamed) == len(self.scene.under_way) > 1
        if of_each and set(kinds) == {Gravity}:
            for draft in self._unnamed:
                draft.refs = []  # "1040 / 1046", of two: one of each
            return
        if len(self._unnamed) < 2 or self.every or len(set(kinds)) < len(kinds):
            return
        fits = [
            batch
            for batch in self.scene.under_way
            if all(self._fits(draft.act, batch) for draft in self._unnamed)
        ]
        if len(fits) == 1:
            for draft in self._unnamed:
                draft.refs = [Ref("batch", fits[0].name)]

    def _empty(self, ref: Ref) -> bool:
        """Whether it is a vessel that no wine is in: what is told of it is told of no wine."""
        return ref.kind == "vessel" and ref.name not in self.message.targets.in_vessel

    def name(self, part: Saying) -> None:
        """A part that tells nothing names the one batch that what follows is about: "the white: 1.060", "gave the plum
        a look, it is at 1.010"."""
        refs = [span.ref for span in part.spans if span.ref is not None]
        wines = [
            ref
            for ref in refs
            if ref.kind in ("batch", "colour")
            or (ref.kind == "vessel" and ref.name in self.message.targets.in_vessel)
        ]
        one = len({target.of for ref in wines for target in self.message.targets.of(ref)}) == 1
        if one and len(wines) == len(refs) and not part.asked:
            self.refs = wines

    def as_last(self, draft: Draft) -> bool:
        """Gives "the same" its number; False where none is known."""
        names = {target.of for ref in draft.refs for target in self.message.targets.of(ref)}
        names = names or {batch.name for batch in self.scene.under_way}
        batch = next((each for each in self.scene.batches if {each.name} == names), None)
        if batch is None or not batch.readings:
            return False
        told = (
            one.act
            for one in self.scene.recent or ()
            if isinstance(one.act, Gravity) and one.act.of == batch.name
        )
        last = next(told, None)
        draft.act = Gravity(sg=last.sg if last is not None else batch.readings[-1][1])
        return True

    def _pointed(self, part: Saying, draft: Draft) -> list[Ref]:
        """ "Mine", "the other one", "all four": batches pointed at without their names."""
        words = self.message.folds_of(part.spans)
        under_way = self.scene.under_way
        said = f" {' '.join(words)} "
        for each in self.message.small.no_two:
            said = said.replace(f" {each} ", " ")
        kinds = [span.ref for span in part.spans if span.ref is not None and span.ref.kind == "kind"]
        two = any(f" {each} " in said for each in self.message.small.two)
        if two and len(under_way) > 1 and not self._counts_things(part, draft):
            if kinds:
                return self._both_of_kind(kinds[0])
            if len(under_way) == 2 and is_reading(draft.act):
                return [Ref("every", "all")]
            names = self._two(draft) if len(under_way) > 2 else [batch.name for batch in under_way]
            return [Ref("batch", name) for name in names]
        several = len(under_way) > 1 or len(self.scene.batches) > 1
        named = [
            span.ref for span in part.spans if span.ref is not None and span.ref.kind in ("batch", "colour")
        ]
        if several and not named and any(f" {each} " in said for each in self.message.small.all):
            listed = list(dict.fromkeys(ref for ref in self.every if ref.kind in ("batch", "colour")))
            return listed if len(listed) > 1 else [Ref("every", "all")]  # "fig and plum, half a sachet each"
        if several and not named and words[:1] == ["all"] and self._of_every(draft):
            return [Ref("every", "all")]  # "all pitched", "all at 22"
        counted = next((n for each, n in self.message.small.counted.items() if f" {each} " in said), None)
        as_many = (
            counted is not None
            and len({ref for ref in self.every if ref.kind in ("batch", "colour", "vessel")}) == counted
        )
        if counted is not None and several and not (named or as_many) and counted == len(under_way):
            return [Ref("every", "all")]
        if self.message.small.mine & set(words) or "my one" in said or "my wine" in said:
            mine = [batch for batch in under_way if batch.by is not None and batch.by == self.message.by]
            if len(mine) == 1:
                return [Ref("batch", mine[0].name)]
        if self.message.small.other & set(words) and len(under_way) == 2 and not named:
            last = self._just_named() or self._spoken()
            rest = [batch for batch in under_way if batch.name != last]
            if last is not None and len(rest) == 1:
                return [Ref("batch", rest[0].name)]
        return []

    def _of_every(self, draft: Draft) -> bool:
        """Whether it is how warm all are, or a chore that each of them waits for."""
        act = draft.act
        waits = [batch.next[:_SOON] for batch in self.scene.under_way]
        return isinstance(act, Temperature) or (
            isinstance(act, Step) and act.step != "sanitise" and all(act.step in each for each in waits)
        )

    def _just_named(self) -> str | None:
        """The batch that the message named last, the first of several."""
        under_way = {batch.name for batch in self.scene.under_way}
        names = [target.of for ref in self.refs for target in self.message.targets.of(ref)]
        return next((name for name in names if name in under_way), None)

    def _owned(self, part: Saying, draft: Draft) -> list[Ref]:
        """ "Bo's is 1.012", "mine 1.012, hers 1.020": the one batch that somebody began, by whose it is."""
        under_way = self.scene.under_way
        named = any(span.ref is not None for span in part.spans)
        several = sum(span.qty is not None and reads_gravity(span.qty) for span in part.spans) > 1
        if len(under_way) < 2 or named or several or not is_reading(draft.act):
            return []
        said = self.message.words_of(part.spans).casefold()
        owned = [
            batch
            for batch in under_way
            if batch.by is not None and re.search(rf"\b{re.escape(batch.by.casefold())}['’]?s\b", said)
        ]
        if not owned and self.message.small.theirs.intersection(self.message.folds_of(part.spans)):
            mine = [batch for batch in under_way if batch.by == self.message.by]
            owned = [batch for batch in under_way if batch not in mine] if len(mine) == 1 else []
        return [Ref("batch", owned[0].name)] if len(owned) == 1 else []

    def _counts_things(self, part: Saying, draft: Draft) -> bool:
        """ "Both packets in", "sulphite and sorbate both in", "A and B both in the white": whether it is what went in that
        is counted, and no wines."""
        if not isinstance(draft.act, Addition | Step):
            return False
        wines = {ref for ref in self.every if ref.kind in ("batch", "colour")}
        if len(wines) == 1:
            return True
        spans = part.spans
        packets = any(
            each.is_("batchword", "every") and (then.has("packet") or then.has("substance"))
            for each, then in pairwise(spans)
        )
        things = {span.value("substance") for span in self.message.spans if span.has("substance")}
        return isinstance(draft.act, Addition) and (packets or len(things) > 1)

    def _both_of_kind(self, kind: Ref) -> list[Ref]:
        """ "Both demijohns", where two of that kind are in use."""
        names = [
            name
            for name in self.message.targets.names.of_kind(kind.name)
            if name in self.message.targets.in_vessel
        ]
        return [Ref("vessel", name) for name in names] if len(names) == 2 else []

    def _two(self, draft: Draft) -> list[str]:
        """The two batches that the message names, else those that wait for what is told, else those that were last spoken
        of."""
        named = {target.of for ref in self.every for target in self.message.targets.of(ref)}
        here = [batch.name for batch in self.scene.under_way if batch.name in named]
        if len(here) == 2 and is_reading(draft.act):
            return here
        step = draft.act.step if isinstance(draft.act, Step) else None
        waiting = [batch.name for batch in self.scene.under_way if batch.next[:1] == (step,)]
        if len(waiting) == 2:
            return waiting
        told = [one.act.of for one in self.scene.recent or () if one.act.of is not None]
        names = [batch.name for batch in self.scene.under_way]
        return [name for name in dict.fromkeys(told) if name in names][:2]

    def _spoken(self) -> str | None:
        """The batch that was last spoken of, while that is fresh."""
        for told in self.scene.recent or ():
            if self.message.sent_at - told.said_at > JUST_NOW:
                return None
            if told.act.of is not None and any(batch.name == told.act.of for batch in self.scene.batches):
                return told.act.of
        return None

    def _fitting(self, draft: Draft) -> SceneBatch | None:
        """The one batch that what is told fits; of several the one that was just spoken of."""
        act = draft.act
        if isinstance(act, Bottles) or (isinstance(act, Step) and act.step == "label"):
            can = [batch for batch in self.scene.batches if batch.bottled is not None]
        else:
            can = list(self.scene.under_way)
        if len(can) == 1:
            return can[0]
        if isinstance(act, Bottles):
            return None  # of which of them is asked
        fits = [batch for batch in can if self._fits(act, batch)]
        last = self._spoken()
        spoken = next((batch for batch in fits if batch.name == last), None)
        if isinstance(act, Gravity) and sum(not batch.readings for batch in fits) > 1:
            return None  # two musts: their first readings are as like as not
        if spoken is not None or not fits:
            return spoken
        if len(fits) > 1:
            return None
        if isinstance(act, Gravity):  # one curve or another: it must be the only one that waits for a reading
            others = [batch for batch in can if batch is not fits[0] and "gravity" in batch.next[:_SOON]]
            if others and self.message.addressed:
                when = self.message.sent_at
                near = plausible.distance(fits[0], act.sg, when) <= plausible.NEAR
                far = all(plausible.distance(batch, act.sg, when) >= plausible.FAR for batch in others)
                return fits[0] if near and far else None
            return fits[0] if fits[0].next and not others else None
        return fits[0]

    def _fits(self, act: Act, batch: SceneBatch) -> bool:
        soon = batch.next[:_SOON]
        if isinstance(act, Gravity):
            if not batch.readings:
                return "gravity" in soon and act.sg >= _MUST
            target = self.message.targets.batch(batch)
            return plausible.concern(act, target, self.scene, self.message.sent_at, sweetened=False) is None
        if isinstance(act, Step):
            return act.step in soon
        if isinstance(act, Addition):
            what = {"finings": "fine", "sulphite": "stabilise", "sorbate": "stabilise", "yeast": "pitch"}.get(
                act.what
            )
            return what in soon if what else True
        return isinstance(act, Temperature | Volume | Note | Bottles)


_MUST = 1.05
"""No must begins below this."""
