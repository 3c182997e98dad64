"""Logs of earlier versions: one word for all that is said of reminders, one form for every question. They are read, come
to the same and are printed as ever; what is written now is an act that says one thing."""

import json
from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Any, get_args

import pytest
from sqlalchemy import insert, select

from bot.cellar.batch.clearing import found_clear
from bot.cellar.home.due import Due, due_for, due_for_house
from bot.cellar.log.acts import (
    Act,
    Done,
    Look,
    Promised,
    PutOff,
    Question,
    Remind,
    TakeOn,
    Timer,
)
from bot.cellar.log.fold import fold
from bot.cellar.log.plain import from_plain, to_plain, to_row
from bot.cellar.log.subjects import (
    BottlesToCome,
    Compare,
    FermentRange,
    Input,
    IsAllRight,
    IsFinished,
    IsSafe,
    IsStuck,
    LitresLeft,
    Lore,
    Matter,
    Named,
    NextReading,
    Occasion,
    Plans,
    Reckon,
    Safety,
    Shopping,
    Subject,
    Vessels,
    WasDone,
    Wish,
)
from bot.store.database import open_engine
from bot.store.queries.logbook import Source
from bot.store.tables import Asked, LogLine
from bot.store.unit import Units
from tests.cellar.batches import hours

NOW = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)
SOURCE = Source(chat_id=-1, message_id=7, update_id=7)
THEN, ISO = datetime(2026, 3, 6, 9, 0, tzinfo=UTC), "2026-03-06T09:00:00+00:00"

# A row as it was written, without its `do`, and the act that it is.
REMINDERS: list[tuple[dict[str, Any], Promised]] = [
    ({"of": None, "action": "later", "until": ISO, "about": "buy corks", "whom": "bo"}, Remind(until=THEN, about="buy corks", whom="bo")),
    ({"of": "plum", "action": "later", "until": ISO, "step": "rack", "about": "rack it"}, Remind(of="plum", until=THEN, step="rack", about="rack it")),
    ({"of": "plum", "action": "later", "until": ISO, "step": "rack", "whom": "bo"}, Remind(of="plum", until=THEN, step="rack", whom="bo")),
    ({"of": "plum", "action": "later", "until": ISO}, Remind(of="plum", until=THEN)),
    ({"of": None, "action": "later"}, Remind()),
    ({"of": "plum", "action": "later", "until": ISO, "step": "rack"}, PutOff(of="plum", until=THEN, step="rack")),
    ({"of": "plum", "action": "later", "until": ISO, "step": "rack", "what": "first_rack"}, PutOff(of="plum", until=THEN, step="rack", what="first_rack")),
    ({"of": "plum", "action": "later", "until": ISO, "what": "asked 3"}, PutOff(of="plum", until=THEN, what="asked 3")),
    ({"of": "plum", "action": "later", "until": ISO, "what": "clear"}, PutOff(of="plum", until=THEN, what="clear")),
    ({"of": "bucket 2", "action": "later", "until": ISO, "what": "wash 4 bucket 2"}, PutOff(of="bucket 2", until=THEN, what="wash 4 bucket 2")),
    ({"of": "plum", "action": "mine", "until": ISO, "step": "rack"}, TakeOn(of="plum", until=THEN, step="rack")),
    ({"of": "plum", "action": "mine", "step": "rack", "what": "rack", "whom": "bo"}, TakeOn(of="plum", step="rack", what="rack", whom="bo")),
    ({"of": "plum", "action": "mine", "what": "reading"}, TakeOn(of="plum", what="reading")),
    ({"of": "plum", "action": "done", "what": "collect"}, Done(of="plum", what="collect")),
    ({"of": None, "action": "done", "step": "rack", "what": "asked 3"}, Done(step="rack", what="asked 3")),
    ({"of": "plum", "action": "done", "what": "degas"}, Done(of="plum", what="degas")),
    ({"of": "plum", "action": "done", "step": "degas"}, Done(of="plum", step="degas")),
    ({"of": "plum", "action": "done", "what": "clear"}, Look(of="plum", what="clear", found="clear")),
    ({"of": "plum", "action": "done", "what": "clear last_rack"}, Look(of="plum", what="clear last_rack", found="clear")),
    ({"of": "plum", "action": "later", "until": ISO, "what": "clear", "about": "cloudy"}, Look(of="plum", what="clear", found="cloudy", until=THEN)),
    ({"of": "plum", "action": "later", "until": ISO, "step": "degas", "what": "timer"}, Timer(of="plum", step="degas", until=THEN)),
]  # fmt: skip

