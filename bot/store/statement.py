"""Statements on every message's way: compiled once, and on SQLite run by the driver itself.

SQLAlchemy finds each statement's compiled form again, and makes a frame for its parameters and one for its rows, each
time that it runs. Among all else that a message does that takes three times as long as SQLite needs for the statement.
The types of the columns, and the errors, are SQLAlchemy's all the same; on other databases all of it is.
"""

import sqlite3
from collections import namedtuple
from collections.abc import Callable, Collection, Sequence
from typing import Any, NamedTuple, TypeAlias

from sqlalchemy import Connection, Insert, Select, Update
from sqlalchemy.engine import Dialect
from sqlalchemy.exc import DBAPIError
from sqlalchemy.sql.compiler import SQLCompiler

Fetched: TypeAlias = Any
"""A row; its columns are its attributes."""

_Processor: TypeAlias = Callable[[Any], Any]


class _Ready(NamedTuple):
    """What the driver runs: each parameter's name and how it is written, each column's how it is read."""

    sql: str
    parameters: tuple[tuple[str, _Processor | None], ...]
    settled: dict[str, Any]
    row: Callable[..., Fetched]
    columns: tuple[_Processor | None, ...]


class Statement:
    """A statement, with a value for each of its named parameters each time that it runs in a transaction.

    An insert's parameters are the `columns` that it fills, which may be none of those with a default. There is no
    place for lists of values: their length is part of the words.
    """

    def __init__(
        self, words: Select[*tuple[Any, ...]] | Insert | Update, columns: Collection[str] = ()
    ) -> None:
        self._words = words
        self._columns = columns
        self._ready: _Ready | None = None

    def all(self, connection: Connection, **values: Any) -> list[Fetched]:
        """Every row that it finds."""
        if connection.dialect.name != "sqlite":
            return list(connection.execute(self._words, values))
        ready, found = self._run(connection, values)
        read, columns = ready.row, ready.columns
        return [
            read(*[value if how is None else how(value) for how, value in zip(columns, plain, strict=True)])
            for plain in found
        ]

    def one(self, connection: Connection, **values: Any) -> Fetched | None:
        """The one row that it finds, or none."""
        rows = self.all(connection, **values)
        assert len(rows) < 2, "more rows than one"
        return rows[0] if rows else None

    def run(self, connection: Connection, **values: Any) -> None:
        """Runs it for what it does."""
        if connection.dialect.name != "sqlite":
            connection.execute(self._words, values)
        else:
            self._run(connection, values)

    def _run(self, connection: Connection, values: dict[str, Any]) -> tuple[_Ready, list[Sequence[Any]]]:
        ready = self._ready
        if ready is None:
            ready = self._ready = self._compiled(connection.dialect)
        known = {**ready.settled, **values}
        given = [known[name] if how is None else how(known[name]) for name, how in ready.parameters]
        return ready, run_on_sqlite(connection, ready.sql, given)

    def _compiled(self, dialect: Dialect) -> _Ready:
        compiled = self._words.compile(dialect=dialect, column_keys=list(self._columns) or None)
        assert isinstance(compiled, SQLCompiler)
        assert not compiled.insert_prefetch, "nothing fills in a column's default"
        assert "POSTCOMPILE" not in compiled.string, "a list of values has no place here"
        names = compiled.positiontup or []
        binds = {name: compiled.binds[name] for name in names}
        columns = self._words.exported_columns
        types = [column.type.dialect_impl(dialect) for column in columns]
        return _Ready(
            compiled.string,
            tuple((name, binds[name].type.dialect_impl(dialect).bind_processor(dialect)) for name in names),
            {name: bind.value for name, bind in binds.items() if not bind.required},
            namedtuple("Found", [column.key for column in columns]),  # type: ignore[misc]
            tuple(each.result_processor(dialect, None) for each in types),
        )


def run_on_sqlite(connection: Connection, sql: str, values: Sequence[Any] = ()) -> list[Sequence[Any]]:
    """Runs words of SQL with the driver; returns the plain rows. Raises SQLAlchemy's errors."""
    driver = connection.connection.dbapi_connection
    assert driver is not None
    try:
        return driver.execute(sql, values).fetchall()  # type: ignore[no-any-return]
    except sqlite3.Error as error:
        raise DBAPIError.instance(
            sql, None, error, sqlite3.Error, hide_parameters=True, dialect=connection.dialect
        ) from error
