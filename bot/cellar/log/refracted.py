"""Readings of a refractometer in a ferment: what they stand for, by the batch's own starting gravity.

Before the yeast its Brix are the must's. From then on alcohol bends the light too, and the figure is an estimate.
"""

from datetime import datetime

import msgspec

from bot.cellar.log.acts import Gravity
from bot.cellar.log.views import Batch, Reading
from bot.ids import EntryId
from bot.science import practice
from bot.science.formulas.refraction import gravity_refracted
from bot.science.limits import BadInput


def as_estimated(view: Batch) -> Batch:
    """The batch with its refractometer's readings in the ferment as the gravities that they stand for. Those that
    nothing can be worked out for are left out."""
    if all(reading.instrument != "refractometer" for reading in view.readings):
        return view
    readings = [_estimated(view, reading) for reading in view.readings]
    return msgspec.structs.replace(view, readings=tuple(r for r in readings if r is not None))


def in_ferment(view: Batch, sg: float, at: datetime) -> bool:
    """Whether there may be alcohol in what was read (`sg`: Brix taken as a must's) at that time."""
    start, pitched = view.starting, view.pitched_at
    if start is not None and at <= start.at:
        return False
    if pitched is not None and at > pitched:
        return True
    return start is not None and sg < start.sg - practice.FERMENTS_BELOW.value


def unusable(view: Batch, act: Gravity, at: datetime) -> str | None:
    """Why nothing can be worked out from a refractometer's reading: "no_start", "no_wine"; None when it can."""
    if not in_ferment(view, act.sg, at) or act.brix is None:
        return None
    if view.starting is None:
        # A first reading that is early and high enough becomes the starting gravity itself.
        first = msgspec.structs.replace(view, readings=(Reading(entry=EntryId(0), at=at, by="", sg=act.sg),))
        return None if not view.readings and first.starting is not None else "no_start"
    try:
        gravity_refracted(act.brix, view.starting.sg)
    except BadInput:
        return "no_wine"
    return None


def _estimated(view: Batch, reading: Reading) -> Reading | None:
    start = view.starting
    if reading.instrument != "refractometer" or reading.brix is None:
        return reading
    if start is not None and start.entry == reading.entry:
        return reading
    if not in_ferment(view, reading.sg, reading.at):
        return reading
    if start is None:
        return None
    try:
        found = gravity_refracted(reading.brix, start.sg)
    except BadInput:
        return None
    return msgspec.structs.replace(reading, sg=round(found.sg, 3), low=found.low, high=found.high)
