"""The Bot API over real HTTP on loopback, in a thread of its own or as a process.

`with BotApi() as api: ...` gives `api.url` and `api.world`. As a process, `python -m tests.botapi.double
--port N` serves the same, and `POST /control/VERB` with a JSON object of arguments calls the world's verb of
that name (`say`, `edit`, `tap`, `fail`, ...) and answers with what it returned; `GET /control/sent` and
`/control/calls` list what the bot did.

[gen] marks what comes from general knowledge of the platform and was not checked against it.
"""

import argparse
import asyncio
import dataclasses
import json
import logging
import threading
from collections.abc import Sequence
from contextlib import suppress
from email.utils import format_datetime
from typing import Any

from aiohttp import ClientError, ClientSession, ClientTimeout, web

from tests.botapi.deeds import Fault, Refusal, Upload
from tests.botapi.methods import METHODS
from tests.botapi.world import World, decoded

AS_TEXT = frozenset(("text", "caption", "parse_mode", "callback_query_id", "url", "secret_token"))
CONTROLS = frozenset(
    [
        "member",
        "group",
        "say",
        "edit",
        "tap",
        "add_bot",
        "remove_bot",
        "migrate",
        "move_silently",
        "inject",
        "fail",
        "mend",
        "said",
    ]
)
LONGEST_PAUSE = 1.0  # the platform's own pauses are longer; a test should not wait for them


