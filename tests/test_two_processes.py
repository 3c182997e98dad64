"""Two processes on one database: one household is never worked for by both at once."""

import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import timedelta
from functools import partial
from pathlib import Path

import pytest
from alembic import command
from alembic.config import Config
from sqlalchemy import create_engine, func, select, text

from bot.cellar.log.acts import Gravity
from bot.cellar.log.due_key import ReadingKey
from bot.cellar.log.fold import Folded
from bot.house.desk import Desk
from bot.store import database
from bot.store.database import open_engine, sqlite_url
from bot.store.queries.logbook import Source
from bot.store.shelf import Shelf, Shelved
from bot.store.tables import OutboxLine, ReminderLine
from bot.store.unit import Units
from tests.house.room import NOW, Room

BEGIN = "new batch: plum, red, 23 l in bucket 2, 14 day kit"


@pytest.fixture
def rooms(url: str) -> Iterator[list[Room]]:
    """Two desks as two processes have them: nothing shared but the database."""
    rooms = [Room(Units(open_engine(url))) for _ in range(2)]
    rooms[0].say(BEGIN)
    rooms[0].say(BEGIN, chat_id=-6)
    rooms[1].number = 10_000
    yield rooms
    for room in rooms:
        room.units.close()


def all_at_once(*work: Callable[[], object]) -> None:
    failed: list[BaseException] = []
    together = threading.Barrier(len(work))

    def run(function: Callable[[], object]) -> None:
        together.wait()
        try:
            function()
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=run, args=[function]) for function in work]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert not failed, failed


def test_who_holds_a_household_keeps_the_other_out_of_it(postgres: str) -> None:
    first, second = (Room(Units(open_engine(postgres))) for _ in range(2))
    first.say(BEGIN)
    first.say(BEGIN, chat_id=-6)
    second.number = 10_000
    done: list[str] = []

    def other(name: str, chat_id: int) -> threading.Thread:
        incoming = second.incoming("sg 1.080 plum", chat_id=chat_id)
        desk = Desk(second.units, timezone="UTC")

        def work() -> None:
            desk.handle(incoming, NOW)
            done.append(name)

        thread = threading.Thread(target=work)
        thread.start()
        return thread

    with first.units.begin() as unit:
        chat = unit.households.chat(-5)
        assert chat is not None
        waits, goes = other("ours", -5), other("theirs", -6)
        goes.join(30)
        assert done == ["theirs"], "another household's work goes on"
        until = time.monotonic() + 30
        query = text("SELECT count(*) FROM pg_stat_activity WHERE wait_event_type = 'Lock'")
        while not unit.people.connection.execute(query).scalar_one():
            assert time.monotonic() < until, "the other one never came to the lock"
        assert done == ["theirs"]
    waits.join(30)
    assert done == ["theirs", "ours"]
    for room in (first, second):
        room.units.close()


def test_the_same_update_given_to_both_is_handled_once(rooms: list[Room]) -> None:
    first, second = rooms
    for number in range(20):
        incoming = first.incoming(f"{20 + number / 10:.1f}c in the plum")
        first.desk.take_in([(incoming.update_id, "{}")], NOW)
        before = len(first.acts())
        all_at_once(
            lambda incoming=incoming: first.desk.handle(incoming, NOW),
            lambda incoming=incoming: second.desk.handle(incoming, NOW),
        )
        assert len(first.acts()) == before + 1


def test_both_see_what_the_other_wrote(rooms: list[Room]) -> None:
    for number in range(6):
        room = rooms[number % 2]
        room.say(f"{20 + number / 10:.1f}c in the plum")
    with rooms[0].units.begin() as unit:
        chat = unit.households.chat(-5)
        assert chat is not None
        names = {member.id: member.name for member in unit.people.everybody(chat.household.id)}
        kept = unit.log.kept(chat.household.id, names)
        assert list(kept.entries) == unit.log.entries(chat.household.id)
        assert len(kept.view.batches[0].temperatures) == 6


def test_both_write_in_one_household_and_nothing_is_lost(rooms: list[Room]) -> None:
    def talk(room: Room, degrees: int) -> None:
        for number in range(25):
            incoming = room.incoming(f"{degrees + number / 10:.1f}c in the plum")
            room.desk.handle(incoming, NOW)

    all_at_once(lambda: talk(rooms[0], 15), lambda: talk(rooms[1], 20))
    with rooms[0].units.begin() as unit:
        chat = unit.households.chat(-5)
        assert chat is not None
        names = {member.id: member.name for member in unit.people.everybody(chat.household.id)}
        entries = unit.log.kept(chat.household.id, names).entries
        assert list(entries) == unit.log.entries(chat.household.id)
    assert len(entries) == 51


def test_both_ring_and_it_is_said_once(rooms: list[Room]) -> None:
    for number, room in enumerate(rooms):
        for chat_id in (-5, -6):
            room.say(f"sanitised bucket {3 - 2 * number}", chat_id=chat_id)
    later = NOW + timedelta(minutes=11)
    all_at_once(lambda: rooms[0].desk.wake(later), lambda: rooms[1].desk.wake(later))
    assert len(rooms[0].desk.unsent(later)) == 4


