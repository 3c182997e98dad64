"""What falls due for a batch, and when: derived from its facts, so undoing one withdraws what it caused."""

from datetime import datetime, timedelta
from typing import Literal

import msgspec

from bot.cellar.acts import Reminder, StepName
from bot.cellar.log import BatchView, HouseView, Promise
from bot.cellar.plans import Plan
from bot.cellar.stages import (
    FINISHED_BELOW,
    SETTLED_OVER,
    agreeing_since,
    day_of,
    fall_per_day,
    place_in_plan,
    settled,
    true_sg,
)

FIRST_LOOK = timedelta(hours=48)
"""After the yeast: by then it should have begun (common practice, no source)."""

NUDGE = timedelta(hours=24)
"""A chore that could be done at once is brought up again after a day."""

CONTACT = timedelta(minutes=10)
"""The customary contact time of a no-rinse sanitiser (common practice, no source): the pack decides."""

CLOSEST_LOOK, LONGEST_LOOK = timedelta(days=1), timedelta(days=3)
"""Bounds between two readings: every opening of the bucket risks the wine (common practice, no source)."""

SOONEST_PROOF = timedelta(hours=6)
"""A reading that would be the proof may come sooner after the last one."""

OVERDUE_AFTER, UNSEEN_AFTER = timedelta(hours=72), timedelta(hours=24)
"""A reading so long overdue is brought up once more: the first one after the yeast sooner, since by 72 hours a
ferment must have begun (common practice, no source)."""

DueKind = Literal["chore", "reading", "contact", "asked", "watch"]


class Due(msgspec.Struct, frozen=True, kw_only=True):
    """Something due. `step` is its key within the batch (0 is the house itself): with `at` it is unique.
    `exact` ones are timers and ring to the minute; `chore` is the step a "done" stands for."""

    batch: int
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


def due_for(view: BatchView, plan: Plan) -> list[Due]:
    """What is to come for this batch by what is known now, each with the moment it falls due."""
    found: list[Due] = []
    if view.gone_at is None and (view.bottled_at is None or view.done("label") is None):
        found += [due for due in (_chore_due(view, plan), _reading_due(view, plan)) if due is not None]
    found = [_put_off(view, due) for due in found]
    return found + _asked(view, found) + _watch(view, plan)


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


def due_for_house(house: HouseView, contact: timedelta = CONTACT) -> list[Due]:
    """What belongs to no batch: sanitisers' contact times, and plans that named no batch."""
    contacts = [
        Due(
            batch=0,
            step=f"contact {chore.entry}",
            at=chore.at + contact,
            kind="contact",
            exact=True,
            minutes=contact / timedelta(minutes=1),
        )
        for chore in house.sanitised
    ]
    asked = [
        Due(
            batch=0,
            step=f"asked {entry.entry}",
            at=entry.act.until,
            kind="asked",
            chore=entry.act.step,
            whose=entry.by if entry.act.action == "mine" else None,
            of=entry.act.of,
        )
        for entry in house.loose
        if isinstance(entry.act, Reminder) and entry.act.until is not None
    ]
    return contacts + asked


def _chore_due(view: BatchView, plan: Plan) -> Due | None:
    place = place_in_plan(view, plan)
    chore = place.chore
    if chore is None or place.ready is None or chore.does is None:
        return None
    waited = any(step.wait_hours for step in place.waits) or chore.wait_hours > 0
    waited = waited or ((chore.day or 1) > 1 and place.ready == day_of(view, chore))
    does = None if chore.does == "gravity" or chore.does == "add" else chore.does
    return Due(
        batch=view.batch,
        step=chore.id,
        at=place.ready if waited else place.ready + NUDGE,
        kind="reading" if chore.does == "gravity" else "chore",
        chore=does,
        adds=chore.met_by if chore.does == "add" else (),
    )


def _reading_due(view: BatchView, plan: Plan) -> Due | None:
    at = next_reading(view, plan)
    return None if at is None else Due(batch=view.batch, step="reading", at=at, kind="reading")


def next_reading(view: BatchView, plan: Plan) -> datetime | None:
    """When a gravity is worth opening the bucket for; None before the yeast and once it is proved settled.

    First 48 hours after the yeast; then when it should have come down to 1.000 at its present fall, in one
    to three days; and once low, when a reading that agrees would be proof.
    """
    place = place_in_plan(view, plan)
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


def _answers(promise: Promise, due: Due) -> bool:
    return promise.step == due.chore and promise.at >= due.at - LONGEST_LOOK


def _put_off(view: BatchView, due: Due) -> Due:
    later = [p for p in view.promises if _answers(p, due)]
    if not later:
        return due
    last = later[-1]
    at = max(due.at, last.until) if last.until is not None else due.at
    return msgspec.structs.replace(due, at=at, whose=last.by if last.action == "mine" else None)


def _asked(view: BatchView, found: list[Due]) -> list[Due]:
    """Plans that people made in words for something that nothing else brings up."""
    covered = {due.at for due in found}
    return [
        Due(
            batch=view.batch,
            step=f"asked {promise.entry}",
            at=promise.until,
            kind="asked",
            chore=promise.step,
            whose=promise.by if promise.action == "mine" else None,
        )
        for promise in view.promises
        if promise.until is not None and promise.until not in covered and not _since(view, promise)
    ]


def _since(view: BatchView, promise: Promise) -> bool:
    """Whether what was promised has been done; a promise that names no chore is about a reading."""
    if promise.step is None:
        return any(reading.at >= promise.at for reading in view.readings)
    return any(chore.step == promise.step and chore.at >= promise.at for chore in view.chores)
