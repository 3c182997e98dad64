"""What understanding needs to know of a house: names, units, and each batch's recent readings."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any, Literal
from zoneinfo import ZoneInfo

import msgspec

from bot.cellar.log.acts import Act, Begin, Colour, Instrument, KitPart, Step, StepName
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
    begun: "Recent | None" = None
    """Its beginning as it stands now, while that lacks something and is fresh."""


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


class _OpenThing(msgspec.Struct, frozen=True, kw_only=True, tag_field="kind"):
    """What is open in the chat: what the bot last asked or said there, `ago` so long before the message. `replied`: the
    message replies to just that; `others`: it was asked of somebody else than the writer."""

    ago: timedelta = timedelta()
    replied: bool = False
    others: bool = False


class OptionsAsked(_OpenThing, frozen=True, kw_only=True, tag="options"):
    """A question: each option is what one button writes. `asked` is the house's number for it."""

    options: tuple[tuple[Act, ...], ...]
    asked: int = 0


class Thing(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that a letter says is due: `of` the batch, or what was named, as `also` the vessel or batch that it is
    called besides. `id` is the house's number for it, `what` the key of the thing itself."""

    id: int = 0
    of: str | None = None
    also: str | None = None
    step: StepName | None = None
    measure: Literal["gravity", "temperature"] | None = None
    what: str | None = None
    buys: bool = False
    """Whether it is about getting bottles, corks and the like."""
    about: str | None = None
    """What somebody asked to be reminded of, in their words, where that is no chore."""
    settled: bool = False
    """Whether it is seen to already."""

    @property
    def names(self) -> frozenset[str]:
        """What it can be called by."""
        return frozenset(name for name in (self.of, self.also) if name is not None)


LetterAnswer = Literal["done", "later", "mine", "release"]
"""What is answered to a letter's thing."""


class LetterSaid(_OpenThing, frozen=True, kw_only=True, tag="letter"):
    """A letter that says what is due, or a question about one: then `action` is what was answered and lacks of which
    thing, `whom` the one who will do it. `among` are the things of the letter to which the question belongs. `earlier`:
    the bot has said something else since, and these are all the things that wait for an answer."""

    things: tuple[Thing, ...]
    among: tuple[Thing, ...] = ()
    earlier: bool = False
    action: LetterAnswer | None = None
    whom: str | None = None


class LookAsked(_OpenThing, frozen=True, kw_only=True, tag="look"):
    """Somebody was asked to look whether these wines have cleared; `letter` are the wines of the letter in hand, of which
    it is `alone` that says nothing else, and `about` the wine that the bot's latest answer was about."""

    of: tuple[str, ...]
    letter: tuple[str, ...] = ()
    alone: bool = False
    about: str | None = None


class NumberWanted(_OpenThing, frozen=True, kw_only=True, tag="number"):
    """A bare number is wanted: how many bottles the bottling `told` gave (`entry` is its number in the log), or what
    the thermometer in `of` shows."""

    what: Literal["bottles", "temperature"]
    of: str | None = None
    told: Step | None = None
    entry: EntryId | None = None


class KitWanted(_OpenThing, frozen=True, kw_only=True, tag="kit"):
    """What the beginning of a batch lacks; of one that is not begun yet what was `told`."""

    what: KitPart
    told: Begin | None = None


class FiguresWanted(_OpenThing, frozen=True, kw_only=True, tag="figures"):
    """What a sum still lacks: its name in the catalogue, what was `given`, the `keys` that are missing, the batch."""

    reckon: str
    keys: tuple[str, ...]
    given: dict[str, float | str] = {}
    of: str | None = None
    vessel: str | None = None


class TimeWanted(_OpenThing, frozen=True, kw_only=True, tag="time"):
    """When to bring up what `wish` asks for, in the words of the one who asked."""

    wish: str


class WorkingShown(_OpenThing, frozen=True, kw_only=True, tag="working"):
    """An answer that has a working, for "why?"."""


class JustSaid(_OpenThing, frozen=True, kw_only=True, tag="said"):
    """The bot's latest message: the batch or vessel `of` that it was about, and the question `asked` that it answered."""

    of: str | None = None
    asked: str | None = None


Open = (
    OptionsAsked
    | LetterSaid
    | LookAsked
    | NumberWanted
    | KitWanted
    | FiguresWanted
    | TimeWanted
    | WorkingShown
    | JustSaid
)
"""What a message can be an answer to, or follow."""


class Scene(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """The house as a message sees it. `recent` is newest first; None where nothing is known of what was said. What
    follows from it is worked out once."""

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
    open: tuple[Open, ...] = ()
    """What is open in the chat of the message."""

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.timezone)

    @cached_property
    def under_way(self) -> tuple[SceneBatch, ...]:
        """The batches not bottled yet."""
        return tuple(batch for batch in self.batches if batch.bottled is None)


def scene_from_json(plain: Mapping[str, Any]) -> Scene:
    """A house file's scene; vessels may be plain names. Raises msgspec.ValidationError."""
    vessels = [{"name": item} if isinstance(item, str) else item for item in plain.get("vessels", ())]
    return msgspec.convert({**plain, "vessels": vessels}, type=Scene)