class BotApi:
    """The server: a `World` behind HTTP."""

    def __init__(self, world: World | None = None, *, port: int = 0) -> None:
        self.world = world or World()
        self.port = port
        self._loop = asyncio.new_event_loop()
        self._news = asyncio.Event()
        self._poller: object = None
        self._ready = threading.Event()
        self._stop = asyncio.Event()
        self._thread = threading.Thread(target=self._run, name="bot-api", daemon=True)

    @property
    def url(self) -> str:
        """What BUCKETSIDE_API_URL is set to."""
        return f"http://127.0.0.1:{self.port}"

    def __enter__(self) -> "BotApi":
        self._thread.start()
        assert self._ready.wait(10), "the Bot API double did not start"
        return self

    def __exit__(self, *exc: object) -> None:
        self._loop.call_soon_threadsafe(self._stop.set)
        self._thread.join(10)
        assert not self._thread.is_alive(), "the Bot API double did not stop"

    def _run(self) -> None:
        try:
            self._loop.run_until_complete(self.serve(self._stop))
        finally:
            self._loop.close()

    async def serve(self, stop: asyncio.Event) -> None:
        """Serves until told to stop."""
        loop = asyncio.get_running_loop()

        def announce() -> None:
            with suppress(RuntimeError):  # the loop may be closing
                loop.call_soon_threadsafe(self._news.set)

        app = web.Application(client_max_size=60 * 2**20)
        app.router.add_route("*", "/bot{token}/{method}", self._call)
        app.router.add_route("*", "/control/{verb}", self._control)
        runner = web.AppRunner(app, handler_cancellation=True, shutdown_timeout=0.1, access_log=None)
        await runner.setup()
        site = web.TCPSite(runner, "127.0.0.1", self.port)
        await site.start()
        self.port = runner.addresses[0][1]
        self.world.on_news = announce
        calling = asyncio.create_task(self._call_webhook())
        self._ready.set()
        try:
            await stop.wait()
        finally:
            calling.cancel()
            await asyncio.gather(calling, return_exceptions=True)
            await runner.cleanup()

    async def _call(self, request: web.Request) -> web.StreamResponse:
        method = request.match_info["method"]
        params = await _params(request)
        status = 0
        try:
            if request.match_info["token"] != self.world.token:
                raise Refusal(401, "Unauthorized")
            fault = await self._hinder(method, params)
            result = await self._act(method, params)
            if method.lower().startswith("send"):
                await asyncio.sleep(self.world.slowness)
            if fault is not None:
                assert request.transport is not None
                request.transport.abort()
                return web.Response()
            status = 200
            return web.json_response({"ok": True, "result": result}, headers=self._dated())
        except Refusal as refusal:
            status = refusal.status
            body = {"ok": False, "error_code": status, "description": refusal.description}
            if refusal.parameters:
                body["parameters"] = refusal.parameters
            return web.json_response(body, status=status, headers=self._dated())
        finally:
            self.world.record(method, params, status)

    def _dated(self) -> dict[str, str]:
        return {"Date": format_datetime(self.world.moment + self.world.dates_off, usegmt=True)}

    async def _hinder(self, method: str, params: dict[str, Any]) -> Fault | None:
        """Meets gates and faults. Returns one that breaks the connection after the call was carried out."""
        gate = self.world.gate_for(method, params.get("chat_id"))
        while gate is not None and gate.closed:
            await asyncio.sleep(0.002)
        fault = self.world.fault_for(method, params.get("chat_id"))
        if fault is not None and not fault.drop:
            raise Refusal(fault.status, fault.description, **fault.parameters)
        return fault

    async def _act(self, method: str, params: dict[str, Any]) -> Any:
        if method.lower() == "getupdates":
            return await self._get_updates(params)
        if method.lower() not in METHODS:
            raise Refusal(404, "Not Found")
        with self.world.lock:
            result = METHODS[method.lower()](self.world, params)
        self._news.set()
        return result

    async def _get_updates(self, params: dict[str, Any]) -> list[dict[str, Any]]:
        world = self.world
        if world.webhook["url"]:
            raise Refusal(409, "Conflict: can't use getUpdates method while webhook is active")
        if "allowed_updates" in params:
            world.allowed = params["allowed_updates"]
        me = self._poller = object()  # an earlier long poll is ended by this one [gen]
        self._news.set()
        loop = asyncio.get_running_loop()
        until = loop.time() + params.get("timeout", 0)
        limit = min(max(params.get("limit", 100), 1), 100)
        while True:
            self._news.clear()
            batch = world.pending(params.get("offset"), limit)
            if batch or loop.time() >= until:
                return batch
            await self._wait_for_news(until - loop.time())
            if self._poller is not me:
                raise Refusal(409, "Conflict: terminated by other getUpdates request")

    async def _wait_for_news(self, seconds: float) -> None:
        with suppress(TimeoutError):
            async with asyncio.timeout(seconds):
                await self._news.wait()

    async def _call_webhook(self) -> None:
        """Delivers one update after the other to the webhook; one that is not taken comes again."""
        async with ClientSession(timeout=ClientTimeout(total=10)) as session:
            failures = 0
            while True:
                self._news.clear()
                hook, updates = self.world.webhook, self.world.pending(None, 1)
                if not hook["url"] or not updates:
                    await self._wait_for_news(0.2)
                    continue
                secret = hook.get("secret_token")
                headers = {"X-Telegram-Bot-Api-Secret-Token": str(secret)} if secret else {}
                status = 0
                with suppress(ClientError, TimeoutError):
                    async with session.post(hook["url"], json=updates[0], headers=headers) as response:
                        status = response.status
                self.world.record("(webhook)", {"update_id": updates[0]["update_id"]}, status)
                if 200 <= status <= 299:
                    self.world.delivered(updates[0]["update_id"])
                    failures = 0
                else:
                    await asyncio.sleep(min(0.01 * 2**failures, LONGEST_PAUSE))
                    failures += 1

    async def _control(self, request: web.Request) -> web.Response:
        verb = request.match_info["verb"]
        if verb in ("sent", "calls"):
            rows = [dataclasses.asdict(item) for item in getattr(self.world, verb)]
            return web.json_response(rows, dumps=lambda rows: json.dumps(rows, default=len))  # files by size
        if verb not in CONTROLS:
            raise web.HTTPNotFound
        arguments = await request.json() if request.can_read_body else {}
        try:
            result = getattr(self.world, verb)(**arguments)
        except (TypeError, LookupError) as error:
            raise web.HTTPBadRequest(text=str(error)) from error
        return web.json_response(result)


async def _params(request: web.Request) -> dict[str, Any]:
    found: dict[str, Any] = dict(request.query)
    if request.content_type == "application/json" and request.can_read_body:
        found |= await request.json()
    else:
        for name, value in (await request.post()).items():
            found[name] = _upload(value) if isinstance(value, web.FileField) else value
    return {name: value if name in AS_TEXT else decoded(value) for name, value in found.items()}


def _upload(part: web.FileField) -> Upload:
    return Upload(part.filename, part.content_type, part.file.read())


def main(argv: Sequence[str] | None = None) -> None:
    """Serves until it is killed."""
    parser = argparse.ArgumentParser(prog="python -m tests.botapi.double")
    parser.add_argument("--port", type=int, default=0)
    parser.add_argument("--token", default="1:TEST")
    options = parser.parse_args(argv)
    logging.basicConfig(level=logging.INFO)
    api = BotApi(World(token=options.token), port=options.port)

    async def serve() -> None:
        serving = asyncio.create_task(api.serve(asyncio.Event()))
        while not api.port:
            await asyncio.sleep(0.01)
        logging.getLogger("botapi").info("listening on %s", api.url)
        await serving

    with suppress(KeyboardInterrupt):
        asyncio.run(serve())


if __name__ == "__main__":
    main()
