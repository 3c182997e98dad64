"""Letters into the outbox: cut to what the chat service takes, and without what a newer one replaces."""

from datetime import datetime

import msgspec

from bot.say.pages import pages
from bot.store.postbox import Outgoing
from bot.store.unit import Unit


def post(unit: Unit, household_id: int | None, letter: Outgoing, now: datetime) -> int:
    """Puts a letter into the outbox, in several when it is long; returns the id of the last, which carries
    the buttons. One that changes a message takes the place of earlier changes that were not sent yet."""
    if letter.edits is not None:
        unit.post.supersede(household_id, letter.chat_id, letter.edits, now)
    *earlier, last = pages(letter.html)
    for html in earlier:
        unit.post.post(household_id, msgspec.structs.replace(letter, html=html, buttons=()), now)
        letter = msgspec.structs.replace(letter, edits=None)
    return unit.post.post(household_id, msgspec.structs.replace(letter, html=last), now)
