"""What Telegram says, in the house's words: a raw update becomes an `Incoming`.

Pure, and hard to offend: whatever the JSON holds, the answer is an `Incoming` or a `Skip` with its reason.
Field names are those of the Bot API (core.telegram.org/bots/api, version 10.0).
"""

import re
import unicodedata
from datetime import UTC, datetime
from typing import Any

import msgspec

from bot.house.talk import ANONYMOUS, Incoming

ALLOWED_UPDATES = ("message", "edited_message", "callback_query", "my_chat_member")
"""The kinds of update that we ask for; a kind that is not asked for is never sent."""

LONGEST_NAME = 64
LARGEST_WHOLE = 2**63 - 1  # what a BIGINT column holds
LAST_MOMENT = 2**33  # the year 2242

_COMMAND = re.compile(r"/([A-Za-z0-9_]{1,64})(?:@(\w+))?(?=\s|$)")
_TURNS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_PRESENT = ("creator", "administrator", "member")
_STATES = (*_PRESENT, "restricted", "left", "kicked")


class Skip(msgspec.Struct, frozen=True):
    """An update that is nothing for the house, and why (never what somebody wrote)."""

    why: str


class _OddError(Exception):
    """A field that we cannot do without is missing or of another kind."""


def read_update(raw: object, bot_username: str, bot_id: int, now: datetime) -> Incoming | Skip:
    """One decoded update in the house's words; never raises, whatever `raw` is.

    `now` stands for the moment of a pressed button, which carries no time of its own. An edited message
    keeps the moment at which it was first sent.
    """
    try:
        return _read(_table(raw), bot_username, bot_id, now)
    except _OddError as odd:
        return Skip(str(odd))


def without_words(raw: object) -> object:
    """The update without what somebody wrote or pressed, which is not to be looked at again."""
    update = dict(_table(raw))
    for kind in ("message", "edited_message"):
        if kind in update:
            whole = _table(update[kind])
            kept = (
                "message_id",
                "date",
                "chat",
                "from",
                "sender_chat",
                "message_thread_id",
                "is_topic_message",
            )
            update[kind] = {name: whole[name] for name in kept if name in whole} | {"text": "-"}
    return update


def press_id(raw: object) -> str | None:
    """The id of the button press in this update, which wants an acknowledgement; None when it is no press."""
    query = _table(_table(raw).get("callback_query")).get("id")
    return query if isinstance(query, str) else None


def _read(raw: dict[str, Any], bot_username: str, bot_id: int, now: datetime) -> Incoming | Skip:
    update_id = _whole(raw.get("update_id"), "update_id")
    for kind in ("message", "edited_message"):
        if kind in raw:
            return _message(update_id, _table(raw[kind]), kind == "edited_message", bot_username)
    if "callback_query" in raw:
        return _press(update_id, _table(raw["callback_query"]), now)
    if "my_chat_member" in raw:
        return _membership(update_id, _table(raw["my_chat_member"]), bot_id)
    return Skip("a kind of update that was not asked for")


def _message(update_id: int, message: dict[str, Any], edited: bool, bot_username: str) -> Incoming | Skip:
    chat = _Chat(message)
    if "migrate_to_chat_id" in message or "migrate_from_chat_id" in message:
        return _move(update_id, message, chat)
    if "left_chat_member" in message:
        return _leaving(update_id, message, chat)
    person = _person(message)
    if person is None:
        return Skip("no person wrote it")
    written = _clean(message.get("text"))
    if written is None:
        written = _clean(message.get("caption"))
    if written is None:
        return Skip("no words in it")
    text, addressed = written, False
    command = _COMMAND.match(written)
    if command is not None:
        if command[2] is not None and command[2].lower() != bot_username.lower():
            return Skip("a command for another bot")
        text, addressed = f"/{command[1]}{written[command.end() :]}", True
    text, mentioned = _without_mention(text, bot_username)
    return Incoming(
        update_id=update_id,
        chat_id=chat.chat_id,
        private=chat.private,
        chat_title=chat.title,
        sender_id=person[0],
        sender_name=person[1],
        message_id=_whole(message.get("message_id"), "message_id"),
        sent_at=_moment(message.get("date")),
        text=text,
        edited=edited,
        reply_to=_reply_to(message),
        thread_id=_thread(message),
        forwarded=any(field in message for field in ("forward_origin", "forward_date", "forward_from")),
        addressed=addressed or mentioned,
    )


def _move(update_id: int, message: dict[str, Any], chat: "_Chat") -> Incoming:
    """The group became a supergroup: said once in the old chat and once in the new one."""
    old, new = chat.chat_id, chat.chat_id
    if "migrate_to_chat_id" in message:
        new = _whole(message["migrate_to_chat_id"], "migrate_to_chat_id")
    else:
        old = _whole(message["migrate_from_chat_id"], "migrate_from_chat_id")
    return _service(update_id, message, chat, chat_id=old, moved_to=new)


def _leaving(update_id: int, message: dict[str, Any], chat: "_Chat") -> Incoming | Skip:
    gone = _table(message["left_chat_member"])
    if gone.get("is_bot") is not False:
        return Skip("no person left")
    return _service(update_id, message, chat, left=_whole(gone.get("id"), "the id of who left"))


