"""The tables. The log is append-only; what can be computed from it is in no table.

Times are stored in UTC and come back aware. A reminder's batch is 0 for the house itself, so that the
database's own uniqueness holds for it too (NULLs never clash).
"""

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any, ClassVar

from sqlalchemy import (
    JSON,
    BigInteger,
    DateTime,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Text,
    UniqueConstraint,
    false,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import TypeDecorator

from bot.cellar.log.due_key import DueKey, key_of
from bot.cellar.log.lengths import HOUSEHOLD, KEY, PERSON, VESSEL_COLUMN
from bot.store import press, refers
from bot.store.press import Labelled
from bot.store.refers import Refers

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class Moment(TypeDecorator[datetime]):
    """An aware time, kept in UTC: SQLite knows no zones."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a time without its zone cannot be stored")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.astimezone(UTC) if value.tzinfo else value.replace(tzinfo=UTC)


class Keyed(TypeDecorator[DueKey]):
    """The key of a due thing, kept as its text."""

    impl = String(KEY)
    cache_ok = True

    def process_bind_param(self, value: DueKey | None, dialect: Dialect) -> str | None:
        return None if value is None else value.text

    def process_result_value(self, value: str | None, dialect: Dialect) -> DueKey | None:
        return None if value is None else key_of(value)


class Buttons(TypeDecorator[tuple[Labelled, ...]]):
    """The buttons of a letter, typed."""

    impl = JSON
    cache_ok = True

    def process_bind_param(self, value: Iterable[Labelled] | None, dialect: Dialect) -> list[Any] | None:
        return None if value is None else press.to_plain(value)

    def process_result_value(self, value: list[Any] | None, dialect: Dialect) -> tuple[Labelled, ...]:
        return press.from_plain(value or ())


class ReferredTo(TypeDecorator[Refers]):
    """What a letter is about, typed."""

    impl = JSON
    cache_ok = True

    def process_bind_param(self, value: Refers | None, dialect: Dialect) -> dict[str, Any] | None:
        return None if value is None else refers.to_plain(value)

    def process_result_value(self, value: dict[str, Any] | None, dialect: Dialect) -> Refers:
        return refers.from_plain(value or {})


class Table(DeclarativeBase):
    """What all tables share."""

    metadata = MetaData(naming_convention=NAMES)
    type_annotation_map: ClassVar = {datetime: Moment, dict[str, Any]: JSON, list[Any]: JSON}


Id = BigInteger().with_variant(Integer, "sqlite")


class Household(Table):
    """A family, and how it likes things told. Times of day are written as 21:30; `asks_at` may be empty;
    `invites` says whether only its owner invites, or "all". `joins` counts the households that were joined to
    it, `joined_to` is the one that this one was joined to: then nothing else names it any more."""

    __tablename__ = "households"
    id: Mapped[int] = mapped_column(Id, primary_key=True)
    name: Mapped[str] = mapped_column(String(HOUSEHOLD))
    timezone: Mapped[str] = mapped_column(String(64))
    language: Mapped[str] = mapped_column(String(8), default="en")
    gallon: Mapped[str] = mapped_column(String(8), default="imperial")
    volume_unit: Mapped[str] = mapped_column(String(8), default="L")
    temperature_unit: Mapped[str] = mapped_column(String(1), default="C")
    quiet_from: Mapped[str] = mapped_column(String(5), default="21:30", server_default="21:30")
    quiet_until: Mapped[str] = mapped_column(String(5), default="08:00", server_default="08:00")
    asks_at: Mapped[str] = mapped_column(String(5), default="", server_default="")
    digest: Mapped[str] = mapped_column(String(3), default="off", server_default="off")
    most_a_day: Mapped[int] = mapped_column(default=3, server_default="3")
    contact_minutes: Mapped[int] = mapped_column(default=10, server_default="10")
    chat: Mapped[str] = mapped_column(String(6), default="family", server_default="family")
    """Whether its group is for the wine alone, "wine", or the family's own, "family"."""
    brix_by: Mapped[str] = mapped_column(String(16), default="", server_default="")
    """The instrument that the house's Brix come from; empty until it is known."""
    invites: Mapped[str] = mapped_column(String(5), default="owner", server_default="owner")
    joins: Mapped[int] = mapped_column(default=0, server_default="0")
    joined_to: Mapped[int | None] = mapped_column(BigInteger)
    founder: Mapped[int | None] = mapped_column(BigInteger)
    created_at: Mapped[datetime]


class Chat(Table):
    """A chat in which the household talks: its group, or one member's private chat. One that goes on under a
    new id (`moved_to`) stays known, for what was written there before. Of the bot's own messages there, those up to
    `let_go_to` may be kept no more."""

    __tablename__ = "chats"
    chat_id: Mapped[int] = mapped_column(BigInteger, primary_key=True, autoincrement=False)
    household_id: Mapped[int] = mapped_column(ForeignKey("households.id"), index=True)
    private: Mapped[bool] = mapped_column(default=False)
    unreachable: Mapped[str | None] = mapped_column(Text)
    moved_to: Mapped[int | None] = mapped_column(BigInteger)
    let_go_to: Mapped[int | None] = mapped_column(BigInteger)


class Member(Table):
    """A person in a household: `in` it, `left` by themselves, or `removed` by its owner. Rows stay: entries
    of the log name them."""

    __tablename__ = "members"
    __table_args__ = (UniqueConstraint("household_id", "person_id"),)
    id: Mapped[int] = mapped_column(Id, primary_key=True)
    household_id: Mapped[int] = mapped_column(ForeignKey("households.id"))
    person_id: Mapped[int] = mapped_column(BigInteger, index=True)
    name: Mapped[str] = mapped_column(String(PERSON))
    joined_at: Mapped[datetime]
    owner: Mapped[bool] = mapped_column(default=False, server_default=false())
    state: Mapped[str] = mapped_column(String(10), default="in", server_default="in")


class Invite(Table):
    """A code with which somebody may join, until a moment; made by that member."""

    __tablename__ = "invites"
    code: Mapped[str] = mapped_column(String(64), primary_key=True)
    household_id: Mapped[int] = mapped_column(ForeignKey("households.id"), index=True)
    until: Mapped[datetime]
    member_id: Mapped[int | None] = mapped_column(BigInteger)


class VesselLine(Table):
    """A bucket or demijohn."""

    __tablename__ = "vessels"
    __table_args__ = (UniqueConstraint("household_id", "name"),)
    id: Mapped[int] = mapped_column(Id, primary_key=True)
    household_id: Mapped[int] = mapped_column(ForeignKey("households.id"))
    name: Mapped[str] = mapped_column(String(VESSEL_COLUMN))
    litres: Mapped[float | None]


class LogLine(Table):
    """An entry of the append-only log. `batch` is the line that began the batch, `strikes` the line that
    this one strikes out; `chat_id` and `message_id` say which message it came from. `written_at` is later than
    `said_at` where a question had to be answered first; it is not known of what was written before it was kept."""

    __tablename__ = "log"
    __table_args__ = (Index("ix_log_household_id_id", "household_id", "id"),)
    id: Mapped[int] = mapped_column(Id, primary_key=True)
    household_id: Mapped[int] = mapped_column(ForeignKey("households.id"))
    batch: Mapped[int | None] = mapped_column(ForeignKey("log.id"))
    strikes: Mapped[int | None] = mapped_column(ForeignKey("log.id"))
    act: Mapped[dict[str, Any]]
    member_id: Mapped[int] = mapped_column(ForeignKey("members.id"))
    said_at: Mapped[datetime]
    written_at: Mapped[datetime | None]
    at: Mapped[datetime]
    chat_id: Mapped[int] = mapped_column(BigInteger)
    message_id: Mapped[int] = mapped_column(BigInteger)
    update_id: Mapped[int | None] = mapped_column(BigInteger)


class Asked(Table):
    """A question that the bot asked back: each option is a whole list of acts that one button stands for."""

    __tablename__ = "asked"
    id: Mapped[int] = mapped_column(Id, primary_key=True)
    household_id: Mapped[int] = mapped_column(ForeignKey("households.id"))
    chat_id: Mapped[int] = mapped_column(BigInteger, index=True)
    message_id: Mapped[int] = mapped_column(BigInteger)
    member_id: Mapped[int] = mapped_column(ForeignKey("members.id"))
    said_at: Mapped[datetime]
    options: Mapped[list[Any]]
    until: Mapped[datetime]
    closed_at: Mapped[datetime | None]


class InboxLine(Table):
    """An update as it came in, kept before the chat service is told that it was received. Once it is done only its
    number stays, so that it is known when it comes again, and `why` it was set aside, if it was. `holder` is the process
    that took it to be handled, until `held_until`. In how many lives of a process it was `begun` and not finished,
    and how many of those were `stuck` in it; how often it `failed`, and when it is tried again (`not_before`)."""

    __tablename__ = "inbox"
    __table_args__ = (Index("ix_inbox_done_at_update_id", "done_at", "update_id"),)
    update_id: Mapped[int] = mapped_column(BigInteger, primary_key=True, autoincrement=False)
    raw: Mapped[str] = mapped_column(Text)
    received_at: Mapped[datetime]
    done_at: Mapped[datetime | None]
    why: Mapped[str | None] = mapped_column(Text)
    chat_id: Mapped[int | None] = mapped_column(BigInteger)
    holder: Mapped[str | None] = mapped_column(String(80))
    held_until: Mapped[datetime | None]
    begun: Mapped[int] = mapped_column(default=0, server_default="0")
    stuck: Mapped[int] = mapped_column(default=0, server_default="0")
    failed: Mapped[int] = mapped_column(default=0, server_default="0")
    not_before: Mapped[datetime | None]


class OutboxLine(Table):
    """A message to a chat, to be sent after the commit that wrote it. `buttons` are label and press;
    `refers` is what the message is about, for replies to it. `closed_at` is set once sent or refused. `holder` is
    the process that sends it, until `held_until`; `put_off` says why the chat does not take it for now."""

    __tablename__ = "outbox"
    __table_args__ = (
        Index("ix_outbox_closed_at_id", "closed_at", "id"),
        Index("ix_outbox_chat_id_sent_as", "chat_id", "sent_as"),
    )
    id: Mapped[int] = mapped_column(Id, primary_key=True)
    household_id: Mapped[int | None] = mapped_column(ForeignKey("households.id"))
    chat_id: Mapped[int] = mapped_column(BigInteger)
    thread_id: Mapped[int | None] = mapped_column(BigInteger)
    html: Mapped[str] = mapped_column(Text)
    buttons: Mapped[tuple[Labelled, ...]] = mapped_column(Buttons)
    refers: Mapped[Refers] = mapped_column(ReferredTo)
    reply_to: Mapped[int | None] = mapped_column(BigInteger)
    edits: Mapped[int | None] = mapped_column(BigInteger)
    is_reminder: Mapped[bool] = mapped_column(default=False)
    created_at: Mapped[datetime]
    closed_at: Mapped[datetime | None]
    sent_as: Mapped[int | None] = mapped_column(BigInteger)
    refused: Mapped[str | None] = mapped_column(Text)
    holder: Mapped[str | None] = mapped_column(String(80))
    held_until: Mapped[datetime | None]
    put_off: Mapped[str | None] = mapped_column(Text)


class ReminderLine(Table):
    """Something due, derived from the views. `ring_at` is `due` moved to a decent hour. Once said: in which
    letter, when, in which words, and what has been added to them since (`mark`). Letter and words go in time; that
    it was said stays, since it is what keeps it from being said again."""

    __tablename__ = "reminders"
    __table_args__ = (
        UniqueConstraint("household_id", "batch", "step", "due"),
        Index("ix_reminders_state_ring_at", "state", "ring_at"),
    )
    id: Mapped[int] = mapped_column(Id, primary_key=True)
    household_id: Mapped[int] = mapped_column(ForeignKey("households.id"))
    batch: Mapped[int] = mapped_column(BigInteger)
    step: Mapped[DueKey] = mapped_column(Keyed)
    due: Mapped[datetime]
    ring_at: Mapped[datetime]
    state: Mapped[str] = mapped_column(String(10))
    outbox_id: Mapped[int | None] = mapped_column(ForeignKey("outbox.id"), index=True)
    said_at: Mapped[datetime | None]
    told: Mapped[str | None] = mapped_column(Text)
    mark: Mapped[str | None] = mapped_column(Text)


class Attachment(Table):
    """A file that goes out with a letter. `kind` is a word for it, such as "calendar". It is let go once the letter
    has left."""

    __tablename__ = "attachments"
    outbox_id: Mapped[int] = mapped_column(ForeignKey("outbox.id"), primary_key=True, autoincrement=False)
    name: Mapped[str] = mapped_column(String(120))
    media_type: Mapped[str] = mapped_column(String(80))
    kind: Mapped[str] = mapped_column(String(20))
    content: Mapped[bytes] = mapped_column(LargeBinary)


class CalendarLine(Table):
    """What was given out of one date: `batch` and `step` are its key (batch 0 is the house itself), `uid` and
    `sequence` what calendars know it by, `fingerprint` what it said last. Starts are as last given out."""

    __tablename__ = "calendar"
    __table_args__ = (UniqueConstraint("household_id", "batch", "step"),)
    id: Mapped[int] = mapped_column(Id, primary_key=True)
    household_id: Mapped[int] = mapped_column(ForeignKey("households.id"))
    batch: Mapped[int] = mapped_column(BigInteger)
    step: Mapped[DueKey] = mapped_column(Keyed)
    uid: Mapped[str] = mapped_column(String(36))
    sequence: Mapped[int]
    fingerprint: Mapped[str] = mapped_column(String(64))
    summary: Mapped[str] = mapped_column(Text)
    start: Mapped[datetime]
    changed_at: Mapped[datetime]
    cancelled: Mapped[bool]


class Pulse(Table):
    """One row, written to see whether writing works."""

    __tablename__ = "pulse"
    id: Mapped[int] = mapped_column(Id, primary_key=True)
    at: Mapped[datetime]
