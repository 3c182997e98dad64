"""Who only looks in, and what was only passed on, changes nothing."""

import pytest

from bot.house.talk import Button, Letter
from bot.say.welcome import CHATS
from tests.house.room import Room
from tests.house.test_company import ANA_ALONE, BEGIN, BO, BO_ALONE, CY, code_in, names

LOOKS_IN = {"sender_id": 9, "sender_name": "zoe", "public": True}


def labels(letter: Letter) -> list[str]:
    return [button.label for button in letter.buttons]


def test_a_press_by_an_outsider_changes_nothing_and_only_they_are_told(room: Room) -> None:
    room.say(BEGIN)
    (noted,) = room.say("sg 1.080 plum")
    before = room.acts()
    for label in labels(noted):
        assert room.press(noted, label, **LOOKS_IN) == []
        assert room.answer
        assert len(room.answer) < 80
    assert room.acts() == before
    assert "zoe" not in names(room)
    room.press(noted, "Undo", **BO | {"public": False})
    assert room.acts() == before, "who never wrote here is no member of a closed group either"
    room.press(noted, "Undo")
    assert len(room.acts()) == len(before) + 1


def test_an_answer_to_a_question_and_the_set_up_are_for_members(room: Room) -> None:
    _, zone = room.say(joined=True)
    (units,) = room.press(zone, "Yes")
    assert room.press(units, "US gallons, °F", **LOOKS_IN) == []
    assert "litres" in room.text("/house")
    (which,) = room.say("22c")
    before = room.acts()
    assert room.press(which, which.buttons[0].label, **LOOKS_IN) == []
    assert room.acts() == before


def test_i_am_in_lets_in_where_only_the_group_can_press_it(room: Room) -> None:
    _, zone = room.say(joined=True)
    (units,) = room.press(zone, "Yes")
    (chat,) = room.press(units, "litres, °C")
    (members,) = room.press(chat, CHATS["wine"])
    assert room.press(members, "I'm in", **LOOKS_IN) == []
    assert "zoe" not in names(room)
    room.press(members, "I'm in", **BO)
    assert "bo" in names(room)


def test_who_left_or_was_removed_presses_in_vain(room: Room) -> None:
    room.say(BEGIN)
    room.say("hello", **BO)
    room.say("hello", **CY)
    (noted,) = room.say("sg 1.080 plum")
    room.say("/remove cy")
    room.say(left=2)
    before = room.acts()
    for who in (BO, CY):
        assert room.press(noted, "Undo", **who) == []
        assert room.answer
    assert room.acts() == before
    assert names(room).strip(".") == "ana"


def test_a_press_where_no_household_is_makes_none(room: Room) -> None:
    room.say(BEGIN)
    letter = Letter(letter_id=1, chat_id=-77, html="", buttons=(Button(label="Undo", data="1:0"),))
    room.message_of[1] = 1
    assert room.press(letter, "Undo") == []
    assert room.answer
    with room.units.read() as unit:
        assert unit.households.of_chat(-77) is None


@pytest.mark.parametrize(
    "text",
    ["/remove bo", "/house", "/zone Asia/Tokyo", "/invite", "/vessel bucket 9", " /help", "/sg 1.012 b2"],
)
def test_a_forwarded_command_does_nothing(room: Room, text: str) -> None:
    room.say(BEGIN)
    room.say("hello", **BO)
    before = room.text("/house"), room.acts()
    assert room.say(text, forwarded=True, addressed=True) == []
    assert (room.text("/house"), room.acts()) == before


def test_a_forwarded_invitation_opens_nothing_and_starts_nothing(room: Room) -> None:
    room.say(BEGIN)
    code = code_in(room.text("/invite"))
    for text in (f"/start {code}", "/start", "/houses"):
        said = room.text(text, forwarded=True, **BO_ALONE)
        assert "Welcome" not in said
        assert "keep this house" not in said
    assert "bo" not in names(room)
    assert room.text("/houses", forwarded=True, **ANA_ALONE) == ""
