"""The grammar of times: which words and numbers of a message say when."""

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

import msgspec

from bot.understand.text.scan import Token
from bot.understand.text.times import TimeSaid, merged

_MINUTES = {"five": 5, "ten": 10, "quarter": 15, "twenty": 20}
"""Minutes past or to the hour that are said in one word."""
_GRAVITY_DIGITS = (960, 1200)
"""Four digits between these are a gravity and no time of day."""
_HOURS = {"minute": 1 / 60, "hour": 1.0, "day": 24.0, "week": 168.0, "month": 730.0, "year": 8766.0}


def number(text: str) -> float | None:
    """The value of a number token: point or comma for decimals."""
    if ":" in text:
        return None
    return float(text.replace(",", "."))


def clock_digits(text: str) -> tuple[int, int, bool] | None:
    """(hour, minute, whether it can only be a clock)."""
    sure = ":" in text
    if sure or "." in text:
        hours, minutes = text.split(":" if sure else ".")
        if not hours or len(hours) > 2 or len(minutes) != 2:
            return None
        hour, minute = int(hours), int(minutes)
    elif text.isdecimal() and len(text) <= 2:
        hour, minute = int(text), 0
    elif text.isdecimal() and len(text) == 4:
        hour, minute = int(text[:2]), int(text[2:])
    else:
        return None
    return (hour, minute, sure) if hour < 24 and minute < 60 else None


def no_gravity(text: str) -> bool:
    return not 0.97 < float(text) < 1.13


def written_date(text: str) -> tuple[int | None, int, int] | None:
    pieces = [int(piece) for piece in text.replace("/", "-").replace(".", "-").split("-")]
    year, month, day = pieces if pieces[0] > 31 else pieces[::-1]
    year += 2000 if year < 100 else 0
    try:
        date(year, month, day)
    except ValueError:
        return None
    return year, month, day


class Phrases(dict[tuple[str, ...], str]):
    """Phrases by their words, and the words that they begin with: most words of a message begin none."""

    def __init__(self, table: dict[str, list[str]]) -> None:
        super().__init__((tuple(phrase.split()), value) for value, said in table.items() for phrase in said)
        self.firsts = frozenset(phrase[0] for phrase in self)


def longest(table: Phrases, tokens: Sequence[Token], at: int) -> tuple[int, str] | None:
    if at >= len(tokens) or tokens[at].fold not in table.firsts:
        return None
    words = [token.fold for token in tokens[at : at + 4]]
    for length in range(len(words), 0, -1):
        phrase = tuple(words[:length])
        if phrase in table:
            return at + length, table[phrase]
    return None


def whole_moment(value: str) -> TimeSaid:
    """ "last night" is `-1 night`, "noon" is `12:00`."""
    if ":" in value:
        hour, minute = value.split(":")
        return TimeSaid(clock=(int(hour), int(minute)), half="24")
    days, part = value.split(" ")
    return TimeSaid(days=int(days), part=part)


