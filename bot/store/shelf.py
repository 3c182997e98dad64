"""Logs as they were last read, with what they come to, so that a message reads only what was written since.

Entries never change, so what was committed once stays right. What could change is a member's name: then the
household's log is read anew; and so it is once another household was joined to it.
"""

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from threading import Lock

import msgspec

from bot.cellar.log.fold import Entry, Folded
from bot.ids import HouseholdId

MOST_ENTRIES = 50_000
"""In all; the households that were quiet longest are forgotten first."""


class Shelved(msgspec.Struct, frozen=True):
    """A household's whole log, oldest first, and its members' names by their ids; read after so many others had been
    joined to it."""

    names: Mapping[int, str]
    log: Folded
    joins: int = 0

    def plus(self, names: Mapping[int, str], more: Sequence[Entry]) -> "Shelved":
        """With more entries at its end."""
        return Shelved(names, self.log.plus(more), self.joins)


class Shelf:
    """Bounded, and shared by all transactions of a process."""

    def __init__(self, most: int = MOST_ENTRIES) -> None:
        self._most = most
        self._logs: OrderedDict[HouseholdId, Shelved] = OrderedDict()
        self._count = 0
        self._lock = Lock()

    def take(self, household_id: HouseholdId) -> Shelved | None:
        with self._lock:
            return self._logs.get(household_id)

    def put(self, household_id: HouseholdId, log: Shelved) -> None:
        """Keeps this log: only of a committed state."""
        with self._lock:
            self._forget(household_id)
            self._logs[household_id] = log
            self._count += len(log.log.entries)
            while self._count > self._most:
                self._forget(next(iter(self._logs)))

    def forget(self, household_id: HouseholdId) -> None:
        """It is to be read anew."""
        with self._lock:
            self._forget(household_id)

    def _forget(self, household_id: HouseholdId) -> None:
        log = self._logs.pop(household_id, None)
        self._count -= len(log.log.entries) if log is not None else 0
