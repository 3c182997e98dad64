"""Conversation scripts: a whole household conversation as text, played against any chat.

The lines are: `house:`, `@`, `+`, `ana: ...`, `ana [label]: ...`, `ana edits label: ...`, `ana replies
label|bot: ...`, `ana taps "..."`, `ana privately: ...`, `restart`, `off until TIME`, `> ...`, `>! ...`, `> -` and `# comment`. What is expected may be
in a text, on a button, or in the line of a file, `[calendar: PATH]`.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Protocol
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import msgspec
from msgspec import field

from bot.ids import MessageId

CHATS = ("family", "wine")
"""The kinds of chat: the family's own, or one for the wine alone."""

DEFAULT_START = datetime.fromisoformat("2026-03-01 18:00")  # by the house's own clock; its zone comes later


class House(msgspec.Struct, frozen=True):
    """What the `house:` line sets; each part but the name has a default."""

    name: str = "The Harbour Street house"
    timezone: str = "Europe/London"
    gallon: str = "imperial"
    temperature_unit: str = "C"
    chat: str = "family"


class Shown(msgspec.Struct, frozen=True):
    """A file that the bot sent: what it is, in a word, and where it can be seen."""

    kind: str
    path: str

    def __str__(self) -> str:
        return f"[{self.kind}: {self.path}]"


class Heard(msgspec.Struct, frozen=True):
    """A message that the bot sent or changed, as a person sees it: plain text, buttons' labels, files."""

    text: str
    buttons: tuple[str, ...] = ()
    files: tuple[Shown, ...] = ()
    private_to: str | None = None
    edited: bool = False


class ScriptChat(Protocol):
    """A chat that a script is played in."""

    def open(self, house: House, now: datetime) -> None:
        """Starts the bot for this house."""

    def say(
        self,
        member: str,
        text: str,
        now: datetime,
        *,
        private: bool = False,
        reply_to: MessageId | None = None,
    ) -> MessageId:
        """A member writes; returns the chat's message id. What the bot answers is there on return."""
        ...

    def edit(self, member: str, message_id: MessageId, text: str, now: datetime) -> None:
        """A member edits a message of theirs."""

    def tap(self, member: str, label: str, now: datetime) -> None:
        """A member presses the button on the latest message that has it. Raises LookupError if none has."""

    def latest(self) -> MessageId:
        """The id of the bot's latest message. Raises LookupError when it has sent none."""
        ...

    def wake(self, now: datetime) -> datetime | None:
        """Sends what is due by now; returns the next moment at which something falls due."""
        ...

    def restart(self, now: datetime) -> None:
        """The process dies without warning and starts again on the same data."""

    def heard(self) -> list[Heard]:
        """What the bot sent since the last call, oldest first."""
        ...


class ScriptError(ValueError):
    """A line that is not of the script's form."""


class FailedError(AssertionError):
    """An expectation that did not hold, with its line number."""

    def __init__(self, number: int, line: str, heard: list[Heard]) -> None:
        self.number, self.line = number, line
        said = " / ".join(message.text.replace("\n", " | ") for message in heard) or "(silence)"
        super().__init__(f"line {number}: expected {line!r}; the bot said: {said}")


class _Player(msgspec.Struct):
    chat: ScriptChat
    show: Callable[[str], None]
    house: House = House()
    now: datetime = datetime.min.replace(tzinfo=UTC)
    labels: dict[str, MessageId] = field(default_factory=dict)
    heard: list[Heard] = field(default_factory=list)
    opened: bool = False

    def __post_init__(self) -> None:
        self.now = self.local(DEFAULT_START)

    def local(self, naive: datetime) -> datetime:
        return naive.replace(tzinfo=ZoneInfo(self.house.timezone)).astimezone(UTC)

    def moment(self, words: str) -> datetime:
        try:
            return self.local(datetime.fromisoformat(words.strip()))
        except ValueError as error:
            raise ScriptError(f"no such time: {words.strip()}") from error

    def _listen(self) -> None:
        for message in self.chat.heard():
            self.heard.append(message)
            to = f" (to {message.private_to})" if message.private_to else ""
            changed = " (changed)" if message.edited else ""
            body = message.text.replace("\n", "\n     ")
            self.show(f"bot{to}{changed}: {body}")
            if message.buttons:
                self.show("     " + " ".join(f"[{label}]" for label in message.buttons))
            for file in message.files:
                self.show(f"     {file}")

    def ensure_open(self) -> None:
        if not self.opened:
            self.chat.open(self.house, self.now)
            self.opened = True

    def begin_step(self, line: str) -> None:
        self.ensure_open()
        self.heard.clear()
        self.show(line)

    def move_to(self, moment: datetime) -> None:
        if moment < self.now:
            raise ScriptError("the clock does not go back")
        due = self.chat.wake(self.now)
        while due is not None and due <= moment:
            self.now = max(self.now, due)
            self._listen()
            following = self.chat.wake(self.now)
            if following is not None and following <= due:
                raise AssertionError(f"a wake-up at {due} left something due at {following}")
            due = following
        self.now = moment
        self._listen()

    def act(self, action: Callable[[], object]) -> None:
        action()
        self.chat.wake(self.now)
        self._listen()