WISHED = {"bottles": 40, "by": "2026-06-12", "colour": "white", "days": None}
QUESTIONS: list[tuple[dict[str, Any], Subject]] = [
    *(({"about": name}, Matter(about=name)) for name in get_args(Named)),
    (
        {"about": "reckon", "reckon": "sulphite", "given": {"ph": 3.4, "colour": "red"}, "unused": ["3 friends"]},
        Reckon(sum="sulphite", inputs=(Input(key="ph", value=3.4), Input(key="colour", value="red")), unused=("3 friends",)),
    ),
    ({"about": "reckon", "reckon": "bottles", "given": {}}, Reckon(sum="bottles")),
    ({"about": "temperature", "given": {"wanted": "range"}}, FermentRange()),
    ({"about": "stock", "given": {"wanted": "litres"}}, LitresLeft()),
    ({"about": "stock", "given": {"wanted": "litres", "vessel": "bucket 2"}}, LitresLeft(vessel="bucket 2")),
    ({"about": "stock", "given": {"wanted": "expected"}}, BottlesToCome()),
    ({"about": "finish_time", "verdict": "finished"}, IsFinished()),
    ({"about": "finish_time", "given": {"asked": "stopped"}, "verdict": "finished"}, IsFinished(stopped=True)),
    ({"about": "stage", "verdict": "all_right"}, IsAllRight()),
    ({"about": "stage", "verdict": "stuck"}, IsStuck()),
    ({"about": "stage", "given": {"asked": "help"}, "verdict": "stuck"}, IsStuck(restart=True)),
    ({"about": "stage", "given": {"asked": "drink"}, "verdict": "safe"}, IsSafe(drink=True)),
    ({"about": "stage", "given": {"asked": "other"}, "verdict": "safe"}, IsSafe(drink=False)),
    ({"about": "vessels"}, Vessels()),
    ({"about": "vessels", "given": {"vessel": "bucket 2"}}, Vessels(vessel="bucket 2")),
    ({"about": "plans"}, Plans()),
    ({"about": "plans", "given": {"plan": "elder"}}, Plans(plan="elder")),
    ({"about": "occasion", "wishes": [WISHED]}, Occasion(wishes=(Wish(bottles=40, by=date(2026, 6, 12), colour="white"),))),
    ({"about": "safety", "given": {"topic": "bursting"}}, Safety(topic="bursting")),
    ({"about": "vessels", "given": {"wanted": "free"}}, Vessels(free=True)),
    ({"about": "craft", "given": {"topic": "haze"}}, Lore(topic="haze")),
    ({"about": "next", "given": {"wanted": "reading"}}, NextReading()),
    ({"about": "overview", "given": {"wanted": "compare"}}, Compare()),
    ({"about": "overview", "given": {"wanted": "compare", "other": "white"}}, Compare(other="white")),
    ({"about": "stage", "given": {"wanted": "done"}}, WasDone()),
    ({"about": "stage", "given": {"wanted": "done", "step": "rack"}}, WasDone(step="rack")),
    ({"about": "next", "given": {"wanted": "shopping"}}, Shopping()),
]  # fmt: skip

OLD: list[tuple[dict[str, Any], Act]] = [
    *(({"do": "reminder", **row}, act) for row, act in REMINDERS),
    *(
        ({"do": "question", "of": of, **row}, Question(of=of, subject=subject))
        for row, subject in QUESTIONS
        for of in (None, "plum")
    ),
]


@pytest.fixture
def units(url: str) -> Iterator[Units]:
    units = Units(open_engine(url))
    yield units
    units.close()


def write_old(units: Units, rows: Sequence[tuple[float, int | None, dict[str, Any]]]) -> int:
    """A household with these rows in its log: hours after its beginning, batch, and the act as it stands there."""
    with units.begin() as unit:
        house = unit.households.add("home", NOW, timezone="UTC")
        ana = unit.people.add_member(house.id, 1, "ana", NOW)
        where = {"household_id": house.id, "member_id": ana.id, "chat_id": -1, "message_id": 7}
        for at, batch, act in rows:
            when = {"said_at": hours(at), "at": hours(at)}
            unit.log.connection.execute(insert(LogLine).values(**where, **when, batch=batch, act=act))
    return house.id


