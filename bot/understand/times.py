"""When something was or will be: a small grammar of times, and where on the calendar it lands."""

from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Literal, NamedTuple
from zoneinfo import ZoneInfo

from bot.understand.scan import Token

Direction = Literal["past", "future"]
WAKING = (7, 22)
"""Hours in which people do things, where a bare hour could mean two."""

_HOURS = {"minute": 1 / 60, "hour": 1.0, "day": 24.0, "week": 168.0, "month": 730.0}


class Moment(NamedTuple):
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


def _merge(one: Moment, two: Moment) -> Moment | None:
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
    return Moment(**values, vague=one.vague or two.vague, bare=one.bare and two.bare)


def together(moments: Sequence[Moment]) -> Moment | None:
    """The parts of a time said in several places as one; the first of those that do not fit together."""
    whole: Moment | None = None
    for moment in moments:
        if whole is None:
            whole = moment
        else:
            whole = _merge(whole, moment) or whole
    return whole


class TimeGrammar:
    """Finds times in tokens, in the words of one language."""

    def __init__(self, tables: dict[str, Any]) -> None:
        self._days = _phrases(tables.get("day", {}))
        self._weekdays = _phrases(tables.get("weekday", {}))
        self._months = _phrases(tables.get("month", {}))
        self._parts = _phrases(tables.get("part", {}))
        self._whole = _phrases(tables.get("whole", {}))
        self._vague = {tuple(phrase.split()) for phrase in tables.get("vague", ())}
        self._units = {word: unit for unit, words in tables.get("unit", {}).items() for word in words}
        self._counts = {tuple(k.split()): float(v) for k, v in tables.get("count", {}).items()}
        for word in ("ago", "ahead", "in", "at", "lead", "half", "am", "pm", "oclock", "this", "last", "next", "short", "hourmark"):
            setattr(self, f"_{word}", frozenset(tables.get(word, ())))
        self._hour_words = {word: int(hour) for hour, words in tables.get("hour", {}).items() for word in words}
        self._past_words = tables.get("clock", {})
        starts = {phrase[0] for group in (self._days, self._weekdays, self._months, self._parts) for phrase in group}
        starts |= {phrase[0] for phrase in self._whole} | {phrase[0] for phrase in self._vague}
        starts |= {phrase[0] for phrase in self._counts} | set(self._hour_words)
        for word in ("in", "at", "lead", "half", "this", "last", "next"):
            starts |= getattr(self, f"_{word}")
        starts |= {word for words in self._past_words.values() for word in words}
        self._starts = frozenset(starts)

    _ago: frozenset[str]
    _ahead: frozenset[str]
    _in: frozenset[str]
    _at: frozenset[str]
    _lead: frozenset[str]
    _half: frozenset[str]
    _am: frozenset[str]
    _pm: frozenset[str]
    _oclock: frozenset[str]
    _this: frozenset[str]
    _last: frozenset[str]
    _next: frozenset[str]
    _short: frozenset[str]
    _hourmark: frozenset[str]

    def find(
        self, tokens: Sequence[Token], at: int, is_amount: Callable[[str], bool]
    ) -> tuple[int, Moment] | None:
        """The time that starts at a token and where it ends. `is_amount` tells whether a word after a bare
        number makes it an amount."""
        token = tokens[at]
        if token.kind == "word" and token.fold not in self._starts:
            return None
        if token.kind not in ("word", "num", "date") and token.fold != "@":
            return None
        found = self._one(tokens, at)
        if found is None:
            return None
        end, moment = found
        if moment.bare and end < len(tokens) and is_amount(tokens[end].fold):
            return None
        while end < len(tokens):
            following = self._one(tokens, end)
            if following is None or following[1].hours is not None:
                break
            if following[1].bare and following[0] < len(tokens) and is_amount(tokens[following[0]].fold):
                break
            merged = _merge(moment, following[1])
            if merged is None:
                break
            end, moment = following[0], merged
        return end, moment

    def _one(self, tokens: Sequence[Token], at: int) -> tuple[int, Moment] | None:
        token = tokens[at]
        if token.kind == "date":
            day = _written_date(token.fold)
            return (at + 1, Moment(day=day)) if day else None
        for rule in (self._distance, self._clock, self._calendar):
            found = rule(tokens, at)
            if found:
                return found
        if token.fold in self._lead and at + 1 < len(tokens):
            for lead_rule in (self._clock, self._calendar):
                found = lead_rule(tokens, at + 1)
                if found:
                    return found
        return None

    def _word(self, tokens: Sequence[Token], at: int) -> str:
        return tokens[at].fold if at < len(tokens) else ""

    def _distance(self, tokens: Sequence[Token], at: int) -> tuple[int, Moment] | None:
        """ "An hour ago", "2 days ago", "in half an hour"."""
        ahead = self._word(tokens, at) in self._in
        start = at + 1 if ahead else at
        count = self._count(tokens, start)
        if count is None:
            return None
        index, amount = count
        unit = self._units.get(self._word(tokens, index))
        if unit is None:
            return None
        sign = 0
        index += 1
        word = self._word(tokens, index)
        if word in self._ago:
            sign, index = -1, index + 1
        elif word in self._ahead:
            sign = 1
            index += 1
            if self._word(tokens, index) in {"now", "time"}:
                index += 1
        elif ahead:
            sign = 1
        if not sign:
            return None
        hours = sign * amount * _HOURS[unit]
        if unit in ("minute", "hour"):
            return index, Moment(hours=hours)
        return index, Moment(days=round(hours / 24), vague=True)

    def _count(self, tokens: Sequence[Token], at: int) -> tuple[int, float] | None:
        if at >= len(tokens):
            return None
        token = tokens[at]
        if token.kind == "num":
            value = number(token.fold)
            return (at + 1, value) if value is not None else None
        for length in (3, 2, 1):
            phrase = tuple(item.fold for item in tokens[at : at + length])
            if phrase in self._counts:
                return at + length, self._counts[phrase]
        return None

    def _clock(self, tokens: Sequence[Token], at: int) -> tuple[int, Moment] | None:
        """ "8pm", "20:15", "at 7", "half past 7", "noon"."""
        token = tokens[at]
        led = token.fold in self._at
        index = at + 1 if led else at
        if index >= len(tokens):
            return None
        here = tokens[index]
        shift, start = self._past_hour(tokens, index)
        if shift is not None:
            hour = self._hour(tokens, start)
            if hour is None:
                return None
            end, half = self._ampm(tokens, start + 1)
            hour_value = hour if shift >= 0 else hour - 1
            return end, Moment(clock=(hour_value % 24, shift % 60), half=half)
        if here.kind != "num":
            hour_word = self._hour_words.get(here.fold)
            if hour_word is None:
                return None
            end, half = self._ampm(tokens, index + 1)
            if self._word(tokens, end) in self._oclock:
                end, half = self._ampm(tokens, end + 1)
            elif half is None and not led:
                return None
            return end, Moment(clock=(hour_word, 0), half=half, bare=half is None)
        read = _clock_digits(here.fold)
        if read is None:
            return None
        hour, minute, sure = read
        end, half = self._ampm(tokens, index + 1)
        if self._word(tokens, end) in self._oclock and (half is None):
            end, half = self._ampm(tokens, end + 1)
            sure = True
        if half:
            if not 1 <= hour <= 12:
                return (end, Moment(clock=(hour, minute))) if hour < 24 else None
            return end, Moment(clock=(hour, minute), half=half)
        if sure:
            twenty_four = hour > 12 or here.fold.startswith("0")
            return self._skip_hours(tokens, end), Moment(clock=(hour, minute), half="24" if twenty_four else None)
        if led and 1 <= hour <= 12 and (here.fold == str(hour) or ("." in here.fold and _no_gravity(here.fold))):
            return end, Moment(clock=(hour, minute), bare=True)
        hours_word = self._word(tokens, index + 1)
        if not led and len(here.fold) == 4 and here.fold.isdigit() and self._after_clock(tokens, index + 1):
            return self._skip_hours(tokens, end), Moment(clock=(hour, minute), half="24")
        if not led and here.fold.isdigit() and len(here.fold) == 4 and hours_word in self._hourmark:
            return end + 1, Moment(clock=(hour, minute), half="24")
        if led and len(here.fold) == 4 and here.fold.isdigit():
            return self._skip_hours(tokens, end), Moment(clock=(hour, minute), half="24", bare=True)
        if led and "." in here.fold and len(here.fold.split(".")[1]) == 2:
            return end, Moment(clock=(hour, minute), half="24", bare=True)
        return None

    def _skip_hours(self, tokens: Sequence[Token], at: int) -> int:
        return at + 1 if self._word(tokens, at) in self._hourmark else at

    def _after_clock(self, tokens: Sequence[Token], at: int) -> bool:
        """Whether a day follows at once, which makes "2015" an hour and not a number."""
        return at < len(tokens) and (_longest(self._days, tokens, at) or _longest(self._whole, tokens, at)) is not None

    def _past_hour(self, tokens: Sequence[Token], at: int) -> tuple[int | None, int]:
        """Minutes past (or, negative, to) the hour, and where the hour stands."""
        word = self._word(tokens, at)
        if word in self._past_words.get("half", ()):
            after = at + 1
            if self._word(tokens, after) in self._past_words.get("past", ()):
                return 30, after + 1
            if after < len(tokens) and self._hour(tokens, after) is not None and not self._is_unit(tokens, after + 1):
                return 30, after
            return None, at
        minutes: int | None = None
        if word in self._past_words.get("quarter", ()):
            minutes = 15
        elif at < len(tokens) and tokens[at].kind == "num" and word in {"5", "10", "20", "25"}:
            minutes = int(word)
        elif word in self._past_words.get("ten", ()):
            minutes = 10
        if minutes is None:
            return None, at
        joint = self._word(tokens, at + 1)
        if self._hour(tokens, at + 2) is None or self._is_unit(tokens, at + 3):
            return None, at
        if joint in self._past_words.get("past", ()):
            return minutes, at + 2
        if joint in self._past_words.get("to", ()):
            return -minutes, at + 2
        return None, at

    def _is_unit(self, tokens: Sequence[Token], at: int) -> bool:
        return self._word(tokens, at) in self._units

    def _hour(self, tokens: Sequence[Token], at: int) -> int | None:
        if at >= len(tokens):
            return None
        word = tokens[at].fold
        if word.isdigit() and 1 <= int(word) <= 12:
            return int(word)
        return self._hour_words.get(word)

    def _ampm(self, tokens: Sequence[Token], at: int) -> tuple[int, str | None]:
        word = self._word(tokens, at)
        if word in self._am:
            return at + 1, "am"
        if word in self._pm:
            return at + 1, "pm"
        if word in {"a", "p"} and at + 1 < len(tokens):
            if self._word(tokens, at + 1) == "m":
                return at + 2, word + "m"
            dotted = [item.fold for item in tokens[at + 1 : at + 3]]
            if dotted == [".", "m"]:
                return at + 3, word + "m"
        return at, None

    def _calendar(self, tokens: Sequence[Token], at: int) -> tuple[int, Moment] | None:
        word = tokens[at].fold
        for table, build in (
            (self._whole, _whole_moment),
            (self._days, lambda value: Moment(days=int(value))),
        ):
            found = _longest(table, tokens, at)
            if found:
                return found[0], build(found[1])
        vague = _longest_in(self._vague, tokens, at)
        if vague:
            return vague, Moment(vague=True)
        which: str | None = None
        index = at
        if word in self._this or word in self._last or word in self._next:
            which = "this" if word in self._this else "last" if word in self._last else "next"
            index += 1
            if index >= len(tokens):
                return None
        weekday = _longest(self._weekdays, tokens, index)
        if weekday and tokens[index].fold in self._short and which is None:
            before = tokens[at - 1].fold if at else ""
            after = self._word(tokens, weekday[0])
            led = before in self._lead and before != "the"
            if not (led or (after,) in self._parts or self._clock(tokens, weekday[0])):
                weekday = None
        if weekday:
            return weekday[0], Moment(weekday=int(weekday[1]), which=which)
        part = _longest(self._parts, tokens, index)
        if part and (which == "this" or (which is None and self._part_stands(tokens, at))):
            return part[0], Moment(part=part[1], days=0 if which == "this" else None)
        if which is None:
            return self._date(tokens, at)
        return None

    def _part_stands(self, tokens: Sequence[Token], at: int) -> bool:
        """ "Sunday morning", "28 Feb evening", "in the morning": a part of a day named just before."""
        if at == 0:
            return False
        before = (tokens[at - 1].fold,)
        return before in self._days or before in self._weekdays or before in self._months

    def _date(self, tokens: Sequence[Token], at: int) -> tuple[int, Moment] | None:
        """ "28 Feb", "Feb 28th", "the 28th of February", "28/2"."""
        index = at
        month = _longest(self._months, tokens, index)
        if month:
            day_at = month[0]
            if day_at < len(tokens) and tokens[day_at].fold.isdigit() and 1 <= int(tokens[day_at].fold) <= 31:
                end = self._ordinal(tokens, day_at + 1)
                return end, Moment(day=(None, int(month[1]), int(tokens[day_at].fold)))
            return None
        if self._word(tokens, index) == "the":
            index += 1
        if index >= len(tokens) or tokens[index].kind != "num" or not tokens[index].fold.isdigit():
            return None
        day = int(tokens[index].fold)
        if not 1 <= day <= 31:
            return None
        after = self._ordinal(tokens, index + 1)
        named = after > index + 1
        if self._word(tokens, after) == "of":
            after += 1
        month = _longest(self._months, tokens, after) if after < len(tokens) else None
        if month:
            return month[0], Moment(day=(None, int(month[1]), day))
        if named and index > at:
            return self._ordinal(tokens, index + 1), Moment(day=(None, 0, day))
        slash = tokens[index + 1 : index + 3]
        if len(slash) == 2 and slash[0].fold == "/" and slash[0].glued and slash[1].glued and slash[1].fold.isdigit():
            month_number = int(slash[1].fold)
            before = tokens[at - 1].fold if at else ""
            if 1 <= month_number <= 12 and (before in self._lead or day > 9):
                return index + 3, Moment(day=(None, month_number, day))
        return None

    def _ordinal(self, tokens: Sequence[Token], at: int) -> int:
        if at < len(tokens) and tokens[at].glued and tokens[at].fold in {"st", "nd", "rd", "th"}:
            return at + 1
        return at


