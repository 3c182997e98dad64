"""One message's turn: who speaks, in which house, and how the bot answers there."""

from collections.abc import Sequence
from datetime import datetime

import msgspec

from bot.cellar.log.acts import Begin, Undo
from bot.cellar.log.fold import Entry, standing
from bot.house import outbox
from bot.house.home import Home
from bot.house.talk import Incoming
from bot.ids import EntryId, MessageId
from bot.store.press import Labelled
from bot.store.queries.logbook import Source
from bot.store.queries.people import MemberRow
from bot.store.queries.postbox import File, Outgoing, SentRow
from bot.store.refers import Refers, WantsKit
from bot.store.unit import Unit


class FirstAid(msgspec.Struct, kw_only=True):
    """What is to be said about the dangers in a message beside its first answer: `before` it where it cannot wait,
    `after` it where it is a word of care that must not bury what was asked or told."""

    before: str
    after: str
    topics: tuple[str, ...]
    said: bool = False


class Turn(msgspec.Struct, frozen=True, kw_only=True):
    """What everything that answers a message needs. `strikes` are the entries that this message replaces;
    `edits` is the bot's own message to change instead of sending a new one; `quiet` is for a flood: only
    what must be answered is said. `among` are the reminders of the letter that is being answered,
    `lacked` the wish for a reminder that this message gives its time to, `aid` what is said of dangers beside its first
    answer."""

    unit: Unit
    home: Home
    member: MemberRow
    incoming: Incoming
    now: datetime
    strikes: tuple[EntryId, ...] = ()
    edits: MessageId | None = None
    quiet: bool = False
    among: tuple[int, ...] = ()
    lacked: str | None = None
    aid: FirstAid | None = None

    @property
    def for_wine(self) -> bool:
        """Whether it is said in a chat for the wine alone: the house's group where it is that, or in private."""
        return self.incoming.private or self.home.row.chat == "wine"

    @property
    def source(self) -> Source:
        return Source(
            chat_id=self.incoming.chat_id,
            message_id=self.incoming.message_id,
            update_id=self.incoming.update_id,
        )

    def answers_to(self) -> SentRow | None:
        """The bot's message that this one may answer: the one replied to, else its latest in this chat."""
        post, incoming = self.unit.post, self.incoming
        if incoming.reply_to is not None:
            return post.sent_message(self.home.id, incoming.chat_id, incoming.reply_to)
        return post.latest(self.home.id, incoming.chat_id)

    def kit_told(self) -> Begin:
        """What was told in this chat of a kit that is not begun yet."""
        latest = self.unit.post.latest(self.home.id, self.incoming.chat_id)
        wants = latest.refers.wants if latest is not None else None
        return (wants.told if isinstance(wants, WantsKit) else None) or Begin()

    def replied_entries(self) -> list[Entry]:
        """What stands of the message replied to, oldest first: what it wrote, or what the bot's answer that it
        is tells of."""
        chat_id, message_id = self.incoming.chat_id, self.incoming.reply_to
        if message_id is None:
            return []
        sent = self.unit.post.sent_message(self.home.id, chat_id, message_id)
        ids = set(sent.refers.entries) if sent is not None else set()
        ids |= {e.entry for e in self.unit.log.entries_of_message(self.home.id, chat_id, message_id)}
        stand = [e for e in standing(self.home.entries) if e.entry in ids and not isinstance(e.act, Undo)]
        return sorted(stand, key=lambda entry: entry.entry)

    def reply(
        self,
        html: str,
        buttons: Sequence[Labelled] = (),
        refers: Refers | None = None,
        *,
        must: bool = False,
        file: File | None = None,
    ) -> None:
        """Answers in the chat where the message came from; what `must` be said is said in a flood too. An answer
        with a file is a new message, since none of the bot's can be given one afterwards. First aid is said even
        where nothing else is."""
        refers = refers or Refers()
        if not self.home.view.under_way and refers.wants is None and (told := self.kit_told()) != Begin():
            refers = msgspec.structs.replace(refers, wants=WantsKit(what=told.lacks or "vessel", told=told))
        aid = self.aid if self.aid is not None and not self.aid.said else None
        if self.quiet and not must:
            if aid is None:
                return
            html, buttons, refers, file = "", (), Refers(), None
        if aid is not None:
            html = "\n\n".join(filter(None, [aid.before, html, aid.after]))
            refers = msgspec.structs.replace(refers, dangers=aid.topics)
            aid.said = True
        edits = self.edits if file is None else None
        letter = Outgoing(
            chat_id=self.incoming.chat_id,
            html=html,
            buttons=tuple(buttons),
            refers=msgspec.structs.replace(refers, among=self.among, lacked=self.lacked),
            thread_id=self.incoming.thread_id,
            reply_to=None if edits else self.incoming.message_id,
            edits=edits,
            file=file,
        )
        outbox.post(self.unit, self.home.id, letter, self.now)

    def say_aid(self) -> None:
        """Says the first aid that no answer told."""
        if self.aid is not None and not self.aid.said:
            self.reply("", must=True)
