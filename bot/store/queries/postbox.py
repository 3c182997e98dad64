"""What came in and what goes out."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

import msgspec
from sqlalchemy import (
    JSON,
    Connection,
    bindparam,
    delete,
    exists,
    func,
    insert,
    or_,
    select,
    type_coerce,
    update,
)
from sqlalchemy import (
    Row as UnsentRow,
)

from bot.ids import ChatId, HouseholdId, LetterId, MessageId, UpdateId
from bot.store.holder import LEASE, is_gone
from bot.store.press import Labelled
from bot.store.refers import Refers
from bot.store.statement import Fetched, Statement
from bot.store.tables import Attachment, Chat, InboxLine, OutboxLine


class File(msgspec.Struct, frozen=True, kw_only=True):
    """A file to go with a letter. `kind` is one word for what it is, such as "calendar"."""

    name: str
    media_type: str
    kind: str
    content: bytes


class Outgoing(msgspec.Struct, frozen=True, kw_only=True):
    """A letter in the making: its words, its buttons, and what it is about."""

    chat_id: ChatId
    html: str
    buttons: tuple[Labelled, ...] = ()
    refers: Refers = Refers()
    thread_id: int | None = None
    reply_to: MessageId | None = None
    edits: MessageId | None = None
    is_reminder: bool = False
    file: File | None = None


class SentRow(msgspec.Struct, frozen=True, kw_only=True):
    """A message that the bot sent, looked up by the chat's own id for it: `message_id`, once it is known."""

    id: LetterId
    message_id: MessageId | None
    html: str
    buttons: tuple[Labelled, ...]
    refers: Refers
    created_at: datetime


