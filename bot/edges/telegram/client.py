"""The platform's methods that a conversation needs, typed: what is called with every message, at its price.

Where the line is: what is called while people write, this client calls itself, and it reads of the answers just
what is wanted. To be introduced, to set the webhook up and to offer the commands, once at each start, is left to
the Bot API's library (`introduction.py`), which knows these methods in all their forms. The tests hold what is
written here against that library: every method, field, kind of update and error (`tests/edges/test_library.py`).
"""

from collections.abc import Callable, Mapping, Sequence
from http import HTTPStatus
from typing import Any, Generic, Literal, TypeAlias, TypeVar

import msgspec
from aiohttp import FormData

from bot.edges.telegram.connection import Connection
from bot.edges.telegram.errors import (
    BadRequestError,
    ConflictError,
    ForbiddenError,
    MovedError,
    NetworkFailedError,
    PlatformError,
    RetryAfterError,
    TokenRefusedError,
    UnreadableAnswerError,
)
from bot.edges.telegram.updates import ALLOWED_UPDATES
from bot.ids import ChatId, MessageId

POLL_SECONDS = 50
READ_SECONDS = 20.0

_UNREADABLE = (msgspec.DecodeError, RecursionError, UnicodeError)

_T = TypeVar("_T")


class Me(msgspec.Struct, frozen=True, kw_only=True):
    """The bot itself."""

    id: int
    username: str
    can_read_all_group_messages: bool = False
    """Whether it sees all that is written in its groups."""


class Upload(msgspec.Struct, frozen=True):
    """A file to be sent."""

    name: str
    content: bytes
    media_type: str


class InlineButton(msgspec.Struct, frozen=True):
    """A button under a message; `callback_data` comes back when it is pressed."""

    text: str
    callback_data: str


class Written(msgspec.Struct, frozen=True):
    """What a message says, in the platform's HTML or plain, and the rows of buttons under it."""

    text: str
    html: bool = True
    keyboard: Sequence[Sequence[InlineButton]] = ()


class Client:
    """The bot's calls to the platform at `address`. A call raises a PlatformError of the kind that tells what to do,
    and msgspec.ValidationError where it was carried out and nobody knows as what.

    `at_once` calls may be under way besides the poll; more wait. `on_date` hears when each answer was dated.
    """

    def __init__(
        self, address: str, token: str, at_once: int, on_date: Callable[[str], None] = lambda date: None
    ) -> None:
        self.connection = Connection(address, at_once, READ_SECONDS, on_date)
        self._polling = Connection(address, 1, POLL_SECONDS + 15.0, on_date)
        self._methods = f"{address}/bot{token}/"

    async def open(self) -> None:
        """From now on calls may go out."""
        await self.connection.open()
        await self._polling.open()

    async def close(self) -> None:
        """Ends what is under way."""
        await self.connection.close()
        await self._polling.close()

    async def get_me(self) -> Me:
        """Who the bot is."""
        return await self._call(_ME, "getMe")

    async def get_updates(self, offset: int | None, limit: int) -> list[bytes]:
        """The next updates as they came, waited for. To ask with an offset confirms all before it."""
        found = await self._call(
            _BATCH,
            "getUpdates",
            self._polling,
            offset=offset,
            limit=limit,
            timeout=POLL_SECONDS,
            allowed_updates=ALLOWED_UPDATES,
        )
        return [bytes(raw) for raw in found]

    async def send_message(
        self,
        chat_id: ChatId,
        written: Written,
        *,
        reply_to: MessageId | None = None,
        thread_id: int | None = None,
    ) -> MessageId:
        """A new message; returns its number. A message to reply to that is gone does not matter."""
        sent = await self._call(
            _SENT, "sendMessage", **_as_text(chat_id, written), **_placed(reply_to, thread_id)
        )
        return sent.message_id

    async def send_document(
        self,
        chat_id: ChatId,
        upload: Upload,
        written: Written,
        *,
        reply_to: MessageId | None = None,
        thread_id: int | None = None,
    ) -> MessageId:
        """A file with words beside it; returns the message's number."""
        fields = _as_caption(chat_id, written) | _placed(reply_to, thread_id)
        form = FormData()
        for name, value in _given(fields).items():
            form.add_field(name, value if isinstance(value, str) else msgspec.json.encode(value).decode())
        form.add_field("document", upload.content, filename=upload.name, content_type=upload.media_type)
        return (await self._post(_SENT, "sendDocument", form)).message_id

    async def edit_text(self, chat_id: ChatId, message_id: MessageId, written: Written) -> None:
        """Changes a message of words."""
        await self._call(_ANYTHING, "editMessageText", message_id=message_id, **_as_text(chat_id, written))

    async def edit_caption(self, chat_id: ChatId, message_id: MessageId, written: Written) -> None:
        """Changes the words beside a file."""
        await self._call(
            _ANYTHING, "editMessageCaption", message_id=message_id, **_as_caption(chat_id, written)
        )

    async def answer_press(self, query_id: str, text: str | None) -> None:
        """Stops the pressed button's waiting sign, with a line for who pressed it if there is one."""
        await self._call(_ANYTHING, "answerCallbackQuery", callback_query_id=query_id, text=text)

    async def _call(
        self, answer: "_Decoder[_T]", method: str, over: Connection | None = None, /, **fields: object
    ) -> _T:
        return await self._post(answer, method, msgspec.json.encode(_given(fields)), over)

    async def _post(
        self, answer: "_Decoder[_T]", method: str, body: bytes | FormData, over: Connection | None = None
    ) -> _T:
        status, payload = await (over or self.connection).post(self._methods + method, body)
        if not 200 <= status <= 299:
            raise refusal(status, payload)
        try:
            return answer.decode(payload).result
        except msgspec.ValidationError:
            raise
        except _UNREADABLE:
            raise UnreadableAnswerError(payload) from None


