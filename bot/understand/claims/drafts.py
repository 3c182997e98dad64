"""What a clause may mean before it is known which batch it is about, and how much speaks for it."""

from dataclasses import dataclass, field
from typing import Literal

from bot.cellar.log.acts import (
    Act,
    Addition,
    Amend,
    Begin,
    Blend,
    Cost,
    Draw,
    Follow,
    GiveUp,
    Gravity,
    KeepPlan,
    Nickname,
    Note,
    Promised,
    Question,
    Rota,
    Skip,
    Step,
    Temperature,
    Undo,
    Vessel,
    Volume,
)
from bot.understand.text.clauses import Clause
from bot.understand.text.names import Ref
from bot.understand.text.times import TimeSaid
from bot.understand.verdict import Doubt

Needs = Literal["batch", "bottled", "anything", "nothing"]

Unmeasured = (
    Draw
    | Begin
    | Amend
    | Skip
    | GiveUp
    | Note
    | Nickname
    | Blend
    | Vessel
    | Cost
    | KeepPlan
    | Follow
    | Rota
    | Question
    | Undo
    | Promised
)
"""Acts that tell of no value that an answer could name, and that is held against a batch."""

WithTime = Gravity | Temperature | Step | Addition | Volume
"""What was at the time that is told beside it."""


@dataclass(slots=True)
class Draft:
    """An act whose `of` and `at` are still open. `needs` says what it must be about; `score` is what speaks for it."""

    act: Act
    score: float
    needs: Needs = "batch"
    refs: list[Ref] = field(default_factory=list)
    moments: list[TimeSaid] = field(default_factory=list)
    clause: Clause | None = None
    to: Ref | None = None
    doubt: Doubt | None = None
    about: str | None = None
    likely: tuple[Act, ...] = ()
    times: int = 1
    """How often it was done: "degassed it twice"."""
    settled: bool = False
    """Whether its `of` and `at` are known already."""
