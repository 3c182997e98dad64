"""What we write and read ourselves, held against the Bot API's library: methods, fields, kinds, errors, values."""

import asyncio
import inspect
import json
import typing
from collections.abc import Awaitable, Callable
from typing import Any

import msgspec
import pytest
import telegram
from telegram.error import TelegramError

from bot.edges.telegram import updates
from bot.edges.telegram.client import Client, InlineButton, Me, Upload, Written, refusal
from bot.edges.telegram.connection import Connection
from bot.edges.telegram.errors import NetworkFailedError
from bot.edges.telegram.introduction import Carrier, Introduction, ours
from bot.edges.telegram.updates import ALLOWED_UPDATES, decoded
from tests.botapi.double import BotApi

METHODS = {
    "getMe": "get_me",
    "getUpdates": "get_updates",
    "sendMessage": "send_message",
    "sendDocument": "send_document",
    "editMessageText": "edit_message_text",
    "editMessageCaption": "edit_message_caption",
    "answerCallbackQuery": "answer_callback_query",
}

SHAPES: list[tuple[type[msgspec.Struct], type[Any]]] = [
    (updates.Update, telegram.Update),
    (updates.WireMessage, telegram.Message),
    (updates.WireReply, telegram.Message),
    (updates.WireChat, telegram.Chat),
    (updates.WireUser, telegram.User),
    (updates.WirePress, telegram.CallbackQuery),
    (updates.WireStanding, telegram.ChatMemberUpdated),
    (Me, telegram.User),
    (InlineButton, telegram.InlineKeyboardButton),
]

OLDER = {"forward_date", "forward_from"}
"""Fields of a forwarded message before version 7.0, which a server of one's own may still write."""


async def every_method(bot: Client, chat_id: int) -> None:
    """Calls all of them once, with every field."""
    written = Written("<b>x</b>", keyboard=((InlineButton("a", "b"),),))
    placed = {"reply_to": 1, "thread_id": 9}
    await bot.get_me()
    await bot.get_updates(1, 1)
    number = await bot.send_message(chat_id, written, **placed)
    await bot.edit_text(chat_id, number, Written("y"))
    number = await bot.send_document(chat_id, Upload("x.ics", b"x", "text/calendar"), written, **placed)
    await bot.edit_caption(chat_id, number, Written("y"))
    await bot.answer_press("q", "text")


def test_every_method_and_field_is_one_that_the_library_knows(
    api: BotApi, monkeypatch: pytest.MonkeyPatch
) -> None:
    called: dict[str, set[str]] = {}

    async def post(self: Connection, url: str, body: Any) -> tuple[int, bytes]:
        form = getattr(body, "_fields", None)
        names = {kind["name"] for kind, _, _ in form} if form else set(json.loads(body))
        called[url.rpartition("/")[2]] = names
        polled = url.endswith("getUpdates")
        me = {"message_id": 5, "id": 1, "username": "x"}
        return 200, json.dumps({"ok": True, "result": [] if polled else me}).encode()

    monkeypatch.setattr(Connection, "post", post)
    asyncio.run(every_method(Client("http://127.0.0.1:1", "1:TEST", 1), -5))
    assert called.keys() == METHODS.keys()
    for method, names in called.items():
        known = inspect.signature(getattr(telegram.Bot, METHODS[method])).parameters
        assert names <= known.keys(), method


@pytest.mark.parametrize(("shape", "theirs"), SHAPES)
def test_every_field_that_is_read_is_one_that_the_library_knows(
    shape: type[msgspec.Struct], theirs: type[Any]
) -> None:
    known = {
        name.lstrip("_").replace("from_user", "from") for kind in theirs.__mro__ for name in _slots(kind)
    }
    assert set(shape.__struct_encode_fields__) - OLDER <= known


def _slots(kind: type[Any]) -> tuple[str, ...]:
    slots = getattr(kind, "__slots__", ())
    return (slots,) if isinstance(slots, str) else tuple(slots)


def test_every_kind_of_standing_has_the_fields_that_are_read() -> None:
    kinds = (telegram.ChatMember, telegram.ChatMemberRestricted)
    known = {name for kind in kinds for name in _slots(kind)}
    assert set(updates.WireMember.__struct_encode_fields__) <= known


def test_the_kinds_that_we_ask_for_are_kinds() -> None:
    assert set(ALLOWED_UPDATES) <= set(telegram.Update.ALL_TYPES)
    assert set(ALLOWED_UPDATES) == set(updates.Update.__struct_fields__) - {"update_id"}


