"""What can be asked: a subject each, with just what is needed to answer it."""

from datetime import date
from typing import Literal, assert_never

import msgspec

from bot.cellar.plans.model import StepName
from bot.science.practice import Colour as Colour

Named = Literal[
    "abv",
    "stage",
    "next",
    "ready_to_rack",
    "ready_to_bottle",
    "finish_time",
    "readings",
    "chart",
    "temperature",
    "cost",
    "stock",
    "who",
    "additions",
    "overview",
    "help",
    "story",
    "reminders",
    "calendar",
    "contact",
]
"""What is asked by its name alone."""
About = Named | Literal["reckon", "vessels", "plans", "occasion", "safety", "craft"]
"""What a question is about, in the contract's word."""


class _Askable(msgspec.Struct, frozen=True, kw_only=True, tag_field="is"):
    """Something that can be asked."""


class Matter(_Askable, frozen=True, kw_only=True, tag="matter"):
    """A matter that needs no more than its name (and the batch that the question is of)."""

    about: Named


class Input(msgspec.Struct, frozen=True, kw_only=True):
    """What was told for one key of a sum, in that key's unit."""

    key: str
    value: float | str


class Reckon(_Askable, frozen=True, kw_only=True, tag="reckon"):
    """A sum of the catalogue, with what was told for its keys. `unused` is what was told with it and goes into none
    of them, in the asker's words; `vessel` the one of several that the sum is for."""

    sum: str
    inputs: tuple[Input, ...] = ()
    unused: tuple[str, ...] = ()
    vessel: str | None = None

    @property
    def given(self) -> dict[str, float | str]:
        """The inputs as the catalogue takes them."""
        return {one.key: one.value for one in self.inputs}


class FermentRange(_Askable, frozen=True, kw_only=True, tag="ferment_range"):
    """The temperatures at which it should ferment by its plan; and whether `at_c` (°C) is among them."""

    at_c: float | None = None


class LitresLeft(_Askable, frozen=True, kw_only=True, tag="litres_left"):
    """How many litres there are: in all, or in one `vessel` of several."""

    vessel: str | None = None


class BottlesToCome(_Askable, frozen=True, kw_only=True, tag="bottles_to_come"):
    """How many bottles it should give."""


class IsFinished(_Askable, frozen=True, kw_only=True, tag="is_finished"):
    """A yes or no: has it finished; or only, has it `stopped`."""

    stopped: bool = False


class IsAllRight(_Askable, frozen=True, kw_only=True, tag="is_all_right"):
    """A yes or no: is it all right."""


class IsStuck(_Askable, frozen=True, kw_only=True, tag="is_stuck"):
    """A yes or no: is it stuck; with `restart` what to do about it."""

    restart: bool = False


class IsSafe(_Askable, frozen=True, kw_only=True, tag="is_safe"):
    """A yes or no: is it safe, to `drink` or otherwise."""

    drink: bool


class Vessels(_Askable, frozen=True, kw_only=True, tag="vessels"):
    """What is in which vessel: of all of them, of one, or only which are `free`."""

    vessel: str | None = None
    free: bool = False


class Plans(_Askable, frozen=True, kw_only=True, tag="plans"):
    """The house's own plans, one of them by its name, or the one of the batch that the question is of."""

    plan: str | None = None


class Wish(msgspec.Struct, frozen=True, kw_only=True):
    """Bottles wanted for a day."""

    bottles: int
    by: date
    colour: Colour | None = None
    days: int | None = None


class Occasion(_Askable, frozen=True, kw_only=True, tag="occasion"):
    """When to begin so that there are bottles in time."""

    wishes: tuple[Wish, ...]


class Safety(_Askable, frozen=True, kw_only=True, tag="safety"):
    """What to do about something that may hurt somebody: a `topic` of the dangers."""

    topic: str


class Lore(_Askable, frozen=True, kw_only=True, tag="lore"):
    """How something of the craft is done, why, or what it is: a `topic` of `bot.cellar.log.topics`."""

    topic: str


class NextReading(_Askable, frozen=True, kw_only=True, tag="next_reading"):
    """When to measure again, and why then."""


class Compare(_Askable, frozen=True, kw_only=True, tag="compare"):
    """The batch that the question is of beside the `other`; None: all that are under way beside one another."""

    other: str | None = None


class WasDone(_Askable, frozen=True, kw_only=True, tag="was_done"):
    """Whether a chore was done, when last and by whom; None: every chore."""

    step: StepName | None = None


class Shopping(_Askable, frozen=True, kw_only=True, tag="shopping"):
    """What there is to buy or to have at hand for the chores to come."""


Subject = (
    Matter
    | Reckon
    | FermentRange
    | LitresLeft
    | BottlesToCome
    | IsFinished
    | IsAllRight
    | IsStuck
    | IsSafe
    | Vessels
    | Plans
    | Occasion
    | Safety
    | Lore
    | NextReading
    | Compare
    | WasDone
    | Shopping
)


def about(subject: Subject) -> About:
    """What it is about, in the contract's word."""
    match subject:
        case Matter():
            return subject.about
        case Reckon():
            return "reckon"
        case FermentRange():
            return "temperature"
        case LitresLeft() | BottlesToCome():
            return "stock"
        case IsFinished():
            return "finish_time"
        case IsAllRight() | IsStuck() | IsSafe():
            return "stage"
        case Vessels():
            return "vessels"
        case Plans():
            return "plans"
        case Occasion():
            return "occasion"
        case Safety():
            return "safety"
        case Lore():
            return "craft"
        case NextReading():
            return "next"
        case Compare():
            return "overview"
        case WasDone():
            return "stage"
        case Shopping():
            return "next"
        case _:
            assert_never(subject)
