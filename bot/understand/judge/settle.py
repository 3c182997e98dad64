"""Drafts to a verdict: which batch each is about, when it was, and whether it can be true."""

from collections.abc import Sequence
from datetime import datetime
from itertools import permutations

import msgspec

from bot.cellar.log.acts import (
    Act,
    Addition,
    Begin,
    Bottles,
    Draw,
    Gravity,
    Nickname,
    Note,
    Promised,
    Question,
    Split,
    Step,
    Temperature,
    Undo,
    Vessel,
    Volume,
)
from bot.cellar.log.subjects import Reckon
from bot.understand.claims import corrections
from bot.understand.claims.drafts import Draft
from bot.understand.judge import plausible
from bot.understand.judge.offers import WHY, Completed, options, summary
from bot.understand.text.message import Message
from bot.understand.text.names import Ref, Target
from bot.understand.text.split import all_listed
from bot.understand.verdict import Doubt, Verdict

_OF_ONE = frozenset({"abv", "ready_to_rack", "ready_to_bottle"})
_SHARED = 5
"""Values, one for each wine, whose every order is tried."""
_NEVER_OFFERED = (Doubt.OUT_OF_RANGE, Doubt.NAME_REFUSED)
"""What no button may offer to write down: it goes before every other doubt of the message."""

_BATCHLESS = frozenset({"help", "overview", "stock", "reckon"})


def _weight(item: Completed) -> int:
    if item.doubt in _NEVER_OFFERED:
        return 0
    return 2 if item.doubt is Doubt.WHICH_BATCH else 1


_Timeless = Question | Promised | Note | Nickname | Undo
"""Acts that are of the moment when they are said."""


