"""What Telegram says, in the house's words: an update becomes an `Incoming`.

Pure, and hard to offend: whatever the update holds, the answer is an `Incoming` or a `NotForUs` with its reason.
"""

import re
import unicodedata
from datetime import UTC, datetime
from typing import Any, TypeVar

import msgspec

from bot.edges.telegram.updates import (
    LARGEST_WHOLE,
    Update,
    WireChat,
    WireMember,
    WireMessage,
    WirePress,
    WireStanding,
    WireUser,
    decoded,
)
from bot.house.talk import ANONYMOUS, Incoming
from bot.ids import MessageId, UpdateId

_WholeNumber = TypeVar("_WholeNumber", bound=int)

LONGEST_NAME = 64
LAST_MOMENT = 2**33  # the year 2242

_COMMAND = re.compile(r"/([A-Za-z0-9_]{1,64})(?:@(\w+))?(?=\s|$)")
_TURNS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_PRESENT = ("creator", "administrator", "member")
_STATES = (*_PRESENT, "restricted", "left", "kicked")


class NotForUs(msgspec.Struct, frozen=True):
    """An update that is nothing for the house, and why (never what somebody wrote)."""

    why: str


class _OddError(Exception):
    """A field that we cannot do without is missing or out of range."""


def opened(raw: str) -> Update | NotForUs:
    """An update from its JSON as it came. Raises what `json` raises for what is no JSON."""
    try:
        return decoded(raw)
    except msgspec.ValidationError as odd:
        return NotForUs(_place(odd))


def read_update(update: Update, bot_username: str, bot_id: int, now: datetime) -> Incoming | NotForUs:
    """One update in the house's words; never raises, whatever is in it.

    `now` stands for the moment of a pressed button, which carries no time of its own. An edited message
    keeps the moment at which it was first sent.
    """
    try:
        return _read(update, bot_username, bot_id, now)
    except _OddError as odd:
        return NotForUs(str(odd))


def without_words(update: Update) -> Update:
    """The update without what somebody wrote, which is not to be looked at again."""
    message, edited = update.message, update.edited_message
    return msgspec.structs.replace(
        update,
        message=_wordless(message) if message is not None else None,
        edited_message=_wordless(edited) if edited is not None else None,
    )


def _wordless(message: WireMessage) -> WireMessage:
    return WireMessage(
        message_id=message.message_id,
        date=message.date,
        chat=message.chat,
        sender=message.sender,
        sender_chat=message.sender_chat,
        message_thread_id=message.message_thread_id,
        is_topic_message=message.is_topic_message,
        text="-",
    )


def press_id(update: Update) -> str | None:
    """The id of the button press in this update, which wants an acknowledgement; None when it is no press."""
    return update.callback_query.id if update.callback_query is not None else None


def _read(update: Update, bot_username: str, bot_id: int, now: datetime) -> Incoming | NotForUs:
    update_id = _whole(update.update_id, "update_id")
    if update.message is not None:
        return _message(update_id, update.message, False, bot_username)
    if update.edited_message is not None:
        return _message(update_id, update.edited_message, True, bot_username)
    if update.callback_query is not None:
        return _press(update_id, update.callback_query, now)
    if update.my_chat_member is not None:
        return _membership(update_id, update.my_chat_member, bot_id)
    return NotForUs("a kind of update that was not asked for")


def _message(
    update_id: UpdateId, message: WireMessage, edited: bool, bot_username: str
) -> Incoming | NotForUs:
    chat = _Venue(message.chat)
    if message.migrate_to_chat_id is not None or message.migrate_from_chat_id is not None:
        return _move(update_id, message, chat)
    if message.left_chat_member is not None:
        return _leaving(update_id, message, message.left_chat_member, chat)
    person = _person(message)
    if person is None:
        return NotForUs("no person wrote it")
    written = message.text if message.text is not None else message.caption
    if written is None:
        return NotForUs("no words in it")
    written = _clean(written)
    text, addressed = written, False
    command = _COMMAND.match(written)
    if command is not None:
        if command[2] is not None and command[2].lower() != bot_username.lower():
            return NotForUs("a command for another bot")
        text, addressed = f"/{command[1]}{written[command.end() :]}", True
    text, mentioned = _without_mention(text, bot_username)
    passed_on = (message.forward_origin, message.forward_date, message.forward_from)
    return Incoming(
        update_id=update_id,
        chat_id=chat.chat_id,
        private=chat.private,
        chat_title=chat.title,
        sender_id=person[0],
        sender_name=person[1],
        message_id=_whole(message.message_id, "message_id"),
        sent_at=_moment(message.date),
        text=text,
        edited=edited,
        reply_to=_reply_to(message),
        thread_id=_thread(message),
        forwarded=any(sign is not None for sign in passed_on),
        addressed=addressed or mentioned,
    )


def _move(update_id: UpdateId, message: WireMessage, chat: "_Venue") -> Incoming:
    """The group became a supergroup: said once in the old chat and once in the new one."""
    old, new = chat.chat_id, chat.chat_id
    if message.migrate_to_chat_id is not None:
        new = _whole(message.migrate_to_chat_id, "migrate_to_chat_id")
    else:
        old = _whole(message.migrate_from_chat_id, "migrate_from_chat_id")
    return _service(update_id, message, chat, chat_id=old, moved_to=new)


