"""A year of a household with six batches, simulated: reminders are said once, in time, never at night, and none
is lost."""

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import select

from bot.cellar.log.acts import Done, Gravity, Promised, Remind, Step
from bot.cellar.log.due_key import ReadingKey
from bot.house.desk import Desk
from bot.house.hours import hours_of
from bot.house.talk import Letter
from bot.say.manner import plain
from bot.store.database import open_engine, sqlite_url
from bot.store.tables import ReminderLine
from bot.store.unit import Units
from tests.house.proof import Proof
from tests.house.room import Room

NEW_YEAR = datetime(2026, 1, 1, 9, 0, tzinfo=UTC)
Batch = tuple[str, int, int, str]
"""Its name, the day on which it begins, the kit's days, its vessel."""

BATCHES: tuple[Batch, ...] = (
    ("heron", 0, 7, "bucket 1"),
    ("wren", 10, 30, "bucket 2"),
    ("stork", 75, 14, "bucket 1"),
    ("swift", 80, 7, "bucket 3"),
    ("crane", 200, 30, "bucket 2"),
    ("finch", 285, 14, "bucket 1"),
)

BIRDS = ["heron", "wren", "stork", "swift", "crane", "finch", "owl", "robin", "lark", "dove", "rook", "egret"]
CROWD = tuple((bird, 10, 14, f"bucket {number}") for number, bird in enumerate(BIRDS, 4))
"""Twelve batches at once: more falls due on a day than one letter holds."""

HOLIDAY = (NEW_YEAR + timedelta(days=13), NEW_YEAR + timedelta(days=18, hours=5))


def home_again(moment: datetime) -> datetime:
    """On their holiday nobody is at home, and the bot is off."""
    return HOLIDAY[1] if HOLIDAY[0] <= moment < HOLIDAY[1] else moment


PEOPLE = ("ana", "ben", "cia")


class Year:
    """Lives through a year, moment by moment, with people who answer now and then, and with a bot that is
    started anew now and then, or off for hours or days."""

    def __init__(self, url: str, zone: str, seed: int, *settings: str) -> None:
        self.url = url
        self.room = Room(Units(open_engine(url)))
        self.room.now = NEW_YEAR
        self.zone = ZoneInfo(zone)
        self.random = Random(seed)
        self.said: list[tuple[datetime, str]] = []
        self.back: set[datetime] = set()
        """When it came back from being off."""
        self.proof = Proof()
        self.told: dict[int, Any] = {}
        """What was said, with its words and letter, which are not kept for a year."""
        for number, person in enumerate(PEOPLE, 1):
            self.room.say("/house", sender_id=number, sender_name=person)
        for command in (f"/zone {zone}", *settings):
            self.room.say(command)
        with self.room.units.read() as unit:
            row = unit.households.of_chat(-5)
            assert row is not None
            self.hours = hours_of(row)
            self.most_a_day = row.most_a_day

    def say(self, text: str) -> None:
        sender = self.random.randrange(len(PEOPLE))
        self.room.say(text, sender_id=1 + sender, sender_name=PEOPLE[sender])
        self.look()

    def look(self, *, woken: bool = False) -> None:
        self.proof.look(self.room.units, self.hours, self.room.now, woken=woken)
        for row in self.proof.rows.values():
            if row.said_at is not None and (row.outbox_id is not None or row.id not in self.told):
                self.told[row.id] = row

    def restart(self) -> None:
        """Nothing is left of the process but its data."""
        self.room.units.close()
        self.room.units = Units(open_engine(self.url))
        self.room.desk = Desk(self.room.units, timezone="UTC")

    def live_until(self, moment: datetime) -> None:
        """Goes from one thing due to the next; the process dies and starts again on the way."""
        due: datetime | None = self.room.now
        while due is not None and due <= moment:
            self.room.now = max(self.room.now, due)
            luck = self.random.random()
            if luck < 0.3:
                self.restart()
            on = home_again(due)
            if luck < 0.05:
                on = max(on, min(moment, due + timedelta(hours=self.random.randint(1, 60))))
            if on > due:
                self.room.now = on
                self.back.add(on)
                self.proof.back(on)
            self.room.desk.wake(self.room.now)
            self.look(woken=True)
            for letter in self.room.deliver():
                if letter.edits is None:
                    self.said.append((self.room.now, plain(letter.html)))
                    self.answer(letter)
                    self.look()
            with self.room.units.read() as unit:
                due = unit.reminders.next_ring()
        self.room.now = moment

    def answer(self, letter: Letter) -> None:
        labels = [button.label for button in letter.buttons]
        choice = self.random.choice(["Done", "Later", "I'll do it", None])
        if choice in labels:
            self.room.press(letter, choice)

    def batch(self, name: str, days: int, vessel: str) -> Iterator[timedelta]:
        """One batch's chores; each yields how long it takes until the next."""
        self.say(f"new batch: {name}, red, 23 l in {vessel}, {days} day kit")
        self.say(f"sanitised {vessel}")
        yield timedelta(minutes=20)
        self.say(f"mixed the {name}")
        self.say(f"sg 1.080 21c {name}")
        self.say(f"pitched the {name}")
        self.say(f"remind ben in {self.random.randint(30, 200)} hours to turn the {name}'s label")
        for gravity in (1.060, 1.035, 1.012, 1.000, 0.995, 0.994):
            yield timedelta(hours=self.random.randint(20, 90 if gravity == 1.060 else 60))
            self.say(f"sg {gravity:.3f} {name}")
        yield timedelta(hours=50)
        self.say(f"sg 0.994 {name}")
        for step in ("racked", "stabilised", "degassed", "fined"):
            yield timedelta(hours=self.random.randint(1, 40))
            self.say(f"{step} the {name}")
        yield timedelta(days=self.random.randint(5, 20))
        self.say(f"bottled the {name}, 29 bottles")
        yield timedelta(days=1)
        self.say(f"labelled the {name}")


