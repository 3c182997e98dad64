"""Whether the SQLite file that we write is still the one that stands at its path.

On most systems a file can be deleted or replaced under a program that has it open: it would go on writing into
nothing, and all that it acknowledged would be gone at its next start.
"""

import logging
import os
import sqlite3
import sys
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from threading import Lock

from sqlalchemy import Connection

from bot.store.database import BUSY_SECONDS, StoreError, connect_sqlite
from bot.store.statement import run_on_sqlite

log = logging.getLogger(__name__)

_BESIDE = ("-wal", "-shm")  # the log and its index; while a connection is open, neither is made anew
_MAGIC = b"SQLite format 3\x00"  # SQLite's file format, section 1.3
_INDEX = 136  # bytes; its parts: SQLite's WAL-mode file format, section 2.2
_PAGE, _FRAMES = (
    slice(14, 16),
    slice(16, 20),
)  # a page's size, in which 1 stands for 65,536; frames in the log
_LOG_HEADER, _FRAME_HEADER = 32, 24  # bytes; SQLite's file format, section 4.1
_WRITTEN_BACK = slice(96, 100)
_WRITING_BACK = slice(128, 132)
_NEWEST = "SELECT coalesce((SELECT max(id) FROM log), 0), coalesce((SELECT max(id) FROM outbox), 0)"


class FileGoneError(StoreError):
    """The database's file was deleted, replaced or overwritten; `brief` says which, without its path."""

    def __init__(self, path: Path, brief: str) -> None:
        super().__init__(f"{path}: {brief}; I take nothing in until it is back")
        self.brief = brief


