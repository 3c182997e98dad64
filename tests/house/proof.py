"""Whether anything due was lost: found out from the log alone, beside what the bot keeps of its reminders."""

from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import select

from bot.cellar.home.due import Due, due_for, due_for_house
from bot.cellar.log.fold import HouseView, fold
from bot.house.hours import Hours
from bot.store.tables import ReminderLine
from bot.store.unit import Units

Key = tuple[int, str, datetime]

WAITS_AT_MOST = timedelta(hours=49)
"""From when something can be said until it is: a night, a preferred hour, a day that has had its messages."""

LEVELS = ("claimer", "all", "matters", "watch")


class Proof:
    """Looks at one household after every step of its life."""

    def __init__(self) -> None:
        self.household = 1
        self.rows: dict[Key, Any] = {}
        self.passed: dict[Key, datetime] = {}
        self.excused: set[Key] = set()
        self.looks = 0

    def look(self, units: Units, hours: Hours, now: datetime, *, woken: bool) -> None:
        """Everything due by the log is said, or is going to be at a decent hour soon, or need not be.
        `woken` says that the clock has just rung, so that nothing may be left for this very moment."""
        with units.read() as unit:
            view = fold(unit.log.entries(self.household))
            query = select(ReminderLine).where(ReminderLine.household_id == self.household)
            found = unit.reminders.connection.execute(query).all()
        rows = {(row.batch, row.step.text, row.due): row for row in found}
        assert len(rows) == len(found)
        wanted = [d for d in _dues(view) if d.until is None or now < d.until]
        due = {(d.batch, d.step, d.at): d for d in wanted}
        for key, row in rows.items():
            if row.state == "withdrawn" and row.said_at is None and key in due and key not in self.excused:
                assert _over(due[key], now) or self._overtaken(row, rows, now), f"lost at {now}: {key}"
                self.excused.add(key)
            if row.state == "planned":
                assert key in due or _long_past(key, now), f"no longer due at {now}: {key}"
        for key, one in due.items():
            if one.at <= now:
                self.passed.setdefault(key, now)
            if key in self.excused or _over(one, now):
                continue
            assert key in rows, f"forgotten at {now}: {key}"
            if rows[key].said_at is None:
                self._waits(rows[key], one, hours, now)
                assert not woken or rows[key].ring_at > now, f"not said at {now}: {key}"
        self.rows = rows
        self.looks += 1

    def back(self, now: datetime) -> None:
        """The bot was off until now: what was due meanwhile can be said from here on."""
        self.passed = dict.fromkeys(self.passed, now)

    def _waits(self, row: Any, due: Due, hours: Hours, now: datetime) -> None:
        """It was not said yet: then it will be, in time and when one may speak."""
        assert row.state == "planned", f"not said and not planned at {now}: {row}"
        assert row.ring_at >= now, f"should have been said before {now}: {row}"
        if due.exact:
            assert row.ring_at == due.at
            return
        assert not hours.quiet(row.ring_at)
        can_be_said = self.passed.get((due.batch, due.step, due.at), due.at)
        assert row.ring_at - can_be_said <= WAITS_AT_MOST, f"put off too long at {now}: {row}"

    def _overtaken(self, row: Any, rows: dict[Key, Any], now: datetime) -> bool:
        """Whether the same thing was said instead just now, or is what will be said instead."""
        before = self.rows.get((row.batch, row.step.text, row.due))
        return before is not None and any(
            other.due <= now
            and (other.said_at == now or (other.said_at is None and other.state == "planned"))
            for other in rows.values()
            if other is not row and (other.batch, thing(other.step.text)) == (row.batch, thing(row.step.text))
        )


def thing(step: str) -> str:
    """What a reminder is about, whichever time it is said."""
    first, _, rest = step.partition(" ")
    return rest if first in LEVELS else step


def _dues(view: HouseView) -> list[Due]:
    return due_for_house(view) + [due for batch in view.batches for due in due_for(batch, view)]


def _over(due: Due, now: datetime) -> bool:
    """Whether it is a timer that has become pointless: up long ago, or while what it is for was done already."""
    late = now - due.at
    return due.exact and (late > timedelta(hours=12) or (late > timedelta(minutes=5) and not due.still_open))


def _long_past(key: Key, now: datetime) -> bool:
    """A timer that nobody would be told of any more."""
    return key[1].startswith("contact ") and now - key[2] > timedelta(hours=12)
