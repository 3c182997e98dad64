"""What falls due for a batch, and when: derived from its facts, so undoing one withdraws what it caused."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Literal

import msgspec

from bot.cellar.batch.clearing import found_clear
from bot.cellar.batch.looks import CheckKind, checks_for
from bot.cellar.batch.place import (
    FINISHED_BELOW,
    SETTLED_OVER,
    Place,
    agreeing_since,
    day_of,
    fall_per_day,
    place_in_plan,
    settled,
    true_sg,
)
from bot.cellar.batch.turns import whose_turn
from bot.cellar.log.acts import StepName, Turns
from bot.cellar.log.fold import BatchView, HouseView, Promise
from bot.cellar.plans.kits import Plan
from bot.ids import HOUSE, BatchId

FIRST_LOOK = timedelta(hours=48)
"""After the yeast: by then it should have begun (common practice, no source)."""

NUDGE = timedelta(hours=24)
"""A chore that could be done at once is brought up again after a day."""

CONTACT = timedelta(minutes=10)
"""The customary contact time of a no-rinse sanitiser (common practice, no source), where a house has not said
what its pack says."""

CLOSEST_LOOK, LONGEST_LOOK = timedelta(days=1), timedelta(days=3)
"""Bounds between two readings: every opening of the bucket risks the wine (common practice, no source)."""

OVERDUE_AFTER, UNSEEN_AFTER = timedelta(hours=72), timedelta(hours=24)
"""A reading so long overdue is brought up once more: the first one after the yeast sooner, since by 72 hours a
ferment must have begun (common practice, no source)."""

SOONEST_PROOF = timedelta(hours=6)
"""A reading that would be the proof may come sooner after the last one."""

CLAIMER_AFTER, ALL_AFTER = timedelta(hours=24), timedelta(hours=72)
"""How long after a chore fell due the one who took it on is reminded, and then all."""

MATTERS_AFTER: dict[StepName | None, timedelta] = {
    "mix": timedelta(days=4),
    "pitch": timedelta(days=4),
    "rack": timedelta(days=14),
    "stabilise": timedelta(days=7),
    "degas": timedelta(days=7),
    "fine": timedelta(days=7),
    "bottle": timedelta(days=45),
}
"""When leaving a chore undone begins to matter for the wine: must without yeast spoils within days, wine on
its lees or without stabiliser within weeks (common practice, no source)."""

TIMER_WITHIN = timedelta(hours=2)
"""A reminder asked for at most this far ahead is a timer: it rings to the minute, whatever the hour."""

WASH_AFTER, WASH_WITHIN = timedelta(hours=3), timedelta(days=10)
"""Lees dry on: an emptied vessel is brought up once the bottles or the transfer are seen to (common practice, no
source)."""

LATE_TIMER = timedelta(minutes=5)
"""A timer said later than this says so."""

TIMER = "timer"
"""What a promise is about that counts a chore's own minutes."""

DueKind = Literal["chore", "reading", "contact", "timer", "asked", "watch", "wash"] | CheckKind
Level = Literal["first", "claimer", "all", "matters"]
"""Said for the first time; once more to the one who took it on; once more to all; once more with why."""


class Due(msgspec.Struct, frozen=True, kw_only=True):
    """Something due. `step` is its key within the batch (0 is the house itself): with `at` it is unique.
    `exact` ones are timers and ring to the minute; `chore` is the step a "done" stands for."""

    batch: BatchId
    step: str
    at: datetime
    kind: DueKind
    chore: StepName | None = None
    exact: bool = False
    whose: str | None = None
    of: str | None = None
    minutes: float | None = None
    """How long a timer ran."""
    adds: tuple[str, ...] = ()
    """The additions a "done" stands for, where it is no chore by name."""
    level: Level = "first"
    timed: bool = False
    """Somebody named this moment: it is kept to, and counts as asked for."""
    claim: Promise | None = None
    """With which `whose` took it on; None where nobody did."""
    still_open: bool = True
    """For a timer: whether nothing has been told since that makes it pointless."""
    did: int = 0
    """How often it was done already, of the times that the plan wants; `did_at` is the last time."""
    did_at: datetime | None = None
    about: str | None = None
    """What somebody asked to be reminded of, in their words."""
    asked_by: str | None = None
    until: datetime | None = None
    """From then on it is of no use to bring it up."""
    if_clear: bool = False
    """Only once it has cleared, and nobody has said so yet."""
    begun: Promise | None = None
    """For a chore whose minutes somebody lets me count: who, and since when."""

    @property
    def base(self) -> str:
        """The key of the thing itself, whichever time it is said."""
        return base_of(self.step)


