"""The log and its fold: entries in, what the house looks like out.

An entry is an act with who, when and source. Nothing is ever changed or deleted: an entry may strike out an
earlier one, and an entry that was itself struck out strikes nothing. Views are computed, never stored.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

import msgspec

from bot.cellar.acts import (
    Acidity,
    Act,
    Addition,
    Begin,
    Bottles,
    Colour,
    Gravity,
    Nickname,
    Note,
    Ph,
    Reminder,
    Step,
    StepName,
    Temperature,
    Undo,
    Volume,
)

ADOPT_WITHIN = timedelta(hours=24)
"""A reading that belonged to no batch is taken to be of the batch begun in that vessel this soon after."""

OG_GRACE = timedelta(hours=12)
"""A first reading this soon after the yeast still counts as the starting gravity: the yeast is hardly awake
(common practice, no source)."""

STARTS_AT_LEAST = 1.040
"""A first reading below this (SG) was taken under way: no kit starts so low (common practice, no source)."""

DEFAULT_DAYS = 14


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the log. `batch` is the entry that began the batch; `at` is the time meant, `said_at` the
    time said (both aware); `strikes` is the entry that this one strikes out."""

    entry: int
    act: Act
    by: str
    said_at: datetime
    at: datetime
    batch: int | None = None
    strikes: int | None = None


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """A gravity as read, with the sample's temperature (°C) when it was told."""

    entry: int
    at: datetime
    by: str
    sg: float
    temp_c: float | None = None


class Measured(msgspec.Struct, frozen=True, kw_only=True):
    """A temperature (°C), a pH or an acidity (g/l), by the fact's own kind."""

    entry: int
    at: datetime
    by: str
    value: float


class Added(msgspec.Struct, frozen=True, kw_only=True):
    """An addition."""

    entry: int
    at: datetime
    by: str
    what: str
    amount: float | None
    unit: str | None


class Chore(msgspec.Struct, frozen=True, kw_only=True):
    """A step done."""

    entry: int
    at: datetime
    by: str
    step: StepName
    to: str | None = None
    bottles: int | None = None


class Said(msgspec.Struct, frozen=True, kw_only=True):
    """A note."""

    entry: int
    at: datetime
    by: str
    text: str


class Promise(msgspec.Struct, frozen=True, kw_only=True):
    """What somebody answered to a reminder: put off until a time, or taken on."""

    entry: int
    at: datetime
    by: str
    action: str
    step: StepName | None
    until: datetime | None


class BatchView(msgspec.Struct, frozen=True, kw_only=True):
    """A batch as its entries tell it, oldest fact first. Volumes in litres."""

    batch: int
    name: str
    begun_at: datetime
    begun_by: str
    days: int
    litres: float | None
    vessel: str | None
    plan: str | None = None
    colour: Colour | None = None
    nicknames: tuple[str, ...] = ()
    readings: tuple[Reading, ...] = ()
    temperatures: tuple[Measured, ...] = ()
    ph: tuple[Measured, ...] = ()
    acidity: tuple[Measured, ...] = ()
    additions: tuple[Added, ...] = ()
    chores: tuple[Chore, ...] = ()
    notes: tuple[Said, ...] = ()
    promises: tuple[Promise, ...] = ()
    bottles_made: int | None = None
    bottles_left: int | None = None

    def done(self, step: StepName) -> Chore | None:
        """The first time the step was done, if it was."""
        return next((chore for chore in self.chores if chore.step == step), None)

    @property
    def pitched_at(self) -> datetime | None:
        """When the yeast went in: the step, or an addition of yeast."""
        moments = [chore.at for chore in self.chores if chore.step == "pitch"]
        moments += [added.at for added in self.additions if added.what == "yeast"]
        return min(moments, default=None)

    @property
    def bottled_at(self) -> datetime | None:
        chore = self.done("bottle")
        return chore.at if chore else None

    @property
    def starting(self) -> Reading | None:
        """The reading that counts as the starting gravity: the first one, when it was early enough."""
        if not self.readings or self.readings[0].sg < STARTS_AT_LEAST:
            return None
        first, pitched = self.readings[0], self.pitched_at
        return first if pitched is None or first.at <= pitched + OG_GRACE else None

    @property
    def latest(self) -> Reading | None:
        return self.readings[-1] if self.readings else None


class HouseView(msgspec.Struct, frozen=True, kw_only=True):
    """The house as its log tells it: batches oldest first, and what was said about no batch."""

    batches: tuple[BatchView, ...] = ()
    vessel_nicknames: dict[str, tuple[str, ...]] = {}
    sanitised: tuple[Chore, ...] = ()
    loose: tuple[Entry, ...] = ()

    @property
    def under_way(self) -> tuple[BatchView, ...]:
        return tuple(view for view in self.batches if view.bottled_at is None)

    def batch(self, batch: int) -> BatchView | None:
        return next((view for view in self.batches if view.batch == batch), None)

    def named(self, name: str | None) -> BatchView | None:
        """The newest batch of that name, nickname or vessel; one under way before a bottled one."""
        if name is None:
            return None
        wanted = name.casefold()
        hits = [
            view
            for view in self.batches
            if wanted in (view.name.casefold(), *(nick.casefold() for nick in view.nicknames))
        ] or [view for view in self.under_way if view.vessel and view.vessel.casefold() == wanted]
        return max(hits, key=lambda view: (view.bottled_at is None, view.begun_at, view.batch), default=None)

    def in_vessel(self, vessel: str) -> BatchView | None:
        """The batch under way in that vessel."""
        return next((view for view in self.under_way if view.vessel == vessel), None)


