"""The form of a plan: its steps, gates and versions. The plans themselves are in `plans`."""

from collections.abc import Collection
from typing import Literal

import msgspec

from bot.science import practice

StepName = Literal[
    "sanitise",
    "mix",
    "pitch",
    "stir",
    "degas",
    "stabilise",
    "fine",
    "rack",
    "top_up",
    "filter",
    "bottle",
    "label",
]
Does = StepName | Literal["gravity", "add"]
Gate = Literal["og", "settled", "sg_at_most"]


class PlanStep(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One chore. `does` is the act that does it (`add` is an addition with no other name); None for a time of
    waiting (fermenting, clearing) and for a line of a leaflet that was not understood."""

    id: str
    title: str
    does: Does | None = None
    how: str = ""
    caution: str = ""
    gate: Gate | None = None
    sg: float | None = None
    wait_hours: float = 0
    day: int | None = None
    """Not before this day of the kit; the day it was begun is day 1."""
    minutes: float | None = None
    """How long it is done."""
    times: int = 1
    """How often it is done, over and over, before the next step."""
    every_hours: float = 0
    """How long after the last time it is done again."""
    met_by: tuple[str, ...] = ()
    """Additions that count as this step being done."""
    sachets: tuple[str, ...] = ()
    """The kit's own packets that go in, as marked: "A", "3"."""
    into: str = ""
    """What the batch goes into, where the step is a transfer: a word for people."""
    clear: bool = False
    """Not before the wine has cleared."""
    unclear: bool = False
    """A line that was kept as written."""
    amount: float | None = None
    """How much the line says to put in, in grams or tablets (`unit`)."""
    unit: str | None = None

    @property
    def takes_hours(self) -> float:
        """How long it keeps the next step waiting: the wait before it, and all its times."""
        return self.wait_hours + (self.times - 1) * self.every_hours


class Plan(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A kit's way from box to bottle. Temperatures in °C."""

    key: str
    title: str
    days: int
    steps: tuple[PlanStep, ...]
    ferment_c: tuple[float, float] = practice.FERMENT_C.value
    pitch_c: tuple[float, float] = practice.PITCH_C.value

    @property
    def version(self) -> int:
        """The number behind the @ of the key."""
        return int(self.key.rpartition("@")[2])

    @property
    def own(self) -> bool:
        """Whether it is the household's, and not one that the bot came with."""
        return self.key.startswith("house/")

    def without(self, left_out: Collection[str]) -> "Plan":
        """The plan without these steps. What a step that is left out had to wait for, the next one waits for
        where it has no gate of its own: the gate is the wine's, not the chore's."""
        kept: list[PlanStep] = []
        waits: PlanStep | None = None
        for step in self.steps:
            if step.id in left_out:
                waits = step if step.gate is not None else waits
                continue
            if waits is not None and step.gate is None:
                step = msgspec.structs.replace(step, gate=waits.gate, sg=waits.sg)
            waits = None
            kept.append(step)
        return msgspec.structs.replace(self, steps=tuple(kept))

    def step(self, step_id: str) -> PlanStep:
        """Raises KeyError for an id that is not in the plan."""
        for step in self.steps:
            if step.id == step_id:
                return step
        raise KeyError(step_id)
