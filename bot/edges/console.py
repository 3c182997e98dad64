"""The same conversation in a terminal: several members, numbered choices, a clock that can be moved."""

import asyncio
import re
import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from zlib import crc32

import msgspec

from bot.edges.script import Heard, House, Shown
from bot.house.desk import Desk
from bot.house.talk import Incoming, Letter
from bot.ids import ChatId, MessageId, UpdateId
from bot.say.manner import plain

GROUP = ChatId(-1)
_MOVE = re.compile(r"\+\s?((?:\d{1,6}\s?[dhm]\s?)+)$")
_AMOUNT = re.compile(r"(\d{1,6})\s?([dhm])")
_SPEAKER = re.compile(r"([^\W\d][\w'’-]{0,30}):\s+(.+)$", re.S)


class _Posted(msgspec.Struct):
    """A message of the bot in the chat, as it now stands."""

    message_id: MessageId
    chat_id: ChatId
    text: str
    buttons: tuple[tuple[str, str], ...]


class ConsoleChat:
    """A chat over a desk, one process: what a member types goes in, what the bot posts comes out.

    `open_desk` opens the desk anew on the same data: a restart is just that.
    """

    def __init__(
        self, open_desk: Callable[[], Desk], first_id: int = 1, *, files: Path | None = None
    ) -> None:
        """Ids of updates and messages count up from `first_id`, which must be past all that the data has. What
        the bot sends as a file is written into the folder `files`; without one it is only named."""
        self._open_desk = open_desk
        self._files = files
        self._desk = open_desk()
        self._id = first_id
        self._shown: list[_Posted] = []
        self._heard: list[Heard] = []
        self._names: dict[int, str] = {}

    def open(self, house: House, now: datetime) -> None:
        self._desk.furnish(
            GROUP,
            house.name,
            now,
            timezone=house.timezone,
            gallon=house.gallon,
            temperature_unit=house.temperature_unit,
            chat=house.chat,
        )

    def say(
        self,
        member: str,
        text: str,
        now: datetime,
        *,
        private: bool = False,
        reply_to: MessageId | None = None,
    ) -> MessageId:
        message_id = self._next()
        self._take(member, now, message_id, private=private, text=text, reply_to=reply_to)
        return message_id

    def edit(self, member: str, message_id: MessageId, text: str, now: datetime) -> None:
        self._take(member, now, message_id, text=text, edited=True)

    def tap(self, member: str, label: str, now: datetime) -> None:
        wanted = label.casefold()
        buttons = [
            (words.casefold(), data, shown)
            for shown in reversed(self._shown)
            for words, data in shown.buttons
        ]
        whole = [(data, shown) for words, data, shown in buttons if words == wanted]
        part = [(data, shown) for words, data, shown in buttons if wanted in words]
        if not whole and not part:
            raise LookupError(f"no button says {label!r}")
        data, shown = (whole or part)[0]
        self.press(member, shown.message_id, data, now, chat_id=shown.chat_id)

    def press(
        self, member: str, message_id: MessageId, data: str, now: datetime, *, chat_id: ChatId = GROUP
    ) -> None:
        """A member presses a button."""
        self._take(member, now, message_id, private=chat_id != GROUP, press=data)

    def latest(self) -> MessageId:
        if not self._shown:
            raise LookupError("the bot has said nothing yet")
        return max(shown.message_id for shown in self._shown)

    @property
    def choices(self) -> tuple[tuple[str, MessageId, str], ...]:
        """The buttons of the latest message: label, its message, data."""
        if not self._shown:
            return ()
        last = self._shown[-1]
        return tuple((label, last.message_id, data) for label, data in last.buttons)

    def wake(self, now: datetime) -> datetime | None:
        following = self._desk.wake(now)
        self._deliver(now)
        return following

    def restart(self, now: datetime) -> None:
        self.close()
        self._desk = self._open_desk()

    def close(self) -> None:
        """Lets go of the database."""
        self._desk.close()

    def heard(self) -> list[Heard]:
        heard, self._heard = self._heard, []
        return heard

    def _next(self) -> MessageId:
        self._id += 1
        return MessageId(self._id)

    def _take(
        self,
        member: str,
        now: datetime,
        message_id: MessageId,
        *,
        private: bool = False,
        text: str | None = None,
        reply_to: MessageId | None = None,
        press: str | None = None,
        edited: bool = False,
    ) -> None:
        person = crc32(member.casefold().encode())
        self._names[person] = member
        incoming = Incoming(
            update_id=UpdateId(self._next()),
            chat_id=ChatId(person) if private else GROUP,
            private=private,
            sender_id=person,
            sender_name=member,
            message_id=message_id,
            sent_at=now,
            text=text,
            reply_to=reply_to,
            press=press,
            edited=edited,
            addressed=bool(text and text.startswith("/")),
        )
        self._desk.handle(incoming, now)
        self._deliver(now)

    def _deliver(self, now: datetime) -> None:
        for letter in self._desk.unsent(now):
            message_id = letter.edits if letter.edits is not None else self._next()
            files = self._keep(letter)
            self._desk.sent([(letter.letter_id, message_id)], now)
            self._show(letter, message_id, files)

    def _keep(self, letter: Letter) -> tuple[Shown, ...]:
        """Writes the letter's file down, under a name of its own, as often as it is delivered."""
        if letter.file is None:
            return ()
        name = f"{letter.letter_id}-{letter.file.name}"
        if self._files is None:
            return (Shown(letter.file.kind, name),)
        self._files.mkdir(parents=True, exist_ok=True)
        self._files.chmod(0o700)
        path = self._files / name
        path.touch(0o600)
        path.chmod(0o600)
        make = self._desk.file(letter.letter_id)
        path.write_bytes(make() if make is not None else b"")
        return (Shown(letter.file.kind, str(path)),)

    def _show(self, letter: Letter, message_id: MessageId, files: tuple[Shown, ...]) -> None:
        text = plain(letter.html)
        buttons = tuple((button.label, button.data) for button in letter.buttons)
        self._shown = [shown for shown in self._shown if shown.message_id != message_id]
        self._shown.append(_Posted(message_id, letter.chat_id, text, buttons))
        self._heard.append(
            Heard(
                text=text,
                buttons=tuple(label for label, _ in buttons),
                files=files,
                private_to=None if letter.chat_id == GROUP else self._names.get(letter.chat_id),
                edited=letter.edits is not None,
            )
        )


