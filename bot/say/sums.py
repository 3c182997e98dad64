"""Sums in a line or two."""

from bot.say.manner import name, said
from bot.science.reckon import Reckoned, in_words


def in_short(found: Reckoned, batch: str | None) -> str:
    """The figure, and for which batch."""
    subject = f"{name(batch)}: " if batch else ""
    return subject + said(in_words(found))


def missing(text: str) -> str:
    """What the sum still needs."""
    return f"I need a little more: {said(text)}"