class TimeGrammar:
    """Finds times in tokens, in the words of one language."""

    def __init__(self, tables: dict[str, Any]) -> None:
        self._days = Phrases(tables.get("day", {}))
        self._weekdays = Phrases(tables.get("weekday", {}))
        self._months = Phrases(tables.get("month", {}))
        self._parts = Phrases(tables.get("part", {}))
        self._whole = Phrases(tables.get("whole", {}))
        self._vague = Phrases({"": list(tables.get("vague", ()))})
        self._units = {word: unit for unit, words in tables.get("unit", {}).items() for word in words}
        self._counts = {tuple(k.split()): float(v) for k, v in tables.get("count", {}).items()}
        self._first_counts = frozenset(phrase[0] for phrase in self._counts)
        for word in (
            "ago",
            "ahead",
            "in",
            "at",
            "lead",
            "half",
            "am",
            "pm",
            "oclock",
            "this",
            "last",
            "next",
            "short",
            "hourmark",
            "ordinal_ends",
            "now",
        ):
            setattr(self, f"_{word}", frozenset(tables.get(word, ())))
        self._hour_words = {
            word: int(hour) for hour, words in tables.get("hour", {}).items() for word in words
        }
        self._past_words = tables.get("clock", {})
        starts = {
            phrase[0] for group in (self._days, self._weekdays, self._months, self._parts) for phrase in group
        }
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
    _ordinal_ends: frozenset[str]
    _now: frozenset[str]

    def find(
        self, tokens: Sequence[Token], at: int, is_amount: Callable[[str], bool]
    ) -> tuple[int, TimeSaid] | None:
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
            following = self._next_to(tokens, end, moment) or self._one(tokens, end)
            if following is None or following[1].hours is not None:
                break
            following = following[0], self._of_that_day(tokens[end], moment, following[1])
            if following[1].bare and following[0] < len(tokens) and is_amount(tokens[following[0]].fold):
                break
            joined = merged(moment, following[1])
            if joined is None:
                break
            end, moment = following[0], joined
        parted = self._parted(tokens, end, moment, is_amount)
        return parted or (end, moment)

    def _next_to(self, tokens: Sequence[Token], at: int, moment: TimeSaid) -> tuple[int, TimeSaid] | None:
        """What says more of a time only because it stands right after it: "wednesday 2115", "2 at night"."""
        if moment.clock is not None and tokens[at].fold in self._at:
            part = longest(self._parts, tokens, at + 1)
            return (part[0], TimeSaid(part=part[1])) if part else None
        return self._after_day(tokens, at, moment)

    def _after_day(self, tokens: Sequence[Token], at: int, day: TimeSaid) -> tuple[int, TimeSaid] | None:
        """ "Wednesday 2115": four digits right after a day of the week, or a part of a day. After a date they are its year."""
        digits = tokens[at].fold
        told = day.weekday is not None or day.days is not None or day.part is not None
        if not told or day.exact or day.day is not None or len(digits) != 4 or not digits.isdecimal():
            return None
        read = clock_digits(digits)
        if read is None or _GRAVITY_DIGITS[0] <= int(digits) <= _GRAVITY_DIGITS[1]:
            return None
        return self._skip_hours(tokens, at + 1), TimeSaid(clock=read[:2], half="24")

    def _of_that_day(self, first: Token, before: TimeSaid, part: TimeSaid) -> TimeSaid:
        """ "Saturday at 3.30 in the morning", "at 4 in the morning": a part of the day that was said, and of no other."""
        named = (before.weekday, before.days, before.day, before.clock) != (None, None, None, None)
        if part.part is None or part.exact or first.fold not in self._in or not named:
            return part
        return msgspec.structs.replace(part, days=None)

    def _parted(
        self, tokens: Sequence[Token], at: int, day: TimeSaid, is_amount: Callable[[str], bool]
    ) -> tuple[int, TimeSaid] | None:
        """ "Last night, half nine": the hour after the day and a comma, where nothing more is said with the hour."""
        told = (day.weekday, day.days, day.day) != (None, None, None)
        if not told or day.exact or at + 1 >= len(tokens) or tokens[at].fold != ",":
            return None
        hour = self._after_day(tokens, at + 1, day) or self.find(tokens, at + 1, is_amount)
        if hour is None or hour[1].clock is None:
            return None
        after = tokens[hour[0]] if hour[0] < len(tokens) else None
        whole = merged(day, hour[1])
        ends = after is None or after.kind in ("mark", "line", "num")
        return (hour[0], whole) if whole is not None and ends else None

    def _one(self, tokens: Sequence[Token], at: int) -> tuple[int, TimeSaid] | None:
        token = tokens[at]
        if token.kind == "date":
            day = written_date(token.fold)
            return (at + 1, TimeSaid(day=day)) if day else None
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

    def _distance(self, tokens: Sequence[Token], at: int) -> tuple[int, TimeSaid] | None:
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
            if self._word(tokens, index) in self._now:
                index += 1
        elif ahead:
            sign = 1
        if not sign:
            return None
        hours = sign * amount * _HOURS[unit]
        if unit in ("minute", "hour"):
            return index, TimeSaid(hours=hours)
        return index, TimeSaid(days=round(hours / 24), vague=True)

    def _count(self, tokens: Sequence[Token], at: int) -> tuple[int, float] | None:
        if at >= len(tokens):
            return None
        token = tokens[at]
        if token.kind == "num":
            value = number(token.fold)
            return (at + 1, value) if value is not None else None
        if token.fold not in self._first_counts:
            return None
        for length in (3, 2, 1):
            phrase = tuple(item.fold for item in tokens[at : at + length])
            if phrase in self._counts:
                return at + length, self._counts[phrase]
        return None

    def _clock(self, tokens: Sequence[Token], at: int) -> tuple[int, TimeSaid] | None:
        """ "8pm", "20:15", "at 7", "half past 7", "noon"."""
        if at >= len(tokens):
            return None
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
            return end, TimeSaid(clock=(hour_value % 24, shift % 60), half=half)
        if here.kind != "num":
            hour_word = self._hour_words.get(here.fold)
            if hour_word is None:
                return None
            end, half = self._ampm(tokens, index + 1)
            if self._word(tokens, end) in self._oclock:
                end, half = self._ampm(tokens, end + 1)
            elif half is None and not led:
                return None
            return end, TimeSaid(clock=(hour_word, 0), half=half, bare=half is None)
        read = clock_digits(here.fold)
        if read is None:
            return None
        hour, minute, sure = read
        end, half = self._ampm(tokens, index + 1)
        if self._word(tokens, end) in self._oclock and half is None and no_gravity(here.fold):
            end, half = self._ampm(tokens, end + 1)
            sure = True
        if half:
            if not 1 <= hour <= 12:
                return (end, TimeSaid(clock=(hour, minute))) if hour < 24 else None
            return end, TimeSaid(clock=(hour, minute), half=half)
        if sure:
            twenty_four = hour > 12 or here.fold.startswith("0")
            return self._skip_hours(tokens, end), TimeSaid(
                clock=(hour, minute), half="24" if twenty_four else None
            )
        if (
            led
            and 1 <= hour <= 12
            and (here.fold == str(hour) or ("." in here.fold and no_gravity(here.fold)))
        ):
            return end, TimeSaid(clock=(hour, minute), bare=True)
        hours_word = self._word(tokens, index + 1)
        digits = len(here.fold) == 4 and here.fold.isdecimal()
        gravity = digits and _GRAVITY_DIGITS[0] <= int(here.fold) <= _GRAVITY_DIGITS[1]
        if not led and digits and not gravity and self._after_clock(tokens, index + 1):
            return self._skip_hours(tokens, end), TimeSaid(clock=(hour, minute), half="24")
        if not led and digits and hours_word in self._hourmark:
            return end + 1, TimeSaid(clock=(hour, minute), half="24")
        if led and digits and not gravity:
            return self._skip_hours(tokens, end), TimeSaid(clock=(hour, minute), half="24", bare=True)
        if led and "." in here.fold and len(here.fold.split(".")[1]) == 2 and no_gravity(here.fold):
            return end, TimeSaid(clock=(hour, minute), half="24", bare=True)
        return None

    def _skip_hours(self, tokens: Sequence[Token], at: int) -> int:
        return at + 1 if self._word(tokens, at) in self._hourmark else at

    def _after_clock(self, tokens: Sequence[Token], at: int) -> bool:
        """Whether a day follows at once, which makes "2015" an hour and not a number."""
        return (
            at < len(tokens)
            and (longest(self._days, tokens, at) or longest(self._whole, tokens, at)) is not None
        )

    def _past_hour(self, tokens: Sequence[Token], at: int) -> tuple[int | None, int]:
        """Minutes past (or, negative, to) the hour, and where the hour stands."""
        word = self._word(tokens, at)
        if word in self._past_words.get("half", ()):
            after = at + 1
            if self._word(tokens, after) in self._past_words.get("past", ()):
                return 30, after + 1
            if (
                after < len(tokens)
                and self._hour(tokens, after) is not None
                and not self._is_unit(tokens, after + 1)
            ):
                return 30, after
            return None, at
        if word in self._past_words.get("one", ()) and self._word(tokens, at + 1) in self._past_words.get(
            "quarter", ()
        ):
            return self._past_hour(tokens, at + 1)  # "a quarter to eight"
        minutes = next(
            (number for name, number in _MINUTES.items() if word in self._past_words.get(name, ())), None
        )
        if at < len(tokens) and tokens[at].kind == "num" and word in {"5", "10", "20", "25"}:
            minutes = int(word)
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
        if word.isdecimal() and 1 <= int(word) <= 12:
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

    def _calendar(self, tokens: Sequence[Token], at: int) -> tuple[int, TimeSaid] | None:
        word = tokens[at].fold
        for table, build in (
            (self._whole, whole_moment),
            (self._days, lambda value: TimeSaid(days=int(value))),
        ):
            found = longest(table, tokens, at)
            if found:
                return found[0], build(found[1])
        vague = longest(self._vague, tokens, at)
        if vague:
            return vague[0], TimeSaid(vague=True)
        which: str | None = None
        index = at
        if word in self._this or word in self._last or word in self._next:
            which = "this" if word in self._this else "last" if word in self._last else "next"
            index += 1
            if index >= len(tokens):
                return None
        weekday = longest(self._weekdays, tokens, index)
        if weekday and tokens[index].fold in self._short and which is None:
            before = tokens[at - 1].fold if at else ""
            after = self._word(tokens, weekday[0])
            led = before in self._lead and before != "the"
            if not (led or (after,) in self._parts or self._clock(tokens, weekday[0])):
                weekday = None
        if weekday:
            return weekday[0], TimeSaid(weekday=int(weekday[1]), which=which)
        part = longest(self._parts, tokens, index)
        by_itself = part is not None and part[0] > index + 1  # "after work"
        if part and (which == "this" or (which is None and (by_itself or self._part_stands(tokens, at)))):
            return part[0], TimeSaid(part=part[1], days=0 if which == "this" else None)
        if which is None:
            return self._date(tokens, at)
        return None

    def _part_stands(self, tokens: Sequence[Token], at: int) -> bool:
        """ "Sunday morning", "28 Feb evening", "in the morning": a part of a day named just before."""
        if at == 0:
            return False
        before = (tokens[at - 1].fold,)
        return before in self._days or before in self._weekdays or before in self._months

    def _date(self, tokens: Sequence[Token], at: int) -> tuple[int, TimeSaid] | None:
        """ "28 Feb", "Feb 28th", "the 28th of February", "28/2"."""
        index = at
        month = longest(self._months, tokens, index)
        if month:
            day_at = month[0]
            if (
                day_at < len(tokens)
                and tokens[day_at].fold.isdecimal()
                and 1 <= int(tokens[day_at].fold) <= 31
            ):
                end = self._ordinal(tokens, day_at + 1)
                return end, TimeSaid(day=(None, int(month[1]), int(tokens[day_at].fold)))
            return None
        if self._word(tokens, index) == "the":
            index += 1
        if index >= len(tokens) or tokens[index].kind != "num" or not tokens[index].fold.isdecimal():
            return None
        day = int(tokens[index].fold)
        if not 1 <= day <= 31:
            return None
        after = self._ordinal(tokens, index + 1)
        named = after > index + 1
        if self._word(tokens, after) == "of":
            after += 1
        month = longest(self._months, tokens, after) if after < len(tokens) else None
        if month:
            return month[0], TimeSaid(day=(None, int(month[1]), day))
        if named and index > at:
            return self._ordinal(tokens, index + 1), TimeSaid(day=(None, 0, day))
        slash = tokens[index + 1 : index + 3]
        if (
            len(slash) == 2
            and slash[0].fold == "/"
            and slash[0].glued
            and slash[1].glued
            and slash[1].fold.isdecimal()
        ):
            month_number = int(slash[1].fold)
            before = tokens[at - 1].fold if at else ""
            if 1 <= month_number <= 12 and (before in self._lead or day > 9):
                return index + 3, TimeSaid(day=(None, month_number, day))
        return None

    def _ordinal(self, tokens: Sequence[Token], at: int) -> int:
        if at < len(tokens) and tokens[at].glued and tokens[at].fold in self._ordinal_ends:
            return at + 1
        return at
