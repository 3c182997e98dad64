"""The wire to the platform: requests over the HTTP client that the webhook's library brings along.

The Bot API's own library brings another, which costs two to three times the CPU, most of it in looking after its
connections.
"""

import ssl
from collections.abc import Callable
from urllib.parse import urlsplit
from urllib.request import getproxies, proxy_bypass

import certifi
from aiohttp import ClientError, ClientSession, ClientTimeout, FormData, TCPConnector
from aiohttp.payload import BytesPayload
from yarl import URL

from bot.edges.telegram.errors import NetworkFailedError, NoAnswerError

CONNECT_SECONDS = 10.0


class Connection:
    """Requests to one address, so many at a time; more wait. `read_timeout` is how long an answer may take (s)."""

    def __init__(
        self,
        address: str,
        at_once: int,
        read_timeout: float,
        on_date: Callable[[str], None] = lambda date: None,
    ) -> None:
        """`on_date` hears when each answer was dated."""
        self.read_timeout = read_timeout
        self._proxy = _proxy_for(address)
        self._at_once = at_once
        self._on_date = on_date
        self._session: ClientSession | None = None

    async def open(self) -> None:
        """From now on requests may go out."""
        if self._session is None:
            trusted = ssl.create_default_context(cafile=certifi.where())
            connector = TCPConnector(limit=self._at_once, ssl=trusted)
            # Not trust_env: with that the client goes through the environment anew for every request.
            self._session = ClientSession(connector=connector, proxy=self._proxy)

    async def close(self) -> None:
        """Ends what is under way."""
        if self._session is not None:
            session, self._session = self._session, None
            await session.close()

    async def post(self, url: str, body: bytes | FormData | dict[str, str]) -> tuple[int, bytes]:
        """One request with that body, bytes being JSON; returns the answer's status and content. Raises
        NoAnswerError or NetworkFailedError."""
        if self._session is None:
            raise RuntimeError("requests go out between open and close")
        data = BytesPayload(body, content_type="application/json") if isinstance(body, bytes) else body
        timeout = ClientTimeout(total=None, connect=CONNECT_SECONDS, sock_read=self.read_timeout)
        try:
            async with self._session.post(
                URL(url, encoded=True), data=data, timeout=timeout, allow_redirects=False
            ) as response:
                self._on_date(response.headers.get("Date", ""))
                return response.status, await response.read()
        except TimeoutError:
            raise NoAnswerError("no answer in time") from None
        except ClientError as error:
            raise NetworkFailedError(type(error).__name__) from None


def is_address(url: str) -> bool:
    """Whether it names a machine, and no port that none has."""
    try:
        parts = urlsplit(url)
        return bool(parts.hostname) and parts.port != 0
    except ValueError:
        return False


def _proxy_for(address: str) -> str | None:
    """The proxy that the environment names for that address."""
    parts = urlsplit(address)
    return None if proxy_bypass(parts.hostname or "") else getproxies().get(parts.scheme)
