"""What follows when wine moves: vessels freed and filled, what does not fit, and where to when nobody said."""

from datetime import timedelta

from bot.cellar.home.vessels import VesselView, before_filling, fits
from bot.cellar.log.acts import Addition, Amend, Begin, Blend, Draw, GiveUp, Split, Step, Undo, Volume
from bot.cellar.log.fold import Batch, Entry
from bot.house.home import Home
from bot.house.turn import Turn
from bot.say import cautions, doubts, litres, vessels
from bot.store.press import ChooseOption, Labelled

WHERE_FOR = timedelta(hours=12)
"""How long the question where it was racked to stays open."""

_MOST_VESSELS = 5
_FIRST = ("sanitised", "clean", "stale", "unknown", "dirty")
_POURS = (Begin, Amend, Split, Blend, Volume, GiveUp)


def after(home: Home, view: Batch, entry: Entry) -> list[str]:
    """What is to be said of the vessels once the entry is written down."""
    act = entry.act
    moved = isinstance(act, _POURS) or (
        isinstance(act, Step) and (act.to is not None or act.step == "bottle")
    )
    if isinstance(act, Draw | Addition | Split) or (isinstance(act, Step) and act.step == "top_up"):
        left = litres.after(view, entry.entry, home.manner)
    else:
        left = ""
    if not moved:
        return [line for line in [left] if line] + _cut_short(home, view, entry)
    lines = [left, *_cut_short(home, view, entry)]
    for stay in view.stays:
        if stay.entry == entry.entry and not isinstance(act, Begin | Amend):
            state = before_filling(stay.vessel, home.view, stay.since)
            lines.append(cautions.not_ready(stay.vessel, state))
    every = home.vessel_views()
    lines += [cautions.fit(found, home.manner) for found in fits(view, every)]
    freed = [
        stay.vessel
        for batch in home.view.batches
        for stay in batch.stays
        if stay.until_entry == entry.entry and home.view.in_vessel(stay.vessel) is None
    ]
    if freed:
        lines.append(vessels.freed(freed))
    return [line for line in lines if line]


def _cut_short(home: Home, view: Batch, entry: Entry) -> list[str]:
    """The vessel was used before its sanitiser had its time."""
    act = entry.act
    used = {stay.vessel for stay in view.stays if stay.entry == entry.entry}
    if isinstance(act, Step) and act.step in ("mix", "pitch") and view.vessel is not None:
        used.add(view.vessel)
    before = [c for c in home.view.sanitised if c.vessel in used and c.at <= entry.at]
    last = max(before, key=lambda chore: chore.at, default=None)
    if last is None or entry.at - last.at >= home.contact:
        return []
    if isinstance(act, Step) and act.step == "pitch" and view.done("mix") is not None:
        return []
    minutes = int((entry.at - last.at) / timedelta(minutes=1))
    return [cautions.too_short(minutes, home.row.contact_minutes)]


def where_to(turn: Turn, view: Batch, entry: Entry) -> tuple[str, list[Labelled]]:
    """The question where a batch was racked to, with the free vessels; nothing where that is known."""
    act = entry.act
    if not isinstance(act, Step) or act.step != "rack" or act.to is not None or view.ended_at is not None:
        return "", []
    free = sorted(_free(turn.home, view), key=lambda vessel: _FIRST.index(vessel.state))
    if not free:
        return vessels.NONE_FREE, []
    chosen = free[:_MOST_VESSELS]
    options = [
        (Undo(entry=entry.entry), Step(step="rack", of=view.name, to=vessel.name, at=act.at))
        for vessel in chosen
    ]
    racked_by = next((m for m in turn.home.members if m.name == entry.by), turn.member)
    turn.unit.questions.close_all(turn.home.id, turn.incoming.chat_id, racked_by, turn.now)
    asked = turn.unit.questions.ask(
        turn.home.id,
        turn.source,
        racked_by,
        options,
        said_at=entry.said_at,
        until=turn.now + WHERE_FOR,
    )
    buttons: list[Labelled] = [
        (doubts.vessel_choice(vessel.name), ChooseOption(asked=asked, option=number))
        for number, vessel in enumerate(chosen)
    ]
    return vessels.WHERE_TO, buttons


def _free(home: Home, view: Batch) -> list[VesselView]:
    """The vessels that it could be in: free, and not known to be too small."""
    return [
        vessel
        for vessel in home.vessel_views()
        if vessel.free and not (vessel.litres and view.litres and vessel.litres < view.litres - 1e-9)
    ]