def test_every_form_is_there() -> None:
    assert {type(act) for _, act in REMINDERS} == set(get_args(Promised))
    assert {type(subject) for _, subject in QUESTIONS} == set(get_args(Subject))


def test_old_rows_are_lifted_and_printed_as_they_were(units: Units) -> None:
    house = write_old(units, [(0, None, row) for row, _ in OLD])
    with units.read() as unit:
        read = [entry.act for entry in unit.log.entries(house)]
    assert read == [act for _, act in OLD]
    assert [json.dumps(to_plain(act)) for act in read] == [json.dumps(row) for row, _ in OLD]


def test_new_rows_say_one_thing_and_come_back_as_they_went_in(units: Units) -> None:
    with units.begin() as unit:
        house = unit.households.add("home", NOW, timezone="UTC")
        ana = unit.people.add_member(house.id, 1, "ana", NOW)
        for _, act in OLD:
            unit.log.write(house.id, act, ana, SOURCE, said_at=NOW, at=NOW)
        asked = [[act] for _, act in OLD]
        unit.questions.ask(house.id, SOURCE, ana, asked, said_at=NOW, until=NOW + timedelta(hours=1))
    with units.read() as unit:
        assert [entry.act for entry in unit.log.entries(house.id)] == [act for _, act in OLD]
        question = unit.questions.open(house.id, -1, NOW)
        rows = unit.log.connection.execute(select(LogLine.act).order_by(LogLine.id)).scalars().all()
    assert question is not None
    assert question.options == tuple((act,) for _, act in OLD)
    assert {row["do"] for row in rows} == {
        "remind",
        "put_off",
        "take_on",
        "done",
        "look",
        "timer",
        "question",
    }
    assert all("subject" in row and "about" not in row for row in rows if row["do"] == "question")


def test_a_question_asked_before_is_answered_after(units: Units) -> None:
    with units.begin() as unit:
        house = unit.households.add("home", NOW, timezone="UTC")
        ana = unit.people.add_member(house.id, 1, "ana", NOW)
        unit.log.connection.execute(
            insert(Asked).values(
                household_id=house.id,
                chat_id=-1,
                message_id=7,
                member_id=ana.id,
                said_at=NOW,
                options=[[row] for row, _ in OLD],
                until=NOW + timedelta(hours=1),
            )
        )
    with units.read() as unit:
        question = unit.questions.open(house.id, -1, NOW)
    assert question is not None
    assert question.options == tuple((act,) for _, act in OLD)


@pytest.mark.parametrize(("row", "act"), OLD, ids=lambda value: "" if isinstance(value, dict) else None)
def test_either_form_is_read(row: dict[str, Any], act: Act) -> None:
    assert from_plain(row) == from_plain(to_plain(act)) == from_plain(to_row(act)) == act


def step(name: str, of: str) -> dict[str, Any]:
    return {"do": "step", "of": of, "step": name}


def sg(value: float, of: str) -> dict[str, Any]:
    return {"do": "gravity", "of": of, "sg": value}


def begun(name: str, vessel: str) -> dict[str, Any]:
    return {"do": "begin", "of": name, "name": name, "litres": 23.0, "days": 14, "colour": "red", "vessel": vessel, "plan": "kit-14@2"}  # fmt: skip


def said(action: str, of: str | None, until: float | None = None, **told: str) -> dict[str, Any]:
    at = {} if until is None else {"until": hours(until).isoformat()}
    return {"do": "reminder", "of": of, "action": action, **at, **told}


