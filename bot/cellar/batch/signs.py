"""Signs that a wine is not well which no number shows: what people saw or smelt, and told in a note."""

from collections.abc import Mapping
from datetime import datetime
from typing import Literal

import msgspec

from bot.cellar.log.views import Batch, Said
from bot.ids import EntryId
from bot.science import practice

Sign = Literal["film", "vinegar", "mould", "eggs", "rotten", "open"]


class Telltale(msgspec.Struct, frozen=True, kw_only=True):
    """A note that tells of such signs."""

    note: Said
    signs: tuple[Sign, ...]


def told_signs(view: Batch, signs: Mapping[EntryId, tuple[Sign, ...]], now: datetime) -> tuple[Telltale, ...]:
    """The notes that still speak against the batch; `signs` are what each note (by its entry) tells of."""
    found = []
    for note in view.notes:
        still = tuple(
            s
            for s in signs.get(note.entry, ())
            if now - note.at <= practice.SIGN_LASTS.value.get(s, practice.SIGNS_LAST.value)
        )
        if still:
            found.append(Telltale(note=note, signs=still))
    return tuple(found)
