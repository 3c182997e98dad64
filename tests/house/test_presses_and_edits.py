"""Buttons pressed late or twice, edits answered in place, floods, and what cannot be handled."""

from datetime import timedelta
from typing import Any

import pytest

from bot.cellar.log.acts import Gravity, Temperature
from bot.house.home import Home
from bot.house.people.floods import MOST, WITHIN, Floods
from bot.ids import ChatId
from bot.say.manner import plain
from tests.house.room import NOW, Room

BEGIN = "new batch: plum, red, 23 l in bucket 2, 14 day kit"
BO = {"sender_id": 2, "sender_name": "bo"}


def test_two_who_press_undo_strike_it_out_once(room: Room) -> None:
    room.say(BEGIN)
    room.say("hello", **BO)
    (noted,) = room.say("sg 1.080 plum")
    (struck,) = room.press(noted, "Undo")
    assert room.press(noted, "Undo", **BO) == []
    assert "quicker" in (room.answer or "")
    assert [button.label for button in struck.buttons] == ["Put it back"]
    room.press(struck, "Put it back")
    assert "1.080" in room.text("readings of the plum")


def test_undo_after_the_entry_was_struck_out_in_words(room: Room) -> None:
    room.say(BEGIN)
    (noted,) = room.say("sg 1.080 plum")
    room.say("undo")
    before = room.acts()
    assert room.press(noted, "Undo") == []
    assert "struck out already" in (room.answer or "")
    assert room.acts() == before


def test_a_question_answered_by_two_is_answered_once(room: Room) -> None:
    room.say(BEGIN)
    room.say("new batch: pear, white, 10 l in bucket 1, 7 day kit")
    (asked,) = room.say("sg 1.070")
    room.press(asked, "plum")
    before = room.acts()
    assert room.press(asked, "pear", **BO) == []
    assert room.answer
    assert room.acts() == before


def test_a_question_that_is_over_says_so(room: Room) -> None:
    room.say(BEGIN)
    room.say("new batch: pear, white, 10 l in bucket 1, 7 day kit")
    (asked,) = room.say("sg 1.070")
    room.now += timedelta(hours=2)
    assert room.press(asked, "plum") == []
    assert "over" in (room.answer or "")


def test_what_one_was_asked_stays_open_when_another_writes(room: Room) -> None:
    room.say(BEGIN)
    room.say("new batch: pear, white, 10 l in bucket 1, 7 day kit")
    (asked,) = room.say("sg 1.070")
    room.say("20c in the pear", **BO)
    room.press(asked, "plum")
    assert Gravity(sg=1.07, of="plum") in room.acts()


def test_a_vessel_offered_is_added_and_its_message_taken_once(room: Room) -> None:
    room.say(BEGIN)
    (offer,) = room.say("racked plum into bucket 9")
    (button,) = [button for button in offer.buttons if button.label.startswith("Add")]
    room.press(offer, button.label)
    before = room.acts()
    assert room.press(offer, button.label, **BO) == []
    assert room.answer
    assert room.acts() == before


def test_a_reminder_done_by_two_is_done_once(room: Room) -> None:
    room.say(BEGIN)
    for _ in range(40):
        room.now += timedelta(hours=6)
        room.desk.wake(room.now)
        ringing = [letter for letter in room.deliver() if any(b.label == "Done" for b in letter.buttons)]
        if ringing:
            break
    (letter,) = ringing[:1]
    room.press(letter, "Done")
    before = room.acts()
    assert room.press(letter, "Done", **BO) == []
    assert room.answer
    assert room.acts() == before


def test_a_press_that_works_has_no_line_of_its_own(room: Room) -> None:
    (noted,) = room.say(BEGIN)
    room.press(noted, "Undo")
    assert room.answer is None


# edits


def test_an_edit_amends_the_entry_and_the_answer(room: Room) -> None:
    room.say(BEGIN)
    message = room.number + 1
    (first,) = room.say("sg 1.080 plum")
    (second,) = room.say("sg 1.070 plum", edited=True, message_id=message)
    assert second.edits == room.message_of[first.letter_id]
    assert "changed to" in second.html
    (third,) = room.say("sg 1.060 plum", edited=True, message_id=message)
    assert third.edits == second.edits
    readings = room.text("readings of the plum")
    assert [figure in readings for figure in ("1.060", "1.070", "1.080")] == [True, False, False]


def test_an_edit_before_the_answer_has_left_is_answered_once(room: Room) -> None:
    room.say(BEGIN)
    message = room.number + 1
    room.desk.handle(room.incoming("sg 1.080 plum"), room.now)
    room.desk.handle(room.incoming("sg 1.070 plum", edited=True, message_id=message), room.now)
    (letter,) = room.desk.unsent(room.now)
    assert "1.070" in letter.html


def test_an_edit_that_changes_nothing_is_silent(room: Room) -> None:
    room.say(BEGIN)
    message = room.number + 1
    room.say("sg 1.080 plum")
    before = room.acts()
    assert room.say("sg 1.080 plum ", edited=True, message_id=message) == []
    assert room.acts() == before


def test_an_edit_to_talk_takes_the_reading_back(room: Room) -> None:
    room.say(BEGIN)
    message = room.number + 1
    room.say("sg 1.080 plum")
    (letter,) = room.say("never mind, shall we have tea", edited=True, message_id=message)
    assert "Struck out" in letter.html
    assert letter.edits is not None


