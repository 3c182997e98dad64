"""What may hurt somebody, and what to do about a wine that is not well, in a few words each.

What is said of a danger is data, with its source beside it, in `dangers.toml`. The signs are customary advice
(common practice, no source).
"""

from collections.abc import Collection, Sequence
from functools import lru_cache
from pathlib import Path

import msgspec

from bot.cellar.batch.signs import Sign
from bot.say.manner import STEADY_FOR


class Aid(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is said of one danger: `first` what to do, `then` why and what else, `short` where that was said today.
    `urgent`: it is said before anything else, since somebody may be hurt at this moment."""

    first: str
    then: str
    short: str
    source: str
    urgent: bool = False


SIGNS: dict[Sign, str] = {
    "film": "A film means that air gets at it: draw the wine from under it into a clean, sanitised vessel, full to the "
    "neck, and close it.",
    "vinegar": "Vinegar comes with air, and does not go back: close it, top it up, keep fruit flies out and it away from "
    "your other wine. If it is strong, it is lost.",
    "mould": "Mould: do not taste it. If it is furry or coloured, the wine is better thrown away.",
    "eggs": "A smell of eggs comes from tired yeast and often passes: see to the temperature, and draw it off its lees "
    "when that is due.",
    "rotten": "A foul smell: see that it is closed and off its lees; do not drink what smells rotten.",
    "open": "Lid and airlock clean, sanitised and back on. See that the airlock is not blocked: a lid pops when the gas "
    "has no way out.",
}

LEAFLET_FIRST = "The leaflet in your kit goes first."


def danger(topic: str, *, again: bool = False) -> str:
    """What to do about it; shorter where it is said `again`."""
    aid = aids()[topic]
    return f"<b>{aid.short}</b>" if again else f"<b>{aid.first}</b> {aid.then}"


def urgent(topic: str) -> bool:
    """Whether what to do about it cannot wait for an answer to be read."""
    return aids()[topic].urgent


def first_aid(topics: Sequence[str], said: Collection[str]) -> str:
    """What to do about several dangers, the most urgent first; `said` are those that were answered today."""
    return "\n".join(danger(topic, again=topic in said) for topic in topics)


@lru_cache(maxsize=1)
def aids() -> dict[str, Aid]:
    """What is said of each danger, by its topic."""
    source = Path(__file__).with_name("dangers.toml")
    text = source.read_text(encoding="utf-8").replace("{steady_for}", STEADY_FOR)
    return msgspec.toml.decode(text, type=dict[str, Aid])


def signs(found: tuple[Sign, ...]) -> str:
    """What to do about what was told."""
    return "\n".join(SIGNS[sign] for sign in found)
