"""Litres in words: where they are, where they went, and what water does to a wine."""

from bot.cellar.answers import LitresAnswer
from bot.cellar.batch.strength import strength_so_far
from bot.cellar.log.fold import Batch
from bot.cellar.log.views import Move
from bot.ids import EntryId
from bot.say.manner import Manner, listed, name, percent, said

WENT = {
    "sample": "taken as a sample",
    "lees": "lost to the lees",
    "spill": "spilled",
    "lost": "lost",
    "out": "taken out",
}
"""Where litres went that are no longer there."""

_SMALL, _TOLD_FROM = 0.995, 0.005
"""Litres below which millilitres are said, and below which a sum is not worth saying."""
_UNCHANGED = 0.9995
"""Thinned by so little, a wine is the same."""
_WITH_WHAT = "With what? Water thins it. Tap Undo and write it with that: <code>topped up {of} with {litres} water</code>"
_HOW_MUCH = "How much went into each? Tell me, like <code>4.5 l in {vessel}</code>"
_AS_STRONG = "I take that wine to be as strong as this one."


def small(litres: float, manner: Manner) -> str:
    """A volume; below a litre in millilitres, in a house of litres."""
    if 0 < litres < _SMALL and not manner.volume_unit.lower().startswith("g"):
        return f"{litres * 1000:.0f} ml"
    return manner.volume(litres)


def moved(move: Move, manner: Manner) -> str:
    """One line of the ledger, in a few words: "2 l lost to the lees"."""
    litres = abs(move.litres if move.litres is not None else move.change or 0.0)
    amount = small(litres, manner)
    where = f" in {said(move.vessel)}" if move.vessel is not None else ""
    if move.kind in WENT:
        return f"{amount}{f' from {said(move.vessel)}' if move.vessel else ''} {WENT[move.kind]}"
    if move.kind == "water":
        return f"{amount} of water in{where}"
    if move.kind == "topped_up":
        return f"{amount}{f' of {said(move.using)}' if move.using else ''} in"
    if move.kind == "given":
        return f"{amount} given to {said(move.using or '')}"
    if move.kind == "split":
        parts = [
            f"{manner.volume(part.litres)} into {said(part.vessel)}"
            if part.litres is not None
            else said(part.vessel)
            for part in move.into
        ]
        left = f", {small(-move.change, manner)} left behind" if move.change and move.change < -0.01 else ""
        return f"split: {listed(parts)}{left}"
    return f"{manner.volume(move.total or 0.0)} measured{where}"


def how_much(found: LitresAnswer, manner: Manner) -> str:
    """How much is left, and where the rest went."""
    return "\n".join(_left(view, found.vessel, manner) for view in found.views)


def _left(view: Batch, vessel: str | None, manner: Manner) -> str:
    if view.litres is None:
        return f"{name(view.name)}: I know no volume yet. Tell me, like <code>23 l in {said(view.vessel or view.name)}</code>"
    parts = [part for part in view.parts if vessel in (None, part.vessel)]
    if len(view.parts) > 1 and all(part.litres is not None for part in parts):
        shown = [f"{manner.volume(part.litres or 0.0)} in {name(part.vessel)}" for part in parts]
        whole = (
            f" ({manner.volume(view.litres)} in all)"
            if vessel is None
            else f", of {manner.volume(view.litres)} in all"
        )
        line = f"{name(view.name)}: {listed(shown)}{whole}."
    else:
        where = f" in {name(view.vessel)}" if view.vessel is not None else ""
        line = f"{name(view.name)}: {manner.volume(view.litres)}{where}."
    return "\n".join(filter(None, [line, where_they_went(view, manner)]))


def where_they_went(view: Batch, manner: Manner) -> str:
    """The way from what it began with to what there is, in a line; nothing where nothing came or went."""
    start = next((move.total for move in view.moves if move.total is not None), None)
    told = [move for move in view.moves if move.kind in _SUMMED and move.change]
    if start is None or view.litres is None or not told:
        return ""
    sums: dict[str, float] = {}
    for move in told:
        word = _SUMMED[move.kind].format(using=said(move.using or "wine"))
        sums[word] = sums.get(word, 0.0) + (move.change or 0.0)
    ways = [
        f"{'less' if change < 0 else 'and'} {small(abs(change), manner)} {word}"
        for word, change in sums.items()
        if abs(change) >= _TOLD_FROM
    ]
    return f"{manner.volume(start)} at first, {', '.join(ways)}." if ways else ""


_SUMMED = {
    "sample": "of samples",
    "lees": "lost to the lees",
    "spill": "spilled",
    "lost": "lost",
    "out": "taken out",
    "water": "of water",
    "topped_up": "of {using}",
    "given": "given to {using}",
    "split": "left behind",
    "poured_in": "of {using}",
    "counted": "by measure",
}


def after(view: Batch, entry: EntryId, manner: Manner) -> str:
    """What is left once the entry is written down, and what it did to the strength; nothing where it moved none."""
    move = next((move for move in view.moves if move.entry == entry), None)
    if move is None or move.kind in ("begun", "counted", "poured_in"):
        return ""
    if unknown := [part.vessel for part in move.into if part.litres is None]:
        return _HOW_MUCH.format(vessel=said(unknown[0]))
    if move.total is None:
        return ""
    lines = [
        f"{manner.volume(move.total)} left."
        if (move.change or 0) < 0
        else f"{manner.volume(move.total)} now."
    ]
    if move.kind == "water":
        lines.append(thinned(view, move, manner))
    elif move.kind == "topped_up" and move.using is None:
        lines.append(_WITH_WHAT.format(of=said(view.name), litres=manner.volume(move.litres or 0.5)))
    elif move.kind == "topped_up" and not any(mixed.entry == entry for mixed in view.mixed):
        lines.append(_AS_STRONG)
    return " ".join(filter(None, lines))


def thinned(view: Batch, move: Move, manner: Manner) -> str:
    """What water did to the strength and the gravity."""
    latest, strength = view.latest, strength_so_far(view)
    if move.thins > _UNCHANGED or latest is None:
        return "Water thins it."
    if strength is None:
        return f"Water thins it: {latest.sg:.3f} becomes about {view.thinned(latest.sg, latest):.3f}."
    before = strength.abv / move.thins
    return f"Water thins it: about {percent(strength.abv)} instead of {percent(before)}."
