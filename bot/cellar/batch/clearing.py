"""Whether a wine has cleared: the chore that waits for that, when somebody should look, and what was found."""

from datetime import datetime
from typing import Literal

from bot.cellar.batch.once import once
from bot.cellar.batch.place import place_in_plan
from bot.cellar.log.acts import Look
from bot.cellar.log.due_key import ClearKey
from bot.cellar.log.views import Batch
from bot.cellar.plans.kits import PlanStep
from bot.science import practice

HasCleared = Literal["unknown", "cloudy", "clear"]


def clear_for(view: Batch) -> PlanStep | None:
    """The batch's next chore where it wants a clear wine: what the leaflet does "when clear", bottling after any
    wait, and after the finings drawing it off its sediment; else None."""
    if view.ended_at is not None:
        return None
    place = place_in_plan(view)
    chore = place.chore
    if chore is None:
        return None
    waited = any(step.wait_hours for step in place.waits) or chore.wait_hours > 0 or (chore.day or 1) > 1
    fined = any(step.does == "fine" for step in place.behind)
    clears = waited and (chore.does == "bottle" or (chore.does == "rack" and fined))
    return chore if chore.clear or clears else None


def look_key(chore: PlanStep) -> ClearKey:
    """The key of the look before that chore."""
    return ClearKey(step=None if chore.does == "bottle" else chore.id)


def look_at(view: Batch, ready: datetime) -> datetime:
    """When to look, for a chore that can be done from `ready` on."""
    since = max([view.begun_at, *(c.at for c in view.chores), *(a.at for a in view.additions)])
    return ready - practice.LOOK_BEFORE.value if ready - since >= 2 * practice.LOOK_BEFORE.value else ready


@once
def found_clear(view: Batch) -> HasCleared | None:
    """What was found by looking; None where the next chore does not depend on it."""
    chore = clear_for(view)
    if chore is None:
        return None
    looks = [promise.act for promise in view.promises if isinstance(promise.act, Look)]
    return next((look.found for look in reversed(looks) if look.what == look_key(chore).text), "unknown")
