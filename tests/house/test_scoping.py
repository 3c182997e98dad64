"""Nothing of one household is seen or changed from another: every query of the store, and every button."""

import inspect
import re
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import msgspec
import pytest
from sqlalchemy import text

from bot.cellar.log.acts import Gravity, Note
from bot.cellar.log.due_key import StepKey
from bot.store.database import open_engine, sqlite_url
from bot.store.queries import (
    calendar,
    households,
    logbook,
    people,
    postbox,
    questions,
    reminders,
    retention,
    work,
)
from bot.store.queries.calendar import DateRow
from bot.store.queries.logbook import Source
from bot.store.queries.people import MemberRow
from bot.store.queries.postbox import File, Outgoing
from bot.store.unit import Unit, Units
from tests.house.room import NOW, Room

OURS, THEIRS = -5, -6
LATER = NOW + timedelta(days=9)


@pytest.fixture(params=["sqlite", "postgresql"])
def rooms(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Room]:
    """Two households with a row in every table; the second one's are what must not be touched."""
    url = (
        sqlite_url(tmp_path / "house.db")
        if request.param == "sqlite"
        else request.getfixturevalue("postgres")
    )
    room = Room(Units(open_engine(url)))
    for chat in (OURS, THEIRS):
        room.say("new batch: plum, red, 23 l in bucket 2, 14 day kit", chat_id=chat)
        room.say("new batch: pear, white, 10 l in bucket 1, 7 day kit", chat_id=chat)
        room.say("added 40 campden tablets to plum", chat_id=chat)
        room.say("sanitised bucket 3", chat_id=chat)
        room.say("/invite", chat_id=chat)
        room.say("calendar", chat_id=chat)
        room.desk.handle(room.incoming("sg 1.080 plum", chat_id=chat), room.now)
    yield room
    room.units.close()


def ids(unit: Unit, table: str) -> tuple[int, int]:
    """The latest row of our household in a table, and of theirs."""
    connection = unit.people.connection
    query = text(f"SELECT max(id) FROM {table} WHERE household_id = :household")
    ours, theirs = (connection.execute(query, {"household": house}).scalar_one() for house in houses(unit))
    return ours, theirs


def houses(unit: Unit) -> tuple[int, int]:
    found = [unit.households.of_chat(chat) for chat in (OURS, THEIRS)]
    assert found[0] is not None
    assert found[1] is not None
    return found[0].id, found[1].id


def member_of(unit: Unit, household_id: int) -> MemberRow:
    return unit.people.members(household_id)[0]


def everything_of(unit: Unit, household_id: int) -> dict[str, list[Any]]:
    """Every row of a household."""
    found = {}
    for table in (
        "members",
        "vessels",
        "log",
        "asked",
        "outbox",
        "reminders",
        "chats",
        "invites",
        "calendar",
    ):
        rows = unit.people.connection.execute(
            text(f"SELECT * FROM {table} WHERE household_id = :household ORDER BY 1"),
            {"household": household_id},
        )
        found[table] = [tuple(row) for row in rows]
        assert found[table], f"the test must have something in {table}"
    rows = unit.people.connection.execute(
        text(
            "SELECT attachments.* FROM attachments JOIN outbox ON outbox.id = attachments.outbox_id "
            "WHERE outbox.household_id = :household ORDER BY 1"
        ),
        {"household": household_id},
    )
    found["attachments"] = [tuple(row) for row in rows]
    assert len(found["attachments"]) == 1, "one whose letter has left"
    rows = unit.people.connection.execute(
        text("SELECT * FROM households WHERE id = :household"), {"household": household_id}
    )
    return found | {"households": [tuple(row) for row in rows]}