class Settler:
    """Settles the drafts of one message."""

    def __init__(self, message: Message) -> None:
        self.scene = message.scene
        self.sent_at = message.sent_at
        self.targets = message.targets
        self.small = message.small
        self.replied = message.replied
        self.entry = message.entry
        self.addressed = message.addressed

    def verdict(self, drafts: Sequence[Draft], *, half: bool, unread: str | None = None) -> Verdict:
        """What to do with the drafts; `half`: a part of the message was not understood, `unread` in its words."""
        sweetened = any(isinstance(draft.act, Addition) and draft.act.what == "sugar" for draft in drafts)
        shared = self._shared(drafts)
        settled = shared or [
            self._settle(draft, sweetened=sweetened) for draft in drafts for _ in range(draft.times)
        ]
        self._clashes(settled)
        self._where_it_went(settled)
        self._just_bottled(settled)
        doubtful = [item for item in settled if item.doubt is not None]
        acts = tuple(act for item in settled for act in (item.choices or item.acts))
        if not doubtful and not half:
            return Verdict(verdict="act", acts=acts, why=summary(acts))
        if not doubtful:
            return Verdict(
                verdict="ask",
                acts=acts,
                why=WHY[Doubt.HALF_UNDERSTOOD],
                doubt=Doubt.HALF_UNDERSTOOD,
                options=(acts,),
                unread=unread,
            )
        first = min(doubtful, key=_weight)  # the first of the heaviest
        assert first.doubt is not None
        return Verdict(
            verdict="ask",
            acts=acts,
            why=WHY[first.doubt],
            doubt=first.doubt,
            options=() if first.doubt in _NEVER_OFFERED else options(settled),
            about=first.about,
            doubted=next(iter(first.choices or first.acts), None),
            unread=unread,
        )

    # ------------------------------------------------------------------ one draft

    def _settle(self, draft: Draft, *, sweetened: bool) -> Completed:
        if draft.settled:
            return Completed([draft.act])
        if isinstance(draft.act, Begin):
            return self._begin(draft)
        at, doubt = self._when(draft)
        targets = self._two_of(draft, self._targets(draft))
        act = _as_mixing(draft.act, targets)
        result = Completed([])
        if draft.doubt in (Doubt.OUT_OF_RANGE, Doubt.NAME_REFUSED):
            result.doubt, result.about = draft.doubt, draft.about
            if plausible.tellable(act) and len(targets) == 1 and targets[0].doubt is None:
                result.acts.append(_about(act, targets[0].of, at))
            return result
        to: str | None = None
        if draft.to is not None and isinstance(act, Step):
            goal = draft.to
            if goal.kind == "vessel":
                to = goal.name
            else:
                to, result.doubt, result.about = self._goal(goal, targets)
                free = self._free(goal.name, targets) if result.doubt is Doubt.WHICH_VESSEL else []
                if result.doubt is Doubt.WHICH_VESSEL and not free and (small := self._empty(goal.name)):
                    result.doubt, result.about, result.instead = Doubt.TOO_SMALL, small[0], []
                if len(targets) == 1 and targets[0].doubt is None and len(free) > 1:
                    moved = _in_part(_about(act, targets[0].of, at), targets[0], draft.refs)
                    result.choices = [msgspec.structs.replace(moved, to=vessel) for vessel in free]
                    return result
            act = msgspec.structs.replace(act, to=to)
        if draft.doubt is Doubt.HALF_UNDERSTOOD and draft.about is not None:
            result.doubt, result.about = draft.doubt, draft.about
            return result
        if not targets:
            return self._open(draft, act, at, doubt, result, sweetened=sweetened)
        for target in targets:
            if target.doubt is not None:
                result.doubt, result.about = result.doubt or target.doubt, result.about or target.about
                if target.choices:
                    order = self._ranked(act, at or self.sent_at)
                    names = sorted(
                        target.choices, key=lambda of: order.index(of) if of in order else len(order)
                    )
                    result.choices += [_about(act, of, at) for of in names]
                else:
                    result.acts.append(_about(act, None, at))
                continue
            told = _in_part(_about(act, target.of, at), target, draft.refs)
            result.acts.append(told)
            worry = plausible.concern(told, target, self.scene, at or self.sent_at, sweetened=sweetened)
            if worry is not None and result.doubt is None:
                result.doubt, result.about = worry.doubt, worry.about
                if worry.doubt is Doubt.TOO_SMALL:
                    result.instead = list(worry.likely)
                    continue
                result.likely = list(worry.likely) or [
                    _about(other, target.of, at)
                    for other in draft.likely
                    if plausible.concern(
                        _about(other, target.of, at),
                        target,
                        self.scene,
                        at or self.sent_at,
                        sweetened=sweetened,
                    )
                    is None
                ]
        if result.doubt is None and (draft.doubt or doubt):
            result.doubt, result.about = draft.doubt or doubt, draft.about
        return result

    def _open(
        self,
        draft: Draft,
        act: Act,
        at: datetime | None,
        doubt: Doubt | None,
        result: Completed,
        *,
        sweetened: bool,
    ) -> Completed:
        """A draft that names no batch."""
        if isinstance(act, Question) and self._which(draft):
            result.choices = [_about(act, name, None) for name in self._ranked(act, self.sent_at)]
            result.doubt = draft.doubt or Doubt.WHICH_BATCH
            return result
        if draft.needs == "nothing" or isinstance(act, Undo):
            result.acts.append(_about(act, act.of, at))
            result.doubt, result.about = draft.doubt or doubt, draft.about
            return result
        if draft.needs == "bottled":
            names = [batch.name for batch in self.scene.batches if batch.bottled is not None]
        else:
            names = self._ranked(act, at or self.sent_at)
        unsure = None if isinstance(act, Draw) and draft.doubt is Doubt.UNSURE else draft.doubt
        result.doubt, result.about = unsure or result.doubt or Doubt.WHICH_BATCH, draft.about
        if isinstance(act, Step) and act.step == "sanitise":
            wait = [batch.name for batch in self.scene.under_way if batch.next[:1] == ("sanitise",)]
            result.acts.append(_about(act, wait[0] if len(wait) == 1 else None, at))
            result.doubt = draft.doubt or doubt
            return result
        if not names:
            result.acts.append(_about(act, None, at))
        else:
            result.choices = [_about(act, name, at) for name in names]
        return result

    def _which(self, draft: Draft) -> bool:
        """ "How strong is it": which of several is meant must be asked."""
        assert isinstance(draft.act, Question)
        it = draft.clause is not None and any(span.fold in ("it", "its") for span in draft.clause.spans)
        return it and len(self.scene.under_way) > 1 and draft.act.about in _OF_ONE

    def _ranked(self, act: Act, when: datetime) -> list[str]:
        """The batches under way, those that the value fits first."""
        batches = list(self.scene.under_way)
        if isinstance(act, Gravity):
            batches.sort(key=lambda batch: plausible.distance(batch, act.sg, when))
        return [batch.name for batch in batches]

    def _targets(self, draft: Draft) -> list[Target]:
        bottled = (
            draft.needs == "bottled"
            or (isinstance(draft.act, Question) and draft.act.about == "stock")
            or (isinstance(draft.act, Step) and draft.act.step == "label")
        )
        found: list[Target] = []
        if isinstance(draft.act, Vessel) and draft.act.of is not None:
            return []  # emptied by what the message tells besides
        for ref in draft.refs:
            cleaned = isinstance(draft.act, Step) and draft.act.step == "sanitise"
            if (cleaned or isinstance(draft.act, Vessel)) and ref.kind == "vessel":
                target_list: tuple[Target, ...] = (self.targets.vessel(ref.name),)
            else:
                target_list = self.targets.of(ref, bottled=bottled)
            for target in target_list:
                if target.of is None or all(other.of != target.of for other in found):
                    found.append(target)
        if isinstance(draft.act, Question):
            return self._asked(draft.act, found)
        if isinstance(draft.act, Note | Promised) and draft.act.of is None:
            if not found and isinstance(draft.act, Note):
                found = [self.replied] if self.replied is not None else self._only()
            return found[:1]
        if isinstance(draft.act, Promised | Undo):
            return []
        if (
            len(found) > 1
            and isinstance(draft.act, Gravity)
            and not any(ref.kind == "every" for ref in draft.refs)
        ):
            listed = draft.clause is not None and all_listed(draft.clause, len(found))
            plain = [target for target in found if target.batch is not None]
            found = found if listed else plain[:1] or found[:1]
        if found:
            return found
        if self.replied is not None:
            return [self.replied]
        if draft.needs == "bottled":
            bottled_batches = [batch for batch in self.scene.batches if batch.bottled is not None]
            return [self.targets.batch(bottled_batches[0])] if len(bottled_batches) == 1 else []
        if isinstance(draft.act, Step) and draft.act.step == "sanitise":
            return []
        waiting = [batch for batch in self.scene.batches if batch.unlabelled]
        if isinstance(draft.act, Step) and draft.act.step == "label" and len(waiting) == 1:
            return [self.targets.batch(waiting[0])]
        return self._only()

    def _two_of(self, draft: Draft, targets: list[Target]) -> list[Target]:
        """ "Both", of more than two: the two that wait for what is told."""
        names = [f" {ref.name} " for ref in draft.refs if ref.kind == "every"]
        both = any(f" {each} " in name for name in names for each in self.small.two)
        if not both or len(targets) < 3 or not isinstance(draft.act, Step):
            return targets
        step = draft.act.step
        waiting = [each for each in targets if each.batch is not None and each.batch.next[:1] == (step,)]
        return waiting if len(waiting) == 2 else targets

    def _only(self) -> list[Target]:
        """The one batch under way."""
        under_way = self.scene.under_way
        return [self.targets.batch(under_way[0])] if len(under_way) == 1 else []

    def _asked(self, act: Question, found: list[Target]) -> list[Target]:
        if act.of is not None or act.about in ("help", "overview"):
            return []
        if act.about == "craft":
            found = [
                target for target in found if target.doubt is not Doubt.WHICH_VESSEL
            ]  # "out of one bucket"
        if found:
            if len(found) > 1:
                return found if all(target.doubt is None for target in found) else found[:1]
            return found
        if self.replied is not None:
            return [self.replied]
        return [] if act.about in _BATCHLESS else self._only()

    def _free(self, kind: str, targets: Sequence[Target]) -> list[str]:
        """The vessels of a kind that are free, and not known to be too small for the batch."""
        litres = next((target.batch.litres for target in targets if target.batch is not None), None)
        size = {vessel.name: vessel.litres for vessel in self.scene.vessels}
        return [
            name
            for name in self._empty(kind)
            if (size.get(name) or litres or 0) >= (litres or 0) - plausible.ROUNDED
        ]

    def _empty(self, kind: str) -> list[str]:
        return [name for name in self.targets.names.of_kind(kind) if name not in self.targets.in_vessel]

    def _goal(self, ref: Ref, targets: Sequence[Target]) -> tuple[str | None, Doubt | None, str | None]:
        """The vessel of a transfer that was not named outright."""
        if ref.kind == "unknown":
            if self.targets.one_more(ref):
                return ref.name, None, None
            return None, Doubt.UNKNOWN_VESSEL, ref.name
        vessels = self.targets.names.of_kind(ref.name)
        free = [name for name in vessels if name not in self.targets.in_vessel]
        if len(vessels) == 1 or len(free) == 1:
            return (free or list(vessels))[0], None, None
        if len(fitting := self._free(ref.name, targets)) == 1:
            return fitting[0], None, None
        return None, Doubt.WHICH_VESSEL, ref.name

    def _when(self, draft: Draft) -> tuple[datetime | None, Doubt | None]:
        """`at`, when it is not now, and the doubt about a time still to come."""
        if isinstance(draft.act, _Timeless):
            return None, None
        return plausible.when(draft.moments, self.sent_at, self.scene)

    def _begin(self, draft: Draft) -> Completed:
        act = draft.act
        at, doubt = self._when(draft)
        result = Completed([_about(act, None, at)])
        result.doubt, result.about = draft.doubt or doubt, draft.about
        if draft.doubt is Doubt.OUT_OF_RANGE:
            result.acts = []
        if draft.doubt in (Doubt.OUT_OF_RANGE, Doubt.NAME_REFUSED):
            return result
        if draft.to is not None and result.doubt is None:
            if draft.to.kind == "unknown" and not self.targets.one_more(draft.to):
                result.doubt, result.about = Doubt.UNKNOWN_VESSEL, draft.to.name
                assert isinstance(act, Begin)
                result.acts = [_about(msgspec.structs.replace(act, vessel=None), None, at)]
            elif draft.to.name in self.targets.in_vessel:
                result.doubt, result.about = Doubt.VESSEL_BUSY, draft.to.name
        unread = draft.clause is None or any(span.kind == "word" for span in draft.clause.spans)
        if (
            result.doubt is None
            and isinstance(act, Begin)
            and act.name is None
            and (unread or None in _all_told(act))
        ):
            result.doubt = Doubt.HALF_UNDERSTOOD
        return result

    # ------------------------------------------------------------------ several drafts

    def _just_bottled(self, settled: Sequence[Completed]) -> None:
        """Bottles can be drunk and given of what the same message bottles: "bottled bruno, 29, gave nia 3 of them"."""
        bottled = {
            act.of
            for item in settled
            for act in item.acts
            if isinstance(act, Step) and act.step == "bottle" and item.doubt is None
        }
        for item in settled:
            out = [act for act in item.acts if isinstance(act, Bottles) and act.of in bottled]
            if item.doubt is Doubt.UNSURE and out and out == item.acts:
                item.doubt, item.about = None, None

    def _where_it_went(self, settled: Sequence[Completed]) -> None:
        """What was done to an empty vessel was done to the batch that the message moves there."""
        went = {
            act.to: act.of
            for item in settled
            for act in item.acts
            if isinstance(act, Step) and act.step == "rack" and act.to is not None and act.of is not None
        }
        for item in settled:
            for place, act in enumerate(item.acts):
                if act.of in went and _done_to_wine(act):
                    item.acts[place] = msgspec.structs.replace(act, of=went[act.of])

    def _shared(self, drafts: Sequence[Draft]) -> list[Completed] | None:
        """ "Did both: 1.066 and 1.012": each value to the batch whose curve it fits, and asked about where they may be the
        other way round."""
        batches = list(self.scene.under_way)
        warm = bool(drafts) and all(isinstance(draft.act, Temperature) for draft in drafts)
        measured = Temperature if warm else Gravity
        values = [
            draft
            for draft in drafts
            if isinstance(draft.act, measured) and draft.doubt is not Doubt.OUT_OF_RANGE
        ]
        if len(values) != len(drafts) or not 2 <= len(values) <= _SHARED or len(values) != len(batches):
            return None
        if not all(not draft.refs or draft.refs[0].kind == "every" for draft in drafts):
            return None
        if warm:  # in the order that they were begun in
            return [
                Completed([_about(draft.act, batch.name, None)])
                for draft, batch in zip(values, batches, strict=True)
            ]
        far = {
            (at, batch.name): plausible.distance(batch, draft.act.sg, self.sent_at)
            for at, draft in enumerate(values)
            if isinstance(draft.act, Gravity)
            for batch in batches
        }
        ways = sorted(
            (sum(far[at, batch.name] for at, batch in enumerate(way)), at_all, way)
            for at_all, way in enumerate(permutations(batches))
        )
        (off, _, best), (other, _, _) = ways[:2]
        fits = all(far[at, batch.name] < plausible.FAR for at, batch in enumerate(best))
        alone = fits and other - off >= plausible.FAR
        among_people = Doubt.WHICH_BATCH  # "scores: bo 1.012, ana 1.060"
        sure = among_people if not self.addressed else None if alone else Doubt.UNSURE
        settled: list[Completed] = []
        for draft, batch in zip(values, best, strict=True):
            item = Completed([_about(draft.act, batch.name, None)])
            item.doubt = sure
            settled.append(item)
        return settled

    def _clashes(self, settled: Sequence[Completed]) -> None:
        """Two gravities of one batch at one time cannot both be meant."""
        seen: dict[tuple[type, str | None, datetime | None], Act] = {}
        for item in settled:
            for act in item.acts:
                if not isinstance(act, Gravity | Temperature) or act.of is None:
                    continue
                key = (type(act), act.of, act.at)
                if key in seen and item.doubt is None:
                    item.doubt, item.about = Doubt.UNSURE, act.of
                seen[key] = act

    # ------------------------------------------------------------------ corrections

    def correction(self, drafts: Sequence[Draft], refs: Sequence[Ref]) -> Verdict:
        """A message that puts an earlier one right."""
        of: str | None = None
        for ref in refs:
            targets = self.targets.of(ref)
            if len(targets) == 1 and targets[0].of is not None:
                of = of or targets[0].of
        moved = self._moved_to(drafts, refs)
        if moved is not None:
            return moved
        if self.entry is not None:
            told: list[Act] = []
            for draft in drafts:
                at, _ = self._when(draft)
                told.append(_about(draft.act, of, at))
            right = corrections.put_right(self.entry, told, of)
            if right is not None:
                return self._checked(right, drafts)
        settled = [self._settle(draft, sweetened=False) for draft in drafts]
        acts = tuple(act for item in settled for act in _likeliest(item))
        return Verdict(
            verdict="ask",
            acts=acts,
            why=WHY[Doubt.NOTHING_TO_CORRECT],
            doubt=Doubt.NOTHING_TO_CORRECT,
            options=options(settled),
        )

    def _moved_to(self, drafts: Sequence[Draft], refs: Sequence[Ref]) -> Verdict | None:
        """The last racking with another vessel that is free: "sorry, demijohn 2"."""
        entry = self.entry
        if entry is None or not isinstance(entry.act, Step) or entry.act.step != "rack" or drafts:
            return None
        named = {ref.name for ref in refs if ref.kind == "vessel"}
        wines = {target.of for ref in refs if ref.kind != "vessel" for target in self.targets.of(ref)}
        if len(named) != 1 or named & set(self.targets.in_vessel) or wines - {entry.act.of}:
            return None
        right = (Undo(entry=entry.entry), msgspec.structs.replace(entry.act, to=named.pop()))
        return Verdict(verdict="act", acts=right, why="puts the last entry right")

    def _checked(self, right: tuple[Act, ...], drafts: Sequence[Draft]) -> Verdict:
        """A correction whose new value must be as likely as any other."""
        new = right[-1]
        target = self.targets.named(new.of)
        if any(draft.doubt is Doubt.OUT_OF_RANGE for draft in drafts):
            return Verdict(
                verdict="ask", why=WHY[Doubt.OUT_OF_RANGE], doubt=Doubt.OUT_OF_RANGE, about=drafts[0].about
            )
        worry = None
        if target is not None:
            old = self._without_last(target)
            worry = plausible.concern(new, old, self.scene, new.at or self.sent_at, sweetened=False)
        if worry is None:
            return Verdict(verdict="act", acts=right, why="puts the last entry right")
        return Verdict(
            verdict="ask",
            acts=right,
            why=WHY[worry.doubt],
            doubt=worry.doubt,
            options=(right, *((Undo(), other) for other in worry.likely)),
            about=worry.about,
        )

    def _without_last(self, target: Target) -> Target:
        """The batch as it was before the entry that is being put right."""
        entry = self.entry
        if target.batch is None or entry is None or not isinstance(entry.act, Gravity):
            return target
        if entry.act.of != target.of:
            return target
        readings = target.batch.readings
        if entry.at is not None:
            kept = tuple(reading for reading in readings if reading[0] != entry.at)
        else:
            kept = readings[:-1] if readings and readings[-1][1] == entry.act.sg else readings
        return msgspec.structs.replace(target, batch=msgspec.structs.replace(target.batch, readings=kept))


