"""Who is in: groups, private chats, invitations, owners, and members who leave."""

import re
from datetime import timedelta

import pytest

from bot.cellar.log.acts import Gravity
from bot.house.talk import ANONYMOUS
from tests.house.room import Room

BEGIN = "new batch: plum, red, 23 l in bucket 2, 14 day kit"
BO = {"sender_id": 2, "sender_name": "bo"}
CY = {"sender_id": 3, "sender_name": "cy"}
ELSEWHERE = {"chat_id": -6, "chat_title": "The harbour"}


def private(person: int, name: str) -> dict[str, object]:
    return {"chat_id": person, "private": True, "chat_title": "", "sender_id": person, "sender_name": name}


ANA_ALONE, BO_ALONE, CY_ALONE = private(1, "ana"), private(2, "bo"), private(3, "cy")


def code_in(text: str) -> str:
    found = re.search(r"(?:/start |start=)([\w-]+)", text)
    assert found is not None, text
    return found[1]


def names(room: Room) -> str:
    return room.text("/house").rpartition("In: ")[2]


# several households


def two_houses(room: Room) -> None:
    room.say(BEGIN)
    room.say("new batch: sloe, red, 10 l in bucket 1, 7 day kit", **ELSEWHERE)


def test_a_private_chat_of_one_with_two_households_asks_which_and_then_takes_the_message(room: Room) -> None:
    two_houses(room)
    (which,) = room.say("sg 1.050 plum", **ANA_ALONE)
    assert [button.label for button in which.buttons] == ["The harbour", "The Mill Lane house"]
    letters = room.press(which, "The Mill Lane house")
    assert "The Mill Lane house" in letters[0].html
    assert "1.050" in letters[1].html
    assert room.acts()[-1] == Gravity(of="plum", sg=1.05)
    assert "plum" in room.text("whats next", **ANA_ALONE), "it stays chosen"
    assert "sloe" not in room.text("overview", **ANA_ALONE)


def test_a_choice_pressed_twice_takes_the_message_once(room: Room) -> None:
    two_houses(room)
    (which,) = room.say("sg 1.050 plum", **ANA_ALONE)
    room.press(which, "The Mill Lane house")
    before = room.acts()
    room.press(which, "The Mill Lane house")
    assert room.acts() == before
    assert room.answer


def test_the_household_of_a_private_chat_can_be_changed(room: Room) -> None:
    two_houses(room)
    (which,) = room.say("/houses", **ANA_ALONE)
    room.press(which, "The Mill Lane house")
    (which,) = room.say("/houses", **ANA_ALONE)
    room.press(which, "The harbour")
    assert "sloe" in room.text("whats next", **ANA_ALONE)
    assert "private" in room.text("/houses")


def test_nobody_else_can_press_the_choice(room: Room) -> None:
    two_houses(room)
    (which,) = room.say("sg 1.050 plum", **ANA_ALONE)
    data = which.buttons[0].data
    assert "one household" in room.text("hello", **BO_ALONE)
    assert room.say(press=data, **BO_ALONE) == []
    assert room.say(press=data, **BO) == []
    assert room.answer
    assert len(room.acts()) == 2


def test_an_answer_from_the_other_household_is_not_repeated(room: Room) -> None:
    two_houses(room)
    room.say("sg 1.080 plum")
    (which,) = room.say("/houses", **ANA_ALONE)
    room.press(which, "The Mill Lane house")
    room.say("sg 1.040 plum", **ANA_ALONE)
    (which,) = room.say("/houses", **ANA_ALONE)
    room.press(which, "The harbour")
    assert "1.08" not in room.text("why?", **ANA_ALONE)


# invitations


def test_an_invitation_opens_one_household(room: Room) -> None:
    two_houses(room)
    code = code_in(room.text("/invite"))
    assert "Welcome" in room.text(f"/start {code}", **BO_ALONE)
    assert "plum" in room.text("whats next", **BO_ALONE)
    assert "sloe" not in room.text("overview", **BO_ALONE)
    assert "bo" in names(room)
    assert "already" in room.text(f"/start {code}", **BO_ALONE)


def test_an_invitation_is_a_link_where_the_bot_has_a_name(room: Room) -> None:
    room.desk.username = "house_bot"
    assert "https://t.me/house_bot?start=" in room.text("/invite")


def test_codes_are_long_and_fit_the_platforms_link(room: Room) -> None:
    codes = {code_in(room.text("/invite")) for _ in range(10)}
    assert len(codes) == 10
    assert all(re.fullmatch(r"[A-Za-z0-9_-]{20,64}", code) for code in codes)


def test_an_invitation_expires_and_a_new_one_ends_the_old(room: Room) -> None:
    old = code_in(room.text("/invite"))
    new = code_in(room.text("/invite"))
    assert "not good" in room.text(f"/start {old}", **BO_ALONE)
    assert "not good" in room.text("/start made-up", **BO_ALONE)
    room.now += timedelta(days=2, minutes=1)
    assert "not good" in room.text(f"/start {new}", **BO_ALONE)
    assert "bo" not in names(room)


def test_who_tries_codes_gets_no_more_than_ten_answers(room: Room) -> None:
    room.say(BEGIN)
    said = [room.text(f"/start guess{number}", **BO_ALONE) for number in range(15)]
    assert sum(bool(text) for text in said) == 10


# strangers


def test_a_stranger_gets_one_line_a_day(room: Room) -> None:
    room.say(BEGIN)
    assert "one household" in room.text("how's the plum?", **BO_ALONE)
    assert room.text("hello?", **BO_ALONE) == ""
    assert room.text("/houses", **BO_ALONE) == ""
    room.now += timedelta(days=1, minutes=1)
    assert "one household" in room.text("hello?", **BO_ALONE)


# owners