class Ask:
    """What each query is asked, from our household, about the other one's rows."""

    def __init__(self, unit: Unit) -> None:
        self.unit = unit
        self.ours, self.theirs = houses(unit)
        self.entry = ids(unit, "log")[1]
        self.letter = ids(unit, "outbox")[1]
        self.asked = ids(unit, "asked")[1]
        self.reminder = ids(unit, "reminders")[1]
        row = unit.reminders.reminder(self.theirs, self.reminder)
        assert row is not None
        self.row, self.due = row, row.due
        unit.reminders.said(self.theirs, [msgspec.structs.replace(row, said_at=NOW)], self.letter)
        self.member = member_of(unit, self.theirs)
        connection = unit.people.connection
        self.message = connection.execute(
            text("SELECT message_id FROM log WHERE id = :id"), {"id": self.entry}
        ).scalar_one()
        self.sent_as = connection.execute(
            text("SELECT max(sent_as) FROM outbox WHERE household_id = :house"), {"house": self.theirs}
        ).scalar_one()
        self.source = Source(chat_id=OURS, message_id=1, update_id=None)
        self.date: DateRow = unit.calendar.given(self.theirs)[0]
        file = File(name="x.ics", media_type="text/calendar", kind="calendar", content=b"x")
        self.with_file = Outgoing(chat_id=OURS, html="x", file=file)

    def queries(self) -> dict[str, Callable[[], Any]]:
        """By name; each gives nothing, or changes nothing of theirs."""
        unit, ours, theirs = self.unit, self.ours, self.theirs
        me = member_of(unit, ours)
        return {
            "log.entries_of_message": lambda: unit.log.entries_of_message(ours, THEIRS, self.message),
            "log.sources": lambda: unit.log.sources(ours, [self.entry]),
            "log.entries": lambda: [e for e in unit.log.entries(ours) if e.entry == self.entry],
            "log.kept": lambda: [
                e for e in unit.log.kept(ours, {me.id: "x"}).entries if e.entry == self.entry
            ],
            "log.now": lambda: [e for e in unit.log.now(ours).entries if e.entry == self.entry],
            "log.write": lambda: (
                unit.log.write(ours, Note(text="x"), me, self.source, said_at=NOW, at=NOW).entry == self.entry
            ),
            "log.ascribe": lambda: unit.log.ascribe(ours, {self.entry: 1}),
            "people.member": lambda: unit.people.member(ours, 99),
            "people.everybody": lambda: [m for m in unit.people.everybody(ours) if m.id == self.member.id],
            "people.members": lambda: [m for m in unit.people.members(ours) if m.id == self.member.id],
            "people.add_member": lambda: unit.people.add_member(ours, 77, "zoe", NOW).id == self.member.id,
            "people.change_member": lambda: unit.people.change_member(ours, self.member.id, state="removed"),
            "people.invite": lambda: unit.people.invite(ours, "code", LATER, me),
            "people.end_invites": lambda: unit.people.end_invites(ours, [self.member.id]),
            "people.vessels": lambda: [v for v in unit.people.vessels(ours) if v.name == "theirs"],
            "people.add_vessel": lambda: unit.people.add_vessel(ours, "bucket 99"),
            "questions.ask": lambda: (
                unit.questions.ask(ours, self.source, me, [[Gravity(sg=1.05)]], said_at=NOW, until=LATER)
                == self.asked
            ),
            "questions.open": lambda: unit.questions.open(ours, THEIRS, NOW),
            "questions.question": lambda: unit.questions.question(ours, self.asked, NOW),
            "questions.close": lambda: unit.questions.close(ours, self.asked, NOW),
            "questions.close_all": lambda: unit.questions.close_all(ours, THEIRS, self.member, NOW),
            "questions.close_asked": lambda: unit.questions.close_asked(ours, THEIRS, self.message, NOW),
            "post.letter": lambda: unit.post.letter(ours, THEIRS, self.letter),
            "post.sent_message": lambda: unit.post.sent_message(ours, THEIRS, self.sent_as),
            "post.message_of": lambda: unit.post.message_of(ours, self.letter),
            "post.rewrite": lambda: unit.post.rewrite(ours, self.letter, Outgoing(chat_id=THEIRS, html="x")),
            "post.latest": lambda: unit.post.latest(ours, THEIRS),
            "post.was_let_go": lambda: unit.post.was_let_go(ours, THEIRS, self.sent_as),
            "post.answer_to": lambda: unit.post.answer_to(ours, THEIRS, self.message),
            "post.refers_since": lambda: unit.post.refers_since(ours, THEIRS, NOW - timedelta(days=9)),
            "post.supersede": lambda: unit.post.supersede(ours, THEIRS, self.sent_as, NOW),
            "post.withdraw": lambda: unit.post.withdraw(ours, THEIRS, NOW),
            "post.post": lambda: unit.post.post(ours, self.with_file, NOW) == self.letter,
            "calendar.given": lambda: [d for d in unit.calendar.given(ours) if d.uid == self.date.uid],
            "calendar.add": lambda: unit.calendar.add(
                ours, msgspec.structs.replace(self.date, step=StepKey(step="another"))
            ),
            "calendar.change": lambda: unit.calendar.change(
                ours, msgspec.structs.replace(self.date, sequence=99)
            ),
            "reminders.standing": lambda: [
                r for r in unit.reminders.standing(ours, [self.due]) if r.household_id != ours
            ],
            "reminders.asked": lambda: [r for r in unit.reminders.asked(ours) if r.household_id != ours],
            "reminders.said_since": lambda: unit.reminders.said_since(ours, NOW - timedelta(days=99)),
            "reminders.reminder": lambda: unit.reminders.reminder(ours, self.reminder),
            "reminders.plan": lambda: unit.reminders.plan(ours, 0, StepKey(step="x"), NOW, NOW, "planned"),
            "reminders.forget": lambda: unit.reminders.forget(ours, [self.reminder]),
            "reminders.mark": lambda: unit.reminders.mark(ours, self.reminder, "answered"),
            "reminders.ring_at": lambda: unit.reminders.ring_at(ours, self.reminder, LATER),
            "reminders.said": lambda: unit.reminders.said(ours, [self.row], self.letter),
            "reminders.unsay": lambda: unit.reminders.unsay(ours, self.letter),
            "reminders.in_letter": lambda: unit.reminders.in_letter(ours, self.letter),
            "households.lock": lambda: unit.households.lock(ours).id == theirs,
            "households.settle": lambda: unit.households.settle(ours, timezone="Asia/Tokyo"),
            "households.add_chat": lambda: unit.households.add_chat(ours, -77, private=False),
            "households.leave_chat": lambda: unit.households.leave_chat(ours, THEIRS),
            "households.main_chat": lambda: unit.households.main_chat(ours) == THEIRS,
            "households.talks_in": lambda: unit.households.talks_in(ours, THEIRS),
        }


