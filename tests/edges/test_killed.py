"""The whole bot as a process: killed without warning again and again, and stopped properly."""

import random
import signal
from pathlib import Path

import pytest

from tests.botapi.double import BotApi
from tests.edges.bench import wait_until
from tests.edges.serving import TOKEN, House
from tests.edges.soaking import Soak


@pytest.fixture
def house(api: BotApi, tmp_path: Path) -> House:
    return House(api, tmp_path)


def test_nothing_said_is_lost_or_doubled_by_thirty_kills(house: House) -> None:
    seed = random.SystemRandom().randrange(10**6)
    soak = Soak(house, kills=30, seed=seed)
    told = soak.run()
    assert told.sound, f"{told} (seed {seed})\n{soak.odd}"
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
