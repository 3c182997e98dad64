"""Who works on what: updates taken to be handled, letters taken to be sent, each by one process at a time."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

import msgspec
from sqlalchemy import (
    Connection,
    Select,
    and_,
    bindparam,
    case,
    exists,
    func,
    insert,
    null,
    or_,
    select,
    text,
    update,
)
from sqlalchemy.orm import aliased

from bot.ids import LetterId, UpdateId
from bot.store.holder import LEASE, WORK_LEASE, is_gone
from bot.store.tables import Chat, InboxLine, Member, OutboxLine, Pulse

STUCK_FOR = timedelta(seconds=2)
"""A process that ended so long after it had begun a message was stuck in it; one that ended sooner was as likely
switched off by chance. A message takes some milliseconds."""

MOST_STUCK = 2
MOST_BEGUN = 6
"""Lives that a message may cost: two that were stuck in it, or six that ended in it however soon."""

_CLAIMING, _HOLDING = 4711_01, 4711_02
"""On PostgreSQL whoever takes something holds this lock while it does: else two could take from one chat."""


class WaitingRow(msgspec.Struct, frozen=True):
    """An update to be handled. `spent` says that it has cost too many lives: it is to be set aside unread."""

    update_id: UpdateId
    raw: str
    spent: bool


class Work:
    """What this process takes on, under its name `holder`."""

    def __init__(self, connection: Connection, holder: str) -> None:
        self.connection = connection
        self._holder = holder

    def claim(self, most: int, now: datetime, born: datetime | None, *, suspects: bool) -> list[WaitingRow]:
        """The next updates, at most so many, in the order in which they are to be handled.

        Households are served in turn, one message each before the second of any; who is in no household comes
        last. No two processes have updates of one chat at once. That they are taken, and since when, is committed
        before anybody begins: so the first one of a dead process's that is not done is the one that it had begun,
        and all without a write for each. Such suspects are handled alone, after all the others, and only when they
        are asked for. `born` is when this process began.
        """
        self._alone(_CLAIMING)
        self._take_over(now, born)
        where = {"now": now, "most": most}
        picked = list(self.connection.execute(_NEXT, where).scalars())
        if not picked and suspects:
            picked = list(self.connection.execute(_NEXT_SUSPECT, where).scalars())
        if not picked:
            return []
        rows = self.connection.execute(_PICKED, {"updates": picked}).all()
        ids = [row.update_id for row in rows]
        self.connection.execute(_CLAIM, {"updates": ids, "holder": self._holder, "until": now + WORK_LEASE})
        return [WaitingRow(row.update_id, row.raw, _spent(row.begun, row.stuck)) for row in rows]

    def _take_over(self, now: datetime, born: datetime | None) -> None:
        """Frees what dead processes had taken, and counts what each of them had begun."""
        for row in self.connection.execute(_OTHERS, {"holder": self._holder}).all():
            if row.held_until > now and not is_gone(row.holder):
                continue
            taken_at = row.held_until - WORK_LEASE
            ended_by = born if born is not None and born > taken_at else now
            stuck = int(ended_by - taken_at >= STUCK_FOR)
            self.connection.execute(
                update(InboxLine)
                .where(InboxLine.update_id == row.first, InboxLine.done_at.is_(None))
                .values(begun=InboxLine.begun + 1, stuck=InboxLine.stuck + stuck)
            )
            self.connection.execute(_FREE, {"gone": row.holder})

    def next_try(self, now: datetime) -> datetime | None:
        """When something that waits now may be tried again, or taken over; now, where there are suspects."""
        found: datetime | None = self.connection.execute(_NEXT_TRY).scalar_one()
        return max(found, now) if found is not None else None

    def put_off(self, update_id: UpdateId, until: datetime, *, failed: bool) -> int | None:
        """Lets go of an update that could not be handled, until that moment; returns how often it has `failed` by a
        fault of its own. None when it is done by now."""
        values = {"update": update_id, "until": until, "more": int(failed)}
        found: int | None = self.connection.execute(_PUT_OFF, values).scalar_one_or_none()
        return found

    def let_go(self) -> None:
        """Lets go of all that this process had taken and has not begun."""
        for table, done in ((InboxLine, InboxLine.done_at), (OutboxLine, OutboxLine.closed_at)):
            self.connection.execute(
                update(table)
                .where(done.is_(None), table.holder == self._holder)
                .values(holder=None, held_until=None)
            )

    def hold(self, letter_ids: Sequence[LetterId], now: datetime) -> set[LetterId]:
        """Takes these letters to be sent now, or goes on holding them; returns those that it has. One whose chat
        has an earlier letter in another process's hands has to wait, so that order is kept."""
        self._alone(_HOLDING)
        others = self.connection.execute(_HELD, {"letters": letter_ids, "holder": self._holder}).all()
        alive = {row.id for row in others if row.held_until > now and not is_gone(row.holder)}
        behind = {row.behind for row in others if row.id in alive}
        wanted = [letter_id for letter_id in letter_ids if letter_id not in behind]
        if not wanted:
            return set()
        values = {"wanted": wanted, "me": self._holder, "until": now + LEASE}
        return {LetterId(letter) for letter in self.connection.execute(_HOLD, values).scalars()}

    def put_off_letter(self, letter_id: LetterId, why: str) -> None:
        """The chat does not take the letter for now."""
        self.connection.execute(
            update(OutboxLine)
            .where(OutboxLine.id == letter_id, OutboxLine.closed_at.is_(None))
            .values(put_off=why)
        )

    def prove(self, now: datetime) -> int:
        """Writes for certain, and reads how many updates wait."""
        if not self.connection.execute(update(Pulse).values(at=now)).rowcount:
            self.connection.execute(insert(Pulse).values(id=1, at=now))
        return self.connection.execute(
            select(func.count()).select_from(InboxLine).where(InboxLine.done_at.is_(None))
        ).scalar_one()

    def _alone(self, number: int) -> None:
        if self.connection.dialect.name == "postgresql":
            self.connection.execute(_LOCK, {"number": number})


