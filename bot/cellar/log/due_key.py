"""What makes a due thing the same thing: one union, `DueKey`, and the text that stands for each of them.

The text is what the log says of an answer to a due thing, and what tells reminders and dates apart in the database. It
is never longer than its column, and no two things share one.
"""

from hashlib import sha256
from typing import Literal, assert_never

import msgspec

from bot.cellar.log.lengths import KEY
from bot.ids import EntryId

Level = Literal["first", "claimer", "all", "matters", "watch"]
"""Said for the first time; once more to the one who took it on; once more to all; once more with why. `watch` is a
reading that nobody took, brought up once more."""

_LEVELS: dict[str, Level] = {"claimer": "claimer", "all": "all", "matters": "matters", "watch": "watch"}
_LONGEST = KEY - 10
"""The longest text of a thing itself: beside a level it still fits."""

_DIGITS = 12


class _WithLevel(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, tag_field="due"):
    """What every key has: which time the thing is said."""

    level: Level = "first"

    @property
    def base(self) -> "DueKey":
        """The thing itself, whichever time it is said."""
        return msgspec.structs.replace(self, level="first")  # type: ignore[return-value]  # one of the union

    @property
    def text(self) -> str:
        """The text that stands for it."""
        thing = bounded(_thing(self))  # type: ignore[arg-type]  # as above
        return thing if self.level == "first" else f"{self.level} {thing}"


class StepKey(_WithLevel, frozen=True, kw_only=True, tag="step"):
    """A step of the batch's plan, by its id there."""

    step: str


class ReadingKey(_WithLevel, frozen=True, kw_only=True, tag="reading"):
    """The next reading of gravity."""


class AskedKey(_WithLevel, frozen=True, kw_only=True, tag="asked"):
    """What somebody asked to be reminded of, with that entry."""

    entry: EntryId


class TimerKey(_WithLevel, frozen=True, kw_only=True, tag="timer"):
    """A chore's own minutes, counted since that entry."""

    entry: EntryId


class ContactKey(_WithLevel, frozen=True, kw_only=True, tag="contact"):
    """A sanitiser's contact time, since that entry."""

    entry: EntryId


class WashKey(_WithLevel, frozen=True, kw_only=True, tag="wash"):
    """A vessel to wash, since that entry emptied it. Of a name too long for the text `vessel` is the beginning with a
    digest of the whole: see `of`."""

    entry: EntryId
    vessel: str

    @classmethod
    def of(cls, entry: EntryId, vessel: str) -> "WashKey":
        """The key for the vessel of that name, however long."""
        return cls(entry=entry, vessel=bounded(f"wash {entry} {vessel}").removeprefix(f"wash {entry} "))


class TemperatureKey(_WithLevel, frozen=True, kw_only=True, tag="temperature"):
    """The temperature again, after that entry told one out of range."""

    entry: EntryId


class ClearKey(_WithLevel, frozen=True, kw_only=True, tag="clear"):
    """Whether it has cleared, for the plan's step of that id; None for bottling."""

    step: str | None = None


class CollectKey(_WithLevel, frozen=True, kw_only=True, tag="collect"):
    """Bottles and corks to fetch."""


class TasteKey(_WithLevel, frozen=True, kw_only=True, tag="taste"):
    """A taste so many days after bottling."""

    days: int


DueKey = (
    StepKey
    | ReadingKey
    | AskedKey
    | TimerKey
    | ContactKey
    | WashKey
    | TemperatureKey
    | ClearKey
    | CollectKey
    | TasteKey
)


def bounded(text: str) -> str:
    """The text itself, or of one too long its beginning with a digest of the whole."""
    if len(text) <= _LONGEST:
        return text
    digest = sha256(text.encode()).hexdigest()[:_DIGITS]
    return f"{text[: _LONGEST - _DIGITS - 1]}~{digest}"


def key_of(text: str) -> DueKey:
    """The key that the text stands for."""
    first, _, rest = text.partition(" ")
    if first in _LEVELS:
        return msgspec.structs.replace(key_of(rest), level=_LEVELS[first])
    number, _, name = rest.partition(" ")
    match first:
        case "reading" if not rest:
            return ReadingKey()
        case "collect" if not rest:
            return CollectKey()
        case "clear":
            return ClearKey(step=rest or None)
        case "asked" if rest.isdecimal():
            return AskedKey(entry=EntryId(int(rest)))
        case "timer" if rest.isdecimal():
            return TimerKey(entry=EntryId(int(rest)))
        case "contact" if rest.isdecimal():
            return ContactKey(entry=EntryId(int(rest)))
        case "temperature" if rest.isdecimal():
            return TemperatureKey(entry=EntryId(int(rest)))
        case "taste" if rest.isdecimal():
            return TasteKey(days=int(rest))
        case "wash" if number.isdecimal():
            return WashKey(entry=EntryId(int(number)), vessel=name)
        case _:
            return StepKey(step=text)


def is_meant(text: str | None, key: DueKey) -> bool:
    """Whether an entry of the log with that text means the thing itself. Entries of before have the text of a wash cut
    at 50 characters: they mean whatever begins so."""
    whole = key.base.text
    if text is None or text == whole:
        return text is not None
    cut = isinstance(key, WashKey) and len(text) == len(whole) == _LONGEST
    begins = _LONGEST - _DIGITS - 1
    return cut and whole[begins] == "~" and text[:begins] == whole[:begins] and text[begins] != "~"


def _thing(key: DueKey) -> str:
    match key:
        case StepKey():
            return key.step
        case ReadingKey():
            return "reading"
        case AskedKey():
            return f"asked {key.entry}"
        case TimerKey():
            return f"timer {key.entry}"
        case ContactKey():
            return f"contact {key.entry}"
        case WashKey():
            return f"wash {key.entry} {key.vessel}"
        case TemperatureKey():
            return f"temperature {key.entry}"
        case ClearKey():
            return f"clear {key.step}" if key.step is not None else "clear"
        case CollectKey():
            return "collect"
        case TasteKey():
            return f"taste {key.days}"
        case _:
            assert_never(key)
