"""The desk: every message to a household passes here, one transaction each."""

from collections.abc import Sequence
from datetime import datetime

import msgspec

from bot.house import hearing, presses, reminders, setup
from bot.house.home import Home
from bot.house.talk import Button, Incoming, Letter
from bot.house.turn import Turn
from bot.say import welcome
from bot.store.people import HouseholdRow, MemberRow
from bot.store.postbox import Outgoing
from bot.store.unit import Unit, Units

VESSELS: tuple[tuple[str, float | None], ...] = (
    ("bucket 1", None),
    ("bucket 2", None),
    ("bucket 3", None),
    ("demijohn 1", None),
    ("demijohn 2", None),
)
"""What a new household is taken to have, until it says otherwise with /vessel."""


class Desk:
    """Plain functions over one database; one call at a time."""

    def __init__(self, units: Units, *, timezone: str, hears_all: bool = True) -> None:
        """`timezone` is what a new household starts with; `hears_all` is whether plain messages in a group
        reach the bot."""
        self._units = units
        self._timezone = timezone
        self.hears_all = hears_all

    # what comes in

    def take_in(self, updates: Sequence[tuple[int, str]], now: datetime) -> None:
        """Keeps raw updates, in one commit, before the chat service is told that they were received."""
        with self._units.begin() as unit:
            for update_id, raw in updates:
                unit.post.take_in(update_id, raw, now)

    def waiting(self) -> list[tuple[int, str]]:
        """Raw updates that are kept and not handled yet, oldest first."""
        with self._units.read() as unit:
            return unit.post.waiting()

    def set_aside(self, update_id: int, why: str, now: datetime) -> None:
        """Marks an update of no use as done, with its reason."""
        with self._units.begin() as unit:
            unit.post.end_update(update_id, now, why)

    def handle(self, incoming: Incoming, now: datetime) -> None:
        """Takes one update to its end in one commit: entries, answer, reminders. A second delivery of the
        same update changes nothing."""
        with self._units.begin() as unit:
            if unit.post.begin_update(
                incoming.update_id, lambda: msgspec.json.encode(incoming).decode(), now
            ):
                self._handle(unit, incoming, now)
                unit.post.end_update(incoming.update_id, now)

    def moved(self, chat_id: int, new_chat_id: int, now: datetime) -> None:
        """The chat service gave a chat a new id."""
        with self._units.begin() as unit:
            unit.people.move_chat(chat_id, new_chat_id)

    # what goes out

    def wake(self, now: datetime) -> datetime | None:
        """Puts what is due by now in the outbox; returns when something is due next."""
        with self._units.read() as unit:
            following = unit.reminders.next_ring()
        if following is None or following > now:
            return following
        with self._units.read() as unit:
            households = unit.reminders.ringing(now)
        for household_id in households:  # a transaction each: nobody's message waits for all of them
            with self._units.begin() as unit:
                reminders.ring(unit, household_id, now)
        with self._units.read() as unit:
            return unit.reminders.next_ring()

    def unsent(self, now: datetime) -> list[Letter]:
        """Letters to be sent: replies before reminders, else oldest first."""
        with self._units.read() as unit:
            rows = unit.post.unsent()
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
            )
            for row in rows
        ]

    def sent(self, letter_id: int, message_id: int, now: datetime) -> None:
        """The letter is in the chat, under that id."""
        with self._units.begin() as unit:
            unit.post.close_letter(letter_id, now, sent_as=message_id)

    def refused(self, letter_id: int, why: str, now: datetime) -> None:
        """The letter can never be delivered."""
        with self._units.begin() as unit:
            chat_id = unit.post.close_letter(letter_id, now, refused=why)
            if chat_id is not None:
                unit.people.mark_chat(chat_id, why)

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
            row = unit.people.household_of_chat(chat_id)
            if row is None:
                _new_household(unit, chat_id, name, now, private=False, **wanted)
            else:
                unit.people.settle(row.id, **wanted)

    def _handle(self, unit: Unit, incoming: Incoming, now: datetime) -> None:
        if incoming.moved_to is not None:
            unit.people.move_chat(incoming.chat_id, incoming.moved_to)
            return
        row = self._household(unit, incoming, now)
        if row is None:
            html = welcome.STRANGER
            unit.post.post(
                None, Outgoing(chat_id=incoming.chat_id, html=html, reply_to=incoming.message_id), now
            )
            return
        member = _member(unit, row, incoming, now)
        home = Home(unit, row, now)
        turn = Turn(unit=unit, home=home, member=member, incoming=incoming, now=now)
        before = len(home.entries)
        if incoming.joined:
            unit.people.mark_chat(incoming.chat_id, None)
            setup.greet(turn, hears_all=self.hears_all)
        elif incoming.press is not None:
            presses.press(turn)
        elif incoming.text is None:
            return
        elif incoming.edited:
            hearing.amend(turn)
        else:
            hearing.hear(turn, hears_all=self.hears_all)
        if len(home.entries) > before:
            reminders.replan(home)

    def _household(self, unit: Unit, incoming: Incoming, now: datetime) -> HouseholdRow | None:
        """The chat's household; a group that speaks for the first time gets one with defaults, so that no
        reading is lost for want of set-up. A stranger in private gets one only by asking for it."""
        row = unit.people.household_of_chat(incoming.chat_id)
        if row is not None:
            return row
        settings = {"timezone": self._timezone}
        if not incoming.private:
            name = incoming.chat_title or "Home"
            return _new_household(unit, incoming.chat_id, name, now, private=False, **settings)
        row = unit.people.household_of_person(incoming.sender_id)
        if row is not None:
            unit.people.add_chat(incoming.chat_id, row.id, private=True)
            return row
        if (incoming.text or "").split(" ")[0] != "/start":
            return None
        name = f"{incoming.sender_name}'s"
        return _new_household(unit, incoming.chat_id, name, now, private=True, **settings)


def _new_household(
    unit: Unit, chat_id: int, name: str, now: datetime, *, private: bool, **settings: str
) -> HouseholdRow:
    row = unit.people.add_household(name[:120], now, **settings)
    unit.people.add_chat(chat_id, row.id, private=private)
    for vessel, litres in VESSELS:
        unit.people.add_vessel(row.id, vessel, litres)
    return row


def _member(unit: Unit, row: HouseholdRow, incoming: Incoming, now: datetime) -> MemberRow:
    """Whoever speaks in the household's chat is a member of it."""
    known = unit.people.member(row.id, incoming.sender_id)
    return known or unit.people.add_member(row.id, incoming.sender_id, incoming.sender_name[:120], now)
