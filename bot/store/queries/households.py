"""Households, their settings, and the chats in which they talk."""

from datetime import datetime

import msgspec
from sqlalchemy import Connection, bindparam, delete, exists, func, insert, or_, select, update

from bot.ids import ChatId, EntryId, HouseholdId
from bot.store.joining import join
from bot.store.statement import Fetched, Statement
from bot.store.tables import Asked, Chat, Household, LogLine, Member, OutboxLine


class HouseholdRow(msgspec.Struct, frozen=True, kw_only=True):
    """A household's settings."""

    id: HouseholdId
    name: str
    timezone: str
    language: str
    gallon: str
    volume_unit: str
    temperature_unit: str
    quiet_from: str
    quiet_until: str
    asks_at: str
    digest: str
    most_a_day: int
    contact_minutes: int
    chat: str
    brix_by: str
    invites: str
    joins: int


class ChatRow(msgspec.Struct, frozen=True, kw_only=True):
    """A chat of a household; `unreachable` says why nothing can be sent there."""

    household: HouseholdRow
    unreachable: str | None


class Joined(msgspec.Struct, frozen=True, kw_only=True):
    """A household to which another one was joined, and the numbers of the entries that came with it."""

    household_id: HouseholdId
    entries: frozenset[int]


class Households:
    """Which household a chat belongs to, and where a household is reached.

    `lock` and `chat` hold the household until the transaction ends, so that two processes never work for
    one household at once: a row lock on PostgreSQL; on SQLite a writing transaction is alone as it is.
    """

    def __init__(self, connection: Connection) -> None:
        self.connection = connection

    def lock(self, household_id: HouseholdId) -> HouseholdRow:
        """The household, held; the one that it was joined to, if it was."""
        row = _LOCKED.one(self.connection, household=household_id)
        assert row is not None
        return _household(row) if row.joined_to is None else self.lock(row.joined_to)

    def chat(self, chat_id: ChatId) -> ChatRow | None:
        """The chat with its household, held."""
        row = _CHAT.one(self.connection, chat=chat_id)
        if row is not None and row.joined_to is not None:  # while we waited for it
            return self.chat(chat_id)
        return ChatRow(household=_household(row), unreachable=row.unreachable) if row else None

    def of_chat(self, chat_id: ChatId) -> HouseholdRow | None:
        """The chat's household, only to be looked at."""
        row = _OF_CHAT.one(self.connection, chat=chat_id)
        return _household(row) if row else None

    def of_person(self, person_id: int) -> tuple[HouseholdRow, ...]:
        """The households that the person is in, the one joined last first."""
        rows = self.connection.execute(
            select(*_HOUSEHOLD)
            .join(Member, Member.household_id == Household.id)
            .where(Member.person_id == person_id, Member.state == "in")
            .order_by(Member.joined_at.desc(), Member.id.desc())
        )
        return tuple(_household(row) for row in rows)

    def add(self, name: str, now: datetime, founder: int | None = None, **settings: str) -> HouseholdRow:
        found = self.connection.execute(
            insert(Household)
            .values(name=name, created_at=now, founder=founder, **settings)
            .returning(Household.id)
        )
        return self.lock(HouseholdId(found.scalar_one()))

    def named(self, name: str) -> tuple[HouseholdRow, ...]:
        """The households of that name, but for those that were joined to another one."""
        rows = self.connection.execute(
            select(*_HOUSEHOLD)
            .where(
                or_(Household.name == name, func.lower(Household.name) == name.lower()),
                Household.joined_to.is_(None),
            )
            .order_by(Household.id)
        )
        return tuple(_household(row) for row in rows)

    def founded_since(self, since: datetime, by: int | None = None) -> int:
        """How many households were founded since that moment, by that person or by anybody."""
        query = select(func.count()).select_from(Household).where(Household.created_at >= since)
        if by is not None:
            query = query.where(Household.founder == by)
        return self.connection.execute(query).scalar_one()

    def settle(self, household_id: HouseholdId, **settings: str | int) -> None:
        """Changes settings of a household."""
        self.connection.execute(update(Household).where(Household.id == household_id).values(**settings))

    def add_chat(self, household_id: HouseholdId, chat_id: ChatId, *, private: bool) -> None:
        """The household talks there from now on, whatever was talked about there before."""
        gone = delete(Chat).where(Chat.chat_id == chat_id).returning(Chat.let_go_to)
        let_go_to = self.connection.execute(gone).scalar_one_or_none()
        self.connection.execute(
            insert(Chat).values(
                chat_id=chat_id, household_id=household_id, private=private, let_go_to=let_go_to
            )
        )

    def leave_chat(self, household_id: HouseholdId, chat_id: ChatId) -> None:
        """The household no longer talks there."""
        self.connection.execute(
            delete(Chat).where(Chat.chat_id == chat_id, Chat.household_id == household_id)
        )

    def main_chat(self, household_id: HouseholdId) -> ChatId | None:
        """The chat where the household's reminders go: its group, else its first private chat."""
        found: int | None = self.connection.execute(
            _MAIN_CHAT, {"household": household_id}
        ).scalar_one_or_none()
        return ChatId(found) if found is not None else None

    def talks_in(self, household_id: HouseholdId, chat_id: ChatId) -> bool:
        """Whether that chat is the household's and can be reached."""
        return self.connection.execute(
            select(
                exists().where(
                    Chat.chat_id == chat_id,
                    Chat.household_id == household_id,
                    Chat.unreachable.is_(None),
                    Chat.moved_to.is_(None),
                )
            )
        ).scalar_one()

    def mark_chat(self, chat_id: ChatId, unreachable: str | None) -> None:
        self.connection.execute(update(Chat).where(Chat.chat_id == chat_id).values(unreachable=unreachable))

    def move_chat(self, chat_id: ChatId, new_chat_id: ChatId) -> Joined | None:
        """The chat service gave the chat a new id; what is waiting for it goes along. Messages are counted
        anew there, so that none of those before can be replied to or changed. Where something was written under
        each id meanwhile, the younger household is joined to the older one."""
        joined = self._join_chats(chat_id, new_chat_id)
        self.connection.execute(
            update(OutboxLine)
            .where(OutboxLine.chat_id == chat_id, OutboxLine.closed_at.is_(None))
            .values(chat_id=new_chat_id, reply_to=None, edits=None, thread_id=None)
        )
        self.connection.execute(
            update(Asked)
            .where(Asked.chat_id == chat_id, Asked.closed_at.is_(None))
            .values(chat_id=new_chat_id)
        )
        return joined

    def _join_chats(self, chat_id: ChatId, new_chat_id: ChatId) -> Joined | None:
        """Both ids are of one household from now on; what was said under the old one may still be on its way."""
        households = [row.id for row in map(self.of_chat, (chat_id, new_chat_id)) if row is not None]
        if chat_id == new_chat_id or not households or self.of_chat(chat_id) is None:
            return None
        older, *younger = sorted({self.lock(household_id).id for household_id in sorted(households)})
        entries = frozenset(entry for household_id in younger for entry in self._entries(household_id))
        for household_id in younger:
            join(self.connection, older, household_id)
        if self.of_chat(new_chat_id) is None:
            self.connection.execute(
                insert(Chat).values(chat_id=new_chat_id, household_id=older, private=False)
            )
        self.mark_chat(new_chat_id, None)
        self.connection.execute(
            update(Chat).where(Chat.chat_id == chat_id).values(moved_to=new_chat_id, unreachable=None)
        )
        return Joined(household_id=older, entries=entries) if younger else None

    def _entries(self, household_id: HouseholdId) -> list[EntryId]:
        found = self.connection.execute(select(LogLine.id).where(LogLine.household_id == household_id))
        return [EntryId(entry) for entry in found.scalars()]


