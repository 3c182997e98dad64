"""When a household may be spoken to: its quiet hours, its preferred hour, its mornings."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import msgspec

from bot.store.queries.households import HouseholdRow


class Hours(msgspec.Struct, frozen=True, kw_only=True):
    """A household's own clock. Nothing that can wait is said from `quiet_from` to `quiet_until`; `asks_at` is
    when it likes to be asked, if it said so; with `digest`, a day's things are said in the morning."""

    zone: ZoneInfo
    quiet_from: time = time(21, 30)
    quiet_until: time = time(8, 0)
    asks_at: time | None = None
    digest: bool = False

    def quiet(self, moment: datetime) -> bool:
        """Whether the moment falls into the quiet hours."""
        there = moment.astimezone(self.zone).time()
        if self.quiet_from <= self.quiet_until:
            return self.quiet_from <= there < self.quiet_until
        return there >= self.quiet_from or there < self.quiet_until

    def decent(self, moment: datetime) -> datetime:
        """The moment itself, or the end of the quiet hours that it falls into."""
        return self._next(self.quiet_until, moment) if self.quiet(moment) else moment

    def asking(self, due: datetime, now: datetime) -> datetime:
        """When something that can wait is said: in the morning of its day, at the preferred hour of its day, or
        when it is due; never at night, and never before now. What falls due at night is the next day's."""
        due = self.decent(due)
        hour = self.asks_at or (self.quiet_until if self.digest else None)
        if hour is None:
            return self.decent(max(due, now))
        there = datetime.combine(due.astimezone(self.zone).date(), time(), tzinfo=self.zone)
        said = self.decent(self._next(hour, there))
        if said >= now:
            return said
        return self.decent(max(due, now) if self.digest else self._next(hour, now))

    def tomorrow(self, now: datetime) -> datetime:
        """When the household is first spoken to on the next day."""
        return self.decent(self._next(self.asks_at or self.quiet_until, self.ends(now)))

    def evening(self, now: datetime) -> datetime:
        """This evening, or the next one when it is late already."""
        return self.decent(self._next(EVENING, now + timedelta(minutes=30)))

    def same_day(self, one: datetime, other: datetime) -> bool:
        return one.astimezone(self.zone).date() == other.astimezone(self.zone).date()

    def begins(self, now: datetime, later: int = 0) -> datetime:
        """The first moment of the household's day, or of one so many days later."""
        day = now.astimezone(self.zone).date() + timedelta(days=later)
        return datetime.combine(day, time(), tzinfo=self.zone).astimezone(UTC)

    def ends(self, now: datetime) -> datetime:
        """The first moment of the household's next day."""
        return self.begins(now, later=1)

    def _next(self, clock: time, moment: datetime) -> datetime:
        """The next time that the clock there shows this, at or after the moment. On the night when an hour
        comes twice it may be its second coming; where it does not come at all, an hour later."""
        day = moment.astimezone(self.zone).date()
        for later in range(3):
            for fold in (0, 1):
                found = datetime.combine(day + timedelta(days=later), clock, tzinfo=self.zone).replace(
                    fold=fold
                )
                if found.astimezone(UTC) >= moment:
                    return found.astimezone(UTC)
        raise AssertionError("a clock shows every time within two days")


EVENING = time(19, 0)


def hours_of(row: HouseholdRow) -> Hours:
    """The hours that a household has set."""
    return Hours(
        zone=ZoneInfo(row.timezone),
        quiet_from=time.fromisoformat(row.quiet_from),
        quiet_until=time.fromisoformat(row.quiet_until),
        asks_at=time.fromisoformat(row.asks_at) if row.asks_at else None,
        digest=row.digest == "on",
    )
