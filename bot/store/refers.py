"""What a letter is about: `Refers`, as it stands in the outbox beside the letter, for replies to it.

It is written and read here only. Rows of before are lifted to today's form when they are read.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Literal

import msgspec

from bot.cellar.log.acts import Begin, KitPart, StepName
from bot.cellar.log.subjects import About
from bot.ids import EntryId


class _AsksFor(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, tag_field="wants"):
    """What the letter asks for, and the next thing said may give."""


class WantsBottles(_AsksFor, frozen=True, kw_only=True, tag="bottles"):
    """How many bottles the bottling that it tells of gave."""


class WantsTemperature(_AsksFor, frozen=True, kw_only=True, tag="temperature"):
    """What the thermometer shows."""


class WantsKit(_AsksFor, frozen=True, kw_only=True, tag="kit"):
    """What the beginning of a batch lacks; of one that is not begun yet what was `told`."""

    what: KitPart
    told: Begin | None = None


class WantsTime(_AsksFor, frozen=True, kw_only=True, tag="when"):
    """When to bring up what `text` asks for; of the member with that id at the chat service."""

    text: str
    member: int


class WantsFigures(_AsksFor, frozen=True, kw_only=True, tag="sum"):
    """What a sum still lacks: its name in the catalogue, what was `given`, the `keys` that are missing, the batch that
    it is about and the one `vessel` of several; of the member with that id at the chat service."""

    reckon: str
    given: dict[str, float | str]
    keys: tuple[str, ...]
    of: str | None = None
    vessel: str | None = None
    member: int


class WantsWhich(_AsksFor, frozen=True, kw_only=True, tag="which"):
    """Which of its things is done, put off, taken on (by `whom`, where that is not the writer) or given back; the next
    thing said may tell `until` then."""

    action: Literal["done", "later", "mine", "release"]
    until: datetime
    whom: str | None = None


Wants = WantsBottles | WantsTemperature | WantsKit | WantsTime | WantsFigures | WantsWhich


class Refers(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What a letter is about. `of` is its batch or vessel by name; `step` the chore and `wish` the entry with which
    somebody asked to be reminded, of a reminder alone in its letter."""

    of: str | None = None
    step: StepName | None = None
    wish: EntryId | None = None
    reminders: tuple[int, ...] = ()
    """The reminders that it says, or tells the end of."""
    among: tuple[int, ...] = ()
    """Those of the letter to which it belongs."""
    entries: tuple[EntryId, ...] = ()
    """What was written down with it."""
    why: str | None = None
    """The working of its answer."""
    asked: About | None = None
    """The question that it answers."""
    dangers: tuple[str, ...] = ()
    """The dangers that it tells what to do about."""
    lacked: str | None = None
    """The wish for a reminder that the message answered gave its time to."""
    wants: Wants | None = None


def to_plain(refers: Refers) -> dict[str, Any]:
    """It as JSON values, without what is not said."""
    plain: dict[str, Any] = msgspec.to_builtins(refers)
    return plain


def from_plain(plain: Mapping[str, Any]) -> Refers:
    """What `to_plain` wrote, now or before. Raises msgspec.ValidationError where it wrote none."""
    return msgspec.convert(_lifted(plain), type=Refers)


def _lifted(plain: Mapping[str, Any]) -> Mapping[str, Any]:
    """What a letter wants stood beside everything else once, and a wish under the key of the due thing."""
    lifted = {key: value for key, value in plain.items() if key not in _BEFORE}
    wants, kept = plain.get("wants"), {key: plain[key] for key in _BEFORE & plain.keys()}
    if isinstance(wants, str):
        lifted["wants"] = {"wants": wants, **kept.get("sum", {}), **kept}
    elif "pending" in kept:
        which = {"action": kept["pending"], "until": kept["asked_until"], "whom": kept.get("whom")}
        lifted["wants"] = {"wants": "which", **which}
    if str(kept.get("what", "")).startswith("asked "):
        lifted["wish"] = int(kept["what"].removeprefix("asked "))
    return lifted


_BEFORE = frozenset({"adds", "what", "text", "member", "sum", "pending", "asked_until", "whom"})
