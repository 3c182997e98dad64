"""What a leaflet says is done over and over: how often, and how long apart."""

import re
from datetime import timedelta
from functools import lru_cache
from typing import NamedTuple

from bot.science import practice
from bot.understand.text.language import tables_of

WAKING_HOURS = 12
"""What is done several times a day is spread over so much of it."""

USUAL_HOURS = practice.DEGAS_EVERY.value // timedelta(hours=1)

MOST_TIMES, LONGEST_HOURS = 60, 168

_MARK = re.compile(r" ?\x00(\d{1,3})\x00")
_NUMBERED = re.compile(r"<(times|per|days|every|hours)>")


_WRITTEN = re.compile(r"(?P<title>.+), (?P<times>\d{1,2}) times, (?P<every>\d+(?:\.\d+)?) hours apart$")


def _possible(times: float, every_hours: float) -> bool:
    return 2 <= times <= MOST_TIMES and 0 < every_hours <= LONGEST_HOURS


class Repeat(NamedTuple):
    """How often in all, how long apart, and the words that said so."""

    times: int
    every_hours: float
    said: str
    alone: bool
    """Only how often was said."""


class Repeats:
    """The words of a language for it."""

    def __init__(self, language: str) -> None:
        table = tables_of(language, "patterns/{}_leaflet.toml")["repeats"]
        self._does, self._alone = frozenset(table["does"]), frozenset(table["alone"])
        self.numbers: dict[str, int] = table["numbers"]
        number = rf"\d{{1,2}}(?:\.\d{{1,2}})?|{'|'.join(self.numbers)}"
        self.forms = [
            re.compile(
                _NUMBERED.sub(
                    lambda mark: rf"\b(?P<{mark[1]}>{number})", form.replace("<lead>", table["lead"])
                ),
                re.IGNORECASE,
            )
            for form in table["forms"]
        ]

    def fits(self, does: str | None, repeat: Repeat) -> bool:
        """Whether such a chore is done over and over, when that is said of it."""
        return does in (self._alone if repeat.alone else self._does)

    def marked(self, text: str) -> tuple[str, list[Repeat]]:
        """The text with each such phrase taken out and its place marked, and what they said."""
        text = text.replace("\x00", " ")
        found: list[Repeat] = []
        for form in self.forms:
            at = 0
            while (hit := form.search(text, at)) is not None:
                repeat = self._repeat(hit)
                at = hit.end()
                if repeat is not None:
                    mark = f"\x00{len(found)}\x00"
                    found.append(repeat)
                    text = text[: hit.start()] + mark + text[hit.end() :]
                    at = hit.start() + len(mark)
        return text, found

    def written_out(self, title: str) -> Repeat | None:
        """What the bot itself writes behind a step; `said` is the title before it."""
        hit = _WRITTEN.match(title)
        if hit is None or not _possible(float(hit["times"]), float(hit["every"])):
            return None
        return Repeat(int(hit["times"]), float(hit["every"]), hit["title"], alone=False)

    def _repeat(self, hit: re.Match[str]) -> Repeat | None:
        told = hit.groupdict()
        days, every, hours = (self._number(told.get(name)) for name in ("days", "every", "hours"))
        alone = not {"days", "every", "hours", "per", "twice", "once"} & {k for k, v in told.items() if v}
        alone = alone and (told.get("times") or told.get("pair")) is not None
        times = 2.0 if told.get("pair") else self._number(told.get("times"))
        per = 2 if told.get("twice") else 1 if told.get("once") else self._number(told.get("per"))
        if every is not None:
            span = days * 24 if days is not None else hours
            times = times if times is not None else span / every if span is not None and every else None
        elif times is not None:
            every = USUAL_HOURS
        else:
            per = per if per is not None else 1
            times = per * (days if days is not None else 1)
            every = 24.0 if per <= 1 else WAKING_HOURS / (per - 1)
        if times is None or not _possible(times, every):
            return None
        return Repeat(int(times), round(every, 2), hit[0], alone)

    def _number(self, said: str | None) -> float | None:
        if said is None:
            return None
        return float(self.numbers.get(said.lower(), said))


@lru_cache(maxsize=8)
def repeats_of(language: str) -> Repeats:
    """The words of a language; English where it is not known."""
    return Repeats(language)


def unmarked(clause: str, found: list[Repeat]) -> tuple[str, Repeat | None]:
    """The clause without the first mark in it, and what that said; other marks become words again."""
    first: list[Repeat] = []

    def words(mark: re.Match[str]) -> str:
        repeat = found[int(mark[1])]
        if first:
            return repeat.said
        first.append(repeat)
        return ""

    bare = _MARK.sub(words, clause)
    return bare.strip(" ,:;"), first[0] if first else None


def as_written(clause: str, found: list[Repeat]) -> str:
    """The clause with all its words."""
    return _MARK.sub(lambda mark: found[int(mark[1])].said, clause)
