"""Whether a wine has cleared: the chore that waits for that, when somebody should look, and what was found."""

from datetime import datetime, timedelta
from typing import Literal

from bot.cellar.batch.place import Place
from bot.cellar.log.due_key import ClearKey
from bot.cellar.log.views import BatchView
from bot.cellar.plans.kits import PlanStep

LOOK_BEFORE = timedelta(hours=24)
"""So long before the chore somebody looks; after a wait of less than twice as long, on the day itself."""

LOOK_AGAIN = timedelta(days=3)
"""How much longer a cloudy wine is left alone (common practice, no source)."""

CLOUDY = "cloudy"
"""What an answer to the look is `about` that puts it off because it has not cleared."""

Found = Literal["unknown", "cloudy", "clear"]


def clear_for(view: BatchView, place: Place) -> PlanStep | None:
    """The batch's next chore where it wants a clear wine: what the leaflet does "when clear", bottling after any
    wait, and after the finings drawing it off its sediment; else None."""
    chore = place.chore
    if chore is None or view.ended_at is not None:
        return None
    waited = any(step.wait_hours for step in place.waits) or chore.wait_hours > 0 or (chore.day or 1) > 1
    fined = any(step.does == "fine" for step in place.behind)
    clears = waited and (chore.does == "bottle" or (chore.does == "rack" and fined))
    return chore if chore.clear or clears else None


def look_key(chore: PlanStep) -> ClearKey:
    """The key of the look before that chore."""
    return ClearKey(step=None if chore.does == "bottle" else chore.id)


def look_at(view: BatchView, ready: datetime) -> datetime:
    """When to look, for a chore that can be done from `ready` on."""
    since = max([view.begun_at, *(c.at for c in view.chores), *(a.at for a in view.additions)])
    return ready - LOOK_BEFORE if ready - since >= 2 * LOOK_BEFORE else ready


def found_clear(view: BatchView, place: Place) -> Found | None:
    """What was found by looking; None where the next chore does not depend on it."""
    chore = clear_for(view, place)
    if chore is None:
        return None
    told = [
        promise
        for promise in view.promises
        if promise.what == look_key(chore).text and (promise.action == "done" or promise.about == CLOUDY)
    ]
    if not told:
        return "unknown"
    return "clear" if told[-1].action == "done" else "cloudy"
