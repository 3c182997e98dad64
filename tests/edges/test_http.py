"""Requests to the platform: what goes wrong is told in the library's errors, and never with the token."""

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

import pytest
from telegram.error import BadRequest, NetworkError, TimedOut

from bot.edges.telegram import client
from bot.edges.telegram.client import Http
from tests.botapi.double import BotApi


def with_http(address: str, work: Callable[[Http], Awaitable[Any]], read_timeout: float = 5.0) -> Any:
    async def run() -> Any:
        http = Http(address, 2, read_timeout)
        await http.initialize()
        await http.initialize()
        try:
            return await work(http)
        finally:
            await http.shutdown()
            await http.shutdown()

    return asyncio.run(run())


def test_a_call_gives_the_result_as_it_came(api: BotApi) -> None:
    group = api.world.group()
    address = f"{api.url}/bot{api.world.token}/sendMessage"
    result = with_http(
        api.url, lambda http: http.call(address, chat_id=group, text="<ö> & 🍷", reply_to=None)
    )
    assert result["text"] == "<ö> & 🍷"
    assert "reply_to" not in api.world.calls_of("sendMessage")[0].params


def test_a_refusal_is_the_librarys_error(api: BotApi) -> None:
    address = f"{api.url}/bot{api.world.token}/sendMessage"
    with pytest.raises(BadRequest, match="Chat not found"):
        with_http(api.url, lambda http: http.call(address, chat_id=-1, text="x"))


def test_a_server_that_is_away_is_told_without_the_token() -> None:
    with pytest.raises(NetworkError) as caught:
        with_http("http://127.0.0.1:1", lambda http: http.call("http://127.0.0.1:1/botSECRET/getMe"))
    assert "SECRET" not in str(caught.value)
    assert caught.value.__cause__ is None


def test_a_file_goes_in_a_part_of_its_own(api: BotApi) -> None:
    group = api.world.group()
    address = f"{api.url}/bot{api.world.token}/sendDocument"
    content = bytes(range(256)) * 5
    result = with_http(
        api.url,
        lambda http: http.call(
            address,
            {"document": ("cälendar.ics", content, "text/calendar")},
            chat_id=group,
            caption="<ö> & 🍷",
            reply_to=None,
            reply_markup={"inline_keyboard": [[{"text": "a", "callback_data": "b"}]]},
        ),
    )
    assert result["caption"] == "<ö> & 🍷"
    assert result["document"]["mime_type"] == "text/calendar"
    assert api.world.files[result["document"]["file_id"]] == content
    assert api.world.sent[0].labels == ("a",)


def test_an_answer_that_takes_too_long_is_told(api: BotApi) -> None:
    gate = api.world.hold("getMe")
    address = f"{api.url}/bot{api.world.token}/getMe"
    with pytest.raises(TimedOut):
        with_http(api.url, lambda http: http.call(address), read_timeout=0.05)
    gate.open()


def test_nothing_goes_out_before_it_is_opened() -> None:
    with pytest.raises(NetworkError, match="RuntimeError"):
        asyncio.run(Http("http://127.0.0.1:1", 1, 1.0).call("http://127.0.0.1:1/x"))


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
    assert client._proxy_for(address) == proxy
