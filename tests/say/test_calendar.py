"""The calendar file against RFC 5545, read by a parser that has nothing to do with the one that wrote it."""

import re
from datetime import UTC, datetime, timedelta
from typing import Any

import msgspec
import pytest
import vobject
from hypothesis import given
from hypothesis import strategies as st

from bot.cellar.batch.ahead import coming
from bot.cellar.home.due import Due, due_for
from bot.cellar.log.due_key import AskedKey
from bot.say.calendar import calendar
from bot.say.dates import Dated, DateFile, Event, of_coming, of_due, title_of
from tests.cellar.batches import Story, fermented_out, hours

NOW = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)
WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=200)
MOMENTS = st.integers(-(10**7), 10**8).map(lambda minutes: NOW + timedelta(minutes=minutes))


def dated(summary: str = "plum: bottle", description: str = "", start: datetime = NOW, **more: Any) -> Dated:
    return Dated(
        summary=summary, description=description, start=start, end=start + timedelta(minutes=30), **more
    )


def written(*events: Event, title: str = "Wine, Mill Lane") -> bytes:
    return calendar(DateFile(title=title, events=events, made_at=NOW))


def read(content: bytes) -> Any:
    """The calendar as another parser has it, which checks what must be there."""
    found = vobject.readOne(content.decode())
    found.validate(raiseException=True)
    return found


def event(content: bytes) -> Any:
    (found,) = read(content).vevent_list
    return found


def test_what_the_standard_wants_of_every_event() -> None:
    found = read(
        written(
            Event(
                uid="4c9f8a52-8f5e-4e6e-9d9b-0a3f0f2f6f11",
                sequence=3,
                changed_at=NOW - timedelta(days=1, microseconds=5),
                dated=dated("plum: draw off the lees", "Slowly.\nNo splashing.", NOW + timedelta(days=2)),
            )
        )
    )
    assert found.version.value == "2.0"
    assert found.method.value == "PUBLISH"
    assert "Bucketside" in found.prodid.value
    assert found.contents["name"][0].value == "Wine, Mill Lane"
    (one,) = found.vevent_list
    assert one.uid.value == "4c9f8a52-8f5e-4e6e-9d9b-0a3f0f2f6f11"
    assert one.sequence.value == "3"
    assert one.dtstart.value == NOW + timedelta(days=2)
    assert one.dtend.value == NOW + timedelta(days=2, minutes=30)
    assert one.dtstamp.value == NOW
    assert one.contents["last-modified"][0].value == NOW - timedelta(days=1, seconds=1)
    assert (one.status.value, one.transp.value) == ("CONFIRMED", "TRANSPARENT")
    assert (one.summary.value, one.description.value) == ("plum: draw off the lees", "Slowly.\nNo splashing.")
    (alarm,) = one.valarm_list
    assert (alarm.action.value, alarm.trigger.value) == ("DISPLAY", timedelta(0))
    assert alarm.description.value == "plum: draw off the lees"


def test_bottling_rings_the_day_before_too_and_an_estimate_is_tentative() -> None:
    found = event(written(Event(uid="u", sequence=0, changed_at=NOW, dated=dated(eve=True, estimate=True))))
    assert [alarm.trigger.value for alarm in found.valarm_list] == [timedelta(0), timedelta(days=-1)]
    assert found.status.value == "TENTATIVE"


def test_what_is_cancelled_rings_no_more() -> None:
    found = event(written(Event(uid="u", sequence=2, changed_at=NOW, dated=dated(), cancelled=True)))
    assert (found.status.value, found.summary.value) == ("CANCELLED", "plum: bottle")
    assert "valarm" not in found.contents


HOSTILE = [
    'the "best"; plum, of all',
    "back\\slash \\n not a line",
    "BEGIN:VEVENT\r\nUID:evil",
    "line one\nline two\r\nline three\rfour\u2028five\u2029six",
    "🍇" * 60,
    "שזיף אדום \u202e reversed \u202c end",
    "ß" * 74 + "é",
    "nul\x00 bell\x07 escape\x1b[31m delete\x7f next\x85",
    ":;,=^'\"",
    " leading and trailing ",
    "\t\ttabs\t",
]


