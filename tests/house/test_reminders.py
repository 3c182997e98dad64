"""Reminders: derived, said once, at a decent hour, whatever happens in between."""

from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.cellar.log.acts import Step
from bot.house.hours import Hours
from bot.say.manner import plain
from bot.store.database import open_engine, sqlite_url
from bot.store.unit import Units
from tests.house.room import Room

START = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)

JANUARY = datetime(2026, 1, 1, tzinfo=UTC)

ZONES = st.sampled_from(
    ["Europe/Berlin", "America/New_York", "Australia/Sydney", "Asia/Kolkata", "America/Santiago"]
)


@given(st.integers(0, 365 * 24 * 60).map(lambda minutes: JANUARY + timedelta(minutes=minutes)), ZONES)
def test_a_decent_hour_is_never_quiet_and_never_far(moment: datetime, zone_name: str) -> None:
    zone = ZoneInfo(zone_name)
    hours = Hours(zone=zone)
    found = hours.decent(moment)
    assert not hours.quiet(found)
    assert timedelta(0) <= found - moment <= timedelta(hours=11, minutes=30)
    if not hours.quiet(moment):
        assert found == moment


@pytest.mark.parametrize(
    ("zone_name", "moment", "expected"),
    [
        # The night the clocks go forward and the night they go back: eight o'clock is eight o'clock.
        ("Europe/London", datetime(2026, 3, 28, 23, 0, tzinfo=UTC), datetime(2026, 3, 29, 7, 0, tzinfo=UTC)),
        (
            "Europe/London",
            datetime(2026, 10, 24, 22, 0, tzinfo=UTC),
            datetime(2026, 10, 25, 8, 0, tzinfo=UTC),
        ),
        ("America/New_York", datetime(2026, 3, 8, 5, 0, tzinfo=UTC), datetime(2026, 3, 8, 12, 0, tzinfo=UTC)),
        (
            "Australia/Sydney",
            datetime(2026, 10, 3, 13, 0, tzinfo=UTC),
            datetime(2026, 10, 3, 21, 0, tzinfo=UTC),
        ),
    ],
)
def test_over_clock_changes(zone_name: str, moment: datetime, expected: datetime) -> None:
    assert Hours(zone=ZoneInfo(zone_name)).decent(moment) == expected


@pytest.mark.parametrize(
    ("zone_name", "night"),
    [
        ("Europe/London", datetime(2026, 3, 28, 12, tzinfo=UTC)),
        ("Europe/London", datetime(2026, 10, 24, 12, tzinfo=UTC)),
        ("America/New_York", datetime(2026, 3, 7, 12, tzinfo=UTC)),
        ("America/New_York", datetime(2026, 10, 31, 12, tzinfo=UTC)),
        ("Australia/Sydney", datetime(2026, 10, 3, 2, tzinfo=UTC)),
        ("Australia/Sydney", datetime(2026, 4, 4, 2, tzinfo=UTC)),
    ],
)
@pytest.mark.parametrize("until", [time(8, 0), time(2, 30), time(1, 30)])
def test_the_nights_when_the_clocks_change(zone_name: str, night: datetime, until: time) -> None:
    zone = ZoneInfo(zone_name)
    hours = Hours(zone=zone, quiet_until=until)
    for minutes in range(0, 24 * 60, 10):
        moment = night + timedelta(minutes=minutes)
        found = hours.decent(moment)
        assert found >= moment
        assert not hours.quiet(found)
        assert found - moment <= timedelta(hours=12)


@given(
    st.integers(0, 365 * 24 * 60).map(lambda minutes: JANUARY + timedelta(minutes=minutes)),
    ZONES,
    st.times(),
    st.times(),
    st.one_of(st.none(), st.times()),
    st.booleans(),
)
def test_any_hours_that_a_household_sets_are_kept(
    moment: datetime, zone_name: str, begins: time, ends: time, asks_at: time | None, digest: bool
) -> None:
    begins, ends = (clock.replace(second=0, microsecond=0) for clock in (begins, ends))
    asks_at = asks_at.replace(second=0, microsecond=0) if asks_at else None
    zone = ZoneInfo(zone_name)
    hours = Hours(zone=zone, quiet_from=begins, quiet_until=ends, asks_at=asks_at, digest=digest)
    found = hours.asking(moment, moment)
    assert found >= moment
    assert not hours.quiet(found)
    assert found - moment <= timedelta(hours=49)


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    units = Units(open_engine(sqlite_url(tmp_path / "house.db")))
    room = Room(units)
    room.now = START
    yield room
    units.close()


