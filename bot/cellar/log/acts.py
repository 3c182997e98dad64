"""What can be said or done about wine in a house: one union, `Act`.

Understanding produces acts, the log stores them, `bucketside understand` and `bucketside log` print them.
There is no second vocabulary of commands or events. How they look as JSON is `plain`'s.
"""

from datetime import datetime
from typing import Literal

import msgspec

from bot.cellar.log.subjects import About, Subject, about
from bot.cellar.log.subjects import Colour as Colour
from bot.cellar.plans.model import Plan
from bot.cellar.plans.model import StepName as StepName
from bot.ids import BatchId, EntryId

AmountUnit = Literal["g", "ml", "l", "tsp", "tablet", "sachet"]
Turns = StepName | Literal["reading"]
"""What people may do in turn: a chore, or the readings of gravity."""
Reason = Literal["drank", "gave", "broke", "found"]
Instrument = Literal["hydrometer", "refractometer"]


class _Deed(msgspec.Struct, frozen=True, kw_only=True, tag_field="do"):
    """What every act has: `of`, the batch's (else the vessel's) name, and `at`, when not now (aware)."""

    of: str | None = None
    at: datetime | None = None


class Gravity(_Deed, frozen=True, kw_only=True, tag="gravity"):
    """A reading as read: specific gravity (0.980-1.200), with the sample's temperature if told. Where it was told in
    Brix, `brix` is that figure and `sg` what it stands for in a must; `instrument` is set where it is known."""

    sg: float
    temp_c: float | None = None
    brix: float | None = None
    instrument: Instrument | None = None


class Temperature(_Deed, frozen=True, kw_only=True, tag="temperature"):
    """The batch's temperature in °C."""

    temp_c: float


class Ph(_Deed, frozen=True, kw_only=True, tag="ph"):
    """A pH reading."""

    ph: float


class Acidity(_Deed, frozen=True, kw_only=True, tag="acidity"):
    """Titratable acidity in g/l as tartaric acid."""

    g_per_l: float


class Volume(_Deed, frozen=True, kw_only=True, tag="volume"):
    """How much is in there, in litres: in all, or in one `vessel` of several."""

    litres: float
    vessel: str | None = None


class Draw(_Deed, frozen=True, kw_only=True, tag="draw"):
    """Wine taken out or lost, in litres; from one `vessel` where the batch is in several."""

    litres: float
    why: Literal["sample", "lees", "spill", "lost", "out"]
    vessel: str | None = None


class Addition(_Deed, frozen=True, kw_only=True, tag="addition"):
    """Something put in: sulphite, sorbate, finings, sugar, yeast, nutrient, acid, water, oak, tannin,
    bentonite, `sachet N`, or as written. `vessel` where the batch is in several, and it went into one."""

    what: str
    amount: float | None = None
    unit: AmountUnit | None = None
    vessel: str | None = None


class Step(_Deed, frozen=True, kw_only=True, tag="step"):
    """A chore done. `to` is the vessel of a transfer, `bottles` the count when bottling. Of a batch in several vessels
    `vessel` is the one that it was done to. Topping up has `litres` and what it was done `using`: water, wine, or the
    name of another batch, whose number is `donor`, set when it is written down."""

    step: StepName
    to: str | None = None
    bottles: int | None = None
    vessel: str | None = None
    litres: float | None = None
    using: str | None = None
    donor: BatchId | None = None


KitPart = Literal["colour", "days", "litres", "vessel"]
"""What is asked of a kit, one thing at a time."""


class Begin(_Deed, frozen=True, kw_only=True, tag="begin"):
    """A new batch: its name, volume (litres), the kit's own length (days), colour and vessel. `plan` is the
    key of the plan it follows, set when it is written down."""

    name: str | None = None
    litres: float | None = None
    days: int | None = None
    colour: Colour | None = None
    vessel: str | None = None
    plan: str | None = None

    @property
    def lacks(self) -> KitPart | None:
        """The first thing to be asked that it does not say."""
        parts: tuple[KitPart, ...] = ("colour", "days", "litres", "vessel")
        return next((part for part in parts if getattr(self, part) is None), None)


class Amend(_Deed, frozen=True, kw_only=True, tag="amend"):
    """A beginning put right, or completed: what is given takes the place of what the beginning said. `plan` is
    the key of the plan for the days, set when it is written down."""

    days: int | None = None
    colour: Colour | None = None
    vessel: str | None = None
    plan: str | None = None


class Skip(_Deed, frozen=True, kw_only=True, tag="skip"):
    """A step that this batch leaves out of its plan. `which` is the step's id in the plan, set when it is
    written down."""

    step: StepName
    which: str | None = None


class GiveUp(_Deed, frozen=True, kw_only=True, tag="give_up"):
    """A batch thrown away: it is at its end, and its vessels are empty."""


class Bottles(_Deed, frozen=True, kw_only=True, tag="bottles"):
    """A signed change of the bottles at home; or how many are `left`, counted, whatever was known before."""

    change: int
    reason: Reason | None = None
    left: int | None = None