@pytest.mark.parametrize("words", HOSTILE)
def test_hostile_names_stay_text(words: str) -> None:
    story = Story()
    story.begin()
    view = msgspec.structs.replace(story.view, name=words)
    (due,) = [due for due in due_for(view) if due.level == "first"]
    content = written(
        Event(uid="u", sequence=0, changed_at=NOW, dated=of_due(due, NOW, view)),
        title=title_of(words),
    )
    _well_formed(content)
    assert read(content).contents["name"][0].value == title_of(words)
    found = event(content)
    assert found.uid.value == "u"
    seen = found.summary.value
    assert "\n" not in seen
    assert [c for c in seen if ord(c) < 32 or ord(c) == 127] == []
    kept = re.sub(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\s]+", "", words)
    assert re.sub(r"\s+", "", seen).startswith(kept[:40])


def _well_formed(content: bytes) -> None:
    """Lines end in CRLF, are of 75 octets at most, and are cut between characters (RFC 5545, 3.1)."""
    assert content.endswith(b"END:VCALENDAR\r\n")
    lines = content.split(b"\r\n")
    assert not any(b"\r" in line or b"\n" in line for line in lines)
    assert max(map(len, lines)) <= 75
    for line in lines:
        line.decode()
    names = [line.partition(b":")[0] for line in lines if line and not line.startswith(b" ")]
    assert all(re.fullmatch(rb"[A-Z-]+(;[A-Z-]+=[^;:]+)*", name) for name in names)
    # 3.3.11: no control characters in text.
    assert re.search(rb"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", content) is None


@given(WORDS, WORDS, MOMENTS, st.integers(0, 10_000), st.integers(1, 10**5))
def test_whatever_goes_in_comes_out(
    name: str, how: str, start: datetime, sequence: int, minutes: int
) -> None:
    story = Story()
    story.begin()
    plan = story.view.follows
    step = msgspec.structs.replace(plan.steps[0], how=how, minutes=float(minutes), caution="")
    plan = msgspec.structs.replace(plan, steps=(step, *plan.steps[1:]))
    view = msgspec.structs.replace(story.view, name=name, own_plan=plan)
    (due,) = [due for due in due_for(view) if due.level == "first"]
    says = of_due(due, start, view)
    content = written(Event(uid="u", sequence=sequence, changed_at=start, dated=says))
    _well_formed(content)
    found = event(content)
    assert (found.dtstart.value, found.dtend.value) == (start, start + timedelta(minutes=minutes))
    assert found.sequence.value == str(sequence)
    assert found.summary.value == says.summary
    assert found.description.value == says.description


def test_a_chore_says_how_and_where_it_can_hurt() -> None:
    view = fermented_out().view
    (due,) = [due for due in due_for(view) if due.step == "rack" and due.level == "first"]
    says = of_due(due, due.at, view)
    step = view.follows.step("rack")
    assert says.summary == f"plum: {step.title}"
    assert step.how in says.description
    assert "leaflet" in says.description
    assert not says.estimate


def test_an_estimate_says_about_and_that_the_hydrometer_decides() -> None:
    story = Story()
    story.begin()
    found = {one.step.id: one for one in coming(story.view, hours(1))}
    says = of_coming(found["bottle"], found["bottle"].at, story.view)
    assert says.summary == "plum: bottle and cork, about this day"
    assert "Only the hydrometer decides" in says.description
    assert "bottles can burst" in says.description
    assert (says.eve, says.estimate) == (True, True)
    plain = of_coming(found["pitch"], found["pitch"].at, story.view)
    assert "about" not in plain.summary
    assert not plain.estimate


def test_a_plan_of_somebodys_own_says_what_for() -> None:
    due = Due(
        batch=0, key=AskedKey(entry=7), at=NOW, kind="asked", chore="label", whose="bo", of="plum", timed=True
    )
    says = of_due(due, NOW, None)
    assert (says.summary, says.description) == ("plum: labelling", "For bo.")
