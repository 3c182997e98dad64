"""The desk: what the chat's own conversations do not show."""

from datetime import timedelta

import pytest

from bot.cellar.log.acts import Gravity
from bot.house.people.doors import VESSELS
from bot.say.manner import plain
from bot.say.welcome import CHATS
from tests.house.room import Room


def test_a_reading_before_any_set_up_is_kept(room: Room) -> None:
    assert "I keep it" in room.text("sg 1.080 bucket 1")
    assert room.acts() == [Gravity(sg=1.08, of="bucket 1")]
    assert "mill" in room.text("new batch: mill, 23 l in bucket 1, 14 day kit")
    assert "1.080" in room.text("readings of the mill")


def test_added_to_a_group_it_asks_four_things_at_most(room: Room) -> None:
    hello, zone = room.say(joined=True)
    assert "wine log" in hello.html
    assert "Europe/London" in zone.html
    (units,) = room.press(zone, "Yes")
    (chat,) = room.press(units, "US gallons, °F")
    (members,) = room.press(chat, CHATS["wine"])
    (more,) = room.press(members, "I'm in", sender_id=2, sender_name="bo")
    assert "ana, bo" in plain(more.html)
    (done,) = room.press(more, "That's all")
    assert "us gallons, °F" in plain(done.html)


def test_settings_in_words(room: Room) -> None:
    assert "Europe/Berlin" in room.text("/zone Europe/Berlin")
    assert "no time zone" in room.text("/zone Atlantis/Deep")
    assert "no time zone" in room.text("/zone ../../etc/passwd")
    assert "us gallons, °F" in room.text("/units us gallons F")
    assert "litres, °C" in room.text("/units litres C")
    assert "Write it like" in room.text("/units furlongs")
    assert "Added bucket 4" in room.text("/vessel bucket 4 25 l")
    assert "here already" in room.text("/vessel Bucket 4")
    assert "Write it like" in room.text("/vessel")
    assert "bucket 4" in room.text("/house")
    assert "sg 1.012" in room.text("/help")
    assert "wine log" in room.text("/start")


