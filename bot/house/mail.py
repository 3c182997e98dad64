"""Letters into the outbox: cut to what the chat service takes, and without what a newer one replaces."""

from datetime import datetime

import msgspec

from bot.ids import HouseholdId, LetterId
from bot.say.pages import LONGEST_CAPTION, pages
from bot.store.postbox import Outgoing
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
