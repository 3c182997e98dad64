"""Updates as they come: numbered, and otherwise unread, so that none can stand in the way of the others."""

import logging
import re

import msgspec

from bot.edges.telegram.client import Client
from bot.edges.telegram.errors import UnreadableAnswerError
from bot.edges.telegram.updates import LARGEST_WHOLE
from bot.ids import ChatId, UpdateId

log = logging.getLogger(__name__)

MOST = 100

_UNREADABLE = (msgspec.DecodeError, RecursionError, UnicodeEncodeError)
_NUMBER = re.compile(
    rb'\s*(?:\{\s*"ok"\s*:\s*true\s*,\s*"result"\s*:\s*\[\s*)?\{\s*"update_id"\s*:\s*(\d{1,19})\s*[,}]'
)
"""How an update begins, alone or as the only one of an answer: its number stands before all else."""


async def fetch(client: Client, offset: int | None) -> list[tuple[UpdateId, str]]:
    """The next updates, each with its number, as they came. To ask with an offset confirms all before it.

    Raises the client's errors, and msgspec.DecodeError for an answer without a usable update.
    """
    try:
        updates = await client.get_updates(offset, MOST)
    except (
        UnreadableAnswerError
    ):  # one of them is nested too deep, or holds what is no text: so each on its own
        try:
            updates = await client.get_updates(offset, 1)
        except UnreadableAnswerError as alone:
            updates = [alone.payload]
    batch = [entry for raw in updates if (entry := numbered(raw)) is not None]
    if len(batch) < len(updates):
        log.warning("%d updates without a usable id were left out", len(updates) - len(batch))
        if not batch:
            raise msgspec.DecodeError("no update has a usable id")
    return batch


class _Numbered(msgspec.Struct):
    update_id: UpdateId


class _Where(msgspec.Struct):
    id: ChatId


class _InChat(msgspec.Struct):
    chat: _Where


class _Pressed(msgspec.Struct):
    message: _InChat


class _Placed(msgspec.Struct):
    message: _InChat | None = None
    edited_message: _InChat | None = None
    my_chat_member: _InChat | None = None
    callback_query: _Pressed | None = None


def chat_of(raw: str) -> ChatId | None:
    """The chat in which it happened, where the update is as it should be."""
    try:
        placed = msgspec.json.decode(raw, type=_Placed)
    except _UNREADABLE:
        return None
    pressed = placed.callback_query.message if placed.callback_query is not None else None
    said = placed.message or placed.edited_message or placed.my_chat_member or pressed
    return said.chat.id if said is not None and abs(said.chat.id) <= LARGEST_WHOLE else None


def numbered(raw: bytes) -> tuple[UpdateId, str] | None:
    """An update's id and its JSON as it came; None when it has no id that can be stored."""
    try:
        update_id = msgspec.json.decode(raw, type=_Numbered).update_id
    except _UNREADABLE:
        found = _NUMBER.match(raw)
        if found is None:
            return None
        update_id = UpdateId(int(found[1]))
    return (update_id, raw.decode(errors="replace")) if 0 <= update_id <= LARGEST_WHOLE else None
