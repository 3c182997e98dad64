"""The whole bot as a process: killed without warning again and again, and stopped properly."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from bot.edges.clock import now
from tests.botapi.double import BotApi
from tests.edges.bench import wait_until

ROOT = Path(__file__).parents[2]
TOKEN = "4711:a_token-for_tests"


class House:
    """A bot process on a data folder that outlives it."""

    def __init__(self, api: BotApi, folder: Path) -> None:
        self.world = api.world
        self.world.token = TOKEN
        self.world.moment = now()
        self.log = folder / "stderr.log"
        self.environment = {
            **{name: value for name, value in os.environ.items() if not name.startswith("BUCKETSIDE_")},
            "BUCKETSIDE_TOKEN": TOKEN,
            "BUCKETSIDE_API_URL": api.url,
            "BUCKETSIDE_DATA_DIR": str(folder / "data"),
        }

    @contextmanager
    def running(self) -> Iterator["subprocess.Popen[bytes]"]:
        """Starts the bot; it is killed at the end if it still runs."""
        with self.log.open("ab") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", "bot", "serve"], cwd=ROOT, env=self.environment, stderr=log
            )
        try:
            yield process
        finally:
            process.kill()
            process.wait()

    def wait_for_answers(self, count: int, process: "subprocess.Popen[bytes]") -> None:
        """Returns when the bot has sent that many messages, over all of its lives."""
        wait_until(
            lambda: len(self.world.sent) >= count or process.poll() is not None, f"{count} answers", 60
        )
        assert process.returncode is None, self.log.read_text()

    def entries(self) -> list[dict[str, Any]]:
        """What `bucketside log --json` prints."""
        command = [sys.executable, "-m", "bot", "log", "--json"]
        done = subprocess.run(command, cwd=ROOT, env=self.environment, capture_output=True, check=True)
        return [json.loads(line) for line in done.stdout.splitlines()]


@pytest.fixture
def house(api: BotApi, tmp_path: Path) -> House:
    return House(api, tmp_path)


def test_no_reading_is_lost_or_doubled_by_kills(house: House) -> None:
    group = house.world.group("Plum Street")
    house.world.say("ana", "begin plum in bucket 1", group)
    first = house.world.newest_update + 1
    for number in range(120):
        house.world.say(("ana", "bert")[number % 2], f"temp {20 + number % 40 / 10:.1f} bucket 1", group)
    wanted = set(range(first, house.world.newest_update + 1))
    for answers in (1, 3, 6):  # the bot's own pace lets a group have three at once
        with house.running() as process:
            house.wait_for_answers(answers, process)
            process.kill()
            process.wait()
    with house.running() as process:
        wait_until(lambda: len(house.world.calls_of("getMe")) == 4, "the fourth start", 60)
        wait_until(lambda: not house.world.updates, "all confirmed", 60)
        process.send_signal(signal.SIGTERM)
        assert process.wait(15) == 0
    entries = house.entries()
    if len(entries) < 121:  # the stop came first
        with house.running():
            wait_until(lambda: len(house.entries()) >= 121, "the rest is handled at the next start", 60)
        entries = house.entries()
    readings = [entry for entry in entries if entry["update_id"] in wanted]
    assert [entry["update_id"] for entry in readings] == sorted(wanted), "each one once, in order"
    assert [entry["act"]["temp_c"] for entry in readings] == [20 + n % 40 / 10 for n in range(120)]
    text = house.log.read_text()
    assert TOKEN not in text
    assert "bucket 1" not in text


def test_a_wrong_token_is_one_line_and_status_2(house: House) -> None:
    house.world.token = "another"
    with house.running() as process:
        assert process.wait(30) == 2
    (line,) = [line for line in house.log.read_text().splitlines() if line.startswith("bucketside:")]
    assert "token" in line
    assert TOKEN not in house.log.read_text()


def test_a_stop_while_the_platform_is_away_is_quick(house: House) -> None:
    house.world.fail("getMe", 502, "Bad Gateway", times=10**5)
    with house.running() as process:
        wait_until(lambda: house.world.calls_of("getMe"), "tried", 60)
        process.send_signal(signal.SIGINT)
        assert process.wait(15) == 0
