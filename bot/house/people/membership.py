"""Who is in: invitations, and what only the owner may do."""

import secrets
from collections.abc import Callable
from datetime import timedelta

from bot.house.people import doors
from bot.house.turn import Turn
from bot.say import company
from bot.store.press import Labelled, RemoveMember
from bot.store.queries.people import MemberRow
from bot.understand import inviting
from bot.understand.forms.invitations import Inviting

INVITED_FOR = timedelta(days=2)
_CODE_BYTES = 16
_CHOICES: dict[str, Inviting] = {"all": "all", "everybody": "all", "everyone": "all", "owner": "owner"}


def command(turn: Turn, bot_username: str) -> bool:
    """Carries out a command about who is in; False when the text is none."""
    text = (turn.incoming.text or "").strip()
    word, _, rest = text.partition(" ")
    if word == "/invite":
        turn.reply(_invite(turn, bot_username))
    elif word == "/invites":
        _who_invites(turn, _CHOICES.get(rest.strip().casefold(), "ask"))
    elif (said := _said_who_invites(turn, text)) is not None:
        _who_invites(turn, said)
    elif word == "/houses":
        turn.reply(company.ONLY_PRIVATELY)
    elif word in _OWNERS:
        _for_owner(turn, word, rest.strip())
    else:
        return False
    return True


def pressed(turn: Turn, does: RemoveMember) -> str | None:
    """The owner chose among several of one name."""
    member = next((m for m in turn.unit.people.everybody(turn.home.id) if m.id == does.member), None)
    if not turn.member.owner:
        return company.ONLY_OWNER
    if member is None or member.state == "removed" or member.owner:
        return company.DONE_ALREADY
    turn.reply(_remove(turn, member))
    return None


def _said_who_invites(turn: Turn, text: str) -> Inviting | None:
    """Whether the message says in words who may invite."""
    incoming = turn.incoming
    if incoming.forwarded:
        return None
    spoken_to = incoming.private or incoming.addressed
    if incoming.reply_to is not None and not spoken_to:
        spoken_to = turn.answers_to() is not None
    return inviting(text, _owner(turn), spoken_to=spoken_to, language=turn.home.row.language)


def _who_invites(turn: Turn, said: Inviting) -> None:
    """Says who may invite, or has it so: that is the owner's to say."""
    if said == "ask":
        turn.reply(company.who_invites(_owner(turn), everybody=turn.home.row.invites == "all"))
        return
    if not turn.member.owner:
        turn.reply(company.only_owner(_owner(turn)))
        return
    turn.home.settle(invites=said)
    if said == "owner":
        others = [person.id for person in turn.unit.people.everybody(turn.home.id) if not person.owner]
        turn.unit.people.end_invites(turn.home.id, others)
    turn.reply(company.who_invites(_owner(turn), everybody=said == "all"))


def _owner(turn: Turn) -> str:
    people = turn.unit.people.everybody(turn.home.id)
    return next((member.name for member in people if member.owner), "the owner")


def _invite(turn: Turn, bot_username: str) -> str:
    if not turn.member.owner and turn.home.row.invites != "all":
        return company.only_owner_invites(_owner(turn))
    code = secrets.token_urlsafe(_CODE_BYTES)
    until = turn.now + INVITED_FOR
    turn.unit.people.invite(turn.home.id, code, until, turn.member)
    return company.invitation(turn.home.row.name, code, bot_username, turn.home.manner.when(until))


def _for_owner(turn: Turn, word: str, wanted: str) -> None:
    people = turn.unit.people.everybody(turn.home.id)
    if not turn.member.owner:
        turn.reply(company.only_owner(_owner(turn)))
        return
    _OWNERS[word](turn, people, wanted)


def _remove_named(turn: Turn, people: tuple[MemberRow, ...], wanted: str) -> None:
    others = [member for member in people if member.state != "removed" and not member.owner]
    found = [member for member in others if member.name.casefold() == wanted.casefold()]
    if wanted and wanted.casefold() == turn.member.name.casefold() and not found:
        turn.reply(company.NOT_YOURSELF)
    elif not others:
        turn.reply(company.NOBODY_TO_REMOVE)
    elif not found:
        turn.reply(company.whom("/remove", [member.name for member in others]))
    elif len(found) > 1:
        buttons: list[Labelled] = [
            (f"{member.name}, {number}", RemoveMember(member=member.id))
            for number, member in enumerate(found, 1)
        ]
        turn.reply(company.several(found[0].name), buttons)
    else:
        turn.reply(_remove(turn, found[0]))


def _remove(turn: Turn, member: MemberRow) -> str:
    doors.shut_out(turn.unit, turn.home.id, member, "removed", turn.now)
    return company.removed(member.name)


def _readmit(turn: Turn, people: tuple[MemberRow, ...], wanted: str) -> None:
    out = [member for member in people if member.state == "removed"]
    found = [member for member in out if member.name.casefold() == wanted.casefold()]
    if not out:
        turn.reply(company.nobody_out())
    elif not found:
        turn.reply(company.whom("/readmit", [member.name for member in out]))
    else:
        for member in found:
            turn.unit.people.change_member(turn.home.id, member.id, state="in")
        turn.reply(company.readmitted(found[0].name))


_OWNERS: dict[str, Callable[[Turn, tuple[MemberRow, ...], str], None]] = {
    "/remove": _remove_named,
    "/readmit": _readmit,
}
