"""Telegram: updates in, messages out.

Every update is committed to the inbox before the platform is told that we have it: the next getUpdates,
with a higher offset, is what confirms a batch. Only then is it parsed and handled. So neither a crash nor an
update that nobody can parse loses or holds up any other.
"""

import asyncio
import logging
import re
from collections.abc import Awaitable, Callable, Coroutine, Mapping, Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from functools import partial, update_wrapper
from typing import Any, Protocol, TypeVar

import msgspec

from bot.edges.telegram.clerk import Clerk, Watch, outline
from bot.edges.telegram.client import Client
from bot.edges.telegram.connection import is_address
from bot.edges.telegram.errors import ConflictError, PlatformError, RetryAfterError, TokenRefusedError
from bot.edges.telegram.health import Health
from bot.edges.telegram.intake import chat_of, fetch, numbered
from bot.edges.telegram.introduction import Introduction
from bot.edges.telegram.pace import Pace, Pauses
from bot.edges.telegram.reading import NotForUs, opened, press_id, read_update, without_words
from bot.edges.telegram.sending import CHATS_AT_ONCE, Outbox, Postman
from bot.edges.telegram.skew import Skew
from bot.house.talk import Incoming, Waiting
from bot.ids import ChatId, UpdateId

__all__ = ["Doorway", "FrontDesk", "TelegramEdge", "TokenRefusedError"]

log = logging.getLogger(__name__)

T = TypeVar("T")

PLATFORM = "https://api.telegram.org"
GRACE_SECONDS = 8.0
"""How long a stop waits for what has begun; the rest is in the database and goes on at the next start."""

AT_ONCE = 32
"""Updates claimed at a time, some 50 ms of work: with one commit for all of them, and handled in a row unless
something else has to be done in between."""

SOON = 0.05
QUIET = 2.0
"""Seconds for the answers of others to leave, before a message is handled in which a process ended."""

PUT_OFF = (1.0, 5.0)
"""How many first pauses an update waits that failed: by a fault of its own, and by the database's."""


class FrontDesk(Outbox, Protocol):
    """What this edge asks of the house: plain functions, called one at a time."""

    def take_in(
        self,
        updates: Sequence[tuple[UpdateId, str]],
        now: datetime,
        chats: Mapping[UpdateId, ChatId | None] | None = None,
    ) -> None:
        """Commits raw updates to the inbox, each with its chat; known ids are ignored."""

    def claim(
        self, most: int, now: datetime, *, suspects: bool = True
    ) -> tuple[list[Waiting], datetime | None]:
        """Takes the updates to be handled next, in that order; else says when there may be some again. Those in
        which a process ended come alone, and only when they are wanted."""
        ...

    def let_go(self, now: datetime) -> None:
        """Nothing that was claimed is in work any more."""

    def prove(self, now: datetime) -> int:
        """Writes to the database; returns how many updates wait."""
        ...

    def handle(self, incoming: Incoming, now: datetime) -> str | None:
        """One transaction: the update done, its entries, its letters. Returns a line for the one who pressed
        a button, when there is one."""
        ...

    def failed(
        self,
        update_id: UpdateId,
        incoming: Incoming | None,
        error: Exception,
        why: str,
        pause: timedelta,
        now: datetime,
    ) -> str:
        """An update could not be handled: "again" after the pause, "waits" for the database, or "aside", done with
        its reason and the household's owner told."""
        ...

    def spent(self, incoming: Incoming, now: datetime) -> None:
        """An update that stopped everything more than once, done with its reason; its sender is told."""

    def set_aside(self, update_id: UpdateId, why: str, now: datetime) -> None:
        """An update of no use, done with its reason."""

    def wake(self, now: datetime) -> datetime | None:
        """Puts what is due in the outbox; returns the next moment at which something is due."""
        ...


class Doorway(Protocol):
    """Another way in than long polling: listens where the platform calls, and gives updates to `take_in`."""

    url: str
    secret: str

    async def listen(
        self,
        take_in: Callable[[bytes], Awaitable[None]],
        health: Callable[[], Awaitable[tuple[bool, str]]],
        opened: asyncio.Event,
    ) -> None:
        """Listens until cancelled. `take_in` raises ValueError for what is no update; `health` says whether
        all is well, and in a line why not."""


_LAST_WORK = 1.0
"""Seconds that a piece of work may still take when all else has ended."""