def _service(update_id: int, owner: dict[str, Any], chat: "_Chat", **what: Any) -> Incoming:
    """Something that happened to the chat, by whomever."""
    sender_id, sender_name = _person(owner) or (0, "")
    message_id = _whole(owner.get("message_id", 0), "message_id")
    return Incoming(
        update_id=update_id,
        private=chat.private,
        chat_title=chat.title,
        sender_id=sender_id,
        sender_name=sender_name,
        message_id=message_id,
        sent_at=_moment(owner.get("date")),
        **({"chat_id": chat.chat_id} | what),
    )


def _press(update_id: int, query: dict[str, Any], now: datetime) -> Incoming | Skip:
    if "message" not in query:
        return Skip("a button that stands in no chat")
    message = _table(query["message"])
    chat = _Chat(message)
    person = _person(query)
    if person is None:
        return Skip("no person pressed it")
    data = _clean(query.get("data"))
    if not data:
        return Skip("a button without data")
    return Incoming(
        update_id=update_id,
        chat_id=chat.chat_id,
        private=chat.private,
        chat_title=chat.title,
        public=chat.public,
        sender_id=person[0],
        sender_name=person[1],
        message_id=_whole(message.get("message_id"), "message_id"),
        sent_at=now,
        press=data,
        thread_id=_thread(message),
    )


def _membership(update_id: int, change: dict[str, Any], bot_id: int) -> Incoming | Skip:
    chat = _Chat(change)
    before, after = _table(change.get("old_chat_member")), _table(change.get("new_chat_member"))
    if _table(after.get("user")).get("id") != bot_id:
        return Skip("about another member")
    if after.get("status") not in _STATES:
        return Skip("a membership that is not known")
    if not _present(after):
        return _service(update_id, change, chat, removed=True)
    if _present(before) and after.get("can_send_messages") is False:
        return Skip("the bot may not write there now")
    if _present(before) or chat.private:
        return _service(update_id, change, chat, opened=True)
    return _service(update_id, change, chat, joined=True)


class _Chat:
    """The chat in which it happened."""

    def __init__(self, owner: dict[str, Any]) -> None:
        chat = _table(owner.get("chat"))
        self.chat_id = _whole(chat.get("id"), "the chat's id")
        if chat.get("type") == "channel":
            raise _OddError("a channel, not a household's chat")
        self.private = chat.get("type") == "private"
        self.public = not self.private and isinstance(chat.get("username"), str)
        self.title = _one_line(chat.get("title"))


def _person(owner: dict[str, Any]) -> tuple[int, str] | None:
    """Who did it, if it was a person: not a bot and not a channel. An admin who writes in the group's name is
    one too, though nobody says which."""
    sender = _table(owner.get("from"))
    chat = _table(owner.get("chat"))
    if sender.get("id") == ANONYMOUS and _table(owner.get("sender_chat", chat)).get("id") == chat.get("id"):
        return ANONYMOUS, _one_line(owner.get("author_signature")) or "an admin"
    if sender.get("is_bot") is not False or "sender_chat" in owner:
        return None
    name = _one_line(sender.get("first_name")) or _one_line(sender.get("username")) or "someone"
    return _whole(sender.get("id"), "the sender's id"), name


def _present(member: dict[str, Any]) -> bool:
    status = member.get("status")
    return status in _PRESENT or (status == "restricted" and member.get("is_member") is True)


def _reply_to(message: dict[str, Any]) -> int | None:
    replied = _table(message.get("reply_to_message"))
    target = replied.get("message_id")
    if target is None:
        return None
    if message.get("is_topic_message") is True and target == message.get("message_thread_id"):
        return None  # in a topic every message points to the topic's first one
    return _whole(target, "the message replied to")


def _thread(message: dict[str, Any]) -> int | None:
    # Outside forums a reply thread has an id too, and sending to that one is refused.
    if message.get("is_topic_message") is not True or "message_thread_id" not in message:
        return None
    return _whole(message["message_thread_id"], "message_thread_id")


def _without_mention(text: str, bot_username: str) -> tuple[str, bool]:
    """The text without the bot's @name, and whether it was there."""
    if not bot_username:
        return text, False
    mention = rf"(?<![\w@/.])@{re.escape(bot_username)}(?!\w)"
    first, *rest = re.split(mention, text, flags=re.IGNORECASE)
    if not rest:
        return text, False
    if not first.strip():
        rest[0] = re.sub(r"\A[\s,:;!]+", "", rest[0])
    return " ".join(part.strip(" \t") for part in (first, *rest)).strip(), True


def _table(value: object) -> dict[str, Any]:
    return value if isinstance(value, dict) else {}


def _whole(value: object, what: str) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and -LARGEST_WHOLE <= value <= LARGEST_WHOLE:
        return value
    raise _OddError(f"{what} is not a whole number")


def _moment(value: object) -> datetime:
    seconds = _whole(value, "the date")
    if 0 < seconds < LAST_MOMENT:
        return datetime.fromtimestamp(seconds, UTC)
    raise _OddError("the date is out of range")


def _clean(value: object) -> str | None:
    """Text that any database takes: halves of surrogate pairs and NUL cannot be stored everywhere."""
    if not isinstance(value, str):
        return None
    return value.encode("utf-16", "surrogatepass").decode("utf-16", "replace").replace("\x00", "\ufffd")


def _one_line(value: object) -> str:
    """A name or title: no line breaks, no control characters, nothing that turns the writing's direction."""
    words = " ".join((_clean(value) or "").split())
    kept = "".join(c for c in words if unicodedata.category(c) != "Cc" and c not in _TURNS)
    return kept.strip()[:LONGEST_NAME]
