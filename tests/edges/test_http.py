"""Calls to the platform: typed both ways, and what goes wrong is told in our errors, never with the token."""

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

import msgspec
import pytest

from bot.edges.telegram import client, connection
from bot.edges.telegram.client import Client, InlineButton, Me, Upload, Written, refusal
from bot.edges.telegram.connection import Connection
from bot.edges.telegram.errors import (
    BadRequestError,
    MovedError,
    NetworkFailedError,
    NoAnswerError,
    RetryAfterError,
    TokenRefusedError,
    UnreadableAnswerError,
)
from tests.botapi.double import BotApi

KEYBOARD = ((InlineButton("a", "b"),),)


def with_client(address: str, work: Callable[[Client], Awaitable[Any]], token: str = "1:TEST") -> Any:
    async def run() -> Any:
        bot = Client(address, token, 2)
        await bot.open()
        await bot.open()
        try:
            return await work(bot)
        finally:
            await bot.close()
            await bot.close()

    return asyncio.run(run())


def test_a_message_goes_as_it_is_meant_and_its_number_comes_back(api: BotApi) -> None:
    group = api.world.group()
    written = Written("<b>ö</b> &amp; 🍷", keyboard=KEYBOARD)
    number = with_client(api.url, lambda bot: bot.send_message(group, written))
    (sent,) = api.world.sent
    assert (sent.message_id, sent.text, sent.labels) == (number, "ö & 🍷", ("a",))
    (call,) = api.world.calls_of("sendMessage")
    assert not {"reply_parameters", "message_thread_id"} & call.params.keys(), "what is not said is not sent"
    with_client(api.url, lambda bot: bot.edit_text(group, number, Written("<b>", html=False)))
    assert api.world.sent[-1].text == "<b>"
    assert "parse_mode" not in api.world.calls_of("editMessageText")[0].params


def test_who_it_is(api: BotApi) -> None:
    me = with_client(api.url, lambda bot: bot.get_me())
    assert me == Me(id=77, username="bucket_test_bot", can_read_all_group_messages=True)


def test_updates_come_as_they_were_written(api: BotApi) -> None:
    api.world.say("ana", "sg 1.012", api.world.group())
    (raw,) = with_client(api.url, lambda bot: bot.get_updates(None, 100))
    assert msgspec.json.decode(raw)["message"]["text"] == "sg 1.012"


def test_a_refusal_is_an_error_that_says_what_the_platform_said(api: BotApi) -> None:
    with pytest.raises(BadRequestError, match=r"^Chat not found$"):
        with_client(api.url, lambda bot: bot.send_message(-1, Written("x")))
    with pytest.raises(TokenRefusedError) as caught:
        with_client(api.url, lambda bot: bot.get_me(), token="1:SECRET")
    assert "SECRET" not in str(caught.value)


def test_a_server_that_is_away_is_told_without_the_token() -> None:
    with pytest.raises(NetworkFailedError) as caught:
        with_client("http://127.0.0.1:1", lambda bot: bot.get_me(), token="1:SECRET")
    assert "SECRET" not in str(caught.value)
    assert caught.value.__cause__ is None


def test_a_file_goes_in_a_part_of_its_own(api: BotApi) -> None:
    group = api.world.group()
    content = bytes(range(256)) * 5
    upload = Upload("calendar.ics", content, "text/calendar")
    written = Written("&lt;ö&gt; &amp; 🍷", keyboard=KEYBOARD)
    number = with_client(api.url, lambda bot: bot.send_document(group, upload, written))
    (sent,) = api.world.sent
    assert (sent.message_id, sent.text, sent.labels) == (number, "<ö> & 🍷", ("a",))
    assert (sent.file_name, sent.media_type) == ("calendar.ics", "text/calendar")
    assert list(api.world.files.values()) == [content]
    with_client(api.url, lambda bot: bot.edit_caption(group, number, Written("changed")))
    assert api.world.sent[-1].text == "changed"


def test_an_answer_that_takes_too_long_is_told(api: BotApi, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(client, "READ_SECONDS", 0.05)
    gate = api.world.hold("getMe")
    with pytest.raises(NoAnswerError):
        with_client(api.url, lambda bot: bot.get_me())
    gate.open()


def test_nothing_goes_out_before_it_is_opened() -> None:
    with pytest.raises(RuntimeError, match="between open and close"):
        asyncio.run(Connection("http://127.0.0.1:1", 1, 1.0).post("http://127.0.0.1:1/x", b"{}"))


@pytest.mark.parametrize(
    ("answer", "error"),
    [
        ("<html>Sign in</html>", UnreadableAnswerError),
        ('{"ok": true, "result": {', UnreadableAnswerError),
        ('{"ok": true, "result": {"text": "x"}}', msgspec.ValidationError),
        ('{"ok": false, "result": {"message_id": 1}}', msgspec.ValidationError),
    ],
)
def test_an_answer_that_is_none_is_no_success(
    api: BotApi, monkeypatch: pytest.MonkeyPatch, answer: str, error: type[Exception]
) -> None:
    async def post(self: Connection, url: str, body: object) -> tuple[int, bytes]:
        return 200, answer.encode()

    monkeypatch.setattr(Connection, "post", post)
    with pytest.raises(error):
        with_client(api.url, lambda bot: bot.send_message(1, Written("x")))


def test_a_refusal_names_the_pause_and_the_new_chat() -> None:
    pause = refusal(429, b'{"description": "Too Many Requests", "parameters": {"retry_after": 7}}')
    assert isinstance(pause, RetryAfterError)
    assert pause.seconds == 7
    moved = refusal(400, b'{"parameters": {"migrate_to_chat_id": -1005}}')
    assert isinstance(moved, MovedError)
    assert moved.new_chat_id == -1005


@pytest.mark.parametrize(
    ("address", "proxy"),
    [
        ("https://platform.example", "http://proxy.example:3128"),
        ("http://platform.example", None),
        ("https://near.example", None),
    ],
)
def test_the_environments_proxy_is_used(
    monkeypatch: pytest.MonkeyPatch, address: str, proxy: str | None
) -> None:
    monkeypatch.setenv("https_proxy", "http://proxy.example:3128")
    monkeypatch.setenv("no_proxy", "near.example")
    assert connection._proxy_for(address) == proxy
