"""What the log looks like when it is read: entries, the facts of a batch, and the views of batch and house.

Views are computed by `log.fold`, never stored.
"""

from datetime import datetime
from functools import cached_property
from typing import Literal

import msgspec

from bot.cellar.log.acts import Act, Colour, Done, Instrument, Look, Promised, Rota, StepName
from bot.cellar.log.gravities import corrected, yeast_between
from bot.cellar.plans.kits import Plan, plan_of
from bot.ids import BatchId, EntryId
from bot.science import practice


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the log. `batch` is the entry that began the batch; `at` is the time meant, `said_at` the
    time said (both aware); `strikes` is the entry that this one strikes out."""

    entry: EntryId
    act: Act
    by: str
    said_at: datetime
    at: datetime
    batch: BatchId | None = None
    strikes: EntryId | None = None


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """A gravity as read, with the sample's temperature (°C) when it was told. Where a refractometer read `brix` in a
    ferment, `sg` is an estimate between `low` and `high`, and never proof of an end."""

    entry: EntryId
    at: datetime
    by: str
    sg: float
    temp_c: float | None = None
    brix: float | None = None
    instrument: Instrument | None = None
    low: float | None = None
    high: float | None = None

    @property
    def estimated(self) -> bool:
        return self.high is not None

    @property
    def at_most(self) -> float:
        """The SG that it lies at or below for certain."""
        return self.sg if self.high is None else self.high


class Measured(msgspec.Struct, frozen=True, kw_only=True):
    """A temperature (°C), a pH or an acidity (g/l), by the fact's own kind."""

    entry: EntryId
    at: datetime
    by: str
    value: float


class Added(msgspec.Struct, frozen=True, kw_only=True):
    """An addition. Where it went into one `vessel` of several, `held` are the litres that were in that one."""

    entry: EntryId
    at: datetime
    by: str
    what: str
    amount: float | None
    unit: str | None
    vessel: str | None = None
    held: float | None = None


class Chore(msgspec.Struct, frozen=True, kw_only=True):
    """A step done."""

    entry: EntryId
    at: datetime
    by: str
    step: StepName
    to: str | None = None
    bottles: int | None = None
    vessel: str | None = None
    """Where the batch was; for sanitising, what was sanitised (None: everything that is free)."""


class Said(msgspec.Struct, frozen=True, kw_only=True):
    """A note."""

    entry: EntryId
    at: datetime
    by: str
    text: str


class Promise(msgspec.Struct, frozen=True, kw_only=True):
    """What somebody asked of reminders, or answered to one. `by` is the one who said so, and of what was taken on the
    one who will do it."""

    entry: EntryId
    at: datetime
    by: str
    act: Promised

    @property
    def step(self) -> StepName | None:
        """The chore that it names."""
        return None if isinstance(self.act, Look) else self.act.step

    @property
    def until(self) -> datetime | None:
        """The time that it names."""
        return None if isinstance(self.act, Done) else self.act.until

    @property
    def ends(self) -> str | None:
        """The key of the due thing that is over by it."""
        if isinstance(self.act, Done):
            return self.act.what
        return self.act.what if isinstance(self.act, Look) and self.act.found == "clear" else None


class Part(msgspec.Struct, frozen=True, kw_only=True):
    """How much of a batch is in a vessel, in litres."""

    vessel: str
    litres: float | None


class Stay(msgspec.Struct, frozen=True, kw_only=True):
    """A time in a vessel; `until` is None while it lasts. `entry` put it there, `by` took it out."""

    vessel: str
    since: datetime
    entry: EntryId
    until: datetime | None = None
    until_entry: EntryId | None = None


MoveKind = Literal[
    "begun",
    "counted",
    "sample",
    "lees",
    "spill",
    "lost",
    "out",
    "water",
    "topped_up",
    "given",
    "split",
    "poured_in",
]


