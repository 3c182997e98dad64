"""The end of a standstill: a process in which one piece of work keeps all else from running ends by itself.

An expression that takes for ever holds the interpreter, so that no signal's handler, no timer and no other thread
of it ever gets a turn. What does is a thread of the interpreter's own that needs no turn: `faulthandler` has one,
which ends the process after a time unless it is told that all is well. It also says where the process stood, in
names of functions, never in anybody's words. What was begun is known in the inbox, so the next life can go on.
"""

import asyncio
import faulthandler
from collections.abc import Callable
from typing import TextIO

LIMIT = 8.0
"""Seconds in which nothing else got a turn: after that the process ends. A stop must take less than ten."""

TICK = 2.0


class Standstill:
    """While there is work, says again and again that all is well; without work there is nothing to say."""

    def __init__(self, log: TextIO) -> None:
        """`log` is a real file, where it is written why the process ends."""
        self._log = log
        self._ticking: asyncio.TimerHandle | None = None
        self._worked = False
        self._at_work: Callable[[], bool] = bool

    def working(self, at_work: Callable[[], bool]) -> None:
        """A piece of work begins, and goes on as long as `at_work` says so; to be called in the event loop."""
        self._worked, self._at_work = True, at_work
        if self._ticking is None:
            self._tick()

    def close(self) -> None:
        """Watches no more."""
        if self._ticking is not None:
            self._ticking.cancel()
            self._ticking = None
        faulthandler.cancel_dump_traceback_later()

    def _tick(self) -> None:
        if not self._worked and not self._at_work():
            self.close()
            return
        self._worked = False
        faulthandler.dump_traceback_later(LIMIT, exit=True, file=self._log)
        self._ticking = asyncio.get_running_loop().call_later(TICK, self._tick)
