"""Looks, errands and tastes in words."""

from bot.cellar.batch.looks import bottling_by_kit
from bot.cellar.home.costs import expected_bottles
from bot.cellar.home.due import LATE_TIMER, Due
from bot.cellar.log.fold import Batch
from bot.say.manner import Manner, name, said

PRINT = "print should be readable through a glass of it"
ONLY_IF_CLEAR = f"Only if it is clear: {PRINT}."
"""Said with a chore that wants a clear wine while nobody has said that it is."""

TITLES = {
    "temperature": "look at the thermometer",
    "clearing": "look whether it is clear",
    "collect": "get bottles and corks",
    "taste": "taste it",
    "wash": "wash it",
}
"""What is to be done, in as few words as say it."""

NAMES = {
    "temperature": "thermometer",
    "clearing": "clear?",
    "collect": "corks",
    "taste": "taste",
    "wash": "wash",
}
"""The same on a button, beside a batch's name."""


def check(due: Due, view: Batch, who: str, late: str, manner: Manner) -> str:
    """What to look at or to fetch, why, and what to send."""
    batch = f"{name(view.name)}: {who}"
    if due.kind == "temperature":
        low, high = view.follows.ferment_c
        band = f"{manner.temperature(low)} to {manner.temperature(high)}"
        like = f"<code>{example(manner)} {said(view.vessel or view.name)}</code>"
        return f"{batch}what does the thermometer say{late}? It wants {band}. Send it like {like}"
    if due.kind == "clearing":
        return (
            f"{batch}is it clear{late}? {PRINT[0].upper()}{PRINT[1:]}. "
            "Cloudy wine settles in the bottle: it can have longer."
        )
    if due.kind == "collect":
        bottles = expected_bottles(view)
        many = f"{bottles} bottles and corks" if bottles else "bottles and corks"
        by = manner.day(bottling_by_kit(view))
        return f"{batch}time to get {many}{late}. By the kit's days it could be bottled from about {by}."
    return (
        f"{batch}{_age(due, view, manner)} in the bottle{late}. Taste one, and keep what you find: "
        f"<code>note {said(view.name)}: soft, still young</code>"
    )


def is_clear(of: str, who: str, after: str) -> str:
    """Somebody looked, and it has cleared."""
    return f"✓ {name(of)}: clear, {said(who)}.\n{after}".strip()


def is_cloudy(of: str, who: str, again: str) -> str:
    """Somebody looked, and it has not."""
    return f"✓ {name(of)}: still cloudy, {said(who)}. It can have longer: I will ask again {again}."


def which_clear(names: list[str]) -> str:
    """Asks which of several wines was meant."""
    return f"Which one? Tell me like <code>{said(names[0])} is clear</code> or <code>{said(names[0])} is still cloudy</code>."


def example(manner: Manner) -> str:
    """How a temperature is written here: 21c, or 70f."""
    return manner.temperature(21).replace(" °", "").lower()


def wash(due: Due, who: str, late: str) -> str:
    """An emptied vessel."""
    return f"{name(due.of or '')}: {who}wash it before the lees dry on{late}."


WASH_WITH_CARE = "Cleaners can burn: gloves, fresh air."


def tell_washed(due: Due) -> str:
    return f"Then tell me: <code>washed {said(due.of or '')}</code>"


def timer(due: Due, view: Batch | None, what: str, manner: Manner) -> str:
    """Somebody's minutes are up."""
    batch = f"{name(view.name)}: " if view is not None else ""
    when = f", since {manner.when(due.at)}" if manner.now - due.at > LATE_TIMER else ""
    return f"{batch}{_minutes(due)} are up{when}: {said(what)}."


def start(due: Due) -> str:
    """The button that begins a chore's minutes."""
    return f"Start {_minutes(due)}".replace(" minutes", " min").replace(" minute", " min")


def begun(who: str, clock: str) -> str:
    """The minutes are running."""
    return f"⏱ Begun at {clock}, {said(who)}."


def _minutes(due: Due) -> str:
    minutes = round(due.minutes or 0)
    return "1 minute" if minutes == 1 else f"{minutes} minutes"


def _age(due: Due, view: Batch, manner: Manner) -> str:
    days = (due.at - view.bottled_at).days if view.bottled_at is not None else 0
    weeks = round(days / 7)
    return f"{weeks} weeks" if weeks < 10 else f"{round(days / 30.4)} months"