class FileCheck:
    """Compares what stands at a database's path with what was opened there. Holds a connection of its own, which
    keeps what was committed in reach when the file has no name any more."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._held = connect_sqlite(path)
        self._held.execute("SELECT count(*) FROM sqlite_master").fetchone()  # opens the files beside it
        self._held.execute(
            "PRAGMA wal_checkpoint(PASSIVE)"
        ).fetchone()  # what is in the log yet, at its place
        self._files = [(suffix, f"{path}{suffix}") for suffix in ("", *_BESIDE)]
        found = [os.stat(file) for _, file in self._files]  # noqa: PTH116 - as it is asked again
        self._ids = [(each.st_dev, each.st_ino) for each in found]
        self._sizes = [each.st_size for each in found]
        self._written_at = found[0].st_mtime_ns
        # Held open to the end: closing a file drops the locks that SQLite has on it in this process.
        self._content, self._index = (os.open(f"{path}{suffix}", os.O_RDONLY) for suffix in ("", "-shm"))
        self._indexed = self._read_index()
        self._newest: Sequence[int] = self._held.execute(_NEWEST).fetchone()
        self._one_at_a_time = Lock()
        self._gone = ""

    def close(self) -> None:
        self._held.close()
        for file in (self._content, self._index):
            os.close(file)

    def check(self, *, committed: Sequence[int] | None = None) -> None:
        """Raises FileGoneError when what is committed now would be lost, or, once it is `committed`, was: that are the
        newest numbers by then, as `newest` tells them."""
        with self._one_at_a_time:
            try:
                written_at = self._compare()
                indexed = self._read_index()
                if written_at != self._written_at and committed is None and not self._is_whole(indexed):
                    raise FileGoneError(self._path, "its file was overwritten")
            except FileGoneError as error:
                if error.brief != self._gone:
                    self._gone = error.brief
                    log.error("%s%s", error, self._keep_copy())
                raise
            self._gone, self._written_at, self._indexed = "", written_at, indexed
            if committed is not None:
                self._newest = committed

    @staticmethod
    def newest(connection: Connection) -> Sequence[int]:
        """The newest numbers in the log and the outbox, as a transaction sees them just before it is committed."""
        (found,) = run_on_sqlite(connection, _NEWEST)
        return found

    def write_back(self) -> None:
        """Writes the log back into the database and empties it, where nobody else is at it."""
        self.check()
        with self._one_at_a_time:
            self._held.execute("PRAGMA busy_timeout = 0")
            self._held.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            self._held.execute(f"PRAGMA busy_timeout = {BUSY_SECONDS * 1000}")
        self.check(committed=self._held.execute(_NEWEST).fetchone())

    def _compare(self) -> int:
        """Whether the files are those that were opened; returns when the first was written to last."""
        written_at = 0
        for number, (suffix, file) in enumerate(self._files):
            named = f"its file ({suffix})" if suffix else "its file"
            try:
                found = os.stat(file)  # noqa: PTH116 - several times a message
            except OSError:
                raise FileGoneError(self._path, f"{named} was deleted") from None
            if (found.st_dev, found.st_ino) != self._ids[number]:
                raise FileGoneError(self._path, f"{named} was replaced by another one")
            if found.st_size < self._sizes[number] and not self._may_shrink(suffix, found.st_size):
                raise FileGoneError(self._path, f"{named} was overwritten")
            self._sizes[number] = found.st_size
            written_at = written_at or found.st_mtime_ns
        return written_at

    def _read_index(self) -> bytes:
        return os.pread(self._index, _INDEX, 0)

    def _is_whole(self, indexed: bytes) -> bool:
        """Somebody wrote to it since our last commit. Another process that writes back the log says so in the
        index; then, looked at afresh, it must hold together, with all that we had written."""
        at_rest = indexed[_WRITTEN_BACK] == indexed[_WRITING_BACK]
        if at_rest and indexed[: _WRITTEN_BACK.stop] == self._indexed[: _WRITTEN_BACK.stop]:
            return False
        if os.pread(self._content, len(_MAGIC), 0) != _MAGIC:
            return False
        try:
            with closing(connect_sqlite(self._path)) as fresh:
                (health,) = fresh.execute("PRAGMA quick_check(1)").fetchone()
                newest = fresh.execute(_NEWEST).fetchone()
        except (OSError, sqlite3.Error):
            return False
        return health == "ok" and all(now >= before for now, before in zip(newest, self._newest, strict=True))

    def _may_shrink(self, suffix: str, size: int) -> bool:
        """Whether the database itself did it: a vacuum, or a log that was written back."""
        try:
            if suffix == "":
                return bool(size >= self._ask("page_count")[0] * self._ask("page_size")[0])
            return suffix == "-wal" and self._log_is_whole()
        except (OSError, sqlite3.Error):
            return False

    def _log_is_whole(self) -> bool:
        """Whether the log holds every frame that its index speaks of: of one that was written back and emptied it
        speaks of none. It may be emptied, and written to, between the two looks."""
        for _ in range(3):
            index = self._read_index()
            frames, page = (int.from_bytes(index[part], sys.byteorder) for part in (_FRAMES, _PAGE))
            whole = _LOG_HEADER + frames * (_FRAME_HEADER + (page if page != 1 else 65_536)) if frames else 0
            if os.stat(f"{self._path}-wal").st_size >= whole:  # noqa: PTH116 - as above
                return True
        return False

    def _ask(self, pragma: str) -> tuple[int, ...]:
        found: tuple[int, ...] = self._held.execute(f"PRAGMA {pragma}").fetchone()
        return found

    def _keep_copy(self) -> str:
        """Writes what was committed beside the path, where that can still be read; returns what to say of it."""
        copy = self._path.with_name(f"{self._path.stem}-kept-{self._ids[0][1]}.db")
        try:
            self._path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            os.close(os.open(copy, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
            with closing(sqlite3.connect(copy)) as target:
                self._held.backup(target)
                (health,) = target.execute("PRAGMA quick_check(1)").fetchone()
        except (OSError, sqlite3.Error) as error:
            return f" ({type(error).__name__}: no copy could be made)"
        if health != "ok":
            copy.unlink()
            return " (no copy could be made)"
        return (
            f". All that was written down until then is in {copy}: to go on from there, stop me, put it at "
            f"{self._path.name}, and start me again"
        )
