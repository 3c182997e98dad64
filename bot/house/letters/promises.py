"""Reminders answered and plans made: done, later, mine."""

from datetime import datetime, timedelta

import msgspec

from bot.cellar.batch.place import place_in_plan
from bot.cellar.home.due import TIMER_WITHIN
from bot.cellar.log.acts import (
    Act,
    Done,
    Look,
    Promised,
    PutOff,
    Remind,
    Step,
    StepName,
    TakeOn,
    Timer,
)
from bot.cellar.log.fold import Batch, Entry
from bot.house.hours import hours_of
from bot.house.turn import Turn
from bot.store.queries.people import MemberRow

LATER = timedelta(hours=2)


def as_fact(turn: Turn, act: Act) -> Act:
    """The act itself, but for the "done" of a chore: that is the step."""
    if not isinstance(act, Done) or act.step is None:
        return act
    view = _meant(turn, act)
    return Step(step=act.step, of=view.name if view is not None else act.of, at=act.at)


def promise(turn: Turn, act: Promised, member: MemberRow, said_at: datetime) -> Entry:
    """Writes the promise down, for an hour at which the house may be spoken to."""
    home = turn.home
    view = _meant(turn, act)
    if view is not None:
        act = msgspec.structs.replace(act, of=view.name)
    if not isinstance(act, Done):
        act = msgspec.structs.replace(act, until=_decently(turn, act, said_at))
    batch = view.batch if view is not None else None
    return home.write(act, member, turn.source, said_at=said_at, batch=batch)


def _decently(turn: Turn, act: Remind | PutOff | TakeOn | Look | Timer, said_at: datetime) -> datetime | None:
    """Until when: in a while where nobody said, and never into the night, unless somebody wants it to the minute."""
    until = act.until
    if until is None and isinstance(act, Remind | PutOff):
        until = turn.now + LATER
    soon = until is not None and isinstance(act, Remind) and until - said_at <= TIMER_WITHIN
    return until if until is None or soon else hours_of(turn.home.row).decent(until)


def _meant(turn: Turn, act: Promised) -> Batch | None:
    """The batch that a promise is about: the one named, else the only one whose next chore it is."""
    house = turn.home.view
    if act.of is not None:
        return house.named(act.of)
    if isinstance(act, Look | Timer) or (not isinstance(act, Remind) and act.what is not None):
        return None
    if isinstance(act, Remind) and act.about is not None and act.step is None:
        return None  # "to call the plumber" is about no wine
    views = [view for view in house.under_way if _is_next(turn, view, act.step)]
    return views[0] if len(views) == 1 else None


def _is_next(turn: Turn, view: Batch, step: StepName | None) -> bool:
    if step is None:
        return True
    chore = place_in_plan(view).chore
    return chore is not None and chore.does == step