def test_bad_input_is_one_line_and_writes_nothing(room: Room) -> None:
    room.text("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    before = room.acts()
    for text, says in (
        ("sg 1.300 bucket 2", "0.980"),
        ("sg 0.900 bucket 2", "0.980"),
        ("temp bucket 2 300c", "-5"),
        ("sg 1.080 bucket 9", "bucket 9"),
        ("new batch: pear, 10 l in bucket 2, 7 day kit", "in use"),
        ("racked plum into bucket 2 tomorrow at 9", ""),
        ("sg 1.080 bucket 2 tomorrow 9am", "still to come"),
    ):
        answer = room.text(text)
        assert says in answer, (text, answer)
        assert room.acts() == before, text


def test_addressed_and_not_understood_is_one_line_with_an_example(room: Room) -> None:
    (letter,) = room.say("wibble", addressed=True)
    assert "<code>" in letter.html
    assert "\n" not in letter.html
    assert room.say("wibble") == []


def test_an_unknown_vessel_may_be_added_and_the_message_counts(room: Room) -> None:
    (letter,) = room.say("new batch: heron, red, 23 l in bucket 9, 14 day kit")
    assert "bucket 9" in letter.html
    assert room.acts() == []
    room.say("hello", sender_id=2, sender_name="bo")
    (answer,) = room.press(letter, "Add bucket 9", sender_id=2, sender_name="bo")
    assert "begun: heron" in plain(answer.html)
    with room.units.read() as unit:
        (entry,) = [row.entry for row in unit.log.all_entries()]
    assert entry.by == "ana"
    room.press(letter, "Add bucket 9")
    assert len(room.acts()) == 1


def test_a_stranger_in_private_gets_one_polite_line_and_no_data(room: Room) -> None:
    room.say("new batch: heron, red, 23 l in bucket 2, 14 day kit")
    private = {"chat_id": 77, "private": True, "sender_id": 77, "sender_name": "zoe"}
    answer = room.text("how's the heron?", **private)
    assert "one household" in answer
    assert "bucket" not in answer
    assert "wine log" in room.text("/start", **private)
    assert "heron" not in room.text("overview", **private)


def test_a_member_in_private_sees_the_household(room: Room) -> None:
    room.say("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    assert "plum" in room.text("whats next", chat_id=1, private=True)


def test_buttons_of_another_chat_do_nothing(room: Room) -> None:
    (letter,) = room.say("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    before = room.acts()
    (undo,) = [button.data for button in letter.buttons if button.label == "Undo"]
    other = {"chat_id": -9, "chat_title": "Next door", "sender_id": 9, "sender_name": "zoe"}
    assert room.say(press=undo, **other) == []
    for nonsense in ("", "1", "1:", "x:y", "999999:0", f"{letter.letter_id}:99", "1:0:0", "١:٠"):
        assert room.say(press=nonsense) == []
    assert room.acts() == before


def test_a_question_expires_quietly(room: Room) -> None:
    room.say("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    room.say("new batch: pear, white, 10 l in bucket 1, 7 day kit")
    (asked,) = room.say("sg 1.070")
    before = room.acts()
    room.now += timedelta(hours=2)
    assert room.press(asked, "plum") == []
    assert room.acts() == before


def test_the_answer_to_a_question_is_the_askers_reading(room: Room) -> None:
    room.say("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    room.say("new batch: pear, white, 10 l in bucket 1, 7 day kit")
    (asked,) = room.say("sg 1.070")
    said_at = room.now
    room.say("hello", sender_id=2, sender_name="bo")
    room.now += timedelta(minutes=10)
    room.press(asked, "plum", sender_id=2, sender_name="bo")
    with room.units.read() as unit:
        entry = list(unit.log.all_entries())[-1].entry
    assert (entry.by, entry.said_at, entry.at) == ("ana", said_at, said_at)
    assert room.press(asked, "pear") == []


def test_a_group_that_moves_keeps_its_household(room: Room) -> None:
    room.say("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    room.say(moved_to=-1005)
    assert "plum" in room.text("whats next", chat_id=-1005)


def test_a_refused_letter_is_not_tried_again_and_the_chat_is_marked(room: Room) -> None:
    room.desk.handle(room.incoming("sanitised bucket 2"), room.now)
    (letter,) = room.desk.unsent(room.now)
    room.desk.refused(letter.letter_id, "the bot was blocked", room.now)
    assert room.desk.unsent(room.now) == []
    room.now += timedelta(minutes=11)
    room.desk.wake(room.now)
    assert room.desk.unsent(room.now) == []  # a chat that cannot be reached is not rung


def test_an_update_set_aside_is_done(room: Room) -> None:
    room.desk.take_in([(7, "{}"), (8, "{}")], room.now)
    assert room.desk.waiting() == [(7, "{}"), (8, "{}")]
    room.desk.set_aside(7, "cannot be read", room.now)
    assert room.desk.waiting() == [(8, "{}")]


def test_a_failure_in_the_middle_leaves_nothing(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    from bot.house.letters import plan

    def fail(home: object) -> None:
        raise RuntimeError("no")

    monkeypatch.setattr(plan, "replan", fail)
    incoming = room.incoming("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    with pytest.raises(RuntimeError, match="no"):
        room.desk.handle(incoming, room.now)
    assert room.acts() == []
    assert room.desk.unsent(room.now) == []
    monkeypatch.undo()
    room.desk.handle(incoming, room.now)
    assert len(room.acts()) == 1


def test_a_new_household_has_vessels_to_begin_with(room: Room) -> None:
    room.say("hello there")
    text = room.text("/house")
    assert all(vessel in text for vessel, _ in VESSELS)
