"""The door: which household a chat belongs to, and who may speak in it.

A group is a household; whoever writes in it is a member, unless they were removed. In private a person talks
about a household that they are in; a stranger gets one polite line.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

import msgspec

from bot.cellar.log.lengths import HOUSEHOLD, LABEL, PERSON
from bot.house import first_aid, outbox
from bot.house.people import settings as setup
from bot.house.talk import ANONYMOUS, Incoming
from bot.ids import ChatId, HouseholdId
from bot.say import company, welcome
from bot.store.press import EnterHouse, Labelled, RemoveMember
from bot.store.queries.households import ChatRow, HouseholdRow
from bot.store.queries.people import InviteRow, MemberRow, MemberState
from bot.store.queries.postbox import Outgoing
from bot.store.refers import Refers
from bot.store.unit import Unit

VESSELS: tuple[tuple[str, float | None], ...] = (
    ("bucket 1", None),
    ("bucket 2", None),
    ("bucket 3", None),
    ("demijohn 1", None),
    ("demijohn 2", None),
)
"""What a new household is taken to have, until it says otherwise with /vessel."""

FOUNDED_AN_HOUR = 100
"""Households that people who are in none may found in an hour, all together, unless the setting says otherwise; one
person, in a household or not, may found half as many. Far above what a host's friends need, far below what fills
a disk."""

_HOUR = timedelta(hours=1)
_QUIET = timedelta(days=1)
_MOST_LINES = 10


class Guest(msgspec.Struct, frozen=True, kw_only=True):
    """Who came in where, and with what: `incoming` may be an earlier message, now that its household is known.
    `returned` says that the chat could not be reached before, `began` that the household is new."""

    household: HouseholdRow
    member: MemberRow
    incoming: Incoming
    returned: bool = False
    began: bool = False


def enter(
    unit: Unit, incoming: Incoming, now: datetime, timezone: str, founded_an_hour: int = FOUNDED_AN_HOUR
) -> Guest | str | None:
    """Lets somebody in. When nobody came in, all that had to be said was said at the door; a line instead is for
    the one who pressed a button."""
    if incoming.private:
        return _privately(unit, incoming, now, timezone, founded_an_hour)
    chat = unit.households.chat(incoming.chat_id)
    if incoming.press is not None and (refusal := _turned_away(unit, incoming, chat)) is not None:
        return refusal
    if chat is None and not _may_found(unit, incoming, now, founded_an_hour):
        return None
    household = (
        chat.household
        if chat is not None
        else _found(unit, incoming, incoming.chat_title or "Home", now, timezone)
    )
    returned = chat is not None and chat.unreachable is not None
    if returned:
        unit.households.mark_chat(incoming.chat_id, None)
    if not incoming.sender_id:
        return None
    member = _member(unit, household, incoming, now)
    if member.state == "removed":
        return None
    return Guest(household=household, member=member, incoming=incoming, returned=returned, began=chat is None)


def _turned_away(unit: Unit, incoming: Incoming, chat: ChatRow | None) -> str | None:
    """Why a press in a group does not count: who only looks in can press too, so it counts for those who are in.
    "I'm in" lets in, but where anybody may look in there is no telling who it is."""
    if chat is None:
        return company.GONE
    member = unit.people.member(chat.household.id, incoming.sender_id)
    if member is not None and member.state == "in":
        return None
    if member is not None and member.state == "removed":
        return company.OUT
    comes_in = outbox.pressed(unit, chat.household.id, incoming) == setup.COMES_IN
    return None if comes_in and not incoming.public else company.NOT_IN


def _found(unit: Unit, incoming: Incoming, name: str, now: datetime, timezone: str) -> HouseholdRow:
    settings = {"timezone": timezone}
    founder = incoming.sender_id if incoming.sender_id not in (0, ANONYMOUS) else None
    return new_household(
        unit, incoming.chat_id, name, now, settings, private=incoming.private, founder=founder
    )


def _may_found(unit: Unit, incoming: Incoming, now: datetime, founded_an_hour: int) -> bool:
    """Whether one more household may begin here; where not, that is said once in a day."""
    person = incoming.sender_id
    known = bool(unit.households.of_person(person)) if person not in (0, ANONYMOUS) else False
    too_many = person not in (0, ANONYMOUS) and (
        unit.households.founded_since(now - _HOUR, person) >= (founded_an_hour + 1) // 2
    )
    crowded = not known and unit.households.founded_since(now - _HOUR) >= founded_an_hour
    if not too_many and not crowded:
        return True
    if not unit.post.said_at_door(incoming.chat_id, now - _QUIET):
        _say(unit, incoming, welcome.FOUNDED_ENOUGH if too_many else welcome.CROWDED, now)
    return False


def new_household(
    unit: Unit,
    chat_id: ChatId,
    name: str,
    now: datetime,
    settings: Mapping[str, str],
    *,
    private: bool = False,
    founder: int | None = None,
) -> HouseholdRow:
    """A household with what it has by default, so that no reading is lost for want of set-up."""
    row = unit.households.add(name[:HOUSEHOLD], now, founder, **settings)
    unit.households.add_chat(row.id, chat_id, private=private)
    for vessel, litres in VESSELS:
        unit.people.add_vessel(row.id, vessel, litres)
    return row


def leave(unit: Unit, incoming: Incoming, person_id: int, now: datetime) -> None:
    """Somebody left the household's group: they are out until they write there again."""
    chat = unit.households.chat(incoming.chat_id)
    member = unit.people.member(chat.household.id, person_id) if chat is not None else None
    if chat is None or member is None or member.state != "in":
        return
    shut_out(unit, chat.household.id, member, "left", now)
    if member.owner:
        heir = next((m for m in unit.people.members(chat.household.id) if m.person_id != ANONYMOUS), None)
        if heir is not None:
            unit.people.change_member(chat.household.id, member.id, owner=False)
            unit.people.change_member(chat.household.id, heir.id, owner=True)


