"""Requests to the platform, over the HTTP client that the webhook's library brings along.

The library's own client costs two to three times the CPU, most of it in looking after its connections; what goes
over the wire is the same.
"""

import ssl
from collections.abc import Callable, Mapping
from typing import Any, cast
from urllib.parse import urlsplit
from urllib.request import getproxies, proxy_bypass

import certifi
import msgspec
from aiohttp import ClientError, ClientSession, ClientTimeout, FormData, TCPConnector
from telegram.error import NetworkError, TimedOut
from telegram.request import BaseRequest, RequestData
from yarl import URL

CONNECT_SECONDS = 10.0

Upload = tuple[str, bytes, str]
"""A file as the library has it: its name, its content, its media type."""


class Fields:
    """A call's fields as they are, in the shape in which the library's requests take them."""

    def __init__(self, fields: dict[str, object], uploads: Mapping[str, Upload] | None = None) -> None:
        self.parameters = {name: value for name, value in fields.items() if value is not None}
        self.multipart_data = uploads
        self.contains_files = bool(uploads)

    @property
    def json_parameters(self) -> dict[str, str]:
        """Each as text, in JSON where it is no text."""
        return {
            name: value if isinstance(value, str) else msgspec.json.encode(value).decode()
            for name, value in self.parameters.items()
        }


class Http(BaseRequest):
    """Requests to one address, so many at a time; more wait. `read_timeout` is how long an answer may take (s)."""

    def __init__(
        self,
        address: str,
        connections: int,
        read_timeout: float,
        on_date: Callable[[str], None] = lambda date: None,
    ) -> None:
        """`on_date` hears when each answer was dated."""
        self._proxy = _proxy_for(address)
        self._connections = connections
        self._read_timeout = read_timeout
        self._on_date = on_date
        self._session: ClientSession | None = None

    @property
    def read_timeout(self) -> float:
        return self._read_timeout

    async def initialize(self) -> None:
        if self._session is None:
            trusted = ssl.create_default_context(cafile=certifi.where())
            connector = TCPConnector(limit=self._connections, ssl=trusted)
            # Not trust_env: with that the client goes through the environment anew for every request.
            self._session = ClientSession(connector=connector, proxy=self._proxy)

    async def shutdown(self) -> None:
        if self._session is not None:
            session, self._session = self._session, None
            await session.close()

    async def call(
        self, address: str, uploads: Mapping[str, Upload] | None = None, /, **fields: object
    ) -> Any:
        """Calls the method at that address and returns its result as it came; fields that are None are left
        out, `uploads` are files by the name of their field. Raises the library's errors. The library's own methods make an object of each field, and of all
        that comes back, where only a message's number is wanted."""
        return await self.post(address, cast("RequestData", Fields(fields, uploads)))

    async def do_request(
        self, url: str, method: str, request_data: RequestData | None = None, *timeouts: Any, **more: Any
    ) -> tuple[int, bytes]:
        """One request. Raises TimedOut or NetworkError, whose words never hold the address: the token is in it."""
        if self._session is None:
            raise RuntimeError("requests go out between initialize and shutdown")
        timeout = ClientTimeout(total=None, connect=CONNECT_SECONDS, sock_read=self._read_timeout)
        data = _body(request_data) if request_data is not None else None
        try:
            async with self._session.request(
                method, URL(url, encoded=True), data=data, timeout=timeout, allow_redirects=False
            ) as response:
                self._on_date(response.headers.get("Date", ""))
                return response.status, await response.read()
        except TimeoutError:
            raise TimedOut from None
        except ClientError as error:
            raise NetworkError(type(error).__name__) from None


def _body(request_data: RequestData) -> dict[str, str] | FormData:
    """A form; in parts where it carries files."""
    if not request_data.multipart_data:
        return request_data.json_parameters
    form = FormData()
    for name, value in request_data.json_parameters.items():
        form.add_field(name, value)
    for name, (filename, content, media_type) in request_data.multipart_data.items():
        form.add_field(name, content, filename=filename, content_type=media_type)
    return form


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