def _phrases(table: dict[str, list[str]]) -> dict[tuple[str, ...], str]:
    return {tuple(phrase.split()): value for value, phrases in table.items() for phrase in phrases}


def _longest(table: dict[tuple[str, ...], str], tokens: Sequence[Token], at: int) -> tuple[int, str] | None:
    for length in (4, 3, 2, 1):
        phrase = tuple(token.fold for token in tokens[at : at + length])
        if phrase in table:
            return at + len(phrase), table[phrase]
    return None


def _longest_in(table: set[tuple[str, ...]], tokens: Sequence[Token], at: int) -> int | None:
    for length in (4, 3, 2, 1):
        phrase = tuple(token.fold for token in tokens[at : at + length])
        if phrase in table:
            return at + len(phrase)
    return None


def _whole_moment(value: str) -> Moment:
    """ "last night" is `-1 night`, "noon" is `12:00`."""
    if ":" in value:
        hour, minute = value.split(":")
        return Moment(clock=(int(hour), int(minute)), half="24")
    days, part = value.split(" ")
    return Moment(days=int(days), part=part)


def number(text: str) -> float | None:
    """The value of a number token: point or comma for decimals."""
    if ":" in text:
        return None
    return float(text.replace(",", "."))


def _clock_digits(text: str) -> tuple[int, int, bool] | None:
    """(hour, minute, whether it can only be a clock)."""
    sure = ":" in text
    if sure or "." in text:
        hours, minutes = text.split(":" if sure else ".")
        if not hours or len(hours) > 2 or len(minutes) != 2:
            return None
        hour, minute = int(hours), int(minutes)
    elif text.isdigit() and len(text) <= 2:
        hour, minute = int(text), 0
    elif text.isdigit() and len(text) == 4:
        hour, minute = int(text[:2]), int(text[2:])
    else:
        return None
    return (hour, minute, sure) if hour < 24 and minute < 60 else None


