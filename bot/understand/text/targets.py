"""Which batch or vessel of the house is meant."""

from typing import NamedTuple

from bot.understand.scene import Scene, SceneBatch
from bot.understand.text.names import Names, Ref
from bot.understand.verdict import Doubt


class Target(NamedTuple):
    """What an act is about: its `of`, the batch when there is one, or the doubt about it."""

    of: str | None
    batch: SceneBatch | None = None
    vessel: str | None = None
    doubt: Doubt | None = None
    about: str | None = None
    choices: tuple[str, ...] = ()


class Targets:
    """Finds the batch or vessel that a name points at."""

    def __init__(self, scene: Scene, names: Names) -> None:
        self.scene = scene
        self.names = names
        self.by_name = {batch.name: batch for batch in scene.batches}
        self.in_vessel = {batch.vessel: batch for batch in scene.under_way if batch.vessel}
        self.in_vessel |= {vessel: batch for batch in scene.under_way for vessel in batch.also_in}

    def of(self, ref: Ref, *, bottled: bool = False) -> tuple[Target, ...]:
        """What a name points at; several for "both". `bottled` prefers batches in bottles."""
        if ref.kind == "batch":
            return (self.batch(self.by_name[ref.name]),)
        if ref.kind == "vessel":
            return (self.vessel(ref.name),)
        if ref.kind == "unknown":
            return (Target(None, doubt=Doubt.UNKNOWN_VESSEL, about=ref.name),)
        if ref.kind == "every":
            return tuple(self.batch(batch) for batch in self.scene.under_way)
        if ref.kind == "colour":
            return (self._colour(ref.name, bottled=bottled),)
        return (self._kind(ref.name),)

    def batch(self, batch: SceneBatch) -> Target:
        """The target that a batch is."""
        return Target(batch.name, batch=batch, vessel=batch.vessel)

    def vessel(self, name: str) -> Target:
        """The batch in a vessel, else the vessel itself."""
        batch = self.in_vessel.get(name)
        return Target(batch.name if batch else name, batch=batch, vessel=name)

    def named(self, of: str | None) -> Target | None:
        """The target behind a batch's or vessel's plain name, as a reply carries it."""
        if of is None:
            return None
        if of in self.by_name:
            return self.batch(self.by_name[of])
        for vessel in self.scene.vessels:
            if of in (vessel.name, *vessel.nicknames):
                return self.vessel(vessel.name)
        for batch in self.scene.batches:
            if of in batch.nicknames:
                return self.batch(batch)
        return None

    def _colour(self, colour: str, *, bottled: bool) -> Target:
        have = [batch for batch in self.scene.batches if batch.colour == colour]
        preferred = [batch for batch in have if (batch.bottled is not None) == bottled] or have
        if len(preferred) == 1:
            return self.batch(preferred[0])
        return Target(
            None, doubt=Doubt.WHICH_BATCH, about=colour, choices=tuple(batch.name for batch in preferred)
        )

    def _kind(self, kind: str) -> Target:
        """ "The bucket": the only one of its kind, or the only one in use."""
        vessels = self.names.of_kind(kind)
        busy = [name for name in vessels if name in self.in_vessel]
        if len(vessels) == 1:
            return self.vessel(vessels[0])
        if len(busy) == 1:
            return self.vessel(busy[0])
        choices = tuple(self.vessel(name).of or name for name in busy or vessels)
        return Target(None, doubt=Doubt.WHICH_VESSEL, about=kind, choices=choices)
