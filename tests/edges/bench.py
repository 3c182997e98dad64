"""What edge tests stand on: a desk that records, an edge in a thread, and waiting for a condition."""

import asyncio
import threading
import time
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from datetime import datetime, timedelta
from typing import Any

from bot.edges import clock
from bot.edges.telegram.service import FrontDesk, TelegramEdge
from bot.house.desk import ATTEMPTS
from bot.house.talk import Button, Incoming, Letter, Waiting
from tests.botapi.double import BotApi


def wait_until(condition: Callable[[], Any], what: str, seconds: float = 15.0) -> None:
    """Returns as soon as the condition holds; fails at the deadline."""
    deadline = time.monotonic() + seconds
    while not condition():
        if time.monotonic() > deadline:
            raise AssertionError(f"not within {seconds:.0f} s: {what}")
        time.sleep(0.002)


class BrokenDatabaseError(Exception):
    """What the recording desk raises when it is told to fail."""


class RecordingDesk:
    """A desk in memory that notes what it is asked. It survives the edge, as a database does."""

    def __init__(self) -> None:
        self.inbox: dict[int, str] = {}
        self.done: dict[int, str] = {}
        self.handled: list[Incoming] = []
        self.letters: dict[int, Letter] = {}
        self.contents: dict[int, bytes] = {}
        """What is in the files of letters."""
        self.fates: dict[int, int | str] = {}
        self.kept: dict[int, str] = {}
        self.gone: set[int] = set()
        self.claimed: set[int] = set()
        self.put_offs: dict[int, float] = {}
        self.failures: Counter[int] = Counter()
        self.moves: list[tuple[int, int]] = []
        self.log: list[str] = []
        self.failing: Counter[str] = Counter()
        self.down = False
        self.fails_from = ""
        self.overlapped = False
        self.answer: Callable[[Incoming], Sequence[dict[str, Any]]] = lambda incoming: ()
        self.following: datetime | None = None
        self.toast: str | None = None
        self._inside = threading.Lock()

    def take_in(
        self, updates: Sequence[tuple[int, str]], now: datetime, chats: Mapping[int, int | None] | None = None
    ) -> None:
        with self._alone("take_in"):
            for update_id, raw in updates:
                self.inbox.setdefault(update_id, raw)

    def claim(
        self, most: int, now: datetime, *, suspects: bool = True
    ) -> tuple[list[Waiting], datetime | None]:
        with self._alone("claim"):
            put_off = {number for number, until in self.put_offs.items() if until > time.monotonic()}
            free = sorted(self.inbox.keys() - self.done.keys() - put_off - self.claimed)
            self.claimed |= set(free[:most])
            return [Waiting(number, self.inbox[number]) for number in free[:most]], (
                now + timedelta(seconds=0.01) if put_off and not free else None
            )

    def let_go(self, now: datetime) -> None:
        with self._alone("let_go"):
            self.claimed.clear()

    def prove(self, now: datetime) -> int:
        with self._alone("prove"):
            return len(self.inbox.keys() - self.done.keys())

    def handle(self, incoming: Incoming, now: datetime) -> str | None:
        with self._alone("handle"):
            letters = self.answer(incoming)
            assert incoming.update_id not in self.done, "handled twice"
            self.done[incoming.update_id] = ""
            self.handled.append(incoming)
            for letter in letters:
                self.put({"chat_id": incoming.chat_id, "thread_id": incoming.thread_id, **letter})
            return self.toast

    def failed(
        self,
        update_id: int,
        incoming: Incoming | None,
        error: Exception,
        why: str,
        pause: timedelta,
        now: datetime,
    ) -> str:
        with self._alone("failed"):
            outage = isinstance(error, OSError | BrokenDatabaseError)
            self.claimed.discard(update_id)
            self.put_offs[update_id] = time.monotonic() + pause.total_seconds()
            self.failures[update_id] += not outage
            if outage or self.failures[update_id] < ATTEMPTS:
                return "waits" if outage else "again"
            self.done[update_id] = f"failed {ATTEMPTS} times: {why}"
            return "aside"

    def spent(self, incoming: Incoming, now: datetime) -> None:
        with self._alone("spent"):
            self.done[incoming.update_id] = "spent"

    def set_aside(self, update_id: int, why: str, now: datetime) -> None:
        with self._alone("set_aside"):
            self.done[update_id] = why

    def wake(self, now: datetime) -> datetime | None:
        with self._alone("wake"):
            return self.following

    def unsent(self, now: datetime, after: int = 0) -> list[Letter]:
        with self._alone("unsent"):
            return [
                letter
                for number, letter in self.letters.items()
                if number not in self.fates and number > after
            ]

    def file(self, letter_id: int) -> Callable[[], bytes] | None:
        with self._alone("file"):
            content = self.contents.get(letter_id)
            return None if content is None else lambda: content

    def hold(self, letter_ids: Sequence[int], now: datetime) -> set[int]:
        with self._alone("hold"):
            return set(letter_ids)

    def sent(self, letters: Sequence[tuple[int, int]], now: datetime) -> bool:
        with self._alone("sent"):
            self.fates.update(letters)
            return False

    def refused(self, letter_id: int, why: str, now: datetime, *, gone: bool = True) -> None:
        with self._alone("refused"):
            self.fates[letter_id] = why
            if gone:
                self.gone.add(self.letters[letter_id].chat_id)

    def put_off(self, letter_id: int, why: str, now: datetime) -> None:
        with self._alone("put_off"):
            self.kept[letter_id] = why

    def moved(self, chat_id: int, new_chat_id: int, now: datetime) -> None:
        with self._alone("moved"):
            self.moves.append((chat_id, new_chat_id))
            for number, letter in self.letters.items():
                if letter.chat_id == chat_id:
                    self.letters[number] = _replace(letter, chat_id=new_chat_id)

    # For tests

    def put(self, fields: dict[str, Any]) -> int:
        """Puts a letter into the outbox."""
        number = len(self.letters) + 1
        held = {
            "household": 1,
            "ours": True,
            "held_until": clock.now() + timedelta(days=999),
        }
        self.letters[number] = Letter(letter_id=number, **(held | fields))
        return number

    @property
    def texts(self) -> list[str | None]:
        """The texts that were handled, in order."""
        return [incoming.text for incoming in self.handled]

    def wait_for_more_calls(self, count: int) -> None:
        """Returns after that many more calls."""
        before = len(self.log)
        wait_until(lambda: len(self.log) >= before + count, f"{count} more calls")

    @property
    def open_letters(self) -> set[int]:
        """The letters that are neither sent nor refused."""
        return self.letters.keys() - self.fates.keys()

    def _alone(self, what: str) -> "_Alone":
        return _Alone(self, what)


