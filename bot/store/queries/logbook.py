"""The append-only log."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

import msgspec
from sqlalchemy import Connection, bindparam, func, insert, select, update

from bot.cellar.log.acts import Act
from bot.cellar.log.fold import Entry, Folded
from bot.cellar.log.plain import from_plain, to_row
from bot.ids import BatchId, ChatId, EntryId, HouseholdId, MessageId, UpdateId
from bot.store.queries.people import MemberRow
from bot.store.shelf import Shelf, Shelved
from bot.store.statement import Fetched, Statement
from bot.store.tables import Household, LogLine, Member


class Source(msgspec.Struct, frozen=True, kw_only=True):
    """The message an entry came from."""

    chat_id: ChatId
    message_id: MessageId
    update_id: UpdateId | None


class LogRow(msgspec.Struct, frozen=True, kw_only=True):
    """A log line of any household, for reading the whole log."""

    household: str
    zone: ZoneInfo
    chat_id: ChatId
    update_id: UpdateId | None
    written_at: datetime
    entry: Entry


class Logbook:
    """Entries are written and read; nothing is changed or deleted."""

    def __init__(self, connection: Connection, shelf: Shelf) -> None:
        self.connection = connection
        self._shelf = shelf
        self._read: dict[HouseholdId, Shelved] = {}

    def kept(self, household_id: HouseholdId, names: Mapping[int, str], joins: int = 0) -> Folded:
        """The household's log and what it comes to, for one who holds the household: of what this process
        has seen committed only the rest is read. `names` are the names of all its members, by their ids; `joins` says how
        many households were joined to it."""
        known = self._shelf.take(household_id)
        if known is None or known.joins != joins or not known.names.items() <= names.items():
            known = Shelved(names, Folded(), joins)
        entries = known.log.entries
        after = entries[-1].entry if entries else 0
        rows = _SINCE.all(self.connection, household=household_id, after=after)
        found = known.plus(names, [_entry(row, names[row.member_id]) for row in rows])
        self._read[household_id] = found
        return found.log

    def shelve(self) -> None:
        """What was read and written is committed: the next transaction need not read it again."""
        for household_id, log in self._read.items():
            self._shelf.put(household_id, log)

    def entries(self, household_id: HouseholdId) -> list[Entry]:
        """The household's whole log, oldest first."""
        rows = self.connection.execute(_ENTRIES, {"household": household_id})
        return [_entry(row, row.by) for row in rows]

    def entries_of_message(
        self, household_id: HouseholdId, chat_id: ChatId, message_id: MessageId
    ) -> list[Entry]:
        where = {"household": household_id, "chat": chat_id, "message": message_id}
        rows = self.connection.execute(_OF_MESSAGE, where)
        return [_entry(row, row.by) for row in rows]

    def sources(self, household_id: HouseholdId, entries: Sequence[EntryId]) -> dict[EntryId, Source]:
        """Which message each of these entries came from."""
        rows = self.connection.execute(
            select(LogLine.id, LogLine.chat_id, LogLine.message_id, LogLine.update_id).where(
                LogLine.household_id == household_id, LogLine.id.in_(entries)
            )
        )
        return {r.id: Source(chat_id=r.chat_id, message_id=r.message_id, update_id=r.update_id) for r in rows}

    def write(
        self,
        household_id: HouseholdId,
        act: Act,
        member: MemberRow,
        source: Source,
        *,
        said_at: datetime,
        at: datetime,
        written_at: datetime | None = None,
        batch: BatchId | None = None,
        strikes: EntryId | None = None,
    ) -> Entry:
        """Appends an entry, written when it was said unless it is `written_at` another time."""
        written = _WRITE.one(
            self.connection,
            household_id=household_id,
            batch=batch,
            strikes=strikes,
            act=to_row(act),
            member_id=member.id,
            said_at=said_at,
            written_at=written_at or said_at,
            at=at,
            chat_id=source.chat_id,
            message_id=source.message_id,
            update_id=source.update_id,
        )
        assert written is not None
        entry = Entry(
            entry=EntryId(written.id),
            act=act,
            by=member.name,
            said_at=said_at,
            at=at,
            batch=batch,
            strikes=strikes,
        )
        log = self._read.get(household_id)
        if log is not None:
            self._read[household_id] = log.plus(log.names, [entry])
        return entry

    def ascribe(self, household_id: HouseholdId, batches: Mapping[int, int]) -> None:
        """These entries (by their numbers) are of these batches: of those that the household now knows, after
        another one was joined to it. What was read of its log is read anew."""
        for entry, batch in batches.items():
            self.connection.execute(
                update(LogLine)
                .where(LogLine.household_id == household_id, LogLine.id == entry, LogLine.batch.is_(None))
                .values(batch=batch)
            )
        self._read.pop(household_id, None)
        self._shelf.forget(household_id)

    def now(self, household_id: HouseholdId) -> Folded:
        """The log that `kept` gave, with what was written since in this transaction."""
        return self._read[household_id].log

    def all_entries(self, household_name: str | None = None) -> Iterator[LogRow]:
        """Every entry of every household (or of those of that name), oldest first."""
        query = (
            select(
                *_ENTRY,
                Household.name.label("household"),
                Household.timezone,
                LogLine.chat_id,
                LogLine.update_id,
                LogLine.written_at,
            )
            .join(Member, Member.id == LogLine.member_id)
            .join(Household, Household.id == LogLine.household_id)
            .order_by(LogLine.id)
        )
        if household_name is not None:
            query = query.where(func.lower(Household.name) == household_name.lower())
        for row in self.connection.execute(query):
            yield LogRow(
                household=row.household,
                zone=ZoneInfo(row.timezone),
                chat_id=row.chat_id,
                update_id=row.update_id,
                written_at=row.written_at or row.said_at,
                entry=_entry(row, row.by),
            )


_LINE = (LogLine.id, LogLine.act, LogLine.said_at, LogLine.at, LogLine.batch, LogLine.strikes)
_ENTRY = (*_LINE, Member.name.label("by"))

_SINCE = Statement(
    select(*_LINE, LogLine.member_id)
    .where(LogLine.household_id == bindparam("household"), LogLine.id > bindparam("after"))
    .order_by(LogLine.id)
)

_ENTRIES = (
    select(*_ENTRY)
    .join(Member, Member.id == LogLine.member_id)
    .where(LogLine.household_id == bindparam("household"))
    .order_by(LogLine.id)
)
_OF_MESSAGE = _ENTRIES.where(LogLine.chat_id == bindparam("chat"), LogLine.message_id == bindparam("message"))
_WRITE = Statement(
    insert(LogLine).returning(LogLine.id),
    (
        "household_id",
        "batch",
        "strikes",
        "act",
        "member_id",
        "said_at",
        "written_at",
        "at",
        "chat_id",
        "message_id",
        "update_id",
    ),
)


def _entry(row: Fetched, by: str) -> Entry:
    return Entry(
        entry=row.id,
        act=from_plain(row.act),
        by=by,
        said_at=row.said_at,
        at=row.at,
        batch=row.batch,
        strikes=row.strikes,
    )
