"""The webhook: where the platform calls when it is told to, instead of being asked again and again.

An update is answered with 200 only after it has been committed; on anything else the platform calls again.
"""

import asyncio
import hmac
import logging
import re
from collections.abc import Awaitable, Callable
from urllib.parse import urlsplit

from aiohttp import web

log = logging.getLogger(__name__)

SECRET_HEADER = "X-Telegram-Bot-Api-Secret-Token"
LARGEST_UPDATE = 2**20
"""Bytes. The longest text message with all its entities is far below."""


class Webhook:
    """Listens for the platform's calls.

    `url` is the public address that the platform calls (https; a path of its own is wise), `secret` what it
    must show (1 to 256 of A-Z a-z 0-9 _ -), `listen` the HOST:PORT to bind, behind whatever ends the TLS.
    `GET /health` answers 200 while the database and the platform answer, else 503, and says which. Raises ValueError with what to write instead.
    """

    def __init__(self, url: str, secret: str, listen: str) -> None:
        if not re.fullmatch(r"[A-Za-z0-9_-]{1,256}", secret):
            raise ValueError("the webhook's secret must be 1 to 256 of A-Z a-z 0-9 _ -")
        try:
            parts = urlsplit(url)
            usable = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
        except ValueError:  # a port that none has
            usable = False
        if not usable or parts.query or parts.fragment or not re.fullmatch(r"[\w/.~%@:+-]*", parts.path):
            raise ValueError("the webhook's address must look like https://wine.example.org/updates")
        host, colon, port = listen.rpartition(":")
        if not colon or not re.fullmatch(r"[0-9]{1,5}", port) or not 0 < int(port) <= 65535:
            raise ValueError("where to listen must look like 127.0.0.1:8080")
        if not re.fullmatch(r"[A-Za-z0-9.-]*|\[[0-9A-Fa-f:.]+\]", host):
            raise ValueError("where to listen must look like 127.0.0.1:8080 or [::1]:8080")
        self.url = url
        self.secret = secret
        self._path = parts.path or "/"
        if self._path == "/health":
            raise ValueError("the webhook's address cannot end in /health, which is kept for health checks")
        self._host = host.strip("[]") or "0.0.0.0"
        self._port = int(port)

    async def listen(
        self,
        take_in: Callable[[bytes], Awaitable[None]],
        health: Callable[[], Awaitable[tuple[bool, str]]],
        opened: asyncio.Event,
    ) -> None:
        """Listens until cancelled and sets `opened` when it does. Raises OSError if it cannot bind."""

        async def receive(request: web.Request) -> web.Response:
            shown = request.headers.get(SECRET_HEADER, "")
            if not hmac.compare_digest(shown.encode(errors="replace"), self.secret.encode()):
                return web.Response(status=403)
            payload = await request.read()  # answers 413 beyond the limit
            try:
                await take_in(payload)
            except ValueError:
                return web.Response(status=400)
            except Exception as error:
                log.error("an update could not be taken in (%s); it will come again", type(error).__name__)
                return web.Response(status=500)
            return web.Response()

        async def tell(request: web.Request) -> web.Response:
            well, line = await health()
            return web.Response(text=f"{line}\n", status=200 if well else 503)

        app = web.Application(client_max_size=LARGEST_UPDATE)
        app.router.add_post(self._path, receive)
        app.router.add_get("/health", tell)
        runner = web.AppRunner(app, access_log=None, shutdown_timeout=2.0, auto_decompress=False)
        await runner.setup()
        try:
            await web.TCPSite(runner, self._host, self._port).start()
            log.info("listening for the platform's calls on %s:%d", self._host, self._port)
            opened.set()
            await asyncio.Event().wait()
        finally:
            await runner.cleanup()
