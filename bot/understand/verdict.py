"""What understanding returns."""

from enum import StrEnum
from typing import Any, Literal

import msgspec

from bot.cellar.log.acts import Act
from bot.cellar.log.plain import to_plain

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


class Verdict(msgspec.Struct, frozen=True, kw_only=True):
    """`act`: do `acts`. `ask`: offer `options` (each a whole list of acts that one button stands for),
    and say what the `doubt` is; `about` is the word or number it hangs on, `doubted` the act that it is about where
    that is not the first, `unread` the part of the message that was not understood. `ignore`: stay silent."""

    verdict: Literal["act", "ask", "ignore"]
    acts: tuple[Act, ...] = ()
    why: str = ""
    doubt: Doubt | None = None
    options: tuple[tuple[Act, ...], ...] = ()
    about: str | None = None
    doubted: Act | None = None
    unread: str | None = None

    def to_plain(self) -> dict[str, Any]:
        """The contract's output line."""
        return {
            "verdict": self.verdict,
            "acts": [to_plain(act) for act in self.acts],
            "why": self.why,
            **({"doubt": self.doubt.value} if self.doubt else {}),
        }
