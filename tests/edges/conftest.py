"""Edge tests talk over real HTTP on loopback; any other connection fails the test."""

import socket
from collections.abc import Iterator
from typing import Any

import pytest

from tests.botapi.double import BotApi
from tests.edges.bench import Bench

LOOPBACK = ("127.0.0.1", "::1", "localhost")


def _refuse_others(address: Any) -> None:
    if isinstance(address, tuple) and address[0] not in LOOPBACK:
        raise AssertionError(f"a test tried to reach {address[0]}")


@pytest.fixture(autouse=True)
def loopback_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """No connection and no name look-up but to this machine; no proxy either."""
    for name in ("connect", "connect_ex"):
        original = getattr(socket.socket, name)

        def guarded(self: socket.socket, address: Any, original: Any = original) -> Any:
            _refuse_others(address)
            return original(self, address)

        monkeypatch.setattr(socket.socket, name, guarded)
    look_up = socket.getaddrinfo

    def guarded_look_up(host: Any, *args: Any, **kwargs: Any) -> Any:
        _refuse_others((host,))
        return look_up(host, *args, **kwargs)

    monkeypatch.setattr(socket, "getaddrinfo", guarded_look_up)
    for scheme in ("http", "https", "all"):
        monkeypatch.delenv(f"{scheme}_proxy", raising=False)
        monkeypatch.delenv(f"{scheme}_proxy".upper(), raising=False)


@pytest.fixture
def api(loopback_only: None) -> Iterator[BotApi]:
    """A Bot API of its own for each test."""
    with BotApi() as api:
        yield api


@pytest.fixture
def bench(api: BotApi) -> Iterator[Bench]:
    """The Telegram edge on a recording desk, stopped at the end."""
    with Bench(api) as bench:
        yield bench