def struck_out(entries: Iterable[Entry]) -> dict[int, int]:
    """Which entries no longer stand, and by which entry each was struck out.

    What was undone strikes nothing, so that its cause counts again; what was corrected once more still does:
    the correction of a correction does not bring back what the first one put right.
    """
    struck: dict[int, int] = {}
    undone: set[int] = set()
    for entry in sorted(entries, key=lambda entry: entry.entry, reverse=True):
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
    stand = standing(entries)
    # A corrected Begin keeps the batch that the first one began.
    builders = {_batch(e): _Builder(e, e.act) for e in stand if isinstance(e.act, Begin)}
    loose: list[Entry] = []
    sanitised: list[Chore] = []
    vessel_nicknames: dict[str, tuple[str, ...]] = {}
    for e in stand:
        if isinstance(e.act, Step) and e.act.step == "sanitise":
            sanitised.append(_chore(e, e.act))
        builder = builders.get(e.batch) if e.batch is not None else _adopter(e, builders)
        if builder is not None:
            builder.take(e)
        elif isinstance(e.act, Nickname) and e.act.of:
            vessel_nicknames[e.act.of] = (*vessel_nicknames.get(e.act.of, ()), e.act.name)
        elif not isinstance(e.act, Begin | Undo):
            loose.append(e)
    views = sorted((builder.view() for builder in builders.values()), key=lambda v: (v.begun_at, v.batch))
    return HouseView(
        batches=tuple(views),
        vessel_nicknames=vessel_nicknames,
        sanitised=tuple(sanitised),
        loose=tuple(loose),
    )


def _batch(e: Entry) -> int:
    return e.entry if e.batch is None else e.batch


def _adopter(e: Entry, builders: dict[int, "_Builder"]) -> "_Builder | None":
    if not isinstance(e.act, Gravity | Temperature | Ph | Acidity | Volume | Step):
        return None
    fits = [
        builder
        for builder in builders.values()
        if e.act.of in (None, builder.begin.vessel)
        and timedelta(0) <= builder.begun.at - e.at <= ADOPT_WITHIN
    ]
    return min(fits, key=lambda builder: builder.begun.at, default=None)


def _chore(e: Entry, act: Step) -> Chore:
    return Chore(entry=e.entry, at=e.at, by=e.by, step=act.step, to=act.to, bottles=act.bottles)


class _Builder:
    """Gathers one batch's facts; what is left over is not this batch's to know."""

    def __init__(self, begun: Entry, begin: Begin) -> None:
        self.begun, self.begin = begun, begin
        self.litres, self.vessel = begin.litres, begin.vessel
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

    def take(self, e: Entry) -> None:
        act = e.act
        match act:
            case Gravity():
                self.readings.append(Reading(entry=e.entry, at=e.at, by=e.by, sg=act.sg, temp_c=act.temp_c))
            case Temperature():
                self.temperatures.append(Measured(entry=e.entry, at=e.at, by=e.by, value=act.temp_c))
            case Ph():
                self.ph.append(Measured(entry=e.entry, at=e.at, by=e.by, value=act.ph))
            case Acidity():
                self.acidity.append(Measured(entry=e.entry, at=e.at, by=e.by, value=act.g_per_l))
            case Volume():
                self.litres = act.litres
            case Addition():
                self.additions.append(
                    Added(entry=e.entry, at=e.at, by=e.by, what=act.what, amount=act.amount, unit=act.unit)
                )
            case Step():
                self._step(e, act)
            case Bottles():
                self.change += act.change
            case Note():
                self.notes.append(Said(entry=e.entry, at=e.at, by=e.by, text=act.text))
            case Nickname():
                self.nicknames.append(act.name)
            case Reminder():
                self.promises.append(
                    Promise(
                        entry=e.entry, at=e.at, by=e.by, action=act.action, step=act.step, until=act.until
                    )
                )
            case _:
                pass

    def _step(self, e: Entry, act: Step) -> None:
        self.chores.append(_chore(e, act))
        if act.to is not None:
            self.vessel = act.to
        if act.step == "bottle":
            self.vessel = None
            self.made = act.bottles if act.bottles is not None else self.made

    def view(self) -> BatchView:
        left = None if self.made is None else max(0, self.made + self.change)
        return BatchView(
            batch=_batch(self.begun),
            name=self.begin.name or f"batch {self.begun.entry}",
            begun_at=self.begun.at,
            begun_by=self.begun.by,
            days=self.begin.days or DEFAULT_DAYS,
            litres=self.litres,
            vessel=self.vessel,
            plan=self.begin.plan,
            colour=self.begin.colour,
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
        )
