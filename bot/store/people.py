"""Households, their chats, members and vessels. Every query names its household."""

from datetime import datetime
from typing import Any

import msgspec
from sqlalchemy import Connection, Row, bindparam, insert, select, update

from bot.store.tables import Asked, Chat, Household, Member, OutboxLine, Vessel


class HouseholdRow(msgspec.Struct, frozen=True, kw_only=True):
    """A household's settings."""

    id: int
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


class MemberRow(msgspec.Struct, frozen=True, kw_only=True):
    """A person in a household."""

    id: int
    person_id: int
    name: str


class VesselRow(msgspec.Struct, frozen=True, kw_only=True):
    """A vessel, with its capacity in litres where known."""

    name: str
    litres: float | None


class People:
    """Who lives here, where they talk and what they keep wine in."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection

    def household_of_chat(self, chat_id: int) -> HouseholdRow | None:
        row = self.connection.execute(_OF_CHAT, {"chat": chat_id}).one_or_none()
        return _household(row) if row else None

    def household_of_person(self, person_id: int) -> HouseholdRow | None:
        """The household that the person joined last."""
        row = self.connection.execute(
            select(*_HOUSEHOLD)
            .join(Member, Member.household_id == Household.id)
            .where(Member.person_id == person_id)
            .order_by(Member.joined_at.desc(), Member.id.desc())
            .limit(1)
        ).one_or_none()
        return _household(row) if row else None

    def household(self, household_id: int) -> HouseholdRow:
        row = self.connection.execute(select(*_HOUSEHOLD).where(Household.id == household_id)).one()
        return _household(row)

    def add_household(self, name: str, now: datetime, **settings: str) -> HouseholdRow:
        found = self.connection.execute(
            insert(Household).values(name=name, created_at=now, **settings).returning(Household.id)
        )
        return self.household(found.scalar_one())

    def settle(self, household_id: int, **settings: str | int) -> None:
        """Changes settings of a household."""
        self.connection.execute(update(Household).where(Household.id == household_id).values(**settings))

    def add_chat(self, chat_id: int, household_id: int, *, private: bool) -> None:
        self.connection.execute(
            insert(Chat).values(chat_id=chat_id, household_id=household_id, private=private)
        )

    def group_chat(self, household_id: int) -> int | None:
        """The chat where the household's reminders go: its group, else its first private chat."""
        return self.connection.execute(
            select(Chat.chat_id)
            .where(Chat.household_id == household_id, Chat.unreachable.is_(None))
            .order_by(Chat.private, Chat.chat_id)
            .limit(1)
        ).scalar_one_or_none()

    def mark_chat(self, chat_id: int, unreachable: str | None) -> None:
        self.connection.execute(update(Chat).where(Chat.chat_id == chat_id).values(unreachable=unreachable))

    def move_chat(self, chat_id: int, new_chat_id: int) -> None:
        """The chat service gave the chat a new id; what is waiting for it goes along."""
        known = self.connection.execute(select(Chat.chat_id).where(Chat.chat_id == new_chat_id)).one_or_none()
        if known is None:
            self.connection.execute(update(Chat).where(Chat.chat_id == chat_id).values(chat_id=new_chat_id))
        for table in (OutboxLine, Asked):
            self.connection.execute(
                update(table)
                .where(table.chat_id == chat_id, table.closed_at.is_(None))
                .values(chat_id=new_chat_id)
            )

    def member(self, household_id: int, person_id: int) -> MemberRow | None:
        row = self.connection.execute(_MEMBER, {"household": household_id, "person": person_id}).one_or_none()
        return MemberRow(id=row.id, person_id=row.person_id, name=row.name) if row else None

    def add_member(self, household_id: int, person_id: int, name: str, now: datetime) -> MemberRow:
        found = self.connection.execute(
            insert(Member)
            .values(household_id=household_id, person_id=person_id, name=name, joined_at=now)
            .returning(Member.id)
        )
        return MemberRow(id=found.scalar_one(), person_id=person_id, name=name)

    def members(self, household_id: int) -> tuple[MemberRow, ...]:
        rows = self.connection.execute(_MEMBERS, {"household": household_id})
        return tuple(MemberRow(id=r.id, person_id=r.person_id, name=r.name) for r in rows)

    def vessels(self, household_id: int) -> tuple[VesselRow, ...]:
        rows = self.connection.execute(_VESSELS, {"household": household_id})
        return tuple(VesselRow(name=r.name, litres=r.litres) for r in rows)

    def add_vessel(self, household_id: int, name: str, litres: float | None = None) -> None:
        self.connection.execute(insert(Vessel).values(household_id=household_id, name=name, litres=litres))


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
)

# Statements on every message's way are built once: building one costs several times what running it does.
_OF_CHAT = (
    select(*_HOUSEHOLD).join(Chat, Chat.household_id == Household.id).where(Chat.chat_id == bindparam("chat"))
)
_MEMBERS = (
    select(Member.id, Member.person_id, Member.name)
    .where(Member.household_id == bindparam("household"))
    .order_by(Member.id)
)
_MEMBER = _MEMBERS.where(Member.person_id == bindparam("person"))
_VESSELS = (
    select(Vessel.name, Vessel.litres)
    .where(Vessel.household_id == bindparam("household"))
    .order_by(Vessel.id)
)


def _household(row: Row[*tuple[Any, ...]]) -> HouseholdRow:
    return HouseholdRow(**row._mapping)
