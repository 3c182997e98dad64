"""Letters out: in order within a chat, several chats at once, at the platform's pace."""

import asyncio
import logging
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from functools import partial, update_wrapper
from time import monotonic
from typing import Protocol

import msgspec

from bot.edges.telegram.clerk import Clerk, outline
from bot.edges.telegram.client import Client, InlineButton, Upload, Written
from bot.edges.telegram.errors import (
    BadRequestError,
    ForbiddenError,
    MovedError,
    PlatformError,
    RetryAfterError,
    TokenRefusedError,
)
from bot.edges.telegram.pace import Pace, Pauses
from bot.house.talk import Button, Letter
from bot.ids import ChatId, LetterId, MessageId
from bot.say.manner import plain

log = logging.getLogger(__name__)

CHATS_AT_ONCE = 8
LOOK_AT_ALL = 1.0
"""Seconds between two readings of all that is unsent, while there is something new."""

MOST_SERVED = 2_000
"""Households of which it is remembered when they were served last."""

LONG_LABEL = 12
BUTTONS_A_ROW = 3

# What the platform says (compared in lower case) when a letter cannot go as it is.
_BAD_MARKUP = "can't parse entities"
_NOT_CHANGED = "message is not modified"
_NOT_EDITABLE = ("message to edit not found", "message can't be edited", "caption is too long")
_IS_CAPTION = "there is no text in the message to edit"  # it carries a file
_NO_THREAD = ("message thread not found", "topic_closed", "topic_deleted", "topic closed", "topic deleted")
_GONE = (
    "kicked",
    "blocked",
    "deactivated",
    "chat not found",
    "not a member",
    "can't initiate conversation",
    "chat was deleted",
    "to bots",
)
"""The bot is no longer in the chat, or nobody is who would want to hear of it."""
_NOT_NOW = (
    "not enough rights",
    "no rights to send",
    "have no rights",
    "write_forbidden",
    "chat_restricted",
    "chat_send_",
    "admin_required",
    "administrator rights",
    "topic_closed",
    "topic closed",
)
"""The bot is muted, or the whole group is: that passes."""

LONGEST_REST = 600.0
"""Seconds between two attempts in a chat that takes nothing for now."""

RENEW = 5.0
"""Seconds after which a letter that is still on its way is held for longer."""

HOLD_FOR = timedelta(seconds=3)
"""What is left of a hold must be longer, or it is taken anew before the letter leaves."""

STRANGERS_AT_ONCE = CHATS_AT_ONCE // 2
"""Chats of no household that are written to at once: the rest of the places are kept for those in one."""


class Outbox(Protocol):
    """The desk, as the sender sees it."""

    def unsent(self, now: datetime, after: int = 0) -> list[Letter]:
        """Those with a number above `after`, replies before reminders, else oldest first."""
        ...

    def file(self, letter_id: LetterId) -> Callable[[], bytes] | None:
        """Makes what is in the letter's file, beside the desk's other work; None where the letter was taken back
        meanwhile."""
        ...

    def hold(self, letter_ids: Sequence[LetterId], now: datetime) -> set[LetterId]:
        """Takes letters to be sent by this process, or goes on holding them; returns those that it has."""
        ...

    def sent(self, letters: Sequence[tuple[LetterId, MessageId]], now: datetime) -> bool:
        """They were delivered, each as the message beside it; in one commit. Whether others changed by that."""
        ...

    def refused(self, letter_id: LetterId, why: str, now: datetime, *, gone: bool = True) -> None:
        """It can never be delivered; `gone` where nothing more can be in that chat."""

    def put_off(self, letter_id: LetterId, why: str, now: datetime) -> None:
        """Its chat does not take it for now."""

    def moved(self, chat_id: ChatId, new_chat_id: ChatId, now: datetime) -> None:
        """The chat goes on under a new id."""


class _PassingError(Exception):
    """Not delivered now; the same letter may well go later."""

    def __init__(self, why: str, longest: float = 30.0) -> None:
        super().__init__(why)
        self.longest = longest


