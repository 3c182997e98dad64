"""Statements that are compiled once find, write and raise what SQLAlchemy does."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, Engine, bindparam, insert, select, update
from sqlalchemy.exc import IntegrityError, OperationalError

from bot.store import database
from bot.store.database import is_outage, open_engine, sqlite_url
from bot.store.press import TellHow
from bot.store.refers import Refers
from bot.store.statement import Statement, run_on_sqlite
from bot.store.tables import Household, InboxLine, OutboxLine

NOW = datetime(2026, 3, 4, 19, 30, 0, 120, tzinfo=UTC)
LETTER: dict[str, Any] = {
    "chat_id": -7,
    "html": "é <b>☂</b>",
    "buttons": (("How?", TellHow(batch=1)),),
    "refers": Refers(of="plum", entries=(1, 2)),
    "is_reminder": True,
    "created_at": NOW.astimezone(timezone(timedelta(hours=5))),
}
COLUMNS = (
    OutboxLine.id,
    OutboxLine.html,
    OutboxLine.buttons,
    OutboxLine.refers,
    OutboxLine.is_reminder,
    OutboxLine.created_at,
    OutboxLine.reply_to.label("answers"),
)
POST = insert(OutboxLine).returning(OutboxLine.id)
FOUND = select(*COLUMNS).where(OutboxLine.created_at <= bindparam("until")).order_by(OutboxLine.id).limit(2)
CLOSE = update(OutboxLine).where(OutboxLine.id == bindparam("letter")).values(closed_at=bindparam("now"))


@pytest.fixture
def engine(url: str) -> Iterator[Engine]:
    engine = open_engine(url)
    yield engine
    engine.dispose()


@pytest.fixture
def connection(engine: Engine) -> Iterator[Connection]:
    with engine.begin() as connection:
        yield connection


def test_what_is_written_and_found_is_what_the_library_writes_and_finds(connection: Connection) -> None:
    first = Statement(POST, LETTER).one(connection, **LETTER)
    assert first is not None
    second = connection.execute(POST, LETTER).scalar_one()
    found = Statement(FOUND).all(connection, until=NOW)
    assert [row._asdict() for row in found] == [
        row._asdict() for row in connection.execute(FOUND, {"until": NOW})
    ]
    assert [row.id for row in found] == [first.id, second]
    assert found[0].created_at == NOW
    assert found[0].created_at.tzinfo is UTC
    assert (found[0].buttons, found[0].refers) == (LETTER["buttons"], LETTER["refers"])
    assert (found[0].is_reminder, found[0].answers) == (True, None)
    assert Statement(FOUND).all(connection, until=NOW - timedelta(days=1)) == []


def test_what_it_does_is_done_in_the_transaction(engine: Engine) -> None:
    close = Statement(CLOSE)
    with engine.begin() as connection:
        letter = connection.execute(POST, LETTER).scalar_one()
    with engine.connect() as connection, connection.begin() as under_way:
        close.run(connection, letter=letter, now=NOW)
        under_way.rollback()
    closed = select(OutboxLine.closed_at)
    with engine.begin() as connection:
        assert connection.execute(closed).scalar_one() is None
        close.run(connection, letter=letter, now=NOW)
    with engine.begin() as connection:
        assert connection.execute(closed).scalar_one() == NOW


def test_it_finds_one_row_or_none(connection: Connection) -> None:
    of = Statement(select(InboxLine.raw).where(InboxLine.chat_id == bindparam("chat")))
    assert of.one(connection, chat=5) is None
    for update_id in (1, 2):
        row = {"update_id": update_id, "raw": "hello", "received_at": NOW, "chat_id": 4 + update_id}
        connection.execute(insert(InboxLine), row)
    assert of.one(connection, chat=5).raw == "hello"
    with pytest.raises(AssertionError, match="more rows"):
        Statement(select(InboxLine.raw)).one(connection)


def test_a_row_that_may_not_be_is_the_libraries_own_error(engine: Engine) -> None:
    row = {"update_id": 1, "raw": "", "received_at": NOW, "begun": 0, "stuck": 0, "failed": 0}
    keep = Statement(insert(InboxLine), row)
    with engine.connect() as connection, connection.begin():
        keep.run(connection, **row)
        with pytest.raises(IntegrityError) as raised:
            keep.run(connection, **row)
    assert not is_outage(raised.value)


def test_a_database_in_other_hands_is_an_outage(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(database, "BUSY_SECONDS", 0)
    engine = open_engine(sqlite_url(tmp_path / "house.db"))
    with closing(sqlite3.connect(tmp_path / "house.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(OperationalError) as raised, engine.begin():
            pass
        assert is_outage(raised.value)
        other.execute("ROLLBACK")
    with engine.begin() as connection:
        run_on_sqlite(connection, "SELECT 1")
    engine.dispose()


def test_what_it_cannot_do_it_does_not_do_by_half(tmp_path: Path) -> None:
    engine = open_engine(sqlite_url(tmp_path / "house.db"))
    with engine.connect() as connection, connection.begin():
        founded = {"name": "home", "timezone": "UTC", "created_at": NOW}
        with pytest.raises(AssertionError, match="default"):
            Statement(insert(Household), founded).run(connection, **founded)
        some = select(InboxLine.raw).where(InboxLine.update_id.in_(bindparam("updates", expanding=True)))
        with pytest.raises(AssertionError, match="list of values"):
            Statement(some).all(connection, updates=[1])
        with pytest.raises(KeyError):
            Statement(CLOSE).run(connection, letter=1)
        with pytest.raises(ValueError, match="without its zone"):
            Statement(CLOSE).run(connection, letter=1, now=NOW.replace(tzinfo=None))
    engine.dispose()
