"""Rows that an older version left in the database: what they meant they still mean, on both databases."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from importlib import import_module
from pathlib import Path
from typing import Any

import msgspec
import pytest
from alembic.migration import MigrationContext
from alembic.operations import Operations
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import text

from bot.cellar.log import due_key
from bot.cellar.log.acts import Begin, PutOff, Share, Split, Step
from bot.cellar.log.due_key import (
    AskedKey,
    ClearKey,
    CollectKey,
    ContactKey,
    DueKey,
    ReadingKey,
    StepKey,
    TasteKey,
    TemperatureKey,
    TimerKey,
    WashKey,
    is_meant,
    key_of,
)
from bot.cellar.log.lengths import KEY, VESSEL_COLUMN
from bot.cellar.plans.kits import built_in
from bot.house.home import Home
from bot.house.letters import plan
from bot.science import practice
from bot.store import database, press, refers
from bot.store.database import open_engine
from bot.store.press import (
    AddVessel,
    AnswerReminder,
    AnswerThings,
    AskWhich,
    ChooseOption,
    DropQuestion,
    EnterHouse,
    FollowPlan,
    Press,
    RemoveMember,
    SetUp,
    StrikeOut,
    TellHow,
)
from bot.store.queries.logbook import Source
from bot.store.queries.postbox import Outgoing, SentRow
from bot.store.refers import (
    Refers,
    WantsBottles,
    WantsFigures,
    WantsTemperature,
    WantsTime,
    WantsWhich,
)
from bot.store.unit import Units
from tests.house.room import Room

NOW = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)
AT = "2026-03-04T19:30:00+00:00"

PRESSES: list[tuple[dict[str, Any], Press]] = [
    ({"press": "choose", "asked": 4, "option": 1}, ChooseOption(asked=4, option=1)),
    (
        {"press": "choose", "asked": 4, "option": 0, "strikes": [7, 8]},
        ChooseOption(asked=4, option=0, strikes=(7, 8)),
    ),
    ({"press": "drop", "asked": 4}, DropQuestion(asked=4)),
    ({"press": "undo", "entries": [1, 2]}, StrikeOut(entries=(1, 2))),
    ({"press": "how", "batch": 3}, TellHow(batch=3)),
    ({"press": "follow", "batch": 3, "plan": "kit-14@2"}, FollowPlan(batch=3, plan="kit-14@2")),
    (
        {
            "press": "vessel",
            "name": "churn",
            "text": "1.05 churn",
            "message_id": 9,
            "sent_at": AT,
            "member": 1,
        },
        AddVessel(name="churn", text="1.05 churn", message_id=9, sent_at=NOW, member=1),
    ),
    ({"press": "setup", "asked": "zone"}, SetUp(asked="zone")),
    (
        {"press": "setup", "asked": "units", "choice": "litres, °C"},
        SetUp(asked="units", choice="metric"),
    ),
    (
        {"press": "setup", "asked": "units", "choice": "imperial gallons, °C"},
        SetUp(asked="units", choice="imperial"),
    ),
    ({"press": "setup", "asked": "units", "choice": "US gallons, °F"}, SetUp(asked="units", choice="us")),
    ({"press": "setup", "asked": "members"}, SetUp(asked="members")),
    ({"press": "setup", "asked": "end"}, SetUp(asked="end")),
    ({"press": "remove", "member": 2}, RemoveMember(member=2)),
    ({"press": "reminder", "id": 5, "action": "evening"}, AnswerReminder(id=5, action="evening")),
    (
        {"press": "things", "action": "done", "until": None, "ids": [5, 6]},
        AnswerThings(ids=(5, 6), action="done"),
    ),
    (
        {"press": "things", "action": "mine", "until": AT, "whom": "bo", "ids": [5]},
        AnswerThings(ids=(5,), action="mine", until=NOW, whom="bo"),
    ),
    ({"press": "which", "ids": [5, 6], "action": "later"}, AskWhich(ids=(5, 6), action="later")),
    ({"household": 2, "pending": None}, EnterHouse(household=2)),
    (
        {"household": 2, "pending": {"update_id": 7, "text": "1.05"}},
        EnterHouse(household=2, pending={"update_id": 7, "text": "1.05"}),
    ),
]
REFERS: list[tuple[dict[str, Any], Refers]] = [
    ({}, Refers()),
    (
        {"of": "plum", "entries": [3], "why": "1.05 - 1.00", "asked": "abv", "dangers": ["glass"]},
        Refers(of="plum", entries=(3,), why="1.05 - 1.00", asked="abv", dangers=("glass",)),
    ),
    (
        {"reminders": [5], "of": "plum", "step": "stabilise", "adds": ["sulphite"]},
        Refers(reminders=(5,), of="plum", step="stabilise"),
    ),
    ({"reminders": [5], "what": "asked 12"}, Refers(reminders=(5,), wish=12)),
    (
        {"of": "plum", "entries": [3], "wants": "bottles"},
        Refers(of="plum", entries=(3,), wants=WantsBottles()),
    ),
    ({"of": "plum", "wants": "temperature"}, Refers(of="plum", wants=WantsTemperature())),
    (
        {"wants": "when", "text": "remind me to buy corks", "member": 1},
        Refers(wants=WantsTime(text="remind me to buy corks", member=1)),
    ),
    (
        {
            "of": "plum",
            "asked": "reckon",
            "wants": "sum",
            "sum": {"reckon": "abv", "given": {"og": 1.08, "colour": "red"}, "of": "plum", "keys": ["fg"]},
            "member": 1,
        },
        Refers(
            of="plum",
            asked="reckon",
            wants=WantsFigures(
                reckon="abv", given={"og": 1.08, "colour": "red"}, of="plum", keys=("fg",), member=1
            ),
        ),
    ),
    (
        {"reminders": [5, 6], "pending": "mine", "asked_until": AT, "whom": "bo", "among": [5, 6, 7]},
        Refers(reminders=(5, 6), among=(5, 6, 7), wants=WantsWhich(action="mine", until=NOW, whom="bo")),
    ),
    ({"lacked": "buy corks", "of": "plum"}, Refers(of="plum", lacked="buy corks")),
]
KEYS: list[tuple[str, DueKey]] = [
    ("stabilise", StepKey(step="stabilise")),
    ("first_rack", StepKey(step="first_rack")),
    ("gravity_2", StepKey(step="gravity_2")),
    ("reading", ReadingKey()),
    ("watch reading", ReadingKey(level="watch")),
    ("asked 12", AskedKey(entry=12)),
    ("claimer asked 12", AskedKey(entry=12, level="claimer")),
    ("timer 12", TimerKey(entry=12)),
    ("contact 12", ContactKey(entry=12)),
    ("wash 12 bucket 2", WashKey(entry=12, vessel="bucket 2")),
    ("all wash 12 bucket 2", WashKey(entry=12, vessel="bucket 2", level="all")),
    ("temperature 12", TemperatureKey(entry=12)),
    ("clear", ClearKey()),
    ("clear rack_2", ClearKey(step="rack_2")),
    ("claimer clear", ClearKey(level="claimer")),
    ("collect", CollectKey()),
    ("taste 91", TasteKey(days=91)),
    ("matters bottle", StepKey(step="bottle", level="matters")),
]


@pytest.fixture
def units(url: str) -> Iterator[Units]:
    units = Units(open_engine(url))
    yield units
    units.close()


def kept_as(units: Units, letter: Outgoing, **columns: object) -> tuple[SentRow | None, Any]:
    """The letter, after its columns were written over as the database holds them, and as they are then."""
    with units.begin() as unit:
        number = unit.post.post(None, letter, NOW)
        for name, plain in columns.items():
            statement = text(f"UPDATE outbox SET {name} = :plain WHERE id = :id")
            unit.post.connection.execute(statement, {"plain": json.dumps(plain), "id": number})
    with units.read() as unit:
        found = unit.post.letter(None, letter.chat_id, number)
        (unsent,) = [row.buttons for row in unit.post.unsent() if row.id == number]
    return found, unsent


def test_buttons_of_before_do_what_they_did(units: Units) -> None:
    plain = [[f"button {number}", before] for number, (before, _) in enumerate(PRESSES)]
    found, unsent = kept_as(units, Outgoing(chat_id=1, html="x"), buttons=plain)
    assert found is not None
    assert [does for _, does in found.buttons] == [now for _, now in PRESSES]
    assert [label for label, _ in unsent] == [label for label, _ in plain]
    assert {type(does) for _, does in PRESSES} == set(Press.__args__), "a row of every kind"


def test_letters_of_before_are_about_what_they_were(units: Units) -> None:
    for before, now in REFERS:
        found, _ = kept_as(units, Outgoing(chat_id=1, html="x"), refers=before)
        assert found is not None
        assert found.refers == now


def test_buttons_and_subjects_come_back_as_they_went_in(units: Units) -> None:
    buttons = tuple((f"button {number}", does) for number, (_, does) in enumerate(PRESSES))
    for _, about in REFERS:
        found, _ = kept_as(units, Outgoing(chat_id=1, html="x", buttons=buttons, refers=about))
        assert found is not None
        assert (found.buttons, found.refers) == (buttons, about)


def test_what_no_version_wrote_is_refused() -> None:
    with pytest.raises(msgspec.ValidationError):
        press.from_plain([["x", {"press": "undo", "entries": "all"}]])
    with pytest.raises(msgspec.ValidationError):
        refers.from_plain({"reminders": ["one"]})


@pytest.mark.parametrize(("before", "key"), KEYS)
def test_keys_of_before_are_the_keys_of_now(before: str, key: DueKey) -> None:
    assert key_of(before) == key
    assert key.text == before


def test_reminders_of_before_are_read_under_their_keys(units: Units) -> None:
    with units.begin() as unit:
        house = unit.households.add("home", NOW, timezone="UTC")
        for number, (_, key) in enumerate(KEYS):
            at = NOW + timedelta(minutes=number)
            unit.reminders.plan(house.id, 1, key, at, at, "planned")
        rows = unit.reminders.connection.execute(text("SELECT step FROM reminders ORDER BY id")).scalars()
        assert list(rows) == [before for before, _ in KEYS]
        assert [row.key for row in unit.reminders.standing(house.id)] == [key for _, key in KEYS]


def test_every_key_is_one_of_every_kind_and_no_step_of_a_plan_is_taken_for_another() -> None:
    assert {type(key) for _, key in KEYS} == set(DueKey.__args__)
    chores = {step.id for kit in built_in() for step in kit.steps if step.does is not None}
    assert all(key_of(one) == StepKey(step=one) for one in chores)


LETTERS = st.characters(codec="utf-8", exclude_characters="\x00\n~")
VESSEL_NAMES = st.one_of([st.text(LETTERS, min_size=size, max_size=90) for size in (1, 35, 60)])
ENDS = st.text(LETTERS, max_size=9)
TWINS = st.tuples(st.text(LETTERS, min_size=40, max_size=60), ENDS, ENDS)


@given(
    st.one_of(st.tuples(VESSEL_NAMES, VESSEL_NAMES), TWINS.map(lambda t: (t[0] + t[1], t[0] + t[2]))),
    st.integers(1, 10**9),
    st.sampled_from(["first", "claimer", "matters"]),
)
def test_no_two_vessels_share_a_key(names: tuple[str, str], entry: int, level: due_key.Level) -> None:
    one, other = names
    keys = [msgspec.structs.replace(WashKey.of(entry, name), level=level) for name in (one, other)]
    assert (keys[0] == keys[1]) == (one == other) == (keys[0].text == keys[1].text)
    assert all(len(key.text) <= KEY for key in keys)
    assert [key_of(key.text) for key in keys] == keys


@given(VESSEL_NAMES, st.integers(1, 10**6))
def test_an_answer_of_before_about_a_vessel_of_a_long_name_still_counts(name: str, entry: int) -> None:
    cut = f"wash {entry} {name}"[:50]
    assert is_meant(cut, WashKey.of(entry, name))
    assert not is_meant(cut, WashKey.of(entry + 1, name))


LONG = "the big glass jar behind the stairs that Ana's aunt gave us"
TWIN = "the big glass jar behind the stairs that Ana's aunt gave me"
VERSIONS = Path(database.__file__).parent / "migrations" / "versions"
SOURCE = Source(chat_id=-5, message_id=7, update_id=None)


def cut(key: str) -> str:
    """The key as it was written before: with the vessel's name cut."""
    level, _, thing = key.rpartition("wash ")
    entry = thing.partition(" ")[0]
    name = next(name for name in (LONG, TWIN) if WashKey.of(int(entry), name).text == f"wash {thing}")
    return f"{level}{f'wash {entry} {name}'[:50]}"