_OFF = re.compile(r"off until\s+(.+)$")
_DURATION = re.compile(r"(\d{1,6})\s?([dhm])")
_MEMBER = r"(?P<who>[^\W\d][\w'’-]*(?: [\w'’-]+){0,2}?)"
_TAPS = re.compile(_MEMBER + r'\s+taps\s+"(?P<label>[^"]+)"$')
_EDITS = re.compile(_MEMBER + r"\s+edits\s+(?P<label>\w+):\s*(?P<text>.*)$", re.S)
_REPLIES = re.compile(_MEMBER + r"\s+replies\s+(?P<label>\w+):\s*(?P<text>.*)$", re.S)
_PRIVATELY = re.compile(_MEMBER + r"\s+privately:\s*(?P<text>.*)$", re.S)
_SAYS = re.compile(_MEMBER + r"(?:\s+\[(?P<label>\w+)\])?:\s*(?P<text>.*)$", re.S)

_MEMBER_LINES = (_TAPS, _EDITS, _REPLIES, _PRIVATELY, _SAYS)


def _read_house(rest: str) -> House:
    parts = [part.strip() for part in rest.split(",")]
    house = House(name=parts[0] or House.name)
    for part in filter(None, parts[1:]):
        low = part.lower()
        if low in CHATS:
            house = msgspec.structs.replace(house, chat=low)
        elif low in ("c", "f"):
            house = msgspec.structs.replace(house, temperature_unit=low.upper())
        elif "gallon" in low:
            house = msgspec.structs.replace(house, gallon="us" if low.startswith("us") else "imperial")
        else:
            try:
                ZoneInfo(part)
            except (ZoneInfoNotFoundError, ValueError) as error:
                raise ScriptError(f"no such time zone: {part}") from error
            house = msgspec.structs.replace(house, timezone=part)
    return house


def _lines(text: str) -> Iterator[tuple[int, str]]:
    pending, start = "", 0
    for number, raw in enumerate(text.splitlines(), 1):
        start = start or number
        if raw.rstrip().endswith("\\"):
            pending += raw.rstrip()[:-1].rstrip() + "\n"
            continue
        yield start, (pending + raw).strip()
        pending, start = "", 0
    if pending:
        yield start, pending.strip()


def _matches(expected: str, seen: Iterable[str]) -> bool:
    """Whether one of the texts has it (anywhere, case-insensitive) or matches the /regex/."""
    if len(expected) > 1 and expected.startswith("/") and expected.endswith("/"):
        pattern = re.compile(expected[1:-1], re.IGNORECASE)
    else:
        pattern = re.compile(re.escape(expected), re.IGNORECASE)
    return any(pattern.search(text) for text in seen)


def play(text: str, chat: ScriptChat, show: Callable[[str], None] = lambda line: None) -> None:
    """Plays a script and shows its transcript.

    Raises FailedError at the first expectation that does not hold, ScriptError at a line of no known form.
    """
    player = _Player(chat, show)
    for number, line in _lines(text):
        if not line or line.startswith("#"):
            continue
        try:
            _one(player, number, line)
        except (ScriptError, LookupError, re.error) as error:
            raise ScriptError(f"line {number}: {error}") from error


def _one(player: _Player, number: int, line: str) -> None:
    chat, now = player.chat, player.now
    if line.startswith("house:"):
        if player.opened:
            raise ScriptError("`house:` comes first")
        player.house = _read_house(line.removeprefix("house:"))
        player.now = player.local(DEFAULT_START)
    elif line.startswith("@"):
        moment = player.moment(line[1:])
        if not player.opened:
            player.now = moment
        player.begin_step(line)
        player.move_to(moment)
    elif line.startswith("+"):
        amounts = _DURATION.findall(line)
        if not amounts or _DURATION.sub("", line[1:]).strip():
            raise ScriptError(f"write it like '+ 2d 3h 30m': {line}")
        player.begin_step(line)
        days, hours, minutes = (sum(int(n) for n, unit in amounts if unit == u) for u in "dhm")
        player.move_to(now + timedelta(days=days, hours=hours, minutes=minutes))
    elif found := _OFF.match(line):
        player.begin_step(line)
        player.now = player.moment(found[1])
        player.act(lambda: chat.restart(player.now))
    elif line == "restart":
        player.begin_step(line)
        player.act(lambda: chat.restart(now))
    elif line.startswith(">"):
        _expect(player, number, line)
    else:
        player.begin_step(line)
        _member_line(player, line)


def _expect(player: _Player, number: int, line: str) -> None:
    negated = line.startswith(">!")
    expected = line[2 if negated else 1 :].strip()
    if not expected:
        raise ScriptError("nothing is expected here")
    texts = [message.text for message in player.heard]
    if negated:
        holds = not _matches(expected, texts)
    elif expected == "-":
        holds = not player.heard
    else:
        shown = [part for message in player.heard for part in (*message.buttons, *map(str, message.files))]
        holds = _matches(expected, texts + shown)
    if not holds:
        raise FailedError(number, line, player.heard)


def _member_line(player: _Player, line: str) -> None:
    chat, now = player.chat, player.now

    def marked(label: str) -> MessageId:
        if label == "bot":
            return chat.latest()
        if label not in player.labels:
            raise ScriptError(f"no message has the label {label}")
        return player.labels[label]

    found = next((m for pattern in _MEMBER_LINES if (m := pattern.match(line))), None)
    if found is None:
        raise ScriptError(f"not a line of a script: {line}")
    who, part = found["who"], found.groupdict()
    text, label = part.get("text", ""), part.get("label")
    if found.re is _TAPS:
        player.act(lambda: chat.tap(who, str(label), now))
    elif found.re is _EDITS:
        target = marked(str(label))
        player.act(lambda: chat.edit(who, target, text, now))
    elif found.re is _REPLIES:
        target = marked(str(label))
        player.act(lambda: chat.say(who, text, now, reply_to=target))
    else:
        sent: list[MessageId] = []
        private = found.re is _PRIVATELY
        player.act(lambda: sent.append(chat.say(who, text, now, private=private)))
        if label:
            player.labels[label] = sent[0]
