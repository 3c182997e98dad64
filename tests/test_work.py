"""Who works on what: households in turn, one process a thing, and nobody's fault but one's own."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
from sqlalchemy import text
from sqlalchemy.exc import OperationalError

from bot.house.desk import Desk
from bot.say.manner import plain
from bot.store.database import open_engine
from bot.store.holder import LEASE, WORK_LEASE, new_holder
from bot.store.unit import Units
from tests.house.room import NOW, Room

BEGIN = "new batch: plum, red, 23 l in bucket 2, 14 day kit"
SOON = timedelta(seconds=1)


@pytest.fixture
def rooms(url: str) -> Iterator[list[Room]]:
    """Two desks as two processes have them."""
    rooms = [Room(Units(open_engine(url))) for _ in range(2)]
    rooms[1].number = 10_000
    yield rooms
    for room in rooms:
        room.units.close()


def take_in(room: Room, updates: dict[int, int | None]) -> None:
    room.desk.take_in([(number, "{}") for number in updates], NOW, updates)


def claimed(room: Room, most: int = 32, **more: bool) -> list[int]:
    return [update.update_id for update in room.desk.claim(most, room.now, **more)[0]]


def dead(room: Room) -> None:
    """Its process has ended: nobody runs under that number."""
    machine, _, name = room.units.holder.rsplit(":", 2)
    room.units.holder = f"{machine}:{2**22 + 1}:{name}"


def outage() -> OperationalError:
    return OperationalError("INSERT", {}, Exception("database or disk is full"))


# updates


def test_households_are_served_in_turn_and_strangers_last(rooms: list[Room]) -> None:
    room = rooms[0]
    room.say(BEGIN)
    room.say(BEGIN, chat_id=-6, sender_id=2, sender_name="bo")
    strangers = {1000 + number: 500 + number for number in range(20)}
    take_in(room, strangers | {2000 + number: -5 for number in range(200)} | {3000: -6, 3001: 2})
    first = claimed(room)
    assert {2000, 3000, 3001} <= set(first)
    assert not strangers.keys() & set(first)
    assert first == sorted(first)


def test_no_two_processes_have_updates_of_one_chat(rooms: list[Room]) -> None:
    first, second = rooms
    take_in(first, {1: -5, 2: -6, 3: -5, 4: None})
    assert claimed(first, 1) == [1]
    assert claimed(second) == [2, 4]
    first.now += WORK_LEASE + SOON
    second.now = first.now
    assert claimed(second) == [3], "the other's time is over, and what it had begun comes last"


@pytest.mark.parametrize("quick", [True, False])
def test_what_a_process_ended_in_is_known_and_comes_alone_and_last(rooms: list[Room], quick: bool) -> None:
    first, second = rooms
    dead(first)
    take_in(first, {number: -number for number in (1, 2, 3, 4)})
    assert claimed(first) == [1, 2, 3, 4]
    first.desk.set_aside(1, "done", NOW)
    second.now += timedelta(seconds=1 if quick else 3)
    take_in(second, {9: -9})
    assert claimed(second) == [3, 4, 9]
    for number in (3, 4, 9):
        second.desk.set_aside(number, "done", NOW)
    assert claimed(second, suspects=False) == []
    assert claimed(second) == [2]
    with second.units.read() as unit:
        query = text("SELECT begun, stuck FROM inbox WHERE update_id = 2")
        assert tuple(unit.work.connection.execute(query).one()) == (1, 0 if quick else 1)


def test_after_two_lives_that_were_stuck_in_it_an_update_is_spent(rooms: list[Room]) -> None:
    room = rooms[0]
    room.say(BEGIN)
    take_in(room, {500: -5})
    for _ in range(2):
        room.units.holder = new_holder()
        dead(room)
        ((update, *_), _) = room.desk.claim(32, room.now)
        assert not update.spent
        room.now += timedelta(seconds=5)
    room.units.holder = new_holder()
    ((update, *_), _) = room.desk.claim(32, room.now)
    assert update.spent
    room.desk.spent(room.incoming("-", update_id=500), room.now)
    (letter,) = room.deliver()
    assert "standstill" in letter.html
    assert room.desk.waiting() == []


def test_what_was_let_go_counts_for_nothing(rooms: list[Room]) -> None:
    first, second = rooms
    take_in(first, {1: -5, 2: -5})
    claimed(first)
    first.desk.let_go(NOW)
    second.now += timedelta(hours=1)
    assert claimed(second, suspects=False) == [1, 2]


def test_three_failures_of_its_own_set_an_update_aside(rooms: list[Room]) -> None:
    room = rooms[0]
    room.say(BEGIN)
    incoming = room.incoming("sg 1.050")
    take_in(room, {incoming.update_id: -5})
    fates = []
    for _ in range(3):
        assert claimed(room) == [incoming.update_id]
        fates.append(room.desk.failed(incoming.update_id, incoming, ValueError(), "why", SOON, room.now))
        assert claimed(room) == [], "beside the queue"
        room.now += 2 * SOON
    assert fates == ["again", "again", "aside"]
    (letter,) = room.deliver()
    assert "a fault of mine" in letter.html


def test_the_databases_fault_sets_nothing_aside(rooms: list[Room]) -> None:
    room = rooms[0]
    incoming = room.incoming("sg 1.050")
    take_in(room, {incoming.update_id: -5})
    for error in [outage(), OSError("no space"), outage(), ConnectionResetError(), outage()]:
        assert claimed(room) == [incoming.update_id]
        fate = room.desk.failed(incoming.update_id, incoming, error, "why", SOON, room.now)
        assert fate == "waits"
        room.now += 2 * SOON
    assert claimed(room) == [incoming.update_id]


def test_telling_that_fails_for_the_database_sets_nothing_aside_and_else_all_the_same(
    rooms: list[Room], monkeypatch: pytest.MonkeyPatch
) -> None:
    room = rooms[0]
    errors: list[Exception] = [outage(), ArithmeticError()]

    def give_up(*given: object) -> None:
        raise errors.pop(0)

    monkeypatch.setattr(room.desk, "give_up", give_up)
    incoming = room.incoming("sg 1.050")
    take_in(room, {incoming.update_id: -5})
    fates = []
    for _ in range(4):
        fates.append(room.desk.failed(incoming.update_id, incoming, ValueError(), "why", SOON, room.now))
        room.now += 2 * SOON
    assert fates == ["again", "again", "waits", "aside"]
    assert room.desk.waiting() == []


# letters


def test_a_letter_is_one_processs_to_send(rooms: list[Room]) -> None:
    first, second = rooms
    first.desk.handle(first.incoming(BEGIN), NOW)
    first.desk.handle(first.incoming("sg 1.080 plum"), NOW)
    (one, two) = (letter.letter_id for letter in first.desk.unsent(NOW))
    assert second.desk.hold([one, two], NOW) == set()
    assert [letter.ours for letter in second.desk.unsent(NOW)] == [False, False]
    assert first.desk.hold([one, two], NOW) == {one, two}
    later = NOW + LEASE + SOON
    assert second.desk.hold([one], later) == {one}, "its time is over"
    assert first.desk.hold([two], later) == set(), "an earlier one of the chat is in other hands"
    dead(second)
    with second.units.begin() as unit:
        unit.work.connection.execute(
            text("UPDATE outbox SET holder = :dead WHERE id = :one"),
            {"dead": second.units.holder, "one": one},
        )
    assert first.desk.hold([one, two], later) == {one, two}, "a dead process holds nothing"


def test_an_edit_while_the_answer_is_on_its_way_changes_that_answer(rooms: list[Room]) -> None:
    first = rooms[0]
    first.say(BEGIN)
    said = first.incoming("sg 1.080 plum")
    first.desk.handle(said, NOW)
    (on_its_way,) = first.desk.unsent(NOW)
    edit = first.incoming("sg 1.070 plum", message_id=said.message_id, edited=True)
    first.desk.handle(edit, NOW)
    (answer,) = first.desk.unsent(NOW)
    assert answer.edits is None
    assert first.desk.sent([(on_its_way.letter_id, 777)], NOW), "what waits is to be sent otherwise"
    (answer,) = first.desk.unsent(NOW)
    assert answer.edits == 777
    assert "1.070" in plain(answer.html)


def test_an_edit_that_another_process_handles_waits_for_the_answer_on_its_way(rooms: list[Room]) -> None:
    first, second = rooms
    first.say(BEGIN)
    said = first.incoming("sg 1.080 plum")
    first.desk.handle(said, NOW)
    (on_its_way,) = first.desk.unsent(NOW)
    edit = second.incoming("sg 1.070 plum", message_id=said.message_id, edited=True)
    second.desk.handle(edit, NOW)
    (answer,) = second.desk.unsent(NOW)
    assert second.desk.hold([answer.letter_id], NOW) == set()
    first.desk.sent([(on_its_way.letter_id, 777)], NOW)
    assert second.desk.hold([answer.letter_id], NOW) == {answer.letter_id}
    (answer,) = second.desk.unsent(NOW)
    assert answer.edits == 777


# chats that cannot be told


def _due(room: Room) -> None:
    for said in (BEGIN, "sg 1.080 plum", "pitched the plum"):
        room.say(said)


def _live(room: Room, days: float) -> None:
    until = room.now + timedelta(days=days)
    while (following := room.desk.wake(room.now)) is not None and following <= until:
        room.now = max(following, room.now + SOON)
    room.now = until
    room.desk.wake(room.now)


def test_what_falls_due_while_a_chat_is_gone_is_said_late_in_one_letter(rooms: list[Room]) -> None:
    room = rooms[0]
    _due(room)
    _live(room, 2.7)
    letters = room.desk.unsent(room.now)
    assert letters
    for letter in letters:
        room.desk.refused(letter.letter_id, "bot was kicked", room.now, gone=True)
    _live(room, 5)
    assert room.desk.unsent(room.now) == []
    room.now = room.now.replace(hour=12)
    room.say(opened=True, sender_id=0)
    room.desk.wake(room.now)
    (letter,) = room.desk.unsent(room.now)
    assert "gravity" in letter.html


def test_a_muted_chat_gets_one_reminder_and_then_the_rest_together(rooms: list[Room]) -> None:
    room = rooms[0]
    _due(room)
    _live(room, 2.7)
    (waits,) = room.desk.unsent(room.now)
    room.desk.put_off(waits.letter_id, "not enough rights", room.now)
    _live(room, 6)
    assert [letter.letter_id for letter in room.desk.unsent(room.now)] == [waits.letter_id]
    room.deliver()
    room.now = room.now.replace(hour=12)
    room.desk.wake(room.now)
    assert len(room.desk.unsent(room.now)) == 1


@pytest.mark.parametrize("private", [True, False])
def test_households_that_strangers_found_are_limited(url: str, private: bool) -> None:
    units = Units(open_engine(url))
    room = Room(units)
    room.desk = Desk(units, timezone="UTC", founded_an_hour=4)

    def begin(person: int, chat: int) -> str:
        chat_id = person if private else -chat
        who = {"sender_id": person, "sender_name": f"p{person}", "private": private, "chat_id": chat_id}
        return room.text("/start" if private else BEGIN, **who)

    said = [begin(person, person) for person in range(100, 107)]
    assert all("Too many" not in told for told in said[:4])
    assert all("Too many" in told for told in said[4:])
    assert begin(106, 106) == "", "said once"
    room.now += timedelta(hours=1, minutes=1)
    assert "Too many" not in begin(200, 200)
    if not private:
        assert "many" not in begin(200, 201)
        assert "many households" in begin(200, 202)
    units.close()


def test_a_write_proves_that_the_database_works(rooms: list[Room]) -> None:
    take_in(rooms[0], {1: -5, 2: -5})
    assert rooms[0].desk.prove(NOW) == 2
    assert rooms[1].desk.prove(NOW + SOON) == 2