class _CarriedOut(msgspec.Struct, Generic[_T]):
    """An answer to a call that was carried out."""

    ok: Literal[True]
    result: _T


class _Sent(msgspec.Struct):
    message_id: MessageId


_Decoder: TypeAlias = msgspec.json.Decoder[_CarriedOut[_T]]
_ME: _Decoder[Me] = msgspec.json.Decoder(_CarriedOut[Me])
_SENT: _Decoder[_Sent] = msgspec.json.Decoder(_CarriedOut[_Sent])
_BATCH: _Decoder[list[msgspec.Raw]] = msgspec.json.Decoder(_CarriedOut[list[msgspec.Raw]])
_ANYTHING: _Decoder[object] = msgspec.json.Decoder(_CarriedOut[object])


class _Parameters(msgspec.Struct):
    migrate_to_chat_id: ChatId | None = None
    retry_after: float | None = None


class _Refused(msgspec.Struct):
    """An answer to a call that was not."""

    description: str = ""
    parameters: _Parameters = msgspec.field(default_factory=_Parameters)


_KINDS: Mapping[int, type[PlatformError]] = {
    HTTPStatus.BAD_REQUEST: BadRequestError,
    HTTPStatus.FORBIDDEN: ForbiddenError,
    HTTPStatus.CONFLICT: ConflictError,
}


def refusal(status: int, payload: bytes) -> PlatformError:
    """What a call was answered with that was not carried out; anything may be in it, or in between."""
    try:
        refused = msgspec.json.decode(payload, type=_Refused)
    except _UNREADABLE:
        refused = _Refused()
    if refused.parameters.migrate_to_chat_id:
        return MovedError(refused.parameters.migrate_to_chat_id)
    if refused.parameters.retry_after:
        return RetryAfterError(refused.parameters.retry_after)
    if status in (HTTPStatus.UNAUTHORIZED, HTTPStatus.NOT_FOUND):  # the latter for what can be no token
        return TokenRefusedError()
    return _KINDS.get(status, NetworkFailedError)(_reason(refused.description) or f"status {status}")


def _reason(description: str) -> str:
    """Why, without the kind, which the error says by itself."""
    _, known, reason = description.partition("Bad Request: ")
    return reason[:1].upper() + reason[1:] if known else description


def _as_text(chat_id: ChatId, written: Written) -> dict[str, Any]:
    return {
        "chat_id": chat_id,
        "text": written.text,
        "link_preview_options": {"is_disabled": True},
    } | _dressed(written)


def _as_caption(chat_id: ChatId, written: Written) -> dict[str, Any]:
    return {"chat_id": chat_id, "caption": written.text} | _dressed(written)


def _dressed(written: Written) -> dict[str, Any]:
    return {
        "parse_mode": "HTML" if written.html else None,
        "reply_markup": {"inline_keyboard": written.keyboard} if written.keyboard else None,
    }


def _placed(reply_to: MessageId | None, thread_id: int | None) -> dict[str, Any]:
    reply = {"message_id": reply_to, "allow_sending_without_reply": True}
    return {"reply_parameters": reply if reply_to is not None else None, "message_thread_id": thread_id}


def _given(fields: Mapping[str, object]) -> dict[str, object]:
    """Without those that are None, which the platform does not know."""
    return {name: value for name, value in fields.items() if value is not None}