class Postbox:
    """The inbox of updates and the outbox of letters."""

    def __init__(self, connection: Connection, holder: str) -> None:
        self.connection = connection
        self._holder = holder
        self._contested = False

    def take_in(
        self, updates: Sequence[tuple[UpdateId, str]], now: datetime, chats: Mapping[UpdateId, ChatId | None]
    ) -> None:
        """Keeps those of the updates that are not known yet, each with its chat. Another process may have kept one
        meanwhile: then none of this transaction is committed, and the next attempt finds it."""
        raw = dict(reversed(updates))
        known = set(self.connection.execute(_KNOWN, {"updates": list(raw)}).scalars())
        rows = [
            {
                "update_id": update_id,
                "raw": raw[update_id],
                "received_at": now,
                "chat_id": chats.get(update_id),
            }
            for update_id in sorted(raw.keys() - known)
        ]
        if rows:
            self.connection.execute(_KEEP, rows)

    def begin_update(self, update_id: UpdateId, now: datetime) -> bool:
        """Whether the update is still to be handled; one that came past the inbox is so from now on. It is held
        until the transaction ends, so that no other process handles it too."""
        row = _TAKE.one(self.connection, update=update_id)
        if row is None:
            self.connection.execute(_KEEP, {"update_id": update_id, "raw": "", "received_at": now})
            return True
        return bool(row.done_at is None)

    def end_update(self, update_id: UpdateId, now: datetime, why: str | None = None) -> None:
        """It is done: of what came in only its number stays, so that it is known when it comes again, and when it
        was done."""
        _END.run(self.connection, update=update_id, now=now, reason=why, moment=moment_only(now))

    def waiting(self) -> list[tuple[UpdateId, str]]:
        return [(row.update_id, row.raw) for row in self.connection.execute(_WAITING)]

    # outbox

    def post(self, household_id: HouseholdId | None, letter: Outgoing, now: datetime) -> LetterId:
        """Puts a letter in the outbox and returns its id. It is this process's to send, so that sending it needs no
        further write, unless another may have its forerunner on the way."""
        posted = _POST.one(
            self.connection,
            household_id=household_id,
            chat_id=letter.chat_id,
            thread_id=letter.thread_id,
            html=letter.html,
            buttons=letter.buttons,
            refers=letter.refers,
            reply_to=letter.reply_to,
            edits=letter.edits,
            is_reminder=letter.is_reminder,
            created_at=now,
            holder=None if self._contested else self._holder,
            held_until=None if self._contested else now + LEASE,
        )
        assert posted is not None
        letter_id = LetterId(posted.id)
        if letter.file is not None:
            self._attach(household_id, letter_id, letter.file)
        return letter_id

    def _attach(self, household_id: HouseholdId | None, letter_id: LetterId, file: File) -> None:
        """Keeps the file until its letter has left. Those of the household that have left are let go at once, not
        only with the day's tidying: whoever asks for many must not fill the disk."""
        self.connection.execute(
            delete(Attachment).where(
                exists().where(
                    OutboxLine.id == Attachment.outbox_id,
                    OutboxLine.household_id.is_not_distinct_from(household_id),
                    OutboxLine.closed_at.is_not(None),
                )
            )
        )
        self.connection.execute(
            insert(Attachment).values(outbox_id=letter_id, **msgspec.structs.asdict(file))
        )

    def unsent(self, after: int = 0) -> list[UnsentRow[*tuple[Any, ...]]]:
        """Letters above that number not sent yet: replies before reminders, else oldest first. Of a file only
        what it is called: a backlog is read often."""
        return list(self.connection.execute(_UNSENT, {"after": after}))

    def held_until(self, row: UnsentRow[*tuple[Any, ...]], now: datetime) -> tuple[datetime | None, bool]:
        """Until when an unsent letter is in somebody's hands, if it is, and whether in this process's."""
        if row.holder is None or row.held_until <= now:
            return None, False
        ours = row.holder == self._holder
        return (row.held_until, ours) if ours or not is_gone(row.holder) else (None, False)

    def file(self, letter_id: LetterId) -> bytes | None:
        """What is in the letter's file; None where it has none, or left long ago."""
        found: bytes | None = self.connection.execute(
            select(Attachment.content).where(Attachment.outbox_id == letter_id)
        ).scalar_one_or_none()
        return found

    def mark_sent(self, letters: Sequence[tuple[LetterId, MessageId]], now: datetime) -> bool:
        """These letters are in their chats, each as the message beside it. One that was taken back while it was on
        its way is there all the same: what waits to be said in its place changes it instead. Whether anything
        that waits was changed by that."""
        rows = [{"letter": letter_id, "now": now, "message": message_id} for letter_id, message_id in letters]
        if self.connection.execute(_MARK_SENT, rows).rowcount == len(rows):
            return False
        changed = 0
        for row in rows:
            found = self.connection.execute(_MARK_TAKEN_BACK, row).one_or_none()
            if found is not None and found.reply_to is not None:
                where = {
                    "household": found.household_id,
                    "chat": found.chat_id,
                    "reply": found.reply_to,
                    "letter": row["letter"],
                    "message": row["message"],
                }
                changed += self.connection.execute(_CHANGE_INSTEAD, where).rowcount
        return changed > 0

    def refuse(
        self, letter_id: LetterId, why: str, now: datetime
    ) -> tuple[ChatId, HouseholdId | None] | None:
        """The letter can never be delivered; returns its chat and household, if it was still waiting."""
        values = {"letter": letter_id, "now": now, "reason": why}
        found = self.connection.execute(_REFUSE, values).one_or_none()
        return (found.chat_id, found.household_id) if found is not None else None

    def supersede(
        self, household_id: HouseholdId | None, chat_id: ChatId, edits: MessageId, now: datetime
    ) -> None:
        """Changes of that message that were not sent yet need not be: a newer one follows."""
        where = {"household": household_id, "chat": chat_id, "message": edits, "now": now}
        self.connection.execute(_SUPERSEDE, where)

    def withdraw(
        self, household_id: HouseholdId, chat_id: ChatId, now: datetime, *, reply_to: MessageId | None = None
    ) -> None:
        """What that household has waiting for that chat is not sent (or only its answers to one message)."""
        waiting = (
            OutboxLine.household_id == household_id,
            OutboxLine.chat_id == chat_id,
            OutboxLine.closed_at.is_(None),
        )
        which = waiting if reply_to is None else (*waiting, OutboxLine.reply_to == reply_to)
        withdrawn = self.connection.execute(
            update(OutboxLine)
            .where(*which)
            .values(closed_at=now, refused="withdrawn")
            .returning(OutboxLine.holder)
        )
        self._contested |= any(holder not in (None, self._holder) for holder in withdrawn.scalars())

    # Letters of no household (`None`) are what was said at the door, to those who are not in yet.

    def sent_message(
        self, household_id: HouseholdId | None, chat_id: ChatId, message_id: MessageId
    ) -> SentRow | None:
        """What the bot last made of that message of its own."""
        return self._find(_SENT_AS, household=household_id, chat=chat_id, message=message_id)

    def letter(
        self, household_id: HouseholdId | None, chat_id: ChatId, letter_id: LetterId
    ) -> SentRow | None:
        """That letter, when it went to that chat of that household."""
        return self._find(_LETTER, household=household_id, chat=chat_id, letter=letter_id)

    def latest(self, household_id: HouseholdId, chat_id: ChatId) -> SentRow | None:
        """The bot's latest message in that chat, sent or on its way; reminders changed meanwhile apart."""
        return self._find(_LATEST_SAID, household=household_id, chat=chat_id)

    def message_of(
        self, household_id: HouseholdId, letter_id: LetterId
    ) -> tuple[ChatId, MessageId | None, bool] | None:
        """The chat and message of a letter, and whether it is still to be sent; None where it was refused."""
        where = {"household": household_id, "letter": letter_id}
        row = self.connection.execute(_MESSAGE_OF, where).one_or_none()
        if row is None or row.refused is not None:
            return None
        return row.chat_id, row.sent_as, row.closed_at is None

    def rewrite(self, household_id: HouseholdId, letter_id: LetterId, letter: Outgoing) -> None:
        """Changes a letter that has not left yet."""
        values = {"html": letter.html, "buttons": letter.buttons, "refers": letter.refers}
        self.connection.execute(
            update(OutboxLine)
            .where(
                OutboxLine.household_id == household_id,
                OutboxLine.id == letter_id,
                OutboxLine.closed_at.is_(None),
            )
            .values(**values)
        )

    def refers_since(self, household_id: HouseholdId, chat_id: ChatId, since: datetime) -> list[Refers]:
        """What the letters to that chat since then refer to; refused ones and those withdrawn do not count."""
        where = {"household": household_id, "chat": chat_id, "since": since}
        return list(self.connection.execute(_REFERS_SINCE, where).scalars())

    def answer_to(
        self, household_id: HouseholdId, chat_id: ChatId, message_id: MessageId
    ) -> MessageId | None:
        """The id of the message with which the bot answered that one."""
        where = {"household": household_id, "chat": chat_id, "message": message_id}
        found: int | None = self.connection.execute(_ANSWER_TO, where).scalar_one_or_none()
        return MessageId(found) if found is not None else None

    def was_let_go(self, household_id: HouseholdId, chat_id: ChatId, message_id: MessageId) -> bool:
        """Whether that message is so old that it may be one of the bot's own that is kept no more."""
        return self.connection.execute(
            select(
                exists().where(
                    Chat.household_id == household_id, Chat.chat_id == chat_id, Chat.let_go_to >= message_id
                )
            )
        ).scalar_one()

    def said_at_door(self, chat_id: ChatId, since: datetime) -> int:
        """How many letters a chat of no household got since that moment."""
        return self.connection.execute(
            select(func.count())
            .select_from(OutboxLine)
            .where(
                OutboxLine.household_id.is_(None),
                OutboxLine.chat_id == chat_id,
                OutboxLine.created_at >= since,
            )
        ).scalar_one()

    def _find(self, query: Statement, **where: int | None) -> SentRow | None:
        row = query.one(self.connection, **where)
        return _sent(row) if row else None


