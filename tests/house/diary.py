"""One person of a house who imports every calendar file into their own calendar."""

from datetime import datetime
from typing import Any

import vobject
from sqlalchemy import select

from bot.house.home import Home
from bot.house.letters.calendar import wanted_in
from bot.say.manner import plain
from bot.store.tables import CalendarLine, ReminderLine
from tests.house.room import Room


class PeoplesCalendar:
    """What RFC 5546 asks of a calendar that files are imported into: of each UID the highest SEQUENCE counts (the
    later DTSTAMP among equals), and what is cancelled is taken out."""

    def __init__(self) -> None:
        self.events: dict[str, Any] = {}

    def take(self, content: bytes) -> None:
        whole = vobject.readOne(content.decode())
        whole.validate(raiseException=True)
        uids = [event.uid.value for event in whole.vevent_list]
        assert len(set(uids)) == len(uids)
        for event in whole.vevent_list:
            before = self.events.get(event.uid.value)
            if before is None or _version(event) >= _version(before):
                if before is not None and _version(event)[0] == _version(before)[0]:
                    assert _said(event) == _said(before), "changed, and the sequence is the same"
                self.events[event.uid.value] = event

    def entries(self, now: datetime) -> list[tuple[str, datetime]]:
        """What is still to come in it: summaries and starts."""
        coming = [e for e in self.events.values() if e.status.value != "CANCELLED" and e.dtstart.value > now]
        return sorted((event.summary.value, event.dtstart.value) for event in coming)

    def shown(self, now: datetime) -> dict[str, datetime]:
        return dict(self.entries(now))


def _version(event: Any) -> tuple[int, datetime]:
    return int(event.sequence.value), event.dtstamp.value


def _said(event: Any) -> list[object]:
    return [event.dtstart.value, event.dtend.value, event.summary.value, event.status.value]


LEAFLET = "leaflet for elder: Day 1 add sachet A, stir. Day 7 when 0.996 or less add B and C. Day 20 bottle"
NO_DATES = ("contact", "watch", "claimer", "all", "matters")
"""Timers, and what is only said again."""


class Diary:
    """A room with one person who imports every file."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.calendar = PeoplesCalendar()

    def ask(self, text: str = "calendar", **changes: object) -> tuple[str, bytes | None]:
        """The words that come back, and what is in the file."""
        self.room.desk.handle(self.room.incoming(text, **changes), self.room.now)
        (letter,) = self.room.desk.unsent(self.room.now)
        make = self.room.desk.file(letter.letter_id)
        content = make() if make is not None else None
        assert (content is None) == (letter.file is None)
        self.room.deliver()
        if content is not None:
            self.calendar.take(content)
        return plain(letter.html), content

    def wanted(self) -> list[tuple[str, datetime]]:
        """What is to come by the log."""
        with self.room.units.begin() as unit:
            row = unit.households.of_chat(-5)
            assert row is not None
            found = wanted_in(Home(unit, unit.households.lock(row.id), self.room.now))
        return sorted((d.summary, d.start) for d in found.values() if d.start > self.room.now)

    def agrees(self) -> None:
        """After one more file, the calendar shows just that."""
        self.ask()
        assert self.calendar.entries(self.room.now) == self.wanted()

    def rings_as_it_says(self) -> int:
        """What is planned to be said stands in the calendar at that very minute; returns how many there are."""
        with self.room.units.engine.connect() as connection:
            dates = {(row.batch, row.step.text): row for row in connection.execute(select(CalendarLine))}
            planned = connection.execute(
                select(ReminderLine).where(
                    ReminderLine.state == "planned", ReminderLine.ring_at > self.room.now
                )
            )
            rows = [row for row in planned if row.step.text.partition(" ")[0] not in NO_DATES]
        for row in rows:
            date = dates[row.batch, row.step.text]
            assert not date.cancelled
            assert date.start == row.ring_at.replace(second=0, microsecond=0), (row, date)
        return len(rows)

    def sequences(self) -> dict[str, int]:
        with self.room.units.engine.connect() as connection:
            return {row.step.text: row.sequence for row in connection.execute(select(CalendarLine))}


def begin(room: Room, name: str = "plum", vessel: str = "bucket 2", days: int = 14) -> None:
    room.say(f"new batch: {name}, red, 23 l in {vessel}, {days} day kit")
    for text in (f"sanitised {vessel}", f"mixed the {name}", f"sg 1.080 {name}", f"pitched the {name}"):
        room.say(text)
