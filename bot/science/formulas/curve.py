"""A ferment's curve: the gravity to expect at a time, and how long it takes down to one.

The one place where a course is guessed, for whether a reading is plausible and for the dates to come alike. Gravities
are SG 20/20, rates SG a day.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise

import msgspec

from bot.science import practice

Read = tuple[datetime, float]
"""When a gravity was read, and the SG."""

_DAY = timedelta(days=1)
_HALVING = 1.4
"""About 1 / ln 2: with it the guess sets out at the fall so far, and levels off towards the end."""
_LEAST_LEFT = 0.004
"""SG: with less to go the guess does not level off any sooner."""


class Curve(msgspec.Struct, frozen=True):
    """What is known of a ferment: its readings, oldest first."""

    readings: Sequence[Read]

    @property
    def apart(self) -> tuple[Read, Read] | None:
        """The last two readings, one after the other, that lie far enough apart to tell a rate; None where none do."""
        for later, earlier in pairwise(reversed(self.readings)):
            if later[0] - earlier[0] >= practice.RATE_OVER.value:
                return earlier, later
        return None

    @property
    def fall(self) -> float | None:
        """SG a day between those two."""
        pair = self.apart
        if pair is None:
            return None
        (began, high), (ended, low) = pair
        return (high - low) / ((ended - began) / _DAY)

    def gravity(self, when: datetime) -> float | None:
        """The SG to expect then, by the readings up to it; None where nothing was ever read.

        It goes on at the fall between the last two, and levels off towards where such wines end.
        """
        told = [read for read in self.readings if read[0] <= when] or list(self.readings[:1])
        if not told:
            return None
        at, last = told[-1]
        days = max(0.0, (when - at) / _DAY)
        fall = practice.LIKELY_FALL.value
        if len(told) > 1:
            before_at, before = told[-2]
            span = max(at - before_at, practice.RATE_OVER.value) / _DAY
            fall = min(max((before - last) / span, 0.0), practice.STEADY_FALL.value)
        left = max(last - practice.DRY_SG.value, 0.0)
        return last - left * (1 - 2 ** (-days * fall / max(left, _LEAST_LEFT) * _HALVING)) if left else last

    def straight_days_to(self, sg: float) -> float | None:
        """Days from the latest reading down to that gravity in a straight line; None where it does not fall."""
        fall = self.fall
        if fall is None or fall <= 0.0:
            return None
        return max(0.0, self.readings[-1][1] - sg) / fall

    def days_to(self, sg: float) -> float | None:
        """Days from the latest reading down to that gravity, slower at the end; None where it hardly moves."""
        days, fall = self.straight_days_to(sg), self.fall
        if days is None or fall is None or fall < practice.HARDLY_MOVING.value:
            return None
        return days * practice.SLOWING.value if sg <= practice.FINISHED_BELOW.value else days
