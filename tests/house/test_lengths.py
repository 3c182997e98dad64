"""What is too long is met with one line on both databases, and nothing of it is written down."""

from collections.abc import Iterator

import pytest

from bot.cellar.log.acts import Note
from bot.cellar.log.lengths import HOUSEHOLD, MESSAGE, NAME, PERSON, WISH
from bot.store.database import open_engine
from bot.store.unit import Units
from tests.house.room import Room

NAME_LINE = f"That name is long: at most {NAME} letters, please."
LONG = "Aunt" + "ie" * 2000
WORDY = "elder and bramble and damson and sloe and quince"


@pytest.fixture
def room(url: str) -> Iterator[Room]:
    units = Units(open_engine(url))
    found = Room(units)
    found.say("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    yield found
    units.close()


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (f"new batch: {LONG}, red, 23 l in bucket 1", NAME_LINE),
        (f"new batch called {LONG}, 23 l", NAME_LINE),
        (f"call bucket 2 {LONG}", NAME_LINE),
        (f"call plum {LONG[:NAME + 1]}", NAME_LINE),
        (f"/vessel {LONG}", NAME_LINE),
        (f"/vessel {LONG} 20 l", NAME_LINE),
        (f"plan for {WORDY}:\nday 1 add the yeast\nday 7 rack\nday 14 bottle", NAME_LINE),
        (f"remind me on friday at 18:00 to {'buy corks and ' * 20}", f"That is long for a reminder: at most {WISH} letters, please."),
    ],
)  # fmt: skip
def test_a_long_name_gets_a_line_and_nothing_is_written(room: Room, text: str, line: str) -> None:
    before, vessels = room.acts(), room.text("/house")
    assert room.text(text, chat_id=-5) == line
    assert room.acts() == before
    assert room.text("/house") == vessels


@pytest.mark.parametrize("litres", ["1" * 400, "0", "2001"])
def test_a_vessel_holds_what_a_vessel_can(room: Room, litres: str) -> None:
    vessels = room.text("/house")
    assert "A volume is more than 0 and at most 2000 litres" in room.text(f"/vessel tub {litres} l")
    assert room.text("/house") == vessels


def test_a_name_of_just_so_many_letters_is_taken(room: Room) -> None:
    name = "x" + "yz" * ((NAME - 1) // 2) + "w" * ((NAME - 1) % 2)
    assert len(name) == NAME
    assert name in room.text(f"/vessel {name}")
    assert name in room.text("/house")


def test_names_that_the_chat_service_gives_are_cut_to_their_columns(room: Room) -> None:
    said = room.say("sg 1.050 plum", sender_id=2, sender_name="n" * 4000, chat_id=-5)
    assert said
    new = "new batch: elder, 23 l in bucket 1"
    assert room.say(new, chat_id=-77, chat_title="t" * 4000, sender_name="m" * 4000)
    with room.units.read() as unit:
        rows = list(unit.log.all_entries())
    assert max(len(row.entry.by) for row in rows) == PERSON
    assert max(len(row.household) for row in rows) == HOUSEHOLD


def test_a_message_longer_than_any_is_answered_in_private_and_passed_over_in_a_group(room: Room) -> None:
    text = "sg 1.012 bucket 2 " * 300
    before = room.acts()
    assert room.say(text) == []
    line = f"That is more than I can read at once: at most {MESSAGE} letters, please."
    assert room.text(text, addressed=True) == line
    assert room.acts() == before


def test_white_space_is_joined_before_anybody_reads(room: Room) -> None:
    assert "demijohn\u2003" not in room.text("/vessel\u00a0demijohn\u2003 7\u200b  12\u00a0l")
    assert "demijohn 7" in room.text("/house")
    assert room.say("\u2003note plum:\u00a0 smells of pears\x00\u200b")
    assert room.acts()[-1] == Note(of="plum", text="smells of pears")
