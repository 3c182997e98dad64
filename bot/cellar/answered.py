"""What can be answered: a typed answer for each kind of question. How each is found is `answers`' matter, its words
`say`'s."""

from datetime import datetime
from typing import Literal

import msgspec

from bot.cellar.batch.clearing import Clearness
from bot.cellar.batch.due import Due
from bot.cellar.batch.histories import HistoryAnswer
from bot.cellar.batch.place import Proof, Stage
from bot.cellar.batch.story import Happened
from bot.cellar.batch.troubles import Trouble
from bot.cellar.batch.verdicts import AllRightAnswer, FinishedAnswer, SafeAnswer, StuckAnswer
from bot.cellar.home.costs import Costs
from bot.cellar.home.occasions import Schedule
from bot.cellar.home.vessels import VesselView
from bot.cellar.log.fold import BatchView, Reading
from bot.cellar.plans.kits import Plan, PlanStep
from bot.science.strength import Strength


class Need(msgspec.Struct, frozen=True, kw_only=True):
    """Something to have ready by a time: bottles and corks, or a vessel washed and sanitised."""

    what: Literal["bottles", "vessel"]
    count: int | None
    by: datetime | None


class Expected(msgspec.Struct, frozen=True, kw_only=True):
    """The strength that a batch may reach, % vol, with its band."""

    abv: float
    low: float
    high: float


class BatchAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Where a batch stands and what is next."""

    about: Literal["stage", "next"]
    view: BatchView
    stage: Stage
    fall_per_day: float | None
    next_reading: datetime | None
    strength: Strength | None
    needs: tuple[Need, ...] = ()
    """What to wash or buy before the next chores."""
    clear: Clearness | None = None
    """Whether it has cleared, where the next chore wants that."""


class HouseAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Every batch under way, the most urgent first."""

    about: Literal["overview", "next", "stage"]
    batches: tuple[BatchAnswer, ...]


class StrengthAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """The strength so far and expected. `strength` is None where a starting or a later gravity is missing;
    `uncorrected` are the readings used that came without a temperature, `corrected` whether others had one."""

    view: BatchView
    strength: Strength | None
    expected: Expected | None
    uncorrected: tuple[Reading, ...]
    corrected: bool
    settled: bool
    blended: tuple[tuple[str, float, float], ...] = ()
    """What it was blended of: name, litres, % vol."""
    water: float = 0.0
    """Litres of water that went in since the start; the figures count it."""


class ReadyAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Whether it is time to rack or bottle. `before` is the chore that comes first, where one does;
    `since` is when the readings that agree began, `proof_at` when one more would be proof."""

    what: Literal["rack", "bottle"]
    verdict: Literal["yes", "not_yet", "done"]
    view: BatchView
    latest: Reading | None
    proof: Proof | None
    since: datetime | None
    proof_at: datetime | None
    before: PlanStep | None
    ready: datetime | None
    fall_per_day: float | None = None
    trouble: Trouble | None = None
    """A ferment that is stuck or has not begun."""
    clear: Clearness | None = None
    """Whether it has cleared, where that matters now."""


class FinishAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """When it should stop fermenting at its present fall, and when there may be bottles."""

    view: BatchView
    proof: Proof | None
    ferment_until: datetime | None
    bottles_from: datetime


class RangeAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """The temperatures at which each batch should ferment by its plan, in °C from and to."""

    ranges: tuple[tuple[BatchView, tuple[float, float]], ...]


class ExpectedAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """How many bottles of 75 cl each batch should give; None where no volume is known."""

    counts: tuple[tuple[BatchView, int | None], ...]


class LitresAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """How much is left of each batch, in all or in the `vessel` asked about."""

    views: tuple[BatchView, ...]
    vessel: str | None = None


class StockAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Bottles at home."""

    views: tuple[BatchView, ...]


class CostAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What was spent, a batch each."""

    costs: tuple[tuple[BatchView, Costs], ...]


class StoryAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What happened to each batch."""

    stories: tuple[tuple[BatchView, tuple[Happened, ...]], ...]


class VesselsAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """The vessels asked about."""

    vessels: tuple[VesselView, ...]


class PlansAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """One plan to be shown (and for which batch), or all that the house has."""

    plan: Plan | None
    view: BatchView | None
    plans: tuple[Plan, ...]


class OccasionAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """When to begin for a day."""

    schedule: Schedule


class VerdictsAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """A verdict for each batch asked about."""

    verdicts: tuple[FinishedAnswer | AllRightAnswer | StuckAnswer | SafeAnswer, ...]


class SafetyAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What to do about something that may hurt somebody."""

    topic: str


class RemindersAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What people asked to be reminded of, with the batch's name, soonest first."""

    asked: tuple[tuple[Due, str | None], ...]


class HelpAnswer(msgspec.Struct, frozen=True):
    """What to type."""


class NoneAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """There is no such batch, or none at all: `of` is what was named."""

    of: str | None


Answer = (
    BatchAnswer
    | HouseAnswer
    | StrengthAnswer
    | ReadyAnswer
    | FinishAnswer
    | HistoryAnswer
    | RangeAnswer
    | ExpectedAnswer
    | LitresAnswer
    | StockAnswer
    | CostAnswer
    | StoryAnswer
    | VesselsAnswer
    | PlansAnswer
    | OccasionAnswer
    | VerdictsAnswer
    | RemindersAnswer
    | SafetyAnswer
    | HelpAnswer
    | NoneAnswer
)
