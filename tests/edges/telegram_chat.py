"""Conversation scripts through Telegram: the real edge and library, the double's HTTP, a pretend clock."""

import threading
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Protocol

from bot.edges.script import Heard, House, Shown
from bot.edges.telegram.service import FrontDesk
from bot.house.talk import Incoming, Letter, Waiting
from tests.botapi.deeds import Sent
from tests.botapi.double import BotApi
from tests.edges.bench import Bench, wait_until


class FurnishedDesk(FrontDesk, Protocol):
    """A desk that can be told about a house."""

    def furnish(
        self, chat_id: int, name: str, now: datetime, *, timezone: str | None = None, **settings: str
    ) -> None:
        """Sets a household up for that chat."""


class TelegramChat:
    """A chat (`bot.edges.script.ScriptChat`) in which a whole conversation is played.

    `make_desk` gives a desk on the same data whenever it is called: at the start and after each restart.
    `bury` is called with a desk whose process has died. An exception in the desk fails the line that caused
    it. Use it as a context manager.
    """

    def __init__(
        self,
        make_desk: Callable[[], FurnishedDesk],
        bury: Callable[[FurnishedDesk], None] = lambda desk: None,
    ) -> None:
        self._make_desk = make_desk
        self._bury = bury
        self._api = BotApi()
        self._world = self._api.world
        self._bench = Bench(self._api)
        self._done: set[int] = set()
        self._read = 0

    def __enter__(self) -> "TelegramChat":
        self._api.__enter__()
        return self

    def __exit__(self, *exc: object) -> None:
        try:
            self._bench.__exit__(*exc)
            if hasattr(self, "_watched"):
                self._bury(self._watched.desk)
        finally:
            self._api.__exit__(*exc)

    def open(self, house: House, now: datetime) -> None:
        """Starts the bot for this house."""
        self._world.moment = now
        self._group = self._world.group(house.name)
        desk = self._make_desk()
        desk.furnish(
            self._group,
            house.name,
            now,
            timezone=house.timezone,
            gallon=house.gallon,
            temperature_unit=house.temperature_unit,
            chat=house.chat,
        )
        self._start(desk)

    def say(
        self, member: str, text: str, now: datetime, *, private: bool = False, reply_to: int | None = None
    ) -> int:
        """A member writes; the answer is there on return."""
        self._world.moment = now
        number = self._world.say(member, text, None if private else self._group, reply_to=reply_to)
        self._settle()
        return number

    def edit(self, member: str, message_id: int, text: str, now: datetime) -> None:
        """A member edits a message of theirs, wherever it is."""
        self._world.moment = now
        private = self._world.member(member)["id"]
        in_group = (self._group, message_id) in self._world.messages
        self._world.edit(member, message_id, text, self._group if in_group else private)
        self._settle()

    def tap(self, member: str, label: str, now: datetime) -> None:
        """A member presses the button on the latest message that has it, here or in their private chat."""
        self._world.moment = now
        found = self._world.find_button(label, self._group, self._world.member(member)["id"])
        if found is None:
            raise LookupError(f"no message has a button {label!r}")
        self._world.tap(member, label, found[0])
        self._settle()

    def latest(self) -> int:
        """The bot's latest message in the household's chat."""
        numbers = [sent.message_id for sent in self._world.sent if sent.chat_id == self._group]
        if not numbers:
            raise LookupError("the bot has not said anything yet")
        return max(numbers)

    def wake(self, now: datetime) -> datetime | None:
        """Sends what is due by now; returns the next moment at which something falls due."""
        self._world.moment = now
        following: datetime | None = self._bench.call(self._bench.edge.wake())
        self._settle()
        return following

    def restart(self, now: datetime) -> None:
        """The process dies without warning and starts again on the same data."""
        self._world.moment = now
        self._bench.kill()
        self._bury(self._watched.desk)
        self._start(self._make_desk())
        self._settle()

    def heard(self) -> list[Heard]:
        """What the bot sent since the last call."""
        names = {member["id"]: name for name, member in self._world.members.items()}
        sent, self._read = self._world.sent[self._read :], len(self._world.sent)
        return [
            Heard(
                text=message.text,
                buttons=message.labels,
                files=_files(message),
                private_to=names.get(message.chat_id),
                edited=message.edited,
            )
            for message in sent
        ]

    def _start(self, desk: FurnishedDesk) -> None:
        self._watched = self._bench.desk = _Watched(desk, self._done)
        self._bench.start()

    def _settle(self) -> None:
        watched, newest = self._watched, self._world.newest_update
        nothing_yet = not self._world.updates and not self._done

        def settled() -> bool:
            dead = self._bench.error is not None
            return dead or bool(watched.failures) or ((nothing_yet or newest in self._done) and watched.quiet)

        wait_until(settled, "the bot has done all it had to do")
        for failure in (*watched.failures, self._bench.error):
            if failure is not None:
                raise AssertionError("the bot failed") from failure


