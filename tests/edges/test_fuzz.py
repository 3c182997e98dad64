"""Hostile updates for the better part of a minute, through the real edge, house and database: nothing that
anybody sends stops the bot, and what honest people write in between is written down, in order."""

import json
import logging
import os
import random
import time
from pathlib import Path
from typing import Any

import pytest
from telegram import Update

from bot.cellar.log.acts import Temperature
from bot.edges.telegram.intake import numbered
from bot.house.desk import Desk
from bot.store.database import open_engine, sqlite_url
from bot.store.unit import Units
from tests.botapi.double import BotApi
from tests.edges.bench import Bench, wait_until

SECONDS = float(os.environ.get("FUZZ_SECONDS", "40"))
BATCH = 50
KINDS = [str(kind.value) for kind in Update.ALL_TYPES]

PIECES = [
    "", " ", "\x00", "\ud800", "\udfff\ud800", "\u202e", "\u200b" * 50, "e" + "\u0301" * 300, "\U0001f377" * 40,
    "\N{ARABIC-INDIC DIGIT ONE}.\N{ARABIC-INDIC DIGIT TWO}", "\N{FULLWIDTH DIGIT ONE}.050", "<b>&lt;</i>", "%s%n{0}",
    "'; DROP TABLE log; --", "1e999", "-0.0", "NaN", "sg 1.050 bucket 2", "new batch: x, red, 23 l in bucket 2", "undo",
    "/start", "/start abc", "/invite", "/remove", "/remove x", "/houses", "/zone ../../x", "/vessel \n", "/units", "/",
    "why?", "what's next?", "no make that 1.014", "racked x into bucket 1", "remind me in 99999999 days", "@bucket_test_bot",
    "bottled x, 99999999999999999999 bottles", "temp 20 \x85 bucket 2", "sg " + "1" * 500, "(" * 300, "x " * 900,
]  # fmt: skip
NUMBERS = [0, 1, -1, 2**31, 2**53, 2**63, 2**63 - 1, -(2**63), 10**40, 1.5, 1e308, True, False]


class Chaos:
    """Random updates: of every kind, with fields missing, of another type, huge, odd, or deep."""

    def __init__(self, seed: int, chats: list[int], people: list[dict[str, Any]]) -> None:
        self.chance = random.Random(seed)
        self.chats, self.people = chats, people

    def update(self) -> dict[str, Any]:
        kind = self.chance.choice([*KINDS[:2], "callback_query", "my_chat_member", *KINDS])
        shapes = {
            "callback_query": self._press,
            "my_chat_member": self._membership,
            "message": self._message,
            "edited_message": self._message,
        }
        update = {kind: shapes.get(kind, self._message)()}
        for _ in range(self.chance.choice([0, 0, 0, 1, 1, 2, 5])):
            self._spoil(update)
        return update

    def _text(self) -> str:
        return "".join(self.chance.choice(PIECES) for _ in range(self.chance.choice([1, 1, 1, 2, 3, 8])))

    def _chat(self) -> dict[str, Any]:
        chat_id = self.chance.choice(self.chats)
        kind = "private" if chat_id > 0 else self.chance.choice(["group", "supergroup"])
        return {"id": chat_id, "type": kind, "title": self._text()}

    def _message(self) -> dict[str, Any]:
        chat = self._chat()
        message: dict[str, Any] = {
            "message_id": self.chance.randrange(1, 400),
            "date": self.chance.randrange(1_770_000_000, 1_780_000_000),
            "chat": chat,
            "from": self.chance.choice(self.people),
            "text": self._text(),
        }
        more: dict[str, Any] = {
            "reply_to_message": {"message_id": self.chance.randrange(1, 400)},
            "message_thread_id": 5,
            "is_topic_message": True,
            "forward_origin": {"type": "user"},
            "sender_chat": chat,
            "migrate_to_chat_id": -self.chance.randrange(10**6, 10**7),
            "migrate_from_chat_id": self.chance.choice(self.chats),
            "left_chat_member": self.chance.choice(self.people),
            "caption": self._text(),
            "entities": [{"type": "bold", "offset": -5, "length": 10**9}],
        }
        for name, value in more.items():
            if self.chance.random() < (0.01 if "migrate" in name else 0.08):
                message[name] = value
        return message

    def _press(self) -> dict[str, Any]:
        data = [
            f"{self.chance.randrange(200)}:{self.chance.randrange(5)}",
            self._text(),
            "9" * 30 + ":0",
            ":",
            "1:-1",
        ]
        return {
            "id": self._text(),
            "from": self.chance.choice(self.people),
            "message": self._message(),
            "data": self.chance.choice(data),
        }

    def _membership(self) -> dict[str, Any]:
        states = ["left", "kicked", "member", "administrator", "restricted", "creator", self._text()]
        bot = {"id": 77, "is_bot": True}
        return {
            "chat": self._chat(),
            "from": self.chance.choice(self.people),
            "date": self.chance.randrange(1_770_000_000, 1_780_000_000),
            "old_chat_member": {"user": bot, "status": self.chance.choice(states)},
            "new_chat_member": {"user": bot, "status": self.chance.choice(states), "is_member": True},
        }

    def _spoil(self, owner: dict[str, Any]) -> None:
        """Removes or replaces one field somewhere in it."""
        while True:
            key = self.chance.choice(list(owner))
            if isinstance(owner[key], dict) and owner[key] and self.chance.random() < 0.8:
                owner = owner[key]
                continue
            if self.chance.random() < 0.4 and len(owner) > 1:
                del owner[key]
            else:
                owner[key] = self._anything(3)
            return

    def _anything(self, depth: int) -> Any:
        roll = self.chance.randrange(8)
        if roll == 0 and depth:
            return [self._anything(depth - 1) for _ in range(3)]
        if roll == 1 and depth:
            return {self._text()[:20]: self._anything(depth - 1) for _ in range(3)}
        if roll == 2:
            deep: Any = 1
            for _ in range(self.chance.choice([20, 300])):
                deep = [deep]
            return deep
        if roll == 3:
            return None
        return self.chance.choice(NUMBERS) if roll < 6 else self._text()


