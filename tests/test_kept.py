"""What is kept, for how long, and what is to be found of the rest: nothing."""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import inspect, select, text

from bot.house.talk import Letter
from bot.say import company
from bot.store import database
from bot.store.database import open_engine, sqlite_url
from bot.store.tables import OutboxLine
from bot.store.unit import Units
from tests.house.room import NOW, Room

BEGIN = "new batch: plum, red, 23 l in bucket 2, 14 day kit"
CHATTER = "zanzibar grandmother at the station, number {}"
MARK = "zanzibar"
LONG_AGO = timedelta(days=91)


@pytest.fixture
def room(url: str) -> Iterator[Room]:
    room = Room(Units(open_engine(url)))
    yield room
    room.units.close()


def rows(room: Room, query: str, **values: Any) -> list[tuple[Any, ...]]:
    with room.units.read() as unit:
        return [tuple(row) for row in unit.log.connection.execute(text(query), values)]


def everything(room: Room) -> str:
    """All that is in the database, as text."""
    names = inspect(room.units.engine).get_table_names()
    return "\n".join(repr(rows(room, f"SELECT * FROM {name}")) for name in names)


def message_of(room: Room, letter: Letter) -> int:
    return room.message_of[letter.letter_id]


def answer_to(room: Room, said: str, **more: Any) -> Letter:
    """The bot's answer, apart from what it reminds of meanwhile."""
    (letter,) = [letter for letter in room.say(said, **more) if not letter.reminder]
    return letter


def later(room: Room, much: timedelta) -> None:
    """Time passes, and the bot wakes for all that falls due meanwhile."""
    until = room.now + much
    while (following := room.desk.wake(room.now)) is not None and following <= until:
        room.now = max(following, room.now)
        room.deliver()
    room.now = until
    room.desk.wake(room.now)
    room.deliver()


# what came in


def test_of_what_was_handled_only_the_number_stays(room: Room) -> None:
    room.say(BEGIN)
    updates = {}
    for number in range(40):
        incoming = room.incoming(CHATTER.format(number) if number % 4 else "sg 1.080 plum")
        updates[incoming.update_id] = incoming
    for first in range(0, 40, 10):
        some = list(updates)[first : first + 10]
        room.desk.take_in(
            [(n, f'{{"text": "{updates[n].text}"}}') for n in some], NOW, dict.fromkeys(some, -5)
        )
        room.desk.claim(32, NOW)
        for number in some:
            room.desk.handle(updates[number], NOW)
    assert room.desk.waiting() == []
    assert rows(room, "SELECT count(*) FROM inbox") == [(41,)]
    kept = rows(room, "SELECT raw, chat_id, holder, why FROM inbox")
    assert {row[1:] for row in kept} == {(None, None, None)}
    assert all(list(json.loads(row[0])) == ["sent_at"] for row in kept)
    assert MARK not in everything(room)


def test_what_was_set_aside_leaves_its_reason_and_no_word(room: Room) -> None:
    room.say(BEGIN)
    failing, spent = room.incoming(CHATTER.format(1)), room.incoming(CHATTER.format(2))
    for number in (failing.update_id, spent.update_id, 900):
        room.desk.take_in([(number, CHATTER.format(number))], NOW, {number: -5})
    for _ in range(3):
        room.desk.failed(failing.update_id, failing, ValueError(), "ValueError at x.py:1", timedelta(), NOW)
    room.desk.spent(spent, NOW)
    room.desk.set_aside(900, "not readable: KeyError", NOW)
    reasons = rows(room, "SELECT why FROM inbox WHERE why IS NOT NULL ORDER BY update_id")
    assert [why for (why,) in reasons] == [
        "failed 3 times: ValueError at x.py:1",
        "begun in several lives, finished in none",
        "not readable: KeyError",
    ]
    assert room.desk.waiting() == []
    assert MARK not in everything(room)


def test_what_comes_twice_is_refused_for_ever(room: Room) -> None:
    room.say(BEGIN)
    incoming = room.incoming("sg 1.080 plum")
    for _ in range(3):
        room.desk.take_in([(incoming.update_id, "{}")], room.now, {incoming.update_id: -5})
        room.desk.handle(incoming, room.now)
        later(room, timedelta(days=200))
        assert room.desk.waiting() == []
        assert len(room.acts()) == 2


