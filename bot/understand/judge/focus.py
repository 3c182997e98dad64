"""Which batch something is told of that names none: the one named before it, the one pointed at ("mine", "both", "the other
one"), the one that it fits."""

import re
from collections.abc import Sequence
from datetime import timedelta
from itertools import pairwise

from bot.cellar.log.acts import (
    Act,
    Addition,
    Bottles,
    Gravity,
    Note,
    Question,
    Step,
    Temperature,
    Undo,
    Volume,
)
from bot.understand.claims.drafts import Draft
from bot.understand.claims.said import is_reading
from bot.understand.judge import plausible
from bot.understand.scene import Scene, SceneBatch
from bot.understand.text.clauses import tells_gravity
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.sayings import Saying
from bot.understand.verdict import Doubt

JUST_NOW = timedelta(minutes=20)
"""So long what was spoken of is still what is spoken of."""


class Focus:
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
        if draft.settled:
            self.name(part)
            return
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
        pool = self._pool(draft)
        if own and _shelved(draft.act) and len(pool) > 1:
            every = any(ref.kind == "every" for ref in own)
            own = [ref for ref in own if ref.kind != "every"] + (_batches(pool) if every else [])
        if own:
            draft.refs = own
            if not (cleans(draft.act) and self.refs) and not all(map(self._empty, own)):
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
        pool = self._pool(draft)
        said = f" {' '.join(words)} "
        for each in self.message.small.no_two:
            said = said.replace(f" {each} ", " ")
        named = [
            span.ref for span in part.spans if span.ref is not None and span.ref.kind in ("batch", "colour")
        ]
        two = any(f" {each} " in said for each in self.message.small.two)
        if two and len(pool) > 1 and not self._counts_things(part, draft):
            return self._both(part, draft, pool)
        several = len(pool) > 1 or len(self.scene.batches) > 1
        if several and not named and self._all(said, words, draft, pool):
            listed = list(dict.fromkeys(ref for ref in self.every if ref.kind in ("batch", "colour")))
            if len(listed) > 1:
                return listed  # "fig and plum, half a sachet each"
            return self._each(draft, pool)
        if self.message.small.mine & set(words) or "my one" in said or "my wine" in said:
            mine = [batch for batch in pool if batch.by is not None and batch.by == self.message.by]
            if len(mine) == 1:
                return [Ref("batch", mine[0].name)]
        if self.message.small.other & set(words) and len(pool) == _BOTH and not named:
            last = self._just_named() or self._spoken()
            rest = [batch for batch in pool if batch.name != last]
            if last is not None and len(rest) == 1:
                return [Ref("batch", rest[0].name)]
        return []

    def _pool(self, draft: Draft) -> list[SceneBatch]:
        """The batches that something can be told of: those in bottles for what became of bottles and for labels, else those
        under way."""
        if not _shelved(draft.act):
            return list(self.scene.under_way)
        kept = [batch for batch in self.scene.batches if batch.bottled is not None]
        bare = [batch for batch in kept if batch.unlabelled or "label" in batch.next]
        return bare if bare and isinstance(draft.act, Step) else kept

    def _both(self, part: Saying, draft: Draft, pool: Sequence[SceneBatch]) -> list[Ref]:
        """ "Both", "the pair of them": of two the two, of more those of a kind, those that wait, or were spoken of."""
        kinds = [span.ref for span in part.spans if span.ref is not None and span.ref.kind == "kind"]
        if kinds:
            return self._both_of_kind(kinds[0])
        if len(pool) == _BOTH and is_reading(draft.act):
            return [Ref("every", "all")]
        return [Ref("batch", name) for name in self._two(draft)] if len(pool) > _BOTH else _batches(pool)

    def _each(self, draft: Draft, pool: Sequence[SceneBatch]) -> list[Ref]:
        """All of them; of a chore those that wait for it, where several do and others do not."""
        if not isinstance(draft.act, Bottles | Step):
            return [Ref("every", "all")]
        step = draft.act.step if isinstance(draft.act, Step) else None
        wait = [batch for batch in pool if step in batch.next[:_SOON]]
        return _batches(wait if len(wait) > 1 else pool)

    def _all(self, said: str, words: Sequence[str], draft: Draft, pool: Sequence[SceneBatch]) -> bool:
        """ "All of them", "all pitched", "21 all", "all three": whether every one is meant."""
        small = self.message.small
        every = (
            small.each_one if _shelved(draft.act) else small.all
        )  # "the lot" are all the bottles of one wine
        if any(f" {each} " in said for each in every):
            return True
        if words[:1] == ["all"] and not draft.refs and self._of_every(draft):
            return True
        if "all" in words and isinstance(draft.act, Temperature):
            return True  # "temps all 23"
        counted = next((n for each, n in small.counted.items() if f" {each} " in said), None)
        known = {ref for ref in self.every if ref.kind in ("batch", "colour", "vessel")}
        return counted is not None and len(known) != counted and counted == len(pool)

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
        shelved = isinstance(draft.act, Bottles)
        kept = [batch for batch in self.scene.batches if batch.bottled is not None]
        under_way = kept if shelved else list(self.scene.under_way)
        named = any(span.ref is not None for span in part.spans)
        several = sum(map(tells_gravity, part.spans)) > 1
        if len(under_way) < 2 or named or several or not isinstance(draft.act, _OWNED):
            return []
        said = self.message.words_of(part.spans).casefold()
        reading = is_reading(draft.act)
        owned = [
            batch
            for batch in under_way
            if batch.by is not None and _names_owner(said, batch.by.casefold(), plainly=not reading)
        ]
        if not owned and self.message.small.theirs.intersection(self.message.folds_of(part.spans)):
            mine = [batch for batch in under_way if batch.by == self.message.by]
            owned = [batch for batch in under_way if batch not in mine] if len(mine) == 1 else []
        if not owned and shelved and self.message.small.mine.intersection(self.message.folds_of(part.spans)):
            owned = [batch for batch in under_way if batch.by == self.message.by]
        return [Ref("batch", owned[0].name)] if len(owned) == 1 else []

    def _counts_things(self, part: Saying, draft: Draft) -> bool:
        """ "Both packets in", "sulphite and sorbate both in", "A and B both in the white": whether it is what went in that
        is counted, and no wines."""
        if not isinstance(draft.act, Addition | Step) or cleans(draft.act):
            return False
        spans = part.spans
        wines = {
            span.ref
            for span in self.message.spans
            if span.ref is not None and span.ref.kind in ("batch", "colour") and span.lo < spans[-1].hi
        }  # not "yeast into each of them. oak into the red only"
        if len(wines) == 1:
            return True
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


_OWNED = (Gravity, Temperature, Step, Addition, Bottles)
"""What can be told of somebody's own wine."""
_BOTH = 2
_SOON = 3
"""So many of the chores to come can be the one that is told of."""
_MUST = 1.05
"""No must begins below this."""


def _names_owner(said: str, name: str, *, plainly: bool) -> bool:
    """Whether "Bo's" is said; `plainly` where it stands for the wine, and is no "for Bo's birthday"."""
    whose = rf"{re.escape(name)}['’]?s"
    form = rf"\b(?:of|in|into|to|from) {whose}$|^{whose}$" if plainly else rf"\b{whose}\b"
    return re.search(form, said) is not None


def cleans(act: Act) -> bool:
    """Whether it is a cleaning."""
    return isinstance(act, Step) and act.step == "sanitise"


def _shelved(act: Act) -> bool:
    """Whether it is told of wines in bottles: what became of bottles, and labels."""
    return isinstance(act, Bottles) or (isinstance(act, Step) and act.step == "label")


def _batches(pool: Sequence[SceneBatch]) -> list[Ref]:
    return [Ref("batch", batch.name) for batch in pool]