def _leaving(
    update_id: UpdateId, message: WireMessage, gone: WireUser, chat: "_Venue"
) -> Incoming | NotForUs:
    if gone.is_bot is not False:
        return NotForUs("no person left")
    return _service(update_id, message, chat, left=_whole(gone.id, "the id of who left"))


def _service(update_id: UpdateId, owner: WireMessage | WireStanding, chat: "_Venue", **what: Any) -> Incoming:
    """Something that happened to the chat, by whomever."""
    sender_id, sender_name = _person(owner) or (0, "")
    message_id = owner.message_id if isinstance(owner, WireMessage) else None
    return Incoming(
        update_id=update_id,
        private=chat.private,
        chat_title=chat.title,
        sender_id=sender_id,
        sender_name=sender_name,
        message_id=_whole(message_id or MessageId(0), "message_id"),
        sent_at=_moment(owner.date),
        **({"chat_id": chat.chat_id} | what),
    )


def _press(update_id: UpdateId, query: WirePress, now: datetime) -> Incoming | NotForUs:
    message = query.message
    if message is None:
        return NotForUs("a button that stands in no chat")
    chat = _Venue(message.chat)
    person = _person(query)
    if person is None:
        return NotForUs("no person pressed it")
    if not query.data:
        return NotForUs("a button without data")
    return Incoming(
        update_id=update_id,
        chat_id=chat.chat_id,
        private=chat.private,
        chat_title=chat.title,
        public=chat.public,
        sender_id=person[0],
        sender_name=person[1],
        message_id=_whole(message.message_id, "message_id"),
        sent_at=now,
        press=_clean(query.data),
        thread_id=_thread(message),
    )


def _membership(update_id: UpdateId, change: WireStanding, bot_id: int) -> Incoming | NotForUs:
    chat = _Venue(change.chat)
    before, after = change.old_chat_member, change.new_chat_member
    if after.user is None or after.user.id != bot_id:
        return NotForUs("about another member")
    if after.status not in _STATES:
        return NotForUs("a membership that is not known")
    if not _present(after):
        return _service(update_id, change, chat, removed=True)
    if _present(before) and after.can_send_messages is False:
        return NotForUs("the bot may not write there now")
    if _present(before) or chat.private:
        return _service(update_id, change, chat, opened=True)
    return _service(update_id, change, chat, joined=True)


class _Venue:
    """The chat in which it happened."""

    def __init__(self, chat: WireChat | None) -> None:
        chat = chat or WireChat()
        self.chat_id = _whole(chat.id, "the chat's id")
        if chat.type == "channel":
            raise _OddError("a channel, not a household's chat")
        self.private = chat.type == "private"
        self.public = not self.private and chat.username is not None
        self.title = _one_line(chat.title)


def _person(owner: WireMessage | WirePress | WireStanding) -> tuple[int, str] | None:
    """Who did it, if it was a person: not a bot and not a channel. An admin who writes in the group's name is
    one too, though nobody says which."""
    sender = owner.sender or WireUser()
    in_name_of = owner.sender_chat if isinstance(owner, WireMessage) else None
    if sender.id == ANONYMOUS:
        chat = owner.chat if not isinstance(owner, WirePress) else None
        if in_name_of is None or (chat is not None and in_name_of.id == chat.id):
            signature = owner.author_signature if isinstance(owner, WireMessage) else None
            return ANONYMOUS, _one_line(signature) or "an admin"
    if sender.is_bot is not False or in_name_of is not None:
        return None
    name = _one_line(sender.first_name) or _one_line(sender.username) or "someone"
    return _whole(sender.id, "the sender's id"), name


def _present(member: WireMember) -> bool:
    return member.status in _PRESENT or (member.status == "restricted" and member.is_member is True)


def _reply_to(message: WireMessage) -> MessageId | None:
    target = message.reply_to_message.message_id if message.reply_to_message is not None else None
    if target is None:
        return None
    if message.is_topic_message is True and target == message.message_thread_id:
        return None  # in a topic every message points to the topic's first one
    return _whole(target, "the message replied to")


def _thread(message: WireMessage) -> int | None:
    # Outside forums a reply thread has an id too, and sending to that one is refused.
    if message.is_topic_message is not True or message.message_thread_id is None:
        return None
    return _whole(message.message_thread_id, "message_thread_id")


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


def _whole(value: _WholeNumber | None, what: str) -> _WholeNumber:
    if value is not None and -LARGEST_WHOLE <= value <= LARGEST_WHOLE:
        return value
    raise _OddError(f"{what} is {'missing' if value is None else 'out of range'}")


def _moment(seconds: int | None) -> datetime:
    if seconds is not None and 0 < seconds < LAST_MOMENT:
        return datetime.fromtimestamp(seconds, UTC)
    raise _OddError("the date is out of range")


def _place(odd: msgspec.ValidationError) -> str:
    """Where in an update something is of another kind than the platform writes."""
    _, _, path = str(odd).partition(" - at `$.")
    return f"{path.rstrip('`') or 'all of it'} is of another kind"


def _clean(text: str) -> str:
    """Text that any database takes: halves of surrogate pairs and NUL cannot be stored everywhere."""
    return text.encode("utf-16", "surrogatepass").decode("utf-16", "replace").replace("\x00", "\ufffd")


def _one_line(value: str | None) -> str:
    """A name or title: no line breaks, no control characters, nothing that turns the writing's direction."""
    words = " ".join(_clean(value or "").split())
    kept = "".join(c for c in words if unicodedata.category(c) != "Cc" and c not in _TURNS)
    return kept.strip()[:LONGEST_NAME]