def rung(room: Room, **later: float) -> list[str]:
    """What the clock says when it is moved on in one go, as after a time switched off."""
    room.now += timedelta(**later)
    room.desk.wake(room.now)
    return [plain(letter.html).splitlines()[0] for letter in room.deliver() if letter.edits is None]


def begin(room: Room) -> None:
    for text in (
        "new batch: heron, red, 23 l in bucket 2, 14 day kit",
        "sg 1.080 bucket 2",
        "pitched the heron",
    ):
        room.say(text)


def test_wake_says_when_to_wake_next(room: Room) -> None:
    assert room.desk.wake(room.now) is None
    begin(room)
    assert room.desk.wake(room.now) == START + timedelta(hours=48)


def test_it_is_said_once(room: Room) -> None:
    begin(room)
    assert len(rung(room, hours=48)) == 1
    assert rung(room, minutes=1) == []
    (watched,) = rung(room, days=3)
    assert "nobody has read it since" in watched
    (errand,) = rung(room, days=30)
    assert "bottles and corks" in errand
    assert rung(room, days=300) == []


def test_nothing_is_said_in_quiet_hours(room: Room) -> None:
    room.now = START.replace(hour=22)
    begin(room)
    assert rung(room, hours=48) == []
    assert len(rung(room, hours=10)) == 1


def test_a_timer_rings_in_quiet_hours_too(room: Room) -> None:
    room.now = START.replace(hour=23)
    room.say("sanitised bucket 2")
    assert rung(room, minutes=9) == []
    assert rung(room, minutes=1) == [
        "10 minutes are up: the sanitiser has had its contact time. Drain it; rinse only if its pack says so."
    ]


def test_a_timer_that_ran_out_long_ago_is_not_said(room: Room) -> None:
    room.say("sanitised bucket 2")
    assert rung(room, days=3) == []


def test_a_timer_for_something_done_earlier_is_not_set(room: Room) -> None:
    room.say("sanitised bucket 2 two hours ago")
    assert rung(room, minutes=15) == []


def test_what_was_missed_while_off_is_said_once_with_when_it_was_due(room: Room) -> None:
    begin(room)
    (said,) = rung(room, days=5)
    assert "it was due" in said
    assert rung(room, minutes=1) == []


def test_back_from_being_off_it_is_one_summary_without_what_is_over(room: Room) -> None:
    begin(room)
    room.say("new batch: wren, white, 23 l in bucket 1, 14 day kit")
    room.say("sanitised bucket 1")
    room.now += timedelta(days=5, hours=-4)
    room.desk.wake(room.now)
    (letter,) = room.deliver()
    lines = plain(letter.html).splitlines()
    assert lines[0] == "I was off for a while. What still makes sense:"
    assert [line.partition(":")[0] for line in lines[1:]] == ["wren", "heron"]
    assert "minutes are up" not in letter.html
    assert rung(room, minutes=1) == []


def test_a_timer_that_ran_out_while_off_is_said_only_while_its_step_is_open(room: Room) -> None:
    room.say("new batch: wren, white, 23 l in bucket 1, 14 day kit")
    room.say("sanitised bucket 1")
    (said,) = rung(room, hours=1)
    assert "minutes are up" in said
    room.say("sanitised bucket 1")
    room.now += timedelta(minutes=5)
    room.say("mixed the wren")
    assert rung(room, hours=1) == []


def test_back_from_being_off_in_the_night_it_waits_for_the_morning(room: Room) -> None:
    begin(room)
    assert rung(room, days=4, hours=9) == []  # three at night
    assert room.desk.wake(room.now) == room.now.replace(hour=8)
    assert len(rung(room, hours=5)) == 1


def test_a_household_that_moves_time_zone_keeps_decent_hours(room: Room) -> None:
    room.now = START.replace(hour=20)
    begin(room)
    room.say("/zone Asia/Kolkata")  # 20:00 in London is half past one in the night there
    assert room.desk.wake(room.now) == (START + timedelta(days=3)).replace(hour=2, minute=30)


def test_a_later_for_a_reading_that_has_been_read_is_void(room: Room) -> None:
    begin(room)
    room.now += timedelta(hours=48)
    room.desk.wake(room.now)
    (letter,) = room.deliver()
    room.press(letter, "Later")
    room.say("sg 1.060 bucket 2")
    assert rung(room, hours=5) == []


