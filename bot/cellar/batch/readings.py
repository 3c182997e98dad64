"""When a gravity is worth opening the bucket for, and when somebody should have read it."""

from datetime import datetime, timedelta
from typing import Literal

from bot.cellar.batch.once import once
from bot.cellar.batch.place import place_in_plan
from bot.cellar.batch.proof import agreeing_since, curve, settled, true_sg
from bot.cellar.log.views import Batch
from bot.science import practice


@once
def next_reading(view: Batch) -> datetime | None:
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
        return (pitched or view.begun_at) + practice.FIRST_LOOK.value
    sg = true_sg(view, latest)
    if sg <= practice.FINISHED_BELOW.value:
        return max(
            agreeing_since(view) + practice.SETTLED_OVER.value, latest.at + practice.SOONEST_PROOF.value
        )
    days = curve(view).straight_days_to(1.000)
    if days is None:
        return latest.at + practice.LONGEST_LOOK.value / 2
    return latest.at + min(
        practice.LONGEST_LOOK.value, max(practice.CLOSEST_LOOK.value, timedelta(days=days))
    )


ReadThen = Literal["ended", "settled", "before_yeast", "first_look", "proof", "on_its_way"]


def why_then(view: Batch) -> ReadThen:
    """Why `next_reading` says when, or that none is due."""
    if view.ended_at is not None:
        return "ended"
    if settled(view) is not None:
        return "settled"
    if next_reading(view) is None:
        return "before_yeast"
    latest, pitched = view.latest, view.pitched_at
    if latest is None or (pitched is not None and latest.at <= pitched):
        return "first_look"
    return "proof" if true_sg(view, latest) <= practice.FINISHED_BELOW.value else "on_its_way"


def overdue_at(view: Batch) -> datetime | None:
    """When a reading that falls due will be overdue; None while none is due."""
    due = next_reading(view)
    if due is None:
        return None
    first = view.pitched_at is not None and not any(r.at > view.pitched_at for r in view.readings)
    return due + (practice.UNSEEN_AFTER.value if first else practice.OVERDUE_AFTER.value)