LOG: list[tuple[float, int | None, dict[str, Any]]] = [
    (0, None, begun("plum", "bucket 2")),  # 1
    (0, 1, step("sanitise", "plum")),
    (0, 1, step("mix", "plum")),
    (1, 1, sg(1.080, "plum")),
    (2, 1, step("pitch", "plum")),
    (50, 1, sg(1.030, "plum")),
    (100, 1, sg(0.995, "plum")),
    (150, 1, sg(0.994, "plum")),
    (151, 1, said("later", "plum", 200, step="rack")),
    (152, 1, said("mine", "plum", step="rack", what="rack", whom="bo")),
    (153, 1, said("later", "plum", 210, about="buy corks", whom="bo")),  # 11
    (153, None, said("later", None, 260, about="call the plumber")),
    (154, 1, said("later", "plum", 154.2, step="rack", what="timer")),
    (154, 1, said("later", "plum", 155.5, step="rack", about="rack it")),
    (155, None, said("mine", None, 300, step="sanitise")),
    (156, 1, said("later", "plum", 220)),  # 16
    (157, 1, said("done", "plum", what="asked 16")),
    (158, 1, said("later", "plum", 215, what="asked 11")),
    (0, None, begun("sloe", "bucket 1")),  # 19
    (0, 19, step("sanitise", "sloe")),
    (0, 19, step("mix", "sloe")),
    (1, 19, sg(1.080, "sloe")),
    (2, 19, step("pitch", "sloe")),
    (100, 19, sg(0.995, "sloe")),
    (150, 19, sg(0.994, "sloe")),
    (200, 19, step("rack", "sloe")),
    (201, 19, step("stabilise", "sloe")),
    (226, 19, step("degas", "sloe")),
    (227, 19, said("done", "sloe", what="degas")),
    (228, 19, step("fine", "sloe")),
    (229, 19, said("done", "sloe", what="collect")),
    (320, 19, said("later", "sloe", 400, what="clear", about="cloudy")),
    (320, 19, said("later", "sloe", 424, step="bottle", what="bottle")),
    (401, 19, said("done", "sloe", what="clear")),
]


def comes_to(units: Units, house: int, entries: int) -> tuple[list[str], str | None]:
    """What falls due by the first so many entries, and what was found by looking at the second batch."""
    with units.read() as unit:
        view = fold(unit.log.entries(house)[:entries])
    found: list[Due] = [due for due in due_for_house(view) if due.level == "first"]
    for batch in view.batches:
        found += [due for due in due_for(batch, view) if due.level == "first"]
    sloe = view.named("sloe")
    clear = found_clear(sloe) if sloe is not None else None
    return [shown(due) for due in found], clear


def shown(due: Due) -> str:
    at = (due.at - hours(0)) / timedelta(hours=1)
    by = due.claim.by if due.claim is not None else None
    begun_by = due.begun.by if due.begun is not None else None
    told = (due.batch, due.step, at, due.kind, due.chore, due.whose, by, begun_by, due.about, due.asked_by)
    return " ".join(
        "-" if word is None else str(word) for word in (*told, due.exact, due.timed, due.if_clear)
    )


PLUM = [
    "0 asked 12 260.0 asked - - - - call the plumber ana False True False",
    "0 asked 15 300.0 asked sanitise ana - - - ana False True False",
    "1 rack 200.0 chore rack bo bo ana - - False True False",
    "1 collect 168.0 collect - - - - - - False False False",
    "1 asked 11 215.0 asked - bo - - buy corks ana False True False",
    "1 asked 14 155.5 asked rack - - - rack it ana True True False",
    "1 timer 13 154.2 timer rack - - - - - True False False",
]


@pytest.mark.parametrize(
    ("entries", "sloe", "clear"),
    [
        (18, [], None),
        (
            28,
            [
                "19 degas 230.0 chore degas - - - - - False False False",
                "19 collect 168.0 collect - - - - - - False False False",
            ],
            None,
        ),
        (
            29,
            [
                "19 fine 250.0 chore fine - - - - - False False False",
                "19 collect 168.0 collect - - - - - - False False False",
            ],
            None,
        ),
        (
            31,
            [
                "19 bottle 324.0 chore bottle - - - - - False False True",
                "19 clear 300.0 clearing - - - - - - False False False",
            ],
            "unknown",
        ),
        (
            33,
            [
                "19 bottle 424.0 chore bottle - - - - - False True True",
                "19 clear 400.0 clearing - - - - - - False True False",
            ],
            "cloudy",
        ),
        (34, ["19 bottle 424.0 chore bottle - - - - - False True False"], "clear"),
    ],
)
def test_old_rows_come_to_what_they_came_to(
    units: Units, entries: int, sloe: list[str], clear: str | None
) -> None:
    """As the versions that wrote them would have it, at several points of the log."""
    house = write_old(units, LOG)
    assert comes_to(units, house, entries) == (PLUM + sloe, clear)