def _no_gravity(text: str) -> bool:
    return not 0.97 < float(text) < 1.13


def _written_date(text: str) -> tuple[int | None, int, int] | None:
    pieces = [int(piece) for piece in text.replace("/", "-").replace(".", "-").split("-")]
    year, month, day = pieces if pieces[0] > 31 else pieces[::-1]
    year += 2000 if year < 100 else 0
    try:
        date(year, month, day)
    except ValueError:
        return None
    return year, month, day


_PART_HOURS = {"morning": (9, 5, 12), "afternoon": (15, 12, 18), "evening": (20, 17, 24), "night": (21, 17, 29)}


def resolve(moment: Moment, sent_at: datetime, zone: ZoneInfo, direction: Direction) -> datetime | None:
    """The moment on the calendar: the nearest sensible past for a fact, the nearest future for a plan."""
    local = sent_at.astimezone(zone)
    if moment.hours is not None:
        return (sent_at + timedelta(hours=moment.hours)).astimezone(zone)
    day = _day(moment, local, direction)
    if day is None and moment.clock is None:
        return None
    if moment.clock is None:
        return _part_time(moment, day or local.date(), local, zone)
    hours = _hours(moment)
    if day is not None:
        chosen = _hour_on_day(moment, hours, direction)
        spill = 1 if moment.part == "night" and chosen < 5 else 0
        return aware(datetime.combine(day + timedelta(days=spill), time(chosen, moment.clock[1])), zone)
    return _nearest_clock(hours, moment, local, zone, direction)


def aware(naive: datetime, zone: ZoneInfo) -> datetime:
    """A wall-clock time in the house's zone; one that a clock change skipped moves on by the change."""
    return naive.replace(tzinfo=zone).astimezone(UTC).astimezone(zone)


def _hours(moment: Moment) -> list[int]:
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


def _hour_on_day(moment: Moment, hours: list[int], direction: Direction) -> int:
    if len(hours) == 1:
        return hours[0]
    morning, evening = hours
    if direction == "past":
        return evening if evening <= WAKING[1] else morning
    return evening if morning <= 8 else morning


def _nearest_clock(
    hours: list[int], moment: Moment, local: datetime, zone: ZoneInfo, direction: Direction
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


def _part_time(moment: Moment, day: date, local: datetime, zone: ZoneInfo) -> datetime:
    hour = _PART_HOURS[moment.part][0] if moment.part else 12
    return aware(datetime.combine(day, time(hour)), zone)


def _day(moment: Moment, local: datetime, direction: Direction) -> date | None:
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
