"""A message that never ends, in the whole bot as a process: it costs two lives, and then it is set aside."""

import signal
import time
from pathlib import Path

import pytest

from tests.botapi.double import BotApi
from tests.edges.bench import wait_until
from tests.edges.serving import House

HANGING = "tests.edges.hanging"


@pytest.fixture
def house(api: BotApi, tmp_path: Path) -> House:
    return House(api, tmp_path)


@pytest.mark.parametrize("end", [signal.SIGTERM, signal.SIGKILL])
def test_a_message_that_never_ends_stops_the_bot_twice_and_no_more(house: House, end: signal.Signals) -> None:
    world = house.world
    group, other = world.group("Ours"), world.group("Theirs")
    world.say("bert", "begin pear in bucket 1", other)
    world.say("ana", "begin plum in bucket 1, treacle", group)
    for life in range(2):
        with house.running(HANGING) as process:
            wait_until(lambda: not world.updates, "all is taken in", 60)
            if life:
                wait_until(lambda: len(world.said(other)) == 2, "the others are served", 60)
            time.sleep(2.5)
            world.say("bert", f"temp 2{life} bucket 1", other)  # while nothing else gets a turn
            process.send_signal(end)
            began = time.monotonic()
            process.wait(12)
            assert time.monotonic() - began < 10
    with house.running(HANGING) as process:
        wait_until(lambda: world.said(group), "its sender is told", 60)
        wait_until(lambda: len(house.entries()) == 3, "the others are served", 60)
        process.send_signal(signal.SIGTERM)
        assert process.wait(12) == 0
    (told,) = world.said(group)
    assert "standstill" in told
    assert "treacle" not in told
    assert len(world.said(other)) >= 3, world.said(other)
    assert "treacle" not in house.log.read_text()


def test_nobody_is_needed_to_end_it(house: House) -> None:
    world = house.world
    group = world.group()
    world.say("ana", "begin plum in bucket 1, treacle", group)
    for _ in range(2):
        with house.running(HANGING) as process:
            assert process.wait(40) == 1, "it ends by itself"
    with house.running(HANGING):
        wait_until(lambda: world.said(group), "its sender is told", 60)
