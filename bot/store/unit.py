"""The unit of work: one transaction over everything that is kept."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from sqlalchemy import Connection, Engine

from bot.store.database import sqlite_path
from bot.store.file_check import FileCheck
from bot.store.holder import new_holder
from bot.store.queries.calendar import Calendar
from bot.store.queries.households import Households
from bot.store.queries.logbook import Logbook
from bot.store.queries.people import People
from bot.store.queries.postbox import Postbox
from bot.store.queries.questions import Questions
from bot.store.queries.reminders import Reminders
from bot.store.queries.retention import Retention
from bot.store.queries.work import Work
from bot.store.shelf import Shelf


class Unit:
    """One transaction, with the queries in it by name."""

    def __init__(self, connection: Connection, shelf: Shelf, holder: str) -> None:
        self.households = Households(connection)
        self.people = People(connection)
        self.log = Logbook(connection, shelf)
        self.questions = Questions(connection)
        self.post = Postbox(connection, holder)
        self.work = Work(connection, holder)
        self.reminders = Reminders(connection)
        self.calendar = Calendar(connection)
        self.retention = Retention(connection)


class Units:
    """The factory of units of work over one engine."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self._shelf = Shelf()
        path = sqlite_path(engine.url)
        self._file = FileCheck(path) if path is not None else None
        self.holder = new_holder()
        """The name under which this process holds what it works on."""

    def close(self) -> None:
        """Lets go of the database's connections."""
        self.engine.dispose()
        if self._file is not None:
            self._file.close()

    @contextmanager
    def begin(self) -> Iterator[Unit]:
        """A writing transaction: all of it is committed, or none. Raises FileGoneError where what is committed
        would not be there at the next start."""
        self._check()
        with self.engine.begin() as connection:
            unit = Unit(connection, self._shelf, self.holder)
            yield unit
            newest = FileCheck.newest(connection) if self._file is not None else None
        self._check(committed=newest)
        unit.log.shelve()

    @contextmanager
    def read(self) -> Iterator[Unit]:
        """A reading transaction; it holds up no writer."""
        self._check()
        with self.engine.connect().execution_options(only_read=True) as connection, connection.begin():
            yield Unit(connection, self._shelf, self.holder)

    def write_back(self) -> None:
        """On SQLite: brings what is in the log beside the database to its place, and empties that log, in which what
        was deleted stands a while longer. Where others are reading, that waits for another time."""
        if self._file is not None:
            self._file.write_back()

    def _check(self, *, committed: Sequence[int] | None = None) -> None:
        if self._file is not None:
            self._file.check(committed=committed)