@pytest.mark.parametrize("length", [1, 90, 700])
def test_chatter_is_nowhere_in_the_file(tmp_path: Path, length: int) -> None:
    """Not in what was freed either: a page, the rest of a page, the log beside the file."""
    path = tmp_path / "house.db"
    room = Room(Units(open_engine(sqlite_url(path))))
    room.say(BEGIN)
    number = 1_000
    for batch in range(12):
        said = {}
        for _ in range(1 + batch * 5 % 37):
            number += 1
            text = CHATTER.format(number) * (1 + number * 7 % length)
            said[number] = room.incoming("sg 1.080 plum" if number % 9 == 0 else text, update_id=number)
        raw = [(n, f"{n} {incoming.text or ''}{MARK}") for n, incoming in said.items()]
        room.desk.take_in(raw, NOW, dict.fromkeys(said, -5))
        while claimed := room.desk.claim(8, NOW)[0]:
            for update in claimed:
                room.desk.handle(said[update.update_id], NOW)
    room.deliver()
    room.now += timedelta(days=1)
    room.desk.wake(room.now)
    beside = [item.read_bytes() for item in tmp_path.iterdir() if item.name.startswith(path.name)]
    assert len(beside) == 3, "the file, its log and its index"
    assert not any(MARK.encode() in content for content in beside)
    room.say("sg 1.070 plum")
    room.units.close()
    assert [item.name for item in tmp_path.iterdir()] == [path.name]
    assert MARK.encode() not in path.read_bytes()


# what goes out


def test_a_letter_goes_after_ninety_days(room: Room) -> None:
    room.say(BEGIN)
    (answer,) = room.say("how strong is the plum?")
    room.now += timedelta(days=89)
    room.desk.wake(room.now)
    assert (answer.letter_id,) in rows(room, "SELECT id FROM outbox")
    room.say("sg 1.080 plum")
    room.now += timedelta(days=2)
    room.desk.wake(room.now)
    before = room.now - timedelta(days=90)
    assert (answer.letter_id,) not in rows(room, "SELECT id FROM outbox")
    assert len(rows(room, "SELECT id FROM outbox")) >= 1, "what was said since"
    assert all(row.created_at >= before for row in _letters(room) if not row.is_reminder)


def _letters(room: Room) -> list[Any]:
    with room.units.read() as unit:
        return list(unit.log.connection.execute(select(OutboxLine.created_at, OutboxLine.is_reminder)))


def test_what_waits_to_be_sent_waits_as_long_as_it_takes(room: Room) -> None:
    room.say(BEGIN)
    room.desk.handle(room.incoming("sg 1.080 plum"), room.now)
    (waiting,) = room.desk.unsent(room.now)
    room.desk.handle(room.incoming("sg 1.070 plum"), room.now)
    room.now += 3 * LONG_AGO
    room.desk.wake(room.now)
    assert waiting.letter_id in {letter.letter_id for letter in room.desk.unsent(room.now)}


def test_a_button_from_too_long_ago_says_so_and_does_nothing(room: Room) -> None:
    (answer,) = room.say(BEGIN)
    room.now += LONG_AGO
    room.say("/house")
    room.desk.wake(room.now)
    room.press(answer, "Undo")
    assert room.answer == company.TOO_OLD
    assert len(room.acts()) == 1
    fresh = answer_to(room, "sg 1.080 plum")
    assert fresh.letter_id > answer.letter_id, "no number is given twice"
    room.press(fresh, "Undo")
    assert len(room.acts()) == 3


def test_a_number_never_means_another_letter(room: Room) -> None:
    """Also where all that was said has had its time."""
    letters = [room.say(BEGIN)[0], room.say("sg 1.080 plum")[0]]
    later(room, 2 * LONG_AGO)
    fresh = answer_to(room, "sg 1.070 plum")
    assert fresh.letter_id > max(letter.letter_id for letter in letters)
    # A button counts under the message that carries it, and under no other.
    (undo,) = [button.data for button in fresh.buttons if button.label == "Undo"]
    room.say(press=undo, message_id=message_of(room, letters[0]))
    assert room.answer in (company.GONE, company.TOO_OLD)
    assert len(room.acts()) == 3


@pytest.mark.parametrize("said", ["undo", "no make that 1.075"])
def test_a_reply_to_a_letter_from_too_long_ago_corrects_nothing_else(room: Room, said: str) -> None:
    room.say(BEGIN)
    (answer,) = room.say("sg 1.080 plum")
    room.now += LONG_AGO
    room.say("sg 1.010 plum")
    room.desk.wake(room.now)
    before = room.acts()
    told = answer_to(room, said, reply_to=message_of(room, answer))
    assert told.html == company.TOO_LONG_AGO
    assert room.acts() == before
    room.say("undo")
    assert len(room.acts()) == len(before) + 1, "what was just said can be struck out"


