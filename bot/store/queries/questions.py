"""Questions that the bot asked back."""

from collections.abc import Sequence
from datetime import datetime

import msgspec
from sqlalchemy import Connection, bindparam, case, insert, select, update

from bot.cellar.log.acts import Act
from bot.cellar.log.plain import from_plain, to_row
from bot.ids import ChatId, HouseholdId, MessageId
from bot.store.queries.logbook import Source
from bot.store.queries.people import MemberRow
from bot.store.statement import Fetched, Statement
from bot.store.tables import Asked


class AskedRow(msgspec.Struct, frozen=True, kw_only=True):
    """An open question; each option is a list of acts."""

    id: int
    message_id: MessageId
    member_id: int
    said_at: datetime
    options: tuple[tuple[Act, ...], ...]


class Questions:
    """Open until answered, replaced or expired."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection
        self._none_open: set[tuple[int, int]] = set()

    def ask(
        self,
        household_id: HouseholdId,
        source: Source,
        member: MemberRow,
        options: Sequence[Sequence[Act]],
        *,
        said_at: datetime,
        until: datetime,
    ) -> int:
        self._none_open.discard((household_id, source.chat_id))
        found = self.connection.execute(
            insert(Asked)
            .values(
                household_id=household_id,
                chat_id=source.chat_id,
                message_id=source.message_id,
                member_id=member.id,
                said_at=said_at,
                options=[[to_row(act) for act in option] for option in options],
                until=until,
            )
            .returning(Asked.id)
        )
        return found.scalar_one()

    def open(
        self, household_id: HouseholdId, chat_id: ChatId, now: datetime, *, member: int = 0
    ) -> AskedRow | None:
        """The chat's latest question that is neither answered nor expired; what the `member` was asked goes before what
        others were."""
        row = _OPEN.one(self.connection, household=household_id, chat=chat_id, now=now, member=member)
        if row is None:
            self._none_open.add((household_id, chat_id))
            return None
        return _asked(row)

    def question(self, household_id: HouseholdId, asked_id: int, now: datetime) -> AskedRow | None:
        """That question, when it is neither answered nor expired."""
        row = self.connection.execute(
            select(*_ASKED).where(
                Asked.household_id == household_id,
                Asked.id == asked_id,
                Asked.closed_at.is_(None),
                Asked.until >= now,
            )
        ).one_or_none()
        return _asked(row) if row else None

    def close(self, household_id: HouseholdId, asked_id: int, now: datetime) -> None:
        self.connection.execute(
            update(Asked)
            .where(Asked.household_id == household_id, Asked.id == asked_id)
            .values(closed_at=now)
        )

    def close_all(self, household_id: HouseholdId, chat_id: ChatId, member: MemberRow, now: datetime) -> None:
        """What the member was asked in that chat is settled; what others were asked stays open."""
        if (household_id, chat_id) in self._none_open:  # just looked
            return
        where = {"household": household_id, "chat": chat_id, "member": member.id, "now": now}
        self.connection.execute(_CLOSE_ALL, where)

    def close_asked(
        self, household_id: HouseholdId, chat_id: ChatId, message_id: MessageId, now: datetime
    ) -> None:
        """What was asked about that message is settled: it says something else now."""
        self.connection.execute(
            update(Asked)
            .where(
                Asked.household_id == household_id,
                Asked.chat_id == chat_id,
                Asked.message_id == message_id,
                Asked.closed_at.is_(None),
            )
            .values(closed_at=now)
        )


_ASKED = (Asked.id, Asked.message_id, Asked.member_id, Asked.said_at, Asked.options)

_OPEN = Statement(
    select(*_ASKED)
    .where(
        Asked.household_id == bindparam("household"),
        Asked.chat_id == bindparam("chat"),
        Asked.closed_at.is_(None),
        Asked.until >= bindparam("now"),
    )
    .order_by(case((Asked.member_id == bindparam("member"), 0), else_=1), Asked.id.desc())
    .limit(1)
)
_CLOSE_ALL = (
    update(Asked)
    .where(
        Asked.household_id == bindparam("household"),
        Asked.chat_id == bindparam("chat"),
        Asked.member_id == bindparam("member"),
        Asked.closed_at.is_(None),
    )
    .values(closed_at=bindparam("now"))
)


def _asked(row: Fetched) -> AskedRow:
    return AskedRow(
        id=row.id,
        message_id=row.message_id,
        member_id=row.member_id,
        said_at=row.said_at,
        options=tuple(tuple(from_plain(act) for act in option) for option in row.options),
    )