class Move(msgspec.Struct, frozen=True, kw_only=True):
    """Litres that came or went: the signed `change`, and the `total` after it; None where that is not known.
    `litres` is what was told. `using` is what it was topped up with, or the name of the other batch, `into` where a
    split put it."""

    entry: EntryId
    at: datetime
    by: str
    kind: MoveKind
    change: float | None
    total: float | None
    litres: float | None = None
    vessel: str | None = None
    using: str | None = None
    into: tuple[Part, ...] = ()

    @property
    def thins(self) -> float:
        """By what share everything in the wine is less after it, where it was water: 1 where it was not."""
        if self.kind != "water" or not self.total or self.change is None:
            return 1.0
        return (self.total - self.change) / self.total


class Spent(msgspec.Struct, frozen=True, kw_only=True):
    """Money spent, in the household's own."""

    entry: EntryId
    at: datetime
    by: str
    what: str
    amount: float


class Mixed(msgspec.Struct, frozen=True, kw_only=True):
    """Another batch poured in, or `litres` of it: both as they were just before."""

    entry: EntryId
    at: datetime
    by: str
    own: "Batch"
    other: "Batch"
    litres: float | None = None

    @property
    def poured(self) -> float | None:
        """How many litres of the other went in."""
        return self.other.litres if self.litres is None else self.litres


