"""Reminders: rows derived from the views. That nothing is there twice is the database's own constraint."""

from collections.abc import Sequence
from datetime import datetime
from functools import lru_cache
from typing import Any, Literal

import msgspec
from sqlalchemy import (
    Connection,
    String,
    and_,
    bindparam,
    delete,
    exists,
    insert,
    or_,
    select,
    type_coerce,
    update,
)

from bot.cellar.log.due_key import DueKey
from bot.ids import BatchId, HouseholdId, LetterId
from bot.store.statement import Fetched, Statement
from bot.store.tables import Chat, OutboxLine, ReminderLine

ReminderState = Literal["planned", "said", "moved", "answered", "withdrawn"]


class ReminderRow(msgspec.Struct, frozen=True, kw_only=True):
    """A reminder: `due` is when it falls due, `ring_at` that moment moved to a decent hour. Once it is said:
    `outbox_id` is the letter, `told` the words, `mark` what was added to them since."""

    id: int
    household_id: HouseholdId
    batch: BatchId
    key: DueKey
    due: datetime
    ring_at: datetime
    state: ReminderState
    outbox_id: LetterId | None
    said_at: datetime | None
    told: str | None
    mark: str | None


class Reminders:
    """Planned, said, answered or withdrawn: a row that was said is never said again."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection

    def standing(self, household_id: HouseholdId, moments: Sequence[datetime] = ()) -> list[ReminderRow]:
        """Those that are still open, and those that fell due at one of these moments, whatever became of them.
        All the others of years are settled: nothing changes them any more."""
        at = {f"at_{number}": moment for number, moment in enumerate(moments)}
        rows = _standing(len(at)).all(self.connection, household=household_id, **at)
        return [_reminder(row) for row in rows]

    def asked(self, household_id: HouseholdId) -> list[ReminderRow]:
        """Those of the open ones that stand in a letter."""
        return [_reminder(row) for row in _ASKED.all(self.connection, household=household_id)]

    def said_since(self, household_id: HouseholdId, since: datetime) -> list[tuple[DueKey, int]]:
        """What was said from that moment on: its key, and the letter that it stood in."""
        rows = self.connection.execute(_SAID_SINCE, {"household": household_id, "since": since})
        return [(row.step, row.outbox_id) for row in rows]

    def reminder(self, household_id: HouseholdId, reminder_id: int) -> ReminderRow | None:
        row = self.connection.execute(
            select(*_REMINDER).where(
                ReminderLine.household_id == household_id, ReminderLine.id == reminder_id
            )
        ).one_or_none()
        return _reminder(row) if row else None

    def plan(
        self,
        household_id: HouseholdId,
        batch: BatchId,
        key: DueKey,
        due: datetime,
        ring_at: datetime,
        state: ReminderState,
    ) -> None:
        self.connection.execute(
            _PLAN,
            {
                "household_id": household_id,
                "batch": batch,
                "step": key,
                "due": due,
                "ring_at": ring_at,
                "state": state,
            },
        )

    def forget(self, household_id: HouseholdId, reminder_ids: Sequence[int]) -> None:
        """Withdraws reminders that were never said: nothing refers to them."""
        if reminder_ids:
            self.connection.execute(
                delete(ReminderLine).where(
                    ReminderLine.household_id == household_id, ReminderLine.id.in_(reminder_ids)
                )
            )

    def said(self, household_id: HouseholdId, rows: Sequence[ReminderRow], outbox_id: LetterId) -> None:
        """They stand in that letter, each in the words and with the mark that it has here."""
        self.connection.execute(
            _SAY,
            [
                {
                    "household": household_id,
                    "reminder": row.id,
                    "letter": outbox_id,
                    "words": row.told,
                    "added": row.mark,
                    "now": row.said_at,
                }
                for row in rows
            ],
        )

    def mark(
        self, household_id: HouseholdId, reminder_id: int, state: ReminderState, mark: str | None = None
    ) -> None:
        """Its new state, and what is now added to its words."""
        self._change(household_id, reminder_id, state=state, mark=mark)

    def in_letter(self, household_id: HouseholdId, outbox_id: LetterId) -> list[ReminderRow]:
        """Those that one letter said, in order."""
        rows = self.connection.execute(
            select(*_REMINDER)
            .where(ReminderLine.household_id == household_id, ReminderLine.outbox_id == outbox_id)
            .order_by(ReminderLine.id)
        )
        return [_reminder(row) for row in rows]

    def ring_at(self, household_id: HouseholdId, reminder_id: int, moment: datetime) -> None:
        self._change(household_id, reminder_id, ring_at=moment)

    def _change(self, household_id: HouseholdId, reminder_id: int, **values: Any) -> None:
        self.connection.execute(
            update(ReminderLine)
            .where(ReminderLine.household_id == household_id, ReminderLine.id == reminder_id)
            .values(**values)
        )

    def unsay(self, household_id: HouseholdId, outbox_id: LetterId) -> None:
        """What that letter was to say could not be said: it is due again."""
        self.connection.execute(
            update(ReminderLine)
            .where(
                ReminderLine.household_id == household_id,
                ReminderLine.outbox_id == outbox_id,
                ReminderLine.state == "said",
            )
            .values(state="planned", outbox_id=None, said_at=None, told=None, mark=None)
        )

    def households_ringing(self, now: datetime) -> list[HouseholdId]:
        """The households for which something is to be said by now, and can be, the one that waits longest first."""
        rows = self.connection.execute(
            select(ReminderLine.household_id)
            .where(ReminderLine.state == "planned", ReminderLine.ring_at <= now, _CAN_BE_TOLD)
            .order_by(ReminderLine.ring_at, ReminderLine.id)
        )
        return list(dict.fromkeys(HouseholdId(household) for household in rows.scalars()))

    def next_ring(self) -> datetime | None:
        """When something rings next, in any household that can be told."""
        found: datetime | None = self.connection.execute(_NEXT_RING).scalar_one_or_none()
        return found


_REMINDER = (
    ReminderLine.id,
    ReminderLine.household_id,
    ReminderLine.batch,
    ReminderLine.step.label("key"),
    ReminderLine.due,
    ReminderLine.ring_at,
    ReminderLine.state,
    ReminderLine.outbox_id,
    ReminderLine.said_at,
    ReminderLine.told,
    ReminderLine.mark,
)


# A timer that has rung has nothing to answer.
_UNANSWERED = and_(
    or_(ReminderLine.state == "said", ReminderLine.state == "moved"),
    ~type_coerce(ReminderLine.step, String).startswith("contact "),
)


# Statements on every message's and every wake-up's way are built once.
@lru_cache(maxsize=64)
def _standing(moments: int) -> Statement:
    """Those that are open, or fell due at one of so many moments, `at_0` and on."""
    at = [bindparam(f"at_{number}", type_=ReminderLine.due.type) for number in range(moments)]
    which = [
        ReminderLine.state == "planned",
        _UNANSWERED,
        *([ReminderLine.due.in_(at)] if at else []),
    ]
    return Statement(
        select(*_REMINDER)
        .where(ReminderLine.household_id == bindparam("household"), or_(*which))
        .order_by(ReminderLine.id)
    )


_ASKED = Statement(
    select(*_REMINDER)
    .where(
        ReminderLine.household_id == bindparam("household"),
        _UNANSWERED,
        ReminderLine.outbox_id.is_not(None),
    )
    .order_by(ReminderLine.id)
)
_SAID_SINCE = select(ReminderLine.step, ReminderLine.outbox_id).where(
    ReminderLine.household_id == bindparam("household"), ReminderLine.said_at >= bindparam("since")
)
_SAY = (
    update(ReminderLine)
    .where(ReminderLine.household_id == bindparam("household"), ReminderLine.id == bindparam("reminder"))
    .values(
        state="said",
        outbox_id=bindparam("letter"),
        told=bindparam("words"),
        mark=bindparam("added"),
        said_at=bindparam("now"),
    )
)
_PLAN = insert(ReminderLine)
_CAN_BE_TOLD = and_(
    exists().where(Chat.household_id == ReminderLine.household_id, Chat.unreachable.is_(None)),
    # One reminder that the chat does not take for now is enough: the others are said together, later.
    ~exists().where(
        OutboxLine.household_id == ReminderLine.household_id,
        OutboxLine.closed_at.is_(None),
        OutboxLine.is_reminder,
        OutboxLine.put_off.is_not(None),
    ),
)
_NEXT_RING = (
    select(ReminderLine.ring_at)
    .where(ReminderLine.state == "planned", _CAN_BE_TOLD)
    .order_by(ReminderLine.ring_at)
    .limit(1)
)


def _reminder(row: Fetched) -> ReminderRow:
    return ReminderRow(**row._asdict())
