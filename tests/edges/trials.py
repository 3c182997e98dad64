"""Trials of the real process besides kills: a full disk, two processes at slow calls, a chat that refuses for a
while, and one household that sends so much that another might have to wait. Each returns a line, and fails when
anything was lost, said twice, set aside or late."""

import resource
import signal
import sqlite3
import time
from contextlib import ExitStack, closing
from functools import partial
from pathlib import Path
from typing import Any

from tests.edges.bench import wait_until
from tests.edges.serving import House

PATIENCE = 120.0
WITHIN = 2.0
"""Seconds in which another house is answered while one sends thousands."""


def _ask(house: House, query: str) -> list[Any]:
    path = Path(house.environment["BUCKETSIDE_DATA_DIR"]) / "bucketside.db"
    with closing(sqlite3.connect(path, timeout=10)) as connection:
        return connection.execute(query).fetchall()


def _settled(house: House) -> bool:
    """Whether all was taken in and handled, and all answers have left."""
    path = Path(house.environment["BUCKETSIDE_DATA_DIR"]) / "bucketside.db"
    if house.world.updates or not path.exists():
        return False
    left = "SELECT (SELECT count(*) FROM inbox WHERE done_at IS NULL) + (SELECT count(*) FROM outbox WHERE closed_at IS NULL)"
    return bool(_ask(house, left)[0][0] == 0)


def _groups(house: House, count: int) -> list[int]:
    groups = [house.world.group(f"House {number}") for number in range(count)]
    for group in groups:
        house.world.say("ana", "begin plum in bucket 1", group)
    return groups


def full_disk(house: House, messages: int = 40) -> str:
    """Files cannot grow for a while: what was said meanwhile is written down afterwards, and nothing is set aside."""
    (group,) = _groups(house, 1)
    database = Path(house.environment["BUCKETSIDE_DATA_DIR"]) / "bucketside.db"
    with house.running() as process:
        wait_until(lambda: _settled(house), "it has begun", PATIENCE)
        most = max(database.stat().st_size, database.with_name("bucketside.db-wal").stat().st_size)
        _, hard = resource.prlimit(process.pid, resource.RLIMIT_FSIZE)
        resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (most + 6_000, hard))
        for number in range(messages):
            house.world.say("ana", f"temp {20 + number / 10:.1f} bucket 1", group)
        wait_until(lambda: "the database fails" in house.log.read_text(), "the disk is full", PATIENCE)
        time.sleep(4)
        assert process.poll() is None, house.log.read_text()[-2000:]
        assert not _settled(house), "there was room for all"
        resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (hard, hard))
        wait_until(lambda: _settled(house), "all is done", PATIENCE)
        process.send_signal(signal.SIGTERM)
        assert process.wait(12) == 0
    assert not _ask(house, "SELECT why FROM inbox WHERE why IS NOT NULL"), "nothing is set aside for the disk"
    written = sorted(entry["act"].get("temp_c", 0) for entry in house.entries())
    assert [round(warm, 1) for warm in written[1:]] == [round(20 + n / 10, 1) for n in range(messages)]
    assert "the database works again" in house.log.read_text()
    assert len(house.world.said(group)) == len(set(house.world.said(group)))
    return f"full disk: {messages} messages, all written down, none set aside"


def slow_calls(house: House, messages: int = 120, slowness: float = 0.5) -> str:
    """Two processes on one database while each call takes long: every answer is said once, and in order."""
    groups = _groups(house, 8)
    with ExitStack() as stack:
        first = stack.enter_context(house.running())
        wait_until(lambda: _settled(house), "it has begun", PATIENCE)
        said = {group: len(house.world.said(group)) for group in groups}
        house.world.slowness = slowness
        second = stack.enter_context(house.running())
        wait_until(lambda: house.log.read_text().count("connected as") == 2, "both serve", PATIENCE)
        for number in range(messages):
            house.world.say("ana", f"temp {18 + number / 10:.1f} bucket 1", groups[number % len(groups)])
            time.sleep(0.02)
        wait_until(lambda: _settled(house), "all is said", PATIENCE)
        for process in (first, second):
            process.send_signal(signal.SIGTERM)
        assert [process.wait(12) for process in (first, second)] == [0, 0]
    house.world.slowness = 0.0
    answers = {group: house.world.said(group)[said[group] :] for group in groups}
    twice = sum(len(told) - len(set(told)) for told in answers.values())
    assert twice == 0, f"{twice} answers were said twice"
    for number, group in enumerate(groups):
        wanted = [f"{18 + n / 10:g} °C" for n in range(number, messages, len(groups))]
        assert len(answers[group]) == len(wanted), answers[group]
        assert all(warm in told for warm, told in zip(wanted, answers[group], strict=True)), "out of order"
    return f"slow calls, two processes: {messages} answers, none said twice"


def refusing_chat(house: House, messages: int = 10) -> str:
    """A chat that takes nothing for a while gets all its answers afterwards; others notice nothing."""
    muted, other = _groups(house, 2)
    with house.running() as process:
        wait_until(lambda: _settled(house), "it has begun", PATIENCE)
        before = len(house.world.said(muted))
        says = "Bad Request: not enough rights to send text messages to the chat"
        house.world.fail("sendMessage", 400, says, times=4, chat_id=muted)
        for number in range(messages):
            for group in (muted, other):
                house.world.say("ana", f"temp {18 + number / 10:.1f} bucket 1", group)
        wait_until(lambda: len(house.world.said(other)) > messages, "the other is answered", PATIENCE)
        wait_until(lambda: _settled(house), "all is said", PATIENCE)
        process.send_signal(signal.SIGTERM)
        assert process.wait(12) == 0
    assert len(house.world.said(muted)) - before == messages
    assert not _ask(house, "SELECT 1 FROM chats WHERE unreachable IS NOT NULL")
    return f"a chat that refuses for a while: {messages} answers, all said in the end"


def _said_more(house: House, chat: int, before: int) -> bool:
    return len(house.world.said(chat)) > before


def fairness(house: House, messages: int = 5_000) -> str:
    """One member sends thousands of messages; another house is answered soon."""
    busy, other = _groups(house, 2)
    slowest = 0.0
    with house.running() as process:
        wait_until(lambda: _settled(house), "it has begun", PATIENCE)
        for number in range(messages):
            house.world.say("ana", f"temp {18 + number % 90 / 10:.1f} bucket 1", busy)
        for number in range(3):
            time.sleep(0.5)
            before = len(house.world.said(other))
            began = time.monotonic()
            house.world.say("bert", f"temp {20 + number}.0 bucket 1", other)
            wait_until(partial(_said_more, house, other, before), "answered", PATIENCE)
            slowest = max(slowest, time.monotonic() - began)
        (left,) = _ask(house, "SELECT count(*) FROM inbox WHERE done_at IS NULL")[0]
        assert left > messages / 10, "they were done before anybody could have waited"
        process.kill()
    assert slowest < WITHIN, f"another house waited for {slowest:.1f} s"
    return f"fairness: one sends {messages:,}, another house is answered within {slowest:.2f} s"


TRIALS = (full_disk, slow_calls, refusing_chat, fairness)
