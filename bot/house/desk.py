"""The desk: every message to a household passes here, one transaction each."""

from collections.abc import Hashable, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

import msgspec

from bot.house import doors, hearing, mail, membership, moving, presses, reminders, setup
from bot.house.doors import Guest
from bot.house.floods import Floods
from bot.house.home import Home
from bot.house.talk import Attached, Button, Incoming, Letter
from bot.house.turn import Turn
from bot.say import company
from bot.store.households import HouseholdRow
from bot.store.postbox import Outgoing
from bot.store.unit import Unit, Units
from bot.understand import joined


class Desk:
    """Plain functions over one database; one call at a time."""

    def __init__(self, units: Units, *, timezone: str, hears_all: bool = True) -> None:
        """`timezone` is what a new household starts with; `hears_all` is whether plain messages in a group
        reach the bot."""
        self._units = units
        self._timezone = timezone
        self.hears_all = hears_all
        self.username = ""
        """The bot's own, for links; empty where there are none."""
        self._floods = Floods()

    # what comes in

    def take_in(self, updates: Sequence[tuple[int, str]], now: datetime) -> None:
        """Keeps raw updates, in one commit, before the chat service is told that they were received."""
        with self._units.begin() as unit:
            unit.post.take_in(updates, now)

    def waiting(self) -> list[tuple[int, str]]:
        """Raw updates that are kept and not handled yet, oldest first."""
        with self._units.read() as unit:
            return unit.post.waiting()

    def set_aside(self, update_id: int, why: str, now: datetime) -> None:
        """Marks an update of no use as done, with its reason."""
        with self._units.begin() as unit:
            unit.post.end_update(update_id, now, why)

    def give_up(self, incoming: Incoming, why: str, now: datetime) -> None:
        """Marks an update that could not be handled as done, with its reason, and tells the owner: in private
        if they talk there, else in the household's chat, where others see it too."""
        with self._units.begin() as unit:
            unit.post.end_update(incoming.update_id, now, why)
            chat = unit.households.chat(incoming.chat_id)
            if chat is not None:
                _own_up(unit, chat.household, incoming, now)

    def handle(self, incoming: Incoming, now: datetime) -> str | None:
        """Takes one update to its end in one commit: entries, answer, reminders. A second delivery of the
        same update changes nothing. For a pressed button that came too late the answer is a line that only
        the one who pressed it should see."""
        who: Hashable = None
        answer = None
        with self._units.begin() as unit:
            if unit.post.begin_update(
                incoming.update_id, lambda: msgspec.json.encode(incoming).decode(), now
            ):
                who, answer = self._handle(unit, incoming, now)
                unit.post.end_update(incoming.update_id, now)
        if who is not None:  # only now: what was not committed does not count
            self._floods.note(who, incoming.sent_at)
        return answer

    def moved(self, chat_id: int, new_chat_id: int, now: datetime) -> None:
        """The chat service gave a chat a new id."""
        with self._units.begin() as unit:
            moving.move(unit, chat_id, new_chat_id, now)

    # what goes out

    def wake(self, now: datetime) -> datetime | None:
        """Puts what is due by now in the outbox; returns when something is due next."""
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
                    reminders.ring(unit, household_id, now)
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
            )
            for row in rows
        ]

    def file(self, letter_id: int) -> bytes | None:
        """What is in an unsent letter's file; None where the letter has gone meanwhile."""
        with self._units.read() as unit:
            return unit.post.file(letter_id)

    def sent(self, letters: Sequence[tuple[int, int]], now: datetime) -> None:
        """These letters are in their chats, each under the message id beside it; in one commit."""
        with self._units.begin() as unit:
            unit.post.mark_sent(letters, now)

    def refused(self, letter_id: int, why: str, now: datetime) -> None:
        """The letter can never be delivered."""
        with self._units.begin() as unit:
            chat_id = unit.post.refuse(letter_id, why, now)
            if chat_id is not None:
                unit.households.mark_chat(chat_id, why)

    def close(self) -> None:
        """Lets go of the database."""
        self._units.close()

    # households

    def furnish(
        self,
        chat_id: int,
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
            moving.move(unit, incoming.chat_id, incoming.moved_to, now)
            return None, None
        if incoming.removed:
            unit.households.mark_chat(incoming.chat_id, "the bot was removed")
            return None, None
        if incoming.left is not None:
            doors.leave(unit, incoming, incoming.left, now)
            return None, None
        guest = doors.enter(unit, incoming, now, self._timezone)
        if guest is None or isinstance(guest, str):
            return None, guest
        home = Home(unit, guest.household, now)
        who = (home.id, guest.member.id)
        turn = Turn(unit=unit, home=home, member=guest.member, incoming=guest.incoming, now=now)
        before = len(home.entries)
        answer = self._answer(turn, guest, who)
        if len(home.entries) > before:
            reminders.replan(home)
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
            hearing.amend(turn)
        else:
            hearing.hear(turn, hears_all=self.hears_all)
        return None


def _own_up(unit: Unit, household: HouseholdRow, incoming: Incoming, now: datetime) -> None:
    people = unit.people.members(household.id)
    owner = next((member.person_id for member in people if member.owner), None)
    at = incoming.sent_at.astimezone(ZoneInfo(household.timezone))
    html = company.could_not(incoming.sender_name, f"{at:%H:%M}")
    if owner is not None and unit.households.talks_in(household.id, owner) and owner != incoming.chat_id:
        mail.post(unit, household.id, Outgoing(chat_id=owner, html=html), now)
        return
    letter = Outgoing(
        chat_id=incoming.chat_id,
        html=html,
        reply_to=incoming.message_id if incoming.press is None else None,
        thread_id=incoming.thread_id,
    )
    mail.post(unit, household.id, letter, now)