class Postman:
    """Takes what is unsent from the outbox to the platform and marks it.

    A letter is marked after it was delivered: a crash between the two repeats one message.
    """

    def __init__(
        self,
        client: Client,
        outbox: Outbox,
        clerk: Clerk,
        clock: Callable[[], datetime],
        pace: Pace | None,
        first_pause: float,
        on_open: Callable[[], None] = lambda: None,
    ) -> None:
        """`on_open` is called when a chat takes letters again."""
        self._client = client
        self._outbox = outbox
        self._clerk = clerk
        self._clock = clock
        self._pace = pace
        self._first_pause = first_pause
        self._queues: dict[ChatId, list[Letter]] = {}
        self._waited_for: dict[ChatId, None] = {}
        self._under_way: dict[ChatId, asyncio.Task[None]] = {}
        self._on_its_way: dict[LetterId, tuple[Letter, float]] = {}
        self._served: dict[object, int] = {}
        self._servings = 0
        self._put_off: set[LetterId] = set()
        self._on_open = on_open
        self._done: set[LetterId] = set()
        self._resting: dict[ChatId, float] = {}
        self._pauses: dict[ChatId, Pauses] = {}
        self._unmarked: list[tuple[LetterId, MessageId]] = []
        self._marking = asyncio.Lock()
        self._look = True
        self._newest = 0
        self._half_looked = False
        self._look_at_all_at = float("-inf")
        self._finishing = False
        self._fatal: TokenRefusedError | None = None
        self._stirred = asyncio.Event()

    def post(self, answered_chat: ChatId | None = None, *, opened: bool = False) -> None:
        """There may be something to send. Chats in which somebody waits go first; one that was `opened` need not
        wait for its next attempt."""
        if answered_chat is not None:
            self._waited_for[answered_chat] = None
        if opened and answered_chat is not None and self._pauses.pop(answered_chat, None) is not None:
            self._resting.pop(answered_chat, None)
        self._look = True
        self._stirred.set()

    async def let_finish(self, seconds: float) -> None:
        """Returns when all that could leave has left, or after that time."""
        until = monotonic() + seconds
        while (self._look or self._under_way) and monotonic() < until:
            await asyncio.sleep(0.02)

    def finish(self) -> None:
        """Sends what may go at once, then lets `run` end."""
        self._finishing = True
        self.post()

    async def run(self) -> None:
        """Sends until told to finish. Raises TokenRefusedError when the platform refuses the token."""
        holding = asyncio.create_task(self._hold_on())
        try:
            while True:
                self._stirred.clear()
                if self._look:
                    await self._look_in()
                wait = await self._set_out()
                if self._half_looked:
                    until = max(self._look_at_all_at - monotonic(), 0.0)
                    self._look = until == 0
                    wait = until if wait is None else min(wait, until)
                if self._fatal is not None:
                    raise self._fatal
                if self._finishing and not self._under_way and not self._look:
                    return
                # Not wait_for: in Python 3.11 that one can swallow a cancellation.
                with suppress(TimeoutError):
                    async with asyncio.timeout(wait):
                        await self._stirred.wait()
        finally:
            tasks = [holding, *self._under_way.values()]
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    async def _look_in(self) -> None:
        """Reads what is new in the outbox; all of it now and then, since letters are withdrawn, and numbers of
        several writers need not come in order. Reading all of a backlog for each letter would be dear."""
        self._look = False
        asking = list(self._waited_for)
        everything = monotonic() >= self._look_at_all_at
        after = 0 if everything else self._newest
        letters = await self._clerk.surely(self._outbox.unsent, self._clock(), after)
        if everything:
            self._queues.clear()
            self._look_at_all_at = monotonic() + LOOK_AT_ALL
            self._half_looked = False
            # One that was marked while the outbox was being read may still be among these.
            self._done &= {letter.letter_id for letter in letters}
        else:
            self._half_looked = True
        for letter in letters:
            self._newest = max(self._newest, letter.letter_id)
            if letter.letter_id not in self._done:
                queue = self._queues.setdefault(letter.chat_id, [])
                queue.append(letter)
                queue.sort(key=lambda waiting: (waiting.reminder, waiting.letter_id))
        for chat_id in asking:
            if chat_id not in self._queues:
                self._waited_for.pop(chat_id, None)

    async def _set_out(self) -> float | None:
        """Starts all that may start now; returns after how many seconds another one may."""
        now, moment = monotonic(), self._clock()
        soonest: float | None = None
        places = CHATS_AT_ONCE - len(self._under_way)
        strangers = sum(letter.household is None for letter, _ in self._on_its_way.values())
        leaving: list[Letter] = []
        for letter in self._in_turn():
            if len(leaving) >= places:
                soonest = None
                break
            if letter.household is None and strangers >= STRANGERS_AT_ONCE:
                continue
            ready_at = self._ready_at(letter, now, moment)
            if ready_at > now:
                soonest = min(soonest, ready_at - now) if soonest is not None else ready_at - now
                continue
            if self._pace is not None:
                self._pace.note(letter.chat_id, now)
            strangers += letter.household is None
            leaving.append(letter)
        held = await self._hold([letter for letter in leaving if not _held_long(letter, moment)])
        for letter in leaving:
            if letter.letter_id in held or _held_long(letter, moment):
                self._start(letter)
            else:  # another process has it, or one that goes before: how it is then is read anew
                self._rest(letter.chat_id, LOOK_AT_ALL)
                self._half_looked = True
                soonest = min(soonest or LOOK_AT_ALL, LOOK_AT_ALL)
        return soonest

    def _in_turn(self) -> list[Letter]:
        """The letter that is next in each chat: households before strangers, then where somebody waits, then
        those that were served longest ago."""
        heads = [queue[0] for chat_id, queue in self._queues.items() if chat_id not in self._under_way]
        return sorted(
            heads,
            key=lambda letter: (
                letter.household is None,
                letter.chat_id not in self._waited_for,
                self._served.get(_house(letter), 0),
                letter.reminder,
                letter.letter_id,
            ),
        )

    def _ready_at(self, letter: Letter, now: float, moment: datetime) -> float:
        """The moment (monotonic, s) from which it may leave."""
        ready_at = self._resting.get(letter.chat_id, now)
        if self._pace is not None:
            ready_at = max(ready_at, self._pace.ready_at(letter.chat_id))
        if letter.held_until is not None and letter.held_until > moment and not letter.ours:
            self._half_looked = True  # it may be sent long before that
            ready_at = max(ready_at, now + (letter.held_until - moment).total_seconds())
        return ready_at

    def _start(self, letter: Letter) -> None:
        self._servings += 1
        self._served[_house(letter)] = self._servings
        if len(self._served) > MOST_SERVED:
            del self._served[min(self._served, key=self._served.__getitem__)]
        self._on_its_way[letter.letter_id] = letter, monotonic()
        self._under_way[letter.chat_id] = asyncio.create_task(self._deliver(letter))

    async def _hold(self, letters: Sequence[Letter]) -> set[LetterId]:
        if not letters:
            return set()
        ids = [letter.letter_id for letter in letters]
        return await self._clerk.surely(self._outbox.hold, ids, self._clock())

    async def _hold_on(self) -> None:
        """Goes on holding what takes long to be delivered, so that no other process takes it to be forgotten."""
        while True:
            await asyncio.sleep(RENEW)
            since = monotonic() - RENEW
            await self._hold([letter for letter, began in self._on_its_way.values() if began <= since])

    async def _deliver(self, letter: Letter) -> None:
        chat_id, letter_id = letter.chat_id, letter.letter_id
        try:
            await self._take(letter)
        except RetryAfterError as error:
            self._rest(chat_id, error.seconds)
            log.warning("a chat must wait %g s before its next message", error.seconds)
        except _PassingError as error:
            pauses = self._pauses.setdefault(chat_id, Pauses(self._first_pause, error.longest))
            if pauses.count == 0:
                log.warning("letter %d could not be delivered yet (%s); trying again", letter_id, error)
            self._rest(chat_id, pauses.next())
        except TokenRefusedError as error:
            self._fatal = error
        else:
            self._resting.pop(chat_id, None)
            if self._pauses.pop(chat_id, None) is not None:
                log.info("letter %d is done with after all", letter_id)
        finally:
            del self._under_way[chat_id]
            self._on_its_way.pop(letter_id, None)
            self._stirred.set()

    def _rest(self, chat_id: ChatId, seconds: float) -> None:
        self._resting[chat_id] = monotonic() + seconds

    async def _take(self, letter: Letter) -> None:
        """Delivers it and marks it, as sent or as refused."""
        try:
            message_id = await self._send(letter)
        except (RetryAfterError, TokenRefusedError):
            raise
        except MovedError as error:
            await self._clerk.surely(self._outbox.moved, letter.chat_id, error.new_chat_id, self._clock())
            self._look_at_all_at = float("-inf")
            self.post()
            raise _PassingError("the chat has a new id") from None
        except (ForbiddenError, BadRequestError) as error:
            said = str(error)
            why = said.lower()
            gone = any(sign in why for sign in _GONE)
            if not gone and (isinstance(error, ForbiddenError) or any(sign in why for sign in _NOT_NOW)):
                await self._keep(letter, said)
                raise _PassingError("the chat takes nothing for now", LONGEST_REST) from None
            log.warning("letter %d is refused: %s", letter.letter_id, said)
            await self._refuse(letter, said, gone=gone)
        except PlatformError as error:
            raise _PassingError(type(error).__name__) from None
        except Exception as error:
            # A fault of ours, after which nobody knows whether it arrived: rather once than for ever.
            log.error("letter %d went wrong: %s", letter.letter_id, outline(error))
            await self._refuse(letter, type(error).__name__, gone=False)
        else:
            await self._mark(letter, message_id)

    async def _mark(self, letter: Letter, message_id: MessageId) -> None:
        """Marks it as sent: those that are delivered while one commit is under way share the next."""
        self._strike(letter)
        self._unmarked.append((letter.letter_id, message_id))
        async with self._marking:
            unmarked, self._unmarked = self._unmarked, []
            changed = False
            if unmarked:
                changed = await self._clerk.surely(self._outbox.sent, unmarked, self._clock())
            if changed:
                self._queues.clear()  # what waits is to be sent in another way than was read
                self._look_at_all_at = float("-inf")
                self._look = True
        if letter.letter_id in self._put_off:
            self._put_off.discard(letter.letter_id)
            self._on_open()

    async def _keep(self, letter: Letter, why: str) -> None:
        """The chat does not take it for now, so it waits; said to the house once."""
        if letter.letter_id not in self._put_off:
            self._put_off.add(letter.letter_id)
            await self._clerk.surely(self._outbox.put_off, letter.letter_id, why, self._clock())

    async def _refuse(self, letter: Letter, why: str, *, gone: bool) -> None:
        self._strike(letter)
        refuse = partial(self._outbox.refused, gone=gone)
        update_wrapper(refuse, self._outbox.refused)
        await self._clerk.surely(refuse, letter.letter_id, why, self._clock())

    def _strike(self, letter: Letter) -> None:
        self._done.add(letter.letter_id)
        queue = self._queues.get(letter.chat_id, [])
        queue[:] = [other for other in queue if other.letter_id != letter.letter_id]
        if not queue:
            self._queues.pop(letter.chat_id, None)
            self._waited_for.pop(letter.chat_id, None)

    async def _send(self, letter: Letter) -> MessageId:
        """Delivers it, if need be in a lesser form, and returns the message's id."""
        bare = caption = False
        upload = await self._upload(letter)
        while True:
            try:
                return await self._hand_over(letter, bare, caption, upload)
            except BadRequestError as error:
                why = str(error).lower()
                if letter.edits is not None and _NOT_CHANGED in why:
                    return letter.edits
                if _BAD_MARKUP in why and not bare:
                    log.error("letter %d has bad markup; sending it as plain text", letter.letter_id)
                    bare = True
                elif letter.edits is not None and _IS_CAPTION in why and not caption:
                    caption = True
                elif letter.edits is not None and any(said in why for said in _NOT_EDITABLE):
                    letter, caption = msgspec.structs.replace(letter, edits=None), False
                elif letter.thread_id is not None and any(said in why for said in _NO_THREAD):
                    letter = msgspec.structs.replace(letter, thread_id=None)
                else:
                    raise

    async def _upload(self, letter: Letter) -> Upload | None:
        if letter.file is None:
            return None
        make = await self._clerk.surely(self._outbox.file, letter.letter_id)
        if make is None:
            raise BadRequestError("its file is gone")
        content = await asyncio.to_thread(make)
        return Upload(letter.file.name, content, letter.file.media_type)

    async def _hand_over(self, letter: Letter, bare: bool, caption: bool, upload: Upload | None) -> MessageId:
        """Sends or changes it: `caption` where the message to change carries a file, `upload` where this one
        does."""
        text = plain(letter.html) if bare else letter.html
        written = Written(text, html=not bare, keyboard=button_rows(letter.buttons))
        chat_id, reply_to, thread_id = letter.chat_id, letter.reply_to, letter.thread_id
        if letter.edits is not None:
            edit = self._client.edit_caption if caption else self._client.edit_text
            await edit(chat_id, letter.edits, written)
            return letter.edits
        if upload is not None:
            return await self._client.send_document(
                chat_id, upload, written, reply_to=reply_to, thread_id=thread_id
            )
        return await self._client.send_message(chat_id, written, reply_to=reply_to, thread_id=thread_id)


def _house(letter: Letter) -> object:
    """Whose turn it is with this letter: a household's, or a stranger's."""
    return letter.household if letter.household is not None else ("chat", letter.chat_id)


def _held_long(letter: Letter, moment: datetime) -> bool:
    """Whether it is this process's for long enough to be delivered meanwhile."""
    return letter.ours and letter.held_until is not None and letter.held_until - moment > HOLD_FOR


def button_rows(buttons: tuple[Button, ...]) -> list[list[InlineButton]]:
    """One button a row when a label is long, else up to three."""
    long = any(len(button.label) > LONG_LABEL for button in buttons)
    width = 1 if long else BUTTONS_A_ROW
    keys = [InlineButton(button.label, button.data) for button in buttons]
    return [keys[start : start + width] for start in range(0, len(keys), width)]
