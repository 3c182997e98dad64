"""What somebody tells that another, or they themselves, told a moment ago: one fact said twice."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from bot.cellar.log.acts import Act, Addition, Gravity, Step
from bot.cellar.log.fold import Entry, standing
from bot.ids import BatchId

WITHIN, MINUTES = timedelta(minutes=30), timedelta(minutes=5)
"""So long a chore or an addition told again is the same one; a reading may well be taken again soon, and what was
sanitised may be so again when its time is up. How warm it is costs nobody anything to tell twice."""
_REPEATED = frozenset({"degas", "stir"})
"""Chores that are done more than once by their nature."""


def told_already(
    act: Act, batch: BatchId | None, entries: Sequence[Entry], said_at: datetime, *, again: bool = False
) -> Entry | None:
    """The entry that stands in the log and tells of the batch just what the act tells, or more. `again`: it was said to be
    done once more."""
    if again and isinstance(act, Step) and act.step in _REPEATED:
        return None
    if act.at is not None or not isinstance(act, Gravity | Step | Addition):
        return None
    soon = isinstance(act, Gravity) or (isinstance(act, Step) and act.step == "sanitise")
    within = MINUTES if soon else WITHIN
    recent = [entry for entry in entries if abs(said_at - entry.said_at) <= within]
    same = [entry for entry in standing(recent) if entry.batch == batch and _tells(entry.act, act)]
    return same[-1] if same else None


def _tells(old: Act, new: Act) -> bool:
    """Whether the old act tells all that the new one does."""
    if isinstance(new, Gravity):
        return isinstance(old, Gravity) and old.sg == new.sg and new.temp_c in (None, old.temp_c)
    if isinstance(new, Step):
        if not isinstance(old, Step) or old.step != new.step or new.using is not None:
            return False
        detail = ((old.to, new.to), (old.bottles, new.bottles), (old.vessel, new.vessel))
        return (old.of == new.of or new.step != "sanitise") and all(b in (None, a) for a, b in detail)
    if isinstance(new, Addition) and isinstance(old, Addition):
        alike = new.amount is None or (old.amount, old.unit) == (new.amount, new.unit)
        return old.what == new.what and alike and new.vessel in (None, old.vessel)
    return False
