"""What passes between a chat service and a house: `Incoming` one way, `Letter` the other."""

from datetime import datetime

import msgspec


class Incoming(msgspec.Struct, frozen=True, kw_only=True):
    """One update from a chat service, already in our words.

    `update_id` is unique for the bot: a second one with the same id changes nothing. `press` is the data of
    a pressed button (then `text` is None and `message_id` is the message that carried the button).
    """

    update_id: int
    chat_id: int
    private: bool
    chat_title: str = ""
    sender_id: int
    sender_name: str
    message_id: int
    sent_at: datetime
    text: str | None = None
    edited: bool = False
    reply_to: int | None = None
    press: str | None = None
    thread_id: int | None = None
    forwarded: bool = False
    addressed: bool = False
    """It mentions the bot (the mention already cut from `text`) or is a slash command for it."""
    joined: bool = False
    """The bot was just added to this chat."""
    moved_to: int | None = None
    """The chat goes on under this new chat id."""


class Button(msgspec.Struct, frozen=True, kw_only=True):
    """A choice under a message. `data` comes back as `Incoming.press`: at most 64 bytes, looked up."""

    label: str
    data: str


class Letter(msgspec.Struct, frozen=True, kw_only=True):
    """One message to a chat. `html` uses only <b>, <i>, <code> and escaped text, at most 4,096 characters.

    When `edits` is set, the chat message of that id is changed instead of a new one sent.
    """

    letter_id: int
    chat_id: int
    html: str
    buttons: tuple[Button, ...] = ()
    reply_to: int | None = None
    thread_id: int | None = None
    edits: int | None = None
