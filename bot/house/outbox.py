"""Letters into the outbox, cut to what the chat service takes; and what a pressed button means, looked up there."""

from datetime import datetime

import msgspec

from bot.house.talk import Incoming
from bot.ids import HouseholdId, LetterId
from bot.say import company
from bot.say.pages import LONGEST_CAPTION, pages
from bot.store.press import Press
from bot.store.queries.postbox import Outgoing
from bot.store.unit import Unit


def post(unit: Unit, household_id: HouseholdId | None, letter: Outgoing, now: datetime) -> LetterId:
    """Puts a letter into the outbox, in several when it is long; returns the id of the last, which carries
    the buttons and the file. One that changes a message takes the place of earlier changes that were not sent
    yet; one with a file is a message of its own."""
    if letter.file is not None:
        letter = msgspec.structs.replace(letter, edits=None)
    if letter.edits is not None:
        unit.post.supersede(household_id, letter.chat_id, letter.edits, now)
    *earlier, last = _pages(letter)
    for html in earlier:
        page = msgspec.structs.replace(letter, html=html, buttons=(), file=None)
        unit.post.post(household_id, page, now)
        letter = msgspec.structs.replace(letter, edits=None)
    return unit.post.post(household_id, msgspec.structs.replace(letter, html=last), now)


def _pages(letter: Outgoing) -> list[str]:
    """The pages of a letter; beside a file, which goes with the last one, there is less room."""
    *earlier, last = pages(letter.html)
    return [*earlier, *(pages(last, LONGEST_CAPTION) if letter.file is not None else [last])]


def pressed(unit: Unit, household_id: HouseholdId | None, incoming: Incoming) -> Press | str:
    """What the button does that was pressed, or in words why it does nothing: it was never sent to that chat of that
    household, or its message has changed since. Never taken from the chat itself. `household_id` is None at the door."""
    data = incoming.press or ""
    letter_id, _, number = data.partition(":")
    if not (data.isascii() and letter_id.isdecimal() and number.isdecimal()) or len(data) > 20:
        return company.GONE
    letter = unit.post.letter(household_id, incoming.chat_id, LetterId(int(letter_id)))
    if letter is None and household_id is not None:
        old = unit.post.was_let_go(household_id, incoming.chat_id, incoming.message_id)
        return company.TOO_OLD if old else company.GONE
    if letter is None or int(number) >= len(letter.buttons):
        return company.GONE
    shown = unit.post.sent_message(household_id, incoming.chat_id, incoming.message_id)
    if shown is not None and shown.id != letter.id:
        return company.CHANGED
    if letter.message_id not in (None, incoming.message_id):
        return company.GONE
    return letter.buttons[int(number)][1]
