"""Which act is legal at which point of a batch's life: one table.

What people report is believed in any order while a batch is under way (what was done was done); the advice
that something came early is a caution, not a refusal. What is refused is what cannot have happened: racking
what is in bottles, pouring out what was poured into another batch, or labelling what is in no bottle.
"""

from datetime import datetime, timedelta
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
from bot.cellar.log.fold import Batch

Life = Literal["begun", "working", "bottled", "labelled", "gone"]

_UNDER_WAY: frozenset[Life] = frozenset({"begun", "working"})
_IN_BOTTLES: frozenset[Life] = frozenset({"bottled", "labelled"})
_NOT_GONE: frozenset[Life] = _UNDER_WAY | _IN_BOTTLES

LEGAL: dict[str, frozenset[Life]] = {
    "sanitise": frozenset({"begun", "working", "bottled", "labelled", "gone"}),
    "mix": _UNDER_WAY,
    "pitch": _UNDER_WAY,
    "stir": _UNDER_WAY,
    "degas": _UNDER_WAY,
    "stabilise": _UNDER_WAY,
    "fine": _UNDER_WAY,
    "rack": _UNDER_WAY,
    "top_up": _UNDER_WAY,
    "filter": _UNDER_WAY,
    # Bottled again: the rest of it, or the count that was left out.
    "bottle": _UNDER_WAY | {"bottled"},
    "label": _IN_BOTTLES,
    "split": _UNDER_WAY,
    "blend": _UNDER_WAY,
    "addition": _UNDER_WAY,
    "volume": _UNDER_WAY,
    "skip": _NOT_GONE,
    "amend": _NOT_GONE,
    "give_up": _NOT_GONE,
    "draw": _UNDER_WAY,
    "bottles": _NOT_GONE,
    "gravity": _NOT_GONE,
    "temperature": _NOT_GONE,
    "ph": _NOT_GONE,
    "acidity": _NOT_GONE,
}

_AT_ONCE = timedelta(microseconds=1)
"""Bottled and labelled may be told of the same moment."""


def life(view: Batch, at: datetime) -> Life:
    """How far the batch's life had come just before that time."""
    if view.gone_at is not None and view.gone_at < at:
        return "gone"
    bottled = view.bottled_at
    if bottled is not None and bottled < at:
        labelled = any(chore.step == "label" and bottled <= chore.at < at for chore in view.chores)
        return "labelled" if labelled else "bottled"
    return "working" if view.pitched_at is not None and view.pitched_at < at else "begun"


def legal(act: Act, view: Batch, at: datetime) -> bool:
    """Whether such an act can have happened to the batch at that time."""
    kind = _kind(act)
    if kind == "label":
        at += _AT_ONCE
    return kind is None or life(view, at) in LEGAL[kind]


def _kind(act: Act) -> str | None:
    """The act's line in the table; None where it may be said at any time."""
    match act:
        case Step():
            return act.step
        case Split() | Blend() | Addition() | Volume() | Draw() | Bottles() | Skip() | Amend() | GiveUp():
            return str(act.__struct_config__.tag)
        case Gravity() | Temperature() | Ph() | Acidity():
            return str(act.__struct_config__.tag)
        case Begin() | Note() | Nickname() | Vessel() | Cost() | KeepPlan() | Follow() | Rota():
            return None
        case Question() | Undo() | Remind() | PutOff() | TakeOn() | Done() | Look() | Timer():
            return None
        case _:
            assert_never(act)