class TelegramEdge:
    """The bot in Telegram. `run` works until it is told to stop.

    `api_url` is the Bot API's address when it is not the platform's own. `clock` says what time it is for the
    house. `on_change` is called after something was handled: what is due next may have changed, so the alarm
    should call `wake`. `on_introduced` is told, before anything is handled, the bot's username and whether it
    sees all that is written in groups; `commands` are offered when somebody types a slash; `doorway` is the
    webhook, if not long polling. `paced=False` and a small `first_pause` (s) are for tests.

    Raises TokenRefusedError for a token that cannot be one, ValueError for an `api_url` that cannot be one.
    """

    def __init__(
        self,
        desk: FrontDesk,
        token: str,
        api_url: str | None,
        clock: Callable[[], datetime],
        on_change: Callable[[], None],
        *,
        on_introduced: Callable[[str, bool], None] = lambda username, reads_groups: None,
        commands: Sequence[tuple[str, str]] = (),
        doorway: Doorway | None = None,
        watch: Watch | None = None,
        paced: bool = True,
        first_pause: float = 1.0,
    ) -> None:
        self.must_be_usable(token, api_url)
        address = (api_url or PLATFORM).rstrip("/")
        self._skew = Skew(clock)
        self._client = Client(address, token, CHATS_AT_ONCE + 4, self._skew.answered)
        self._introduction = Introduction(self._client.connection, address, token)
        self._bot_id = 0
        self._desk = desk
        self._clock = clock
        self._on_change = on_change
        self._on_introduced = on_introduced
        self._doorway = doorway
        self._first_pause = first_pause
        self._commands = commands
        self._clerk = Clerk(first_pause, watch)
        self._health = Health(self._clerk, lambda: desk.prove(clock()), self._client.get_me, self._skew)
        pace = Pace() if paced else None
        self._postman = Postman(self._client, desk, self._clerk, clock, pace, first_pause, on_change)
        self._arrived = asyncio.Event()
        self._closing = False
        self._acknowledging: set[asyncio.Task[None]] = set()
        self._putting_off: set[asyncio.Task[None]] = set()
        self.username = ""
        self.reads_groups: bool | None = None
        """Whether the bot sees all that is written in its groups; None until it has been asked."""

    @staticmethod
    def must_be_usable(token: str, api_url: str | None) -> None:
        """Raises TokenRefusedError for a token that cannot be one, ValueError for an `api_url` that cannot be."""
        if re.fullmatch(r"[A-Za-z0-9:_-]+", token) is None:
            raise TokenRefusedError("this cannot be a bot's token")
        if api_url is None:
            return
        if not api_url.startswith(("http://", "https://")):
            raise ValueError("the Bot API's address must begin with http:// or https://")
        if not is_address(api_url) or "?" in api_url or "#" in api_url:
            raise ValueError(
                "the Bot API's address must look like https://api.example.org, with a port at most"
            )

    async def run(self, stop: asyncio.Event) -> None:
        """Works until `stop` is set, then finishes what has begun, within ten seconds.

        Raises TokenRefusedError when the platform does not know the token.
        """
        await self._client.open()
        tasks = [asyncio.create_task(self._introduce())]
        try:
            await _until(stop, tasks)
            if not stop.is_set():
                receiving = asyncio.create_task(
                    self._listen(self._doorway) if self._doorway else self._poll()
                )
                handling = asyncio.create_task(self._handle_what_waits())
                sending = asyncio.create_task(self._postman.run())
                telling = asyncio.create_task(self._health.tell())
                tasks += [receiving, handling, sending, telling]
                await _until(stop, tasks[1:])
                await self._finish(receiving, handling, sending)
        finally:
            for task in tasks:
                task.cancel()
            for putting_off in self._putting_off:
                putting_off.cancel()
            await asyncio.gather(*tasks, *self._putting_off, return_exceptions=True)
            await self._clerk.idle(_LAST_WORK)
            await self._let_go()
            self._clerk.close()
            await self._client.close()

    @property
    def stuck(self) -> bool:
        """Whether something runs that did not come back in time."""
        return self._clerk.busy

    async def _let_go(self) -> None:
        """What is left waits for nobody in particular. Where that cannot be said, it is taken over all the same."""
        if self._clerk.busy:
            return
        with suppress(Exception):
            async with asyncio.timeout(1.0):
                await self._clerk.once(self._desk.let_go, self._clock())

    async def wake(self) -> datetime | None:
        """Sends what is due by now; returns the next moment at which something is due. None when stopping."""
        if self._closing:
            return None
        following = await self._clerk.once(self._desk.wake, self._clock())
        self._postman.post()
        return following

    async def _finish(self, *tasks: asyncio.Task[None]) -> None:
        receiving, handling, sending = tasks
        try:
            async with asyncio.timeout(GRACE_SECONDS):
                receiving.cancel()  # an update that is not committed is not confirmed: it comes again
                await asyncio.wait([receiving])
                self._closing = True
                self._arrived.set()
                await handling
                self._postman.finish()
                await sending
                await asyncio.gather(*self._acknowledging)
        except TimeoutError:
            log.warning("stopped with something left to do; it is kept for the next start")

    async def _introduce(self) -> None:
        """Asks who we are, until the platform answers."""
        me = await self._insist("reach the platform", self._introduction.who_we_are)
        self._bot_id = me.id
        self.username, self.reads_groups = me.username, me.can_read_all_group_messages
        self._on_introduced(self.username, self.reads_groups)
        self._health.heard()
        if self._doorway is None:
            await self._insist("switch to long polling", self._introduction.come_for_updates)
        with suppress(PlatformError):  # nice to have: tried again at the next start
            await self._introduction.offer(self._commands)
        log.info("connected as @%s", self.username)

    async def _insist(self, what: str, request: Callable[[], Coroutine[Any, Any, T]]) -> T:
        pauses = Pauses(self._first_pause)
        while True:
            try:
                return await request()
            except TokenRefusedError:
                raise
            except PlatformError as error:
                pause = pauses.next()
                if pauses.count == 1:
                    log.warning("cannot %s yet (%s); trying again", what, type(error).__name__)
                await asyncio.sleep(max(pause, _asked_pause(error)))

    async def _poll(self) -> None:
        pauses = Pauses(self._first_pause)
        offset: int | None = None
        while True:
            try:
                batch = await fetch(self._client, offset)
            except TokenRefusedError:
                raise
            except (PlatformError, msgspec.DecodeError) as error:
                pause = pauses.next()
                if pauses.count == 1:
                    log.warning("updates cannot be fetched (%s); trying again", _why_not(error))
                await asyncio.sleep(max(pause, _asked_pause(error)))
                continue
            self._health.heard()
            if pauses.over():
                log.info("updates are fetched again")
            if batch:
                await self._take_in(batch)
                self._arrived.set()
                offset = max(update_id for update_id, _ in batch) + 1

    async def _listen(self, doorway: Doorway) -> None:
        opened = asyncio.Event()
        listening = asyncio.create_task(doorway.listen(self._take_in_one, self._health.report, opened))
        try:
            await _until(opened, [listening])
            await self._insist(
                "register the webhook",
                lambda: self._introduction.be_called(doorway.url, doorway.secret),
            )
            await listening
        finally:
            listening.cancel()
            await asyncio.gather(listening, return_exceptions=True)

    async def _take_in_one(self, payload: bytes) -> None:
        entry = numbered(payload)
        if entry is None:
            raise ValueError("this is not an update")
        try:
            await self._clerk.once(self._desk.take_in, [entry], self._clock(), {entry[0]: chat_of(entry[1])})
        except Exception as error:
            self._clerk.trouble(error, self._desk.take_in.__name__)
            raise
        self._clerk.works(self._desk.take_in.__name__)
        self._health.heard()
        self._arrived.set()

    async def _take_in(self, batch: Sequence[tuple[UpdateId, str]]) -> None:
        chats = {update_id: chat_of(raw) for update_id, raw in batch}
        await self._clerk.first(self._desk.take_in, batch, self._clock(), chats)

    async def _handle_what_waits(self) -> None:
        await self._clerk.surely(self._desk.let_go, self._clock())
        while True:
            self._arrived.clear()
            waiting, following = await self._claim(suspects=False)
            if not waiting and following is not None and following <= self._clock():
                await self._postman.let_finish(
                    QUIET
                )  # what may stop everything waits for the others' answers
                waiting, following = await self._claim(suspects=True)
            if waiting:
                await self._handle_some([self._read(update) for update in waiting])
                self._on_change()
            elif self._closing:
                return
            else:
                await self._wait_for_more(following)

    async def _claim(self, *, suspects: bool) -> tuple[list[Waiting], datetime | None]:
        claim = update_wrapper(partial(self._desk.claim, suspects=suspects), self._desk.claim)
        return await self._clerk.surely(claim, AT_ONCE, self._clock())

    async def _wait_for_more(self, following: datetime | None) -> None:
        """Until something arrives, or until something that was put off may be tried again."""
        wait = None if following is None else max((following - self._clock()).total_seconds(), SOON)
        with suppress(TimeoutError):
            async with asyncio.timeout(wait):
                await self._arrived.wait()

    def _read(self, update: Waiting) -> "_Arrival":
        update_id, raw, spent = update.update_id, update.raw, update.spent
        try:
            known = opened(raw)
            if isinstance(known, NotForUs):
                return _Arrival(update_id, raw, known, None, spent)
            incoming = read_update(
                without_words(known) if spent else known, self.username, self._bot_id, self._clock()
            )
        except Exception as error:  # whatever it is, it must not hold up the others
            return _Arrival(update_id, raw, NotForUs(f"not readable: {outline(error)}"), None, spent)
        if isinstance(incoming, Incoming) and incoming.press is None and not incoming.edited:
            self._skew.written(incoming.sent_at)
        return _Arrival(update_id, raw, incoming, press_id(known), spent)

    async def _handle_some(self, arrivals: list["_Arrival"]) -> None:
        """Handles a few in the order in which they came, each in a transaction of its own."""
        while arrivals:
            answers, error = await self._clerk.once(self._in_turn, arrivals)
            done, arrivals = arrivals[: len(answers)], arrivals[len(answers) :]
            for arrival, answer in zip(done, answers, strict=True):
                self._finish_one(arrival, answer)
            if answers:
                self._clerk.works(self._desk.handle.__name__)
            if error is not None:
                arrival, arrivals = arrivals[0], arrivals[1:]
                task = asyncio.create_task(self._put_off(arrival, error))
                self._putting_off.add(task)
                task.add_done_callback(self._putting_off.discard)

    def _in_turn(self, arrivals: Sequence["_Arrival"]) -> tuple[list[str | None], Exception | None]:
        """What the house answered to each, up to the first one that failed, and how that failed; or up to where
        something else has to be done first."""
        answers: list[str | None] = []
        for arrival in arrivals:
            if answers and self._clerk.pressed:
                break
            try:
                answers.append(self._handle(arrival))
            except Exception as error:
                return answers, error
        return answers, None

    def _handle(self, arrival: "_Arrival") -> str | None:
        incoming = arrival.incoming
        if isinstance(incoming, Incoming) and arrival.spent:
            log.error("update %d is set aside: the process ended in it more than once", arrival.update_id)
            self._desk.spent(incoming, self._clock())
            return None
        if isinstance(incoming, Incoming):
            return self._desk.handle(incoming, self._clock())
        log.info("update %d is set aside: %s", arrival.update_id, incoming.why)
        self._desk.set_aside(arrival.update_id, incoming.why, self._clock())
        return None

    def _finish_one(self, arrival: "_Arrival", answer: str | None) -> None:
        if isinstance(arrival.incoming, Incoming):
            self._postman.post(answered_chat=arrival.incoming.chat_id, opened=arrival.incoming.opened)
        if arrival.press_id is not None:
            task = asyncio.create_task(self._acknowledge(arrival.press_id, answer))
            self._acknowledging.add(task)
            task.add_done_callback(self._acknowledging.discard)

    async def _put_off(self, arrival: "_Arrival", error: Exception) -> None:
        """Has it tried again, later and beside the others. To count that is a write that must work: where it does
        not, it is the database that fails, and then that was all there is to say of this failure."""
        fault, pauses = outline(error), Pauses(self._first_pause)
        known = arrival.incoming if isinstance(arrival.incoming, Incoming) else None
        while True:
            own, database = (timedelta(seconds=self._first_pause * times) for times in PUT_OFF)
            pause = database if self._clerk.in_trouble else own
            try:
                fate = await self._clerk.once(
                    self._desk.failed, arrival.update_id, known, error, fault, pause, self._clock()
                )
            except Exception as other:
                self._clerk.trouble(other, self._desk.failed.__name__)
                error = OSError("nothing could be written")
                await asyncio.sleep(pauses.next())
                continue
            break
        self._clerk.works(self._desk.failed.__name__)
        if fate == "waits":
            self._clerk.trouble(error, self._desk.handle.__name__)
        else:
            log.error("update %d could not be handled: %s", arrival.update_id, fault)
        if fate == "aside":
            self._finish_one(arrival, None)
        self._arrived.set()

    async def _acknowledge(self, query_id: str, answer: str | None) -> None:
        """Stops the pressed button's waiting sign, with a line if there is one; no loss when that fails."""
        with suppress(PlatformError):
            await self._client.answer_press(query_id, answer)


class _Arrival(msgspec.Struct, frozen=True):
    """An update as it waits, and what it says."""

    update_id: UpdateId
    raw: str
    incoming: Incoming | NotForUs
    press_id: str | None
    spent: bool


def _asked_pause(error: Exception) -> float:
    return error.seconds if isinstance(error, RetryAfterError) else 0.0


def _why_not(error: Exception) -> str:
    if isinstance(error, ConflictError):
        return "another program fetches them with the same token"
    return type(error).__name__


async def _until(stop: asyncio.Event, tasks: Sequence[asyncio.Task[None]]) -> None:
    """Waits for the stop or for the first task to end; raises what that one raised."""
    stopping = asyncio.create_task(stop.wait())
    try:
        done, _ = await asyncio.wait([stopping, *tasks], return_when=asyncio.FIRST_COMPLETED)
        for task in done - {stopping}:
            await task
    finally:
        stopping.cancel()