def test_undo_withdraws_what_it_caused_and_putting_back_brings_it_again(room: Room) -> None:
    begin(room)
    (struck,) = room.say("undo")
    assert room.desk.wake(room.now) == START + timedelta(hours=24)  # the yeast is to be pitched
    room.press(struck, "Put it back")
    assert room.desk.wake(room.now) == START + timedelta(hours=48)


def test_a_new_reading_moves_the_next(room: Room) -> None:
    begin(room)
    room.now += timedelta(hours=40)
    room.say("sg 1.060 bucket 2")
    assert rung(room, hours=8) == []
    assert rung(room, days=2) == []
    assert len(rung(room, days=1)) == 1


def test_done_on_a_chore_writes_the_step(room: Room) -> None:
    room.say("new batch: heron, red, 23 l in bucket 2, 14 day kit")
    room.say("hello", sender_id=2, sender_name="bo")
    room.now += timedelta(hours=24)
    room.desk.wake(room.now)
    (letter,) = room.deliver()
    assert [button.label for button in letter.buttons] == ["Done", "Later", "I'll do it"]
    (answer,) = room.press(letter, "Done", sender_id=2, sender_name="bo")
    assert answer.edits is not None
    assert "Done, bo" in answer.html
    with room.units.read() as unit:
        entry = list(unit.log.all_entries())[-1].entry
    assert (entry.by, entry.act) == ("bo", Step(step="sanitise", of="heron"))
    assert room.press(letter, "Done") == []  # a second press finds it answered


def test_done_on_a_reading_asks_for_the_number(room: Room) -> None:
    begin(room)
    room.now += timedelta(hours=48)
    room.desk.wake(room.now)
    (letter,) = room.deliver()
    (answer,) = room.press(letter, "Done")
    assert "What does it read?" in answer.html
    assert "SG 1.040" in room.text("1.040", reply_to=answer.edits)


def test_later_puts_it_off_to_a_decent_hour(room: Room) -> None:
    room.now = START.replace(hour=20)
    begin(room)
    room.now += timedelta(hours=48)
    room.desk.wake(room.now)
    (letter,) = room.deliver()
    (answer,) = room.press(letter, "Later")
    assert "Wed 4 Mar, 08:00" in answer.html
    assert rung(room, hours=11) == []
    assert len(rung(room, hours=1)) == 1


def test_ill_do_it_is_shown_to_all(room: Room) -> None:
    begin(room)
    room.say("hello", sender_id=2, sender_name="bo")
    room.now += timedelta(hours=48)
    room.desk.wake(room.now)
    (letter,) = room.deliver()
    (answer,) = room.press(letter, "I'll do it", sender_id=2, sender_name="bo")
    assert "bo will do it" in answer.html
    assert [button.label for button in answer.buttons] == ["Done", "Later", "Not me after all"]
    (free,) = room.press(answer, "Not me after all")
    assert "bo will do it" not in free.html
    assert [button.label for button in free.buttons] == ["Done", "Later", "I'll do it"]


def test_more_than_the_set_number_a_day_waits_for_the_next(room: Room) -> None:
    room.now = START.replace(hour=9)
    room.say("/most 1")
    begin(room)
    room.now += timedelta(hours=1)
    room.say("new batch: wren, white, 23 l in bucket 1, 14 day kit")
    room.say("sg 1.078 bucket 1")
    room.say("pitched the wren")
    (first,) = rung(room, hours=47)  # the wren's is due an hour later on the same day: both in one letter
    assert first == "Today:"
    room.say("new batch: crane, white, 23 l in bucket 3, 14 day kit", sent_at=room.now - timedelta(hours=22))
    assert rung(room, hours=2) == []  # the day has had its one message
    assert room.desk.wake(room.now) == (START + timedelta(days=3)).replace(hour=8)
    (following,) = rung(room, hours=21)
    assert "crane" in following


def test_a_changed_mind_before_the_letter_has_left_changes_the_letter(room: Room) -> None:
    begin(room)
    room.now += timedelta(hours=48)
    room.desk.wake(room.now)
    room.desk.handle(room.incoming("sg 1.050 bucket 2"), room.now)
    reply, reminder = room.deliver()
    assert "SG 1.050" in plain(reply.html)
    assert "✓ 1.050" in plain(reminder.html)
    assert reminder.edits is None
    assert reminder.buttons == ()
