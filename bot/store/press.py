"""What a button does: one union, `Press`, as it stands in the outbox beside the button's label.

A press is written and read here only. Rows of before are lifted to today's form when they are read.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any, Literal

import msgspec

from bot.ids import BatchId, EntryId, HouseholdId, MessageId

ReminderAnswer = Literal["done", "later", "mine", "release", "cloudy", "hour", "evening", "tomorrow", "timer"]
"""What a button under a reminder says of it."""

ChatKind = Literal["family", "wine"]
UnitSystem = Literal["metric", "imperial", "us"]


class _Pressing(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, tag_field="press"):
    """What every press has: a word for what it does."""


class ChooseOption(_Pressing, frozen=True, kw_only=True, tag="choose"):
    """One of the options of the question `asked`; `strikes` are the entries that it replaces."""

    asked: int
    option: int
    strikes: tuple[EntryId, ...] = ()


class DropQuestion(_Pressing, frozen=True, kw_only=True, tag="drop"):
    """None of the options of the question `asked`."""

    asked: int


class StrikeOut(_Pressing, frozen=True, kw_only=True, tag="undo"):
    """These entries are struck out, or put back where they strike out others."""

    entries: tuple[EntryId, ...]


class TellHow(_Pressing, frozen=True, kw_only=True, tag="how"):
    """How the next chore of that batch is done."""

    batch: BatchId


class FollowPlan(_Pressing, frozen=True, kw_only=True, tag="follow"):
    """That batch goes on by the plan of that key."""

    batch: BatchId
    plan: str


class AddVessel(_Pressing, frozen=True, kw_only=True, tag="vessel"):
    """A vessel `name` comes into the house, and the message that named it is taken anew, as its author's:
    `member` is their id at the chat service."""

    name: str
    text: str | None
    message_id: MessageId
    sent_at: datetime
    member: int


class SetUp(_Pressing, frozen=True, kw_only=True, tag="setup"):
    """An answer to one of the questions with which a house is set up; `choice` is the one about units,
    `chat` the one about the kind of chat."""

    asked: Literal["zone", "units", "chat", "members", "end"]
    choice: UnitSystem | None = None
    chat: ChatKind | None = None


class RemoveMember(_Pressing, frozen=True, kw_only=True, tag="remove"):
    """That member (by the id of their row) is put out."""

    member: int


class AnswerReminder(_Pressing, frozen=True, kw_only=True, tag="reminder"):
    """That of the reminder with that id."""

    id: int
    action: ReminderAnswer


class AnswerThings(_Pressing, frozen=True, kw_only=True, tag="things"):
    """The same of one or several, once it was asked which; until when, and who will do it, where that was said."""

    ids: tuple[int, ...]
    action: Literal["done", "later", "mine", "release"]
    until: datetime | None = None
    whom: str | None = None


class AskWhich(_Pressing, frozen=True, kw_only=True, tag="which"):
    """Asks which of these reminders it is said of."""

    ids: tuple[int, ...]
    action: Literal["later", "mine"]


class EnterHouse(_Pressing, frozen=True, kw_only=True, tag="enter"):
    """A private chat is about that household from now on. `pending` is the update (plain values of the house's
    `Incoming`) that waits for that."""

    household: HouseholdId
    pending: dict[str, Any] | None = None
    dangers: tuple[str, ...] = ()
    """Of which first aid was told with the question."""


Press = (
    ChooseOption
    | DropQuestion
    | StrikeOut
    | TellHow
    | FollowPlan
    | AddVessel
    | SetUp
    | RemoveMember
    | AnswerReminder
    | AnswerThings
    | AskWhich
    | EnterHouse
)

Labelled = tuple[str, Press]
"""A button: its label, and what it does."""


def to_plain(buttons: Iterable[Labelled]) -> list[Any]:
    """The buttons as JSON values: a list of label and press."""
    return [[label, msgspec.to_builtins(press)] for label, press in buttons]


def from_plain(plain: Iterable[Sequence[Any]]) -> tuple[Labelled, ...]:
    """The buttons that `to_plain` wrote, now or before. Raises msgspec.ValidationError where it wrote none."""
    lifted = [(label, _lifted(press)) for label, press in plain]
    return msgspec.convert({"buttons": lifted}, type=_Row).buttons if lifted else ()


class _Row(msgspec.Struct):
    """The column as a struct: what such a type means is worked out once, of a bare union at every call."""

    buttons: tuple[Labelled, ...]


_UNITS_BEFORE: dict[str, UnitSystem] = {
    "litres, °C": "metric",
    "imperial gallons, °C": "imperial",
    "US gallons, °F": "us",
}
"""The choice of units was kept by its label once."""


def _lifted(press: dict[str, Any]) -> dict[str, Any]:
    if "press" not in press:
        return press | {"press": "enter"}
    if press["press"] == "setup" and press.get("choice") in _UNITS_BEFORE:
        return press | {"choice": _UNITS_BEFORE[press["choice"]]}
    return press
