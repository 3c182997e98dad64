"""When something was or will be: a time as said, and where on the calendar it lands."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Literal
from zoneinfo import ZoneInfo

import msgspec

Direction = Literal["past", "future"]
WAKING = (7, 22)
"""Hours in which people do things, where a bare hour could mean two."""
FIRST_PLANNED = 8
"""The first hour of the morning that a plan for a named day means: "tomorrow at 7" is in the evening."""


class TimeSaid(msgspec.Struct, frozen=True):
    """A time as said. `clock` is (hour, minute); `half` is am, pm or None where it was left open."""

    days: int | None = None
    weekday: int | None = None
    which: str | None = None
    day: tuple[int | None, int, int] | None = None
    part: str | None = None
    clock: tuple[int, int] | None = None
    half: str | None = None
    hours: float | None = None
    vague: bool = False
    bare: bool = False
    """Only an hour after "at", which could be another number."""

    @property
    def exact(self) -> bool:
        """A time of day, or a distance in hours or minutes, was said."""
        return self.clock is not None or self.hours is not None


def merged(one: TimeSaid, two: TimeSaid) -> TimeSaid | None:
    """Both parts of one time, or None when they say the same thing twice."""
    values: dict[str, Any] = {}
    for field in ("days", "weekday", "which", "day", "part", "clock", "half", "hours"):
        first, second = getattr(one, field), getattr(two, field)
        if first is not None and second is not None:
            return None
        values[field] = first if first is not None else second
    if values["hours"] is not None and sum(value is not None for value in values.values()) > 1:
        return None
    if values["days"] is not None and (values["weekday"] is not None or values["day"] is not None):
        return None
    return TimeSaid(**values, vague=one.vague or two.vague, bare=one.bare and two.bare)


def together(moments: Sequence[TimeSaid]) -> TimeSaid | None:
    """The parts of a time said in several places as one; the first of those that do not fit together."""
    whole: TimeSaid | None = None
    for moment in moments:
        whole = moment if whole is None else merged(whole, moment) or whole
    return whole


_PART_HOURS = {
    "morning": (9, 1, 12),
    "afternoon": (15, 12, 18),
    "evening": (20, 17, 24),
    "night": (21, 17, 29),
    "after work": (18, 15, 24),
}
"""When a part of a day is taken to be where no hour was said, and its first and last hour (common practice, no
source)."""


def resolve(moment: TimeSaid, sent_at: datetime, zone: ZoneInfo, direction: Direction) -> datetime | None:
    """The moment on the calendar: the nearest sensible past for a fact, the nearest future for a plan. None where
    it names none, or one that no calendar has."""
    try:
        return _resolve(moment, sent_at, zone, direction)
    except OverflowError:
        return None


def _resolve(moment: TimeSaid, sent_at: datetime, zone: ZoneInfo, direction: Direction) -> datetime | None:
    local = sent_at.astimezone(zone)
    if moment.hours is not None:
        return (sent_at + timedelta(hours=moment.hours)).astimezone(zone)
    day = _day(moment, local, direction)
    if day is None and moment.clock is None:
        return None
    if moment.clock is None:
        named = day is not None and (moment.days, moment.weekday, moment.day) != (None, None, None)
        if not named and direction == "past":
            return None  # "after work, 1.012" is about now
        when = _part_time(moment, day or local.date(), zone)
        over = not named and when <= local
        return when if not over else _part_time(moment, local.date() + timedelta(days=1), zone)
    hours = _hours(moment)
    if day is not None and (moment.days, moment.weekday, moment.day) != (None, None, None):
        since = local.hour if direction == "future" and day == local.date() else None
        chosen = _hour_on_day(moment, hours, direction, since)
        spill = 1 if moment.part == "night" and chosen < 5 else 0
        return aware(datetime.combine(day + timedelta(days=spill), time(chosen, moment.clock[1])), zone)
    return _nearest_clock(hours, moment, local, zone, direction)


def aware(naive: datetime, zone: ZoneInfo) -> datetime:
    """A wall-clock time in the house's zone; one that a clock change skipped moves on by the change."""
    return naive.replace(tzinfo=zone).astimezone(UTC).astimezone(zone)


def _hours(moment: TimeSaid) -> list[int]:
    assert moment.clock is not None
    hour = moment.clock[0]
    if moment.half == "am":
        return [hour % 12]
    if moment.half == "pm":
        return [hour % 12 + 12]
    if moment.half == "24" or hour > 12 or hour == 0:
        return [hour]
    both = [hour % 12, hour % 12 + 12]
    if moment.part is not None:
        _, first, last = _PART_HOURS[moment.part]
        fitting = [option for option in both if first <= option < last or first <= option + 24 < last]
        return fitting[:1] or both
    return both


def _hour_on_day(moment: TimeSaid, hours: list[int], direction: Direction, since: int | None) -> int:
    """The hour of a named day; for a plan the first one that people make plans for, past the hour `since`."""
    if len(hours) == 1:
        return hours[0]
    morning, evening = hours
    if direction == "past":
        return evening if evening <= WAKING[1] else morning
    return evening if morning < FIRST_PLANNED or (since is not None and morning <= since) else morning


def _nearest_clock(
    hours: list[int], moment: TimeSaid, local: datetime, zone: ZoneInfo, direction: Direction
) -> datetime:
    assert moment.clock is not None
    minute = moment.clock[1]
    sign = -1 if direction == "past" else 1
    options: list[datetime] = []
    for days in (0, sign):
        day = local.date() + timedelta(days=days)
        for hour in hours:
            when = aware(datetime.combine(day, time(hour, minute)), zone)
            if (when <= local) if direction == "past" else (when > local):
                options.append(when)
    if not options:
        day = local.date() + timedelta(days=sign)
        return aware(datetime.combine(day, time(hours[-1], minute)), zone)
    options.sort(key=lambda when: abs((when - local).total_seconds()))
    if len(hours) > 1:
        awake = [when for when in options if WAKING[0] <= when.hour <= WAKING[1]]
        return (awake or options)[0]
    return options[0]


def _part_time(moment: TimeSaid, day: date, zone: ZoneInfo) -> datetime:
    hour = _PART_HOURS[moment.part][0] if moment.part else 12
    return aware(datetime.combine(day, time(hour)), zone)


def _day(moment: TimeSaid, local: datetime, direction: Direction) -> date | None:
    today = local.date()
    if moment.days is not None:
        return today + timedelta(days=moment.days)
    if moment.day is not None:
        return _calendar_day(moment.day, today, direction)
    if moment.weekday is not None:
        if direction == "past":
            back = (today.weekday() - moment.weekday) % 7
            return today - timedelta(days=back or (7 if moment.which == "last" else 0))
        ahead = (moment.weekday - today.weekday()) % 7
        return today + timedelta(days=ahead or 7)
    return today if moment.part is not None else None


def _calendar_day(day: tuple[int | None, int, int], today: date, direction: Direction) -> date | None:
    year, month, number_of_day = day
    options: list[date] = []
    years = [year] if year else [today.year - 1, today.year, today.year + 1]
    for each_year in years:
        for each_month in [month] if month else range(1, 13):
            try:
                options.append(date(each_year, each_month, number_of_day))
            except ValueError:
                continue
    fitting = [option for option in options if (option <= today if direction == "past" else option >= today)]
    if year and options:
        return options[0]
    if not fitting:
        return None
    return max(fitting) if direction == "past" else min(fitting)