def _all_told(begin: Begin) -> tuple[object, ...]:
    """What a batch needs to have that goes without a name, and is called by its colour."""
    return (begin.colour, begin.litres, begin.days, begin.vessel)


def _about(act: Act, of: str | None, at: datetime | None) -> Act:
    if isinstance(act, _Timeless):
        return msgspec.structs.replace(act, of=of)
    return msgspec.structs.replace(act, of=of, at=at)


_MOST_OF_IT = 0.5
"""The part of a kit's litres that more water than this is mixed with."""


def _as_mixing(act: Act, targets: Sequence[Target]) -> Act:
    """The act, as the mixing that it is a part of while a kit waits to be mixed: stirred, filled up to the mark, or given
    its water."""
    batches = [target.batch for target in targets]
    if not batches or any(batch is None or "mix" not in batch.next[:2] for batch in batches):
        return act
    litres = min((batch.litres or 0.0 for batch in batches if batch is not None), default=0.0)
    filled = isinstance(act, Addition) and act.what == "water" and act.unit in (None, "l")
    water = filled and isinstance(act, Addition) and (act.amount or litres) >= litres * _MOST_OF_IT
    stirred = isinstance(act, Step) and act.step in ("stir", "top_up") and act.using in (None, "water")
    return Step(at=act.at, step="mix") if stirred or water else act


