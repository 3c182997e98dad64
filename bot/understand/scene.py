"""What understanding needs to know of a house: names, units, and each batch's recent readings."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, Literal
from zoneinfo import ZoneInfo

import msgspec

from bot.cellar.log.acts import Act, Colour, Instrument, StepName
from bot.ids import EntryId


class SceneVessel(msgspec.Struct, frozen=True, kw_only=True):
    """A bucket or demijohn, with the household's own words for it."""

    name: str
    nicknames: tuple[str, ...] = ()
    litres: float | None = None


class SceneBatch(msgspec.Struct, frozen=True, kw_only=True):
    """A batch under way or bottled. `readings` are (when, SG as read), oldest first."""

    name: str
    nicknames: tuple[str, ...] = ()
    colour: Colour | None = None
    vessel: str | None = None
    litres: float | None = None
    started: datetime | None = None
    readings: tuple[tuple[datetime, float], ...] = ()
    sugar_added: tuple[datetime, ...] = ()
    bottled: date | None = None
    bottles_left: int | None = None
    bottles_made: int | None = None
    unlabelled: bool = False
    """Whether it is in bottles and known to wait for its labels."""
    also_in: tuple[str, ...] = ()
    """The other vessels of a batch that was split."""
    ferments_from: float | None = None
    """Its starting SG, where a refractometer would show alcohol now."""
    begun_in: str | None = None
    """The vessel that it was begun in and has not left since."""
    starting: "Recent | None" = None
    """The reading that counts as its starting gravity."""
    told: "tuple[Recent, ...]" = ()
    """The latest entry of each chore and addition, newest first."""
    holds: dict[str, float] = {}
    """The litres in each of its vessels, where that is known."""
    next: tuple[str, ...] = ()
    """What its plan waits for: the chores to come, the next first, and `gravity` while it is to be read."""
    by: str | None = None
    """Who began it."""


class Recent(msgspec.Struct, frozen=True, kw_only=True):
    """An entry that stands in the log, for corrections: its number, the act, who said it and when."""

    entry: EntryId | None = None
    act: Act
    by: str
    said_at: datetime
    at: datetime | None = None
    """The time meant, where that is known."""


class ReplyTo(msgspec.Struct, frozen=True, kw_only=True):
    """What the message replies to: a batch's or vessel's name, a reminder's step, and the key of what somebody
    had asked to be reminded of. `wishes` are the entries with which that was asked for."""

    of: str | None = None
    step: StepName | None = None
    what: str | None = None
    wishes: tuple[EntryId, ...] = ()
    asked: str | None = None
    """What the question was about that the message answers."""
    told: tuple[Recent, ...] = ()
    """What stands of the entries that the message wrote, or tells of; newest first."""

    @property
    def reminds(self) -> bool:
        """Whether it is a reminder that can be answered with done, later or mine."""
        return self.step is not None or self.what is not None


class Scene(msgspec.Struct, frozen=True, kw_only=True):
    """The house as a message sees it. `recent` is newest first; None where nothing is known of what was said."""

    name: str = "home"
    timezone: str = "UTC"
    language: str = "en"
    temperature_unit: Literal["C", "F"] = "C"
    volume_unit: str = "L"
    gallon: Literal["imperial", "us"] = "imperial"
    members: tuple[str, ...] = ()
    vessels: tuple[SceneVessel, ...] = ()
    batches: tuple[SceneBatch, ...] = ()
    brix_by: Instrument | Literal[""] = ""
    """The instrument that the house's Brix come from, where that is known."""
    recent: tuple[Recent, ...] | None = None
    plans: tuple[str, ...] = ()
    """The names of the house's own plans."""

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.timezone)

    @property
    def under_way(self) -> tuple[SceneBatch, ...]:
        """The batches not bottled yet."""
        return tuple(batch for batch in self.batches if batch.bottled is None)


def scene_from_json(plain: Mapping[str, Any]) -> Scene:
    """A house file's scene; vessels may be plain names. Raises msgspec.ValidationError."""
    vessels = [{"name": item} if isinstance(item, str) else item for item in plain.get("vessels", ())]
    return msgspec.convert({**plain, "vessels": vessels}, type=Scene)
