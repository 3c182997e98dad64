"""The ways out to the platform: some connections, each on its own.

The HTTP library's own pool looks at every connection of it for every request, so that requests get dearer the
more are under way. Here each lane is a pool of one, and the lane used last is used first.
"""

import sys
from asyncio import LifoQueue
from importlib.util import find_spec
from types import ModuleType
from typing import Any, cast

import msgspec
from httpx import create_ssl_context
from telegram.request import BaseRequest, HTTPXRequest, RequestData

# The HTTP library looks for this optional module several times a request, along the whole path when it is not
# there: a good part of what a request costs. This is how Python is told that there is none.
if find_spec("sniffio") is None:
    sys.modules["sniffio"] = cast("ModuleType", None)


class Fields:
    """A call's fields as they are, in the shape in which the library's requests take them."""

    multipart_data = None
    contains_files = False

    def __init__(self, fields: dict[str, object]) -> None:
        self.parameters = {name: value for name, value in fields.items() if value is not None}

    @property
    def json_parameters(self) -> dict[str, str]:
        """Each as text, in JSON where it is no text."""
        return {
            name: value if isinstance(value, str) else msgspec.json.encode(value).decode()
            for name, value in self.parameters.items()
        }


class Lanes(BaseRequest):
    """So many requests at a time; more wait for a free lane."""

    def __init__(self, count: int, read_timeout: float) -> None:
        self._read_timeout = read_timeout
        known = {"verify": create_ssl_context()}  # reading the certificates takes a while: once for all
        self._lanes = [
            HTTPXRequest(connection_pool_size=1, read_timeout=read_timeout, httpx_kwargs=known)
            for _ in range(count)
        ]
        self._free: LifoQueue[HTTPXRequest] = LifoQueue()
        for lane in self._lanes:
            self._free.put_nowait(lane)

    @property
    def read_timeout(self) -> float:
        return self._read_timeout

    async def initialize(self) -> None:
        for lane in self._lanes:
            await lane.initialize()

    async def shutdown(self) -> None:
        for lane in self._lanes:
            await lane.shutdown()

    async def call(self, address: str, **fields: object) -> Any:
        """Calls the method at that address and returns its result as it came; fields that are None are left
        out. Raises the library's errors. The library's own methods make an object of each field, and of all
        that comes back: twice the cost, where only a message's number is wanted."""
        return await self.post(address, cast("RequestData", Fields(fields)))

    async def do_request(
        self, url: str, method: str, request_data: RequestData | None = None, *timeouts: Any, **more: Any
    ) -> tuple[int, bytes]:
        """One request on a lane of its own; raises what the lane raises."""
        lane = await self._free.get()
        try:
            return await lane.do_request(url, method, request_data, *timeouts, **more)
        finally:
            self._free.put_nowait(lane)