@pytest.mark.parametrize("answered", [False, True])
def test_what_was_said_before_is_not_said_again(url: str, *, answered: bool) -> None:
    """A vessel of a long name stands empty; the old version said so, or put it off. The new one takes over."""
    assert len(LONG) <= VESSEL_COLUMN
    room = Room(Units(open_engine(url)))
    room.say("hello all")
    with room.units.begin() as unit:
        row = unit.households.of_chat(-5)
        assert row is not None
        home = Home(unit, unit.households.lock(row.id), room.now)
        (ana,) = home.members
        home.add_vessel(LONG)
        begun = home.write(
            Begin(of="plum", name="plum", litres=20, days=14, vessel=LONG), ana, SOURCE, said_at=room.now
        )
        racked = home.write(
            Step(step="rack", of="plum", to="bucket 2"), ana, SOURCE, said_at=room.now, batch=begun.entry
        )
        plan.replan(home)
    room.now += practice.WASH_AFTER.value + timedelta(hours=13)  # the morning after
    room.desk.wake(room.now)
    (letter,) = [letter for letter in room.deliver() if "behind the stairs" in letter.html]
    old = f"wash {racked.entry} {LONG}"[:50]
    with room.units.begin() as unit:
        home = Home(unit, unit.households.lock(row.id), room.now)
        if answered:
            later = PutOff(of=LONG, what=old, until=room.now + timedelta(hours=5))
            home.write(later, ana, SOURCE, said_at=room.now)
            plan.replan(home)
    with room.units.begin() as unit:
        run = unit.people.connection.execute
        for number, key in list(run(text("SELECT id, step FROM reminders WHERE step LIKE '%wash %'"))):
            run(text("UPDATE reminders SET step = :step WHERE id = :id"), {"step": cut(key), "id": number})
        before = list(run(text("SELECT state, due FROM reminders WHERE step LIKE '%wash %' ORDER BY id")))
    with room.units.engine.begin() as connection, Operations.context(MigrationContext.configure(connection)):
        (whole_keys,) = VERSIONS.glob("*_whole_keys.py")
        import_module(f"bot.store.migrations.versions.{whole_keys.stem}").upgrade()
    room.units.close()
    room = room_on(url, room)
    assert room.text("sg 1.050 plum")  # everything is planned anew
    with room.units.begin() as unit:
        run = unit.people.connection.execute
        rows = list(run(text("SELECT step, state, due FROM reminders WHERE step LIKE '%wash %' ORDER BY id")))
    assert [(state, due) for _, state, due in rows] == before
    assert {key_of(step).base for step, _, _ in rows} == {WashKey.of(racked.entry, LONG)}
    said = []
    for _ in range(3 * 24):
        room.now += timedelta(hours=1)
        room.desk.wake(room.now)
        said += [found for found in room.deliver() if "behind the stairs" in found.html and not found.edits]
    assert len(said) == (1 if answered else 0), "once more where that was asked for, else never"
    assert letter.buttons
    room.units.close()


