"""Whose turn a chore is, by what the household agreed and by who did it last."""

from bot.cellar.acts import Rota, StepName
from bot.cellar.views import BatchView, HouseView


def whose_turn(house: HouseView, view: BatchView, step: StepName | None) -> str | None:
    """The one whose turn the chore is; None where nothing was agreed. What was agreed for the batch and the
    chore goes before what was agreed for all, and the later before the earlier."""
    fits = [rota for rota in house.rotas if rota.of in (None, view.name) and rota.step in (None, step)]
    chosen = max(
        enumerate(fits),
        key=lambda item: (item[1].of is not None, item[1].step is not None, item[0]),
        default=None,
    )
    if chosen is None or not chosen[1].people:
        return None
    return _next(house, chosen[1])


def _next(house: HouseView, rota: Rota) -> str:
    """Whoever comes after the one who did it last."""
    people = rota.people
    did = [
        chore
        for view in house.batches
        for chore in view.chores
        if chore.by in people and rota.step in (None, chore.step) and rota.of in (None, view.name)
    ]
    if not did:
        return people[0]
    last = max(did, key=lambda chore: (chore.at, chore.entry))
    return people[(people.index(last.by) + 1) % len(people)]
