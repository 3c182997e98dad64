"""A desk with a group chat, and short ways to talk in it."""

from datetime import UTC, datetime
from typing import Any

import msgspec

from bot.house.desk import Desk
from bot.house.talk import Incoming, Letter
from bot.say.manner import plain
from bot.store.unit import Units

NOW = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)


class Room:
    """What people say, and what the bot answers."""

    def __init__(self, units: Units) -> None:
        self.units = units
        self.desk = Desk(units, timezone="Europe/London")
        self.number = 100
        self.now = NOW
        self.answer: str | None = None
        self.message_of: dict[int, int] = {}

    def incoming(self, text: str | None = None, **changes: Any) -> Incoming:
        self.number += 1
        whole = Incoming(
            update_id=self.number,
            chat_id=-5,
            private=False,
            chat_title="The Mill Lane house",
            sender_id=1,
            sender_name="ana",
            message_id=self.number,
            sent_at=self.now,
            text=text,
        )
        return msgspec.structs.replace(whole, **changes)

    def say(self, text: str | None = None, **changes: Any) -> list[Letter]:
        self.answer = self.desk.handle(self.incoming(text, **changes), self.now)
        return self.deliver()

    def deliver(self) -> list[Letter]:
        letters = self.desk.unsent(self.now)
        for letter in letters:
            self.number += 1
            self.message_of[letter.letter_id] = letter.edits or self.number
            self.desk.sent([(letter.letter_id, letter.edits or self.number)], self.now)
        return letters

    def text(self, text: str, **changes: Any) -> str:
        return "\n".join(plain(letter.html) for letter in self.say(text, **changes))

    def press(self, letter: Letter, label: str, **changes: Any) -> list[Letter]:
        """Presses the button on the message where it stands."""
        (data,) = [button.data for button in letter.buttons if button.label == label]
        changes.setdefault("chat_id", letter.chat_id)
        changes.setdefault("private", letter.chat_id > 0)
        return self.say(press=data, message_id=self.message_of[letter.letter_id], **changes)

    def acts(self) -> list[object]:
        with self.units.read() as unit:
            return [row.entry.act for row in unit.log.all_entries()]
