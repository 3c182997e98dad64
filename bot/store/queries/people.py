"""Members and vessels of a household. Every query names its household."""

from collections.abc import Sequence
from datetime import datetime
from typing import Literal

import msgspec
from sqlalchemy import Connection, bindparam, delete, insert, or_, select, update

from bot.ids import HouseholdId
from bot.store.statement import Fetched, Statement
from bot.store.tables import Invite, Member, VesselLine

MemberState = Literal["in", "left", "removed"]


class MemberRow(msgspec.Struct, frozen=True, kw_only=True):
    """A person in a household. `owner` set it up; `state` says whether they are in it now."""

    id: int
    person_id: int
    name: str
    owner: bool = False
    state: MemberState = "in"


class InviteRow(msgspec.Struct, frozen=True, kw_only=True):
    """An invitation: the household that it opens, and the id of the member who made it."""

    household_id: HouseholdId
    member_id: int | None


class VesselRow(msgspec.Struct, frozen=True, kw_only=True):
    """A vessel, with its capacity in litres where known."""

    name: str
    litres: float | None


class People:
    """Who lives here, and what they keep wine in."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection
        self._everybody: dict[int, tuple[MemberRow, ...]] = {}

    def everybody(self, household_id: HouseholdId) -> tuple[MemberRow, ...]:
        """All who ever were members, in the order in which they joined; read once a transaction."""
        if household_id not in self._everybody:
            rows = _EVERYBODY.all(self.connection, household=household_id)
            self._everybody[household_id] = tuple(_member(row) for row in rows)
        return self._everybody[household_id]

    def member(self, household_id: HouseholdId, person_id: int) -> MemberRow | None:
        """That person, in the household now or once."""
        return next((m for m in self.everybody(household_id) if m.person_id == person_id), None)

    def members(self, household_id: HouseholdId) -> tuple[MemberRow, ...]:
        """Who is in the household now."""
        return tuple(member for member in self.everybody(household_id) if member.state == "in")

    def add_member(
        self, household_id: HouseholdId, person_id: int, name: str, now: datetime, *, owner: bool = False
    ) -> MemberRow:
        self._everybody.pop(household_id, None)
        found = self.connection.execute(
            insert(Member)
            .values(household_id=household_id, person_id=person_id, name=name, joined_at=now, owner=owner)
            .returning(Member.id)
        )
        return MemberRow(id=found.scalar_one(), person_id=person_id, name=name, owner=owner)

    def change_member(self, household_id: HouseholdId, member_id: int, **values: str | bool) -> None:
        """Changes a member's `name`, `state` or `owner`."""
        self._everybody.pop(household_id, None)
        self.connection.execute(
            update(Member).where(Member.household_id == household_id, Member.id == member_id).values(**values)
        )

    def invite(self, household_id: HouseholdId, code: str, until: datetime, member: MemberRow) -> None:
        """A new invitation by that member; an earlier one of the household is no longer good."""
        self.connection.execute(delete(Invite).where(Invite.household_id == household_id))
        self.connection.execute(
            insert(Invite).values(code=code, household_id=household_id, until=until, member_id=member.id)
        )

    def end_invites(self, household_id: HouseholdId, member_ids: Sequence[int]) -> None:
        """What these members sent out opens nothing any more, nor what nobody knows who sent."""
        self.connection.execute(
            delete(Invite).where(
                Invite.household_id == household_id,
                or_(Invite.member_id.in_(member_ids), Invite.member_id.is_(None)),
            )
        )

    def invited_to(self, code: str, now: datetime) -> InviteRow | None:
        """The household that this code opens, if it still does, and whose it is."""
        row = self.connection.execute(
            select(Invite.household_id, Invite.member_id).where(Invite.code == code, Invite.until > now)
        ).one_or_none()
        return InviteRow(household_id=row.household_id, member_id=row.member_id) if row else None

    def vessels(self, household_id: HouseholdId) -> tuple[VesselRow, ...]:
        rows = _VESSELS.all(self.connection, household=household_id)
        return tuple(VesselRow(name=r.name, litres=r.litres) for r in rows)

    def add_vessel(self, household_id: HouseholdId, name: str, litres: float | None = None) -> None:
        self.connection.execute(
            insert(VesselLine).values(household_id=household_id, name=name, litres=litres)
        )


# Statements on every message's way are built once: building one costs several times what running it does.
_EVERYBODY = Statement(
    select(Member.id, Member.person_id, Member.name, Member.owner, Member.state)
    .where(Member.household_id == bindparam("household"))
    .order_by(Member.id)
)
_VESSELS = Statement(
    select(VesselLine.name, VesselLine.litres)
    .where(VesselLine.household_id == bindparam("household"))
    .order_by(VesselLine.id)
)


def _member(row: Fetched) -> MemberRow:
    return MemberRow(id=row.id, person_id=row.person_id, name=row.name, owner=row.owner, state=row.state)
