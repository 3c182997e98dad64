"""Opening the database: checks first, migrates, and sets SQLite up so that nothing acknowledged is lost."""

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from alembic.util import CommandError
from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url, text
from sqlalchemy.exc import (
    ArgumentError,
    DataError,
    DBAPIError,
    IntegrityError,
    NoSuchModuleError,
    NotSupportedError,
    OperationalError,
    ProgrammingError,
)
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
from sqlalchemy.pool import StaticPool

from bot.store.statement import run_on_sqlite

BUSY_SECONDS = 10
"""How long one who finds the database in other hands waits for it."""

_MIGRATING = 0x6275636B6574
"""The lock that is held while tables are made; any number of our own."""


_JSON: dict[str, Any] = {
    "json_serializer": lambda value: msgspec.json.encode(value).decode(),
    "json_deserializer": msgspec.json.decode,
}


class StoreError(RuntimeError):
    """The database cannot be used as it is: its text says why, in one line."""


def is_outage(error: BaseException) -> bool:
    """Whether that is the fault of the database, the disk or the network, and of nothing that was to be written:
    the same again may well work later."""
    if isinstance(error, DBAPIError):
        return not isinstance(error, DataError | IntegrityError | NotSupportedError | ProgrammingError)
    return isinstance(error, OSError | MemoryError | PoolTimeoutError)


def sqlite_url(path: Path) -> URL:
    """The URL of an SQLite file, whatever letters its path has."""
    return URL.create("sqlite", database=str(path))


def connect_sqlite(path: Path) -> sqlite3.Connection:
    """A connection to a file that must be there: a new one in place of one that was deleted would be empty."""
    where = f"{path.resolve().as_uri()}?mode=rw"
    return sqlite3.connect(
        where, uri=True, isolation_level=None, check_same_thread=False, timeout=BUSY_SECONDS
    )


def sqlite_path(url: URL) -> Path | None:
    """The file of an SQLite database; None for one in memory, or of another kind."""
    if url.get_backend_name() != "sqlite" or url.database in (None, "", ":memory:"):
        return None
    return Path(str(url.database))


def open_engine(url: str | URL, *, only_read: bool = False) -> Engine:
    """An engine on a database of the newest schema, migrated if it was older (not when `only_read`).

    Raises StoreError when the database is unreachable, corrupt, not ours, or newer than this program; the
    file is then left as it was.
    """
    try:
        parsed = make_url(url)
        path = sqlite_path(parsed)
        if path is not None:
            _look_first(path, only_read=only_read)
        engine = _engine(parsed)
    except (ArgumentError, NoSuchModuleError, ModuleNotFoundError, ValueError) as error:
        raise StoreError(f"that is no database address I can use: {error}") from error
    try:
        with engine.begin() as connection:
            brought_up = _migrate(connection, only_look=only_read)
        if brought_up:
            with suppress(OperationalError):  # such as for want of space: it works all the same
                compact(engine)
    except DBAPIError as error:
        engine.dispose()
        raise StoreError(f"the database cannot be opened: {_first_line(error)}") from error
    except StoreError:
        engine.dispose()
        raise
    return engine


def must_be_alone(url: str | URL) -> None:
    """Raises StoreError when somebody else has the SQLite file open, or there is none. A server's database is not
    looked at."""
    try:
        path = sqlite_path(make_url(url))
    except ArgumentError:  # opening it will say so
        return
    if path is None:
        return
    if not path.exists():
        raise StoreError(f"there is no log at {path} yet")
    with closing(sqlite3.connect(path, isolation_level=None, timeout=0)) as connection:
        try:
            connection.execute("PRAGMA locking_mode=EXCLUSIVE")
            connection.execute("BEGIN EXCLUSIVE")
            connection.execute("ROLLBACK")
        except sqlite3.OperationalError as error:
            raise StoreError(f"{path} is in use ({error}): stop the bot first") from error
        except sqlite3.DatabaseError:  # opening it will say so
            return


def compact(engine: Engine) -> None:
    """Writes an SQLite file anew, so that nothing is left in it of what was deleted."""
    if engine.dialect.name != "sqlite":
        return
    with closing(engine.raw_connection()) as connection:
        for words in ("VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"):
            connection.cursor().execute(words).fetchall()


def _engine(url: URL) -> Engine:
    if url.get_backend_name() != "sqlite":
        return create_engine(url, pool_pre_ping=True, **_JSON)
    path = sqlite_path(url)
    if path is None:
        engine = create_engine(url, connect_args={"check_same_thread": False}, poolclass=StaticPool, **_JSON)
    elif url.query:
        raise ArgumentError("after an SQLite file's path nothing may follow")
    else:
        engine = create_engine(url, creator=lambda: connect_sqlite(path), **_JSON)
    # With the driver's own transactions concurrent writers silently lose updates: so BEGIN is ours, and
    # IMMEDIATE, which takes the write lock before anything is read.
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", _begin_immediate)
    return engine


