"""How a household likes things told: its clock, units, and how numbers and times are written."""

import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from html import escape, unescape
from zoneinfo import ZoneInfo

import msgspec

from bot.science import practice

STEADY_FOR = f"{practice.SETTLED_OVER.value // timedelta(hours=1)} hours"
"""How far apart two readings lie that prove an end by agreeing."""


class Manner(msgspec.Struct, frozen=True, kw_only=True):
    """The household's zone and units, and the time at which it is told."""

    zone: ZoneInfo
    now: datetime
    temperature_unit: str = "C"
    volume_unit: str = "L"
    gallon: str = "imperial"
    waking: Callable[[datetime], datetime] | None = None
    """Moves a moment in the quiet hours to their end: when something due by then is really for."""

    def awake(self, moment: datetime) -> datetime:
        """The moment, or the first after it at which anybody would do a chore."""
        return self.waking(moment) if self.waking is not None else moment

    def clock(self, moment: datetime) -> str:
        return f"{moment.astimezone(self.zone):%H:%M}"

    def day(self, moment: datetime) -> str:
        """The day in as few words as are clear: today, tomorrow, Friday, 3 March."""
        there, here = moment.astimezone(self.zone), self.now.astimezone(self.zone)
        apart = (there.date() - here.date()).days
        if apart in _NEAR:
            return _NEAR[apart]
        if -6 <= apart <= 6:
            return f"{'last ' if apart < 0 else ''}{there:%A}"
        year = f" {there.year}" if there.year != here.year else ""
        return f"{there.day} {there:%B}{year}"

    def short(self, moment: datetime) -> str:
        """The day of a past event, short and the same whenever it is told: 3 Mar."""
        there = moment.astimezone(self.zone)
        return f"{there.day} {there:%b}"

    def date_of(self, moment: datetime) -> date:
        """The household's date of a moment."""
        return moment.astimezone(self.zone).date()

    def calendar(self, day: date) -> str:
        """A day to come, with its weekday: Friday 12 June."""
        year = f" {day.year}" if day.year != self.now.astimezone(self.zone).year else ""
        return f"{day:%A} {day.day} {day:%B}{year}"

    def when(self, moment: datetime) -> str:
        """Day and time of day."""
        return f"{self.day(moment)} {self.clock(moment)}"

    def on(self, moment: datetime) -> str:
        """Day and time of day in words that stay true as the days go by: Thu 5 Mar, 09:00."""
        there = moment.astimezone(self.zone)
        return f"{there:%a} {there.day} {there:%b}, {there:%H:%M}"

    def ago(self, moment: datetime) -> str:
        """How long ago, in round words."""
        passed = self.now - moment
        if passed < timedelta(minutes=2):
            return "just now"
        if passed < timedelta(hours=1):
            return f"{int(passed / timedelta(minutes=1))} minutes ago"
        days = (self.now.astimezone(self.zone).date() - moment.astimezone(self.zone).date()).days
        if days == 0:
            hours = int(passed / timedelta(hours=1))
            return "an hour ago" if hours == 1 else f"{hours} hours ago"
        return "yesterday" if days == 1 else f"{days} days ago"

    def temperature(self, temp_c: float) -> str:
        if self.temperature_unit == "F":
            return f"{temp_c * 9 / 5 + 32:.0f} °F"
        return f"{temp_c:.1f}".removesuffix(".0") + " °C"

    def degrees(self, apart_c: float) -> str:
        """A difference of temperature."""
        if self.temperature_unit == "F":
            return f"{apart_c * 9 / 5:.0f} °F"
        return f"{apart_c:.1f}".removesuffix(".0") + " °C"

    def volume(self, litres: float) -> str:
        if self.volume_unit.lower().startswith("g"):
            return (
                f"{litres / practice.GALLON_LITRES.value[self.gallon]:.2f}".rstrip("0").rstrip(".") + " gal"
            )
        return f"{litres:.2f}".rstrip("0").rstrip(".") + " l"


_NEAR = {-1: "yesterday", 0: "today", 1: "tomorrow"}


def sg(value: float) -> str:
    """A specific gravity as a hydrometer has it: three decimals, or four where the fourth was read."""
    text = f"{value:.4f}"
    return text[:-1] if text.endswith("0") else text


def percent(abv: float) -> str:
    return f"{abv:.1f} % vol"


def name(word: str) -> str:
    """A batch's or vessel's name, safe and in bold."""
    return f"<b>{escape(word)}</b>"


def said(word: str) -> str:
    """Something a person typed, safe for HTML."""
    return escape(word)


def amount(value: float) -> str:
    """A number without idle zeros."""
    return f"{value:.4g}"


def money(value: float) -> str:
    """An amount of the household's own money."""
    return f"{value:.2f}".removesuffix(".00")


def listed(parts: list[str]) -> str:
    """a, b and c."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def plain(html: str) -> str:
    """A message as plain text: tags dropped, entities read."""
    return unescape(_TAG.sub("", html))


def visible(text: str) -> str:
    """A text on one line of a terminal: line breaks, controls and what steers the writing are written out."""
    return "".join(
        char if char.isprintable() and char != "\\" else char.encode("unicode_escape").decode()
        for char in text
    )


_TAG = re.compile(r"</?[A-Za-z][^>]*>")