def test_the_first_one_owns_and_only_the_owner_removes(room: Room) -> None:
    room.say(BEGIN)
    room.say("sg 1.080 plum", **BO)
    assert "Only ana" in room.text("/remove ana", **BO)
    assert "Whom" in room.text("/remove zoe")
    assert "You set this up" in room.text("/remove ana")
    assert "bo is out" in room.text("/remove Bo")
    assert "bo" not in names(room)


def test_a_removed_member_stays_out_until_readmitted(room: Room) -> None:
    room.say(BEGIN)
    (noted,) = room.say("sg 1.080 plum", **BO)
    assert "plum" in room.text("whats next", **BO_ALONE)
    code = code_in(room.text("/invite"))
    room.say("/remove bo")
    before = room.acts()
    assert room.text("sg 1.060 plum", **BO) == ""
    assert room.press(noted, "Undo", **BO) == []
    assert "one household" in room.text("sg 1.060 plum", **BO_ALONE)
    assert "not good" in room.text(f"/start {code}", **BO_ALONE)
    assert room.acts() == before
    assert "1.080" in room.text("readings of the plum"), "what they said stays"
    assert "in again" in room.text("/readmit bo")
    assert "1.060" in room.text("sg 1.060 plum", **BO)
    assert "Nobody was removed" in room.text("/readmit bo")


def test_what_was_on_its_way_to_a_removed_member_is_not_sent(room: Room) -> None:
    room.say(BEGIN)
    room.say("hello", **BO)
    room.desk.handle(room.incoming("overview", **BO_ALONE), room.now)
    room.desk.handle(room.incoming("/remove bo"), room.now)
    assert {letter.chat_id for letter in room.desk.unsent(room.now)} == {-5}


def test_two_of_one_name_are_told_apart_by_a_button(room: Room) -> None:
    room.say(BEGIN)
    room.say("hello", **BO)
    room.say("hello", sender_id=3, sender_name="Bo")
    (which,) = room.say("/remove bo")
    label = which.buttons[1].label
    assert room.press(which, label, **BO) == []
    assert "owner" in (room.answer or "")
    room.press(which, label)
    room.say("sg 1.080 plum", sender_id=3, sender_name="Bo")
    assert len(room.acts()) == 1
    room.say("sg 1.080 plum", **BO)
    assert len(room.acts()) == 2
    room.press(which, label)
    assert room.answer


def test_who_leaves_the_group_is_out_and_back_by_writing_there(room: Room) -> None:
    room.say(BEGIN)
    room.say("hello", **BO)
    assert "plum" in room.text("whats next", **BO_ALONE)
    room.say(left=2)
    assert "one household" in room.text("whats next", **BO_ALONE)
    assert room.text("sg 1.080 plum", **BO)
    assert "plum" in room.text("whats next", **BO_ALONE)


def test_an_owner_who_leaves_hands_on_to_who_is_in_longest(room: Room) -> None:
    room.say(BEGIN)
    room.say("hello", sender_id=ANONYMOUS, sender_name="an admin")
    room.say("hello", **BO)
    room.say("hello", **CY)
    room.say(left=1)
    assert "cy is out" in room.text("/remove cy", **BO)
    room.say("hello")
    assert "Only bo" in room.text("/remove bo")


def test_an_anonymous_admin_is_heard_but_owns_nothing(room: Room) -> None:
    anonymous = {"sender_id": ANONYMOUS, "sender_name": "an admin"}
    assert "begun" in room.text(BEGIN, **anonymous)
    assert "Only the owner" in room.text("/remove bo", **anonymous)
    room.say("hello", **BO)
    assert "Nobody" in room.text("/readmit x", **BO), "the first person who speaks owns it"


# names, and the bot's own coming and going


def test_a_changed_name_is_followed(room: Room) -> None:
    room.say(BEGIN, **BO)
    room.say("sg 1.080 plum", sender_id=2, sender_name="Bodil")
    assert "Bodil" in names(room)
    with room.units.read() as unit:
        assert {row.entry.by for row in unit.log.all_entries()} == {"Bodil"}
    (noted,) = room.say("pitched the plum", sender_id=2, sender_name="Bodil")
    assert "Bodil" in "".join(letter.html for letter in room.press(noted, "Undo"))


def test_removed_from_the_group_it_rings_no_more_and_added_again_it_goes_on(room: Room) -> None:
    room.say(BEGIN)
    room.say("sanitised bucket 2")
    room.say(removed=True)
    room.now += timedelta(minutes=11)
    room.desk.wake(room.now)
    assert room.deliver() == []
    (back,) = room.say(joined=True)
    assert "I am back" in back.html
    room.desk.wake(room.now)
    (late,) = room.deliver()
    assert "10 minutes are up" in late.html, "what fell due meanwhile is said now"
    assert "plum" in room.text("whats next")
    room.say("sanitised bucket 2")
    room.now += timedelta(minutes=11)
    room.desk.wake(room.now)
    assert len(room.deliver()) == 1


def test_a_group_that_moves_takes_along_what_was_said_before_the_move_was_told(room: Room) -> None:
    room.say(BEGIN)
    room.desk.handle(room.incoming("sg 1.080 plum"), room.now)
    room.say("hello", chat_id=-1005)  # already in the new chat
    room.desk.handle(room.incoming(moved_to=-1005), room.now)
    room.desk.handle(room.incoming(moved_to=-1005), room.now)
    assert "plum" in room.text("whats next", chat_id=-1005)
    assert all(letter.reply_to is None for letter in room.desk.unsent(room.now))


@pytest.mark.parametrize("text", ["/remove", "/readmit", "/invite", "/houses"])
def test_commands_about_company_write_nothing_down(room: Room, text: str) -> None:
    assert room.text(text)
    assert room.acts() == []
