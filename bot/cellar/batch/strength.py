"""A batch's strength from its log: by its gravities, and by what was blended into it."""

from collections.abc import Mapping

import msgspec

from bot.cellar.batch.once import once
from bot.cellar.batch.proof import true_sg
from bot.cellar.log.fold import Added, Batch
from bot.ids import EntryId
from bot.science.formulas.strength import Strength, alcohol_by_volume
from bot.science.formulas.volumes import blend
from bot.science.limits import BadInput


@once
def strength_so_far(view: Batch) -> Strength | None:
    """The strength between the starting and the latest gravity; None where one of them is missing.

    After a blend it is that of both wines by their volumes and strengths as they were poured together; what
    ferments afterwards is not counted.
    """
    if view.mixed:
        return _blended(view)
    start, latest = view.starting, view.latest
    if start is None or latest is None or latest.entry == start.entry:
        return None
    try:
        return alcohol_by_volume(
            view.thinned(true_sg(view, start), start),
            view.thinned(true_sg(view, latest), latest),
            sugar_added_g_l=sugar_added(view),
            resolution_sg=min(0.005, max(0.001, latest.at_most - latest.sg)),
        )
    except BadInput:
        return None


def _blended(view: Batch) -> Strength | None:
    mixed = view.mixed[-1]
    own, other = strength_so_far(mixed.own), strength_so_far(mixed.other)
    litres_a, litres_b = mixed.own.litres, mixed.poured
    if own is None or other is None or not litres_a or not litres_b:
        return None
    try:
        figures = [
            blend(litres_a, a, litres_b, b).abv * view.kept(mixed)
            for a, b in ((own.abv, other.abv), (own.low, other.low), (own.high, other.high))
        ]
    except BadInput:
        return None
    return msgspec.structs.replace(own, abv=figures[0], low=figures[1], high=figures[2])


def blended_from(view: Batch) -> tuple[tuple[str, float, float], ...]:
    """Name, litres and strength (% vol) of the two wines of the last blend; empty where one is not known."""
    if not view.mixed:
        return ()
    mixed = view.mixed[-1]
    both = ((mixed.own, mixed.own.litres), (mixed.other, mixed.poured))
    parts = [(one.name, litres, strength_so_far(one)) for one, litres in both]
    return tuple((name, litres, s.abv) for name, litres, s in parts if litres and s is not None)


def sugar_added(view: Batch) -> float:
    """Sugar put in after the starting gravity and before the latest reading, in g per litre as it is now."""
    start, latest = view.starting, view.latest
    if start is None or latest is None:
        return 0.0
    return sum(
        per_litre(view, added, added.amount)
        for added in view.additions
        if added.what == "sugar" and added.unit == "g" and added.amount and start.at < added.at <= latest.at
    )


def per_litre(view: Batch, added: Added, grams: float, vessel: str | None = None) -> float:
    """What went in, in g per litre: by the litres that it went into, thinned by the water since. What was taken out
    since took its share along. Of a batch in several vessels, what there is in `vessel` of what went into one of
    them. 0 where no volume is known."""
    if vessel is not None and added.vessel is not None:
        return grams / added.held * view.kept(added) if added.held and added.vessel == vessel else 0.0
    litres = view.litres_at(added)
    return grams / litres * view.kept(added) if litres else 0.0


def most_per_litre(view: Batch, grams: Mapping[EntryId, float]) -> tuple[float, str | None]:
    """What additions come to, in g per litre, in that vessel of the batch that has the most; the vessel's name is None
    where it is the same in all of it. `grams` of each addition, by its entry; the others do not count."""
    counted = [added for added in view.additions if added.entry in grams]

    def in_all(vessel: str | None) -> float:
        return sum(per_litre(view, added, grams[added.entry], vessel) for added in counted)

    if len(view.parts) < 2 or all(added.vessel is None for added in counted):
        return in_all(None), None
    return max((in_all(vessel), vessel) for vessel in view.vessels)


def water_added(view: Batch) -> float:
    """Litres of water since the starting gravity was read, else since the must was made up."""
    since = view.starting.at if view.starting is not None else view.begun_at
    return sum(move.change or 0.0 for move in view.moves if move.kind == "water" and move.at >= since)
