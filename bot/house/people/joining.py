"""A chat that goes on under a new id, and what follows when something was written under each id meanwhile."""

from datetime import datetime

from bot.cellar.log.acts import Begin, Vessel
from bot.cellar.log.fold import fold
from bot.house.home import Home
from bot.house.letters import plan
from bot.ids import ChatId
from bot.store.queries.households import Joined
from bot.store.unit import Unit


def move(unit: Unit, chat_id: ChatId, new_chat_id: ChatId, now: datetime) -> None:
    """Both ids are of one household from now on; told again it changes nothing."""
    joined = unit.households.move_chat(chat_id, new_chat_id)
    if joined is not None:
        _ascribe(unit, joined, now)
        plan.replan(Home(unit, unit.households.lock(joined.household_id), now))


def _ascribe(unit: Unit, joined: Joined, now: datetime) -> None:
    """What was said of a batch where nobody knew it is that batch's."""
    home = Home(unit, unit.households.lock(joined.household_id), now)
    batches: dict[int, int] = {}
    for entry in home.entries:
        if entry.entry not in joined.entries or entry.batch is not None:
            continue
        if isinstance(entry.act, Begin | Vessel):
            continue
        known = fold([earlier for earlier in home.entries if earlier.entry < entry.entry])
        view = known.named(entry.act.of)
        if view is not None:
            batches[entry.entry] = view.batch
    unit.log.ascribe(home.id, batches)
