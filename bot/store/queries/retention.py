"""What is kept for a time only, and what goes with a household that is forgotten.

The log is kept: it is what the household wrote down. Of all else it is said here how long, and why no longer. The
newest letter and question stay in any case: SQLite counts on from them, and a number that an old button may still
name must never mean something else.
"""

from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    String,
    and_,
    delete,
    exists,
    func,
    or_,
    select,
    text,
    type_coerce,
    update,
)
from sqlalchemy.orm import InstrumentedAttribute, aliased

from bot.ids import HouseholdId
from bot.store.queries.postbox import moment_only
from bot.store.tables import (
    Asked,
    Attachment,
    CalendarLine,
    Chat,
    Household,
    InboxLine,
    Invite,
    LogLine,
    Member,
    OutboxLine,
    ReminderLine,
    VesselLine,
)

LETTERS_FOR = timedelta(days=90)
"""So long after it left a letter can be replied to, and its buttons pressed; one that reminds of something still
open, with what it was changed to, as long as that is open."""

OVER_FOR = timedelta(days=1)
"""A question that is over, or an invitation, opens nothing any more: whoever comes too late is told so without it."""

DATES_FOR = timedelta(days=365)
"""So long after its day a date in people's calendars is known by its name there: what was put off moves, and does not
stand there twice."""

MOST = 500
"""Rows of each kind in one run: some milliseconds of work."""

_TIDYING = 4711_03
"""On PostgreSQL whoever tidies up holds this lock: two that delete the same rows could block each other."""


class Retention:
    """Deletes what has had its time."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection

    def tidy(self, now: datetime, most: int = MOST) -> bool:
        """Lets go of what nobody needs any more, at most so much of each kind; whether that was all."""
        if self.connection.dialect.name == "postgresql":
            self.connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": _TIDYING})
        gone = [self._let_go_of_letters(_old_letters(now), most)]
        gone += [self._delete(key, which, most) for key, which in _over(now)]
        return max(gone) < most

    def _let_go_of_letters(self, old: ColumnElement[bool], most: int) -> int:
        """Letters, and the words in which they reminded. Each chat knows how far its letters were let go."""
        rows = self.connection.execute(
            select(OutboxLine.id, OutboxLine.chat_id, OutboxLine.sent_as)
            .where(
                old,
                OutboxLine.id < select(func.max(OutboxLine.id)).scalar_subquery(),
                ~_still_open(),
            )
            .order_by(OutboxLine.id)
            .limit(most)
        ).all()
        ids = [row.id for row in rows]
        up_to: dict[int, int] = {}
        for row in rows:
            if row.sent_as is not None:
                up_to[row.chat_id] = max(row.sent_as, up_to.get(row.chat_id, row.sent_as))
        for chat_id, message_id in sorted(up_to.items()):
            self.connection.execute(
                update(Chat)
                .where(Chat.chat_id == chat_id, func.coalesce(Chat.let_go_to, 0) < message_id)
                .values(let_go_to=message_id)
            )
        self.connection.execute(
            update(ReminderLine)
            .where(ReminderLine.outbox_id.in_(ids))
            .values(outbox_id=None, told=None, mark=None)
        )
        self.connection.execute(delete(Attachment).where(Attachment.outbox_id.in_(ids)))
        self.connection.execute(delete(OutboxLine).where(OutboxLine.id.in_(ids)))
        return len(ids)

    def _delete(self, key: InstrumentedAttribute[Any], which: ColumnElement[bool], most: int) -> int:
        some = select(key).where(which).limit(most)
        return self.connection.execute(delete(key.class_).where(key.in_(some))).rowcount

    def forget(self, household_id: HouseholdId, now: datetime) -> None:
        """Takes out a household with all that it wrote down and was told."""
        found = select(Household.id).where(
            or_(Household.id == household_id, Household.joined_to == household_id)
        )
        households = list(self.connection.execute(found.with_for_update()).scalars())
        chats, people = (
            list(self.connection.execute(select(key).where(which.in_(households))).scalars())
            for key, which in ((Chat.chat_id, Chat.household_id), (Member.person_id, Member.household_id))
        )
        # What was said at the door, before it was known which household was meant, is of none.
        at_door = and_(OutboxLine.household_id.is_(None), OutboxLine.chat_id.in_([*chats, *people]))
        letters = or_(OutboxLine.household_id.in_(households), at_door)
        theirs = select(OutboxLine.id).where(letters)
        self.connection.execute(delete(Attachment).where(Attachment.outbox_id.in_(theirs)))
        for table in (ReminderLine, CalendarLine, Asked, LogLine, Invite, VesselLine, Chat, Member):
            self.connection.execute(delete(table).where(table.household_id.in_(households)))
        self.connection.execute(delete(OutboxLine).where(letters))
        self.connection.execute(
            update(InboxLine)
            .where(InboxLine.chat_id.in_(chats), InboxLine.done_at.is_(None))
            .values(
                raw=moment_only(now), chat_id=None, done_at=now, holder=None, held_until=None, why="forgotten"
            )
        )
        self.connection.execute(delete(Household).where(Household.id.in_(households)))


def _old_letters(now: datetime) -> ColumnElement[bool]:
    """Letters that have had their time. What was said at the door, with the message that waits for a household to be
    chosen, is a question like any other."""
    at_door = and_(OutboxLine.household_id.is_(None), OutboxLine.closed_at < now - OVER_FOR)
    return or_(OutboxLine.closed_at < now - LETTERS_FOR, at_door)


def _still_open() -> ColumnElement[bool]:
    """Whether the letter reminds of something that can still be answered, or is what such a letter was changed to.
    A timer that has rung has nothing to answer."""
    first = aliased(OutboxLine)
    is_open = and_(
        ReminderLine.state.in_(("said", "moved")),
        ~type_coerce(ReminderLine.step, String).startswith("contact "),
    )
    changes_such = exists().where(
        first.chat_id == OutboxLine.chat_id,
        first.sent_as == OutboxLine.edits,
        ReminderLine.outbox_id == first.id,
        is_open,
    )
    return or_(exists().where(ReminderLine.outbox_id == OutboxLine.id, is_open), changes_such)


def _over(now: datetime) -> tuple[tuple[InstrumentedAttribute[Any], ColumnElement[bool]], ...]:
    """What else has had its time."""
    ended, past = now - OVER_FOR, now - DATES_FOR
    left = exists().where(OutboxLine.id == Attachment.outbox_id, OutboxLine.closed_at.is_not(None))
    newest = select(func.max(Asked.id)).scalar_subquery()
    return (
        (Attachment.outbox_id, left),
        (Asked.id, and_(or_(Asked.closed_at < ended, Asked.until < ended), Asked.id < newest)),
        (Invite.code, Invite.until < ended),
        (CalendarLine.id, and_(CalendarLine.start < past, CalendarLine.changed_at < past)),
    )