def test_many_ring_in_many_households_and_each_thing_is_said_once(url: str) -> None:
    rooms = [Room(Units(open_engine(url))) for _ in range(4)]
    chats = range(-30, -20)
    for chat_id in chats:
        for words in (BEGIN, "new batch: pear, white, 10 l in bucket 1, 7 day kit", "sg 1.080 plum"):
            rooms[0].say(words, chat_id=chat_id)
        rooms[0].say("pitched the plum", chat_id=chat_id)
    now = NOW
    for _ in range(12):
        with rooms[0].units.read() as unit:
            following = unit.reminders.next_ring()
        if following is None:
            break
        now = following
        all_at_once(*(partial(room.desk.wake, now) for room in rooms))
        all_at_once(*(partial(room.desk.wake, now) for room in rooms))
        letters = rooms[1].desk.unsent(now)
        assert len({(letter.chat_id, letter.html) for letter in letters}) == len(letters)
        rooms[0].deliver()
    with rooms[0].units.engine.connect() as connection:
        rows = connection.execute(select(ReminderLine)).all()
        letters_sent = connection.execute(
            select(func.count()).select_from(OutboxLine).where(OutboxLine.is_reminder)
        ).scalar_one()
    said = [row for row in rows if row.outbox_id is not None]
    assert len({row.outbox_id for row in said}) == letters_sent, "every letter has what it says"
    each = Counter(row.household_id for row in said)
    assert len(each) == len(chats)
    assert len(set(each.values())) == 1, "all households lived alike"
    for room in rooms:
        room.units.close()


def test_a_wake_up_beside_a_message_says_what_is_so(rooms: list[Room]) -> None:
    """One process rings a reading's reminder while the other is told the reading: it is said and settled, or not
    said, but never left open."""
    first, second = rooms
    first.say("sg 1.080 plum")
    first.say("pitched the plum")
    at = NOW + timedelta(hours=48)
    incoming = second.incoming("sg 1.050 plum", sent_at=at)
    all_at_once(lambda: first.desk.wake(at), lambda: second.desk.handle(incoming, at))
    with first.units.engine.connect() as connection:
        rows = connection.execute(
            select(ReminderLine).where(ReminderLine.household_id == 1, ReminderLine.due == at)
        ).all()
    assert [row.state for row in rows if row.step == ReadingKey()] in ([], ["answered"])
    letters = [letter for letter in first.desk.unsent(at) if letter.reminder and letter.chat_id == -5]
    assert len(letters) <= 1
    assert all("✓ 1.050" in letter.html for letter in letters)


# what is remembered of a log


def test_what_was_not_committed_is_not_remembered(rooms: list[Room]) -> None:
    room = rooms[0]

    def write_and_fail() -> None:
        with room.units.begin() as unit:
            known = unit.households.chat(-5)
            assert known is not None
            household = known.household.id
            member = unit.people.members(household)[0]
            unit.log.kept(household, {member.id: member.name})
            source = Source(chat_id=-5, message_id=1, update_id=None)
            unit.log.write(household, Gravity(sg=1.5), member, source, said_at=NOW, at=NOW)
            assert len(unit.log.now(household).entries) == 2
            raise RuntimeError("no")

    with pytest.raises(RuntimeError, match="no"):
        write_and_fail()
    room.say("sg 1.080 plum")
    assert "1.080" in room.text("readings of the plum")
    assert "1.5" not in room.text("readings of the plum")


def test_the_shelf_is_bounded_and_forgets_who_was_quiet_longest(rooms: list[Room]) -> None:
    with rooms[0].units.read() as unit:
        entries = tuple(unit.log.entries(1))
    (begun,) = entries
    shelf = Shelf(most=5)
    for household in (1, 2, 3):
        log = Shelved({}, Folded.of([begun, begun]))
        shelf.put(household, log)
    assert [shelf.take(household) is not None for household in (1, 2, 3)] == [False, True, True]
    shelf.put(2, Shelved({}, Folded.of([begun])))
    shelf.put(4, Shelved({}, Folded.of([begun, begun])))
    assert [shelf.take(household) is not None for household in (2, 3, 4)] == [True, True, True]


def test_an_older_database_gets_owners(tmp_path: Path) -> None:
    url = sqlite_url(tmp_path / "old.db")
    engine = create_engine(url)
    config = Config()
    config.set_main_option("script_location", str(Path(database.__file__).parent / "migrations"))
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        connection.execute(
            text(
                "INSERT INTO households (id, name, timezone, language, gallon, volume_unit, temperature_unit, "
                "created_at) VALUES (1, 'a', 'UTC', 'en', 'us', 'L', 'C', '2026-01-01'), "
                "(2, 'b', 'UTC', 'en', 'us', 'L', 'C', '2026-01-01')"
            )
        )
        connection.execute(
            text(
                "INSERT INTO members (id, household_id, person_id, name, joined_at) VALUES "
                "(1, 1, 11, 'ana', '2026-01-01'), (2, 1, 12, 'bo', '2026-01-01'), (3, 2, 11, 'ana', '2026-01-01')"
            )
        )
    engine.dispose()
    units = Units(open_engine(url))
    with units.read() as unit:
        assert [(m.name, m.owner, m.state) for m in unit.people.everybody(1)] == [
            ("ana", True, "in"),
            ("bo", False, "in"),
        ]
        assert unit.people.everybody(2)[0].owner
    units.close()