def test_updates_say_the_same_to_us_and_to_the_library(api: BotApi) -> None:
    world = api.world
    group = world.add_bot("ana", "Harbour Street")
    first = world.say("ana", "sg 1.012", group)
    world.say("bo", "later", group, reply_to=first)
    world.edit("ana", first, "sg 1.010", group)
    said = world.pending(None, 100)
    pressed = {
        "id": "q",
        "chat_instance": "1",
        "from": world.member("ana"),
        "message": said[-2]["message"],
        "data": "b:7",
    }
    for raw in (*said, {"update_id": 9, "callback_query": pressed}):
        theirs = telegram.Update.de_json(json.loads(json.dumps(raw)), None)
        _same(decoded(json.dumps(raw)), theirs)
    kinds = {kind for raw in said for kind in raw}
    assert kinds == {"update_id", *ALLOWED_UPDATES} - {"callback_query"}


def _same(mine: msgspec.Struct, theirs: Any) -> None:
    for name in mine.__struct_fields__:
        value = getattr(mine, name)
        other = getattr(theirs, "from_user" if name == "sender" else name, None)
        if isinstance(value, msgspec.Struct):
            _same(value, other)
        elif value is not None:
            assert value == (int(other.timestamp()) if name == "date" else other), name


REFUSALS: list[tuple[int, bytes]] = [
    *(
        (status, b'{"ok": false, "description": "No"}')
        for status in (400, 401, 403, 404, 409, 429, 500, 502, 503)
    ),
    (400, b'{"description": "x", "parameters": {"migrate_to_chat_id": -1005}}'),
    (429, b'{"description": "x", "parameters": {"retry_after": 7}}'),
    (403, b'{"description": "x", "parameters": {}}'),
    (502, b"<html>Bad Gateway</html>"),
    (302, b""),
]


@pytest.mark.parametrize(("status", "payload"), REFUSALS)
def test_a_refusal_means_the_same_to_us_and_to_the_library(
    monkeypatch: pytest.MonkeyPatch, status: int, payload: bytes
) -> None:
    async def post(self: Connection, url: str, body: object) -> tuple[int, bytes]:
        return status, payload

    monkeypatch.setattr(Connection, "post", post)
    monkeypatch.setattr("telegram.request._baserequest._LOGGER.disabled", True)
    with pytest.raises(TelegramError) as caught:
        asyncio.run(Carrier(Connection("http://127.0.0.1:1", 1, 1.0)).post("http://127.0.0.1:1/x"))
    mine, theirs = refusal(status, payload), ours(caught.value)
    assert type(mine) is type(theirs)
    assert vars(mine) == vars(theirs)


def _introduced(api: BotApi, work: Callable[[Introduction], Awaitable[Any]]) -> Any:
    async def run() -> Any:
        connection = Connection(api.url, 1, 5.0)
        await connection.open()
        try:
            return await work(Introduction(connection, api.url, api.world.token))
        finally:
            await connection.close()

    return asyncio.run(run())


def test_the_introduction_goes_through_the_library_and_over_our_connection(api: BotApi) -> None:
    async def all_of_it(introduction: Introduction) -> Me:
        await introduction.offer([("help", "what to write")])
        await introduction.be_called("https://example.org/hook", "secret")
        assert api.world.webhook["url"] == "https://example.org/hook"
        await introduction.come_for_updates()
        return await introduction.who_we_are()

    me = _introduced(api, all_of_it)
    assert (me.id, me.username) == (api.world.bot["id"], api.world.bot["username"])
    assert not api.world.webhook["url"]
    (call,) = api.world.calls_of("setWebhook")
    assert (call.params["max_connections"], call.params["allowed_updates"]) == (1, list(ALLOWED_UPDATES))


def test_what_the_connection_raises_comes_through_the_library_unchanged(api: BotApi) -> None:
    api.world.fail("getMe", drop=True)
    with pytest.raises(NetworkFailedError) as caught:
        _introduced(api, lambda introduction: introduction.who_we_are())
    assert caught.value.__suppress_context__
    assert api.world.token not in str(caught.value)


def test_the_client_is_typed_both_ways() -> None:
    for name, method in inspect.getmembers(Client, inspect.iscoroutinefunction):
        if not name.startswith("_"):
            hints = typing.get_type_hints(method)
            assert hints.keys() >= inspect.signature(method).parameters.keys() - {"self"} | {"return"}
            assert Any not in hints.values(), name
