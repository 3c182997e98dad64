"""What an act may not be, whoever wrote it: the last check before the log."""

from collections.abc import Collection, Sequence
from datetime import datetime, timedelta
from typing import Literal, assert_never

from bot.cellar.batch.place import skippable
from bot.cellar.batch.transitions import legal
from bot.cellar.log.acts import (
    Acidity,
    Act,
    Addition,
    Amend,
    Begin,
    Blend,
    Bottles,
    Cost,
    Done,
    Draw,
    Follow,
    GiveUp,
    Gravity,
    KeepPlan,
    Look,
    Nickname,
    Note,
    Ph,
    PutOff,
    Question,
    Remind,
    Rota,
    Skip,
    Split,
    Step,
    StepName,
    TakeOn,
    Temperature,
    Timer,
    Undo,
    Vessel,
    Volume,
)
from bot.cellar.log.fold import HouseView, held_in
from bot.cellar.log.lengths import overlong
from bot.cellar.log.refracted import unusable
from bot.science import practice

_CLOCKS_DIFFER = timedelta(minutes=5)


NEVER_SKIPPED: frozenset[StepName] = frozenset({"sanitise", "mix", "pitch", "bottle"})
"""Without these there is no wine, or none that keeps."""

Objection = Literal[
    "out_of_range",
    "unknown_vessel",
    "vessel_busy",
    "future",
    "ended",
    "not_bottled",
    "too_much",
    "unknown_batch",
    "refracted_no_start",
    "refracted_no_wine",
    "needed",
    "not_ahead",
    "too_long",
]


def objection(
    act: Act, house: HouseView, vessels: Collection[str], now: datetime, beside: Sequence[Act] = ()
) -> tuple[Objection, str] | None:
    """Why the act cannot be written down, and the word it hangs on; None when it can. `beside` are the acts that
    are written with it."""
    if act.at is not None and act.at > now + _CLOCKS_DIFFER:
        return "future", act.at.isoformat()
    if (subject := overlong(act)) is not None:
        return "too_long", subject
    match act:
        case Gravity() if not _inside(act.sg, practice.SG_WRITTEN.value):
            return "out_of_range", str(act.sg)
        case Temperature() if not _inside(act.temp_c, practice.TEMPERATURE_WRITTEN.value):
            return "out_of_range", str(act.temp_c)
        case Gravity() if act.temp_c is not None and not _is_temperature(act.temp_c):
            return "out_of_range", str(act.temp_c)
        case Gravity() if act.instrument == "refractometer" and (why := _refracted(act, house, now)):
            return why
        case Volume() if not _is_volume(act.litres):
            return "out_of_range", f"{act.litres:g} l"
        case Draw():
            return _ended(act, house, now) or _draw(act, house)
        case Step() if act.litres is not None and not _is_volume(act.litres):
            return "out_of_range", f"{act.litres:g} l"
        case Vessel() if act.litres is not None and not _is_volume(act.litres):
            return "out_of_range", f"{act.litres:g} l"
        case Begin() if act.litres is not None and not _is_volume(act.litres):
            return "out_of_range", f"{act.litres:g} l"
        case Begin() if act.vessel is not None:
            return _vessel(act.vessel, _begun_anew(beside, house), house, vessels)
        case Amend():
            return _ended(act, house, now) or _amend(act, house, vessels)
        case Skip():
            return _ended(act, house, now) or _skip(act, house)
        case Split():
            return _ended(act, house, now) or _split(act, house, vessels)
        case Blend():
            return _ended(act, house, now) or _blend(act, house, vessels, now)
        case Step() if act.to is not None:
            return _ended(act, house, now) or _vessel(act.to, act.of, house, vessels)
        case Step() if act.step == "label" and any(_bottles(other, act, house) for other in beside):
            return None
        case (
            Gravity()
            | Temperature()
            | Ph()
            | Acidity()
            | Volume()
            | Addition()
            | Step()
            | Bottles()
            | GiveUp()
        ):
            return _ended(act, house, now)
        case (
            Begin()
            | Note()
            | Nickname()
            | Vessel()
            | Cost()
            | KeepPlan()
            | Follow()
            | Rota()
            | Undo()
            | Question()
        ):
            return None
        case Remind() | PutOff() | TakeOn() | Done() | Look() | Timer():
            return None
        case _:
            assert_never(act)


def _ended(act: Act, house: HouseView, now: datetime) -> tuple[Objection, str] | None:
    """What cannot have happened at that point of the batch's life."""
    view = house.named(act.of)
    if view is None or legal(act, view, act.at or now):
        return None
    early = isinstance(act, Step) and act.step == "label" and view.gone_at is None
    return ("not_bottled" if early else "ended"), view.name


