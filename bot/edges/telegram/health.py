"""Health: whether the database and the platform answered lately."""

import asyncio
import logging
from collections.abc import Awaitable, Callable
from time import monotonic

from bot.edges.telegram.clerk import Clerk, outline
from bot.edges.telegram.errors import PlatformError
from bot.edges.telegram.skew import Skew

log = logging.getLogger(__name__)

LATELY = 120.0
"""Seconds. A long poll takes up to 50; a webhook may be quiet for days, so then the platform is asked."""

PATIENCE = 5.0
EVERY = 3600.0


class Health:
    """`prove` writes to the database and counts what is not handled yet; `ask` calls the platform; `skew` is how our
    clock stands to the platform's, which is said with the rest."""

    def __init__(
        self, clerk: Clerk, prove: Callable[[], int], ask: Callable[[], Awaitable[object]], skew: Skew
    ) -> None:
        self._clerk = clerk
        self._prove = prove
        self._ask = ask
        self._skew = skew
        self._heard_at = float("-inf")
        self._asking = asyncio.Lock()

    def heard(self) -> None:
        """The platform answered or called."""
        self._heard_at = monotonic()

    async def report(self) -> tuple[bool, str]:
        """Whether both answer, and one line for whoever looks."""
        database = await self._look_at_database()
        platform = await self._look_at_platform()
        line = ", ".join(filter(None, (f"database {database}", f"platform {platform}", self._skew.line)))
        return database.startswith("ok") and platform == "ok", line

    async def tell(self) -> None:
        """Writes the report into the log now and then, for ever."""
        while True:
            await asyncio.sleep(EVERY)
            well, line = await self.report()
            log.log(logging.INFO if well else logging.WARNING, "health: %s", line)

    async def _look_at_database(self) -> str:
        try:
            async with asyncio.timeout(PATIENCE):
                waiting = await self._clerk.once(self._prove)
        except TimeoutError:
            return "does not answer"
        except Exception as error:
            return f"fails ({outline(error)})"
        if self._clerk.in_trouble:  # a little is written, but not all
            return f"fails ({waiting} waiting)"
        return f"ok ({waiting} waiting)"

    async def _look_at_platform(self) -> str:
        async with self._asking:  # many who look at once ask the platform once
            if monotonic() - self._heard_at < LATELY:
                return "ok"
            try:
                async with asyncio.timeout(PATIENCE):
                    await self._ask()
            except TimeoutError:
                return "does not answer"
            except PlatformError as error:
                return f"fails ({type(error).__name__})"
            self.heard()
            return "ok"
