"""What is worth a look or an errand though no step of the plan: the temperature, whether it has cleared, bottles
and corks to fetch, a first taste. Each is brought up once; a number, or somebody's "done", ends it.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from operator import attrgetter
from typing import Literal

import msgspec

from bot.cellar.batch.clearing import clear_for, look_at, look_key
from bot.cellar.batch.once import once
from bot.cellar.batch.place import day_of, place_in_plan
from bot.cellar.batch.proof import settled
from bot.cellar.log.due_key import CollectKey, DueKey, TasteKey, TemperatureKey
from bot.cellar.log.views import Batch, Measured
from bot.science import practice

CheckKind = Literal["temperature", "clearing", "collect", "taste"]


class Check(msgspec.Struct, frozen=True, kw_only=True):
    """One thing to look at or to fetch. `key` names it within the batch."""

    key: DueKey
    kind: CheckKind
    at: datetime
    until: datetime | None = None
    """From then on it is of no use to bring it up."""


def checks_for(view: Batch) -> list[Check]:
    """Everything of that kind that is to come for this batch and that nobody said was done."""
    if view.gone_at is not None:
        return []
    every = [_temperature(view), _clearing(view), _collect(view), *_tastes(view)]
    over = {promise.ends for promise in view.promises}
    return [check for check in every if check is not None and check.key.text not in over]


def _temperature(view: Batch) -> Check | None:
    """After one that was out of range. What is in range is asked for with the next gravity."""
    pitched = view.pitched_at
    if pitched is None or view.ended_at is not None or settled(view) is not None:
        return None
    told = [found for found in temperatures(view) if found.at > pitched]
    low, high = view.follows.ferment_c
    if not told or low <= told[-1].value <= high:
        return None
    last = told[-1]
    return Check(
        key=TemperatureKey(entry=last.entry), kind="temperature", at=last.at + practice.BACK_IN_RANGE.value
    )


@once
def temperatures(view: Batch) -> Sequence[Measured]:
    """The wine's own, oldest first. What was told with a gravity is the sample's, in its jar: it puts that figure
    right and says nothing of the wine."""
    return sorted(view.temperatures, key=attrgetter("at", "entry"))


def _clearing(view: Batch) -> Check | None:
    chore = clear_for(view)
    ready = place_in_plan(view).ready if chore is not None else None
    if chore is None or ready is None:
        return None
    return Check(key=look_key(chore), kind="clearing", at=look_at(view, ready))


def bottling_by_kit(view: Batch) -> datetime:
    """Bottling day by the kit's own days, which are known from the start."""
    bottling = next((step for step in view.follows.steps if step.does == "bottle"), None)
    if bottling is not None and bottling.day is not None:
        return day_of(view, bottling)
    return view.begun_at + timedelta(days=view.follows.days)


def _collect(view: Batch) -> Check | None:
    """Where the wine takes longer than its kit says, nothing is lost: bottles and corks keep."""
    pitched = view.pitched_at
    if pitched is None or view.ended_at is not None:
        return None
    at = max(bottling_by_kit(view) - practice.COLLECT_BEFORE.value, pitched + practice.UNDER_WAY_BY.value)
    return Check(key=CollectKey(), kind="collect", at=at)


def _tastes(view: Batch) -> list[Check]:
    """Each until the next one, which is better."""
    bottled = view.bottled_at
    if bottled is None or view.bottles_left == 0:
        return []
    ends = (*practice.TASTE_AFTER.value[1:], 2 * practice.TASTE_AFTER.value[-1])
    return [
        Check(key=TasteKey(days=after.days), kind="taste", at=bottled + after, until=bottled + end)
        for after, end in zip(practice.TASTE_AFTER.value, ends, strict=True)
    ]
