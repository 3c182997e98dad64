"""When a message speaks of: the nearest sensible past for facts, the nearest future for plans."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from bot.understand.judge.reminders import only_a_time, reminder_words
from bot.understand.text.lexicon import lexicon
from bot.understand.text.scan import scan, tidy
from bot.understand.text.times import Direction, resolve
from bot.understand.text.timewords import TimeGrammar

LONDON = ZoneInfo("Europe/London")
BERLIN = ZoneInfo("Europe/Berlin")
EVENING = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)  # a Wednesday
GRAMMAR = TimeGrammar(lexicon("en").times)


def when(text: str, sent_at: datetime, direction: Direction, zone: ZoneInfo = LONDON) -> str | None:
    tokens = scan(tidy(text))
    for at in range(len(tokens)):
        found = GRAMMAR.find(tokens, at, lambda word: word in {"gallons", "tsp"})
        if found is not None:
            resolved = resolve(found[1], sent_at, zone, direction)
            return resolved.strftime("%Y-%m-%d %H:%M %z") if resolved else None
    return None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("yesterday 8pm", "2026-03-03 20:00 +0000"),
        ("8pm yesterday", "2026-03-03 20:00 +0000"),
        ("last night, half nine", "2026-03-03 21:30 +0000"),
        ("monday 2115", "2026-03-02 21:15 +0000"),
        ("monday, quarter past two", "2026-03-02 14:15 +0000"),
        ("sunday at 3.30 in the morning", "2026-03-01 03:30 +0000"),
        ("at 2 at night", "2026-03-04 02:00 +0000"),
        ("yesterday, 8pm kickoff", "2026-03-03 12:00 +0000"),
        ("monday 1040", "2026-03-02 12:00 +0000"),
        ("yesterday at 20.15", "2026-03-03 20:15 +0000"),
        ("last night", "2026-03-03 21:00 +0000"),
        ("this morning", "2026-03-04 09:00 +0000"),
        ("this morning at 7", "2026-03-04 07:00 +0000"),
        ("an hour ago", "2026-03-04 18:30 +0000"),
        ("half an hour ago", "2026-03-04 19:00 +0000"),
        ("20 mins ago", "2026-03-04 19:10 +0000"),
        ("on Sunday", "2026-03-01 12:00 +0000"),
        ("on Sunday at 9am", "2026-03-01 09:00 +0000"),
        ("last Wednesday", "2026-02-25 12:00 +0000"),
        ("28 Feb", "2026-02-28 12:00 +0000"),
        ("Feb 28th 8pm", "2026-02-28 20:00 +0000"),
        ("on 28/2", "2026-02-28 12:00 +0000"),
        ("28/02/2026", "2026-02-28 12:00 +0000"),
        ("2026-02-28", "2026-02-28 12:00 +0000"),
        ("20:15", "2026-03-03 20:15 +0000"),
        ("19:15", "2026-03-04 19:15 +0000"),
        ("at 7", "2026-03-04 19:00 +0000"),
        ("at 8", "2026-03-04 08:00 +0000"),
        ("at half 7", "2026-03-04 19:30 +0000"),
        ("half past seven", "2026-03-04 19:30 +0000"),
        ("quarter to 8", "2026-03-04 07:45 +0000"),
        ("at 10 to 7", "2026-03-04 18:50 +0000"),
        ("noon", "2026-03-04 12:00 +0000"),
        ("at 7.30pm", "2026-03-03 19:30 +0000" if EVENING.minute < 30 else "2026-03-04 19:30 +0000"),
        ("6 p.m.", "2026-03-04 18:00 +0000"),
        ("1900h", "2026-03-04 19:00 +0000"),
        ("@ 0630", "2026-03-04 06:30 +0000"),
        ("7 o'clock", "2026-03-04 19:00 +0000"),
        ("at 4 gallons", None),
        ("the sun was on it", None),
    ],
)
def test_facts_are_past(text: str, expected: str | None) -> None:
    assert when(text, EVENING, "past") == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("tomorrow at 7", "2026-03-05 19:00 +0000"),
        ("tomorrow at 8", "2026-03-05 08:00 +0000"),
        ("on saturday at 8", "2026-03-07 08:00 +0000"),
        ("today at 8", "2026-03-04 20:00 +0000"),
        ("after work", "2026-03-05 18:00 +0000"),
        ("tomorrow after work", "2026-03-05 18:00 +0000"),
        ("on friday after work", "2026-03-06 18:00 +0000"),
        ("tomorrow 10am", "2026-03-05 10:00 +0000"),
        ("at 9", "2026-03-04 21:00 +0000"),
        ("at 7", "2026-03-05 07:00 +0000"),
        ("at 3", "2026-03-05 15:00 +0000"),
        ("in two hours", "2026-03-04 21:30 +0000"),
        ("in half an hour", "2026-03-04 20:00 +0000"),
        ("on Wednesday", "2026-03-11 12:00 +0000"),
        ("saturday 10am", "2026-03-07 10:00 +0000"),
        ("Sunday 15 March at 2pm", "2026-03-15 14:00 +0000"),
        ("in 3 days", "2026-03-07 12:00 +0000"),
    ],
)
def test_plans_are_to_come(text: str, expected: str) -> None:
    assert when(text, EVENING, "future") == expected


def test_an_hour_that_the_clocks_skipped_moves_on() -> None:
    morning = datetime(2026, 3, 29, 8, 30, tzinfo=UTC)
    assert when("at 02:30", morning, "past", BERLIN) == "2026-03-29 03:30 +0200"
    assert when("last night at 11", morning, "past", BERLIN) == "2026-03-28 23:00 +0100"
    assert (
        when("an hour ago", datetime(2026, 3, 29, 1, 30, tzinfo=UTC), "past", BERLIN)
        == "2026-03-29 01:30 +0100"
    )
    assert when("tomorrow 8am", morning, "future", BERLIN) == "2026-03-30 08:00 +0200"


@pytest.mark.parametrize(
    ("text", "only"),
    [
        ("friday at 6", True),
        ("tomorrow morning", True),
        ("in half an hour", True),
        ("on the 14th, please", True),
        ("fri", True),
        ("friday then", True),
        ("see you friday", False),
        ("friday is bin day", False),
        ("1.012", False),
        ("", False),
        ("please", False),
    ],
)
def test_a_text_that_says_when_and_nothing_else(text: str, only: bool) -> None:
    assert (only_a_time(text, reminder_words("en")) is not None) == only
