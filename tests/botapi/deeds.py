"""What the bot did, and what went wrong with it: the records of the Bot API double."""

from dataclasses import dataclass, field
from typing import Any


class Refusal(Exception):
    """The platform's answer to a call that it does not carry out."""

    def __init__(self, status: int, description: str, **parameters: Any) -> None:
        super().__init__(description)
        self.status, self.description, self.parameters = status, description, parameters


@dataclass
class Fault:
    """What goes wrong with the next calls of a method (in one chat, or in any)."""

    status: int = 500
    description: str = "Internal Server Error"
    parameters: dict[str, Any] = field(default_factory=dict)
    chat_id: int | None = None
    drop: bool = False
    """Carries it out, then breaks the connection without an answer."""


@dataclass
class Gate:
    """Holds calls of a method back until it is opened."""

    method: str
    chat_id: int | None = None
    held: int = 0
    closed: bool = True

    def open(self) -> None:
        """Lets the held calls go on."""
        self.closed = False


@dataclass(frozen=True)
class Upload:
    """A file as it came in a part of its own."""

    name: str
    media_type: str
    content: bytes = field(repr=False)


@dataclass(frozen=True)
class Call:
    """One call that the bot made, and the status that it got (0: a broken connection)."""

    method: str
    params: dict[str, Any]
    status: int


@dataclass(frozen=True)
class Sent:
    """A message as it stood when the bot sent or changed it."""

    chat_id: int
    message_id: int
    text: str
    buttons: tuple[tuple[tuple[str, str], ...], ...] = ()
    edited: bool = False
    reply_to: int | None = None
    thread_id: int | None = None
    file_name: str | None = None
    media_type: str | None = None
    """Of a file that was sent along; None for one named by its id."""

    @property
    def labels(self) -> tuple[str, ...]:
        """The labels of its buttons, row after row."""
        return tuple(label for row in self.buttons for label, _ in row)
