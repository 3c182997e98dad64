"""Gravities as they count, and what they prove: at 20 °C, and a fall that only yeast can make."""

from collections.abc import Sequence
from datetime import datetime
from functools import lru_cache
from itertools import pairwise

from bot.science import practice
from bot.science.formulas.hydrometer import correct_gravity
from bot.science.limits import BadInput


@lru_cache(maxsize=4096)
def corrected(sg: float, temp_c: float | None, og: float | None = None) -> float:
    """The reading at 20 °C (SG 20/20), where a temperature (°C) that can be corrected was told; else as read."""
    if temp_c is None:
        return sg
    # Solved by iteration, and asked for again with every message: worth remembering.
    try:
        return correct_gravity(sg, temp_c, og=og)
    except BadInput:
        return sg


def yeast_between(begun_at: datetime, readings: Sequence[tuple[datetime, float]]) -> datetime | None:
    """About when the yeast went in, by gravities (when, SG at 20 °C) alone, oldest first; None while they do not
    prove any. A first one too low for a start proves it as well as a fall does.

    The moment lies between the last reading that had not fallen and the one that had, early where they are far
    apart: most of a long gap is the fall itself.
    """
    if not readings:
        return None
    if readings[0][1] < practice.STARTS_AT_LEAST.value:
        return _early(min(begun_at, readings[0][0]), readings[0][0])
    highest = readings[0][1]
    for (before, sg), (at, fallen) in pairwise(readings):
        highest = max(highest, sg)
        if highest - fallen >= practice.PROVES_YEAST.value - 1e-9:
            return _early(before, at)
    return None


def _early(before: datetime, after: datetime) -> datetime:
    return before + min((after - before) / 2, practice.PITCHED_WITHIN.value)
