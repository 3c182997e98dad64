"""A question about the craft, from the message to the answer and to "why?". Which words ask it is understanding's; here
they are given their meaning."""

from datetime import timedelta
from typing import Any

import pytest

from bot.cellar.log.acts import Question
from bot.cellar.log.subjects import Lore, Matter, Subject
from bot.cellar.log.topics import CRAFT, subject_of
from bot.house import messages
from bot.say.manner import plain
from bot.understand.verdict import Verdict
from tests.house.room import Room


@pytest.fixture
def asks(monkeypatch: pytest.MonkeyPatch) -> dict[str, Question]:
    """What each of these messages asks; all others mean what they mean."""
    known: dict[str, Question] = {}
    reading = messages.reading

    def told(text: str, *rest: Any, **more: Any) -> Verdict:
        asked = known.get(text)
        return Verdict(verdict="act", acts=(asked,), why="asked") if asked else reading(text, *rest, **more)

    monkeypatch.setattr(messages, "reading", told)
    return known


def asked(topic: str, of: str | None = None) -> Question:
    subject: Subject | None = subject_of(topic)
    assert subject is not None
    return Question(subject=subject, of=of)


def test_an_answer_fits_the_moment_and_why_gives_its_reason(room: Room, asks: dict[str, Question]) -> None:
    asks["nothing bubbles?"] = asked("no_bubbles")
    assert "The hydrometer decides" in room.text("nothing bubbles?")
    room.text("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    assert "the yeast is not in yet" in room.text("nothing bubbles?")
    room.text("sg 1.080 bucket 2")
    room.text("pitched plum")
    room.now += timedelta(hours=5)
    assert "Too early to worry" in room.text("nothing bubbles?")
    room.now += timedelta(days=3)
    room.text("sg 1.040 plum")
    told = room.text("nothing bubbles?")
    assert "1.040" in told
    assert "Next reading" in told
    assert "the rim of the lid" in room.text("why?")


def test_a_question_writes_nothing_and_is_answered_once(room: Room, asks: dict[str, Question]) -> None:
    room.text("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    before = room.acts()
    for topic in sorted(CRAFT):
        asks[topic] = asked(topic, of="plum")
        (letter,) = room.say(topic)
        assert plain(letter.html)
        assert "Undo" not in [button.label for button in letter.buttons]
        room.now += timedelta(minutes=1)
    assert room.acts() == before


def test_the_sanitisers_time_is_the_houses(room: Room, asks: dict[str, Question]) -> None:
    asks["how do we sanitise?"] = Question(subject=Lore(topic="sanitise_how"))
    room.say("hello there", joined=True)
    room.text("/contact 5")
    assert "5 minutes" in room.text("how do we sanitise?")


def test_what_is_asked_about_ones_own_batch_is_answered_from_the_log(
    room: Room, asks: dict[str, Question]
) -> None:
    room.text("new batch: plum, red, 23 l in bucket 2, 14 day kit")
    for topic, word in (
        ("next_reading", "before the yeast"),
        ("did_we", "no chore is in the log yet"),
        ("shopping", "30 bottles"),
        ("compare", "There is no other"),
        ("vessels", "bucket 2"),
    ):
        asks[topic] = asked(topic)
        assert word in room.text(topic), topic
    assert isinstance(asked("abv").subject, Matter)
