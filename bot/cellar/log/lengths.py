"""How long what people write may be: one place for the tables, for understanding and for the house.

Counted in characters, as the databases count them. What is longer is met with a line that says so, and nothing of
it is written down: no database may refuse what another keeps.
"""

from collections.abc import Iterator
from typing import Literal, assert_never

from bot.cellar.log.acts import (
    Acidity,
    Act,
    Addition,
    Amend,
    Begin,
    Blend,
    Bottles,
    Cost,
    Done,
    Draw,
    Follow,
    GiveUp,
    Gravity,
    KeepPlan,
    Look,
    Nickname,
    Note,
    Ph,
    PutOff,
    Question,
    Remind,
    Rota,
    Skip,
    Split,
    Step,
    TakeOn,
    Temperature,
    Timer,
    Undo,
    Vessel,
    Volume,
)

MESSAGE = 4096
"""A message; a chat service's longest, by the Bot API ("1-4096 characters after entities parsing")."""

NAME = 40
"""What people call a batch, a vessel or a plan; and a thing put in or paid for."""

NOTE = MESSAGE
WISH = 200
"""What somebody asks to be reminded of."""

LABEL = 40
"""What stands on a button: a longer one is cut, since a phone shows no more of it."""

# Columns of the tables. The names of people and chats come from the chat service, and are cut.
PERSON = 120
HOUSEHOLD = 120
VESSEL_COLUMN = 60
"""Wider than a name may be: for the vessels of before."""
KEY = 60
"""The text of a due thing's key, which is made to fit."""

TextKind = Literal["name", "note", "wish", "message"]
MOST: dict[TextKind, int] = {"name": NAME, "note": NOTE, "wish": WISH, "message": MESSAGE}


def overlong(act: Act) -> TextKind | None:
    """What somebody wrote in the act that is longer than it may be; None where nothing is. Names that the act only
    points at are the house's already, however long."""
    return next((kind for kind, text in _written(act) if len(text) > MOST[kind]), None)


def _written(act: Act) -> Iterator[tuple[TextKind, str]]:
    match act:
        case Begin() | Nickname():
            yield "name", act.name or ""
        case Addition() | Cost():
            yield "name", act.what
        case KeepPlan():
            yield "name", act.plan.title
        case Note():
            yield "note", act.text
        case Remind():
            yield "wish", act.about or ""
        case PutOff() | TakeOn() | Done() | Look() | Timer() | Question() | Undo():
            pass
        case Gravity() | Temperature() | Ph() | Acidity() | Volume() | Draw() | Step() | Bottles():
            pass
        case Amend() | Skip() | GiveUp() | Split() | Blend() | Vessel() | Follow() | Rota():
            pass
        case _:
            assert_never(act)