def test_hostile_updates_stop_nothing(api: BotApi, tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    seed = random.SystemRandom().randrange(10**6)
    units = Units(open_engine(sqlite_url(tmp_path / "house.db")))
    world = api.world
    honest = world.group("Honest House")
    others = [world.group(f"House {number}") for number in range(4)]
    people = [world.member(name) for name in ("mal", "moe", "mim")]
    people += [{"id": 77, "is_bot": True}, {"id": 1087968824, "is_bot": True, "first_name": "Group"}]
    chaos = Chaos(seed, [*others, *(person["id"] for person in people[:3])], people)
    wanted = []
    with caplog.at_level(logging.ERROR), Bench(api, Desk(units, timezone="UTC")) as bench:
        bench.start()
        world.say("ana", "begin plum in bucket 1", honest)
        until = time.monotonic() + SECONDS
        while time.monotonic() < until:
            for _ in range(BATCH):
                world.inject(chaos.update())
            warm = 15 + len(wanted) % 100 / 10
            world.moment = bench.edge._clock()
            world.say("ana", f"temp {warm:.1f} bucket 1", honest)
            wanted.append(round(warm, 1))
            wait_until(lambda: not world.updates or bench.error, f"taken in (seed {seed})", 30)
            assert bench.error is None, f"seed {seed}: {bench.error!r}"
        wait_until(lambda: not bench.desk.waiting(), f"all handled (seed {seed})", 60)
    assert bench.error is None, f"seed {seed}: {bench.error!r}"
    with units.read() as unit:
        house = unit.households.of_chat(honest)
        assert house is not None
        acts = [entry.act for entry in unit.log.entries(house.id)]
        failed = unit.post.connection.exec_driver_sql(
            "SELECT why FROM inbox WHERE why LIKE 'failed%'"
        ).fetchall()
    assert not failed, f"seed {seed}: {failed}"
    assert [act.temp_c for act in acts if isinstance(act, Temperature)] == wanted, f"seed {seed}"
    assert not [record for record in caplog.records if "bad markup" in record.message], f"seed {seed}"
    units.close()


@pytest.mark.parametrize("depth", [900, 1_100, 100_000])
def test_an_update_nested_deeper_than_can_be_read_holds_nothing_up(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, depth: int
) -> None:
    from aiohttp import web

    group = bench.world.group()
    real = web.json_response

    def nested(body: Any, **options: Any) -> web.Response:
        text = json.dumps(body).replace('"deep"', "[" * depth + "]" * depth)
        return web.Response(text=text, content_type="application/json", **options)

    monkeypatch.setattr(web, "json_response", nested)
    bench.world.say("ana", "sg 1.050", group)
    bench.world.inject({"message": {"text": "deep"}})
    bench.world.say("ana", "sg 1.040", group)
    bench.start()
    wait_until(lambda: bench.recording.texts == ["sg 1.050", "sg 1.040"], "the others handled")
    wait_until(lambda: not bench.world.updates, "confirmed")
    assert len([why for why in bench.recording.done.values() if why]) == 1
    assert real is not web.json_response


@pytest.mark.parametrize(
    ("raw", "number"),
    [
        (b'{"update_id": 5, "x": 1}', 5),
        (b'{"update_id":5,"x":' + b"[" * 5_000 + b"]" * 5_000 + b"}", 5),
        (b"[" * 5_000 + b"]" * 5_000, None),
        (b'{"ok": true, "result": [{"update_id": 5, "x": "\\ud800"}]}', 5),
        (b'{"update_id": 5, "x": "\\ud800"}', 5),
        (b'{"update_id": -5}', None),
        (b'{"update_id": 5.5}', None),
        (b'{"x": {"update_id": 5}}', None),
        (b"<html>update_id</html>", None),
        (b"{", None),
    ],
)
def test_an_update_is_known_by_its_number(raw: bytes, number: int | None) -> None:
    found = numbered(raw)
    assert (found[0] if found else None) == number
