"""Settings that cannot be, a stop in the first second, and two first starts at once."""

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from bot.store.database import open_engine
from bot.store.unit import Units
from tests.house.room import Room

ROOT = Path(__file__).parents[1]
HOOK = {"WEBHOOK_URL": "https://wine.example.org/u", "WEBHOOK_SECRET": "abc"}


def environment(folder: Path, **settings: str) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("BUCKETSIDE_")}
    given = {"TOKEN": "1:abc", "API_URL": "http://127.0.0.1:9", "DATA_DIR": str(folder / "data")} | settings
    return kept | {f"BUCKETSIDE_{name}": value for name, value in given.items()}


@pytest.mark.parametrize(
    "settings",
    [
        {"API_URL": "http://127.0.0.1:99999"},
        {"API_URL": "http://127.0.0.1:port"},
        {"API_URL": "http://127.0.0.1/?x"},
        {"API_URL": "http://[w/u"},
        {"API_URL": "http://?"},
        {"DATABASE_URL": "postgresql+psycopg://x@127.0.0.1:port/db"},
        {"DATABASE_URL": "postgresql+psycopg://x@127.0.0.1:99999/db"},
        {"DATABASE_URL": "sqlite:////tmp/none.db?mode=x"},
        {"DATABASE_URL": "?"},
        {"TOKEN": "1:a?b"},
        HOOK | {"LISTEN": "127.0.0.1:99999"},
        HOOK | {"LISTEN": "127.0.0.1:port"},
        HOOK | {"LISTEN": "?:8080"},
        HOOK | {"LISTEN": "127.0.0.1:80?0"},
        HOOK | {"WEBHOOK_URL": "https://wine.example.org:99999/u"},
        HOOK | {"WEBHOOK_URL": "https://wine.example.org/u?x=1"},
        HOOK | {"WEBHOOK_URL": "https://wine.example.org/{u"},
        HOOK | {"WEBHOOK_SECRET": "what?"},
    ],
    ids=str,
)
def test_a_setting_that_cannot_be_is_one_line_and_status_2(tmp_path: Path, settings: dict[str, str]) -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "bot", "serve"],
        cwd=ROOT,
        env=environment(tmp_path, **settings),
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert ended.returncode == 2, ended.stderr
    assert len(ended.stderr.splitlines()) == 1, ended.stderr
    assert ended.stderr.startswith("bucketside: ")


def _is_caught(pid: int, number: int) -> bool:
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    (mask,) = [int(line.split()[1], 16) for line in lines if line.startswith("SigCgt")]
    python = b"serve" in Path(f"/proc/{pid}/cmdline").read_bytes()
    # Python itself catches SIGINT, from its first moment on.
    return python and bool(mask >> (signal.SIGTERM - 1) & 1) and bool(mask >> (number - 1) & 1)


@pytest.mark.parametrize("after", [0.0, 0.1, 0.2, 0.4, 0.8])
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_stop_in_the_first_second_ends_well(tmp_path: Path, after: float, number: signal.Signals) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "bot", "serve"],
        cwd=ROOT,
        env=environment(tmp_path),
        stderr=subprocess.PIPE,
        text=True,
    )
    while not _is_caught(process.pid, number):  # the interpreter itself is not up yet
        assert process.poll() is None
    time.sleep(after)
    process.send_signal(number)
    _, err = process.communicate(timeout=30)
    assert process.returncode == 0, err
    assert "Traceback" not in err


def test_two_first_starts_at_once_both_open_it(url: str) -> None:
    rooms: list[Room] = []
    failed: list[BaseException] = []
    together = threading.Barrier(4)

    def start() -> None:
        together.wait()
        try:
            rooms.append(Room(Units(open_engine(url))))
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=start) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert not failed, failed
    for number, room in enumerate(rooms):
        room.number = 1_000 * (number + 1)
        assert room.text("/house")
        room.units.close()
