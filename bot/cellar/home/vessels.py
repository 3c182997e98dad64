"""Vessels: what each is, what is in it, and whether it is clean, sanitised, in use or dirty.

Worked out from the log: filled by a beginning, a transfer, a split or a blend; dirty once it is emptied;
clean when somebody washed it; sanitised until that goes stale.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Literal

import msgspec

from bot.cellar.batch.proof import settled
from bot.cellar.log.acts import Share, Split, Vessel
from bot.cellar.log.due_key import WashKey
from bot.cellar.log.fold import Batch, HouseView, held_in
from bot.cellar.log.views import Stay
from bot.ids import EntryId
from bot.science import practice

VesselState = Literal["in use", "sanitised", "stale", "clean", "dirty", "unknown"]


class Known(msgspec.Struct, frozen=True, kw_only=True):
    """A vessel that the house has, with its capacity in litres where it was set up with one."""

    name: str
    litres: float | None = None


class VesselView(msgspec.Struct, frozen=True, kw_only=True):
    """A vessel at a moment. `since` is when it came to be so."""

    name: str
    kind: str | None
    litres: float | None
    tap: bool | None
    state: VesselState
    since: datetime | None
    batch: Batch | None = None
    holds: float | None = None

    @property
    def free(self) -> bool:
        return self.batch is None


Misfit = Literal["overfull", "foam", "headspace"]


class Fit(msgspec.Struct, frozen=True, kw_only=True):
    """Why a vessel does not suit what is in it: too full, or too much air above. Litres."""

    trouble: Misfit
    vessel: str
    holds: float
    litres: float


def names_in(house: HouseView, known: Iterable[Known]) -> tuple[Known, ...]:
    """The house's vessels: those it was set up with, those that people told of, with the latest capacity, and those that
    wine was put into."""
    found = {vessel.name: vessel.litres for vessel in known}
    for entry in house.vessel_facts:
        act = entry.act
        if isinstance(act, Vessel) and act.of is not None:
            name = next((one for one in found if one.casefold() == act.of.casefold()), act.of)
            found[name] = act.litres if act.litres is not None else found.get(name)
    for stay in (stay for batch in house.batches for stay in batch.stays):
        found.setdefault(stay.vessel, None)
    return tuple(Known(name=name, litres=litres) for name, litres in found.items())


def vessel_views(house: HouseView, known: Sequence[Known], now: datetime) -> tuple[VesselView, ...]:
    """Every vessel of the house as it is now, in the order it came into the house."""
    return tuple(_view(house, vessel, now) for vessel in names_in(house, known))


class Emptied(msgspec.Struct, frozen=True, kw_only=True):
    """A vessel that stands empty, since the entry that took the wine out; and who has washed it since."""

    vessel: str
    at: datetime
    entry: EntryId
    washed_by: str | None = None

    @property
    def key(self) -> WashKey:
        """One entry may empty several vessels."""
        return WashKey.of(self.entry, self.vessel)


def emptied(house: HouseView) -> list[Emptied]:
    """The vessels that wine has left and that nothing was put in since."""
    last: dict[str, Stay] = {}
    for stay in sorted(
        (stay for view in house.batches for stay in view.stays), key=lambda stay: (stay.since, stay.entry)
    ):
        last[stay.vessel] = stay
    return [
        Emptied(
            vessel=stay.vessel,
            at=stay.until,
            entry=stay.until_entry or EntryId(0),
            washed_by=_washed_by(house, stay.vessel, (stay.until, stay.until_entry or 0)),
        )
        for stay in last.values()
        if stay.until is not None
    ]


def _washed_by(house: HouseView, vessel: str, since: tuple[datetime, int]) -> str | None:
    washed = [
        (e.at, e.entry, e.by)
        for e in house.vessel_facts
        if isinstance(e.act, Vessel) and e.act.of == vessel and e.act.state == "clean"
    ]
    washed += [(c.at, c.entry, c.by) for c in house.sanitised if c.vessel in (vessel, None)]
    return next((by for at, entry, by in sorted(washed) if (at, entry) > since), None)


def _view(house: HouseView, vessel: Known, now: datetime) -> VesselView:
    name = vessel.name
    told = [e for e in house.vessel_facts if isinstance(e.act, Vessel) and e.act.of == name]
    taps = [e.act.tap for e in told if isinstance(e.act, Vessel) and e.act.tap is not None]
    kinds = [e.act.kind for e in told if isinstance(e.act, Vessel) and e.act.kind is not None]
    stays = [(stay, view) for view in house.batches for stay in view.stays if stay.vessel == name]
    events: list[tuple[datetime, int, VesselState]] = []
    for e in told:
        if isinstance(e.act, Vessel) and e.act.state is not None:
            events.append((e.at, e.entry, "clean" if e.act.state == "clean" else "dirty"))
    for chore in house.sanitised:
        if chore.vessel == name or (chore.vessel is None and not _used(stays, chore.at)):
            events.append((chore.at, chore.entry, "sanitised"))
    events += [(stay.until, stay.until_entry or 0, "dirty") for stay, _ in stays if stay.until is not None]
    events = sorted(event for event in events if event[0] <= now)
    held = next(((stay, view) for stay, view in stays if stay.until is None), None)
    state: VesselState = events[-1][2] if events else "unknown"
    since = events[-1][0] if events else None
    if state == "sanitised" and since is not None and now - since > practice.STALE_AFTER.value:
        state = "stale"
    holds = None
    if held is not None:
        state, since = "in use", held[0].since
        holds = next((part.litres for part in held[1].parts if part.vessel == name), None)
    return VesselView(
        name=name,
        kind=kinds[-1] if kinds else name.split()[0].casefold(),
        litres=vessel.litres,
        tap=taps[-1] if taps else None,
        state=state,
        since=since,
        batch=held[1] if held is not None else None,
        holds=holds,
    )


def _used(stays: Iterable[tuple[Stay, Batch]], at: datetime) -> bool:
    return any(stay.since < at and (stay.until is None or at < stay.until) for stay, _ in stays)


def before_filling(vessel: str, house: HouseView, filled: datetime) -> VesselState:
    """How clean the vessel was just before it was filled at that time, as far as anybody said."""
    return _view(_without_stays_from(house, vessel, filled), Known(name=vessel), filled).state


def _without_stays_from(house: HouseView, vessel: str, at: datetime) -> HouseView:
    batches = tuple(
        msgspec.structs.replace(
            batch, stays=tuple(s for s in batch.stays if not (s.vessel == vessel and s.since >= at))
        )
        for batch in house.batches
    )
    return msgspec.structs.replace(house, batches=batches)


def clash(house: HouseView) -> tuple[str, str, str] | None:
    """A vessel that two batches are in at one time, with both their names; None when all is well."""
    stays = [(stay, view) for view in house.batches for stay in view.stays]
    by_vessel: dict[str, list[tuple[Stay, Batch]]] = {}
    for stay, view in stays:
        by_vessel.setdefault(stay.vessel, []).append((stay, view))
    for vessel, inside in by_vessel.items():
        inside.sort(key=lambda item: (item[0].since, item[0].entry))
        for number, (first, one) in enumerate(inside):
            for second, other in inside[number + 1 :]:
                if one.batch != other.batch and (first.until is None or second.since < first.until):
                    return vessel, one.name, other.name
    return None


def fits(view: Batch, vessels: Iterable[VesselView]) -> list[Fit]:
    """Where the batch's vessels do not suit what is in them."""
    found: list[Fit] = []
    by_name = {vessel.name: vessel for vessel in vessels}
    working = settled(view) is None
    for part in view.parts:
        vessel = by_name.get(part.vessel)
        if vessel is None or vessel.litres is None or part.litres is None:
            continue
        trouble: Misfit | None = None
        if part.litres > vessel.litres + 1e-9:
            trouble = "overfull"
        elif (
            working
            and not view.done("rack")
            and part.litres > vessel.litres * (1 - practice.FOAM_ROOM.value) + 1e-9
        ):
            trouble = "foam"
        elif not working and part.litres < vessel.litres * (1 - practice.LARGEST_HEADSPACE.value) - 1e-9:
            trouble = "headspace"
        if trouble is not None:
            found.append(Fit(trouble=trouble, vessel=part.vessel, holds=part.litres, litres=vessel.litres))
    return found


