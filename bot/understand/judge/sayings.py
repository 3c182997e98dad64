"""A message read by its sayings: each labelled by what was learned, filled from what stands in it, and about the batch that
the household waits for, where none is named."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, partial
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
from bot.understand.claims.said import AS_LAST, SURE, AllTold, Claim, Teller, cued
from bot.understand.judge.focus import JUST_NOW, Focus
from bot.understand.judge.pieces import with_pieces
from bot.understand.judge.settle import Settler
from bot.understand.scene import Scene, SceneBatch
from bot.understand.text import moods
from bot.understand.text.clauses import Clause, reads_gravity
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.sayings import Saying, carried, sayings
from bot.understand.text.spans import Span
from bot.understand.verdict import Doubt, Verdict

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
    with_pieces(told, message)
    numbers = put_right(told, message, said)
    if begun:
        unsure = [
            claim
            for claim in told.claims
            if _HALF <= claim.sure < _BESIDE and claim.label.partition(":")[0] in _OF_CHORES
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
    if after is None or (beginning.verdict == "ask" and beginning.doubt not in _WITH_THE_REST):
        return beginning
    acts = (*beginning.acts, *after.acts)
    if beginning.verdict == after.verdict == "act":
        return msgspec.structs.replace(beginning, acts=acts)
    worse = after if after.verdict == "ask" else beginning
    return msgspec.structs.replace(worse, acts=acts, options=(acts,))


_WITH_THE_REST = (Doubt.HALF_UNDERSTOOD, Doubt.UNSURE)
"""What is in doubt of a beginning and can be asked together with what else is told."""


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
    focus = Focus(message, [_name(draft.act) for draft in begun])
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


def _follow(focus: Focus, told: AllTold, claim: Claim, at: int) -> int:
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
