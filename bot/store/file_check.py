"""Whether the SQLite file that we write is still the one that stands at its path.

On most systems a file can be deleted or replaced under a program that has it open: it would go on writing into
nothing, and all that it acknowledged would be gone at its next start.
"""

import logging
import os
import sqlite3
from contextlib import closing
from pathlib import Path
from threading import Lock

from bot.store.database import StoreError, connect_sqlite

log = logging.getLogger(__name__)

_BESIDE = ("-wal", "-shm")  # while a connection is open, neither is made anew
_MAGIC = b"SQLite format 3\x00"
_PAGE_SIZE = slice(16, 18)  # places in the header: SQLite's file format, section 1.3
_COOKIE = slice(40, 44)
_HEADER = 100
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
        self._held.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()  # the header as it will stay
        self._files = {suffix: self._stat(suffix) for suffix in ("", *_BESIDE)}
        self._sizes = {suffix: found.st_size for suffix, found in self._files.items()}
        self._header = self._read_header()
        self._newest = self._held.execute(_NEWEST).fetchone()
        self._written_at = self._files[""].st_mtime_ns
        self._one_at_a_time = Lock()
        self._gone = ""

    def close(self) -> None:
        self._held.close()

    def check(self, *, content: bool = True) -> None:
        """Raises FileGoneError when what is committed now would be lost. Without `content` it is only looked
        whether the files are the same ones, as after a commit."""
        with self._one_at_a_time:
            try:
                self._compare(content)
            except FileGoneError as error:
                if error.brief != self._gone:
                    self._gone = error.brief
                    log.error("%s%s", error, self._keep_copy())
                raise
            if content:
                self._gone = ""
            else:
                self._newest = self._held.execute(_NEWEST).fetchone()

    def _compare(self, content: bool) -> None:
        for suffix, known in self._files.items():
            named = f"its file{suffix and f' ({suffix})'}"
            try:
                found = self._stat(suffix)
            except OSError:
                raise FileGoneError(self._path, f"{named} was deleted") from None
            if (found.st_dev, found.st_ino) != (known.st_dev, known.st_ino):
                raise FileGoneError(self._path, f"{named} was replaced by another one")
            if found.st_size < self._sizes[suffix] and not self._may_shrink(suffix, found.st_size):
                raise FileGoneError(self._path, f"{named} was overwritten")
            self._sizes[suffix] = found.st_size
            if suffix == "":
                written_at = found.st_mtime_ns
        if content and written_at != self._written_at and not self._is_whole():
            raise FileGoneError(self._path, "its file was overwritten")
        self._written_at = written_at
        if content and not self._is_ours(self._read_header()):
            raise FileGoneError(self._path, "its file was overwritten")

    def _stat(self, suffix: str) -> os.stat_result:
        return os.stat(f"{self._path}{suffix}")  # noqa: PTH116 - three times a message

    def _read_header(self) -> bytes:
        with self._path.open("rb", buffering=0) as file:
            return file.read(_HEADER)

    def _is_ours(self, header: bytes) -> bool:
        if header == self._header:
            return True
        ours = header.startswith(_MAGIC) and header[_PAGE_SIZE] == self._header[_PAGE_SIZE]
        if not ours or int.from_bytes(header[_COOKIE]) != self._ask("schema_version")[0]:
            return False
        self._header = header
        return True

    def _is_whole(self) -> bool:
        """Somebody else wrote to it since our last commit: another process that writes back the log, or one that
        copied something over it. Looked at afresh it must hold together, and all that we had written."""
        try:
            with closing(connect_sqlite(self._path)) as fresh:
                (health,) = fresh.execute("PRAGMA quick_check(1)").fetchone()
                newest = fresh.execute(_NEWEST).fetchone()
        except sqlite3.Error:
            return False
        return health == "ok" and all(now >= before for now, before in zip(newest, self._newest, strict=True))

    def _may_shrink(self, suffix: str, size: int) -> bool:
        """Whether the database itself did it: a vacuum, or a log that was written back."""
        try:
            if suffix == "":
                return bool(size >= self._ask("page_count")[0] * self._ask("page_size")[0])
            return suffix == "-wal" and self._ask("wal_checkpoint(PASSIVE)")[1] == 0
        except sqlite3.Error:
            return False

    def _ask(self, pragma: str) -> tuple[int, ...]:
        found: tuple[int, ...] = self._held.execute(f"PRAGMA {pragma}").fetchone()
        return found

    def _keep_copy(self) -> str:
        """Writes what was committed beside the path, where that can still be read; returns what to say of it."""
        copy = self._path.with_name(f"{self._path.stem}-kept-{self._files[''].st_ino}.db")
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
