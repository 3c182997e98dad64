"""Who holds what: several processes may work on one database, and each row is worked on by one of them.

A holder writes its name beside a row, and until when it counts on having it. What is held by a process that has
ended, or for longer than that, may be taken over by another one.
"""

import os
import secrets
import socket
from contextlib import suppress
from datetime import timedelta
from functools import cache
from pathlib import Path

LEASE = timedelta(seconds=15)
"""How long a letter is held; whoever needs longer says so again before it is over."""

WORK_LEASE = timedelta(seconds=60)
"""How long messages that were taken to be handled are held."""


def new_holder() -> str:
    """A name for this process that no other one has, and that says on this machine whether it still runs."""
    return f"{_machine()[:40]}:{os.getpid()}:{secrets.token_hex(4)}"


def is_gone(holder: str) -> bool:
    """Whether that process surely runs no more. Of another machine's nobody can tell: there the lease decides."""
    machine, _, rest = holder.rpartition(":")[0].rpartition(":")
    if machine != _machine()[:40] or not rest.isdecimal():
        return False
    try:
        os.kill(int(rest), 0)
    except ProcessLookupError:
        return True
    except OSError:  # it is somebody else's process
        return False
    return False


@cache
def _machine() -> str:
    """The machine, and on it the room in which process numbers count: containers have rooms of their own."""
    room = 0
    with suppress(OSError):
        room = Path("/proc/self/ns/pid").stat().st_ino
    return f"{room}@{socket.gethostname()}"
