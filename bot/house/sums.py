"""Sums asked in the chat: the batch's own figures fill in what the question left out."""

from collections.abc import Mapping

import msgspec

from bot.cellar.batch.proof import true_sg
from bot.cellar.batch.strength import strength_so_far
from bot.cellar.log.fold import Batch, held_in
from bot.cellar.log.subjects import Reckon
from bot.house.home import Home
from bot.say.sums import in_short, missing, working
from bot.science.limits import BadInput, Lacking
from bot.science.sums.reckon import CATALOGUE, reckon


class Summed(msgspec.Struct, frozen=True):
    """The answer in words, its working for "why?", and the keys that it lacks."""

    words: str
    why: str | None = None
    lacks: tuple[str, ...] = ()


def reckoned(home: Home, asked: Reckon, of: str | None) -> Summed:
    """The answer to a sum, with the batch's own figures where the question left them out."""
    name, given = asked.sum, asked.given
    view = home.view.named(of)
    if view is None and len(home.view.under_way) == 1 and of is not None:
        view = home.view.under_way[0]
    if view is not None and name in CATALOGUE:
        wanted = {key.name for key in CATALOGUE[name].keys}
        own = {key: value for key, value in figures(view, asked.vessel).items() if key in wanted}
        given = {**own, **given}
    try:
        found = reckon(name, given)
    except BadInput as error:
        keys = tuple(error.keys) if isinstance(error, Lacking) else ()
        return Summed(missing(error, name, asked.unused), lacks=keys)
    batch = view.name if view is not None else None
    return Summed(in_short(found, batch, asked.unused, asked.vessel), working(found))


def figures(view: Batch, vessel: str | None = None) -> Mapping[str, float | str]:
    """What the batch's log knows, by the catalogue's names and units; the litres are those in one vessel of several,
    where that is named."""
    found: dict[str, float | str] = {}
    strength = strength_so_far(view)
    if (litres := held_in(view, vessel)) is not None:
        found["litres"] = litres
    if view.ph:
        found["ph"] = view.ph[-1].value
    if view.temperatures:
        found["temp_c"] = view.temperatures[-1].value
    if view.colour in ("red", "white"):
        found["colour"] = view.colour
    if strength is not None:
        found |= {"abv": round(strength.abv, 2), "og": strength.og, "fg": strength.fg}
    if view.latest is not None:
        found["sg_from"] = found["sg"] = view.thinned(true_sg(view, view.latest), view.latest)
    if view.acidity:
        found["ta_from"] = view.acidity[-1].value
    return found