KINDS = {"text/calendar": "calendar"}
"""What a file of each media type is called in a transcript: the platform does not tell."""


def _files(message: Sent) -> tuple[Shown, ...]:
    if message.file_name is None or message.media_type is None:
        return ()
    return (Shown(KINDS[message.media_type], message.file_name),)


class _Watched:
    """A desk that tells when there is nothing left to do."""

    def __init__(self, desk: FurnishedDesk, done: set[int]) -> None:
        self.desk = desk
        self.failures: list[Exception] = []
        self._done = done
        self._changes = 1  # the outbox is looked at once after the start
        self._changes_seen = 0
        self._open: set[int] = set()
        self._lock = threading.Lock()

    @property
    def quiet(self) -> bool:
        """Whether the outbox was looked at after the last change, and all that was in it has gone."""
        with self._lock:
            return self._changes == self._changes_seen and not self._open

    def take_in(
        self, updates: Sequence[tuple[int, str]], now: datetime, chats: Mapping[int, int | None] | None = None
    ) -> None:
        self.desk.take_in(updates, now, chats)

    def claim(
        self, most: int, now: datetime, *, suspects: bool = True
    ) -> tuple[list[Waiting], datetime | None]:
        return self.desk.claim(most, now, suspects=suspects)

    def let_go(self, now: datetime) -> None:
        self.desk.let_go(now)

    def prove(self, now: datetime) -> int:
        return self.desk.prove(now)

    def handle(self, incoming: Incoming, now: datetime) -> str | None:
        try:
            answer = self.desk.handle(incoming, now)
        except Exception as error:
            self.failures.append(error)
            raise
        self._changed()
        self._done.add(incoming.update_id)
        return answer

    def failed(
        self,
        update_id: int,
        incoming: Incoming | None,
        error: Exception,
        why: str,
        pause: timedelta,
        now: datetime,
    ) -> str:
        fate = self.desk.failed(update_id, incoming, error, why, pause, now)
        if fate == "aside":
            self._done.add(update_id)
        return fate

    def spent(self, incoming: Incoming, now: datetime) -> None:
        self.desk.spent(incoming, now)
        self._done.add(incoming.update_id)

    def set_aside(self, update_id: int, why: str, now: datetime) -> None:
        self.desk.set_aside(update_id, why, now)
        self._done.add(update_id)

    def wake(self, now: datetime) -> datetime | None:
        following = self.desk.wake(now)
        self._changed()
        return following

    def unsent(self, now: datetime, after: int = 0) -> list[Letter]:
        letters = self.desk.unsent(now, after)
        with self._lock:
            self._changes_seen = self._changes
            kept = self._open if after else set()
            self._open = kept | {letter.letter_id for letter in letters}
        return letters

    def file(self, letter_id: int) -> Callable[[], bytes] | None:
        return self.desk.file(letter_id)

    def hold(self, letter_ids: Sequence[int], now: datetime) -> set[int]:
        return self.desk.hold(letter_ids, now)

    def sent(self, letters: Sequence[tuple[int, int]], now: datetime) -> bool:
        changed = self.desk.sent(letters, now)
        for letter_id, _ in letters:
            self._gone(letter_id)
        return changed

    def refused(self, letter_id: int, why: str, now: datetime, *, gone: bool = True) -> None:
        self.desk.refused(letter_id, why, now, gone=gone)
        self._gone(letter_id)

    def put_off(self, letter_id: int, why: str, now: datetime) -> None:
        self.desk.put_off(letter_id, why, now)

    def moved(self, chat_id: int, new_chat_id: int, now: datetime) -> None:
        self.desk.moved(chat_id, new_chat_id, now)
        self._changed()

    def _changed(self) -> None:
        with self._lock:
            self._changes += 1

    def _gone(self, letter_id: int) -> None:
        with self._lock:
            self._open.discard(letter_id)
