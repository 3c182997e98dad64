"""What is settled with the platform once at each start, through the Bot API's library: who we are, how updates come,
which commands are offered.

The library's `Bot` knows these methods with all their forms and checks; its requests go out over our connection,
by the extension point that it offers for that (`BaseRequest`). The only importer of the library.
"""

import logging
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import timedelta
from typing import Any

from telegram import Bot, error
from telegram.request import BaseRequest, RequestData

from bot.edges.telegram import errors
from bot.edges.telegram.client import Me
from bot.edges.telegram.connection import Connection
from bot.edges.telegram.updates import ALLOWED_UPDATES
from bot.ids import ChatId

os.environ.setdefault("PTB_TIMEDELTA", "true")  # else the library warns whenever it reads a waiting time

_KINDS: Sequence[tuple[type[error.TelegramError], type[errors.PlatformError]]] = (
    (error.Forbidden, errors.ForbiddenError),
    (error.BadRequest, errors.BadRequestError),
    (error.Conflict, errors.ConflictError),
    (error.NetworkError, errors.NetworkFailedError),
)
"""The library's errors and ours, the more special ones first."""


class Introduction:
    """Calls raise a PlatformError, as the client's do."""

    def __init__(self, connection: Connection, address: str, token: str) -> None:
        logging.getLogger("telegram").setLevel("CRITICAL")  # it writes addresses with the token, and bodies
        carrier = Carrier(connection)
        self._bot = Bot(token, request=carrier, get_updates_request=carrier, base_url=f"{address}/bot")

    async def who_we_are(self) -> Me:
        """Asks for the bot's own name."""
        with in_our_errors():
            user = await self._bot.get_me()
        reads_all = bool(user.can_read_all_group_messages)
        return Me(id=user.id, username=user.username or "", can_read_all_group_messages=reads_all)

    async def come_for_updates(self) -> None:
        """Updates are kept until we ask for them."""
        with in_our_errors():
            await self._bot.delete_webhook()

    async def be_called(self, url: str, secret: str) -> None:
        """Updates are to be brought to that address, and to show the secret."""
        with in_our_errors():
            await self._bot.set_webhook(
                url,
                secret_token=secret,
                allowed_updates=ALLOWED_UPDATES,
                max_connections=1,  # one at a time keeps the order
            )

    async def offer(self, commands: Sequence[tuple[str, str]]) -> None:
        """These commands, each with what it is for, when somebody types a slash."""
        with in_our_errors():
            await self._bot.set_my_commands(list(commands))


class Carrier(BaseRequest):
    """The library's requests, over a connection that somebody else opens and closes."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    @property
    def read_timeout(self) -> float:
        """How long an answer may take (s)."""
        return self._connection.read_timeout

    async def initialize(self) -> None:
        """The connection is opened by its owner."""

    async def shutdown(self) -> None:
        """The connection is closed by its owner."""

    async def do_request(
        self, url: str, method: str, request_data: RequestData | None = None, *timeouts: Any, **more: Any
    ) -> tuple[int, bytes]:
        """One request."""
        return await self._connection.post(url, request_data.json_parameters if request_data else {})


@contextmanager
def in_our_errors() -> Iterator[None]:
    """What the library raises is raised as ours."""
    try:
        yield
    except error.TelegramError as theirs:
        raise ours(theirs) from None


def ours(theirs: error.TelegramError) -> errors.PlatformError:
    """The error of ours that says what the library's one says."""
    if isinstance(theirs.__cause__, errors.PlatformError):  # from the connection, wrapped on its way
        return theirs.__cause__
    if isinstance(theirs, error.RetryAfter):
        pause = theirs.retry_after
        return errors.RetryAfterError(pause.total_seconds() if isinstance(pause, timedelta) else pause)
    if isinstance(theirs, error.ChatMigrated):
        return errors.MovedError(ChatId(theirs.new_chat_id))
    if isinstance(theirs, error.InvalidToken):
        return errors.TokenRefusedError()
    for kind, our_kind in _KINDS:
        if isinstance(theirs, kind):
            return our_kind(theirs.message)
    return errors.PlatformError(type(theirs).__name__)
