"""The log and its fold: entries in, what the house looks like out.

An entry is an act with who, when and source. Nothing is ever changed or deleted: an entry may strike out an
earlier one, and an entry that was itself struck out strikes nothing. Views are computed, never stored.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import copy
from datetime import datetime, timedelta
from math import ceil
from typing import assert_never

import msgspec

from bot.cellar.log.acts import (
    Acidity,
    Act,
    Addition,
    Amend,
    Begin,
    Blend,
    Bottles,
    Cost,
    Done,
    Draw,
    Follow,
    GiveUp,
    Gravity,
    KeepPlan,
    Look,
    Nickname,
    Note,
    Ph,
    Promised,
    PutOff,
    Question,
    Remind,
    Rota,
    Skip,
    Split,
    Step,
    TakeOn,
    Temperature,
    Timer,
    Undo,
    Vessel,
    Volume,
)
from bot.cellar.log.ledger import Ledger, shared
from bot.cellar.log.refracted import as_estimated
from bot.cellar.log.views import Added as Added
from bot.cellar.log.views import Batch as Batch
from bot.cellar.log.views import Chore as Chore
from bot.cellar.log.views import Entry as Entry
from bot.cellar.log.views import HouseView as HouseView
from bot.cellar.log.views import Measured as Measured
from bot.cellar.log.views import Mixed, Part, Said, Spent, Stay
from bot.cellar.log.views import Promise as Promise
from bot.cellar.log.views import Reading as Reading
from bot.cellar.log.views import held_in as held_in
from bot.cellar.plans.kits import Plan
from bot.ids import BatchId, EntryId
from bot.science import practice

ADOPT_WITHIN = timedelta(hours=24)
"""A fact that belonged to no batch is taken to be of the batch begun in that vessel this soon after."""

KEPT_FOR = timedelta(days=60)
"""So long it waits for that beginning where no other batch was under way when it was told."""

KEPT = (Gravity, Temperature, Ph, Acidity, Volume, Addition, Step, Note)
"""What is kept for a batch that is not begun yet."""


def struck_out(entries: Iterable[Entry]) -> dict[EntryId, EntryId]:
    """Which entries no longer stand, and by which entry each was struck out.

    What was undone strikes nothing, so that its cause counts again; what was corrected once more still does:
    the correction of a correction does not bring back what the first one put right.
    """
    struck: dict[EntryId, EntryId] = {}
    undone: set[EntryId] = set()
    striking = (entry for entry in entries if entry.strikes is not None)
    for entry in sorted(striking, key=lambda entry: entry.entry, reverse=True):
        if entry.strikes is None or entry.entry in undone:
            continue
        struck.setdefault(entry.strikes, entry.entry)
        if isinstance(entry.act, Undo) and struck[entry.strikes] == entry.entry:
            undone.add(entry.strikes)
    return struck


def standing(entries: Sequence[Entry]) -> list[Entry]:
    """The entries that stand, in order of the time meant: a fact told late falls into its place."""
    struck = struck_out(entries)
    return sorted((e for e in entries if e.entry not in struck), key=lambda e: (e.at, e.entry))


def fold(entries: Sequence[Entry]) -> HouseView:
    """What the house looks like after these entries."""
    return Folded.of(entries).view


class Folded:
    """A log, those of its entries that stand, and the house by them; to be gone on with, and never changed."""

    def __init__(
        self,
        entries: tuple[Entry, ...] = (),
        stand: tuple[Entry, ...] = (),
        view: HouseView = HouseView(),  # noqa: B008 - frozen
        builders: "Mapping[BatchId, _Builder] | None" = None,
    ) -> None:
        self.entries = entries
        self.standing = stand
        """In order of the time meant."""
        self.view = view
        self._stands = frozenset(e.entry for e in stand) if len(stand) < len(entries) else None
        self._builders = builders or {}

    @classmethod
    def of(cls, entries: Sequence[Entry]) -> "Folded":
        """A log, from its first entry on."""
        stand = standing(entries)
        builders, view = _folded(entries, stand)
        return cls(tuple(entries), tuple(stand), view, builders)

    def newest(self) -> Iterator[Entry]:
        """The entries that stand, those written last first."""
        return (e for e in reversed(self.entries) if self._stands is None or e.entry in self._stands)

    def plus(self, more: Sequence[Entry]) -> "Folded":
        """The log with more entries at its end."""
        if not more:
            return self
        return (self._with(more[0]) if len(more) == 1 else None) or Folded.of((*self.entries, *more))

    def _with(self, e: Entry) -> "Folded | None":
        """With the newest fact of one batch, which says nothing of anything else: then all else stays as it is. None
        where it is another kind of entry, or tells of a time before others do."""
        builder = self._builders.get(e.batch) if e.batch is not None else None
        if builder is None or e.strikes is not None or not _of_one_batch(e.act):
            return None
        last = self.standing[-1]
        if (e.at, e.entry) < (last.at, last.entry):
            return None
        builder = builder.copy()
        builder.take(e, {})
        found = builder.view()
        batches = tuple(found if view.batch == e.batch else view for view in self.view.batches)
        return Folded(
            (*self.entries, e),
            (*self.standing, e),
            msgspec.structs.replace(self.view, batches=batches),
            {**self._builders, found.batch: builder},
        )


def _of_one_batch(act: Act) -> bool:
    """Whether an act of a batch tells of this batch alone."""
    if isinstance(act, Step):
        return act.donor is None and act.step != "sanitise"
    return isinstance(
        act, Gravity | Temperature | Ph | Acidity | Note | Addition | Volume | Draw | Skip | Cost
    )


def _folded(entries: Sequence[Entry], stand: Sequence[Entry]) -> "tuple[dict[BatchId, _Builder], HouseView]":
    # A batch keeps its plan even when the plan itself was struck out since.
    plans = {e.act.plan.key: e.act.plan for e in entries if isinstance(e.act, KeepPlan)}
    # A corrected Begin keeps the batch that the first one began.
    builders = {_batch(e): _Builder(e, begin, plans) for e, begin in _begun(stand)}
    promises: list[Promise] = []
    sanitised: list[Chore] = []
    vessel_facts: list[Entry] = []
    rotas: list[Rota] = []
    kept: list[Plan] = []
    vessel_nicknames: dict[str, tuple[str, ...]] = {}
    for e in stand:
        builder = builders.get(e.batch) if e.batch is not None else _adopter(e, builders)
        act = e.act
        if isinstance(act, Step) and act.step == "sanitise":
            sanitised.append(_chore(e, act, builder.vessel if builder else act.of))
            if builder is None and act.of is None:  # "sanitised everything"
                for waiting in builders.values():
                    if waiting.begun.at <= e.at and waiting.untouched:
                        waiting.take(e, builders)
        match act:
            case Rota():
                rotas.append(act)
            case Vessel():
                vessel_facts.append(e)
            case KeepPlan():
                kept.append(act.plan)
            case _ if builder is not None:
                builder.take(e, builders)
            case Nickname():
                if act.of:
                    vessel_nicknames[act.of] = (*vessel_nicknames.get(act.of, ()), act.name)
            case Remind() | PutOff() | TakeOn() | Done() | Look() | Timer():
                promises.append(_promise(e, act))
            case (
                Gravity()
                | Temperature()
                | Ph()
                | Acidity()
                | Volume()
                | Draw()
                | Addition()
                | Step()
                | Begin()
                | Amend()
                | Skip()
                | GiveUp()
                | Bottles()
                | Note()
                | Split()
                | Blend()
                | Cost()
                | Follow()
            ):
                pass  # of a batch that is not there
            case Question() | Undo():
                pass  # what an undo strikes out does not stand
            case _:
                assert_never(act)
    views = sorted((builder.view() for builder in builders.values()), key=lambda v: (v.begun_at, v.batch))
    return builders, HouseView(
        batches=tuple(views),
        vessel_nicknames=vessel_nicknames,
        sanitised=tuple(sanitised),
        vessel_facts=tuple(vessel_facts),
        rotas=tuple(rotas),
        plans=tuple(kept),
        promises=tuple(promises),
    )


def _begun(stand: Sequence[Entry]) -> list[tuple[Entry, Begin]]:
    """Each beginning as it was put right since: a batch was begun so, however late somebody said it."""
    right: dict[int | None, dict[str, object]] = {}
    for e in stand:
        if isinstance(e.act, Amend):
            told = {name: getattr(e.act, name) for name in ("days", "colour", "vessel", "plan")}
            known = right.setdefault(e.batch, {})
            known.update({name: value for name, value in told.items() if value is not None})
    return [
        (e, msgspec.structs.replace(e.act, **right.get(_batch(e), {})))
        for e in stand
        if isinstance(e.act, Begin)
    ]


def _batch(e: Entry) -> BatchId:
    return BatchId(e.entry) if e.batch is None else e.batch


def _adopter(e: Entry, builders: dict[BatchId, "_Builder"]) -> "_Builder | None":
    """The batch that a fact told of none is of: the one begun next, in that vessel."""
    act = e.act
    if not isinstance(act, KEPT):
        return None
    begun = [builder for builder in builders.values() if builder.begun.at <= e.at]
    alone = all(builder._ended for builder in begun)
    # What was clean weeks ago is not clean now.
    clean = isinstance(act, Step) and act.step == "sanitise"
    within = KEPT_FOR if alone and not clean else ADOPT_WITHIN
    fits = [
        builder
        for builder in builders.values()
        if (act.of in (None, builder.begin.vessel) or (alone and builder.begin.vessel is None))
        and timedelta(0) <= builder.begun.at - e.at <= within
    ]
    return min(fits, key=lambda builder: builder.begun.at, default=None)


def _chore(e: Entry, act: Step, vessel: str | None) -> Chore:
    return Chore(
        entry=e.entry, at=e.at, by=e.by, step=act.step, to=act.to, bottles=act.bottles, vessel=vessel
    )


def _promise(e: Entry, act: Promised) -> Promise:
    whom = act.whom if isinstance(act, TakeOn) else None
    return Promise(entry=e.entry, at=e.at, by=whom or e.by, act=act)


def _litres_of(act: Addition) -> float | None:
    return None if act.amount is None else {"l": act.amount, "ml": act.amount / 1000}.get(act.unit or "")


class _Builder:
    """Gathers one batch's facts; what is left over is not this batch's to know."""

    def __init__(self, begun: Entry, begin: Begin, plans: Mapping[str, Plan]) -> None:
        self.begun, self.begin, self.plans = begun, begin, plans
        self.plan = begin.plan
        self.ledger = Ledger(begun, begin.vessel, begin.litres)
        self.stays: list[Stay] = []
        self.costs: list[Spent] = []
        self.mixed: list[Mixed] = []
        self.gone: tuple[int | None, datetime] | None = None
        self.nicknames: list[str] = []
        self.readings: list[Reading] = []
        self.temperatures: list[Measured] = []
        self.ph: list[Measured] = []
        self.acidity: list[Measured] = []
        self.additions: list[Added] = []
        self.chores: list[Chore] = []
        self.notes: list[Said] = []
        self.promises: list[Promise] = []
        self.made: int | None = None
        self.change = 0
        self.counted: int | None = None
        self.skipped: list[str] = []
        self._settle(begun)

    def copy(self) -> "_Builder":
        """One that goes on from here by itself."""
        other = copy(self)
        other.ledger = self.ledger.copy()
        for name, value in vars(self).items():
            if isinstance(value, list):
                setattr(other, name, value.copy())
        return other

    @property
    def vessel(self) -> str | None:
        return next(iter(self.ledger.parts), None)

    @property
    def untouched(self) -> bool:
        """Whether nothing was done with it since it began."""
        return not (self.chores or self.readings or self.additions or self.mixed)

    def take(self, e: Entry, others: Mapping[BatchId, "_Builder"]) -> None:
        """The fact that the entry tells of this batch, and what it does to one of the `others`, by number."""
        act = e.act
        match act:
            case Gravity():
                self.readings.append(
                    Reading(
                        entry=e.entry,
                        at=e.at,
                        by=e.by,
                        sg=act.sg,
                        temp_c=act.temp_c,
                        brix=act.brix,
                        instrument=act.instrument,
                    )
                )
            case Temperature():
                self.temperatures.append(Measured(entry=e.entry, at=e.at, by=e.by, value=act.temp_c))
            case Ph():
                self.ph.append(Measured(entry=e.entry, at=e.at, by=e.by, value=act.ph))
            case Acidity():
                self.acidity.append(Measured(entry=e.entry, at=e.at, by=e.by, value=act.g_per_l))
            case Volume():
                before = self.ledger.total
                self.ledger.count(act.litres, act.vessel)
                self.ledger.note(e, "counted", before, vessel=act.vessel)
            case Draw():
                self._draw(e, act)
            case Addition():
                self._add(e, act)
                if act.what == "water" and (litres := _litres_of(act)) is not None:
                    self._water(e, litres, act.vessel)
            case Step(donor=int(donor)) if donor in others:
                self._top_up(e, act, others[BatchId(donor)])
            case Step():
                self._step(e, act)
            case Bottles(left=int(left)):
                self.counted, self.change = left, 0
            case Bottles():
                self.change += act.change
            case Skip(which=str(which)):
                self.skipped.append(which)
            case GiveUp():
                self._give_up(e)
            case Note():
                self.notes.append(Said(entry=e.entry, at=e.at, by=e.by, text=act.text))
            case Nickname():
                self.nicknames.append(act.name)
            case Remind() | PutOff() | TakeOn() | Done() | Look() | Timer():
                self.promises.append(_promise(e, act))
            case Split():
                self._split(e, act)
            case Blend(batch=int(other)) if other in others:
                self._pour_in(e, act, others[other])
            case Cost():
                self.costs.append(Spent(entry=e.entry, at=e.at, by=e.by, what=act.what, amount=act.amount))
            case Follow():
                self.plan = act.plan
            case Begin() | Amend():
                pass  # it was begun as they say from the first
            case Skip() | Blend():
                pass  # of a step, or a batch, that was not found when it was written down
            case Vessel() | KeepPlan() | Rota() | Question() | Undo():
                pass  # of no batch
            case _:
                assert_never(act)

    def _add(self, e: Entry, act: Addition) -> None:
        one = act.vessel if len(self.ledger.parts) > 1 and act.vessel in self.ledger.parts else None
        self.additions.append(
            Added(
                entry=e.entry,
                at=e.at,
                by=e.by,
                what=act.what,
                amount=act.amount,
                unit=act.unit,
                vessel=one,
                held=self.ledger.held(one) if one is not None else None,
            )
        )

    def _pour_in(self, e: Entry, act: Blend, other: "_Builder") -> None:
        """The other batch goes into this one and is at its end."""
        if other is self or other.gone is not None:
            return
        own = self.view()
        self.mixed.append(Mixed(entry=e.entry, at=e.at, by=e.by, own=own, other=other.view()))
        before, poured = self.ledger.total, other.ledger.total
        other.gone = (_batch(self.begun), e.at)
        other.ledger.empty()
        other._settle(e)
        if act.to is not None:
            self._transferred(e, act.to)
            if not self._ended:
                self.ledger.move(act.to)
        self.ledger.pour(poured)
        self.ledger.note(e, "poured_in", before, using=other.name, litres=poured)
        self._settle(e)

    def _top_up(self, e: Entry, act: Step, donor: "_Builder") -> None:
        """Topped up with some of another batch, which has so much less; or so many bottles, a begun one counted whole."""
        self.chores.append(_chore(e, act, self.vessel))
        if act.litres is None or donor is self or self._ended or donor.gone is not None:
            return
        own, other, before = self.view(), donor.view(), self.ledger.total
        if donor._ended:
            poured = act.litres
            donor.change -= ceil(round(poured / practice.BOTTLE_LITRES.value, 3))
        else:
            given = donor.ledger.total
            poured = donor.ledger.take(act.litres)
            donor.ledger.note(e, "given", given, using=self.name, litres=poured)
        if poured:
            self.mixed.append(Mixed(entry=e.entry, at=e.at, by=e.by, own=own, other=other, litres=poured))
        self.ledger.pour(poured, act.vessel)
        self.ledger.note(e, "topped_up", before, vessel=act.vessel, using=donor.name, litres=poured)

    def _draw(self, e: Entry, act: Draw) -> None:
        if self._ended:
            return
        before = self.ledger.total
        taken = self.ledger.take(act.litres, act.vessel)
        self.ledger.note(e, act.why, before, vessel=act.vessel, litres=taken)

    def _water(self, e: Entry, litres: float, vessel: str | None) -> None:
        """Water thins the wine; the water that a must is made up with is in the volume that was told of it."""
        if self._ended or not self._made_up:
            return
        before = self.ledger.total
        self.ledger.pour(litres, vessel)
        self.ledger.note(e, "water", before, vessel=vessel, using="water", litres=litres)

    @property
    def _made_up(self) -> bool:
        yeast = any(added.what == "yeast" for added in self.additions)
        return bool(self.readings) or yeast or any(c.step in ("pitch", "rack") for c in self.chores)

    def _give_up(self, e: Entry) -> None:
        if self.gone is None:
            self.ledger.empty()
            self._settle(e)
            self.gone = (None, e.at)
            self.counted, self.change = 0, 0

    def _split(self, e: Entry, act: Split) -> None:
        into = {share.vessel for share in act.into}
        if not into & set(self.ledger.parts):
            self._transferred(e, act.into[0].vessel)
        if self._ended:
            return
        before = self.ledger.total
        parts = shared(self.ledger.held(act.vessel), act.into)
        self.ledger.split(act.into, act.vessel)
        self.ledger.note(
            e,
            "split",
            before,
            vessel=act.vessel,
            into=[Part(vessel=vessel, litres=litres) for vessel, litres in parts.items()],
        )
        self._settle(e)

    def _transferred(self, e: Entry, to: str) -> None:
        """All of it went into another vessel: that is a racking, however it was said."""
        self.chores.append(Chore(entry=e.entry, at=e.at, by=e.by, step="rack", to=to, vessel=self.vessel))

    def _step(self, e: Entry, act: Step) -> None:
        self.chores.append(_chore(e, act, self.vessel))
        if act.step == "top_up" and act.litres is not None and act.using == "water":
            self._water(e, act.litres, act.vessel)
        elif act.step == "top_up" and act.litres is not None and not self._ended:
            before = self.ledger.total
            self.ledger.pour(act.litres, act.vessel)
            self.ledger.note(e, "topped_up", before, vessel=act.vessel, using=act.using, litres=act.litres)
        if act.to is not None and not self._ended:
            self.ledger.move(act.to, act.vessel)
            self._settle(e)
        if act.step == "bottle":
            self.ledger.empty()
            self._settle(e)
            self.made = act.bottles if act.bottles is not None else self.made

    def _settle(self, e: Entry) -> None:
        """From here on the batch is in the ledger's vessels and no others. Nothing happens before it was begun."""
        at, parts = max(e.at, self.begun.at), self.ledger.parts
        staying = {stay.vessel for stay in self.stays if stay.until is None}
        for number, stay in enumerate(self.stays):
            if stay.until is None and stay.vessel not in parts:
                self.stays[number] = msgspec.structs.replace(stay, until=at, until_entry=e.entry)
        for vessel in parts:
            if vessel not in staying:
                self.stays.append(Stay(vessel=vessel, since=at, entry=e.entry))

    @property
    def _ended(self) -> bool:
        return self.gone is not None or any(chore.step == "bottle" for chore in self.chores)

    @property
    def name(self) -> str:
        return self.begin.name or f"batch {self.begun.entry}"

    def view(self) -> Batch:
        had = self.made if self.counted is None else self.counted
        left = None if had is None else max(0, had + self.change)
        return as_estimated(
            Batch(
                batch=_batch(self.begun),
                name=self.name,
                begun_at=self.begun.at,
                begun_by=self.begun.by,
                days=self.begin.days or practice.USUAL_KIT_DAYS.value,
                litres=self.ledger.total,
                vessel=self.vessel,
                plan=self.plan,
                colour=self.begin.colour,
                kit_days=self.begin.days,
                nicknames=tuple(self.nicknames),
                readings=tuple(self.readings),
                temperatures=tuple(self.temperatures),
                ph=tuple(self.ph),
                acidity=tuple(self.acidity),
                additions=tuple(self.additions),
                chores=tuple(self.chores),
                notes=tuple(self.notes),
                promises=tuple(self.promises),
                bottles_made=self.made,
                bottles_left=left,
                parts=self.ledger.view,
                moves=tuple(self.ledger.moves),
                stays=tuple(self.stays),
                costs=tuple(self.costs),
                mixed=tuple(self.mixed),
                gone_into=self.gone[0] if self.gone else None,
                gone_at=self.gone[1] if self.gone else None,
                own_plan=self.plans.get(self.plan) if self.plan else None,
                skipped=tuple(dict.fromkeys(self.skipped)),
            )
        )
