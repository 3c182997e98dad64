"""What households' own calendars know: which dates were given out, under which names, and what they said."""

from datetime import datetime

import msgspec
from sqlalchemy import Connection, insert, select, update

from bot.cellar.log.due_key import DueKey
from bot.ids import BatchId, HouseholdId
from bot.store.tables import CalendarLine


class DateRow(msgspec.Struct, frozen=True, kw_only=True):
    """A date as it was last given out. `batch` and `step` are its key; batch 0 is the house itself."""

    batch: BatchId
    step: DueKey
    uid: str
    sequence: int
    fingerprint: str
    summary: str
    start: datetime
    changed_at: datetime
    cancelled: bool = False


class Calendar:
    """Dates are added and changed, never deleted: a name that was given out is not given to anything else."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection

    def given(self, household_id: HouseholdId) -> list[DateRow]:
        """All that the household was ever given, in the order of its first time."""
        rows = self.connection.execute(
            select(*_DATE).where(CalendarLine.household_id == household_id).order_by(CalendarLine.id)
        )
        return [DateRow(**row._mapping) for row in rows]

    def add(self, household_id: HouseholdId, row: DateRow) -> None:
        """A date that was not given out before."""
        self.connection.execute(
            insert(CalendarLine).values(household_id=household_id, **msgspec.structs.asdict(row))
        )

    def change(self, household_id: HouseholdId, row: DateRow) -> None:
        """The date of that key as it is given out now."""
        self.connection.execute(
            update(CalendarLine)
            .where(
                CalendarLine.household_id == household_id,
                CalendarLine.batch == row.batch,
                CalendarLine.step == row.step,
            )
            .values(**msgspec.structs.asdict(row))
        )


_DATE = (
    CalendarLine.batch,
    CalendarLine.step,
    CalendarLine.uid,
    CalendarLine.sequence,
    CalendarLine.fingerprint,
    CalendarLine.summary,
    CalendarLine.start,
    CalendarLine.changed_at,
    CalendarLine.cancelled,
)