class Terminal:
    """A person (or several) at a terminal."""

    GREETING = (
        "Bucketside, in this terminal. Type, for example:",
        "  ana: new batch: plum, red, 23 l in bucket 2, 14 day kit",
        "  bo: sg 1.080 bucket 2        (a line without a name is the last speaker; a number presses a choice)",
        "  +2d                          (moves the clock two days on; Ctrl-D ends)",
    )

    def __init__(self, chat: ConsoleChat, clock: Callable[[], datetime], history: Path) -> None:
        from rich.console import Console

        self._chat, self._real_clock, self._history = chat, clock, history
        self._ahead = timedelta(0)
        self._speaker = "you"
        self._out = Console(highlight=False, soft_wrap=True)

    def now(self) -> datetime:
        return self._real_clock() + self._ahead

    def run(self) -> None:
        """Talks until the input ends."""
        for line in self.GREETING:
            self._out.print(line, style="dim", markup=False)
        if sys.stdin.isatty():
            asyncio.run(self._talk())
            return
        for line in sys.stdin:
            self._take(line)

    async def _talk(self) -> None:
        from prompt_toolkit import PromptSession
        from prompt_toolkit.history import FileHistory
        from prompt_toolkit.patch_stdout import patch_stdout

        self._history.touch(0o600)
        self._history.chmod(0o600)
        session: PromptSession[str] = PromptSession(history=FileHistory(str(self._history)))
        with patch_stdout(raw=True):
            while True:
                typing = asyncio.ensure_future(session.prompt_async(lambda: f"{self._speaker}: "))
                while not typing.done():
                    due = self._chat.wake(self.now())
                    self._show()
                    pause = None if due is None else max(0.0, (due - self.now()).total_seconds())
                    await asyncio.wait({typing}, timeout=pause)
                try:
                    self._take(typing.result())
                except (EOFError, KeyboardInterrupt):
                    return

    def _take(self, line: str) -> None:
        line = line.strip()
        if not line:
            return
        if found := _MOVE.match(line):
            self._move(found[1])
        elif line.isdecimal() and 1 <= int(line) <= len(self._chat.choices):
            _, message_id, data = self._chat.choices[int(line) - 1]
            self._chat.press(self._speaker, message_id, data, self.now())
        else:
            if found := _SPEAKER.match(line):
                self._speaker, line = found[1], found[2]
            self._chat.say(self._speaker, line, self.now())
        self._chat.wake(self.now())
        self._show()

    def _move(self, amounts: str) -> None:
        """Moves the clock on; what falls due on the way is said, each at its own time."""
        goal = self.now() + sum(
            (int(number) * _LENGTH[unit] for number, unit in _AMOUNT.findall(amounts)), timedelta(0)
        )
        while (due := self._chat.wake(self.now())) is not None and due <= goal:
            self._show()
            self._ahead += max(timedelta(0), due - self.now())
        self._ahead += max(timedelta(0), goal - self.now())
        self._show()
        self._out.print(f"(it is now {self.now().astimezone():%A %d %B %H:%M})", style="dim")

    def _show(self) -> None:
        from rich.text import Text

        for message in self._chat.heard():
            self._out.print(Text("bot: ", style="bold green") + Text(message.text.replace("\n", "\n     ")))
            for file in message.files:
                self._out.print(Text(f"     {file}", style="cyan"))
            if message.buttons:
                labels = "   ".join(f"{number} {label}" for number, label in enumerate(message.buttons, 1))
                self._out.print(Text(f"     {labels}", style="cyan"))


_LENGTH = {"d": timedelta(days=1), "h": timedelta(hours=1), "m": timedelta(minutes=1)}
