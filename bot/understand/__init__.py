"""A message and what the house looks like, to a verdict. Pure, deterministic, explainable.

`understand` reads a message, `pick` an answer to a question that the bot asked, `command` whole files of
messages. The steps, in order: scan (tokens), spans (names, times, quantities, phrases), clauses, drafts
(readings, chores, asking, sums, beginnings, replies), weigh, settle (targets, times, plausible).
"""

from bot.understand.claims.dangers import Danger, hardly_meant, in_view_of, not_told
from bot.understand.claims.questions import asks_why
from bot.understand.claims.reminders import letter_reply, mixed_reply, plain_reply
from bot.understand.claims.sums import filled
from bot.understand.forms.invitations import inviting
from bot.understand.forms.readings import clearness, instrument_meant
from bot.understand.forms.safety import signs_of
from bot.understand.judge.answers import declines, pick
from bot.understand.judge.judge import dangers_beside, meaning, understand
from bot.understand.judge.reminders import tells_time
from bot.understand.text.scan import joined
from bot.understand.window import command

__all__ = [
    "Danger",
    "asks_why",
    "clearness",
    "command",
    "dangers_beside",
    "declines",
    "filled",
    "hardly_meant",
    "in_view_of",
    "instrument_meant",
    "inviting",
    "joined",
    "letter_reply",
    "meaning",
    "mixed_reply",
    "not_told",
    "pick",
    "plain_reply",
    "signs_of",
    "tells_time",
    "understand",
]