def _spent(begun: int, stuck: int) -> bool:
    return stuck >= MOST_STUCK or begun >= MOST_BEGUN


def _next() -> tuple[Select[Any], Select[Any]]:
    """The updates that are next, and the one next of those that a process ended in."""
    other = aliased(InboxLine)
    member = exists().where(Member.person_id == InboxLine.chat_id, Member.state == "in")
    in_work = select(other.chat_id).where(
        other.done_at.is_(None), other.holder.is_not(None), other.chat_id.is_not(None)
    )
    of_chat = case((Chat.household_id.is_(None), InboxLine.chat_id), else_=null())
    open_now = and_(
        InboxLine.done_at.is_(None),
        InboxLine.holder.is_(None),
        or_(InboxLine.not_before.is_(None), InboxLine.not_before <= bindparam("now")),
        or_(InboxLine.chat_id.is_(None), InboxLine.chat_id.not_in(in_work)),
    )
    spent = or_(InboxLine.stuck >= MOST_STUCK, InboxLine.begun >= MOST_BEGUN)
    turns = (
        select(
            InboxLine.update_id,
            case((Chat.household_id.is_not(None), 0), (member, 0), else_=1).label("stranger"),
            func.row_number()
            .over(partition_by=(Chat.household_id, of_chat), order_by=InboxLine.update_id)
            .label("turn"),
        )
        .outerjoin(Chat, Chat.chat_id == InboxLine.chat_id)
        .where(open_now, or_(InboxLine.begun == 0, spent))
        .subquery()
    )
    ordered = (
        select(turns.c.update_id)
        .order_by(turns.c.stranger, turns.c.turn, turns.c.update_id)
        .limit(bindparam("most"))
    )
    suspect = (
        select(InboxLine.update_id)
        .where(open_now, InboxLine.begun > 0)
        .order_by(InboxLine.begun, InboxLine.update_id)
        .limit(1)
    )
    return ordered, suspect


_LOCK = text("SELECT pg_advisory_xact_lock(:number)")
_OTHERS = (
    select(
        InboxLine.holder,
        func.min(InboxLine.held_until).label("held_until"),
        func.min(InboxLine.update_id).label("first"),
    )
    .where(
        InboxLine.done_at.is_(None), InboxLine.holder.is_not(None), InboxLine.holder != bindparam("holder")
    )
    .group_by(InboxLine.holder)
)
_FREE = (
    update(InboxLine)
    .where(InboxLine.done_at.is_(None), InboxLine.holder == bindparam("gone"))
    .values(holder=None, held_until=None)
)
_NEXT, _NEXT_SUSPECT = _next()
_PICKED = (
    select(InboxLine.update_id, InboxLine.raw, InboxLine.begun, InboxLine.stuck)
    .where(
        InboxLine.update_id.in_(bindparam("updates", expanding=True)),
        InboxLine.done_at.is_(None),
        InboxLine.holder.is_(None),
    )
    .order_by(InboxLine.update_id)
    .with_for_update(skip_locked=True)
)
_CLAIM = (
    update(InboxLine)
    .where(InboxLine.update_id.in_(bindparam("updates", expanding=True)))
    .values(holder=bindparam("holder"), held_until=bindparam("until"), not_before=None)
)
_NEXT_TRY = select(
    func.min(
        func.coalesce(
            InboxLine.held_until,
            InboxLine.not_before,
            case((InboxLine.begun > 0, InboxLine.received_at), else_=null()),
        )
    )
).where(InboxLine.done_at.is_(None))
_PUT_OFF = (
    update(InboxLine)
    .where(InboxLine.update_id == bindparam("update"), InboxLine.done_at.is_(None))
    .values(
        failed=InboxLine.failed + bindparam("more"),
        not_before=bindparam("until"),
        holder=None,
        held_until=None,
    )
    .returning(InboxLine.failed)
)


def _held() -> Select[*tuple[Any, ...]]:
    """What others have of the chats of these letters, and which of the letters each keeps waiting. A letter that was
    taken back while it was perhaps on its way counts too, until it is known what became of it."""
    mine = aliased(OutboxLine)
    return (
        select(OutboxLine.id, OutboxLine.holder, OutboxLine.held_until, mine.id.label("behind"))
        .join(mine, and_(mine.chat_id == OutboxLine.chat_id, mine.id >= OutboxLine.id))
        .where(
            mine.id.in_(bindparam("letters", expanding=True)),
            OutboxLine.holder.is_not(None),
            OutboxLine.holder != bindparam("holder"),
            OutboxLine.sent_as.is_(None),
            or_(OutboxLine.closed_at.is_(None), OutboxLine.refused == "withdrawn"),
        )
    )


_HELD = _held()
_HOLD = (
    update(OutboxLine)
    .where(OutboxLine.id.in_(bindparam("wanted", expanding=True)), OutboxLine.closed_at.is_(None))
    .values(holder=bindparam("me"), held_until=bindparam("until"))
    .returning(OutboxLine.id)
)
