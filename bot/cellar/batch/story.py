"""A batch's story: everything that happened, in order, with who did it."""

from datetime import datetime
from typing import Literal

import msgspec

from bot.cellar.log.fold import Added, Batch, Chore, Reading
from bot.cellar.log.views import Mixed, Move, Said
from bot.ids import EntryId

Happening = Literal["begun", "reading", "chore", "added", "note", "mixed", "moved", "gone"]


class Happened(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that happened."""

    at: datetime
    entry: EntryId
    by: str
    kind: Happening
    fact: Reading | Chore | Added | Said | Mixed | Move | None = None


def story(view: Batch) -> tuple[Happened, ...]:
    """What happened to the batch, oldest first."""
    found = [Happened(at=view.begun_at, entry=EntryId(view.batch), by=view.begun_by, kind="begun")]
    found += [Happened(at=r.at, entry=r.entry, by=r.by, kind="reading", fact=r) for r in view.readings]
    found += [Happened(at=c.at, entry=c.entry, by=c.by, kind="chore", fact=c) for c in view.chores]
    found += [Happened(at=a.at, entry=a.entry, by=a.by, kind="added", fact=a) for a in view.additions]
    found += [Happened(at=n.at, entry=n.entry, by=n.by, kind="note", fact=n) for n in view.notes]
    found += [Happened(at=m.at, entry=m.entry, by=m.by, kind="mixed", fact=m) for m in view.mixed]
    # A count of them, a blend and an addition stand in the list as what they are.
    moves = [m for m in view.moves if m.kind not in ("begun", "poured_in") and not _told_already(view, m)]
    found += [Happened(at=m.at, entry=m.entry, by=m.by, kind="moved", fact=m) for m in moves]
    if view.gone_at is not None:
        found.append(Happened(at=view.gone_at, entry=EntryId(view.batch), by="", kind="gone"))
    return tuple(sorted(found, key=lambda item: (item.at, item.kind != "begun", item.entry)))


def _told_already(view: Batch, move: Move) -> bool:
    return any(added.entry == move.entry for added in view.additions)
