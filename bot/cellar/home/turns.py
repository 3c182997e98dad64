"""Whose turn a chore is, by what the household agreed and by who did it last."""

from bot.cellar.log.acts import Rota, Turns
from bot.cellar.log.views import Batch, HouseView, Reading


def whose_turn(house: HouseView, view: Batch, step: Turns | None) -> str | None:
    """The one whose turn the chore or the reading is; None where nothing was agreed. What was agreed for the batch and the
    chore goes before what was agreed for all, and the later before the earlier."""
    every = None if step != "reading" else step  # readings are taken in turn where that was said of them
    fits = [rota for rota in house.rotas if rota.of in (None, view.name) and rota.step in (every, step)]
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
        done
        for view in house.batches
        if rota.of in (None, view.name)
        for done in (view.readings if rota.step == "reading" else view.chores)
        if done.by in people and (isinstance(done, Reading) or rota.step in (None, done.step))
    ]
    if not did:
        return people[0]
    last = max(did, key=lambda done: (done.at, done.entry))
    return people[(people.index(last.by) + 1) % len(people)]