def shut_out(
    unit: Unit, household_id: HouseholdId, member: MemberRow, state: MemberState, now: datetime
) -> None:
    """The member is in no more: what was going to their private chat does not go there, and nobody comes in by
    their invitation."""
    unit.people.change_member(household_id, member.id, state=state)
    unit.people.end_invites(household_id, [member.id])
    private = ChatId(member.person_id)
    unit.post.withdraw(household_id, private, now)
    unit.households.leave_chat(household_id, private)


def _member(unit: Unit, household: HouseholdRow, incoming: Incoming, now: datetime) -> MemberRow:
    """The member who speaks, as they are called today. The first one owns the household."""
    name = incoming.sender_name[:PERSON]
    known = unit.people.member(household.id, incoming.sender_id)
    if known is None:
        people = unit.people.everybody(household.id)
        owner = incoming.sender_id != ANONYMOUS and not any(person.owner for person in people)
        return unit.people.add_member(household.id, incoming.sender_id, name, now, owner=owner)
    if known.name != name:
        unit.people.change_member(household.id, known.id, name=name)
        known = msgspec.structs.replace(known, name=name)
    if known.state == "left" and not incoming.private:
        unit.people.change_member(household.id, known.id, state="in")
        known = msgspec.structs.replace(known, state="in")
    return known


def _privately(
    unit: Unit, incoming: Incoming, now: datetime, timezone: str, founded_an_hour: int
) -> Guest | None:
    word, _, rest = ("" if incoming.forwards_command else incoming.text or "").partition(" ")
    if word == "/start" and rest.strip():
        _invited(unit, incoming, rest.strip(), now)
        return None
    if incoming.press is not None and (chosen := _choice(unit, incoming)) is not None:
        return _choose(unit, incoming, chosen, now)
    if word == "/houses":
        _offer(unit, incoming, None, now)
        return None
    chat = unit.households.chat(incoming.chat_id)
    if chat is not None:
        member = unit.people.member(chat.household.id, incoming.sender_id)
        if member is not None and member.state == "in":
            if chat.unreachable is not None:
                unit.households.mark_chat(incoming.chat_id, None)
            member = _member(unit, chat.household, incoming, now)
            return Guest(household=chat.household, member=member, incoming=incoming)
        unit.households.leave_chat(chat.household.id, incoming.chat_id)
    households = unit.households.of_person(incoming.sender_id)
    if len(households) > 1:
        _offer(unit, incoming, incoming if incoming.text is not None else None, now)
        return None
    if households:
        return _seat(unit, households[0].id, incoming, now)
    if word == "/start":
        if not _may_found(unit, incoming, now, founded_an_hour):
            return None
        row = _found(unit, incoming, f"{incoming.sender_name}'s", now, timezone)
        member = _member(unit, row, incoming, now)
        return Guest(household=row, member=member, incoming=incoming, began=True)
    if incoming.text is not None and not unit.post.said_at_door(incoming.chat_id, now - _QUIET):
        _say(unit, incoming, welcome.STRANGER, now)
    return None


def _seat(unit: Unit, household_id: HouseholdId, incoming: Incoming, now: datetime) -> Guest | None:
    """The private chat is about that household from now on, if the person is in it."""
    household = unit.households.lock(household_id)
    member = unit.people.member(household.id, incoming.sender_id)
    if member is None or member.state != "in":
        return None
    unit.households.add_chat(household.id, incoming.chat_id, private=True)
    member = _member(unit, household, incoming, now)
    return Guest(household=household, member=member, incoming=incoming)


