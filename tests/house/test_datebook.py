"""The calendar over a house's life: who imports each new file into their own calendar sees just what is to come."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from random import Random

import pytest
from sqlalchemy import func, select

from bot.house.desk import Desk
from bot.house.talk import Letter
from bot.store.database import open_engine
from bot.store.tables import Attachment, CalendarLine
from bot.store.unit import Units
from tests.house.diary import LEAFLET, Diary, begin
from tests.house.room import NOW, Room


@pytest.fixture
def diary(room: Room) -> Diary:
    return Diary(room)


def test_it_holds_what_is_due_and_what_the_plan_still_has(diary: Diary) -> None:
    begin(diary.room)
    words, _ = diary.ask()
    assert words.startswith("Your calendar: 8 dates for 1 batch. Open it to add them;")
    shown = diary.calendar.shown(diary.room.now)
    assert shown["plum: read the gravity"] == NOW + timedelta(hours=48)
    assert shown["plum: draw off the lees, about this day"] == NOW + timedelta(days=10, hours=-8)
    assert shown["plum: bottle and cork, about this day"] == NOW + timedelta(days=14)


def test_what_would_be_said_at_night_stands_at_a_decent_hour(diary: Diary) -> None:
    diary.room.now = NOW.replace(hour=23)
    begin(diary.room)
    diary.ask()
    assert diary.calendar.shown(diary.room.now)["plum: read the gravity"] == datetime.fromisoformat(
        "2026-03-07 08:00+00:00"
    )


def test_asked_again_without_a_change_it_is_the_same(diary: Diary) -> None:
    begin(diary.room)
    _, first = diary.ask()
    before = diary.sequences()
    diary.room.now += timedelta(hours=30)
    _, second = diary.ask()
    assert first is not None
    assert second is not None
    assert set(diary.sequences().values()) == {0}
    assert diary.sequences() == before

    def bare(content: bytes) -> list[bytes]:
        return [line for line in content.splitlines() if not line.startswith(b"DTSTAMP")]

    assert bare(first) == bare(second)


def test_what_changes_moves_under_its_old_name(diary: Diary) -> None:
    begin(diary.room)
    diary.ask()
    uids = set(diary.calendar.events)
    diary.room.now += timedelta(hours=40)
    diary.room.say("sg 1.050 plum")
    diary.agrees()
    assert set(diary.calendar.events) == uids
    assert diary.sequences()["reading"] == 1


def test_what_was_done_early_is_cancelled_until_its_day_has_passed(diary: Diary) -> None:
    diary.room.say("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    diary.ask()
    diary.room.say("sanitised bucket 2")
    for hour in (0, 5):
        diary.room.now = NOW + timedelta(hours=hour)
        _, content = diary.ask()
        assert content is not None
        assert content.count(b"STATUS:CANCELLED") == 1
        assert diary.sequences()["sanitise"] == 1
    diary.room.now = NOW + timedelta(hours=25)
    _, content = diary.ask()
    assert content is not None
    assert b"clean and sanitise" not in content


def test_what_was_done_before_it_was_ever_given_out_is_not_in_it(diary: Diary) -> None:
    begin(diary.room)
    _, content = diary.ask()
    assert content is not None
    assert b"pitch the yeast" not in content
    assert b"CANCELLED" not in content


def test_an_undone_batch_is_taken_out_and_put_back(diary: Diary) -> None:
    (letter,) = diary.room.say("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    diary.ask()
    assert len(diary.calendar.shown(diary.room.now)) == 10
    (struck,) = diary.room.press(letter, "Undo")
    words, _ = diary.ask()
    assert words.startswith("Nothing is coming up. 10 dates no longer hold")
    assert diary.calendar.shown(diary.room.now) == {}
    diary.room.press(struck, "Put it back")
    diary.agrees()
    assert set(diary.sequences().values()) == {2}
    assert len(diary.calendar.shown(diary.room.now)) == 10


def test_of_one_batch_only_its_own(diary: Diary) -> None:
    begin(diary.room)
    begin(diary.room, "pear", "bucket 1")
    diary.ask()
    words, content = diary.ask("calendar for the pear")
    assert "8 dates for 1 batch" in words
    assert content is not None
    assert b"plum" not in content
    diary.room.say("undo")
    diary.ask("calendar for the plum")
    assert "pear: read the gravity" in diary.calendar.shown(diary.room.now), "the pear was not asked about"
    diary.agrees()


def test_in_reply_to_what_is_about_a_batch_only_that_one(diary: Diary) -> None:
    begin(diary.room)
    begin(diary.room, "pear", "bucket 1")
    (letter,) = diary.room.say("sg 1.078 pear")
    words, content = diary.ask(
        "can we have that as a calendar?", reply_to=diary.room.message_of[letter.letter_id]
    )
    assert "for 1 batch" in words
    assert content is not None
    assert b"plum" not in content


def test_what_people_do_moves_its_date(diary: Diary) -> None:
    room = diary.room
    begin(room)
    room.say(LEAFLET)
    room.say("yes")

    def moved(step: str) -> datetime:
        diary.agrees()
        with room.units.engine.connect() as connection:
            (row,) = [row for row in connection.execute(select(CalendarLine)) if row.step.text == step]
        return row.start

    assert moved("bottle") == NOW + timedelta(days=14)
    # Another plan: its last day is the twentieth, by the house's clock; and what it does not have is taken out.
    room.say("use the elder plan for plum")
    assert moved("bottle") == NOW + timedelta(days=19)
    assert "plum: degas, about this day" not in diary.calendar.shown(room.now)
    # Later: from the reminder's own button.
    room.now = NOW + timedelta(hours=48)
    room.desk.wake(room.now)
    (letter,) = [letter for letter in room.deliver() if "gravity" in letter.html]
    room.press(letter, "Later")
    assert moved("reading") == datetime.fromisoformat("2026-03-07 08:00+00:00")
    # Quiet hours that it falls into, then another clock.
    room.say("/quiet 20:00-11:30")
    assert moved("reading") == datetime.fromisoformat("2026-03-07 11:30+00:00")
    room.say("/zone America/New_York")
    before = moved("reading")
    assert before == datetime.fromisoformat("2026-03-07 11:30-05:00")
    # A reading, and its undo.
    (noted, *_) = room.say("sg 1.050 plum")
    assert moved("reading") > before
    room.press(noted, "Undo")
    assert moved("reading") == before


def test_what_was_poured_into_another_is_taken_out(diary: Diary) -> None:
    begin(diary.room)
    begin(diary.room, "pear", "bucket 1")
    diary.ask()
    diary.room.say("blended plum and pear into bucket 3")
    diary.agrees()
    assert {summary.partition(":")[0] for summary in diary.calendar.shown(diary.room.now)} == {
        "plum",
        "bucket 1",
        "bucket 2",
    }


def test_in_private_too(diary: Diary) -> None:
    begin(diary.room)
    words, content = diary.ask("/calendar", chat_id=1, private=True, addressed=True)
    assert "8 dates" in words
    assert content is not None


def test_a_timer_is_no_date_and_what_somebody_asked_for_is_one(diary: Diary) -> None:
    begin(diary.room)
    diary.room.say("remind me to rack the plum on saturday at 10")
    diary.agrees()
    assert diary.calendar.shown(diary.room.now)["plum: rack the plum"] == datetime.fromisoformat(
        "2026-03-07 10:00+00:00"
    )
    assert not any("saniti" in summary for summary in diary.calendar.shown(diary.room.now))


def test_what_is_late_is_put_at_the_next_quarter_of_an_hour(diary: Diary) -> None:
    begin(diary.room)
    diary.ask()
    diary.room.now = NOW + timedelta(days=3, hours=-9, minutes=7)
    _, content = diary.ask()
    assert content is not None
    assert diary.calendar.shown(diary.room.now)["plum: read the gravity"] == datetime.fromisoformat(
        "2026-03-07 10:45+00:00"
    )


def test_nothing_to_put_in(diary: Diary) -> None:
    words, content = diary.ask()
    assert words.startswith("Nothing to put in a calendar yet. Begin a batch")
    assert content is None
    begin(diary.room)
    diary.room.say("bottled the plum, 29 bottles")
    diary.room.say("labelled the plum")
    diary.room.say("drank 29 bottles of plum")
    diary.room.say("washed bucket 2")
    assert diary.ask() == ("Nothing is coming up, so there is nothing to put in a calendar.", None)
    words, content = diary.ask("calendar for the plum")
    assert content is None
    assert "plum" in words


def test_batches_at_their_end_do_not_stay_for_ever(diary: Diary) -> None:
    begin(diary.room)
    diary.room.say("bottled the plum, 29 bottles")
    diary.agrees()
    assert list(diary.calendar.shown(diary.room.now)) == [
        "bucket 2: wash it",
        "plum: label the bottles",
        "plum: taste it",
    ]
    diary.room.say("washed bucket 2")
    diary.room.now += timedelta(days=190)
    assert diary.ask()[1] is None


def test_in_a_flood_nothing_is_noted_that_is_not_sent(diary: Diary) -> None:
    begin(diary.room)
    for number in range(30):
        diary.room.say(f"note plum: number {number}")
    assert diary.room.say("calendar") == []
    assert diary.sequences() == {}


def test_an_answer_that_is_put_right_gets_a_file_of_its_own(diary: Diary) -> None:
    begin(diary.room)
    begin(diary.room, "pear", "bucket 1")
    asked = diary.room.incoming("calendar for the pear")
    diary.room.desk.handle(asked, diary.room.now)
    (first,) = diary.room.deliver()
    changed = {"message_id": asked.message_id, "edited": True}
    (second,) = diary.room.say("calendar", **changed)
    assert (second.edits, second.reply_to) == (None, asked.message_id)
    assert second.file is not None
    assert first.file == second.file
    (third,) = diary.room.say("how's the pear?", **changed)
    assert third.edits == diary.room.message_of[second.letter_id]
    assert third.file is None


def test_no_more_is_kept_than_waits_to_leave(diary: Diary) -> None:
    room = diary.room
    begin(room)

    def kept() -> int:
        with room.units.engine.connect() as connection:
            return connection.execute(select(func.count()).select_from(Attachment)).scalar_one()

    for _ in range(3):
        diary.ask()
        assert kept() == 1
    for _ in range(2):  # two that wait, as when the chat service is down
        room.desk.handle(room.incoming("calendar"), room.now)
    assert kept() == 2
    assert all(room.desk.file(letter.letter_id) for letter in room.desk.unsent(room.now))
    room.deliver()
    room.say("sg 1.050 plum")
    diary.ask()
    assert kept() == 1


def test_a_backlog_is_read_without_what_is_in_its_files(diary: Diary) -> None:
    begin(diary.room)
    diary.room.desk.handle(diary.room.incoming("calendar"), diary.room.now)
    with diary.room.units.read() as unit:
        (row,) = unit.post.unsent()
    assert "content" not in row._fields
    (letter,) = diary.room.desk.unsent(diary.room.now)
    assert isinstance(letter, Letter)
    assert letter.file is not None
    assert (letter.file.name, letter.file.kind, letter.file.media_type) == (
        "calendar.ics",
        "calendar",
        "text/calendar",
    )


CHANGES = (
    "sg {low:.3f} plum",
    "sg {low:.3f} pear",
    "undo",
    "undo",
    "racked plum into bucket 3",
    "stabilised the pear",
    "degassed the plum",
    "fined the pear",
    "bottled the plum, 29 bottles",
    "remind me to rack the plum on saturday at 10",
    "remind us to filter the pear tomorrow at 18:00",
    "use the elder plan for plum",
    "bo does the degassing",
    "call bucket 2 Big Blue",
    "/zone Europe/Berlin",
    "/zone America/New_York",
    "/quiet 22:00-9:00",
    "/ask 18:30",
    "/ask off",
    "/digest on",
    "/digest off",
    "new batch: sloe, red, 5 l in demijohn 1, 7 day kit",
    "calendar for the pear",
    "calendar",
)


@pytest.fixture
def anywhere(url: str) -> Iterator[Diary]:
    units = Units(open_engine(url))
    yield Diary(Room(units))
    units.close()


@pytest.mark.parametrize("seed", range(4))
def test_a_life_of_changes(anywhere: Diary, seed: int) -> None:
    diary, room, random = anywhere, anywhere.room, Random(seed)
    begin(room)
    begin(room, "pear", "bucket 1", 30)
    room.say(LEAFLET)
    room.say("yes")
    room.say("/most 20")  # so that nothing is put off to the next day
    low = 1.070
    rang = 0
    for _ in range(60):
        room.now += timedelta(minutes=random.choice((1, 20, 600, 1500)))
        room.desk.wake(room.now)
        for letter in room.deliver():
            choices = [b.label for b in letter.buttons if b.label.startswith(("Done", "Later", "I'll"))]
            if choices and random.random() < 0.4:
                room.press(letter, random.choice(choices))
        low = max(0.992, low - random.choice((0.0, 0.004, 0.01)))
        text = random.choice(CHANGES).format(low=low)
        if text.startswith("calendar"):
            diary.ask(text)
        else:
            room.say(text)
        if random.random() < 0.3:
            room.desk = Desk(room.units, timezone="UTC")  # the process dies and starts again
        if random.random() < 0.4:
            diary.agrees()
            rang += diary.rings_as_it_says()
    diary.agrees()
    assert rang > 10
    assert max(diary.sequences().values()) > 2
