"""A message and what the house looks like, to a verdict. Pure, deterministic, explainable.

`understand` reads a message, whether it answers what is open in its chat or says something of its own; `reading` does so
but for the dangers in it, `command` whole files of messages. The steps, in order: scan (tokens), spans (names, times, quantities, phrases), clauses, drafts
(readings, chores, asking, sums, beginnings, replies), weigh, settle (targets, times, plausible).
"""

from bot.understand.claims.dangers import Danger, hardly_meant, in_view_of, not_told
from bot.understand.forms.invitations import inviting
from bot.understand.forms.safety import signs_of
from bot.understand.judge.judge import dangers_beside, meaning
from bot.understand.judge.reading import reading, understand
from bot.understand.text.scan import joined
from bot.understand.text.small_words import once_more
from bot.understand.window import command

__all__ = [
    "Danger",
    "command",
    "dangers_beside",
    "hardly_meant",
    "in_view_of",
    "inviting",
    "joined",
    "meaning",
    "not_told",
    "once_more",
    "reading",
    "signs_of",
    "understand",
]