_AGAIN = ("claimer", "all", "matters", "watch")


def base_of(step: str) -> str:
    """The key of the thing itself, whichever time it is said."""
    first, _, rest = step.partition(" ")
    return rest if first in _AGAIN else step


def due_for(view: BatchView, plan: Plan, house: HouseView | None = None) -> list[Due]:
    """What is to come for this batch by what is known now, each with the moment it falls due. The house knows
    whose turn it is."""
    found: list[Due] = []
    if view.given_up:
        return found
    place = None  # of batches at their end there are ever more: their plan is not gone through
    if view.gone_at is None and (view.bottled_at is None or view.done("label") is None):
        place = place_in_plan(view, plan)
        found += [due for due in (_chore_due(view, place), _reading_due(view, place)) if due is not None]
    found += [
        Due(batch=view.batch, step=check.key, at=check.at, kind=check.kind, until=check.until)
        for check in checks_for(view, place)
    ]
    asked = _asked(view, found)
    found = [put_off(view.promises, _in_turn(view, due, house)) for due in found] + asked
    again = [more for due in found for more in once_more(due)]
    return found + again + _timers(view) + _watch(view, plan)


def _in_turn(view: BatchView, due: Due, house: HouseView | None) -> Due:
    turn: Turns | None = "reading" if due.kind == "reading" else due.chore
    whose = whose_turn(house, view, turn) if house is not None and turn is not None else None
    return due if whose is None else msgspec.structs.replace(due, whose=whose)


def once_more(due: Due) -> list[Due]:
    """The same thing again, when nobody has done it: gently to the one who took it on, then to all, and after
    a silence, when it begins to matter for the wine, once with why."""
    found: list[tuple[Level, timedelta]] = []
    if due.exact or due.kind == "watch" or (due.kind in ("asked", "wash") and due.claim is None):
        return []  # whom it is for, or whose turn it is, is no word given
    if due.whose is not None:
        claimed = max(due.claim.at - due.at, timedelta()) if due.claim is not None else timedelta()
        found.append(("claimer", claimed + CLAIMER_AFTER))
    if due.kind == "chore":
        found.append(("all", ALL_AFTER))
        if due.chore in MATTERS_AFTER:
            found.append(("matters", MATTERS_AFTER[due.chore]))
    elif due.claim is not None and due.kind != "reading":
        found.append(("all", max(due.claim.at - due.at, timedelta()) + ALL_AFTER))
    return [
        msgspec.structs.replace(
            due, step=f"{level} {due.step}"[:60], at=due.at + after, level=level, timed=False
        )
        for level, after in found
    ]


def overdue_at(view: BatchView, plan: Plan) -> datetime | None:
    """When a reading that falls due will be overdue; None while none is due."""
    due = next_reading(view, plan)
    if due is None:
        return None
    first = view.pitched_at is not None and not any(r.at > view.pitched_at for r in view.readings)
    return due + (UNSEEN_AFTER if first else OVERDUE_AFTER)


def _watch(view: BatchView, plan: Plan) -> list[Due]:
    """A reading that nobody took, brought up once more."""
    late = overdue_at(view, plan)
    if late is None or any(promise.until is not None and promise.until > late for promise in view.promises):
        return []
    return [Due(batch=view.batch, step="watch reading", at=late, kind="watch")]


def _chore_due(view: BatchView, place: Place) -> Due | None:
    chore = place.chore
    if chore is None or place.ready is None or chore.does is None:
        return None
    waited = any(step.wait_hours for step in place.waits) or chore.wait_hours > 0
    waited = waited or place.did > 0 or ((chore.day or 1) > 1 and place.ready == day_of(view, chore))
    does = None if chore.does == "gravity" or chore.does == "add" else chore.does
    return Due(
        batch=view.batch,
        step=chore.id,
        at=place.ready if waited else place.ready + NUDGE,
        kind="reading" if chore.does == "gravity" else "chore",
        chore=does,
        adds=chore.met_by if chore.does == "add" else (),
        minutes=chore.minutes,
        begun=next(
            (
                p
                for p in reversed(view.promises)
                if _counts(p, does) and p.at >= (place.did_at or place.ready)
            ),
            None,
        ),
        did=place.did,
        did_at=place.did_at,
        if_clear=found_clear(view, place) in ("unknown", "cloudy"),
    )


def _reading_due(view: BatchView, place: Place) -> Due | None:
    at = _next_reading(view, place)
    if at is None:
        return None
    last = view.latest.at if view.latest is not None else None
    return Due(batch=view.batch, step="reading", at=at, kind="reading", did_at=last)


