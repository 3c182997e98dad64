"""The driver for conversation scripts: every kind of line, on a small desk of the test's own."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from bot.edges.script import FailedError, ScriptError, play
from bot.house.talk import Incoming
from tests.edges.bench import BrokenDatabaseError, RecordingDesk, buttons
from tests.edges.telegram_chat import TelegramChat


class SmallHouse(RecordingDesk):
    """Repeats what it hears, and reminds once, a day after a reading."""

    def __init__(self) -> None:
        super().__init__()
        self.houses: list[tuple[Any, ...]] = []
        self.group = 0
        self.due: list[datetime] = []
        self.answer = self._repeat

    def furnish(
        self, chat_id: int, name: str, now: datetime, *, timezone: str | None = None, **settings: str
    ) -> None:
        self.group = chat_id
        self.houses.append((name, timezone, settings["gallon"], settings["temperature_unit"]))

    def wake(self, now: datetime) -> datetime | None:
        super().wake(now)
        for moment in [moment for moment in self.due if moment <= now]:
            self.due.remove(moment)
            self.put({"chat_id": self.group, "html": f"<b>time to stir</b> at {now:%d %H:%M}"})
        return min(self.due, default=None)

    def _repeat(self, incoming: Incoming) -> list[dict[str, Any]]:
        if incoming.text == "mum":
            return []
        if incoming.press is not None:
            return [{"html": f"{incoming.sender_name} chose {incoming.press}", "edits": incoming.message_id}]
        self.due.append(incoming.sent_at + timedelta(days=1))
        change = "changed to" if incoming.edited else "said"
        after = f" after {incoming.reply_to}" if incoming.reply_to else ""
        html = f"{incoming.sender_name} {change} {incoming.text}{after}"
        return [{"html": html, "reply_to": incoming.message_id, "buttons": buttons("Yes", "No")}]


@pytest.fixture
def desk() -> SmallHouse:
    return SmallHouse()


@pytest.fixture
def chat(desk: SmallHouse) -> Iterator[TelegramChat]:
    with TelegramChat(lambda: desk) as chat:
        yield chat


def test_a_whole_conversation(chat: TelegramChat, desk: SmallHouse) -> None:
    transcript: list[str] = []
    script = """
        house: Plum Street, Europe/Berlin, US gallon, F
        @ 2026-03-01 18:00
        > -
        ana [r1]: sg 1.050 bucket 1
        > Ana said sg 1.050 bucket 1
        > Yes
        >! changed
        bert: mum
        > -
        ana edits r1: sg 1.051
        > changed to sg 1.051
        bert replies r1: hm
        > /said hm after \\d+/
        bert replies bot: hm
        > /said hm after \\d+/
        ana taps "NO"
        > Ana chose b:1
        bert privately: how's the plum?
        > Bert said how's the plum?
        bert taps "ye"
        > Bert chose b:0
        restart
        > -
        + 23h 59m
        > -
        + 2m
        > time to stir
    """
    play("\n".join(line.strip() for line in script.splitlines()), chat, transcript.append)
    assert desk.houses == [("Plum Street", "Europe/Berlin", "us", "F")]
    assert "bot (to bert): Bert said how's the plum?" in transcript
    stirred = [line for line in transcript if "stir" in line]
    assert stirred == ["bot: time to stir at 02 17:00"] * 5, "each at its own time, in UTC"


def test_a_false_expectation_is_found(chat: TelegramChat) -> None:
    with pytest.raises(FailedError, match="line 2"):
        play("ana: sg 1.050\n> sg 1.040", chat)


@pytest.mark.parametrize("line", ['ana taps "Done"', "ana replies bot: hello"])
def test_buttons_and_messages_that_are_not_there(chat: TelegramChat, line: str) -> None:
    with pytest.raises(ScriptError, match="line 2"):
        play(f"ana: mum\n{line}", chat)


def test_a_house_that_fails_fails_the_line(chat: TelegramChat, desk: SmallHouse) -> None:
    desk.failing["handle"] = 1
    with pytest.raises(AssertionError) as failed:
        play("ana: sg 1.040", chat)
    assert isinstance(failed.value.__cause__, BrokenDatabaseError)


def test_the_clock_is_the_scripts_own(chat: TelegramChat, desk: SmallHouse) -> None:
    play("@ 2031-07-04 09:30\nana: sg 1.050", chat)
    assert desk.handled[0].sent_at == datetime(2031, 7, 4, 8, 30, tzinfo=UTC)
