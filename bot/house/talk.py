"""What passes between a chat service and a house: `Incoming` one way, `Letter` the other."""

from datetime import datetime

import msgspec

from bot.ids import ChatId, HouseholdId, LetterId, MessageId, UpdateId

ANONYMOUS = 1087968824
"""The sender of what a group's admins write without their name: the same one for all of them."""


class Incoming(msgspec.Struct, frozen=True, kw_only=True):
    """One update from a chat service, already in our words.

    `update_id` is unique for the bot: a second one with the same id changes nothing. `press` is the data of
    a pressed button (then `text` is None and `message_id` is the message that carried the button).
    """

    update_id: UpdateId
    chat_id: ChatId
    private: bool
    chat_title: str = ""
    public: bool = False
    """Anybody can look into this chat, and press what stands there, without being in it."""
    sender_id: int
    sender_name: str
    message_id: MessageId
    sent_at: datetime
    text: str | None = None
    edited: bool = False
    reply_to: MessageId | None = None
    press: str | None = None
    thread_id: int | None = None
    forwarded: bool = False
    addressed: bool = False
    """It mentions the bot (the mention already cut from `text`) or is a slash command for it."""
    joined: bool = False
    """The bot was just added to this chat (`sender_id` is 0 when nobody says by whom)."""
    removed: bool = False
    """The bot was removed from this chat, or blocked in it."""
    left: int | None = None
    """This person left the chat."""
    opened: bool = False
    """The bot may write in this chat, perhaps again."""
    moved_to: ChatId | None = None
    """The chat goes on under this new chat id."""

    @property
    def forwards_command(self) -> bool:
        """It passes on a command that was given elsewhere: that is for nobody here."""
        return self.forwarded and (self.text or "").lstrip().startswith("/")


class Waiting(msgspec.Struct, frozen=True):
    """A raw update that is to be handled now; a `spent` one is to be given up unread."""

    update_id: UpdateId
    raw: str
    spent: bool = False


class Button(msgspec.Struct, frozen=True, kw_only=True):
    """A choice under a message. `data` comes back as `Incoming.press`: at most 64 bytes, looked up."""

    label: str
    data: str


class Attached(msgspec.Struct, frozen=True, kw_only=True):
    """A file that goes with a letter; what is in it the desk gives when it is sent. `kind` is one word for what
    it is, such as "calendar"."""

    name: str
    media_type: str
    kind: str


class Letter(msgspec.Struct, frozen=True, kw_only=True):
    """One message to a chat. `html` uses only <b>, <i>, <code> and escaped text, at most 4,096 characters
    (`bot.say.pages` sees to that).

    When `edits` is set, the chat message of that id is changed instead of a new one sent. A letter with a `file`
    is always a new message, and its text at most 1,024 characters.
    """

    letter_id: LetterId
    chat_id: ChatId
    html: str
    buttons: tuple[Button, ...] = ()
    reply_to: MessageId | None = None
    thread_id: int | None = None
    edits: MessageId | None = None
    reminder: bool = False
    file: Attached | None = None
    household: HouseholdId | None = None
    """None for what is said at the door."""
    held_until: datetime | None = None
    """It is in the hands of a process until then: of this one where it is `ours`."""
    ours: bool = False