class Note(_Deed, frozen=True, kw_only=True, tag="note"):
    """Free words worth keeping."""

    text: str


class Nickname(_Deed, frozen=True, kw_only=True, tag="nickname"):
    """The household's own word for a batch or a vessel (`of`)."""

    name: str


class Share(msgspec.Struct, frozen=True, kw_only=True):
    """A part of a batch: its vessel, and how many litres of it. `rest`: it is what the other parts leave."""

    vessel: str
    litres: float | None = None
    rest: bool = False


class Split(_Deed, frozen=True, kw_only=True, tag="split"):
    """One batch shared out over several vessels; of a batch in several what is in `vessel`. Litres that nobody told
    are set when it is written down."""

    into: tuple[Share, ...]
    vessel: str | None = None


class Blend(_Deed, frozen=True, kw_only=True, tag="blend"):
    """Another batch (`other`, by name) poured into this one, which goes on, in the vessel `to` where it moves.
    `batch` is the number of the other, set when it is written down."""

    other: str
    to: str | None = None
    batch: BatchId | None = None


class Vessel(_Deed, frozen=True, kw_only=True, tag="vessel"):
    """Something about a vessel (`of`): its kind, capacity (litres), whether it has a tap, or how clean it is."""

    kind: str | None = None
    litres: float | None = None
    tap: bool | None = None
    state: Literal["clean", "dirty"] | None = None


class Cost(_Deed, frozen=True, kw_only=True, tag="cost"):
    """Money spent on a batch, in the household's own money: `what` is `kit`, or the extra's name."""

    what: str
    amount: float


class KeepPlan(_Deed, frozen=True, kw_only=True, tag="plan"):
    """A plan to keep, read from a leaflet. Its key gets the next version when it is written down."""

    plan: Plan


class Follow(_Deed, frozen=True, kw_only=True, tag="follow"):
    """A batch goes on by another plan: its key, or its name until it is written down."""

    plan: str


class Rota(_Deed, frozen=True, kw_only=True, tag="rota"):
    """Who does a chore, or takes the readings: one person, or several in turn. `step` is None for every chore
    (the readings are none); no `people` means nobody in particular any more. "Everybody in turn" gets its names when it is written down."""

    step: Turns | None = None
    people: tuple[str, ...] = ()
    all: bool = False


class Question(_Deed, frozen=True, kw_only=True, tag="question"):
    """Something asked."""

    subject: Subject

    @property
    def about(self) -> About:
        """What it is about, in the contract's word."""
        return about(self.subject)


class Undo(_Deed, frozen=True, kw_only=True, tag="undo"):
    """Strike out what was written last, or the entry of that number."""

    entry: EntryId | None = None


class Remind(_Deed, frozen=True, kw_only=True, tag="remind"):
    """A wish of one's own: to be reminded at `until`, `about` something in the writer's words (at most 200
    characters) or the chore `step`. `whom` is a member; None for all."""

    until: datetime | None = None
    step: StepName | None = None
    about: str | None = None
    whom: str | None = None


class PutOff(_Deed, frozen=True, kw_only=True, tag="put_off"):
    """Something due that can wait `until` then: the chore `step`, or `what`, the due thing's own key, where the answer
    was to one."""

    until: datetime | None = None
    step: StepName | None = None
    what: str | None = None


class TakeOn(_Deed, frozen=True, kw_only=True, tag="take_on"):
    """Something that the writer will do, or the member `whom`; a plan, with `until` the time it is for. It is given
    back by striking this out."""

    until: datetime | None = None
    step: StepName | None = None
    what: str | None = None
    whom: str | None = None


class Done(_Deed, frozen=True, kw_only=True, tag="done"):
    """Something due that is over by somebody's word alone; of what is done several times, that it was enough. The
    `step` alone is that chore done, and is written down as such."""

    step: StepName | None = None
    what: str | None = None


class Look(_Deed, frozen=True, kw_only=True, tag="look"):
    """What somebody found who looked whether a wine has cleared; `what` is the key of the look. A cloudy one is looked
    at again at `until`."""

    what: str
    found: Literal["clear", "cloudy"]
    until: datetime | None = None


class Timer(_Deed, frozen=True, kw_only=True, tag="timer"):
    """The minutes of a chore of its own that are counted from now on, `until` they are up."""

    step: StepName
    until: datetime


Promised = Remind | PutOff | TakeOn | Done | Look | Timer
"""What people ask of reminders and answer to them."""

Act = (
    Gravity
    | Temperature
    | Ph
    | Acidity
    | Volume
    | Draw
    | Addition
    | Step
    | Begin
    | Amend
    | Skip
    | GiveUp
    | Bottles
    | Note
    | Nickname
    | Split
    | Blend
    | Vessel
    | Cost
    | KeepPlan
    | Follow
    | Rota
    | Question
    | Undo
    | Remind
    | PutOff
    | TakeOn
    | Done
    | Look
    | Timer
)


def kind(act: Act) -> str:
    """What kind of act it is, in a word. All that is said of reminders is of one kind: each may be meant where another
    was understood."""
    return "reminder" if isinstance(act, Promised) else type(act).__name__.lower()
