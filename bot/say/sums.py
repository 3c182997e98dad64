"""Sums in a line or two. The keys of the command are never shown in the chat."""

import re

from bot.say.catalogue import answer, lacking, line, refusal, why, words
from bot.say.manner import listed, name, said
from bot.science.limits import BadInput, Lacking
from bot.science.sums.reckon import CATALOGUE, Reckoned


def in_short(
    found: Reckoned, batch: str | None, unused: tuple[str, ...] = (), vessel: str | None = None
) -> str:
    """The figure, for which batch and which vessel of several, the caution where it can hurt, and what was told and
    not used."""
    subject = f"{name(batch)}{f' in {name(vessel)}' if vessel else ''}: " if batch else ""
    lines = [said(spoken(text, found.name)) for text in (answer(found), *map(line, found.cautions))]
    return subject + "\n".join([*lines, *not_used(unused)])


def not_used(unused: tuple[str, ...]) -> list[str]:
    """What was told with the sum and is no part of it."""
    return [f"I did not use {listed([f'“{said(word)}”' for word in unused])}."] if unused else []


def missing(error: BadInput, sum_name: str, unused: tuple[str, ...] = ()) -> str:
    """What the sum still needs, in words; else what is wrong, as the sum says it."""
    if isinstance(error, Lacking):
        wanted = "; ".join(spoken(one, sum_name) for one in lacking(error))
        lines = [f"For that I still need: {said(wanted)}. Just write it."]
        if sum_name == "sweeten":
            lines.append(STABILISE_FIRST)
        return "\n".join([*lines, *not_used(unused)])
    text = spoken(refusal(error).split(", such as ")[0], sum_name)
    return said(text[:1].upper() + text[1:])


STABILISE_FIRST = (
    "And stabilise before you sweeten: sugar wakes what yeast is left, and corked bottles burst."
)


def working(found: Reckoned) -> str:
    """Where the figure comes from, without the command's keys."""
    return spoken(why(found), found.name)


def spoken(text: str, sum_name: str) -> str:
    """The text with what each key means in the place of its name."""
    row = CATALOGUE.get(sum_name)
    keys = [key.name for key in row.keys if "_" in key.name or key.name in _TERSE] if row is not None else []
    if not keys:
        return text
    meanings = words().sums[sum_name].keys
    # All at once, and without the help's "instead of" another key: what a key means may name another.
    return re.sub(rf"\b({'|'.join(keys)})\b(?! ?=)", lambda key: meanings[key[1]].split(_INSTEAD)[0], text)


_TERSE = ("og", "fg", "sg")
"""Names without an underscore that are no plain words either."""
_INSTEAD = ", instead"
