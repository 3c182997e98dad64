"""A message and what the house looks like, to a verdict. Pure, deterministic, explainable.

`understand` reads a message, `pick` an answer to a question that the bot asked, `command` whole files of
messages. The steps, in order: scan (tokens), spans (names, times, quantities, phrases), clauses, drafts
(readings, chores, asking, sums, beginnings, replies), weigh, settle (targets, times, plausible).
"""

from bot.understand.choosing import declines, pick
from bot.understand.clearness import clearness
from bot.understand.dangers import Danger, hardly_meant, in_view_of, not_told
from bot.understand.filling import filled
from bot.understand.instruments import instrument_meant
from bot.understand.inviting import inviting
from bot.understand.judge import dangers_beside, meaning, understand
from bot.understand.letters import letter_reply, mixed_reply, plain_reply
from bot.understand.remembering import tells_time
from bot.understand.safety import signs_of
from bot.understand.whitespace import joined
from bot.understand.window import command
from bot.understand.working import asks_why

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
