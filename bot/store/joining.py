"""Two households that turn out to be one: all that the younger one has goes on under the older one."""

from sqlalchemy import ColumnElement, Connection, and_, delete, exists, func, select, update
from sqlalchemy.orm import aliased

from bot.ids import HouseholdId
from bot.store.tables import (
    Asked,
    CalendarLine,
    Chat,
    Household,
    Invite,
    LogLine,
    Member,
    OutboxLine,
    ReminderLine,
    VesselLine,
)


def join(connection: Connection, older: HouseholdId, younger: HouseholdId) -> None:
    """Moves every row of the younger household to the older one, whose own settings, names and dates stand where
    both have one. The younger one's row stays as a sign to the older one. Both are held."""
    _join_members(connection, older, younger)
    _join_vessels(connection, older, younger)
    # The same thing due at the same moment in both is said once, a date in people's calendars given out once.
    due, date = aliased(ReminderLine), aliased(CalendarLine)
    said_twice = exists().where(
        due.household_id == older,
        due.batch == ReminderLine.batch,
        due.step == ReminderLine.step,
        due.due == ReminderLine.due,
    )
    given_twice = exists().where(
        date.household_id == older, date.batch == CalendarLine.batch, date.step == CalendarLine.step
    )
    connection.execute(delete(ReminderLine).where(ReminderLine.household_id == younger, said_twice))
    connection.execute(delete(CalendarLine).where(CalendarLine.household_id == younger, given_twice))
    for table in (LogLine, Asked, OutboxLine, ReminderLine, CalendarLine, Chat, Invite):
        connection.execute(update(table).where(table.household_id == younger).values(household_id=older))
    connection.execute(update(Household).where(Household.joined_to == younger).values(joined_to=older))
    connection.execute(update(Household).where(Household.id == younger).values(joined_to=older))
    connection.execute(update(Household).where(Household.id == older).values(joins=Household.joins + 1))


def _join_members(connection: Connection, older: HouseholdId, younger: HouseholdId) -> None:
    """Whoever is in both is one member; put out of the older one they stay out. The older one's owner stays."""
    ours, theirs = (
        {
            row.person_id: row
            for row in connection.execute(
                select(Member.id, Member.person_id, Member.owner, Member.state)
                .where(Member.household_id == household_id)
                .order_by(Member.id)
            )
        }
        for household_id in (older, younger)
    )
    owned = any(row.owner for row in ours.values())
    for person_id, row in theirs.items():
        known = ours.get(person_id)
        if known is None:
            _change(connection, Member.id == row.id, household_id=older, owner=row.owner and not owned)
            continue
        if known.state == "left" and row.state == "in":
            _change(connection, Member.id == known.id, state="in")
        if row.owner and not owned:
            _change(connection, Member.id == known.id, owner=True)
        for table in (LogLine, Asked, Invite):
            connection.execute(update(table).where(table.member_id == row.id).values(member_id=known.id))
        connection.execute(delete(Member).where(Member.id == row.id))


def _change(connection: Connection, which: ColumnElement[bool], **values: object) -> None:
    connection.execute(update(Member).where(which).values(**values))


def _join_vessels(connection: Connection, older: HouseholdId, younger: HouseholdId) -> None:
    """A vessel of the same name is the same vessel; what the older household does not know of it, it learns."""
    theirs = aliased(VesselLine)
    same = and_(theirs.household_id == younger, func.lower(theirs.name) == func.lower(VesselLine.name))
    connection.execute(
        update(VesselLine)
        .where(VesselLine.household_id == older, VesselLine.litres.is_(None))
        .values(litres=select(func.max(theirs.litres)).where(same).scalar_subquery())
    )
    ours = aliased(VesselLine)
    known = exists().where(ours.household_id == older, func.lower(ours.name) == func.lower(VesselLine.name))
    connection.execute(delete(VesselLine).where(VesselLine.household_id == younger, known))
    connection.execute(
        update(VesselLine).where(VesselLine.household_id == younger).values(household_id=older)
    )
