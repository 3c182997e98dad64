"""Updates as the platform writes them: of each kind that we ask for, the fields that are read.

Field names are those of the Bot API (core.telegram.org/bots/api, version 10.0). Every field may be missing: what
cannot be done without is for the reader to say (`reading.py`).
"""

import json

import msgspec
from msgspec import field

from bot.ids import ChatId, MessageId, UpdateId

ALLOWED_UPDATES = ("message", "edited_message", "callback_query", "my_chat_member")
"""The kinds of update that we ask for; a kind that is not asked for is never sent."""

LARGEST_WHOLE = 2**63 - 1  # what a BIGINT column holds


class WireUser(msgspec.Struct, frozen=True):
    """A person or a bot."""

    id: int | None = None
    is_bot: bool | None = None
    first_name: str | None = None
    username: str | None = None


class WireChat(msgspec.Struct, frozen=True):
    """A private chat, a group or a channel."""

    id: ChatId | None = None
    type: str | None = None
    title: str | None = None
    username: str | None = None


class WireReply(msgspec.Struct, frozen=True):
    """The message that another one answers."""

    message_id: MessageId | None = None


class WireMessage(msgspec.Struct, frozen=True, kw_only=True):
    """What somebody wrote, or what happened in a chat; of one that the platform no longer has, little is left."""

    message_id: MessageId | None = None
    date: int | None = None
    chat: WireChat | None = None
    sender: WireUser | None = field(name="from", default=None)
    sender_chat: WireChat | None = None
    author_signature: str | None = None
    text: str | None = None
    caption: str | None = None
    reply_to_message: WireReply | None = None
    message_thread_id: int | None = None
    is_topic_message: bool | None = None
    forward_origin: object = None
    forward_date: object = None
    forward_from: object = None
    migrate_to_chat_id: ChatId | None = None
    migrate_from_chat_id: ChatId | None = None
    left_chat_member: WireUser | None = None


class WirePress(msgspec.Struct, frozen=True, kw_only=True):
    """A button under a message of ours was pressed; `message` is the one that carried it."""

    id: str | None = None
    sender: WireUser | None = field(name="from", default=None)
    message: WireMessage | None = None
    data: str | None = None


class WireMember(msgspec.Struct, frozen=True):
    """How somebody stands in a chat."""

    user: WireUser | None = None
    status: str | None = None
    is_member: bool | None = None
    can_send_messages: bool | None = None


class WireStanding(msgspec.Struct, frozen=True, kw_only=True):
    """The bot's own standing in a chat was changed by somebody."""

    chat: WireChat | None = None
    sender: WireUser | None = field(name="from", default=None)
    date: int | None = None
    old_chat_member: WireMember = WireMember()
    new_chat_member: WireMember = WireMember()


class Update(msgspec.Struct, frozen=True, kw_only=True):
    """One of the kinds."""

    update_id: UpdateId | None = None
    message: WireMessage | None = None
    edited_message: WireMessage | None = None
    callback_query: WirePress | None = None
    my_chat_member: WireStanding | None = None


def decoded(raw: str) -> Update:
    """An update from its JSON. Raises msgspec.ValidationError, which names the field that is of another kind, and
    what `json` raises for what is no JSON at all."""
    try:
        return msgspec.json.decode(raw, type=Update)
    except msgspec.ValidationError:
        raise
    except (msgspec.DecodeError, UnicodeError):  # halves of surrogate pairs, numbers that are none
        return msgspec.convert(json.loads(raw), type=Update)
