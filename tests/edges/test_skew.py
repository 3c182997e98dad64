"""A clock that disagrees with the platform's is said once when it begins and once when it ends."""

from datetime import UTC, datetime, timedelta
from email.utils import format_datetime

import pytest

from bot.edges.telegram.skew import Skew
from tests.edges.bench import Bench, wait_until

NOW = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)


def lines(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [record.getMessage() for record in caplog.records if "clock" in record.getMessage()]


@pytest.mark.parametrize(("minutes", "says"), [(3, "3 min ahead of"), (-3, "3 min behind"), (600, "600 min")])
def test_it_begins_and_ends_once(caplog: pytest.LogCaptureFixture, minutes: int, says: str) -> None:
    caplog.set_level("INFO")
    ours = NOW
    skew = Skew(lambda: ours)
    skew.answered(format_datetime(NOW - timedelta(minutes=1), usegmt=True))
    assert (skew.line, lines(caplog)) == ("", [])
    for second in range(5):
        ours = NOW + timedelta(minutes=minutes, seconds=second)
        skew.answered(format_datetime(NOW + timedelta(seconds=second), usegmt=True))
    assert says in skew.line
    (begun,) = lines(caplog)
    assert says in begun
    ours = NOW
    skew.answered(format_datetime(NOW + timedelta(seconds=9), usegmt=True))
    skew.answered(format_datetime(NOW + timedelta(seconds=10), usegmt=True))
    assert skew.line == ""
    assert len(lines(caplog)) == 2
    assert "agrees" in lines(caplog)[1]


def test_a_message_from_the_future_says_it_and_one_that_waited_does_not(
    caplog: pytest.LogCaptureFixture,
) -> None:
    skew = Skew(lambda: NOW)
    skew.written(NOW - timedelta(days=3))
    assert skew.line == ""
    skew.written(NOW + timedelta(minutes=5))
    assert "5 min behind" in skew.line
    skew.written(NOW - timedelta(days=3))
    assert "5 min behind" in skew.line, "one that waited says nothing of now"
    skew.written(NOW)
    assert skew.line == ""
    assert len(lines(caplog)) >= 1


@pytest.mark.parametrize("date", ["", "yesterday", "Wed, 99 Mar 2026 00:00:00 GMT"])
def test_a_date_that_is_none_says_nothing(date: str) -> None:
    skew = Skew(lambda: NOW)
    skew.answered(date)
    assert skew.line == ""


def test_log_and_health_say_so(bench: Bench, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level("INFO")
    bench.world.dates_off = timedelta(minutes=30)
    bench.start()
    wait_until(lambda: lines(caplog), "said")
    well, line = bench.call(bench.edge._health.report())
    assert well
    assert "30 min behind" in line
    bench.world.dates_off = timedelta()
    bench.world.say("ana", "hello", bench.world.group())
    wait_until(lambda: len(lines(caplog)) == 2, "and when it is over")
    well, line = bench.call(bench.edge._health.report())
    assert "clock" not in line
