"""Reminders that members ask for in words: taken back, given the time that they lacked, and edited."""

from datetime import timedelta

from bot.cellar.log.acts import Remind
from bot.cellar.log.fold import standing
from tests.house.room import Room


def abouts(room: Room) -> list[str | None]:
    """What is to be brought up and still stands."""
    with room.units.read() as unit:
        entries = [row.entry for row in unit.log.all_entries()]
    acts = [entry.act for entry in sorted(standing(entries), key=lambda entry: entry.entry)]
    return [act.about for act in acts if isinstance(act, Remind)]


def test_forgotten_is_the_reminder_of_the_message_replied_to(room: Room) -> None:
    (first,) = room.say("remind me to buy corks tomorrow")
    room.say("remind me to order labels tomorrow")
    message = room.number + 1
    room.say("remind me to buy yeast tomorrow")
    room.say("forget that reminder", reply_to=room.message_of[first.letter_id])
    assert abouts(room) == ["order labels", "buy yeast"]
    room.say("remind me to rinse the siphon tomorrow")
    room.say("forget that reminder", reply_to=message)
    assert abouts(room) == ["order labels", "rinse the siphon"]


def test_forgotten_is_the_newest_that_is_open(room: Room) -> None:
    room.say("remind me to buy corks tomorrow")
    room.say("remind me to order labels in an hour")
    room.now += timedelta(hours=1)
    room.desk.wake(room.now)
    (rung,) = room.deliver()
    room.say("done", reply_to=room.message_of[rung.letter_id])
    assert "buy corks" in room.text("forget that reminder")
    assert abouts(room) == ["order labels"]


def test_a_time_answers_when_for_an_hour_and_in_reply_later(room: Room) -> None:
    (asked,) = room.say("remind me to order labels")
    room.now += timedelta(minutes=61)
    assert room.say("saturday at 6") == []
    assert abouts(room) == []
    room.say("saturday at 6", reply_to=room.message_of[asked.letter_id])
    assert abouts(room) == ["order labels"]
    room.say("remind me to buy corks")
    room.now += timedelta(minutes=59)
    room.say("saturday at 6")
    assert abouts(room) == ["order labels", "buy corks"]


def test_an_edited_time_moves_the_reminder(room: Room) -> None:
    room.say("remind me to order labels")
    message = room.number + 1
    (first,) = room.say("saturday at 6")
    for hour in ("7", "5"):
        (edited,) = room.say(f"saturday at {hour}", edited=True, message_id=message)
        assert edited.edits == room.message_of[first.letter_id]
        assert f"{int(hour) + 12}:00" in edited.html
        assert abouts(room) == ["order labels"]
    assert room.say("saturday at 5", edited=True, message_id=message) == []


def test_an_edited_time_in_reply_moves_the_reminder(room: Room) -> None:
    (asked,) = room.say("remind me to order labels")
    reply_to = room.message_of[asked.letter_id]
    message = room.number + 1
    room.say("saturday at 6", reply_to=reply_to)
    (edited,) = room.say("saturday at 7", reply_to=reply_to, edited=True, message_id=message)
    assert "19:00" in edited.html
    assert abouts(room) == ["order labels"]


def test_a_slip_edited_into_a_time_answers_when(room: Room) -> None:
    room.say("remind me to order labels")
    message = room.number + 1
    assert room.say("satruday 6ish maybe") == []
    room.say("saturday at 6", edited=True, message_id=message)
    assert abouts(room) == ["order labels"]
