"""Sums asked in the chat: the batch's own figures fill in what the question left out."""

from collections.abc import Mapping
from typing import Any

import msgspec

from bot.cellar.batch.place import true_sg
from bot.cellar.batch.strength import strength_so_far
from bot.cellar.log.acts import Question
from bot.cellar.log.fold import BatchView
from bot.house.home import Home
from bot.say.sums import in_short, missing, working
from bot.science.limits import BadInput, Lacking
from bot.science.reckon import CATALOGUE, reckon


class Summed(msgspec.Struct, frozen=True):
    """The answer in words, its working for "why?", and what a sum that lacks something is to go on with."""

    words: str
    why: str | None = None
    lacks: dict[str, Any] | None = None


def reckoned(home: Home, question: Question) -> Summed:
    """The answer to a sum, with the batch's own figures where the question left them out."""
    name = question.reckon or ""
    given: dict[str, float | str] = dict(question.given or {})
    view = home.view.named(question.of)
    if view is None and len(home.view.under_way) == 1 and question.of is not None:
        view = home.view.under_way[0]
    if view is not None and name in CATALOGUE:
        wanted = {key.name for key in CATALOGUE[name].keys}
        own = {key: value for key, value in figures(view).items() if key in wanted}
        given = {**own, **given}
    unused = question.unused or ()
    try:
        found = reckon(name, given)
    except BadInput as error:
        keys = list(error.keys) if isinstance(error, Lacking) else []
        lacks = {"reckon": name, "given": dict(question.given or {}), "of": question.of, "keys": keys}
        return Summed(missing(error, name, unused), lacks=lacks if keys else None)
    return Summed(in_short(found, view.name if view is not None else None, unused), working(found))


def figures(view: BatchView) -> Mapping[str, float | str]:
    """What the batch's log knows, by the catalogue's names and units."""
    found: dict[str, float | str] = {}
    strength = strength_so_far(view)
    if view.litres is not None:
        found["litres"] = view.litres
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
