"""The clock: what time it is, and one alarm that rings when something falls due. It holds no truth.

The jobs are in memory on purpose: what is due stands in the database, and after a restart it is asked again.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime, timedelta

from apscheduler.schedulers.asyncio import AsyncIOScheduler

log = logging.getLogger(__name__)

LONGEST_SLEEP = timedelta(minutes=1)
"""The machine's clock may be set, and a machine may sleep: so we look at it at least this often."""

AFTER_TROUBLE = timedelta(seconds=30)


def now() -> datetime:
    """This moment in UTC: the only place where the project reads the time of day."""
    return datetime.now(UTC)


class Alarm:
    """Rings at one moment: the last one it was set to.

    `ring` is awaited when the moment has come and returns the next one, or None when nothing is due. Calls
    of `ring` never overlap. One that fails is tried again half a minute later. `clock` says what time it is
    for the household; it may be a pretend one.
    """

    def __init__(
        self, ring: Callable[[], Awaitable[datetime | None]], clock: Callable[[], datetime] = now
    ) -> None:
        self._ring = ring
        self._clock = clock
        self._at: datetime | None = None
        self._settings = 0
        self._one_at_a_time = asyncio.Lock()
        logging.getLogger("apscheduler").setLevel(logging.WARNING)  # it tells of every ring
        self._scheduler = AsyncIOScheduler(timezone=UTC)

    def start(self) -> None:
        """Starts it, in the running event loop; a moment set before counts."""
        self._scheduler.start()
        self._schedule()

    def stop(self) -> None:
        """Stops it: nothing rings any more."""
        if self._scheduler.running:
            self._scheduler.shutdown(wait=False)

    def set(self, at: datetime | None) -> None:
        """Rings at this moment instead of the one set before; at once if it has passed; never if None."""
        self._at = at
        self._settings += 1
        if self._scheduler.running:
            self._schedule()

    def _schedule(self) -> None:
        if self._at is None:
            self._scheduler.remove_all_jobs()
            return
        sleep = min(max(self._at - self._clock(), timedelta()), LONGEST_SLEEP)
        # The scheduler's defaults drop a job that is a second late, or whose last run has not ended.
        self._scheduler.add_job(
            self._look,
            "date",
            run_date=now() + sleep,
            id="alarm",
            replace_existing=True,
            misfire_grace_time=None,
            coalesce=True,
            max_instances=1_000,
        )

    async def _look(self) -> None:
        async with self._one_at_a_time:
            if self._at is None:
                return
            if self._at > self._clock():
                self._schedule()
                return
            settings = self._settings
            try:
                following = await self._ring()
            except Exception as error:
                log.error("what was due could not be sent (%s); trying again soon", type(error).__name__)
                following = self._clock() + AFTER_TROUBLE
            if settings == self._settings:  # else it was set anew meanwhile, by one who knows better
                self.set(following)
