"""Whether our clock and the platform's agree: reminders and readings get their times by ours."""

import logging
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime

log = logging.getLogger(__name__)

MOST = timedelta(minutes=2)


class Skew:
    """Hears what time it is at the platform, and says when the clocks begin and cease to disagree."""

    def __init__(self, clock: Callable[[], datetime]) -> None:
        self._clock = clock
        self._ahead: timedelta | None = None
        self._heard = ""

    def answered(self, date: str) -> None:
        """The platform answered just now, and dated its answer (the `Date` of RFC 9110)."""
        if date == self._heard:
            return
        self._heard = date
        try:
            said = parsedate_to_datetime(date)
        except ValueError:
            return
        self._note(self._clock() - (said if said.tzinfo else said.replace(tzinfo=UTC)))

    def written(self, sent_at: datetime) -> None:
        """A message came that was sent then: it may have waited, but not come from the future."""
        ahead = self._clock() - sent_at
        if ahead < -MOST or (self._ahead is not None and abs(ahead) <= MOST):
            self._note(ahead)

    @property
    def line(self) -> str:
        """What health says of it; nothing while the clocks agree."""
        return f"clock {_told(self._ahead)} the platform's" if self._ahead is not None else ""

    def _note(self, ahead: timedelta) -> None:
        before, self._ahead = self._ahead, ahead if abs(ahead) > MOST else None
        if before is None and self._ahead is not None:
            log.warning("this machine's clock is %s the platform's: please set it", _told(ahead))
        elif before is not None and self._ahead is None:
            log.info("this machine's clock agrees with the platform's again")


def _told(ahead: timedelta) -> str:
    minutes = round(abs(ahead) / timedelta(minutes=1))
    return f"{minutes} min {'ahead of' if ahead > timedelta() else 'behind'}"
