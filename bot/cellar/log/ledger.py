"""The ledger of a batch's litres: where they are, and what came and went.

Every change goes through it, so that the parts sum to the whole, nothing is ever negative, and the changes that
it noted sum to what is left. What nobody told stays None, and is never guessed.
"""

from collections.abc import Sequence
from copy import copy

from bot.cellar.log.acts import Share
from bot.cellar.log.views import Entry, Move, MoveKind, Part


class Ledger:
    """One batch's litres while its entries are read, oldest first."""

    def __init__(self, begun: Entry, vessel: str | None, litres: float | None) -> None:
        self.total: float | None = litres
        self.parts: dict[str, float | None] = {vessel: litres} if vessel is not None else {}
        self.moves: list[Move] = []
        self.note(begun, "begun", None)

    def copy(self) -> "Ledger":
        """One that goes on from here by itself."""
        other = copy(self)
        other.parts, other.moves = self.parts.copy(), self.moves.copy()
        return other

    def note(
        self,
        entry: Entry,
        kind: MoveKind,
        before: float | None,
        *,
        vessel: str | None = None,
        using: str | None = None,
        into: Sequence[Part] = (),
        litres: float | None = None,
    ) -> None:
        """Writes down what the entry changed; `before` is the total just before, `litres` what was told."""
        change = None if self.total is None else self.total - (before or 0.0)
        self.moves.append(
            Move(
                entry=entry.entry,
                at=entry.at,
                by=entry.by,
                kind=kind,
                change=change,
                total=self.total,
                litres=litres,
                vessel=vessel,
                using=using,
                into=tuple(into),
            )
        )

    def count(self, litres: float, vessel: str | None = None) -> None:
        """So much is in there now: in all, or in one vessel of several."""
        if not self._several(vessel):
            self._scale(litres)
            return
        assert vessel is not None
        old, self.parts[vessel] = self.parts[vessel], litres
        unknown = [name for name, part in self.parts.items() if part is None]
        if self.total is not None and old is not None:
            self.total = max(0.0, self.total - old + litres)
        elif not unknown or self.total is None:
            self._sum()
        elif len(unknown) == 1:  # then it has what the others leave
            told = sum(part for part in self.parts.values() if part is not None)
            self.parts[unknown[0]] = max(0.0, self.total - told)
            self._sum()

    def take(self, litres: float, vessel: str | None = None) -> float:
        """So much is taken out, or all that there is; returns what was. Of an unknown amount all of it could be."""
        there = self.held(vessel)
        taken = litres if there is None else min(litres, there)
        self.pour(-taken, vessel)
        return taken

    def pour(self, litres: float | None, vessel: str | None = None) -> None:
        """So much is poured in; None where nobody said how much."""
        if litres is None or self.total is None:
            self._scale(None)
        elif self._several(vessel):
            assert vessel is not None
            part = self.parts[vessel]
            self.parts[vessel] = None if part is None else max(0.0, part + litres)
            self.total = max(0.0, self.total + litres)
        else:
            self._scale(max(0.0, self.total + litres))

    def move(self, to: str, source: str | None = None) -> None:
        """All of it, or what is in `source`, goes into another vessel."""
        if not self._several(source):
            self.parts = {to: self.total}
            return
        assert source is not None
        moved = self.parts.pop(source)
        there = self.parts.get(to, 0.0)
        self.parts[to] = None if moved is None or there is None else moved + there

    def split(self, into: Sequence[Share], source: str | None = None) -> None:
        """All of it, or what is in `source`, is shared out. The rest is what the other shares leave."""
        several = self._several(source)
        pool = self.held(source)
        shares = shared(pool, into)
        found = {v: litres for v, litres in self.parts.items() if several and v != source}
        for vessel, litres in shares.items():
            there = found.get(vessel, 0.0)
            found[vessel] = None if litres is None or there is None else litres + there
        self.parts = found
        if None not in found.values():
            self._sum()

    def empty(self) -> None:
        """Nothing is in any vessel any more; the total stays what it was."""
        self.parts = {}

    def held(self, vessel: str | None = None) -> float | None:
        """The litres in one vessel of several, else in all."""
        return self.parts[vessel] if vessel is not None and self._several(vessel) else self.total

    @property
    def view(self) -> tuple[Part, ...]:
        return tuple(Part(vessel=vessel, litres=litres) for vessel, litres in self.parts.items())

    def _several(self, vessel: str | None) -> bool:
        return vessel is not None and len(self.parts) > 1 and vessel in self.parts

    def _sum(self) -> None:
        known = [litres for litres in self.parts.values() if litres is not None]
        self.total = sum(known) if len(known) == len(self.parts) else None

    def _scale(self, litres: float | None) -> None:
        """The whole of it is so much now; parts keep their proportions."""
        before = self.total
        for vessel, part in self.parts.items():
            if len(self.parts) == 1 or litres is None:
                self.parts[vessel] = litres
            elif before and part is not None:
                self.parts[vessel] = part * litres / before
            else:
                self.parts[vessel] = litres / len(self.parts) if before == 0 else None
        self.total = litres


def shared(pool: float | None, into: Sequence[Share]) -> dict[str, float | None]:
    """The litres of each share, with the rest worked out where that can be."""
    told = [share.litres for share in into if not share.rest]
    rest = None
    if pool is not None and None not in told:
        rest = max(0.0, pool - sum(litres for litres in told if litres is not None))
    return {share.vessel: rest if share.rest else share.litres for share in into}
