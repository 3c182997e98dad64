"""What came in and what goes out."""

from datetime import datetime
from typing import Any

import msgspec
from sqlalchemy import Connection, Row, insert, or_, select, update
from sqlalchemy.exc import IntegrityError

from bot.store.tables import InboxLine, OutboxLine


class Outgoing(msgspec.Struct, frozen=True, kw_only=True):
    """A letter in the making. `buttons` are (label, press); `refers` is what it is about."""

    chat_id: int
    html: str
    buttons: tuple[tuple[str, dict[str, Any]], ...] = ()
    refers: dict[str, Any] = {}
    thread_id: int | None = None
    reply_to: int | None = None
    edits: int | None = None
    is_reminder: bool = False


class SentRow(msgspec.Struct, frozen=True, kw_only=True):
    """A message that the bot sent, looked up by the chat's own id for it."""

    id: int
    html: str
    buttons: tuple[tuple[str, dict[str, Any]], ...]
    refers: dict[str, Any]


class Postbox:
    """The inbox of updates and the outbox of letters."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection

    def take_in(self, update_id: int, raw: str, now: datetime) -> bool:
        """Keeps the update; False when it was known already."""
        try:
            with self.connection.begin_nested():
                self.connection.execute(
                    insert(InboxLine).values(update_id=update_id, raw=raw, received_at=now)
                )
        except IntegrityError:
            return False
        return True

    def begin_update(self, update_id: int, raw: str, now: datetime) -> bool:
        """Whether the update is still to be handled; keeps it first if it came past the inbox."""
        row = self.connection.execute(
            select(InboxLine.done_at).where(InboxLine.update_id == update_id)
        ).one_or_none()
        if row is None:
            self.connection.execute(insert(InboxLine).values(update_id=update_id, raw=raw, received_at=now))
            return True
        return row.done_at is None

    def end_update(self, update_id: int, now: datetime, why: str | None = None) -> None:
        self.connection.execute(
            update(InboxLine).where(InboxLine.update_id == update_id).values(done_at=now, why=why)
        )

    def waiting(self) -> list[tuple[int, str]]:
        rows = self.connection.execute(
            select(InboxLine.update_id, InboxLine.raw)
            .where(InboxLine.done_at.is_(None))
            .order_by(InboxLine.update_id)
        )
        return [(row.update_id, row.raw) for row in rows]

    def post(self, household_id: int | None, letter: Outgoing, now: datetime) -> int:
        """Puts a letter in the outbox and returns its id."""
        found = self.connection.execute(
            insert(OutboxLine)
            .values(
                household_id=household_id,
                chat_id=letter.chat_id,
                thread_id=letter.thread_id,
                html=letter.html,
                buttons=[list(button) for button in letter.buttons],
                refers=letter.refers,
                reply_to=letter.reply_to,
                edits=letter.edits,
                is_reminder=letter.is_reminder,
                created_at=now,
            )
            .returning(OutboxLine.id)
        )
        return found.scalar_one()

    def unsent(self) -> list[Row[Any]]:
        """Letters not sent yet: replies before reminders within a chat, else oldest first."""
        return list(
            self.connection.execute(
                select(
                    OutboxLine.id,
                    OutboxLine.chat_id,
                    OutboxLine.thread_id,
                    OutboxLine.html,
                    OutboxLine.buttons,
                    OutboxLine.reply_to,
                    OutboxLine.edits,
                )
                .where(OutboxLine.closed_at.is_(None))
                .order_by(OutboxLine.is_reminder, OutboxLine.id)
            )
        )

    def close_letter(
        self, letter_id: int, now: datetime, *, sent_as: int | None = None, refused: str | None = None
    ) -> int | None:
        """Marks a letter sent or refused; returns its chat when it was refused."""
        found = self.connection.execute(
            update(OutboxLine)
            .where(OutboxLine.id == letter_id, OutboxLine.closed_at.is_(None))
            .values(closed_at=now, sent_as=sent_as, refused=refused)
            .returning(OutboxLine.chat_id)
        ).scalar_one_or_none()
        return found if refused is not None else None

    def sent_message(self, chat_id: int, message_id: int) -> SentRow | None:
        """What the bot last made of that message of its own."""
        row = self.connection.execute(
            select(OutboxLine.id, OutboxLine.html, OutboxLine.buttons, OutboxLine.refers)
            .where(
                OutboxLine.chat_id == chat_id,
                or_(OutboxLine.sent_as == message_id, OutboxLine.edits == message_id),
            )
            .order_by(OutboxLine.id.desc())
            .limit(1)
        ).one_or_none()
        return _sent(row) if row else None

    def letter(self, household_id: int, chat_id: int, letter_id: int) -> SentRow | None:
        """That letter, when it went to that chat of that household."""
        row = self.connection.execute(
            select(OutboxLine.id, OutboxLine.html, OutboxLine.buttons, OutboxLine.refers).where(
                OutboxLine.household_id == household_id,
                OutboxLine.chat_id == chat_id,
                OutboxLine.id == letter_id,
            )
        ).one_or_none()
        return _sent(row) if row else None

    def latest(self, chat_id: int) -> SentRow | None:
        """The bot's latest message in that chat, sent or on its way."""
        row = self.connection.execute(
            select(OutboxLine.id, OutboxLine.html, OutboxLine.buttons, OutboxLine.refers)
            .where(OutboxLine.chat_id == chat_id)
            .order_by(OutboxLine.id.desc())
            .limit(1)
        ).one_or_none()
        return _sent(row) if row else None

    def answer_to(self, chat_id: int, message_id: int) -> int | None:
        """The id of the message with which the bot answered that one."""
        return self.connection.execute(
            select(OutboxLine.sent_as)
            .where(
                OutboxLine.chat_id == chat_id,
                OutboxLine.reply_to == message_id,
                OutboxLine.sent_as.is_not(None),
            )
            .order_by(OutboxLine.id.desc())
            .limit(1)
        ).scalar_one_or_none()


def _sent(row: Row[*tuple[Any, ...]]) -> SentRow:
    return SentRow(
        id=row.id,
        html=row.html,
        buttons=tuple((label, press) for label, press in row.buttons),
        refers=row.refers,
    )
