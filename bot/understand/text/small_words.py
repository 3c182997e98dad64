"""Small words that sayings are read by: what points at a batch, names one, or puts the last thing right."""

import re
from functools import lru_cache
from typing import Any

import msgspec

from bot.understand.text.language import tables_of


class Naming(msgspec.Struct, frozen=True):
    """Words around the name of a new batch."""

    by: frozenset[str]
    between: frozenset[str]
    led_on: frozenset[str]
    articles: frozenset[str]
    ends: frozenset[str]
    who: frozenset[str]
    is_: frozenset[str]
    led: frozenset[str]
    each: frozenset[str]
    begun: frozenset[str]
    going: frozenset[str]
    colours: frozenset[str]
    times: frozenset[str]


class Beside(msgspec.Struct, frozen=True):
    """Words by which a figure is told beside a fact, and is none of the wine."""

    over: frozenset[str]
    dissolved: frozenset[str]
    people: frozenset[str]
    aged: frozenset[str]
    scored: frozenset[str]
    placed: frozenset[str]
    each: frozenset[str]
    moments: frozenset[str]


class Bounds(msgspec.Struct, frozen=True):
    """Words by which a gravity is told to be no reading but where one is: on which side of it, its line, what was, and
    what is now."""

    sides: frozenset[str]
    line: frozenset[str]
    was: frozenset[str]
    now: frozenset[str]


class Warmth(msgspec.Struct, frozen=True):
    """Words by which a bare figure is told to be how warm the wine is."""

    on: frozenset[str]
    shows: frozenset[str]
    moves: frozenset[str]
    up: frozenset[str]
    to: frozenset[str]
    elsewhere: frozenset[str]
    never: frozenset[str]
    rooms: frozenset[str]


class Order(msgspec.Struct, frozen=True):
    """Words that tell which of several wines is meant by their order or age, and what stands around these."""

    places: dict[str, int]
    oldest: frozenset[str]
    older: frozenset[str]
    newest: frozenset[str]
    newer: frozenset[str]
    middle: frozenset[str]
    ones: frozenset[str]
    led: frozenset[str]
    articles: frozenset[str]
    is_: frozenset[str]
    does: frozenset[str]
    too: frozenset[str]
    in_turn: frozenset[str]
    as_told: frozenset[str]


class SmallWords(msgspec.Struct, frozen=True):
    """The small words of a language, each set for one use (`sayings.toml`)."""

    same: frozenset[str]
    unmoved: frozenset[str]
    not_done: frozenset[str]
    numbered_after: frozenset[str]
    mine: frozenset[str]
    we: frozenset[str]
    you: frozenset[str]
    other: frozenset[str]
    also: frozenset[str]
    again: tuple[str, ...]
    stands: frozenset[str]
    proposes: frozenset[str]
    washed: frozenset[str]
    marks: frozenset[str]
    cleaned: frozenset[str]
    lees: frozenset[str]
    across: frozenset[str]
    sorry: frozenset[str]
    free: frozenset[str]
    it: frozenset[str]
    airlock: frozenset[str]
    anything: frozenset[str]
    dissolved: frozenset[str]
    packet_sign: frozenset[str]
    marked: frozenset[str]
    doing: frozenset[str]
    intended: frozenset[str]
    bids: frozenset[str]
    so_far: tuple[str, ...]
    once_more: tuple[str, ...]
    the_kit: frozenset[str]
    people: frozenset[str]
    relative: frozenset[str]
    two: tuple[str, ...]
    no_two: tuple[str, ...]
    each_one: tuple[str, ...]
    all: tuple[str, ...]
    juice: frozenset[str]
    rights: tuple[str, ...]
    whole: frozenset[str]
    besides: tuple[str, ...]
    falls: frozenset[str]
    point: frozenset[str]
    joint: frozenset[str]
    one: frozenset[str]
    was: frozenset[str]
    expected: frozenset[str]
    asks_if: frozenset[str]
    sounds: dict[str, str]
    counted: dict[str, int]
    name: Naming
    beside: Beside
    warmth: Warmth
    bounds: Bounds
    theirs: frozenset[str]
    order: Order
    goes_on: frozenset[str]
    never_last: frozenset[str]


@lru_cache(maxsize=8)
def small_words(language: str) -> SmallWords:
    """The small words of a language; the English ones where it has none."""
    table: dict[str, Any] = dict(tables_of(language, "sayings"))
    names = {("is_" if key == "is" else key): said.split() for key, said in table.pop("name").items()}
    beside, warmth, bounds = (
        {key: said.split() for key, said in table.pop(part).items()}
        for part in ("beside", "warmth", "bounds")
    )
    order = {
        ("is_" if key == "is" else key): said.split() if isinstance(said, str) else said
        for key, said in table.pop("order").items()
    }
    words = {key: said.split() if isinstance(said, str) else said for key, said in table.items()}
    return msgspec.convert(
        {**words, "name": names, "beside": beside, "warmth": warmth, "bounds": bounds, "order": order},
        type=SmallWords,
    )


def once_more(text: str, language: str) -> bool:
    """Whether a text says that something was done one time more: "stirred it again"."""
    said = f" {' '.join(_WORD.findall(text.casefold()))} "
    return any(f" {each} " in said for each in small_words(language).once_more)


_WORD = re.compile(r"\w+")