_HOUSEHOLD = (
    Household.id,
    Household.name,
    Household.timezone,
    Household.language,
    Household.gallon,
    Household.volume_unit,
    Household.temperature_unit,
    Household.quiet_from,
    Household.quiet_until,
    Household.asks_at,
    Household.digest,
    Household.most_a_day,
    Household.contact_minutes,
    Household.chat,
    Household.brix_by,
    Household.invites,
    Household.joins,
    Household.joined_to,
)

# Statements on every message's way are built once: building one costs several times what running it does.
_LOCKED = Statement(select(*_HOUSEHOLD).where(Household.id == bindparam("household")).with_for_update())
_IN_CHAT = (
    select(*_HOUSEHOLD, Chat.unreachable)
    .join(Chat, Chat.household_id == Household.id)
    .where(Chat.chat_id == bindparam("chat"))
)
_OF_CHAT, _CHAT = Statement(_IN_CHAT), Statement(_IN_CHAT.with_for_update(of=Household))
_MAIN_CHAT = (
    select(Chat.chat_id)
    .where(
        Chat.household_id == bindparam("household"),
        Chat.unreachable.is_(None),
        Chat.moved_to.is_(None),
    )
    .order_by(Chat.private, Chat.chat_id)
    .limit(1)
)


def _household(row: Fetched) -> HouseholdRow:
    return HouseholdRow(
        id=row.id,
        name=row.name,
        timezone=row.timezone,
        language=row.language,
        gallon=row.gallon,
        volume_unit=row.volume_unit,
        temperature_unit=row.temperature_unit,
        quiet_from=row.quiet_from,
        quiet_until=row.quiet_until,
        asks_at=row.asks_at,
        digest=row.digest,
        most_a_day=row.most_a_day,
        contact_minutes=row.contact_minutes,
        chat=row.chat,
        brix_by=row.brix_by,
        invites=row.invites,
        joins=row.joins,
    )
