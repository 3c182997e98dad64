"""The one thread in which the desk works, so that it does one thing at a time."""

import asyncio
import logging
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from traceback import extract_tb
from typing import ParamSpec, TypeVar

from bot.edges.telegram_pace import Pauses

log = logging.getLogger(__name__)

P = ParamSpec("P")
R = TypeVar("R")


def outline(error: BaseException) -> str:
    """What went wrong and where, without its text: that may hold what people wrote, or the token. An error that
    is meant to be read has its own words, in `brief`."""
    if isinstance(brief := getattr(error, "brief", None), str):
        return brief
    frames = extract_tb(error.__traceback__)
    where = f" at {Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else ""
    return f"{type(error).__name__}{where}"


class Clerk:
    """Runs the desk's plain functions in one worker thread, in the order in which they are asked for."""

    def __init__(self, first_pause: float) -> None:
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="desk")
        self._first_pause = first_pause
        self._in_trouble = False

    async def once(self, function: Callable[P, R], *args: P.args, **kwargs: P.kwargs) -> R:
        """Runs it once; what it raises comes through."""
        return await asyncio.get_running_loop().run_in_executor(
            self._thread, lambda: function(*args, **kwargs)
        )

    async def surely(self, function: Callable[P, R], *args: P.args, **kwargs: P.kwargs) -> R:
        """Runs it until it works: a failing database is waited for, with growing pauses."""
        pauses = Pauses(self._first_pause)
        while True:
            try:
                result = await self.once(function, *args, **kwargs)
            except Exception as error:
                self.trouble(error)
                await asyncio.sleep(pauses.next())
            else:
                self._works()
                return result

    def trouble(self, error: BaseException) -> None:
        """Says once that the database fails."""
        if not self._in_trouble:
            self._in_trouble = True
            log.error("the database fails (%s); waiting for it", outline(error))

    def _works(self) -> None:
        if self._in_trouble:
            self._in_trouble = False
            log.info("the database works again")

    def close(self) -> None:
        """Takes no more work; what runs is finished."""
        self._thread.shutdown(wait=False, cancel_futures=True)
