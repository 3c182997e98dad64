"""Invitations: who may send them, who is told of a join, and what ends them."""

import pytest

from bot.house.talk import Letter
from bot.say.manner import plain
from tests.house.room import Room
from tests.house.test_company import ANA_ALONE, BEGIN, BO, CY, CY_ALONE, code_in, names, private

ZOE_ALONE = private(9, "zoe")


def join(room: Room, code: str, who: dict[str, object] = ZOE_ALONE) -> tuple[str, list[Letter]]:
    """What the one who comes by the code is told, and what is said elsewhere."""
    letters = room.say(f"/start {code}", **who)
    here = [letter for letter in letters if letter.chat_id == who["chat_id"]]
    return "\n".join(plain(letter.html) for letter in here), [le for le in letters if le not in here]


@pytest.fixture
def house(room: Room) -> Room:
    """Ana owns it; bo and cy are in."""
    room.say(BEGIN)
    room.say("hello", **BO)
    room.say("hello", **CY)
    return room


@pytest.mark.parametrize("goes", ["removed", "left"])
def test_who_is_put_out_takes_the_open_invitations_along(house: Room, goes: str) -> None:
    house.say("/invites all")
    code = code_in(house.text("/invite", **BO))
    if goes == "removed":
        house.say("/remove bo")
    else:
        house.say(left=2)
    said, told = join(house, code)
    assert "not good" in said
    assert told == []
    assert "zoe" not in names(house)


def test_others_invitations_outlive_a_removal(house: Room) -> None:
    code = code_in(house.text("/invite"))
    house.say("/remove bo")
    assert "Welcome" in join(house, code)[0]


def test_a_join_by_link_is_told_to_the_group_and_the_owner_can_put_them_out(house: Room) -> None:
    code = code_in(house.text("/invite"))
    said, (told,) = join(house, code)
    assert "Welcome" in said
    assert told.chat_id == -5
    assert "zoe" in told.html
    assert "ana" in told.html, "by whose invitation"
    assert [button.label for button in told.buttons] == ["Put out again"]
    assert house.press(told, "Put out again", **BO) == []
    assert "owner" in (house.answer or "")
    assert "zoe" in names(house)
    (out,) = house.press(told, "Put out again")
    assert "zoe is out" in plain(out.html)
    assert out.edits is not None
    assert "zoe" not in names(house)
    assert "not good" in join(house, code)[0], "who was put out does not come back by the same link"
    assert join(house, code)[1] == []


def test_who_is_in_already_is_not_told_again(house: Room) -> None:
    code = code_in(house.text("/invite"))
    assert len(join(house, code)[1]) == 1
    assert join(house, code)[1] == []
    assert join(house, code, CY_ALONE)[1] == []


def test_without_a_group_the_owner_is_told_in_private(room: Room) -> None:
    room.say("/start", **ANA_ALONE)
    code = code_in(room.text("/invite", **ANA_ALONE))
    _, (told,) = join(room, code)
    assert told.chat_id == 1
    (out,) = room.press(told, "Put out again", sender_id=1, sender_name="ana")
    assert "zoe is out" in plain(out.html)


def test_only_the_owner_invites_unless_the_house_allows_all(house: Room) -> None:
    refused = house.text("/invite", **BO)
    assert "Only ana" in refused
    assert "start" not in refused
    assert "only ana" in house.text("/house")
    assert "Only ana" in house.text("/invites all", **BO), "who may is the owner's to say"
    assert "Only ana" in house.text("/invite", **BO)
    assert "Everybody" in house.text("/invites all")
    assert "everybody (/invites)" in house.text("/house")
    code = code_in(house.text("/invite", **BO))
    assert "Only ana" in house.text("/invites owner")
    assert "not good" in join(house, code)[0], "what others sent out ends with it"
    assert "Only ana" in house.text("/invite", **BO)


@pytest.mark.parametrize(
    "text",
    [
        "everybody may invite",
        "Let everyone invite, please.",
        "all members can send invitations",
        "anyone can invite people to this log",
        "from now on everyone is allowed to invite",
    ],
)
def test_the_owner_can_say_it_in_words(house: Room, text: str) -> None:
    assert house.text(text, **BO).startswith("Only ana")
    assert "Everybody" in house.text(text)
    assert "everybody (/invites)" in house.text("/house")


@pytest.mark.parametrize(
    "text",
    [
        "only the owner may invite",
        "Only I can invite",
        "nobody else may invite",
        "only ana sends invitations",
        "nobody but me should invite",
        "just me can send invites from now on",
    ],
)
def test_and_take_it_back(house: Room, text: str) -> None:
    house.say("/invites all")
    assert "Only ana" in house.text(text)
    assert "only ana (/invites)" in house.text("/house")


def test_it_can_be_asked(house: Room) -> None:
    assert "Only ana" in house.text("who may invite?", **BO)
    assert "Only ana" in house.text("/invites", **BO)


@pytest.mark.parametrize(
    "text",
    [
        "everyone can invite a friend on saturday",
        "everybody can invite people",
        "who can invite grandma",
        "only i invite people to dinner",
        "we should all invite the neighbours",
        "nobody invited me",
    ],
)
def test_talk_about_guests_is_no_setting(house: Room, text: str) -> None:
    assert house.say(text) == []
    assert "only ana (/invites)" in house.text("/house")


def test_spoken_to_it_understands_more(house: Room) -> None:
    assert "Everybody" in house.text("everybody can invite people", addressed=True)
    house.say("only I can let people in", **ANA_ALONE)
    assert "only ana (/invites)" in house.text("/house")
    house.say("everybody may invite", forwarded=True, addressed=True)
    assert "only ana (/invites)" in house.text("/house")