def _done_to_wine(act: Act) -> bool:
    """Whether an act is of wine alone, never of an empty vessel."""
    return isinstance(act, Addition | Temperature | Gravity) or (
        isinstance(act, Step) and act.step not in ("sanitise", "rack")
    )


def _in_part(act: Act, target: Target, refs: Sequence[Ref]) -> Act:
    """The act with the vessel that was named, where its batch is in several and litres or a dose are of one."""
    several = target.batch is not None and target.batch.also_in
    named = any(ref.kind == "vessel" and ref.name == target.vessel for ref in refs)
    if not several or not named:
        return act
    match act:
        case Volume() | Draw() | Split() | Addition():
            return msgspec.structs.replace(act, vessel=target.vessel)
        case Step() if act.to is not None or act.step == "top_up":
            return msgspec.structs.replace(act, vessel=target.vessel)
        case Question(subject=Reckon() as asked):
            return msgspec.structs.replace(act, subject=msgspec.structs.replace(asked, vessel=target.vessel))
        case _:
            return act


def _likeliest(item: Completed) -> list[Act]:
    """The choices of a correction; of a gravity only the one whose curve it fits."""
    fits = bool(item.choices) and isinstance(item.choices[0], Gravity)
    return item.choices[:1] if fits else item.choices or item.acts