def test_an_edit_that_answers_a_question_closes_it(room: Room) -> None:
    room.say(BEGIN)
    room.say("new batch: pear, white, 10 l in bucket 1, 7 day kit")
    message = room.number + 1
    (asked,) = room.say("sg 1.070")
    (letter,) = room.say("sg 1.070 pear", edited=True, message_id=message)
    assert letter.edits == room.message_of[asked.letter_id]
    before = room.acts()
    assert room.press(asked, "plum") == []
    assert room.acts() == before


def test_an_edited_setting_is_set_anew(room: Room) -> None:
    message = room.number + 1
    (first,) = room.say("/zone Europe/Berlim")
    (second,) = room.say("/zone Europe/Berlin", edited=True, message_id=message)
    assert second.edits == room.message_of[first.letter_id]
    assert "Europe/Berlin" in second.html


def test_of_changes_that_wait_only_the_last_is_sent(room: Room) -> None:
    (noted,) = room.say(BEGIN)
    message = room.message_of[noted.letter_id]
    room.desk.handle(room.incoming(press=f"{noted.letter_id}:1", message_id=message), room.now)
    (struck,) = room.desk.unsent(room.now)
    room.desk.handle(room.incoming(press=f"{struck.letter_id}:0", message_id=message), room.now)
    (back,) = room.desk.unsent(room.now)
    assert "Back in" in back.html


# floods


def test_a_flood_is_taken_in_and_answered_once(room: Room) -> None:
    room.say(BEGIN)
    answers = []
    for number in range(3 * MOST):
        answers += room.say(f"{15 + number / 10:.1f}c in the plum")
    assert len([act for act in room.acts() if isinstance(act, Temperature)]) == 3 * MOST
    assert len(answers) == MOST
    assert plain(answers[-1].html).startswith("That is a lot at once, ana")


def test_a_flood_does_not_silence_others_or_questions(room: Room) -> None:
    room.say(BEGIN)
    room.say("new batch: pear, white, 10 l in bucket 1, 7 day kit")
    for number in range(2 * MOST):
        room.say(f"{15 + number / 10:.1f}c in the plum")
    assert room.say("20c in the plum", **BO)
    (asked,) = room.say("sg 1.070")
    room.press(asked, "plum")
    assert Gravity(sg=1.07, of="plum") in room.acts()


def test_after_a_flood_it_answers_again(room: Room) -> None:
    room.say(BEGIN)
    for number in range(2 * MOST):
        room.say(f"{15 + number / 10:.1f}c in the plum")
    room.now += WITHIN + timedelta(seconds=1)
    assert "20" in room.text("20c in the plum")


def test_what_was_said_over_days_while_it_was_off_is_no_flood(room: Room) -> None:
    room.say(BEGIN)
    answers = []
    for number in range(2 * MOST):
        sent_at = room.now + timedelta(minutes=10 * number)
        answers += room.say(f"{15 + number / 10:.1f}c in the plum", sent_at=sent_at)
    assert len(answers) == 2 * MOST


def test_floods_are_counted_for_a_bounded_number_of_members() -> None:
    floods = Floods()
    for member in range(3_000):
        for _ in range(MOST):
            floods.note(member, NOW)
    assert floods.tide(0, NOW) == "calm"
    assert floods.tide(2_999, NOW) == "rising"


# what cannot be handled


def test_the_owner_is_told_of_a_message_that_could_not_be_handled(room: Room) -> None:
    room.say(BEGIN)
    poison = room.incoming("sg 1.080 plum", **BO)
    room.desk.take_in([(poison.update_id, "{}")], room.now)
    room.desk.give_up(poison, "failed 3 times: ValueError", room.now)
    (letter,) = room.deliver()
    assert (letter.chat_id, letter.reply_to) == (-5, poison.message_id)
    assert "bo's message of 19:30" in plain(letter.html)
    before = room.acts()
    room.desk.handle(poison, room.now)
    assert room.acts() == before, "it is done with"


def test_the_owner_is_told_in_private_where_they_talk_there(room: Room) -> None:
    room.say(BEGIN)
    room.say("whats next", chat_id=1, private=True)
    room.desk.give_up(room.incoming("sg 1.080 plum", **BO), "failed 3 times: ValueError", room.now)
    (letter,) = room.deliver()
    assert letter.chat_id == 1


def test_one_household_in_trouble_does_not_keep_the_others_waiting(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    from bot.house.letters import letter as voice

    room.say("sanitised bucket 2")
    room.say("sanitised bucket 2", chat_id=-6)
    room.now += timedelta(minutes=11)
    tell = voice.tell

    def fail(home: Home, chat_id: ChatId, told: Any) -> None:
        if home.row.id == 1:
            raise RuntimeError("no")
        tell(home, chat_id, told)

    monkeypatch.setattr(voice, "tell", fail)
    with pytest.raises(RuntimeError, match="no"):
        room.desk.wake(room.now)
    assert [letter.chat_id for letter in room.deliver()] == [-6]
    monkeypatch.undo()
    room.desk.wake(room.now)
    assert [letter.chat_id for letter in room.deliver()] == [-5]


def test_a_reading_put_back_takes_its_temperature_like_any_other(room: Room) -> None:
    room.say(BEGIN)
    reading = room.incoming("sg 1.060 plum")
    room.desk.handle(reading, room.now)
    (told,) = room.deliver()
    (struck,) = room.press(told, "Undo")
    room.press(struck, "Put it back")
    assert "SG 1.060 at 24 °C" in room.text("that was at 24c", reply_to=reading.message_id)
