"""Reminders answered and plans made: done, later, mine."""

from datetime import datetime, timedelta

import msgspec

from bot.cellar.acts import Reminder, Step
from bot.cellar.log import BatchView, Entry
from bot.cellar.stages import place_in_plan
from bot.house.hours import hours_of
from bot.house.turn import Turn
from bot.store.people import MemberRow

LATER = timedelta(hours=2)


def promise(turn: Turn, act: Reminder, member: MemberRow, said_at: datetime) -> Entry:
    """Writes the promise down, or, for "done", the step itself."""
    home = turn.home
    view = _meant(turn, act)
    if view is not None:
        act = msgspec.structs.replace(act, of=view.name)
    batch = view.batch if view is not None else None
    if act.action == "done" and act.step is not None:
        step = Step(step=act.step, of=act.of, at=act.at)
        return home.write(step, member, turn.source, said_at=said_at, batch=batch)
    if act.action == "later" and act.until is None:
        act = msgspec.structs.replace(act, until=hours_of(home.row).decent(turn.now + LATER))
    return home.write(act, member, turn.source, said_at=said_at, batch=batch)


def _meant(turn: Turn, act: Reminder) -> BatchView | None:
    """The batch that a promise is about: the one named, else the only one whose next chore it is."""
    house = turn.home.view
    if act.of is not None:
        return house.named(act.of)
    if act.what is not None or (act.about is not None and act.step is None):
        return None  # "to call the plumber" is about no wine
    views = [view for view in house.under_way if _is_next(turn, view, act)]
    return views[0] if len(views) == 1 else None


def _is_next(turn: Turn, view: BatchView, act: Reminder) -> bool:
    if act.step is None:
        return True
    chore = place_in_plan(view, turn.home.plan(view)).chore
    return chore is not None and chore.does == act.step