def next_reading(view: BatchView, plan: Plan) -> datetime | None:
    """When a gravity is worth opening the bucket for; None before the yeast and once it is proved settled.

    First 48 hours after the yeast; then when it should have come down to 1.000 at its present fall, in one
    to three days; and once low, when a reading that agrees would be proof.
    """
    return None if view.ended_at is not None else _next_reading(view, place_in_plan(view, plan))


def _next_reading(view: BatchView, place: Place) -> datetime | None:
    if view.ended_at is not None or not any(step.does == "pitch" for step in place.behind):
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


def over(promises: Sequence[Promise], due: Due) -> bool:
    """Whether somebody said "done" to just this."""
    return any(promise.action == "done" and promise.what == due.step for promise in promises)


def _answers(promise: Promise, due: Due) -> bool:
    """Whether it is about that: by its key, or by the chore; what names neither is about a reading."""
    if promise.step != due.chore or promise.at < due.at - LONGEST_LOOK or promise.own:
        return False
    return promise.what == due.step or (promise.what is None and due.kind in ("chore", "reading"))


def _is_timer(promise: Promise) -> bool:
    return promise.own and promise.until is not None and promise.until - promise.at <= TIMER_WITHIN


def _fresh(promise: Promise, did_at: datetime | None) -> bool:
    """What was said of one time of several is over with it."""
    return did_at is None or promise.at > did_at


def _holds(promise: Promise, due: Due) -> bool:
    """Whoever took on what is done several times has all of it in hand; of readings just the one meant."""
    if due.kind != "reading":
        return promise.action == "mine"
    return promise.until is not None and due.did_at is not None and promise.until > due.did_at


def put_off(promises: Sequence[Promise], due: Due) -> Due:
    """The same with what people answered to it: until when it can wait, and who will do it."""
    later = [p for p in promises if p.action != "done" and _answers(p, due)]
    later = [p for p in later if _fresh(p, due.did_at) or _holds(p, due)]
    if not later:
        return due
    until = next((promise.until for promise in reversed(later) if promise.until is not None), None)
    at = max(due.at, until) if until is not None else due.at
    claim = next((promise for promise in reversed(later) if promise.action == "mine"), None)
    return msgspec.structs.replace(
        due,
        at=at,
        timed=due.timed if until is None else until == at,
        exact=due.exact and at == due.at,
        whose=claim.by if claim else due.whose,
        claim=claim,
    )


def _asked(view: BatchView, found: Sequence[Due]) -> list[Due]:
    """What members want to be reminded of, and their plans for something that nothing else brings up: `found`
    is what falls due by itself."""
    asked = [
        asked_due(promise, view.batch)
        for promise in view.promises
        if asks(promise) and not _since(view, promise) and not any(_answers(promise, due) for due in found)
    ]
    return [put_off(view.promises, due) for due in asked if not over(view.promises, due)]


def asks(promise: Promise) -> bool:
    """Whether it names a moment of its own, and is no answer to something due."""
    return promise.what is None and promise.until is not None


def asked_due(promise: Promise, batch: BatchId = HOUSE) -> Due:
    """What falls due by a promise that `asks`."""
    assert promise.until is not None
    return Due(
        batch=batch,
        step=f"asked {promise.entry}",
        at=promise.until,
        kind="asked",
        chore=promise.step,
        whose=promise.by if promise.action == "mine" else promise.whom,
        of=promise.of,
        about=promise.about,
        asked_by=promise.by,
        exact=_is_timer(promise),
        timed=True,
    )


def _counts(promise: Promise, step: StepName | None) -> bool:
    """Whether it is the minutes of that chore that it has counted."""
    return promise.what == TIMER and promise.step == step and promise.until is not None


def _timers(view: BatchView) -> list[Due]:
    """Minutes of a chore that somebody lets me count, while it is not done."""
    return [
        Due(
            batch=view.batch,
            step=f"{TIMER} {promise.entry}",
            at=promise.until,
            kind="timer",
            chore=promise.step,
            exact=True,
            minutes=(promise.until - promise.at) / timedelta(minutes=1),
        )
        for promise in view.promises
        if promise.until is not None and _counts(promise, promise.step) and not _since(view, promise)
    ]


def _since(view: BatchView, promise: Promise) -> bool:
    """Whether what was promised has been done; a promise to do nothing by name is about a reading."""
    if promise.step is None:
        return not promise.own and any(reading.at >= promise.at for reading in view.readings)
    return any(chore.step == promise.step and chore.at >= promise.at for chore in view.chores)
