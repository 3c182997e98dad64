"""The desk: every message to a household passes here, one transaction each."""

from collections.abc import Callable, Hashable, Mapping, Sequence
from datetime import datetime, timedelta
from functools import partial
from typing import Literal
from zoneinfo import ZoneInfo

import msgspec

from bot.house import messages, outbox, presses
from bot.house.home import Home
from bot.house.letters import plan
from bot.house.letters.calendar import written_out
from bot.house.people import doors, joining, membership
from bot.house.people import settings as setup
from bot.house.people.doors import Guest
from bot.house.people.floods import Floods
from bot.house.talk import Attached, Button, Incoming, Letter, Waiting
from bot.house.turn import Turn
from bot.ids import ChatId, LetterId, MessageId, UpdateId
from bot.say import company
from bot.store.database import is_outage
from bot.store.queries.households import HouseholdRow
from bot.store.queries.postbox import Outgoing
from bot.store.unit import Unit, Units
from bot.understand import joined

ATTEMPTS = 3
TIDY_EVERY = timedelta(days=1)

Fate = Literal["again", "waits", "aside"]
"""What becomes of an update that failed: tried again, waiting for the database to work, set aside."""


class Desk:
    """Plain functions over one database; one call at a time."""

    def __init__(
        self,
        units: Units,
        *,
        timezone: str,
        hears_all: bool = True,
        founded_an_hour: int = doors.FOUNDED_AN_HOUR,
        born: datetime | None = None,
    ) -> None:
        """`timezone` is what a new household starts with; `hears_all` is whether plain messages in a group
        reach the bot; `founded_an_hour` is how many households strangers may found; `born` is when this process
        began."""
        self._units = units
        self._founded_an_hour = founded_an_hour
        self._born = born
        self._timezone = timezone
        self.hears_all = hears_all
        self.username = ""
        """The bot's own, for links; empty where there are none."""
        self._floods = Floods()
        self._tidied: datetime | None = None

    # what comes in

    def take_in(
        self,
        updates: Sequence[tuple[UpdateId, str]],
        now: datetime,
        chats: Mapping[UpdateId, ChatId | None] | None = None,
    ) -> None:
        """Keeps raw updates, in one commit, before the chat service is told that they were received. `chats` says
        in which chat each was said, where that is known: households are served in turn."""
        with self._units.begin() as unit:
            unit.post.take_in(updates, now, chats or {})

    def waiting(self) -> list[tuple[UpdateId, str]]:
        """Raw updates that are kept and not handled yet, oldest first."""
        with self._units.read() as unit:
            return unit.post.waiting()

    def claim(
        self, most: int, now: datetime, *, suspects: bool = True
    ) -> tuple[list[Waiting], datetime | None]:
        """The updates to be handled next, in that order; where there are none, when there may be some. They are
        held for this process: what it has begun of them is known even when it ends without a word. One in which a
        process ended is a suspect: it comes alone, and only when `suspects` are wanted."""
        with self._units.begin() as unit:
            rows = unit.work.claim(most, now, self._born, suspects=suspects)
            following = unit.work.next_try(now) if not rows else None
        return [Waiting(row.update_id, row.raw, row.spent) for row in rows], following

    def let_go(self, now: datetime) -> None:
        """Nothing that was claimed is in work any more: whoever comes next may have it at once."""
        with self._units.begin() as unit:
            unit.work.let_go()

    def prove(self, now: datetime) -> int:
        """Writes, so that it is known whether that works; returns how many updates wait."""
        with self._units.begin() as unit:
            return unit.work.prove(now)

    def set_aside(self, update_id: UpdateId, why: str, now: datetime) -> None:
        """Marks an update of no use as done, with its reason."""
        with self._units.begin() as unit:
            unit.post.end_update(update_id, now, why)

    def failed(
        self,
        update_id: UpdateId,
        incoming: Incoming | None,
        error: Exception,
        why: str,
        pause: timedelta,
        now: datetime,
    ) -> Fate:
        """An update could not be handled. It is tried again after a pause, beside the queue: nobody waits for it,
        and later messages of its own household may go ahead too, since what fails may go on failing, and what
        they say stands by itself (an undo that came before its reading says that there is nothing to undo).

        After three failures of its own it is set aside and the owner told; `why` is kept beside it. The fault of
        the disk, the database or the network is none of its own: then it waits, however long that takes. The
        count is a write like any other: if that fails, so does this.
        """
        outage = is_outage(error)
        with self._units.begin() as unit:
            count = unit.work.put_off(update_id, now + pause, failed=not outage)
        if outage or count is None or count < ATTEMPTS:
            return "waits" if outage else "again"
        why = f"failed {ATTEMPTS} times: {why}"
        try:
            if incoming is not None:
                self.give_up(incoming, why, now)
            else:
                self.set_aside(update_id, why, now)
        except Exception as other:
            if is_outage(other):
                return "waits"
            # Telling may meet the same fault; setting it aside must work all the same.
            self.set_aside(update_id, why, now)
        return "aside"

    def give_up(self, incoming: Incoming, why: str, now: datetime) -> None:
        """Marks an update that could not be handled as done, with its reason, and tells the owner: in private
        if they talk there, else in the household's chat, where others see it too."""
        with self._units.begin() as unit:
            unit.post.end_update(incoming.update_id, now, why)
            chat = unit.households.chat(incoming.chat_id)
            if chat is not None:
                _own_up(unit, chat.household, incoming, now)

    def spent(self, incoming: Incoming, now: datetime) -> None:
        """Sets aside an update that this process ended in again and again, and tells who sent it, where it was
        said. Of its words nothing is looked at."""
        with self._units.begin() as unit:
            unit.post.end_update(incoming.update_id, now, "begun in several lives, finished in none")
            chat = unit.households.of_chat(incoming.chat_id)
            zone = ZoneInfo(chat.timezone if chat is not None else self._timezone)
            letter = Outgoing(
                chat_id=incoming.chat_id,
                html=company.stopped_me(f"{incoming.sent_at.astimezone(zone):%H:%M}"),
                reply_to=incoming.message_id if incoming.press is None else None,
                thread_id=incoming.thread_id,
            )
            outbox.post(unit, chat.id if chat is not None else None, letter, now)

    def handle(self, incoming: Incoming, now: datetime) -> str | None:
        """Takes one update to its end in one commit: entries, answer, reminders. A second delivery of the
        same update changes nothing. For a pressed button that came too late the answer is a line that only
        the one who pressed it should see."""
        who: Hashable = None
        answer = None
        with self._units.begin() as unit:
            if unit.post.begin_update(incoming.update_id, now):
                who, answer = self._handle(unit, incoming, now)
                unit.post.end_update(incoming.update_id, now)
        if who is not None:  # only now: what was not committed does not count
            self._floods.note(who, incoming.sent_at)
        return answer

    def moved(self, chat_id: ChatId, new_chat_id: ChatId, now: datetime) -> None:
        """The chat service gave a chat a new id."""
        with self._units.begin() as unit:
            joining.move(unit, chat_id, new_chat_id, now)

    # what goes out

    def wake(self, now: datetime) -> datetime | None:
        """Puts what is due by now in the outbox; returns when something is due next. Once a day it also lets go of
        what has had its time."""
        following = self._ring(now)
        if self._tidied is None or now - self._tidied >= TIDY_EVERY:
            self._tidy(now)
        return following

    def _tidy(self, now: datetime) -> None:
        self._tidied = now  # also where it fails: what is due must not suffer from that again and again
        with self._units.begin() as unit:
            if not unit.retention.tidy(now):
                self._tidied = None
        self._units.write_back()

    def _ring(self, now: datetime) -> datetime | None:
        with self._units.read() as unit:
            following = unit.reminders.next_ring()
        if following is None or following > now:
            return following
        trouble: Exception | None = None
        with self._units.read() as unit:
            households = unit.reminders.households_ringing(now)
        for household_id in households:
            try:
                with self._units.begin() as unit:
                    plan.ring(unit, household_id, now)
            except Exception as error:  # one household's trouble must not keep the others waiting
                trouble = error
        if trouble is not None:
            raise trouble
        with self._units.read() as unit:
            return unit.reminders.next_ring()

    def unsent(self, now: datetime, after: int = 0) -> list[Letter]:
        """Letters to be sent with a number above `after`: replies before reminders, else oldest first."""
        with self._units.read() as unit:
            rows = unit.post.unsent(after)
            held = [unit.post.held_until(row, now) for row in rows]
        return [
            Letter(
                letter_id=row.id,
                chat_id=row.chat_id,
                html=row.html,
                buttons=tuple(
                    Button(label=label, data=f"{row.id}:{number}")
                    for number, (label, _) in enumerate(row.buttons)
                ),
                reply_to=row.reply_to,
                thread_id=row.thread_id,
                edits=row.edits,
                reminder=row.is_reminder,
                file=Attached(name=row.name, media_type=row.media_type, kind=row.kind)
                if row.kind is not None
                else None,
                household=row.household_id,
                held_until=until,
                ours=ours,
            )
            for row, (until, ours) in zip(rows, held, strict=True)
        ]

    def hold(self, letter_ids: Sequence[LetterId], now: datetime) -> set[LetterId]:
        """Takes letters to be sent by this process, or goes on holding them; returns those that it has: of the
        others another process has them, or one that goes before."""
        with self._units.begin() as unit:
            return unit.work.hold(letter_ids, now)

    def file(self, letter_id: LetterId) -> Callable[[], bytes] | None:
        """Makes what is in an unsent letter's file, without the database and beside other work: that may take a while.
        None where the letter has gone meanwhile."""
        with self._units.read() as unit:
            kept = unit.post.file(letter_id)
        return partial(written_out, kept) if kept is not None else None

    def sent(self, letters: Sequence[tuple[LetterId, MessageId]], now: datetime) -> bool:
        """These letters are in their chats, each under the message id beside it; in one commit. Whether that changed
        how others are to be sent: what takes the place of one that was on its way changes that one."""
        with self._units.begin() as unit:
            return unit.post.mark_sent(letters, now)

    def refused(self, letter_id: LetterId, why: str, now: datetime, *, gone: bool = True) -> None:
        """The letter can never be delivered. Where the bot is `gone` from its chat, or blocked there, nothing is
        sent to it until somebody writes there or it is let in again; what the letter was to remind of is due
        again, to be said then, or in another chat of the house."""
        with self._units.begin() as unit:
            found = unit.post.refuse(letter_id, why, now)
            if found is None or not gone:
                return
            chat_id, household_id = found
            unit.households.mark_chat(chat_id, why)
            if household_id is not None:
                unit.reminders.unsay(household_id, letter_id)

    def put_off(self, letter_id: LetterId, why: str, now: datetime) -> None:
        """The chat does not take the letter for now. It waits; what falls due there meanwhile is kept, and said
        together later."""
        with self._units.begin() as unit:
            unit.work.put_off_letter(letter_id, why)

    def close(self) -> None:
        """Lets go of the database."""
        self._units.close()

    # households

    def furnish(
        self,
        chat_id: ChatId,
        name: str,
        now: datetime,
        *,
        timezone: str | None = None,
        **settings: str,
    ) -> None:
        """Sets a household up for that chat, or changes the settings of the one that is there."""
        wanted = {"timezone": timezone or self._timezone, **settings}
        with self._units.begin() as unit:
            chat = unit.households.chat(chat_id)
            if chat is None:
                doors.new_household(unit, chat_id, name, now, wanted)
            else:
                unit.households.settle(chat.household.id, **wanted)

    def _handle(self, unit: Unit, incoming: Incoming, now: datetime) -> tuple[Hashable, str | None]:
        if incoming.text is not None:  # once, before anybody looks for words in it
            incoming = msgspec.structs.replace(incoming, text=joined(incoming.text))
        if incoming.moved_to is not None:
            joining.move(unit, incoming.chat_id, incoming.moved_to, now)
            return None, None
        if incoming.removed:
            unit.households.mark_chat(incoming.chat_id, "the bot was removed")
            return None, None
        if incoming.left is not None:
            doors.leave(unit, incoming, incoming.left, now)
            return None, None
        if incoming.opened:
            unit.households.mark_chat(incoming.chat_id, None)
            return None, None
        guest = doors.enter(unit, incoming, now, self._timezone, self._founded_an_hour)
        if guest is None or isinstance(guest, str):
            return None, guest
        home = Home(unit, guest.household, now)
        who = (home.id, guest.member.id)
        turn = Turn(unit=unit, home=home, member=guest.member, incoming=guest.incoming, now=now)
        before = len(home.entries)
        answer = self._answer(turn, guest, who)
        if len(home.entries) > before:
            plan.replan(home)
        return who, answer

    def _answer(self, turn: Turn, guest: Guest, who: Hashable) -> str | None:
        incoming = turn.incoming
        if incoming.joined:
            if guest.returned:
                turn.reply(company.BACK)
            else:
                setup.greet(turn, hears_all=self.hears_all)
            return None
        if incoming.press is not None:
            return presses.press(turn)
        tide = self._floods.tide(who, incoming.sent_at)
        if tide == "rising":
            turn.reply(company.flooding(turn.member.name))
        if tide != "calm":
            turn = msgspec.structs.replace(turn, quiet=True)
        if incoming.text is None or incoming.forwards_command or membership.command(turn, self.username):
            return None
        if incoming.edited:
            messages.amend(turn)
        else:
            messages.hear(turn, hears_all=self.hears_all)
        return None


def _own_up(unit: Unit, household: HouseholdRow, incoming: Incoming, now: datetime) -> None:
    people = unit.people.members(household.id)
    owner = next((ChatId(member.person_id) for member in people if member.owner), None)
    at = incoming.sent_at.astimezone(ZoneInfo(household.timezone))
    html = company.could_not(incoming.sender_name, f"{at:%H:%M}")
    if owner is not None and unit.households.talks_in(household.id, owner) and owner != incoming.chat_id:
        outbox.post(unit, household.id, Outgoing(chat_id=owner, html=html), now)
        return
    letter = Outgoing(
        chat_id=incoming.chat_id,
        html=html,
        reply_to=incoming.message_id if incoming.press is None else None,
        thread_id=incoming.thread_id,
    )
    outbox.post(unit, household.id, letter, now)
