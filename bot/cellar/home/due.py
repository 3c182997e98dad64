"""What falls due in the house and for no batch, and what people asked to be reminded of."""

from datetime import datetime, timedelta

from bot.cellar.batch.due import (
    CONTACT,
    WASH_AFTER,
    WASH_WITHIN,
    Due,
    asked_due,
    asks,
    due_for,
    once_more,
    over,
    put_off,
)
from bot.cellar.home.vessels import emptied
from bot.cellar.log.fold import Chore, HouseView, Promise
from bot.ids import HOUSE


def due_for_house(
    house: HouseView, contact: timedelta = CONTACT, *, since: datetime | None = None
) -> list[Due]:
    """What belongs to no batch: sanitisers' contact times (those that are up at `since` or later), vessels to
    wash, and plans that named no batch."""
    contacts = [
        Due(
            batch=HOUSE,
            step=f"contact {chore.entry}",
            at=chore.at + contact,
            kind="contact",
            exact=True,
            minutes=contact / timedelta(minutes=1),
            still_open=not _used_since(house, chore),
        )
        for chore in house.sanitised
        if (since is None or chore.at + contact >= since)
        and (chore.vessel is None or not _used_since(house, chore))
    ]
    wash = [
        Due(
            batch=HOUSE,
            step=one.key,
            at=one.at + WASH_AFTER,
            kind="wash",
            of=one.vessel,
            until=one.at + WASH_WITHIN,
        )
        for one in emptied(house)
        if one.washed_by is None
    ]
    asked = [p for p in house.promises if asks(p) and not sanitised_since(house, p)]
    found = [*(asked_due(promise) for promise in asked), *wash]
    found = [put_off(house.promises, due) for due in found if not over(house.promises, due)]
    return contacts + found + [more for due in found for more in once_more(due)]


def _used_since(house: HouseView, sanitised: Chore) -> bool:
    """Whether what was sanitised, or anything where no vessel was named, has been put to use."""
    return any(
        chore.at >= sanitised.at
        and chore.entry > sanitised.entry
        and chore.step != "sanitise"
        and (sanitised.vessel is None or sanitised.vessel in (chore.vessel, chore.to))
        for view in house.batches
        for chore in view.chores
    )


def asked_for(house: HouseView) -> tuple[Due, ...]:
    """What people asked to be reminded of and nobody has done, soonest first."""
    found = due_for_house(house)
    found += [due for view in house.batches for due in due_for(view, view.follows, house)]
    return tuple(sorted((due for due in found if due.kind == "asked"), key=lambda due: (due.at, due.step)))


def sanitised_since(house: HouseView, promise: Promise) -> bool:
    """The same for a promise about no batch: only sanitising is ever told of none."""
    return promise.step == "sanitise" and any(chore.at >= promise.at for chore in house.sanitised)
