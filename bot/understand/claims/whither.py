"""Where a wine went, told by the vessel alone: "its in bucket 2", "done. bucket 2", "heron's in two".

That it was drawn off is not said, since everybody knows that it was to be. So a vessel counts for that only of a wine that
waits to be drawn off, or that somebody just drew off without saying where to; and of the last racking where it is put right.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from itertools import pairwise

from bot.cellar.log.acts import Step, Undo
from bot.understand.claims.drafts import Draft
from bot.understand.claims.labels import LabelledSaying
from bot.understand.scene import OptionsAsked, Recent, SceneBatch
from bot.understand.text.clauses import reads_gravity
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.sayings import Saying, asks
from bot.understand.text.spans import Span
from bot.understand.verdict import Doubt

JUST_TOLD = timedelta(minutes=20)
"""So long what was told is still completed."""

_SURELY, _BARELY = 0.93, 0.5
"""How sure it is: with a small word that says so, and where there is a vessel and nothing else."""
_MOODS = ("plan", "request", "unreal", "want")
_SCORE = 9.0
_DRY = 1.0
"""A gravity told beside it, up to this, is the one that the drawing off waited for."""
_KINDS = frozenset({"batch", "colour"})
_ELSEWHERE = frozenset({"step", "substance", "measure", "packet", "bottles", "question"})


@dataclass(slots=True)
class Whither:
    """The racking that is meant, after what it takes the place of; `at` is the saying that names the vessel, and `parts`
    are all that say no more."""

    drafts: list[Draft]
    sure: float
    at: int
    parts: set[int] = field(default_factory=set)


def whither(message: Message, said: Sequence[LabelledSaying]) -> Whither | None:
    """Where the message says that a wine went, by a vessel that is free; None where it does not, or says how it went."""
    proposed = any(token.fold in message.small.proposes for token in message.tokens)
    if proposed or message.text.rstrip().endswith("?"):
        return None
    others = [at for at, one in enumerate(said) if _stands_there(one.saying, message)]
    places = [
        at
        for at, one in enumerate(said)
        if at not in others and _plain(one.saying, message) and _points(one.saying)
    ]
    ready: str | None = None
    if not places:
        ready = _made_ready(message, said)
        places = [
            at
            for at, one in enumerate(said)
            if ready is not None
            and at not in others
            and _plain(one.saying, message)
            and _there(one.saying, message)
        ]
    if not places:
        return None
    told = _Whereabouts(
        message, [said[at].saying for at in places], [one for at, one in enumerate(said) if at not in others]
    )
    goal = told.goal() if ready is None else Ref("vessel", ready) if told.batches else None
    if goal is None:
        return None
    refs = told.refs()
    which = Doubt.WHICH_BATCH if not refs else None
    step = Draft(Step(step="rack"), _SCORE, "batch", refs=refs, to=goal, doubt=which)
    old = told.replaced
    drafts = [Draft(Undo(entry=old.entry), _SCORE, "nothing"), step] if old is not None else [step]
    beside = {at for at, one in enumerate(said) if at in (*places, *others) or _says_no_more(one)}
    alone = len(beside) == len(places) and not told.said_so()
    at = next((at for at in places if told.names_it(said[at].saying)), places[0])
    return Whither(drafts, _BARELY if alone else _SURELY, at, beside)


class _Whereabouts:
    """What the sayings that name a vessel and nothing else tell of one racking."""

    def __init__(self, message: Message, parts: Sequence[Saying], said: Sequence[LabelledSaying]) -> None:
        self.message = message
        self.parts = parts
        self.named = [
            span.ref
            for one in said
            for span in one.saying.spans
            if span.ref is not None and span.ref.kind in _KINDS
        ]
        names = {target.of for ref in self.named for target in message.targets.of(ref)}
        soon = [old for old in message.scene.recent or () if message.sent_at - old.said_at <= JUST_TOLD]
        self.replaced = self._replaced(soon[0] if soon else None, names)
        self.batches = self._batches(names, soon)

    def _replaced(self, last: Recent | None, names: set[str | None]) -> Recent | None:
        """The racking that was told just now: without its vessel, or with another one that is put right."""
        if last is None or last.entry is None or not isinstance(last.act, Step) or last.act.step != "rack":
            return None
        if names and names != {last.act.of}:
            return None
        sorry = last.by == self.message.by and self._sorry()
        return last if last.act.to is None or sorry else None

    def _sorry(self) -> bool:
        words = [token.fold for token in self.message.tokens]
        return bool({*words[:2], *words[-2:]} & self.message.small.sorry)

    def _batches(self, names: set[str | None], soon: Sequence[Recent]) -> list[SceneBatch]:
        """The batches that it can be about."""
        under_way = self.message.scene.under_way
        if self.replaced is not None:
            return [batch for batch in under_way if batch.name == self.replaced.act.of]
        proved = any(
            span.qty is not None and reads_gravity(span.qty) and span.qty.value <= _DRY
            for span in self.message.spans
        )
        awaited = (("rack",), ("stir", "rack"), *((("gravity", "rack"),) if proved else ()))
        waiting = [batch for batch in under_way if batch.next[:1] in awaited or batch.next[:2] in awaited]
        if names:
            return [batch for batch in waiting if {batch.name} == names]
        asked = self._asked()
        if asked is not None:
            return [batch for batch in under_way if batch.name == asked]
        spoken = {old.act.of for old in soon}
        alone = [batch for batch in waiting if batch.name in spoken]
        return alone if len(alone) == 1 else waiting

    def _asked(self) -> str | None:
        """The batch of a racking that was told just now, and about which the bot has a question."""
        for open_ in self.message.scene.open:
            if isinstance(open_, OptionsAsked) and not open_.others:
                acts = [act for option in open_.options for act in option]
                racked = {act.of for act in acts if isinstance(act, Step) and act.step == "rack"}
                whole = all(isinstance(act, Step) and act.step == "rack" for act in acts)
                return racked.pop() if whole and len(racked) == 1 else None
        return None

    def refs(self) -> list[Ref]:
        return [Ref("batch", self.batches[0].name)] if len(self.batches) == 1 else []

    def goal(self) -> Ref | None:
        """The one free vessel that is named, by its name or by its number."""
        if not self.batches:
            return None
        held = {name for batch in self.batches for name in (batch.vessel, *batch.also_in)}
        named = {
            span.ref.name
            for part in self.parts
            for span in part.spans
            if span.ref is not None and span.ref.kind == "vessel"
        }
        goals = {name for name in named - held if name not in self.message.targets.in_vessel}
        if named - held - goals:
            return None  # something is told of another wine's vessel
        numbers = [
            (span.qty.value, led)
            for part in self.parts
            for span, led in _numbers(part)
            if span.qty is not None
        ]
        for number, led in numbers:
            found = self._numbered(int(number), held)
            if goals and found & goals:
                continue
            if goals or not (led or self.replaced is not None) or len(found) != 1:
                return None
            goals = found
        return Ref("vessel", next(iter(goals))) if len(goals) == 1 else None

    def _numbered(self, number: int, held: set[str | None]) -> set[str]:
        """The free vessels of a number; of several, those of the kind that the wine stands in."""
        names = self.message.targets.names.numbered(number)
        free = {name for name in names if name not in self.message.targets.in_vessel}
        kinds = {name.split()[0] for name in held if name}
        return {name for name in free if name.split()[0] in kinds} if len(free) > 1 else free

    def said_so(self) -> bool:
        """Whether more than the vessel is there: "in", "its", "now", whose it is, or what it completes."""
        small = [span for part in self.parts for span in part.spans if span.ref is None and span.qty is None]
        return self.replaced is not None or bool(self.named) or bool(small)

    def names_it(self, part: Saying) -> bool:
        return any(
            (span.ref is not None and span.ref.kind == "vessel") or span.qty is not None
            for span in part.spans
        )


def _plain(part: Saying, message: Message) -> bool:
    """Whether there are only names, numbers of vessels, and small words that say where something is or went."""
    if asks(part):
        return False
    sorry, small = message.small.sorry, message.small.stands
    for span in part.spans:
        if span.ref is not None:
            if span.ref.kind not in (*_KINDS, "vessel"):
                return False
        elif span.qty is not None:
            if span.qty.unit is not None or span.qty.decimals:
                return False
        elif span.fold in sorry or set(span.fold.split()) <= small:
            continue
        elif (
            (any(span.is_("mood", mood) for mood in (*_MOODS, "negation")) and not span.has("join"))
            or any(map(span.has, _ELSEWHERE))
            or not _small(span)
        ):
            return False
    return True


def _small(span: Span) -> bool:
    fillers = span.is_("filler", "link") or span.is_("filler", "social") or span.is_("answer", "yes")
    place = any(span.is_("part", kind) for kind in ("into", "isin", "inside")) or span.is_("mood", "have")
    return fillers or place or span.has("move") or span.has("batchword") or span.is_("mood", "done")


def _stands_there(part: Saying, message: Message) -> bool:
    """ "3 is heron's", "bucket 1 has the white in it": another wine and the vessel that it has not left."""
    found = (
        target.batch
        for span in part.spans
        if span.ref is not None and span.ref.kind in _KINDS
        for target in message.targets.of(span.ref)
    )
    batches = {batch.name: batch for batch in found if batch is not None}
    homes = {name for batch in batches.values() for name in (batch.vessel, *batch.also_in)}
    named = {span.ref.name for span in part.spans if span.ref is not None and span.ref.kind == "vessel"}
    for span, _ in _numbers(part):
        named |= (
            set(message.targets.names.numbered(int(span.qty.value))) & homes
            if span.qty is not None
            else set()
        )
    return len(batches) == 1 and bool(named) and named <= homes and _plain(part, message)


def _made_ready(message: Message, said: Sequence[LabelledSaying]) -> str | None:
    """The one free vessel that the message says was cleaned: "cleaned bucket 1 and it's in there now"."""
    washed = message.small.washed
    named = {
        span.ref.name
        for one in said
        if not one.saying.asked
        and (
            washed.intersection(message.folds_of(one.saying.spans))
            or any(span.step == "sanitise" for span in one.saying.spans)
        )
        for span in one.saying.spans
        if span.ref is not None and span.ref.kind == "vessel"
    }
    free = named - set(message.targets.in_vessel)
    return free.pop() if len(named) == len(free) == 1 else None


def _there(part: Saying, message: Message) -> bool:
    """Whether it says "in there", "into that"."""
    return any(
        span.fold in message.small.it
        and any(before.is_("part", kind) for kind in ("into", "in", "isin", "inside"))
        for before, span in pairwise(part.spans)
    )


def _points(part: Saying) -> bool:
    return any((span.ref is not None and span.ref.kind == "vessel") for span in part.spans) or any(
        True for _ in _numbers(part)
    )


def _numbers(part: Saying) -> list[tuple[Span, bool]]:
    """The numbers of a saying, each with whether "in", "into" or the like stands right before it."""
    return [
        (span, place > 0 and any(part.spans[place - 1].is_("part", kind) for kind in ("into", "in", "isin")))
        for place, span in enumerate(part.spans)
        if span.qty is not None
    ]


def _says_no_more(one: LabelledSaying) -> bool:
    """Whether a saying only says that it was done, or how it was drawn off."""
    part = one.saying
    named = (span.ref for span in part.spans if span.ref is not None)
    if (
        part.asked
        or any(span.qty is not None for span in part.spans)
        or any(ref.kind not in _KINDS for ref in named)
    ):
        return False
    label, _ = one.best()
    moved = all(
        span.has("move") or span.has("filler") or span.is_("mood", "have") or span.ref is not None
        for span in part.spans
    ) and any(span.has("move") for span in part.spans)
    steps = {span.step for span in part.spans if span.step is not None}
    return steps <= {"rack"} and (
        moved
        or (label in ("step:rack", "done") and not any(span.ref is not None for span in part.spans))
        or any(span.is_("mood", "done") for span in part.spans)
    )
