"""A group becomes a supergroup, and the bot learns of it late: one household, one log, whatever came first."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
from sqlalchemy import text

from bot.cellar.log.acts import Begin, Gravity
from bot.house.talk import Letter
from bot.say.manner import plain
from bot.store.database import open_engine
from bot.store.unit import Units
from tests.house.room import Room
from tests.house.test_company import BEGIN, BO, BO_ALONE, names

NEW = {"chat_id": -1005}
PEAR = "new batch: pear, white, 10 l in bucket 1, 7 day kit"


@pytest.fixture
def room(url: str) -> Iterator[Room]:
    units = Units(open_engine(url))
    yield Room(units)
    units.close()


def rows(room: Room, table: str) -> dict[int, int]:
    """How many rows of a table each household has."""
    with room.units.read() as unit:
        found = unit.people.connection.execute(
            text(f"SELECT household_id, count(*) AS rows FROM {table} GROUP BY household_id")
        )
        return {row.household_id: row.rows for row in found}


TABLES = ("log", "members", "vessels", "asked", "outbox", "reminders", "chats", "calendar")


def both_written(room: Room) -> None:
    """The same group, in which something of every kind was written under each id."""
    room.say(BEGIN)
    room.say("sg 1.080 plum", **BO)
    room.say("sanitised bucket 3")
    room.say("calendar")
    room.say(BEGIN.replace("plum", "sloe").replace("bucket 2", "bucket 3"))
    room.say("racked it")
    room.say(PEAR, **NEW)
    room.say("sanitised bucket 3", **NEW)
    room.say("calendar", **NEW)
    room.say("sg 1.070 pear", sender_id=3, sender_name="cy", **NEW)
    room.say("/vessel barrel 50 l", **NEW)
    room.say(BEGIN.replace("plum", "elder").replace("bucket 2", "bucket 3"), **NEW)
    room.say("racked it", **NEW)


def learn(room: Room, how: str) -> None:
    if how == "told":
        room.say(moved_to=-1005)
    else:
        room.desk.moved(-5, -1005, room.now)
        room.deliver()


@pytest.mark.parametrize("how", ["told", "refused"])
def test_a_move_learnt_late_joins_what_was_written_under_both_ids(room: Room, how: str) -> None:
    both_written(room)
    before = {table: rows(room, table) for table in TABLES}
    assert all(len(of) == 2 for of in before.values()), before
    written = len(room.acts())
    learn(room, how)
    after = {table: rows(room, table) for table in TABLES}
    assert all(of.keys() == {1} for of in after.values()), after
    assert after["log"] == {1: written}
    assert after["members"] == {1: 3}, "who is in both is one member"
    assert len(room.acts()) == written
    overview = room.text("overview", **NEW)
    assert all(name in overview for name in ("plum", "sloe", "pear", "elder"))
    assert names(room).strip(".").split(", ") == ["ana", "bo", "cy"]
    assert "1.080" in room.text("readings of the plum", **NEW)
    assert "1.070" in room.text("readings of the pear", **NEW)
    assert "barrel" in room.text("/house", **NEW)
    assert "Only ana" in room.text("/remove cy", **BO, **NEW), "the first one still owns it"


@pytest.mark.parametrize("how", ["told", "refused"])
def test_told_again_it_changes_nothing(room: Room, how: str) -> None:
    both_written(room)
    learn(room, how)
    after = {table: rows(room, table) for table in TABLES}
    for again in ("told", "refused", "told"):
        learn(room, again)
    assert {table: rows(room, table) for table in TABLES} == after


def test_a_reading_under_the_new_id_is_of_the_batch_that_the_house_has(room: Room) -> None:
    room.say(BEGIN)
    room.say("sg 1.080 plum")
    room.say("pitched the plum")
    room.now += timedelta(days=2)
    room.say("sg 1.040 bucket 2", **NEW)  # nobody there knows what is in it
    learn(room, "told")
    assert "1.040" in room.text("readings of the plum", **NEW)
    assert room.acts()[-1] == Gravity(sg=1.04, of="bucket 2")


def test_what_is_due_is_said_once_and_in_the_chat_that_is_left(room: Room) -> None:
    both_written(room)
    learn(room, "told")
    said: list[Letter] = []
    for _ in range(30):
        following = room.desk.wake(room.now)
        if following is None:
            break
        said += room.deliver()
        room.now = max(room.now, following)
    reminders = [letter for letter in said if letter.reminder]
    assert {letter.chat_id for letter in reminders if letter.edits is None} == {-1005}
    fresh = [plain(letter.html) for letter in reminders if letter.edits is None and letter.buttons]
    assert fresh
    assert len(set(fresh)) == len(fresh)


def test_what_was_on_its_way_goes_to_the_new_chat(room: Room) -> None:
    room.say(BEGIN)
    room.desk.handle(room.incoming("sg 1.080 plum"), room.now)
    room.desk.handle(room.incoming(PEAR, **NEW), room.now)
    room.desk.moved(-5, -1005, room.now)
    waiting = room.desk.unsent(room.now)
    assert len(waiting) == 2
    assert {letter.chat_id for letter in waiting} == {-1005}


def test_what_was_said_before_the_move_and_comes_after_it_is_the_same_houses(room: Room) -> None:
    """The first sign is a refused letter, while messages from the old chat still wait to be handled."""
    room.say(BEGIN)
    room.desk.moved(-5, -1005, room.now)
    room.say("sg 1.080 plum")
    assert rows(room, "log") == {1: 2}
    learn(room, "told")
    assert "1.080" in room.text("readings of the plum", **NEW)
    assert len(rows(room, "members")) == 1


def test_the_older_household_stays_whichever_chat_it_has(room: Room) -> None:
    room.say(PEAR, **NEW)
    room.say(BEGIN)  # written before the move, handled after it
    room.say(moved_to=-1005)
    assert rows(room, "log") == {1: 2}
    overview = room.text("overview", **NEW)
    assert "plum" in overview
    assert "pear" in overview


def test_who_was_removed_stays_out(room: Room) -> None:
    room.say(BEGIN)
    room.say("hello", **BO)
    room.say("/remove bo")
    room.say(PEAR, **BO, **NEW)
    room.say(moved_to=-1005)
    before = room.acts()
    assert room.say("sg 1.060 pear", **BO, **NEW) == []
    assert room.acts() == before
    assert "pear" in room.text("overview", **NEW)


def test_a_button_that_meant_the_younger_household_means_the_one_that_is_left(room: Room) -> None:
    room.say(BEGIN)
    room.say("hello", **BO)
    room.say(PEAR, **NEW)
    room.say("hello", **BO, **NEW)
    (which,) = room.say("sg 1.050 plum", **BO_ALONE)
    room.say(moved_to=-1005)
    data = which.buttons[0].data, which.buttons[1].data
    letters = room.say(press=data[0], message_id=room.message_of[which.letter_id], **BO_ALONE)
    assert any("1.050" in letter.html for letter in letters)
    assert "pear" in room.text("overview", **BO_ALONE)


def test_another_process_sees_what_came_with_the_other_household(url: str) -> None:
    first, second = Room(Units(open_engine(url))), Room(Units(open_engine(url)))
    second.number = 10_000
    first.say(BEGIN)
    first.say(PEAR, **NEW)
    first.say("sg 1.080 plum")
    assert "plum" in second.text("overview"), "it remembers this log from now on"
    first.say(moved_to=-1005)
    overview = second.text("overview", **NEW)
    assert "plum" in overview
    assert "pear" in overview
    second.say("sg 1.060 pear", **NEW)
    assert [type(act) for act in first.acts()].count(Begin) == 2
    for room in (first, second):
        room.units.close()
