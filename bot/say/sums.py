"""Sums in a line or two."""

from bot.say.manner import name, said
from bot.science.reckon import Reckoned


def in_short(found: Reckoned, batch: str | None) -> str:
    """The figure, for which batch, and the caution where it can hurt."""
    subject = f"{name(batch)}: " if batch else ""
    return subject + "\n".join(said(line) for line in (found.answer, *found.cautions))


def missing(text: str) -> str:
    """What the sum still needs, as the sum itself says it."""
    return said(text[:1].upper() + text[1:])