def _set_up_sqlite(connection: sqlite3.Connection, record: object) -> None:
    connection.isolation_level = None
    _keep_a_wal(connection)
    for pragma in ("synchronous=FULL", "foreign_keys=ON", "secure_delete=ON"):
        connection.execute(f"PRAGMA {pragma}")


def _keep_a_wal(connection: sqlite3.Connection) -> None:
    """Of two first starts one makes it, the other waits. SQLite refuses the second at once whatever its timeout:
    the wait for this one change is ours."""
    patient_until = time.monotonic() + BUSY_SECONDS
    while True:
        try:
            connection.execute("PRAGMA journal_mode=WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > patient_until:
                raise
        time.sleep(0.01)


def _begin_immediate(connection: Connection) -> None:
    readonly = connection.get_execution_options().get("only_read", False)
    run_on_sqlite(connection, "BEGIN" if readonly else "BEGIN IMMEDIATE")


def _look_first(path: Path, *, only_read: bool) -> None:
    """Looks at an SQLite file read-only, before anything could write to it. One that is not there is made, and
    those that are, are for nobody else to read."""
    if not path.exists():
        if only_read:
            raise StoreError(f"there is no log at {path} yet")
        if not path.parent.is_dir():
            raise StoreError(f"there is no folder {path.parent}")
    _must_take_writing(path)
    if not path.exists():
        os.close(os.open(path, os.O_CREAT | os.O_WRONLY, 0o600))
    if not only_read:
        _keep_private(path)
    if not path.stat().st_size:
        return
    with _read_only(path) as connection:
        try:
            names = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
            (health,) = connection.execute("PRAGMA quick_check(1)").fetchone()
            revisions: list[str] = []
            if "alembic_version" in names:
                revisions = [row[0] for row in connection.execute("SELECT version_num FROM alembic_version")]
        except sqlite3.DatabaseError as error:
            raise StoreError(f"{path} is not a database I can read ({error}); I left it as it is") from error
    if health != "ok":
        raise StoreError(f"{path} is damaged ({health}); I left it as it is")
    if names and "alembic_version" not in names:
        raise StoreError(f"{path} belongs to something else; I left it as it is")
    _refuse_newer(revisions)


def _must_take_writing(path: Path) -> None:
    """Refuses what cannot be written: even reading makes files beside it."""
    for place in (path, path.parent):
        if place.exists() and not os.access(place, os.W_OK):
            if os.statvfs(place).f_flag & os.ST_RDONLY:
                raise StoreError(f"{place} is on a read-only medium: nothing can be written down there")
            raise StoreError(f"{place} cannot be written by this user")


def _keep_private(path: Path) -> None:
    """SQLite gives the files beside the database the same mode; what is already there may be from before."""
    for suffix in ("", "-wal", "-shm", "-journal"):
        file = Path(f"{path}{suffix}")
        with suppress(FileNotFoundError, PermissionError):  # somebody else's file is theirs to open
            if file.stat().st_mode & 0o777 != 0o600:
                file.chmod(0o600)


@contextmanager
def _read_only(path: Path) -> Iterator[sqlite3.Connection]:
    connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
    try:
        yield connection
    finally:
        connection.close()


@cache  # reading them takes longer than all else at the opening of a database that is up to date
def _scripts() -> ScriptDirectory:
    return ScriptDirectory(str(Path(__file__).parent / "migrations"))


def _refuse_newer(revisions: list[str]) -> None:
    scripts = _scripts()
    for revision in revisions:
        try:
            scripts.get_revision(revision)
        except CommandError as error:
            raise StoreError(
                f"the database is of a newer schema ({revision}) than this program knows; "
                "update Bucketside, nothing was changed"
            ) from error


def _migrate(connection: Connection, *, only_look: bool) -> bool:
    """Brings the tables up to date; whether there were older ones."""
    if connection.dialect.name == "postgresql":  # of two first starts one makes the tables, the other waits
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _MIGRATING})
    current = list(MigrationContext.configure(connection).get_current_heads())
    _refuse_newer(current)
    scripts = _scripts()
    if current == scripts.get_heads():
        return False
    if only_look:
        raise StoreError("the database is of an older schema: start the bot once, that brings it up to date")
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
    return bool(current)


def _first_line(error: DBAPIError) -> str:
    return str(error.orig).strip().splitlines()[0]
