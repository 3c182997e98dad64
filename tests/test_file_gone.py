"""The database's files deleted, replaced or overwritten while the bot runs, and who may read them."""

import os
import re
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from bot.store.database import StoreError, open_engine, sqlite_url
from bot.store.file_check import FileGoneError
from bot.store.unit import Units
from tests.house.room import NOW, Room

BEGIN = "new batch: plum, red, 23 l in bucket 2, 14 day kit"
ROOT = Path(__file__).parents[1]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    folder = tmp_path / "data"
    folder.mkdir()
    return folder / "house.db"


@pytest.fixture
def room(path: Path) -> Iterator[Room]:
    units = Units(open_engine(sqlite_url(path)))
    yield Room(units)
    units.close()


def _another(path: Path) -> Path:
    """The database of another house."""
    other = path.with_name("other.db")
    units = Units(open_engine(sqlite_url(other)))
    for number in range(40):
        Room(units).desk.handle(Room(units).incoming(BEGIN, update_id=number, chat_id=-number - 9), NOW)
    units.close()
    return other


def _overwrite(path: Path, content: bytes) -> None:
    with path.open("r+b") as file:
        file.truncate()
        file.write(content)


def _beside(path: Path, suffix: str) -> Path:
    return path.with_name(path.name + suffix)


HARM: dict[str, Callable[[Path], object]] = {
    "deleted": lambda path: path.unlink(),
    "all deleted": lambda path: [item.unlink() for item in path.parent.iterdir()],
    "folder deleted": lambda path: shutil.rmtree(path.parent),
    "log deleted": lambda path: _beside(path, "-wal").unlink(),
    "index deleted": lambda path: _beside(path, "-shm").unlink(),
    "replaced": lambda path: _another(path).replace(path),
    "moved away": lambda path: path.rename(path.with_name("elsewhere.db")),
    "emptied": lambda path: _overwrite(path, b""),
    "overwritten": lambda path: _overwrite(path, b"a shopping list " * 40_000),
    "another copied over it": lambda path: _overwrite(path, _another(path).read_bytes()),
    "a backup copied over it": lambda path: _overwrite(path, path.with_name("backup.db").read_bytes()),
    "log emptied": lambda path: _overwrite(_beside(path, "-wal"), b""),
}


@pytest.mark.parametrize("how", HARM)
def test_nothing_is_taken_in_that_would_be_gone(room: Room, path: Path, how: str) -> None:
    room.say(BEGIN)
    with (
        closing(sqlite3.connect(path)) as ours,
        closing(sqlite3.connect(path.with_name("backup.db"))) as copy,
    ):
        ours.backup(copy)
    room.say("sg 1.090 plum")
    HARM[how](path)
    with pytest.raises(FileGoneError, match=r"deleted|replaced|overwritten"):
        room.desk.take_in([(900, "{}")], NOW)
    with pytest.raises(FileGoneError):
        room.desk.handle(room.incoming("sg 1.080 plum"), NOW)
    with pytest.raises(FileGoneError):
        room.desk.waiting()


@pytest.mark.parametrize("how", ["deleted", "all deleted", "folder deleted", "log deleted", "replaced"])
def test_what_was_acknowledged_before_is_kept_in_a_copy(
    room: Room, path: Path, how: str, caplog: pytest.LogCaptureFixture
) -> None:
    room.say(BEGIN)
    room.desk.take_in([(900, "{}")], NOW)
    HARM[how](path)
    for _ in range(3):
        with pytest.raises(FileGoneError):
            room.desk.take_in([(901, "{}")], NOW)
    (line,) = [record.getMessage() for record in caplog.records if "house.db" in record.getMessage()]
    found = re.search(r"is in (\S+):", line)
    assert found is not None, line
    copy = Path(found[1])
    assert copy.stat().st_mode & 0o777 == 0o600
    units = Units(open_engine(sqlite_url(copy)))
    again = Room(units)
    assert len(again.acts()) == 1
    assert [update for update, _ in again.desk.waiting()] == [900]
    units.close()


def test_put_back_it_goes_on(room: Room, path: Path) -> None:
    room.say(BEGIN)
    away = path.with_name("elsewhere.db")
    path.rename(away)
    with pytest.raises(FileGoneError):
        room.desk.take_in([(900, "{}")], NOW)
    away.rename(path)
    assert "1.080" in room.text("sg 1.080 plum")


def test_what_is_done_to_it_while_a_message_is_written_is_seen_before_it_counts(
    room: Room, path: Path
) -> None:
    room.say(BEGIN)

    def take_in() -> None:
        with room.units.begin() as unit:
            unit.post.take_in([(900, "{}")], NOW, {})
            path.unlink()

    with pytest.raises(FileGoneError):
        take_in()


