"""Signs that a wine is not well which no number shows: what people saw or smelt, and told in a note."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Literal

import msgspec

from bot.cellar.log.views import BatchView, Said
from bot.ids import EntryId

Sign = Literal["film", "vinegar", "mould", "eggs", "rotten", "open"]

LASTS: dict[Sign, timedelta] = {"eggs": timedelta(days=14), "open": timedelta(days=3)}
"""Some pass: a smell of eggs with time, a lid once it is back on. The others do not mend by themselves (common
practice, no source)."""

_LONGEST = timedelta(days=60)


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """A note that tells of such signs."""

    note: Said
    signs: tuple[Sign, ...]


def told_signs(view: BatchView, signs: Mapping[EntryId, tuple[Sign, ...]], now: datetime) -> tuple[Told, ...]:
    """The notes that still speak against the batch; `signs` are what each note (by its entry) tells of."""
    found = []
    for note in view.notes:
        still = tuple(s for s in signs.get(note.entry, ()) if now - note.at <= LASTS.get(s, _LONGEST))
        if still:
            found.append(Told(note=note, signs=still))
    return tuple(found)