def _invited(unit: Unit, incoming: Incoming, code: str, now: datetime) -> None:
    """Somebody came with a code: it opens one household, for whoever was not removed from it."""
    invite = unit.people.invited_to(code, now)
    member = unit.people.member(invite.household_id, incoming.sender_id) if invite is not None else None
    if invite is None or (member is not None and member.state == "removed"):
        if unit.post.said_at_door(incoming.chat_id, now - _QUIET) < _MOST_LINES:
            _say(unit, incoming, company.NOT_VALID, now)
        return
    household = unit.households.lock(invite.household_id)
    inside = member is not None and member.state == "in"
    if member is not None:
        unit.people.change_member(household.id, member.id, state="in")
    else:
        name = incoming.sender_name[:PERSON]
        member = unit.people.add_member(household.id, incoming.sender_id, name, now)
    if not inside:
        _tell_who_came(unit, household.id, member, invite, now)
    unit.households.add_chat(household.id, incoming.chat_id, private=True)
    words = company.in_already(household.name) if inside else company.joined(household.name)
    _say(unit, incoming, words, now, household.id)


def _tell_who_came(
    unit: Unit, household_id: HouseholdId, member: MemberRow, invite: InviteRow, now: datetime
) -> None:
    """Tells the household's group, or where there is none its owner, who came in and by whose invitation."""
    people = unit.people.everybody(household_id)
    where = unit.households.main_chat(household_id)
    if where is not None and any(person.person_id == where for person in people):
        owner = next((ChatId(person.person_id) for person in people if person.owner), where)
        where = owner if unit.households.talks_in(household_id, owner) else where
    if where is None:
        return
    by = next((person.name for person in people if person.id == invite.member_id), None)
    words = company.came_in(member.name, by)
    button = (company.PUT_OUT, RemoveMember(member=member.id))
    outbox.post(unit, household_id, Outgoing(chat_id=where, html=words, buttons=(button,)), now)


def _offer(unit: Unit, incoming: Incoming, pending: Incoming | None, now: datetime) -> None:
    """Asks which household is meant; `pending` is what will be taken in once that is known. A danger in it does not
    wait for that."""
    households = unit.households.of_person(incoming.sender_id)
    if not households:
        if not unit.post.said_at_door(incoming.chat_id, now - _QUIET):
            _say(unit, incoming, welcome.STRANGER, now)
        return
    if len(households) == 1:
        _seat(unit, households[0].id, incoming, now)
        _say(unit, incoming, company.one_house(households[0].name), now, households[0].id)
        return
    kept = msgspec.to_builtins(pending) if pending is not None else None
    aid, topics = first_aid.at_the_door(pending)
    choices: list[Labelled] = [
        (row.name[:LABEL], EnterHouse(household=row.id, pending=kept, dangers=tuple(topics)))
        for row in households
    ]
    _say(unit, incoming, "\n\n".join(filter(None, [aid, company.WHICH])), now, choices=choices)


def _choice(unit: Unit, incoming: Incoming) -> EnterHouse | None:
    """What a button at the door stands for, if it is one and its message was not answered yet."""
    found = outbox.pressed(unit, None, incoming)
    return found if isinstance(found, EnterHouse) else None


def _choose(unit: Unit, incoming: Incoming, chosen: EnterHouse, now: datetime) -> Guest | None:
    guest = _seat(unit, chosen.household, incoming, now)
    if guest is None:
        return None
    letter = Outgoing(
        chat_id=incoming.chat_id,
        html=company.this_house(guest.household.name),
        edits=incoming.message_id,
        refers=Refers(dangers=chosen.dangers),
    )
    # So that it is known there what was told.
    outbox.post(unit, guest.household.id if chosen.dangers else None, letter, now)
    if chosen.pending is None:
        return None
    pending = msgspec.convert(chosen.pending, type=Incoming)
    return msgspec.structs.replace(
        guest, incoming=msgspec.structs.replace(pending, update_id=incoming.update_id)
    )


def _say(
    unit: Unit,
    incoming: Incoming,
    html: str,
    now: datetime,
    household_id: HouseholdId | None = None,
    choices: Sequence[Labelled] = (),
) -> None:
    letter = Outgoing(
        chat_id=incoming.chat_id,
        html=html,
        buttons=tuple(choices),
        reply_to=incoming.message_id if incoming.press is None else None,
        thread_id=incoming.thread_id,
    )
    outbox.post(unit, household_id, letter, now)
