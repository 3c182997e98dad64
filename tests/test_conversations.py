"""Whole conversations, played through every chat and on both real databases, and under trouble."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import cast

import pytest

from bot.cellar.log.fold import HouseView, fold
from bot.edges.console import ConsoleChat
from bot.edges.script import play
from bot.house.desk import Desk
from bot.house.talk import Incoming
from bot.store.database import open_engine, sqlite_url
from bot.store.unit import Units
from tests.edges.telegram_chat import TelegramChat

SCRIPTS = sorted((Path(__file__).parent.parent / "fixtures" / "conversations").glob("*.txt"))

OpenDesk = Callable[[], Desk]


@pytest.fixture(params=SCRIPTS, ids=lambda path: path.stem)
def script(request: pytest.FixtureRequest) -> str:
    text: str = request.param.read_text(encoding="utf-8")
    return text


@pytest.fixture
def on_sqlite(tmp_path: Path) -> OpenDesk:
    return lambda: Desk(Units(open_engine(sqlite_url(tmp_path / "house.db"))), timezone="UTC")


@pytest.fixture
def on_postgres(postgres: str) -> OpenDesk:
    return lambda: Desk(Units(open_engine(postgres)), timezone="UTC")


def play_and_close(script: str, chat: ConsoleChat) -> None:
    try:
        play(script, chat)
    finally:
        chat.close()


def test_on_sqlite(script: str, on_sqlite: OpenDesk) -> None:
    play_and_close(script, ConsoleChat(on_sqlite))


def test_on_postgresql(script: str, on_postgres: OpenDesk) -> None:
    play_and_close(script, ConsoleChat(on_postgres))


def test_through_telegram(script: str, on_sqlite: OpenDesk) -> None:
    with TelegramChat(on_sqlite, bury=lambda desk: cast("Desk", desk).close()) as chat:
        play(script, chat)


class RestartsAlways(ConsoleChat):
    """The process dies before every line."""

    def say(
        self, member: str, text: str, now: datetime, *, private: bool = False, reply_to: int | None = None
    ) -> int:
        self.restart(now)
        return super().say(member, text, now, private=private, reply_to=reply_to)

    def tap(self, member: str, label: str, now: datetime) -> None:
        self.restart(now)
        super().tap(member, label, now)

    def wake(self, now: datetime) -> datetime | None:
        self.restart(now)
        return super().wake(now)


def test_a_restart_between_any_two_lines_changes_nothing(script: str, on_sqlite: OpenDesk) -> None:
    play_and_close(script, RestartsAlways(on_sqlite))


class Stutters(Desk):
    """Everything is delivered twice."""

    def handle(self, incoming: Incoming, now: datetime) -> str | None:
        answer = super().handle(incoming, now)
        super().handle(incoming, now)
        return answer


def test_the_same_update_again_changes_nothing(script: str, tmp_path: Path) -> None:
    def opened() -> Desk:
        return Stutters(Units(open_engine(sqlite_url(tmp_path / "house.db"))), timezone="UTC")

    play_and_close(script, ConsoleChat(opened))


class Undoes(ConsoleChat):
    """After every message that wrote something: undo, and the house is as before; put back, and as after."""

    units: Units
    checked = 0

    def view(self) -> HouseView:
        with self.units.read() as unit:
            row = unit.households.of_chat(-1)
            return fold(unit.log.entries(row.id)) if row else HouseView()

    def say(
        self, member: str, text: str, now: datetime, *, private: bool = False, reply_to: int | None = None
    ) -> int:
        before = self.view()
        message_id = super().say(member, text, now, private=private, reply_to=reply_to)
        after = self.view()
        undo = [choice for choice in self.choices if choice[0] == "Undo"]
        if after == before or not undo:
            return message_id
        heard = self.heard()
        _, shown, data = undo[-1]
        self.press(member, shown, data, now)
        assert self.view() == before, f"undo of {text!r} did not give the house as it was"
        _, shown, data = [choice for choice in self.choices if choice[0] == "Put it back"][-1]
        self.press(member, shown, data, now)
        assert self.view() == after, f"putting {text!r} back did not give the house as it became"
        self.heard()
        self._heard = heard
        self.checked += 1
        return message_id


@pytest.mark.parametrize(
    ("stem", "least"),
    [("white-in-7-days", 15), ("corrections-mean-what-they-say", 15), ("left-out-thrown-away-counted", 10)],
)
def test_undo_gives_the_house_as_it_was(tmp_path: Path, stem: str, least: int) -> None:
    url = sqlite_url(tmp_path / "house.db")
    text = next(path for path in SCRIPTS if path.stem == stem).read_text(encoding="utf-8")
    chat = Undoes(lambda: Desk(Units(open_engine(url)), timezone="UTC"))
    chat.units = Units(open_engine(url))
    lines = [line for line in text.splitlines() if "taps" not in line and not line.startswith(">")]
    play_and_close("\n".join(lines), chat)
    chat.units.close()
    assert chat.checked >= least