# Statements on every message's way are built once: building one costs several times what running it does.
_KNOWN = select(InboxLine.update_id).where(InboxLine.update_id.in_(bindparam("updates", expanding=True)))
_TAKE = Statement(
    select(InboxLine.done_at).where(InboxLine.update_id == bindparam("update")).with_for_update()
)
_KEEP = insert(InboxLine)


def moment_only(when: datetime) -> str:
    """What stays of an update's text, in its own form: the moment, and nothing that anybody said."""
    return msgspec.json.encode({"sent_at": when}).decode()


_END = Statement(
    update(InboxLine)
    .where(InboxLine.update_id == bindparam("update"))
    .values(
        done_at=bindparam("now"),
        why=bindparam("reason"),
        raw=bindparam("moment"),
        chat_id=None,
        holder=None,
        held_until=None,
    )
)
_WAITING = (
    select(InboxLine.update_id, InboxLine.raw)
    .where(InboxLine.done_at.is_(None))
    .order_by(InboxLine.update_id)
)
_POST = Statement(
    insert(OutboxLine).returning(OutboxLine.id),
    (
        "household_id",
        "chat_id",
        "thread_id",
        "html",
        "buttons",
        "refers",
        "reply_to",
        "edits",
        "is_reminder",
        "created_at",
        "holder",
        "held_until",
    ),
)
_UNSENT = (
    select(
        OutboxLine.id,
        OutboxLine.chat_id,
        OutboxLine.thread_id,
        OutboxLine.html,
        type_coerce(OutboxLine.buttons, JSON).label("buttons"),  # only their labels are looked at
        OutboxLine.reply_to,
        OutboxLine.edits,
        OutboxLine.is_reminder,
        OutboxLine.household_id,
        OutboxLine.holder,
        OutboxLine.held_until,
        Attachment.name,
        Attachment.media_type,
        Attachment.kind,
    )
    .outerjoin(Attachment, Attachment.outbox_id == OutboxLine.id)
    .where(OutboxLine.closed_at.is_(None), OutboxLine.id > bindparam("after"))
    .order_by(OutboxLine.is_reminder, OutboxLine.id)
)
_WAITS = (OutboxLine.id == bindparam("letter"), OutboxLine.closed_at.is_(None))
_MARK_SENT = (
    update(OutboxLine)
    .where(*_WAITS)
    .values(closed_at=bindparam("now"), sent_as=bindparam("message"), put_off=None)
)
_MARK_TAKEN_BACK = (
    update(OutboxLine)
    .where(
        OutboxLine.id == bindparam("letter"),
        OutboxLine.refused == "withdrawn",
        OutboxLine.sent_as.is_(None),
    )
    .values(sent_as=bindparam("message"))
    .returning(OutboxLine.household_id, OutboxLine.chat_id, OutboxLine.reply_to)
)
_CHANGE_INSTEAD = (
    update(OutboxLine)
    .where(
        OutboxLine.household_id.is_not_distinct_from(bindparam("household")),
        OutboxLine.chat_id == bindparam("chat"),
        OutboxLine.reply_to == bindparam("reply"),
        OutboxLine.id > bindparam("letter"),
        OutboxLine.closed_at.is_(None),
        OutboxLine.edits.is_(None),
        ~exists().where(Attachment.outbox_id == OutboxLine.id),
    )
    .values(edits=bindparam("message"))
)
_REFUSE = (
    update(OutboxLine)
    .where(*_WAITS)
    .values(closed_at=bindparam("now"), refused=bindparam("reason"))
    .returning(OutboxLine.chat_id, OutboxLine.household_id)
)
_SUPERSEDE = (
    update(OutboxLine)
    .where(
        OutboxLine.household_id.is_not_distinct_from(bindparam("household")),
        OutboxLine.chat_id == bindparam("chat"),
        OutboxLine.edits == bindparam("message"),
        OutboxLine.closed_at.is_(None),
    )
    .values(closed_at=bindparam("now"), refused="superseded")
)
_IN_CHAT = select(
    OutboxLine.id,
    OutboxLine.html,
    OutboxLine.buttons,
    OutboxLine.refers,
    OutboxLine.created_at,
    func.coalesce(OutboxLine.edits, OutboxLine.sent_as).label("message_id"),
).where(
    OutboxLine.chat_id == bindparam("chat"),
    OutboxLine.household_id.is_not_distinct_from(bindparam("household")),
)
_LATEST = _IN_CHAT.order_by(OutboxLine.id.desc()).limit(1)
_LATEST_SAID = Statement(_LATEST.where(or_(OutboxLine.edits.is_(None), OutboxLine.is_reminder.is_(False))))
_MESSAGE_OF = select(OutboxLine.chat_id, OutboxLine.sent_as, OutboxLine.closed_at, OutboxLine.refused).where(
    OutboxLine.household_id == bindparam("household"), OutboxLine.id == bindparam("letter")
)
_SENT_AS = Statement(
    _LATEST.where(or_(OutboxLine.sent_as == bindparam("message"), OutboxLine.edits == bindparam("message")))
)
_LETTER = Statement(_IN_CHAT.where(OutboxLine.id == bindparam("letter")))
_REFERS_SINCE = select(OutboxLine.refers).where(
    OutboxLine.household_id == bindparam("household"),
    OutboxLine.chat_id == bindparam("chat"),
    OutboxLine.created_at >= bindparam("since"),
    OutboxLine.refused.is_(None),
)
_ANSWER_TO = (
    select(OutboxLine.sent_as)
    .where(
        OutboxLine.household_id == bindparam("household"),
        OutboxLine.chat_id == bindparam("chat"),
        OutboxLine.reply_to == bindparam("message"),
        OutboxLine.sent_as.is_not(None),
    )
    .order_by(OutboxLine.id.desc())
    .limit(1)
)


def _sent(row: Fetched) -> SentRow:
    return SentRow(
        id=row.id,
        message_id=row.message_id,
        html=row.html,
        buttons=row.buttons,
        refers=row.refers,
        created_at=row.created_at,
    )
