"""Nothing that is said or open besides switches a danger off, and it keeps back nothing of what else was said."""

from collections.abc import Callable
from datetime import timedelta

import pytest

from bot.cellar.log.acts import Addition, Gravity, Question, Split, Step
from bot.house.talk import Letter
from bot.say.dangers import aids
from bot.say.manner import plain
from tests.house.room import Room

DANGERS = {
    "unwell": "ana fainted in the cellar",
    "burn": "got steriliser in my eye",
    "cleaners": "mixed bleach and vinegar in the bucket",
    "bottles": "two corks popped on the wine in the rack",
    "children": "the toddler drank some of the wine",
    "electricity": "sparks from the wet heat belt under the bucket",
    "pressure": "the lid of the bucket is bulging",
}
BESIDE = {
    "a gravity": "sg 1.050 plum",
    "a chore": "degassed the plum",
    "a temperature": "temp 21c plum",
    "a question": "what's next?",
    "a sum": "abv from 1.080 to 0.994",
    "chatter": "what a day, and the bus was late",
    "a reminder": "remind me to buy corks on friday",
    "an undo": "undo",
}


@pytest.fixture
def at_home(room: Room) -> Room:
    room.say("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    room.say("new batch: pear, white, 4.5 l in demijohn 2, 7 day kit")
    room.say("sg 1.080 plum")
    room.now += timedelta(hours=30)
    return room


def told(letters: list[Letter], topic: str) -> bool:
    """Whether the first letter begins with what to do about it."""
    aid = aids()[topic]
    said = plain(letters[0].html) if letters else ""
    return said.startswith((aid.first, aid.short))


def alone(room: Room, text: str) -> list[Letter]:
    return room.say(text)


def in_private(room: Room, text: str) -> list[Letter]:
    return room.say(text, chat_id=1, private=True)


def forwarded(room: Room, text: str) -> list[Letter]:
    return room.say(text, forwarded=True)


def to_the_bot(room: Room, text: str) -> list[Letter]:
    return room.say(text, addressed=True)


def while_a_question_is_open(room: Room, text: str) -> list[Letter]:
    (asked,) = room.say("sg 1.049")
    assert "Which one" in asked.html
    return room.say(text)


def in_reply_to_a_question(room: Room, text: str) -> list[Letter]:
    (asked,) = room.say("sg 1.049")
    return room.say(text, reply_to=room.message_of[asked.letter_id])


def in_reply_to_an_answer(room: Room, text: str) -> list[Letter]:
    (answer,) = room.say("sg 1.049 plum")
    return room.say(text, reply_to=room.message_of[answer.letter_id])


def in_reply_to_a_reminder(room: Room, text: str) -> list[Letter]:
    letters: list[Letter] = []
    while not letters:
        room.now += timedelta(hours=6)
        room.desk.wake(room.now)
        letters = room.deliver()
    letter = letters[0]
    return room.say(text, reply_to=room.message_of[letter.letter_id])


def in_reply_to_a_person(room: Room, text: str) -> list[Letter]:
    room.say("how are you all?")
    return room.say(text, reply_to=room.number)


def by_an_edit(room: Room, text: str) -> list[Letter]:
    room.say("sg 1.049 plum")
    message = room.number - 1
    return room.say(text, message_id=message, edited=True)


def by_an_edit_of_talk(room: Room, text: str) -> list[Letter]:
    room.say("hello all")
    return room.say(text, message_id=room.number, edited=True)


def in_a_flood(room: Room, text: str) -> list[Letter]:
    for _ in range(25):
        room.say("what's next?")
    return room.say(text)


def in_several_lines(room: Room, text: str) -> list[Letter]:
    return room.say(f"hello all\nthe white looks fine\n{text}\nsee you tonight")


def in_a_long_text(room: Room, text: str) -> list[Letter]:
    return room.say("we went for a walk by the river and then had tea with everybody. " * 40 + text)


def in_capitals(room: Room, text: str) -> list[Letter]:
    return room.say(text.upper())


SITUATIONS = [
    alone, in_private, forwarded, to_the_bot, while_a_question_is_open, in_reply_to_a_question, in_reply_to_an_answer,
    in_reply_to_a_reminder, in_reply_to_a_person, by_an_edit, by_an_edit_of_talk, in_a_flood, in_several_lines,
    in_a_long_text, in_capitals,
]  # fmt: skip


@pytest.mark.parametrize("situation", SITUATIONS, ids=lambda one: one.__name__)
@pytest.mark.parametrize("topic", DANGERS)
def test_no_situation_switches_it_off(
    at_home: Room, topic: str, situation: Callable[[Room, str], list[Letter]]
) -> None:
    assert told(situation(at_home, DANGERS[topic]), topic)


@pytest.mark.parametrize("beside", BESIDE)
@pytest.mark.parametrize("topic", ["unwell", "cleaners", "children"])
def test_nothing_said_beside_it_switches_it_off(at_home: Room, topic: str, beside: str) -> None:
    for text in (f"{BESIDE[beside]}, {DANGERS[topic]}", f"{DANGERS[topic]}. {BESIDE[beside]}"):
        assert told(at_home.say(text), topic), text


@pytest.mark.parametrize("topic", ["burn", "cleaners", "bottles"])
@pytest.mark.parametrize(
    "situation",
    [alone, in_private, in_reply_to_an_answer, by_an_edit, in_several_lines],
    ids=lambda one: one.__name__,
)
def test_the_fact_beside_it_is_kept(
    at_home: Room, topic: str, situation: Callable[[Room, str], list[Letter]]
) -> None:
    letters = situation(at_home, f"sg 1.047 plum. {DANGERS[topic]}")
    assert told(letters, topic)
    asked = any(letter.buttons and "1.047" in letter.html for letter in letters)
    assert asked or Gravity(of="plum", sg=1.047) in at_home.acts()


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("racked pear into demijohn 1, it cracked down the side", Step),
        ("bottled the pear, 6, there are glass splinters in it", Step),
        ("put 3 campden tablets in the plum, they were in the bleach water", Addition),
    ],
)
def test_a_fact_in_doubt_is_asked_about(at_home: Room, text: str, kind: type) -> None:
    before = at_home.acts()
    (letter,) = at_home.say(text)
    assert at_home.acts() == before
    at_home.press(letter, next(button.label for button in letter.buttons))
    assert any(isinstance(act, kind) for act in at_home.acts()[len(before) :])