def _refracted(act: Gravity, house: HouseView, now: datetime) -> tuple[Objection, str] | None:
    """What cannot be worked out from a refractometer's figure once there is alcohol."""
    view = house.named(act.of)
    why = unusable(view, act, act.at or now) if view is not None else None
    if view is None or why is None:
        return None
    return ("refracted_no_start" if why == "no_start" else "refracted_no_wine"), view.name


def _amend(act: Amend, house: HouseView, vessels: Collection[str]) -> tuple[Objection, str] | None:
    if house.named(act.of) is None:
        return "unknown_batch", act.of or ""
    if act.days is not None and not _inside(act.days, practice.DAYS_WRITTEN.value):
        return "out_of_range", f"{act.days} days"
    return None if act.vessel is None else _vessel(act.vessel, act.of, house, vessels)


def _skip(act: Skip, house: HouseView) -> tuple[Objection, str] | None:
    """What cannot be left out, or is not to come."""
    view = house.named(act.of)
    if view is None:
        return "unknown_batch", act.of or ""
    if act.step in NEVER_SKIPPED:
        return "needed", view.name
    return None if skippable(view, act.step) is not None else ("not_ahead", view.name)


def _bottles(act: Act, label: Step, house: HouseView) -> bool:
    return isinstance(act, Step) and act.step == "bottle" and house.named(act.of) is house.named(label.of)


def _draw(act: Draw, house: HouseView) -> tuple[Objection, str] | None:
    """More cannot be taken out than is in there."""
    view = house.named(act.of)
    if view is None:
        return "unknown_batch", act.of or ""
    if not 0 < act.litres <= practice.LITRES_WRITTEN.value[1]:
        return "out_of_range", f"{act.litres:g} l"
    held = held_in(view, act.vessel)
    return ("too_much", f"{act.litres:g} l") if held is not None and act.litres > held + 0.01 else None


def _split(act: Split, house: HouseView, vessels: Collection[str]) -> tuple[Objection, str] | None:
    view = house.named(act.of)
    if view is None:
        return "unknown_batch", act.of or ""
    for share in act.into:
        if share.litres is not None and share.litres <= 0:
            return "out_of_range", f"{share.litres:g} l"
        if found := _vessel(share.vessel, act.of, house, vessels):
            return found
    told = sum(share.litres or 0 for share in act.into if not share.rest)
    held = held_in(view, act.vessel)
    if held is not None and told > held + 0.01:
        return "too_much", f"{told:g} l"
    every = all(share.litres is not None and not share.rest for share in act.into)
    return None if every or held is None or told < held else ("too_much", f"{told:g} l")


def _blend(
    act: Blend, house: HouseView, vessels: Collection[str], now: datetime
) -> tuple[Objection, str] | None:
    other = house.named(act.other)
    if house.named(act.of) is None or other is None:
        return "unknown_batch", act.other
    if not legal(act, other, act.at or now):
        return "ended", other.name
    if act.to is None:
        return None
    inside = house.in_vessel(act.to)
    if inside is other:
        return None if act.to in vessels else ("unknown_vessel", act.to)
    return _vessel(act.to, act.of, house, vessels)


def _inside(value: float, ends: practice.Ends) -> bool:
    low, high = ends
    return low <= value <= high


def _is_volume(litres: float) -> bool:
    return _inside(litres, practice.LITRES_WRITTEN.value)


def _is_temperature(temp_c: float) -> bool:
    return _inside(temp_c, practice.TEMPERATURE_WRITTEN.value)


def _begun_anew(beside: Sequence[Act], house: HouseView) -> str | None:
    """The batch whose beginning is struck out with it, to be written anew."""
    gone: set[int] = {act.entry for act in beside if isinstance(act, Undo) and act.entry is not None}
    return next(
        (
            view.name
            for view in house.under_way
            if view.batch in gone or any(stay.entry in gone for stay in view.stays)
        ),
        None,
    )


def _vessel(
    vessel: str, of: str | None, house: HouseView, vessels: Collection[str]
) -> tuple[Objection, str] | None:
    if vessel not in vessels and not one_more(vessel, vessels):
        return "unknown_vessel", vessel
    holder = house.in_vessel(vessel)
    if holder is not None and holder is not house.named(of):
        return "vessel_busy", vessel
    return None


def one_more(vessel: str, vessels: Collection[str]) -> bool:
    """Whether a vessel is the next of its kind by number, "bucket 4" where there are three: a household that fills it
    has one more. Any other number may be a slip."""
    kind, _, number = vessel.rpartition(" ")
    alike = [
        int(end)
        for start, _, end in (name.rpartition(" ") for name in vessels)
        if start == kind and end.isdecimal()
    ]
    return bool(alike) and number.isdecimal() and int(number) == max(alike) + 1
