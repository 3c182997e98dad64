"""A statement made while something is asked: what is written is that statement, whoever makes it."""

import pytest

from bot.cellar.log.acts import Addition, Bottles, Gravity, Step
from bot.say.manner import plain
from tests.house.room import Room

DOUBTED = ("put 40 campden tablets in the plum", "sg 1.190 plum", "bottled plum, 290 bottles")
STATEMENTS = (
    "added 2 kg of sugar to the plum",
    "sg 1.078 at 20c plum",
    "put 4 campden tablets in the plum",
    "degassed plum",
    "note plum: smells of pear",
    "bottled plum, 29 bottles",
)


@pytest.fixture(autouse=True)
def begun(room: Room) -> None:
    room.say("new batch: plum, 23 l in bucket 1, 7 day kit")
    room.say("sg 1.080 at 20c plum")


@pytest.mark.parametrize("doubted", DOUBTED)
@pytest.mark.parametrize("said", STATEMENTS)
@pytest.mark.parametrize("speaker", [(1, "ana"), (2, "bo")])
def test_only_the_statement_is_written(room: Room, doubted: str, said: str, speaker: tuple[int, str]) -> None:
    before = len(room.acts())
    (question,) = room.say(doubted)
    assert question.buttons
    assert len(room.acts()) == before
    room.say(said, sender_id=speaker[0], sender_name=speaker[1])
    (written,) = room.acts()[before:]
    match written:
        case Addition():
            assert (written.what, written.amount) in (("sugar", 2000.0), ("sulphite", 4.0))
        case Gravity():
            assert written.sg == 1.078
        case Step() if written.step == "bottle":
            assert written.bottles == 29
    if speaker[0] == 1:  # the one asked had closed it by speaking
        room.say("yes")
        assert len(room.acts()) == before + 1


def test_a_reply_to_something_else_answers_nothing(room: Room) -> None:
    before = room.acts()
    (answer,) = room.say("how is the plum")
    room.say(DOUBTED[0])
    room.say("yes", reply_to=room.message_of[answer.letter_id])
    assert room.acts() == before


def test_a_reply_to_the_question_answers_it(room: Room) -> None:
    (question,) = room.say(DOUBTED[0])
    room.say("yes", reply_to=room.message_of[question.letter_id])
    assert isinstance(last := room.acts()[-1], Addition)
    assert last.amount == 40


def test_bottling_and_labelling_in_one_message(room: Room) -> None:
    assert "not in bottles" in room.text("labelled the plum")
    room.say("bottled and labelled plum, 29 bottles")
    bottled, labelled = room.acts()[-2:]
    assert isinstance(bottled, Step)
    assert bottled.bottles == 29
    assert labelled == Step(of="plum", step="label")


def test_every_option_says_what_it_writes(room: Room) -> None:
    room.say("new batch: sloe, 23 l in bucket 2, 7 day kit")
    room.say("sg 1.078 sloe")
    (question,) = room.say("pitched sloe, sg 1.140 sloe")
    assert "SG 1.140" in plain(question.html)
    assert "· sloe: yeast pitched" in plain(question.html)
    room.press(question, question.buttons[0].label)
    assert set(room.acts()[-2:]) == {Step(of="sloe", step="pitch"), Gravity(of="sloe", sg=1.14)}


def test_several_gifts_are_all_counted(room: Room) -> None:
    room.say("bottled plum, 29 bottles")
    room.say("gave 2 bottles of plum to nan, 1 to mum and 3 to bo")
    assert [act.change for act in room.acts() if isinstance(act, Bottles)] == [-2, -1, -3]