def test_a_letter_that_reminds_of_what_is_open_stays_and_can_be_answered(room: Room) -> None:
    for said in (BEGIN, "sg 1.080 plum", "pitched the plum"):
        room.say(said)
    later(room, timedelta(days=10))
    open_letters = (
        "SELECT DISTINCT outbox_id FROM reminders WHERE state IN ('said', 'moved') AND outbox_id IS NOT NULL"
    )
    reminded = set(rows(room, open_letters))
    assert reminded
    later(room, timedelta(days=150))
    still = set(rows(room, open_letters))
    assert still
    assert still <= set(rows(room, "SELECT id FROM outbox"))
    room.say("threw the plum out")
    room.say("yes")
    later(room, LONG_AGO)
    room.say("/house")
    later(room, timedelta(days=1))
    assert not still & set(rows(room, "SELECT id FROM outbox")), "it is over, and so is the letter's time"
    assert rows(room, "SELECT told, mark FROM reminders WHERE outbox_id IS NULL AND told IS NOT NULL") == []


def test_what_was_said_once_is_not_said_again_when_its_letter_is_gone(room: Room) -> None:
    for said in (BEGIN, "sg 1.080 plum", "pitched the plum"):
        room.say(said)
    later(room, timedelta(days=3))
    room.say("sg 1.040 plum")
    query = "SELECT id, batch, step, due, said_at FROM reminders WHERE said_at IS NOT NULL"
    told = set(rows(room, query))
    later(room, 2 * LONG_AGO)
    assert told <= set(rows(room, query))
    assert rows(room, "SELECT id FROM reminders WHERE said_at IS NOT NULL AND outbox_id IS NULL")


def test_what_was_said_at_the_door_goes_after_a_day(room: Room) -> None:
    for chat in (-5, -6):
        room.say(BEGIN, chat_id=chat, chat_title=f"house {chat}")
    private = {"chat_id": 1, "private": True}
    (which,) = room.say(f"note plum: {MARK}", **private)
    assert MARK in everything(room)
    room.now += timedelta(days=1, minutes=1)
    room.say("sg 1.080 plum")
    room.desk.wake(room.now)
    room.deliver()
    assert MARK not in everything(room)
    assert (which.letter_id,) not in rows(room, "SELECT id FROM outbox")
    (again,) = room.press(which, which.buttons[0].label)
    assert again.html == company.WHICH
    room.press(again, again.buttons[0].label)
    assert room.text("sg 1.070 plum", **private).startswith("✓")


# the rest


def test_questions_invitations_and_files_go_when_they_are_over(room: Room) -> None:
    for said in (
        BEGIN,
        "calendar",
        "/invite",
        "put 40 campden tablets in the plum",
        "no",
        "put 50 campden tablets in the plum",
    ):
        room.say(said)
    assert len(rows(room, "SELECT id FROM asked")) == 2
    assert len(rows(room, "SELECT outbox_id FROM attachments")) == 1
    dates = rows(room, "SELECT uid FROM calendar")
    assert dates
    room.now += timedelta(days=4)
    room.desk.wake(room.now)
    assert len(rows(room, "SELECT id FROM asked")) == 1, "the newest, from which is counted on"
    assert rows(room, "SELECT code FROM invites") == []
    assert rows(room, "SELECT outbox_id FROM attachments") == []
    assert rows(room, "SELECT uid FROM calendar") == dates
    room.now += timedelta(days=500)
    room.desk.wake(room.now)
    assert rows(room, "SELECT uid FROM calendar") == []
    room.say("put 40 campden tablets in the plum")
    assert max(rows(room, "SELECT id FROM asked")) == (3,)


def test_one_run_does_only_so_much(room: Room) -> None:
    for number in range(9):
        room.say(f"sg 1.0{80 - number} plum" if number else BEGIN)
    room.now += LONG_AGO
    left = []
    for _ in range(5):
        with room.units.begin() as unit:
            done = unit.retention.tidy(room.now, most=3)
        left.append((len(rows(room, "SELECT id FROM outbox")), done))
    assert left == [(6, False), (3, False), (1, True), (1, True), (1, True)]