AT_THE_DOOR = {
    "log.all_entries",  # for `bucketside log`, on the machine itself
    "log.shelve",
    "people.invited_to",  # opened by its secret code
    "post.take_in",  # the inbox and the outbox as the edges see them: by the platform's ids, for all
    "post.begin_update",
    "post.end_update",
    "post.waiting",
    "post.unsent",
    "retention.tidy",  # what has had its time, for all; and for `bucketside forget`, on the machine itself
    "retention.forget",
    "post.file",
    "post.mark_sent",
    "post.refuse",
    "post.said_at_door",
    "post.held_until",
    "work.claim",
    "work.next_try",
    "work.put_off",
    "work.put_off_letter",
    "work.let_go",
    "work.hold",
    "work.prove",
    "reminders.households_ringing",
    "reminders.next_ring",
    "households.chat",  # who a chat belongs to is where every household begins
    "households.of_chat",
    "households.of_person",
    "households.add",
    "households.founded_since",
    "households.named",  # for `bucketside forget`
    "households.mark_chat",
    "households.move_chat",
}
"""Not asked by a member: what finds the household, and what works for all of them."""


def test_every_query_is_asked() -> None:
    classes = {
        "log": logbook.Logbook,
        "people": people.People,
        "questions": questions.Questions,
        "post": postbox.Postbox,
        "work": work.Work,
        "reminders": reminders.Reminders,
        "calendar": calendar.Calendar,
        "retention": retention.Retention,
        "households": households.Households,
    }
    public = {
        f"{part}.{name}"
        for part, kind in classes.items()
        for name, _ in inspect.getmembers(kind, inspect.isfunction)
        if not name.startswith("_")
    }
    assert classes.keys() == set(Unit.__init__.__code__.co_names) & classes.keys()
    asked = _names()
    assert public == asked | AT_THE_DOOR
    assert not asked & AT_THE_DOOR


def _names() -> set[str]:
    return set(re.findall(r'"(\w+\.\w+)": lambda', inspect.getsource(Ask.queries)))


@pytest.mark.parametrize("name", sorted(_names()))
def test_no_query_sees_or_changes_another_household(rooms: Room, name: str) -> None:
    with rooms.units.begin() as unit:
        ask = Ask(unit)
        unit.log.kept(ask.ours, {m.id: m.name for m in unit.people.everybody(ask.ours)})
        before = everything_of(unit, ask.theirs)
        found = ask.queries()[name]()
        assert not found, f"{name} gave {found!r}"
        assert everything_of(unit, ask.theirs) == before


def test_no_button_of_another_household_does_anything(rooms: Room) -> None:
    with rooms.units.read() as unit:
        _, theirs = houses(unit)
        before = everything_of(unit, theirs)
        newest = ids(unit, "outbox")[1]
    for letter in range(newest + 2):
        for number in range(4):
            for where in (
                {},
                {"chat_id": 1, "private": True},
                {"chat_id": 9, "private": True, "sender_id": 9},
            ):
                rooms.say(press=f"{letter}:{number}", **({"chat_id": OURS} | where))
    with rooms.units.read() as unit:
        after = everything_of(unit, theirs)
    # What waited for their chat was sent meanwhile; nothing else of theirs changed.
    del before["outbox"], after["outbox"]
    assert after == before
