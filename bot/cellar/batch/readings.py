"""When a gravity is worth opening the bucket for, and when somebody should have read it."""

from datetime import datetime, timedelta

from bot.cellar.batch.once import once
from bot.cellar.batch.place import place_in_plan
from bot.cellar.batch.proof import (
    FINISHED_BELOW,
    SETTLED_OVER,
    agreeing_since,
    fall_per_day,
    settled,
    true_sg,
)
from bot.cellar.log.views import BatchView

FIRST_LOOK = timedelta(hours=48)
"""After the yeast: by then it should have begun (common practice, no source)."""

CLOSEST_LOOK, LONGEST_LOOK = timedelta(days=1), timedelta(days=3)
"""Bounds between two readings: every opening of the bucket risks the wine (common practice, no source)."""

OVERDUE_AFTER, UNSEEN_AFTER = timedelta(hours=72), timedelta(hours=24)
"""A reading so long overdue is brought up once more: the first one after the yeast sooner, since by 72 hours a
ferment must have begun (common practice, no source)."""

SOONEST_PROOF = timedelta(hours=6)
"""A reading that would be the proof may come sooner after the last one."""


@once
def next_reading(view: BatchView) -> datetime | None:
    """When a gravity is worth opening the bucket for; None before the yeast and once it is proved settled.

    First 48 hours after the yeast; then when it should have come down to 1.000 at its present fall, in one
    to three days; and once low, when a reading that agrees would be proof.
    """
    if view.ended_at is not None or not any(step.does == "pitch" for step in place_in_plan(view).behind):
        return None
    if settled(view) is not None:
        return None
    pitched = view.pitched_at
    latest = view.latest
    if latest is None or (pitched is not None and latest.at <= pitched):
        return (pitched or view.begun_at) + FIRST_LOOK
    sg = true_sg(view, latest)
    if sg <= FINISHED_BELOW:
        return max(agreeing_since(view) + SETTLED_OVER, latest.at + SOONEST_PROOF)
    fall = fall_per_day(view)
    if fall is None or fall <= 0:
        return latest.at + LONGEST_LOOK / 2
    return latest.at + min(LONGEST_LOOK, max(CLOSEST_LOOK, timedelta(days=(sg - 1.000) / fall)))


def overdue_at(view: BatchView) -> datetime | None:
    """When a reading that falls due will be overdue; None while none is due."""
    due = next_reading(view)
    if due is None:
        return None
    first = view.pitched_at is not None and not any(r.at > view.pitched_at for r in view.readings)
    return due + (UNSEEN_AFTER if first else OVERDUE_AFTER)