def test_what_is_left_over_is_done_at_the_next_wake_and_then_not_for_a_day(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls: list[bool] = [False, True, True]
    monkeypatch.setattr("bot.store.queries.retention.Retention.tidy", lambda *given: calls.pop(0))
    for _ in range(4):
        room.desk.wake(room.now)
    assert calls == [True]
    room.now += timedelta(days=1)
    room.desk.wake(room.now)
    assert calls == []


def test_when_it_was_written_is_known(room: Room) -> None:
    room.say(BEGIN)
    room.say("put 40 campden tablets in the plum")
    asked = room.now
    room.now += timedelta(minutes=7)
    room.say("yes")
    with room.units.read() as unit:
        begun, read = unit.log.all_entries()
    assert (begun.entry.said_at, begun.written_at) == (asked, asked)
    assert (read.entry.said_at, read.written_at) == (asked, asked + timedelta(minutes=7))


# what stands there from before


def test_a_database_from_before_is_cleared(url: str, tmp_path: Path) -> None:
    room = Room(Units(open_engine(url)))
    room.say(BEGIN)
    room.say("sg 1.080 plum")
    room.desk.take_in([(900, "{}")], NOW, {900: -5})
    with room.units.begin() as unit:
        connection = unit.log.connection
        connection.execute(text("ALTER TABLE log DROP COLUMN written_at"))
        connection.execute(text("ALTER TABLE households DROP COLUMN chat"))
        connection.execute(text("ALTER TABLE chats DROP COLUMN let_go_to"))
        connection.execute(text("UPDATE alembic_version SET version_num = '0008'"))
        connection.execute(text("UPDATE inbox SET raw = :raw WHERE update_id < 900"), {"raw": CHATTER * 99})
        connection.execute(text("UPDATE log SET update_id = NULL WHERE id = 1"))
    room.units.close()
    room = Room(Units(open_engine(url)))
    assert MARK not in everything(room)
    assert room.desk.waiting() == [(900, "{}")]
    with room.units.read() as unit:
        assert [row.written_at for row in unit.log.all_entries()] == [NOW, NOW]
    room.units.close()
    if room.units.engine.dialect.name == "sqlite":
        assert MARK.encode() not in (tmp_path / "house.db").read_bytes()


# forgotten


def test_a_household_is_forgotten_with_all_that_it_had(room: Room) -> None:
    for chat in (-5, -6):
        for said in (BEGIN, "sg 1.080 plum", "put 40 campden tablets in the plum", "calendar", "/invite"):
            room.say(said, chat_id=chat, chat_title=f"house {chat}")
        room.say("hello", chat_id=-chat, private=True, sender_id=-chat, sender_name="stranger")
    room.desk.take_in([(900, "{}"), (901, "{}")], NOW, {900: -5, 901: -6})
    later(room, timedelta(days=3))
    with room.units.begin() as unit:
        (theirs,) = unit.households.named("HOUSE -6")
        (ours,) = unit.households.named("house -5")
        before = _of(room, ours.id)
        unit.retention.forget(theirs.id, room.now)
    assert _of(room, ours.id) == before
    assert all(not found for found in _of(room, theirs.id).values())
    assert "house -6" not in everything(room)
    assert room.desk.waiting() == [(900, "{}")]
    assert room.text("readings of the plum"), "the other one goes on"
    assert room.say(BEGIN, chat_id=-6), "and they may begin anew"


def _of(room: Room, household: int) -> dict[str, list[tuple[Any, ...]]]:
    names = ["members", "vessels", "log", "asked", "outbox", "reminders", "chats", "invites", "calendar"]
    return {name: rows(room, f"SELECT * FROM {name} WHERE household_id = {household}") for name in names}


def test_who_is_forgotten_leaves_nothing_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "house.db"
    room = Room(Units(open_engine(sqlite_url(path))))
    room.say(BEGIN, chat_title=MARK)
    for number in range(30):
        room.say("note plum: " + CHATTER.format(number) * (number + 1))
    with pytest.raises(database.StoreError, match="stop the bot"):
        database.must_be_alone(sqlite_url(path))
    room.units.close()
    database.must_be_alone(sqlite_url(path))
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT count(*) FROM log").fetchone() == (31,)
    units = Units(open_engine(sqlite_url(path)))
    with units.begin() as unit:
        (house,) = unit.households.named(MARK)
        unit.retention.forget(house.id, NOW)
    database.compact(units.engine)
    units.close()
    assert MARK.encode() not in path.read_bytes()
