"""What a pressed button means: looked up among what was sent to that chat, never taken from the chat."""

from typing import Any

import msgspec

from bot.house.talk import Incoming
from bot.ids import HouseholdId, LetterId
from bot.say import company
from bot.store.postbox import SentRow
from bot.store.unit import Unit


class Pressed(msgspec.Struct, frozen=True, kw_only=True):
    """A button: the letter that carried it, and what it does."""

    letter: SentRow
    does: dict[str, Any]


def find(unit: Unit, household_id: HouseholdId | None, incoming: Incoming) -> Pressed | str:
    """The button that was pressed, or in words why it does nothing: it was never sent to that chat of that
    household, or its message has changed since. `household_id` is None at the door."""
    data = incoming.press or ""
    letter_id, _, number = data.partition(":")
    if not (data.isascii() and letter_id.isdecimal() and number.isdecimal()) or len(data) > 20:
        return company.GONE
    letter = unit.post.letter(household_id, incoming.chat_id, LetterId(int(letter_id)))
    if letter is None or int(number) >= len(letter.buttons):
        return company.GONE
    shown = unit.post.sent_message(household_id, incoming.chat_id, incoming.message_id)
    if shown is not None and shown.id != letter.id:
        return company.CHANGED
    return Pressed(letter=letter, does=letter.buttons[int(number)][1])