def test_two_vessels_of_nearly_one_name_are_both_brought_up(url: str) -> None:
    room = Room(Units(open_engine(url)))
    room.say("hello all")
    with room.units.begin() as unit:
        row = unit.households.of_chat(-5)
        assert row is not None
        home = Home(unit, unit.households.lock(row.id), room.now)
        (ana,) = home.members
        for vessel in (LONG, TWIN):
            home.add_vessel(vessel)
        begun = home.write(
            Begin(of="plum", name="plum", litres=20, days=14, vessel=LONG), ana, SOURCE, said_at=room.now
        )
        shared = Split(of="plum", into=(Share(vessel=LONG, litres=10), Share(vessel=TWIN, litres=10)))
        home.write(shared, ana, SOURCE, said_at=room.now, batch=begun.entry)
        bottled = Step(step="bottle", of="plum", bottles=25)
        home.write(bottled, ana, SOURCE, said_at=room.now, batch=begun.entry)
        plan.replan(home)
    room.now += practice.WASH_AFTER.value + timedelta(hours=13)
    room.desk.wake(room.now)
    told = "\n".join(letter.html for letter in room.deliver())
    assert "gave us" in told
    assert "gave me" in told
    room.units.close()


def room_on(url: str, room: Room) -> Room:
    """The same room after a restart."""
    again = Room(Units(open_engine(url)))
    again.number, again.now, again.message_of = room.number + 100, room.now, room.message_of
    return again
