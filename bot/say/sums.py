"""Sums in a line or two."""

from bot.say.manner import name, said
from bot.science.limits import BadInput, Lacking
from bot.science.reckon import Reckoned


def in_short(found: Reckoned, batch: str | None) -> str:
    """The figure, for which batch, and the caution where it can hurt."""
    subject = f"{name(batch)}: " if batch else ""
    return subject + "\n".join(said(line) for line in (found.answer, *found.cautions))


def missing(error: BadInput) -> str:
    """What the sum still needs, in words and without its inner names; else what is wrong, as the sum says it."""
    if isinstance(error, Lacking):
        return f"For that sum I still need: {said('; '.join(error.what))}. Write it all in one message."
    text = str(error)
    return said(text[:1].upper() + text[1:])