class _Alone:
    """One call at a time, noted; fails while it is told to."""

    def __init__(self, desk: RecordingDesk, what: str) -> None:
        self.desk, self.what = desk, what

    def __enter__(self) -> None:
        if not self.desk._inside.acquire(blocking=False):
            self.desk.overlapped = True
            self.desk._inside.acquire()
        self.desk.log.append(self.what)
        if self.what == self.desk.fails_from:
            self.desk.fails_from, self.desk.down = "", True
        if self.desk.down or self.desk.failing[self.what] > 0:
            self.desk.failing[self.what] -= 1
            self.desk._inside.release()
            raise BrokenDatabaseError(f"a row that holds the words sg 1.012 ({self.what})")

    def __exit__(self, *exc: object) -> None:
        self.desk._inside.release()


def _replace(letter: Letter, **changes: Any) -> Letter:
    fields = {name: getattr(letter, name) for name in letter.__struct_fields__}
    return Letter(**(fields | changes))


class Bench:
    """An edge that runs in a thread of its own, on a desk and a Bot API that outlive it."""

    def __init__(self, api: BotApi, desk: FrontDesk | None = None, **options: Any) -> None:
        self.api = api
        self.world = api.world
        self.recording = RecordingDesk()
        self.desk: FrontDesk = self.recording if desk is None else desk
        self.options: dict[str, Any] = {"paced": False, "first_pause": 0.01} | options
        self.changes = 0
        self.error: BaseException | None = None
        self._thread: threading.Thread | None = None

    def __enter__(self) -> "Bench":
        return self

    def __exit__(self, *exc: object) -> None:
        if self._thread is not None:
            self.stop()
        assert not self.recording.overlapped, "the desk was asked two things at a time"

    def start(self, token: str | None = None) -> "Bench":
        """Starts an edge."""
        assert self._thread is None, "it runs already"
        self.error = None
        self.edge = TelegramEdge(
            self.desk,
            self.world.token if token is None else token,
            self.api.url,
            lambda: self.world.moment,
            self._note_change,
            **self.options,
        )
        began = threading.Event()
        self._thread = threading.Thread(target=lambda: asyncio.run(self._main(began)), name="edge")
        self._thread.start()
        assert began.wait(10)
        return self

    def stop(self) -> float:
        """Tells it to stop, waits, and returns how many seconds that took."""
        began = time.monotonic()
        self.tell_to_stop()
        return self._join(began)

    def tell_to_stop(self) -> None:
        """Tells it to stop and does not wait."""
        self._loop.call_soon_threadsafe(self._stop.set)

    def kill(self) -> None:
        """The edge dies where it stands: nothing is finished, nothing is confirmed."""
        self._loop.call_soon_threadsafe(self._task.cancel)
        self._join(time.monotonic())

    def join(self) -> None:
        """Waits until it ends by itself."""
        self._join(time.monotonic())

    def begin(self, coroutine: Any) -> "Future[Any]":
        """Starts a coroutine in the edge's event loop."""
        return asyncio.run_coroutine_threadsafe(coroutine, self._loop)

    def call(self, coroutine: Any) -> Any:
        """Runs a coroutine in the edge's event loop."""
        return self.begin(coroutine).result(15)

    def post(self, **fields: Any) -> int:
        """Puts a letter into the outbox and has it sent, as a reminder would be."""
        number = self.recording.put(fields)
        self.call(self.edge.wake())
        return number

    def _join(self, began: float) -> float:
        thread, self._thread = self._thread, None
        assert thread is not None
        thread.join(20)
        assert not thread.is_alive(), "the edge did not end"
        return time.monotonic() - began

    def _note_change(self) -> None:
        self.changes += 1

    async def _main(self, began: threading.Event) -> None:
        self._loop = asyncio.get_running_loop()
        self._stop = asyncio.Event()
        self._task = asyncio.create_task(self.edge.run(self._stop))
        began.set()
        try:
            await self._task
        except (Exception, asyncio.CancelledError) as error:
            self.error = error


def buttons(*labels: str) -> tuple[Button, ...]:
    """Buttons with these labels."""
    return tuple(Button(label=label, data=f"b:{index}") for index, label in enumerate(labels))
