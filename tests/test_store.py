"""The store on both real databases: nothing lost between writers, nothing touched that is not ours."""

import sqlite3
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError

from bot.cellar.log.acts import Begin, Gravity, Undo
from bot.cellar.log.due_key import ContactKey
from bot.cellar.log.fold import fold, struck_out
from bot.store.database import StoreError, open_engine, sqlite_url
from bot.store.queries.logbook import Source
from bot.store.queries.postbox import Outgoing
from bot.store.unit import Units

NOW = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)
SOURCE = Source(chat_id=-1, message_id=7, update_id=7)


@pytest.fixture
def units(url: str) -> Iterator[Units]:
    units = Units(open_engine(url))
    yield units
    units.close()


def test_concurrent_writers_lose_nothing(units: Units) -> None:
    with units.begin() as unit:
        house = unit.households.add("home", NOW, timezone="UTC")
        member = unit.people.add_member(house.id, 1, "ana", NOW)

    def write_many() -> None:
        for _ in range(50):
            with units.begin() as unit:
                seen = len(unit.log.entries(house.id))
                act = Gravity(sg=1.0 + seen / 10_000, of="plum")
                unit.log.write(house.id, act, member, SOURCE, said_at=NOW, at=NOW)

    writers = [threading.Thread(target=write_many) for _ in range(4)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    with units.read() as unit:
        entries = unit.log.entries(house.id)
    assert len(entries) == 200
    if units.engine.dialect.name == "sqlite":
        # Each saw all that were written before it: no transaction worked on a stale count.
        assert [entry.act for entry in entries] == [
            Gravity(sg=1.0 + n / 10_000, of="plum") for n in range(200)
        ]


def test_sqlite_is_set_up_to_keep_what_was_acknowledged(tmp_path: Path) -> None:
    engine = open_engine(sqlite_url(tmp_path / "house.db"))
    with engine.connect() as connection:
        assert connection.execute(text("PRAGMA journal_mode")).scalar() == "wal"
        assert connection.execute(text("PRAGMA synchronous")).scalar() == 2  # FULL
        assert connection.execute(text("PRAGMA foreign_keys")).scalar() == 1
        assert connection.execute(text("PRAGMA secure_delete")).scalar() == 1
    engine.dispose()


def test_a_writer_takes_the_lock_before_it_reads(tmp_path: Path) -> None:
    path = tmp_path / "house.db"
    units = Units(open_engine(sqlite_url(path)))
    other = sqlite3.connect(path, timeout=0)
    with units.begin(), pytest.raises(sqlite3.OperationalError, match="locked"):
        other.execute("BEGIN IMMEDIATE")
    with units.read():
        other.execute("BEGIN IMMEDIATE")
        other.rollback()
    other.close()
    units.close()


def test_entries_come_back_as_they_went_in(units: Units) -> None:
    with units.begin() as unit:
        house = unit.households.add("home", NOW, timezone="UTC")
        member = unit.people.add_member(house.id, 1, "ana", NOW)
        begun = unit.log.write(
            house.id,
            Begin(of="plum", name="plum", litres=23.0, days=14, colour="rosé", vessel="bucket 2"),
            member,
            SOURCE,
            said_at=NOW,
            at=NOW,
        )
        read = unit.log.write(
            house.id,
            Gravity(sg=1.0125, of="plum", at=NOW - timedelta(hours=3)),
            member,
            SOURCE,
            said_at=NOW,
            at=NOW - timedelta(hours=3),
            batch=begun.entry,
        )
        unit.log.write(
            house.id, Undo(), member, SOURCE, said_at=NOW, at=NOW, batch=begun.entry, strikes=read.entry
        )
    with units.read() as unit:
        entries = unit.log.entries(house.id)
    assert entries[:2] == [begun, read]
    assert struck_out(entries) == {read.entry: entries[2].entry}
    (view,) = fold(entries).batches
    assert view.readings == ()


def test_an_update_is_taken_in_once(units: Units) -> None:
    with units.begin() as unit:
        unit.post.take_in([(5, "{}"), (5, "again")], NOW, {})
        unit.post.take_in([(6, "{}"), (5, "again")], NOW, {})
        assert unit.post.waiting() == [(5, "{}"), (6, "{}")]
        unit.post.end_update(5, NOW)
        assert not unit.post.begin_update(5, NOW)
        assert unit.post.begin_update(6, NOW)


def test_a_reminder_is_there_once(units: Units) -> None:
    with units.begin() as unit:
        house = unit.households.add("home", NOW, timezone="UTC")
        unit.reminders.plan(house.id, 0, ContactKey(entry=1), NOW, NOW, "planned")
    with pytest.raises(IntegrityError), units.begin() as unit:
        unit.reminders.plan(house.id, 0, ContactKey(entry=1), NOW, NOW, "planned")


def test_replies_leave_before_reminders(units: Units) -> None:
    with units.begin() as unit:
        unit.post.post(None, Outgoing(chat_id=1, html="reminder", is_reminder=True), NOW)
        unit.post.post(None, Outgoing(chat_id=1, html="reply"), NOW)
        assert [row.html for row in unit.post.unsent()] == ["reply", "reminder"]


def test_a_transaction_that_fails_leaves_nothing(units: Units) -> None:
    def fail_half_way() -> None:
        with units.begin() as unit:
            unit.post.take_in([(5, "{}")], NOW, {})
            raise RuntimeError("stop")

    with pytest.raises(RuntimeError, match="stop"):
        fail_half_way()
    with units.read() as unit:
        assert unit.post.waiting() == []


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"this is a shopping list, not a database", "not a database"),
        (b"SQLite format 3\x00" + b"\xff" * 5000, "not a database|damaged"),
    ],
)
def test_a_corrupt_file_is_left_as_it_is(tmp_path: Path, content: bytes, says: str) -> None:
    path = tmp_path / "house.db"
    path.write_bytes(content)
    with pytest.raises(StoreError, match=says):
        open_engine(sqlite_url(path))
    assert path.read_bytes() == content
    assert [item.name for item in tmp_path.iterdir()] == ["house.db"]


def test_somebody_elses_database_is_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "house.db"
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE recipes (name TEXT)")
    other.close()
    content = path.read_bytes()
    with pytest.raises(StoreError, match="something else"):
        open_engine(sqlite_url(path))
    assert path.read_bytes() == content


def test_a_newer_database_is_refused_and_left_as_it_is(url: str) -> None:
    engine = open_engine(url)
    with engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    engine.dispose()
    with pytest.raises(StoreError, match="newer schema"):
        open_engine(url)


def test_an_unreachable_server_is_one_clear_line() -> None:
    with pytest.raises(StoreError, match="cannot be opened") as caught:
        open_engine("postgresql+psycopg://nobody@127.0.0.1:1/nothing")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("url", ["not a url", "nosuch://x"])
def test_a_wrong_address_is_one_clear_line(url: str) -> None:
    with pytest.raises(StoreError, match="address"):
        open_engine(url)


def test_the_migrations_make_what_the_tables_say(url: str) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    from bot.store.tables import Table

    engine = open_engine(url)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Table.metadata) == []
    engine.dispose()
