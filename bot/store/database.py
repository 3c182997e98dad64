"""Opening the database: checks first, migrates, and sets SQLite up so that nothing acknowledged is lost."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from alembic.util import CommandError
from sqlalchemy import Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import (
    ArgumentError,
    DataError,
    DBAPIError,
    IntegrityError,
    NoSuchModuleError,
    NotSupportedError,
    ProgrammingError,
)
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
from sqlalchemy.pool import StaticPool

_BUSY_SECONDS = 10


class StoreError(RuntimeError):
    """The database cannot be used as it is: its text says why, in one line."""


def is_outage(error: BaseException) -> bool:
    """Whether that is the fault of the database, the disk or the network, and of nothing that was to be written:
    the same again may well work later."""
    if isinstance(error, DBAPIError):
        return not isinstance(error, DataError | IntegrityError | NotSupportedError | ProgrammingError)
    return isinstance(error, OSError | MemoryError | PoolTimeoutError)


def sqlite_url(path: Path) -> str:
    """The URL of an SQLite file."""
    return f"sqlite:///{path}"


def open_engine(url: str, *, only_read: bool = False) -> Engine:
    """An engine on a database of the newest schema, migrated if it was older (not when `only_read`).

    Raises StoreError when the database is unreachable, corrupt, not ours, or newer than this program; the
    file is then left as it was.
    """
    try:
        parsed = make_url(url)
        path = parsed.database if parsed.get_backend_name() == "sqlite" else None
        if path and path != ":memory:":
            _look_first(Path(path), must_exist=only_read)
        engine = _engine(url)
    except (ArgumentError, NoSuchModuleError, ModuleNotFoundError) as error:
        raise StoreError(f"that is no database address I can use: {error}") from error
    try:
        with engine.begin() as connection:
            _migrate(connection, only_look=only_read)
    except DBAPIError as error:
        engine.dispose()
        raise StoreError(f"the database cannot be opened: {_first_line(error)}") from error
    except StoreError:
        engine.dispose()
        raise
    return engine


def _engine(url: str) -> Engine:
    parsed = make_url(url)
    if parsed.get_backend_name() != "sqlite":
        return create_engine(url, pool_pre_ping=True)
    memory = parsed.database in (None, "", ":memory:")
    options: dict[str, Any] = {"poolclass": StaticPool} if memory else {}
    engine = create_engine(
        url, connect_args={"check_same_thread": False, "timeout": _BUSY_SECONDS}, **options
    )
    # With the driver's own transactions concurrent writers silently lose updates: so BEGIN is ours, and
    # IMMEDIATE, which takes the write lock before anything is read.
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", _begin_immediate)
    return engine


def _set_up_sqlite(connection: sqlite3.Connection, record: object) -> None:
    connection.isolation_level = None
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
        connection.execute(f"PRAGMA {pragma}")


def _begin_immediate(connection: Connection) -> None:
    readonly = connection.get_execution_options().get("only_read", False)
    connection.exec_driver_sql("BEGIN" if readonly else "BEGIN IMMEDIATE")


def _look_first(path: Path, *, must_exist: bool) -> None:
    """Looks at an SQLite file read-only, before anything could write to it."""
    if not path.exists():
        if must_exist:
            raise StoreError(f"there is no log at {path} yet")
        if not path.parent.is_dir():
            raise StoreError(f"there is no folder {path.parent}")
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


@contextmanager
def _read_only(path: Path) -> Iterator[sqlite3.Connection]:
    connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
    try:
        yield connection
    finally:
        connection.close()


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


def _migrate(connection: Connection, *, only_look: bool) -> None:
    current = list(MigrationContext.configure(connection).get_current_heads())
    _refuse_newer(current)
    scripts = _scripts()
    if current == scripts.get_heads():
        return
    if only_look:
        raise StoreError("the database is of an older schema: start the bot once, that brings it up to date")
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")


def _first_line(error: DBAPIError) -> str:
    return str(error.orig).strip().splitlines()[0]
