"""The one thread in which the desk works, so that it does one thing at a time."""

import asyncio
import logging
from collections import deque
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from time import monotonic
from traceback import extract_tb
from typing import ParamSpec, Protocol, TypeVar

from bot.edges.telegram.pace import Pauses

log = logging.getLogger(__name__)

PATIENT = 0.05
"""Seconds that others wait for the thread before a row of messages makes way for them. To go back and forth for
each one would cost half as much again as handling it."""

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


class Watch(Protocol):
    """Sees to it that a piece of work that stops everything does not do so for ever."""

    def working(self, at_work: Callable[[], bool]) -> None:
        """A piece of work begins, and goes on as long as `at_work` says so."""


class Clerk:
    """Runs the desk's plain functions in one worker thread, in the order in which they are asked for."""

    def __init__(self, first_pause: float, watch: Watch | None = None) -> None:
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="desk")
        self._first_pause = first_pause
        self._watch = watch
        self._asked_at: deque[float] = deque()
        self._urgent = 0
        self._running = False
        self._failing: set[str] = set()

    @property
    def pressed(self) -> bool:
        """Whether something else has waited for the thread long enough: then a long piece of work makes way."""
        try:
            asked_at = self._asked_at[0]
        except IndexError:
            return False
        return self._urgent > 0 or monotonic() - asked_at > PATIENT

    @property
    def busy(self) -> bool:
        """Whether something is running that has not come back."""
        return self._running

    async def once(self, function: Callable[P, R], *args: P.args, **kwargs: P.kwargs) -> R:
        """Runs it once; what it raises comes through."""

        def run() -> R:
            self._asked_at.popleft()
            self._running = True
            try:
                return function(*args, **kwargs)
            finally:
                self._running = False

        if self._watch is not None:
            self._watch.working(lambda: self._running or bool(self._asked_at))
        self._asked_at.append(monotonic())
        return await asyncio.get_running_loop().run_in_executor(self._thread, run)

    async def first(self, function: Callable[P, R], *args: P.args, **kwargs: P.kwargs) -> R:
        """Runs it until it works, and before the rest of a long piece of work."""
        self._urgent += 1
        try:
            return await self.surely(function, *args, **kwargs)
        finally:
            self._urgent -= 1

    async def surely(self, function: Callable[P, R], *args: P.args, **kwargs: P.kwargs) -> R:
        """Runs it until it works: a failing database is waited for, with growing pauses."""
        pauses = Pauses(self._first_pause)
        while True:
            try:
                result = await self.once(function, *args, **kwargs)
            except Exception as error:
                self.trouble(error, function.__name__)
                await asyncio.sleep(pauses.next())
            else:
                self.works(function.__name__)
                return result

    @property
    def in_trouble(self) -> bool:
        """Whether something that the database was asked failed, and has not worked since."""
        return bool(self._failing)

    def trouble(self, error: BaseException, what: str) -> None:
        """The database failed at something: said once."""
        if not self._failing:
            log.error("the database fails (%s); waiting for it", outline(error))
        self._failing.add(what)

    def works(self, what: str) -> None:
        """That works. What is read says nothing of what is written: so each for itself."""
        if self._failing:
            self._failing.discard(what)
            if not self._failing:
                log.info("the database works again")

    async def idle(self, seconds: float) -> None:
        """Waits until nothing runs, at most so long."""
        until = monotonic() + seconds
        while self._running and monotonic() < until:
            await asyncio.sleep(0.01)

    def close(self) -> None:
        """Takes no more work; what runs is finished."""
        self._thread.shutdown(wait=False, cancel_futures=True)
