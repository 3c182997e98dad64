"""What falls due and when, for a batch and for the house: derived from the facts, so undoing one withdraws what it
caused."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Literal

import msgspec

from bot.cellar.batch.clearing import found_clear
from bot.cellar.batch.looks import CheckKind, checks_for
from bot.cellar.batch.place import day_of, place_in_plan
from bot.cellar.batch.readings import next_reading, overdue_at
from bot.cellar.home.turns import whose_turn
from bot.cellar.home.vessels import emptied
from bot.cellar.log.acts import Look, PutOff, Remind, StepName, TakeOn, Timer, Turns
from bot.cellar.log.due_key import (
    AskedKey,
    ContactKey,
    DueKey,
    Level,
    ReadingKey,
    StepKey,
    TimerKey,
    is_meant,
)
from bot.cellar.log.fold import Batch, Chore, HouseView, Promise
from bot.ids import HOUSE, BatchId
from bot.science import practice

NUDGE = timedelta(hours=24)
"""A chore that could be done at once is brought up again after a day."""


CLAIMER_AFTER, ALL_AFTER = timedelta(hours=24), timedelta(hours=72)
"""How long after a chore fell due the one who took it on is reminded, and then all."""


TIMER_WITHIN = timedelta(hours=2)
"""A reminder asked for at most this far ahead is a timer: it rings to the minute, whatever the hour."""


LATE_TIMER = timedelta(minutes=5)
"""A timer said later than this says so."""

DueKind = Literal["chore", "reading", "contact", "timer", "asked", "watch", "wash"] | CheckKind


class Due(msgspec.Struct, frozen=True, kw_only=True):
    """Something due. `key` tells it from all else in the batch (0 is the house itself): with `at` it is unique.
    `exact` ones are timers and ring to the minute; `chore` is the step a "done" stands for."""

    batch: BatchId
    key: DueKey
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
    def level(self) -> Level:
        """Which time it is said."""
        return self.key.level

    @property
    def step(self) -> str:
        """The text of its key."""
        return self.key.text

    @property
    def base(self) -> str:
        """The text of the thing itself, whichever time it is said."""
        return self.key.base.text


def due_for(view: Batch, house: HouseView | None = None) -> list[Due]:
    """What is to come for this batch by what is known now, each with the moment it falls due. The house knows
    whose turn it is."""
    found: list[Due] = []
    if view.given_up:
        return found
    # Of batches at their end there are ever more: their plan is not gone through.
    if view.gone_at is None and (view.bottled_at is None or view.done("label") is None):
        found += [due for due in (_chore_due(view), _reading_due(view)) if due is not None]
    found += [
        Due(batch=view.batch, key=check.key, at=check.at, kind=check.kind, until=check.until)
        for check in checks_for(view)
    ]
    asked = _asked(view, found)
    found = [put_off(view.promises, _in_turn(view, due, house)) for due in found] + asked
    again = [more for due in found for more in once_more(due)]
    return found + again + _timers(view) + _watch(view)


def _in_turn(view: Batch, due: Due, house: HouseView | None) -> Due:
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
        if due.chore is not None and due.chore in practice.MATTERS_AFTER.value:
            found.append(("matters", practice.MATTERS_AFTER.value[due.chore]))
    elif due.claim is not None and due.kind != "reading":
        found.append(("all", max(due.claim.at - due.at, timedelta()) + ALL_AFTER))
    return [
        msgspec.structs.replace(
            due, key=msgspec.structs.replace(due.key, level=level), at=due.at + after, timed=False
        )
        for level, after in found
    ]


def _watch(view: Batch) -> list[Due]:
    """A reading that nobody took, brought up once more."""
    late = overdue_at(view)
    if late is None or any(promise.until is not None and promise.until > late for promise in view.promises):
        return []
    return [Due(batch=view.batch, key=ReadingKey(level="watch"), at=late, kind="watch")]


def _chore_due(view: Batch) -> Due | None:
    place = place_in_plan(view)
    chore = place.chore
    if chore is None or place.ready is None or chore.does is None:
        return None
    waited = any(step.wait_hours for step in place.waits) or chore.wait_hours > 0
    waited = waited or place.did > 0 or ((chore.day or 1) > 1 and place.ready == day_of(view, chore))
    does = None if chore.does == "gravity" or chore.does == "add" else chore.does
    return Due(
        batch=view.batch,
        key=StepKey(step=chore.id),
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
        if_clear=found_clear(view) in ("unknown", "cloudy"),
    )


def _reading_due(view: Batch) -> Due | None:
    at = next_reading(view)
    if at is None:
        return None
    last = view.latest.at if view.latest is not None else None
    return Due(batch=view.batch, key=ReadingKey(), at=at, kind="reading", did_at=last)


def over(promises: Sequence[Promise], due: Due) -> bool:
    """Whether somebody said "done" to just this."""
    return any(is_meant(promise.ends, due.key) for promise in promises)


def _answers(promise: Promise, due: Due) -> bool:
    """Whether it is about that: by its key, or by the chore; what names neither is about a reading."""
    act = promise.act
    if not isinstance(act, PutOff | TakeOn | Look) or promise.ends is not None:
        return False
    if promise.step != due.chore or promise.at < due.at - practice.LONGEST_LOOK.value:
        return False
    return is_meant(act.what, due.key) or (act.what is None and due.kind in ("chore", "reading"))


def _is_timer(promise: Promise) -> bool:
    until = promise.until if isinstance(promise.act, Remind) else None
    return until is not None and until - promise.at <= TIMER_WITHIN


def _fresh(promise: Promise, did_at: datetime | None) -> bool:
    """What was said of one time of several is over with it."""
    return did_at is None or promise.at > did_at


def _holds(promise: Promise, due: Due) -> bool:
    """Whoever took on what is done several times has all of it in hand; of readings just the one meant."""
    if due.kind != "reading":
        return isinstance(promise.act, TakeOn)
    return promise.until is not None and due.did_at is not None and promise.until > due.did_at


def put_off(promises: Sequence[Promise], due: Due) -> Due:
    """The same with what people answered to it: until when it can wait, and who will do it."""
    later = [p for p in promises if _answers(p, due)]
    later = [p for p in later if _fresh(p, due.did_at) or _holds(p, due)]
    if not later:
        return due
    until = next((promise.until for promise in reversed(later) if promise.until is not None), None)
    at = max(due.at, until) if until is not None else due.at
    claim = next((promise for promise in reversed(later) if isinstance(promise.act, TakeOn)), None)
    return msgspec.structs.replace(
        due,
        at=at,
        timed=due.timed if until is None else until == at,
        exact=due.exact and at == due.at,
        whose=claim.by if claim else due.whose,
        claim=claim,
    )


def _asked(view: Batch, found: Sequence[Due]) -> list[Due]:
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
    act = promise.act
    free = isinstance(act, Remind) or (isinstance(act, PutOff | TakeOn) and act.what is None)
    return free and promise.until is not None


def asked_due(promise: Promise, batch: BatchId = HOUSE) -> Due:
    """What falls due by a promise that `asks`."""
    assert promise.until is not None
    wish = promise.act if isinstance(promise.act, Remind) else None
    whose = promise.by if isinstance(promise.act, TakeOn) else None
    return Due(
        batch=batch,
        key=AskedKey(entry=promise.entry),
        at=promise.until,
        kind="asked",
        chore=promise.step,
        whose=wish.whom if wish is not None else whose,
        of=promise.act.of,
        about=wish.about if wish is not None else None,
        asked_by=promise.by,
        exact=_is_timer(promise),
        timed=True,
    )


def _counts(promise: Promise, step: StepName | None) -> bool:
    """Whether it is the minutes of that chore that it has counted."""
    return isinstance(promise.act, Timer) and promise.step == step


def _timers(view: Batch) -> list[Due]:
    """Minutes of a chore that somebody lets me count, while it is not done."""
    return [
        Due(
            batch=view.batch,
            key=TimerKey(entry=promise.entry),
            at=promise.act.until,
            kind="timer",
            chore=promise.act.step,
            exact=True,
            minutes=(promise.act.until - promise.at) / timedelta(minutes=1),
        )
        for promise in view.promises
        if isinstance(promise.act, Timer) and not _since(view, promise)
    ]


def _since(view: Batch, promise: Promise) -> bool:
    """Whether what was promised has been done; a promise to do nothing by name is about a reading."""
    if promise.step is None:
        return not isinstance(promise.act, Remind) and any(
            reading.at >= promise.at for reading in view.readings
        )
    return any(chore.step == promise.step and chore.at >= promise.at for chore in view.chores)


def due_for_house(
    house: HouseView, contact: timedelta = practice.CONTACT.value, *, since: datetime | None = None
) -> list[Due]:
    """What belongs to no batch: sanitisers' contact times (those that are up at `since` or later), vessels to
    wash, and plans that named no batch."""
    contacts = [
        Due(
            batch=HOUSE,
            key=ContactKey(entry=chore.entry),
            at=chore.at + contact,
            kind="contact",
            exact=True,
            minutes=contact / timedelta(minutes=1),
            still_open=not _used_since(house, chore),
        )
        for chore in house.sanitised
        if (since is None or chore.at + contact >= since)
        and (chore.vessel is None or not _used_since(house, chore))
    ]
    wash = [
        Due(
            batch=HOUSE,
            key=one.key,
            at=one.at + practice.WASH_AFTER.value,
            kind="wash",
            of=one.vessel,
            until=one.at + practice.WASH_WITHIN.value,
        )
        for one in emptied(house)
        if one.washed_by is None
    ]
    asked = [p for p in house.promises if asks(p) and not sanitised_since(house, p)]
    found = [*(asked_due(promise) for promise in asked), *wash]
    found = [put_off(house.promises, due) for due in found if not over(house.promises, due)]
    return contacts + found + [more for due in found for more in once_more(due)]


def _used_since(house: HouseView, sanitised: Chore) -> bool:
    """Whether what was sanitised, or anything where no vessel was named, has been put to use."""
    return any(
        chore.at >= sanitised.at
        and chore.entry > sanitised.entry
        and chore.step != "sanitise"
        and (sanitised.vessel is None or sanitised.vessel in (chore.vessel, chore.to))
        for view in house.batches
        for chore in view.chores
    )


def asked_for(house: HouseView) -> tuple[Due, ...]:
    """What people asked to be reminded of and nobody has done, soonest first."""
    found = due_for_house(house)
    found += [due for view in house.batches for due in due_for(view, house)]
    return tuple(sorted((due for due in found if due.kind == "asked"), key=lambda due: (due.at, due.step)))


def sanitised_since(house: HouseView, promise: Promise) -> bool:
    """The same for a promise about no batch: only sanitising is ever told of none."""
    return promise.step == "sanitise" and any(chore.at >= promise.at for chore in house.sanitised)