@pytest.mark.parametrize(
    ("zone", "seed", "settings", "batches"),
    [
        ("Europe/Berlin", 1, (), BATCHES),
        ("America/New_York", 2, ("/digest on",), BATCHES),
        ("Australia/Sydney", 3, ("/ask 18:30", "/quiet 22:00-7:00"), BATCHES),
        ("Europe/London", 4, ("/most 1", *(f"/vessel {vessel} 25 l" for *_, vessel in CROWD)), CROWD),
    ],
    ids=["default", "digest", "ask", "crowd"],
)
def test_a_year(
    tmp_path: Path, zone: str, seed: int, settings: tuple[str, ...], batches: tuple[Batch, ...]
) -> None:
    year = Year(sqlite_url(tmp_path / "house.db"), zone, seed, *settings)
    todo = [
        (NEW_YEAR + timedelta(days=start), year.batch(name, days, vessel))
        for name, start, days, vessel in batches
    ]
    while todo:
        todo.sort(key=lambda item: item[0])
        moment, chores = todo.pop(0)
        year.live_until(moment)
        if (pause := next(chores, None)) is not None:
            todo.append((home_again(year.room.now + pause), chores))
    year.live_until(NEW_YEAR + timedelta(days=365))
    assert year.proof.looks > 200
    bottled = [act for act in year.room.acts() if isinstance(act, Step) and act.step == "bottle"]
    assert {act.of for act in bottled} == {name for name, *_ in batches}
    said_as_it_should_be(year)
    what_the_log_asks_for_was_said(year)
    year.room.units.close()


def what_the_log_asks_for_was_said(year: Year) -> None:
    """Two things that the log tells without any of the bot's own reckoning: a first look two days after the yeast,
    unless it was read before; and what somebody asked to be reminded of, for the one and in the words that were
    told."""
    with year.room.units.read() as unit:
        entries = [row.entry for row in unit.log.all_entries()]
    rows = sorted(year.told.values(), key=lambda row: row.said_at, reverse=True)
    said = {(row.batch, row.step.text): row for row in rows}  # each as it was said first
    first = {(row.batch, row.due) for row in rows if row.step == ReadingKey()}
    looked_for = asked_for = 0
    for entry in entries:
        act = entry.act
        if isinstance(act, Step) and act.step == "pitch":
            look = entry.at + timedelta(hours=48)
            read = [
                e
                for e in entries
                if e.batch == entry.batch and isinstance(e.act, Gravity) and e.at > entry.at
            ]
            taken = min(e.at for e in read)
            off = any(look < back <= taken + timedelta(hours=15) for back in year.back)
            if taken > look + timedelta(hours=15) and not off:  # not by the morning after
                assert (entry.batch, look) in first, entry
                looked_for += 1
        if isinstance(act, Remind) and act.about is not None and act.until is not None:
            row = said[entry.batch or 0, f"asked {entry.entry}"]
            assert "ben" in plain(row.told), row
            assert act.about in plain(row.told), row
            assert act.until <= row.said_at, row
            asked_for += 1
    assert asked_for > 4
    assert looked_for > 0


def said_as_it_should_be(year: Year) -> None:
    """All of it once, in time, at a decent hour, and not too much on one day."""
    units, hours = year.room.units, year.hours
    with units.engine.connect() as connection:
        rows = list(connection.execute(select(ReminderLine)))
    said = [row for row in year.told.values() if row.outbox_id is not None]
    letters: dict[int, list[Any]] = {}
    for row in said:
        letters.setdefault(row.outbox_id, []).append(row)
    assert len(letters) == len(year.said) > 20
    assert max(Counter((row.batch, row.step, row.due) for row in said).values()) == 1
    assert not [row for row in rows if row.state == "planned" and row.ring_at <= year.room.now]
    days: Counter[date] = Counter()
    with units.read() as unit:
        acts = [row.entry.act for row in unit.log.all_entries()]
    named = {
        act.until for act in acts if isinstance(act, Promised) and not isinstance(act, Done)
    }  # put off until then by somebody
    for (moment, text), (_, told) in zip(year.said, sorted(letters.items()), strict=True):
        timer = "minutes are up" in text
        assert timer or not hours.quiet(moment), (moment, text)
        assert all(row.said_at == moment for row in told)
        asked_for = any(row.due in named for row in told)
        days[moment.astimezone(year.zone).date()] += not timer and not asked_for
        if moment in year.back:
            continue
        # To the minute, or gathered with what rang then: brought forward within its own day, never put back.
        assert min(abs(row.ring_at - moment) for row in told) <= timedelta(minutes=1), (moment, text)
        for row in told:
            assert moment - timedelta(minutes=1) <= row.ring_at, (moment, text)
            assert hours.same_day(row.ring_at, moment), (moment, text)
    assert max(days.values()) <= year.most_a_day
