"""The platform's side of the world: people, chats, messages, updates, and what the bot did. No HTTP here.

Every public method may be called from any thread.
"""

import copy
import json
import re
from collections import defaultdict
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from threading import RLock
from typing import Any, Concatenate, ParamSpec, TypeVar

from tests.botapi.deeds import Call, Fault, Gate, Sent

P = ParamSpec("P")
R = TypeVar("R")

FIRST_UPDATE = 50_001
FIRST_MEMBER = 1_001
FIRST_GROUP = 2_001
ANONYMOUS = {"id": 1087968824, "is_bot": True, "first_name": "Group", "username": "GroupAnonymousBot"}


def _locked(
    method: Callable[Concatenate["World", P], R],
) -> Callable[Concatenate["World", P], R]:
    def run(self: "World", /, *args: P.args, **kwargs: P.kwargs) -> R:
        with self.lock:
            return method(self, *args, **kwargs)

    run.__doc__ = method.__doc__
    return run


class World:
    """Everything that the platform knows. Times are pretend: `moment` is the platform's clock."""

    def __init__(
        self, *, token: str = "1:TEST", username: str = "bucket_test_bot", reads_groups: bool = True
    ):
        self.lock = RLock()
        self.token = token
        self.bot = {
            "id": 77,
            "is_bot": True,
            "first_name": "Bucketside",
            "username": username,
            "can_join_groups": True,
            "can_read_all_group_messages": reads_groups,
            "supports_inline_queries": False,
        }
        self.moment = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
        self.dates_off = timedelta()
        """How far what the platform dates its answers by is from `moment`."""
        self.members: dict[str, dict[str, Any]] = {}
        self.chats: dict[int, dict[str, Any]] = {}
        self.messages: dict[tuple[int, int], dict[str, Any]] = {}
        self.updates: list[dict[str, Any]] = []
        self.allowed: list[str] | None = None
        self.blocked: set[int] = set()
        self.migrated: dict[int, int] = {}
        self.webhook: dict[str, Any] = {"url": ""}
        self.calls: list[Call] = []
        self.sent: list[Sent] = []
        self.files: dict[str, bytes] = {}
        """What the bot sent in files, by the id that the platform gave each."""
        self.confirmed_below = 0
        self.slowness = 0.0
        """Seconds that a call takes until it is answered, when it sends something."""
        self.on_news: Callable[[], None] = lambda: None
        self._faults: dict[str, list[Fault]] = defaultdict(list)
        self._gates: list[Gate] = []
        self._next_update = FIRST_UPDATE
        self._next_message = 1  # one count for all chats, so that a number says which message is meant
        self._next_query = 1

    # People and chats

    @_locked
    def member(self, name: str) -> dict[str, Any]:
        """The person of that name; made on first use."""
        if name not in self.members:
            number = FIRST_MEMBER + len(self.members)
            self.members[name] = {"id": number, "is_bot": False, "first_name": name.capitalize()}
            self.chats[number] = {"id": number, "type": "private", "first_name": name.capitalize()}
        return self.members[name]

    @_locked
    def group(self, title: str = "The cellar", *, forum: bool = False) -> int:
        """A new group (a supergroup if it has topics), with the bot in it; no update is sent."""
        number = FIRST_GROUP + sum(1 for chat_id in self.chats if chat_id < 0)
        chat_id = -(1_000_000_000_000 + number) if forum else -number
        self.chats[chat_id] = {"id": chat_id, "type": "supergroup" if forum else "group", "title": title}
        if forum:
            self.chats[chat_id]["is_forum"] = True
        return chat_id

    # What people do

    @_locked
    def say(
        self,
        member: str,
        text: str | None,
        chat_id: int | None = None,
        *,
        reply_to: int | None = None,
        thread_id: int | None = None,
        caption: str | None = None,
        forwarded: bool = False,
        anonymous: bool = False,
    ) -> int:
        """A member writes in a chat (None: privately to the bot). Returns the message's id."""
        sender = self.member(member)
        message = self._new_message(sender["id"] if chat_id is None else chat_id)
        chat_id = message["chat"]["id"]
        message["from"] = sender
        if anonymous:
            message |= {"from": ANONYMOUS, "sender_chat": self.chats[chat_id]}
        if text is not None:
            message |= {"text": text, **_entities(text)}
        if caption is not None:
            message |= {"caption": caption, "photo": [_file("photo") | {"width": 90, "height": 90}]}
        if reply_to is not None:
            message["reply_to_message"] = self._bare(chat_id, reply_to)
        if thread_id is not None:
            message |= {"message_thread_id": thread_id, "is_topic_message": True}
            message.setdefault("reply_to_message", self._bare(chat_id, thread_id))
        if forwarded:
            origin = {"type": "hidden_user", "sender_user_name": "Someone", "date": self._date()}
            message["forward_origin"] = origin
        self._news({"message": copy.deepcopy(message)})
        return int(message["message_id"])

    @_locked
    def edit(self, member: str, message_id: int, text: str, chat_id: int | None = None) -> None:
        """A member changes a message of theirs."""
        chat_id = self.member(member)["id"] if chat_id is None else chat_id
        message = self.messages[chat_id, message_id]
        if message["from"] != self.member(member):
            raise LookupError(f"message {message_id} is not {member}'s")
        message |= {"text": text, "edit_date": self._date(), **_entities(text)}
        self._news({"edited_message": copy.deepcopy(message)})

    @_locked
    def find_button(self, label: str, *chat_ids: int) -> tuple[int, int, str] | None:
        """Where a button with this label is: chat, message (the latest that has it) and the button's data.

        One that has the label as a part of its own is taken when no label is the very same.
        """
        wanted = label.casefold()
        found = [
            (button["text"].casefold() == wanted, number, chat_id, button["callback_data"])
            for (chat_id, number), message in self.messages.items()
            for row in message.get("reply_markup", {}).get("inline_keyboard", [])
            for button in row
            if chat_id in chat_ids and wanted in button["text"].casefold()
        ]
        if not found:
            return None
        _, number, chat_id, data = max(found, key=lambda at: at[:2])
        return chat_id, number, data

    @_locked
    def tap(self, member: str, label: str, chat_id: int | None = None) -> int:
        """A member presses a button on the latest message that has it. Returns the message's id."""
        sender = self.member(member)
        chat_id = sender["id"] if chat_id is None else chat_id
        found = self.find_button(label, chat_id)
        if found is None:
            raise LookupError(f"no message has a button {label!r}")
        _, number, data = found
        self._press(sender, self.messages[chat_id, number], data)
        return number

    @_locked
    def add_bot(self, member: str, title: str = "The cellar") -> int:
        """A member adds the bot to a new group. Returns the chat's id."""
        chat_id = self.group(title)
        self._membership(member, chat_id, "left", "member")
        message = self._new_message(chat_id)
        message |= {"from": self.member(member), "new_chat_members": [self.bot], "new_chat_member": self.bot}
        self._news({"message": copy.deepcopy(message)})
        return chat_id

    @_locked
    def remove_bot(self, member: str, chat_id: int) -> None:
        """A member removes the bot from a group, or blocks it in private."""
        self.blocked.add(chat_id)
        self._membership(member, chat_id, "member", "kicked")

    @_locked
    def migrate(self, member: str, chat_id: int) -> int:
        """The group becomes a supergroup, told in two service messages. Returns the new chat's id."""
        new_chat_id = self.move_silently(chat_id)
        before = {
            **self._new_message(chat_id),
            "from": self.member(member),
            "migrate_to_chat_id": new_chat_id,
        }
        after = {
            **self._new_message(new_chat_id),
            "from": self.member(member),
            "migrate_from_chat_id": chat_id,
        }
        self._news({"message": before})
        self._news({"message": after})
        return new_chat_id

    @_locked
    def move_silently(self, chat_id: int) -> int:
        """As `migrate`, but no update tells it: sending to the old id is how the bot finds out."""
        new_chat_id = -(1_000_000_000_000 - chat_id)
        self.chats[new_chat_id] = {**self.chats[chat_id], "id": new_chat_id, "type": "supergroup"}
        self.migrated[chat_id] = new_chat_id
        return new_chat_id

    @_locked
    def inject(self, update: dict[str, Any]) -> int:
        """Any update as it is; it gets the next id unless it has one. Returns its id."""
        return self._news(update, unfiltered=True)

    # What goes wrong

    @_locked
    def fail(
        self,
        /,
        method: str,
        status: int = 500,
        description: str = "Internal Server Error",
        *,
        times: int = 1,
        chat_id: int | None = None,
        drop: bool = False,
        **parameters: Any,
    ) -> None:
        """The next calls of a method go wrong; `parameters` are retry_after or migrate_to_chat_id."""
        self._faults[method] += [Fault(status, description, parameters, chat_id, drop) for _ in range(times)]

    @_locked
    def mend(self, method: str) -> None:
        """Nothing goes wrong with this method any more."""
        self._faults[method].clear()

    @_locked
    def hold(self, method: str, chat_id: int | None = None) -> Gate:
        """Calls of a method wait until the gate is opened."""
        gate = Gate(method, chat_id)
        self._gates.append(gate)
        return gate

    @_locked
    def fault_for(self, method: str, chat_id: int | None) -> Fault | None:
        """Takes the fault that this call meets, if any."""
        for index, fault in enumerate(self._faults[method]):
            if fault.chat_id in (None, chat_id):
                return self._faults[method].pop(index)
        return None

    @_locked
    def gate_for(self, method: str, chat_id: int | None) -> Gate | None:
        """The gate that this call waits at, if any."""
        for gate in self._gates:
            if gate.closed and gate.method == method and gate.chat_id in (None, chat_id):
                gate.held += 1
                return gate
        return None

    # What the bot did

    @_locked
    def said(self, chat_id: int) -> list[str]:
        """The texts that the bot sent to a chat, oldest first; changes of a message are not among them."""
        return [sent.text for sent in self.sent if sent.chat_id == chat_id and not sent.edited]

    @_locked
    def calls_of(self, method: str) -> list[Call]:
        """The calls of one method, oldest first."""
        return [call for call in self.calls if call.method == method]

    @property
    def newest_update(self) -> int:
        """The id of the latest update."""
        return self._next_update - 1

    @_locked
    def record(self, method: str, params: dict[str, Any], status: int) -> None:
        """Notes a call."""
        self.calls.append(Call(method, params, status))

    @_locked
    def pending(self, offset: int | None, limit: int) -> list[dict[str, Any]]:
        """The updates from `offset` on; those before it are confirmed and gone. Negative: the last ones."""
        if offset is not None and offset < 0:
            offset = self.updates[offset:][0]["update_id"] if self.updates else None
        if offset:
            self.confirmed_below = max(self.confirmed_below, offset)
            self.updates = [update for update in self.updates if update["update_id"] >= offset]
        return self.updates[:limit]

    @_locked
    def delivered(self, update_id: int) -> None:
        """The webhook took it."""
        self.updates = [update for update in self.updates if update["update_id"] != update_id]

    @_locked
    def add_message(self, chat_id: int, fields: dict[str, Any]) -> dict[str, Any]:
        """A message of the bot's."""
        message = self._new_message(chat_id)
        message |= {"from": self.bot, **fields}
        return message

    def _new_message(self, chat_id: int) -> dict[str, Any]:
        number = self._next_message
        self._next_message += 1
        message = {"message_id": number, "date": self._date(), "chat": self.chats[chat_id]}
        self.messages[chat_id, number] = message
        return message

    def _bare(self, chat_id: int, message_id: int) -> dict[str, Any]:
        """A message as it hangs under a reply: without the one that it replies to itself."""
        found = self.messages.get((chat_id, message_id))
        if found is None:
            return {"message_id": message_id, "date": self._date(), "chat": self.chats[chat_id]}
        return {key: value for key, value in found.items() if key != "reply_to_message"}

    def _press(self, sender: dict[str, Any], message: dict[str, Any], data: str) -> None:
        query = {
            "id": f"query-{self._next_query}",
            "from": sender,
            "message": copy.deepcopy(message),
            "chat_instance": str(message["chat"]["id"]),
            "data": data,
        }
        self._next_query += 1
        self._news({"callback_query": query})

    def _membership(self, member: str, chat_id: int, before: str, after: str) -> None:
        change = {
            "chat": self.chats[chat_id],
            "from": self.member(member),
            "date": self._date(),
            "old_chat_member": _status(self.bot, before),
            "new_chat_member": _status(self.bot, after),
        }
        self._news({"my_chat_member": change})

    def _news(self, update: dict[str, Any], *, unfiltered: bool = False) -> int:
        kind = next((key for key in update if key != "update_id"), "")
        update_id = update.get("update_id", self._next_update)
        self._next_update = max(self._next_update, update_id) + 1
        if unfiltered or not self.allowed or kind in self.allowed:
            self.updates.append({"update_id": update_id, **update})
            self.on_news()
        return int(update_id)

    def _date(self) -> int:
        return int(self.moment.timestamp())


def _entities(text: str) -> dict[str, Any]:
    """The entities that the platform finds by itself: a command at the start, mentions."""
    found = [
        {"type": kind, "offset": len(text[: m.start()].encode("utf-16-le")) // 2, "length": len(m[0])}
        for kind, pattern in (("bot_command", r"^/\w+(?:@\w+)?"), ("mention", r"(?<!\S)@\w+"))
        for m in re.finditer(pattern, text)
    ]
    return {"entities": found} if found else {}


def _file(kind: str) -> dict[str, Any]:
    return {"file_id": f"{kind}-file", "file_unique_id": f"{kind}-unique", "file_size": 1000}


def _status(user: dict[str, Any], status: str) -> dict[str, Any]:
    banned = {"until_date": 0} if status == "kicked" else {}
    return {"user": user, "status": status, **banned}


def decoded(value: Any) -> Any:
    """A parameter as the platform reads it: JSON where it is JSON, else the text itself."""
    if not isinstance(value, str):
        return value
    try:
        return json.loads(value)
    except ValueError:
        return value