@pytest.mark.parametrize(
    "care", ["VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)", "PRAGMA wal_checkpoint(RESTART)"]
)
def test_what_the_database_does_to_its_own_files_is_no_harm(room: Room, path: Path, care: str) -> None:
    room.say(BEGIN)
    with room.units.begin() as unit:
        unit.post.take_in([(number, "x" * 5_000) for number in range(900, 1_200)], NOW, {})
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("DELETE FROM inbox WHERE update_id >= 900")
        other.execute(care).fetchall()
    assert "1.080" in room.text("sg 1.080 plum")
    with closing(sqlite3.connect(path)) as other, closing(sqlite3.connect(path.with_name("copy.db"))) as copy:
        other.backup(copy)
    assert "1.060" in room.text("sg 1.060 plum")


# who may read them


def modes(folder: Path) -> dict[str, int]:
    return {
        str(item.relative_to(folder.parent)): item.stat().st_mode & 0o777
        for item in (folder, *folder.rglob("*"))
    }


@pytest.mark.parametrize("umask", [0o000, 0o022, 0o077, 0o277])
def test_files_are_for_nobody_else_whatever_the_umask(tmp_path: Path, umask: int) -> None:
    script = (
        f"import os, sys; os.umask({umask}); from bot.__main__ import main; "
        "from bot.edges import console; sys.exit(main(['try']))"
    )
    typed = f"ana: {BEGIN}\nana: calendar\n"
    environment = os.environ | {"BUCKETSIDE_DATA_DIR": str(tmp_path / "data"), "BUCKETSIDE_DATABASE_URL": ""}
    for _ in range(2):
        subprocess.run(
            [sys.executable, "-c", script],
            cwd=ROOT,
            env=environment,
            input=typed,
            text=True,
            check=True,
            capture_output=True,
        )
        found = modes(tmp_path / "data")
        assert found.pop("data") == 0o700
        assert found.pop("data/files") == 0o700
        assert any(name.endswith(".ics") for name in found)
        assert set(found.values()) == {0o600}, found


def test_while_it_runs_the_files_beside_it_are_private_too(room: Room, path: Path) -> None:
    room.say(BEGIN)
    found = {name: mode for name, mode in modes(path.parent).items() if name != "data"}
    assert found == {f"data/house.db{suffix}": 0o600 for suffix in ("", "-wal", "-shm")}


def test_what_an_older_version_made_is_made_private(path: Path) -> None:
    Units(open_engine(sqlite_url(path))).close()
    path.chmod(0o644)
    _beside(path, "-wal").touch(0o644)
    _beside(path, "-wal").chmod(0o644)
    units = Units(open_engine(sqlite_url(path)))
    Room(units).say(BEGIN)
    assert {mode for name, mode in modes(path.parent).items() if name != "data"} == {0o600}
    units.close()


def test_a_path_may_hold_any_letters(tmp_path: Path) -> None:
    folder = tmp_path / "a?b #1 %20&x=ü"
    folder.mkdir()
    units = Units(open_engine(sqlite_url(folder / "house.db")))
    Room(units).say(BEGIN)
    units.close()
    assert (folder / "house.db").stat().st_size > 0
    assert [item.name for item in tmp_path.iterdir()] == [folder.name]


def test_a_read_only_medium_is_said_as_such(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Units(open_engine(sqlite_url(path))).close()
    before = path.read_bytes()
    real, told = os.access, os.statvfs
    monkeypatch.setattr(os, "access", lambda place, mode: mode != os.W_OK and real(place, mode))
    with pytest.raises(StoreError, match="cannot be written by this user"):
        open_engine(sqlite_url(path))

    def read_only(place: Path) -> os.statvfs_result:
        fields = list(told(place))
        fields[8] |= os.ST_RDONLY
        return os.statvfs_result(fields)

    monkeypatch.setattr(os, "statvfs", read_only)
    for only_read in (False, True):
        with pytest.raises(StoreError, match="read-only medium") as caught:
            open_engine(sqlite_url(path), only_read=only_read)
        assert "\n" not in str(caught.value)
    assert path.read_bytes() == before


def test_a_log_that_another_process_emptied_and_wrote_to_is_no_harm_and_one_that_lost_something_is(
    room: Room, path: Path
) -> None:
    other = Room(Units(open_engine(sqlite_url(path))))
    other.number = 10_000
    room.say(BEGIN)
    for number in range(20):
        room.say(f"note plum: a look, number {number}")
    size = _beside(path, "-wal").stat().st_size
    other.units.write_back()
    assert _beside(path, "-wal").stat().st_size == 0
    other.say("note plum: from the other one")
    assert 0 < _beside(path, "-wal").stat().st_size < size
    room.say("note plum: and the last")
    assert [act.text for act in room.acts()[-2:]] == ["from the other one", "and the last"]
    _overwrite(_beside(path, "-wal"), _beside(path, "-wal").read_bytes()[:-4096])
    with pytest.raises(FileGoneError):
        room.say("sg 1.060 plum")
    other.units.close()
