"""What understanding returns."""

from datetime import datetime
from enum import StrEnum
from typing import Any, Literal

import msgspec

from bot.cellar.log.acts import Act, Begin, Instrument
from bot.cellar.log.plain import to_plain
from bot.ids import EntryId

ASKS_SOMETHING = "asks something"
"""The reason of a verdict on what only resembles a question."""


RESEMBLES = "resembles what people tell"
"""The reason of a verdict on what no rule reads."""


class Doubt(StrEnum):
    """Why a message is asked about instead of written down."""

    WHICH_BATCH = "which_batch"
    WHICH_VESSEL = "which_vessel"
    UNKNOWN_VESSEL = "unknown_vessel"
    UNKNOWN_BATCH = "unknown_batch"
    UNKNOWN_MEMBER = "unknown_member"
    OUT_OF_RANGE = "out_of_range"
    SLIPPED_DIGIT = "slipped_digit"
    RISING = "rising"
    FALLING_FAST = "falling_fast"
    OTHER_CURVE = "other_curve"
    ODD_TEMPERATURE = "odd_temperature"
    SAMPLE_ALONE = "sample_alone"
    ODD_DOSE = "odd_dose"
    TOO_MANY_BOTTLES = "too_many_bottles"
    VESSEL_BUSY = "vessel_busy"
    VESSEL_FULL = "vessel_full"
    TOO_SMALL = "too_small"
    FUTURE = "future"
    NOTHING_TO_CORRECT = "nothing_to_correct"
    HALF_UNDERSTOOD = "half_understood"
    UNSURE = "unsure"
    NAME_REFUSED = "name_refused"
    TOO_LONG = "too_long"
    WHEN = "when"
    WHAT = "what"
    PAST = "past"
    OFTEN = "often"
    KEEP_PLAN = "keep_plan"
    GIVE_UP = "give_up"
    STRIKE_OUT = "strike_out"
    DANGER = "danger"
    KEEP_NOTE = "keep_note"
    WHICH_QUESTION = "which_question"
    NOT_UNDERSTOOD = "not_understood"
    NO_ANSWER = "no_answer"
    THANKED = "thanked"


class _OfAnswers(msgspec.Struct, frozen=True, kw_only=True, tag_field="answers"):
    """What is open, answered."""


class Chosen(_OfAnswers, frozen=True, kw_only=True, tag="option"):
    """That option of the question with the number `asked`; `beside` is what was told in the same breath."""

    asked: int
    option: int
    beside: tuple[Act, ...] = ()


class Declined(_OfAnswers, frozen=True, kw_only=True, tag="no"):
    """None of what was asked."""

    asked: int


class AsksWhy(_OfAnswers, frozen=True, kw_only=True, tag="why"):
    """The working of the answer is asked for."""


class Counted(_OfAnswers, frozen=True, kw_only=True, tag="count"):
    """The count that a bottling lacked: the act takes the place of that entry."""

    entry: EntryId | None = None


class ReadOff(_OfAnswers, frozen=True, kw_only=True, tag="degrees"):
    """The temperature that was asked for."""


class FiguresTold(_OfAnswers, frozen=True, kw_only=True, tag="figures"):
    """What a sum lacked: the acts are what was told, and the sum once more."""


class Looked(_OfAnswers, frozen=True, kw_only=True, tag="look"):
    """What was found by whoever looked; of several wines it is not known which is meant."""

    of: tuple[str, ...]
    found: Literal["clear", "cloudy"]


class Settles(msgspec.Struct, frozen=True, kw_only=True):
    """What is answered to these things of a letter (by their numbers); `whom` will do it where that is not the writer,
    `enough` says of what is done several times that it was the last, `which` that it must be asked which is meant."""

    things: tuple[int, ...]
    action: Literal["done", "later", "mine", "release"]
    until: datetime | None = None
    whom: str | None = None
    enough: bool = False
    which: bool = False


class Settled(_OfAnswers, frozen=True, kw_only=True, tag="letter"):
    """A letter answered, each thing in the order said; `among` are the numbers of all that stands in it, `over` says
    that something meant is seen to already. `beside` are the facts that are told besides."""

    settles: tuple[Settles, ...]
    among: tuple[int, ...] = ()
    over: bool = False
    beside: tuple[Act, ...] = ()


class Timed(_OfAnswers, frozen=True, kw_only=True, tag="time"):
    """The time that a wish for a reminder lacked."""

    wish: str


class ReadWith(_OfAnswers, frozen=True, kw_only=True, tag="instrument"):
    """What the house's Brix come from, told without being asked."""

    instrument: Instrument


class KitSpokenOf(_OfAnswers, frozen=True, kw_only=True, tag="kit"):
    """A kit that is not begun yet: all that was told of it so far, which may be nothing."""

    told: Begin


AnswerGiven = (
    KitSpokenOf
    | Chosen
    | Declined
    | AsksWhy
    | Counted
    | ReadOff
    | FiguresTold
    | Looked
    | Settled
    | Timed
    | ReadWith
)
"""What a message does that is more than what it says of its own."""


class Verdict(msgspec.Struct, frozen=True, kw_only=True):
    """`act`: do `acts`. `ask`: offer `options` (each a whole list of acts that one button stands for),
    and say what the `doubt` is; `about` is the word or number it hangs on, `doubted` the act that it is about where
    that is not the first, `unread` the part of the message that was not understood. `ignore`: stay silent. `answers` is
    what it answers of what is open in the chat, where it does: then the acts are what that comes to."""

    verdict: Literal["act", "ask", "ignore"]
    acts: tuple[Act, ...] = ()
    why: str = ""
    doubt: Doubt | None = None
    options: tuple[tuple[Act, ...], ...] = ()
    about: str | None = None
    doubted: Act | None = None
    unread: str | None = None
    answers: AnswerGiven | None = None

    def to_plain(self) -> dict[str, Any]:
        """The contract's output line."""
        return {
            "verdict": self.verdict,
            "acts": [to_plain(act) for act in self.acts],
            "why": self.why,
            **({"doubt": self.doubt.value} if self.doubt else {}),
        }