def test_the_second_time_that_day_it_is_shorter_and_the_next_day_whole(at_home: Room) -> None:
    aid = aids()["unwell"]
    assert aid.then in at_home.text("ana fainted in the cellar")
    again = at_home.text("i feel dizzy by the fermenter")
    assert aid.short in again
    assert aid.then not in again
    assert aid.then in at_home.text("i feel dizzy in the cellar", chat_id=1, private=True)
    at_home.now += timedelta(days=1)
    assert aid.then in at_home.text("i feel dizzy in the cellar")


def test_an_edit_that_says_the_same_danger_changes_the_answer_in_place(at_home: Room) -> None:
    at_home.say("sg 1.049 plum, ana fainted in the cellar")
    message = at_home.number - 1
    (changed,) = at_home.say("sg 1.048 plum, ana fainted in the cellar", message_id=message, edited=True)
    assert changed.edits is not None
    assert aids()["unwell"].then in plain(changed.html)


@pytest.mark.parametrize(
    "text",
    ["dizzy with work", "the cat is fizzy", "popping to the shop", "can the kids sleep over on friday?"],
)
def test_ordinary_talk_stays_silent(at_home: Room, text: str) -> None:
    assert at_home.say(text) == []
    assert not any(isinstance(act, Question | Split) for act in at_home.acts())


def test_who_must_first_choose_a_household_gets_first_aid_at_once(at_home: Room) -> None:
    at_home.say("hello", chat_id=-6, chat_title="The other house")
    (which,) = at_home.say(DANGERS["unwell"], chat_id=1, private=True)
    assert told([which], "unwell")
    letters = at_home.press(which, which.buttons[0].label)
    assert not any(aids()["unwell"].then in plain(letter.html) for letter in letters)


def test_a_button_that_takes_the_message_anew_repeats_no_first_aid(at_home: Room) -> None:
    (asked,) = at_home.say("racked plum into bucket 9, got steriliser in my eye")
    assert told([asked], "burn")
    letters = at_home.press(asked, asked.buttons[0].label)
    assert letters
    assert not told(letters, "burn")


def test_a_word_of_care_stands_beneath_the_answer(at_home: Room) -> None:
    """What is no emergency does not bury what was told."""
    (letter,) = at_home.say("sg 1.044 plum. can I lift the full demijohn by myself, my back is bad")
    said = plain(letter.html)
    aid = aids()["lifting"]
    told_at = max(said.find(aid.first), said.find(aid.short))
    assert said.find("1.044") < told_at


def test_a_wine_by_a_name_of_rust_is_no_danger(room: Room) -> None:
    room.say("new batch: rusty, red, 23 l in bucket 2, 14 day kit")
    (letter,) = room.say("sg 1.080 rusty")
    assert aids()["vessel"].short not in plain(letter.html)