def shared_out(act: Split, view: Batch, known: Sequence[Known]) -> Split:
    """The split with the litres of every part: those told, and the rest by what the vessels hold, else evenly. Where
    the vessels told of do not take all, the rest stayed where it was."""
    pool, size = held_in(view, act.vessel), {vessel.name: vessel.litres for vessel in known}
    into = list(act.into)
    if pool is None:
        return act
    told = sum(share.litres for share in into if share.litres is not None)
    source = act.vessel or (view.vessel if len(view.parts) == 1 else None)
    stays = source if source not in {share.vessel for share in into} else None
    named_rest = any(share.rest for share in into)
    open_parts = [share for share in into if share.litres is None and not share.rest]
    room = [litres for share in open_parts if (litres := size.get(share.vessel))]
    whole = len(room) == len(open_parts)
    small = bool(room) and whole and (named_rest or stays is not None) and sum(room) < pool - told - 1e-9
    if named_rest and open_parts and not small:
        return act  # nobody can tell how much is where
    if len(open_parts) == 1 and len(into) > 1 and not named_rest and not small:
        into = [_with(share, pool - told, rest=True) if share in open_parts else share for share in into]
    elif open_parts:
        weights = room if whole else [1.0] * len(open_parts)
        left = sum(room) if small else pool - told
        parts = iter(round(left * weight / sum(weights), 3) for weight in weights)
        into = [_with(share, next(parts)) if share in open_parts else share for share in into]
    told = sum(share.litres or 0.0 for share in into if not share.rest)
    into = [_with(share, pool - told, rest=True) if share.rest else share for share in into]
    rest = pool - sum(share.litres or 0.0 for share in into)
    if stays is not None and rest > practice.LEFT_BEHIND.value * pool:
        into.append(Share(vessel=stays, litres=round(rest, 3), rest=True))
    return msgspec.structs.replace(act, into=tuple(into))


def _with(share: Share, litres: float, *, rest: bool = False) -> Share:
    return Share(vessel=share.vessel, litres=max(0.0, round(litres, 3)), rest=rest)