class Batch(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """A batch as its entries tell it, oldest fact first. Volumes in litres.

    A struct as all the views are: it compares by its facts, and costs little to make. `dict` gives it room for what
    follows from them, worked out when it is first asked for and remembered as long as the view lives: here the cached
    properties, in `bot.cellar.batch` what is marked `once`. Neither counts when views are compared or replaced.
    """

    batch: BatchId
    name: str
    begun_at: datetime
    begun_by: str
    days: int
    litres: float | None
    vessel: str | None
    plan: str | None = None
    colour: Colour | None = None
    kit_days: int | None = None
    """The days of its kit, where they were told; `days` are the usual ones until then."""
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
    parts: tuple[Part, ...] = ()
    stays: tuple[Stay, ...] = ()
    costs: tuple[Spent, ...] = ()
    mixed: tuple[Mixed, ...] = ()
    moves: tuple[Move, ...] = ()
    gone_into: int | None = None
    """The batch that this one was poured into: then it is at its end."""
    gone_at: datetime | None = None
    """When it was poured into another, or away."""
    skipped: tuple[str, ...] = ()
    """The steps of its plan that it leaves out, by id."""
    own_plan: Plan | None = None
    """The household's own plan that it follows."""

    @cached_property
    def follows(self) -> Plan:
        """The plan that it began with, or was set on since, without the steps that it leaves out."""
        plan = self.own_plan or plan_of(self.plan, self.days)
        return plan.without(self.skipped) if self.skipped else plan

    @property
    def given_up(self) -> bool:
        """Whether it was thrown away."""
        return self.gone_at is not None and self.gone_into is None

    @property
    def ended_at(self) -> datetime | None:
        """When it was bottled, or poured into another or away."""
        return self.gone_at or self.bottled_at

    @property
    def vessels(self) -> tuple[str, ...]:
        """Where it is now."""
        return tuple(part.vessel for part in self.parts)

    def done(self, step: StepName) -> Chore | None:
        """The first time the step was done, if it was."""
        return next((chore for chore in self.chores if chore.step == step), None)

    @cached_property
    def pitched_at(self) -> datetime | None:
        """When the yeast went in: told, else inferred."""
        return self.pitching_told or self.yeast_inferred

    @cached_property
    def pitching_told(self) -> datetime | None:
        """When somebody said that the yeast went in: the step, or an addition of yeast."""
        moments = [chore.at for chore in self.chores if chore.step == "pitch"]
        moments += [added.at for added in self.additions if added.what == "yeast"]
        return min(moments, default=None)

    @cached_property
    def yeast_inferred(self) -> datetime | None:
        """About when the yeast that nobody mentioned went in; None where somebody did, or nothing proves any."""
        if self.pitching_told is not None:
            return None
        read = [(r.at, self.thinned(corrected(r.sg, r.temp_c), r)) for r in self.readings]
        return yeast_between(self.begun_at, read)

    def kept(self, since: "Reading | Added | Mixed") -> float:
        """The share of what was dissolved in it then that water put in since has left in each litre."""
        share = 1.0
        for move in self.moves:
            if (move.at, move.entry) > (since.at, since.entry):
                share *= move.thins
        return share

    def thinned(self, sg: float, reading: "Reading") -> float:
        """A gravity read then, as it would be with the water that went in since (SG; extract thins with volume)."""
        return 1.0 + (sg - 1.0) * self.kept(reading)

    def litres_at(self, fact: "Reading | Added") -> float | None:
        """How many litres it was just after that; what it is now, where it was not known then."""
        known = [m.total for m in self.moves if (m.at, m.entry) <= (fact.at, fact.entry)]
        return known[-1] if known and known[-1] else self.litres

    @cached_property
    def bottled_at(self) -> datetime | None:
        chore = self.done("bottle")
        return chore.at if chore else None

    @cached_property
    def starting(self) -> Reading | None:
        """The reading that counts as the starting gravity: the first one, when it was early enough."""
        if not self.readings or self.readings[0].sg < practice.STARTS_AT_LEAST.value:
            return None
        first, pitched = self.readings[0], self.pitched_at
        return first if pitched is None or first.at <= pitched + practice.OG_GRACE.value else None

    @property
    def latest(self) -> Reading | None:
        return self.readings[-1] if self.readings else None


def held_in(view: Batch, vessel: str | None) -> float | None:
    """The litres of a batch in one of its vessels; in all of them where none is named."""
    if vessel is None or len(view.parts) < 2:
        return view.litres
    return next((part.litres for part in view.parts if part.vessel == vessel), view.litres)


class HouseView(msgspec.Struct, frozen=True, kw_only=True):
    """The house as its log tells it: batches oldest first, and what was said about no batch."""

    batches: tuple[Batch, ...] = ()
    vessel_nicknames: dict[str, tuple[str, ...]] = {}
    sanitised: tuple[Chore, ...] = ()
    vessel_facts: tuple[Entry, ...] = ()
    """What was said of vessels, oldest first."""
    rotas: tuple[Rota, ...] = ()
    """Who does what, oldest first."""
    plans: tuple[Plan, ...] = ()
    """The household's own plans, oldest first; every version."""
    promises: tuple[Promise, ...] = ()
    """About no batch, oldest first."""

    @property
    def under_way(self) -> tuple[Batch, ...]:
        return tuple(view for view in self.batches if view.ended_at is None)

    def batch(self, batch: BatchId) -> Batch | None:
        return next((view for view in self.batches if view.batch == batch), None)

    def named(self, name: str | None) -> Batch | None:
        """The newest batch of that name, nickname or vessel; one under way before a bottled one."""
        if name is None:
            return None
        wanted = name.casefold()
        hits = [
            view
            for view in self.batches
            if wanted in (view.name.casefold(), *(nick.casefold() for nick in view.nicknames))
        ] or [view for view in self.under_way if any(v.casefold() == wanted for v in view.vessels)]
        return max(hits, key=lambda view: (view.ended_at is None, view.begun_at, view.batch), default=None)

    def in_vessel(self, vessel: str) -> Batch | None:
        """The batch under way in that vessel."""
        return next((view for view in self.under_way if vessel in view.vessels), None)

    def plan_named(self, name: str) -> Plan | None:
        """The newest version of the household's plan of that name or key."""
        wanted = name.casefold()
        hits = [plan for plan in self.plans if wanted in (plan.title.casefold(), plan.key.casefold())]
        return max(hits, key=lambda plan: plan.version, default=None)
