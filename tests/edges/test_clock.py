"""The alarm: one moment, rung once, on a pretend clock."""

import asyncio
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from bot.edges import clock
from bot.edges.clock import Alarm

START = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)


class Rings:
    """Counts the rings; says what is due next, or fails."""

    def __init__(self, *following: datetime | Exception | None) -> None:
        self.now = START
        self.following = list(following)
        self.times: list[datetime] = []
        self.inside = 0
        self.overlapped = False
        self.gate: asyncio.Event | None = None

    def clock(self) -> datetime:
        return self.now

    async def ring(self) -> datetime | None:
        self.inside += 1
        self.overlapped |= self.inside > 1
        self.times.append(self.now)
        if self.gate is not None:
            await self.gate.wait()
        self.inside -= 1
        next_one = self.following.pop(0) if self.following else None
        if isinstance(next_one, Exception):
            raise next_one
        return next_one


async def until(condition: Callable[[], bool], seconds: float = 10.0) -> None:
    async with asyncio.timeout(seconds):
        while not condition():
            await asyncio.sleep(0.002)


def jobs(alarm: Alarm) -> int:
    return len(alarm._scheduler.get_jobs())


def test_now_is_aware_and_in_utc() -> None:
    assert clock.now().utcoffset() == timedelta(0)


def test_a_moment_that_has_passed_rings_at_once_and_once() -> None:
    async def main() -> None:
        rings = Rings()
        alarm = Alarm(rings.ring, rings.clock)
        alarm.start()
        alarm.set(START - timedelta(days=3))
        await until(lambda: len(rings.times) == 1)
        await until(lambda: jobs(alarm) == 0)
        alarm.stop()

    asyncio.run(main())


def test_a_moment_set_before_the_start_counts() -> None:
    async def main() -> None:
        rings = Rings()
        alarm = Alarm(rings.ring, rings.clock)
        alarm.set(START)
        alarm.start()
        await until(lambda: len(rings.times) == 1)
        alarm.stop()

    asyncio.run(main())


def test_each_ring_sets_the_next_one() -> None:
    async def main() -> None:
        rings = Rings(START, START, None)
        alarm = Alarm(rings.ring, rings.clock)
        alarm.start()
        alarm.set(START)
        await until(lambda: len(rings.times) == 3)
        await until(lambda: jobs(alarm) == 0)
        alarm.stop()

    asyncio.run(main())


def test_it_does_not_ring_before_the_moment_and_keeps_one_job(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "LONGEST_SLEEP", timedelta(milliseconds=5))

    async def main() -> None:
        rings = Rings()
        looks = 0

        def look() -> datetime:
            nonlocal looks
            looks += 1
            return rings.now

        alarm = Alarm(rings.ring, look)
        alarm.start()
        for days in (30, 2, 9):
            alarm.set(START + timedelta(days=days))
        assert jobs(alarm) == 1
        await until(lambda: looks > 12)  # it looks at the clock again and again, without ringing
        assert rings.times == []
        rings.now = START + timedelta(days=8)
        seen = looks
        await until(lambda: looks > seen + 4)
        assert rings.times == []
        rings.now = START + timedelta(days=9)  # as after a machine's sleep, or when its clock is set
        await until(lambda: len(rings.times) == 1)
        alarm.stop()

    asyncio.run(main())


def test_a_job_that_comes_late_rings_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    real = clock.now
    monkeypatch.setattr(clock, "now", lambda: real() - timedelta(hours=5))  # as after a blocked loop

    async def main() -> None:
        rings = Rings()
        alarm = Alarm(rings.ring, rings.clock)
        alarm.start()
        alarm.set(START)
        await until(lambda: len(rings.times) == 1)
        alarm.stop()

    asyncio.run(main())


def test_none_silences_it() -> None:
    async def main() -> None:
        rings = Rings()
        alarm = Alarm(rings.ring, rings.clock)
        alarm.start()
        alarm.set(START + timedelta(hours=1))
        alarm.set(None)
        assert jobs(alarm) == 0
        alarm.stop()

    asyncio.run(main())


def test_a_ring_that_fails_is_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "AFTER_TROUBLE", timedelta())

    async def main() -> None:
        rings = Rings(OSError("disk full"), OSError("disk full"), None)
        alarm = Alarm(rings.ring, rings.clock)
        alarm.start()
        alarm.set(START)
        await until(lambda: len(rings.times) == 3)
        alarm.stop()

    asyncio.run(main())


def test_a_moment_set_during_a_ring_is_not_forgotten_and_rings_do_not_overlap() -> None:
    async def main() -> None:
        rings = Rings(None, None)
        rings.gate = asyncio.Event()
        alarm = Alarm(rings.ring, rings.clock)
        alarm.start()
        alarm.set(START)
        await until(lambda: len(rings.times) == 1)
        for _ in range(5):
            alarm.set(START)  # something was handled meanwhile
        await until(lambda: jobs(alarm) == 0)  # its job has begun while the first ring goes on
        rings.gate.set()
        await until(lambda: len(rings.times) == 2)
        assert not rings.overlapped
        await until(lambda: jobs(alarm) == 0)
        alarm.stop()

    asyncio.run(main())


def test_stopping_twice_or_before_the_start_does_no_harm() -> None:
    async def main() -> None:
        alarm = Alarm(Rings().ring, lambda: START)
        alarm.stop()
        alarm.start()
        alarm.stop()
        await asyncio.sleep(0)
        alarm.stop()

    asyncio.run(main())
