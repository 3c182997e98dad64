"""How something of the craft is done, why, and what it is: answers that are data, filled in from the batch and from the
trade's figures.

The texts stand in `craft/*.toml`; the form is told at the top of `craft/beginning.toml`. What may stand in braces there
is `FIGURES` and `SENTENCES` below, and `{celsius:20}`, `{litres:0.5}`, `{brix:1.080}`, which are told in the house's
units.
"""

import re
from collections.abc import Callable, Mapping
from datetime import timedelta
from functools import lru_cache
from pathlib import Path

import msgspec

from bot.cellar.answers import LifeStage, LoreAnswer
from bot.cellar.batch.place import place_in_plan
from bot.cellar.batch.strength import strength_so_far
from bot.cellar.home.costs import expected_bottles
from bot.cellar.log.acts import StepName
from bot.cellar.log.fold import Batch
from bot.cellar.plans.kits import Plan, PlanStep, plan_of
from bot.say.dangers import LEAFLET_FIRST
from bot.say.manner import STEADY_FOR, Manner, amount, name, percent, plain, said, sg
from bot.science import practice
from bot.science.formulas.gravity import brix_from_sg
from bot.science.formulas.hydrometer import correct_gravity
from bot.science.formulas.volumes import bottling


class Taught(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is said of one topic: `says`, or for a moment another text; `beside` the how of the plan's own `chore`."""

    says: str
    why: str
    source: str
    at: dict[LifeStage, str] = {}
    chore: StepName | None = None
    beside: str = ""


@lru_cache(maxsize=1)
def taught() -> dict[str, Taught]:
    """What is said of each topic, by its id. Raises ValueError where one is told twice."""
    found: dict[str, Taught] = {}
    for path in sorted(Path(__file__).with_name("craft").glob("*.toml")):
        told = msgspec.toml.decode(path.read_bytes(), type=dict[str, Taught])
        if twice := found.keys() & told.keys():
            raise ValueError(f"{path.name}: told twice: {', '.join(sorted(twice))}")
        found |= told
    return found


def lore(found: LoreAnswer, manner: Manner) -> str:
    """The answer, for the moment the batch is at; where its plan has the chore, with the plan's own how."""
    topic = taught()[found.topic]
    text = topic.at.get(found.moment)
    if text is None and found.moment == "just_pitched":
        text = topic.at.get("fermenting")
    step = _step(found.view, topic.chore)
    if text is None and step is not None and step.how:
        own = [said(part) for part in (step.how, step.caution) if part]
        return "\n".join([*own, _filled(topic.beside, found, manner), LEAFLET_FIRST])
    return _filled(text or topic.says, found, manner)


def why_so(found: LoreAnswer, manner: Manner) -> str:
    """What is said to "why?" after it, as plain text."""
    return plain(_filled(taught()[found.topic].why, found, manner))


def _step(view: Batch | None, chore: StepName | None) -> PlanStep | None:
    """The next time the batch's plan has the chore, else the last."""
    if view is None or chore is None:
        return None
    behind = place_in_plan(view).behind
    every = [step for step in view.follows.steps if step.does == chore]
    return next((step for step in every if step not in behind), every[-1] if every else None)


def _filled(text: str, found: LoreAnswer, manner: Manner) -> str:
    filled = text.format_map(_Filling(found, manner))
    lines = (re.sub(r" {2,}", " ", line).strip() for line in filled.split("\n"))
    return "\n".join(line for line in lines if line)


class _InUnits(msgspec.Struct, frozen=True):
    """A value that the text itself names, written as the house has it: `{celsius:20}`."""

    write: Callable[[float], str]

    def __format__(self, value: str) -> str:
        return self.write(float(value))


class _Filling(dict[str, object]):
    """What stands in braces, worked out when a text asks for it."""

    def __init__(self, found: LoreAnswer, manner: Manner) -> None:
        super().__init__(
            celsius=_InUnits(manner.temperature),
            litres=_InUnits(manner.volume),
            brix=_InUnits(lambda gravity: f"{brix_from_sg(gravity):.1f}"),
        )
        self._found, self._manner = found, manner

    def __missing__(self, key: str) -> object:
        if key in FIGURES:
            return FIGURES[key](_plan(self._found), self._found, self._manner)
        view = self._found.view
        if view is None:
            return _NO_NAME.get(key, "")
        return SENTENCES[key](view, self._found, self._manner)


_NO_NAME = {"name": "It", "plain_name": "plum"}


def _plan(found: LoreAnswer) -> Plan:
    return found.view.follows if found.view is not None else plan_of(None, practice.USUAL_KIT_DAYS.value)


def _litres(found: LoreAnswer) -> float:
    view = found.view
    return view.litres if view is not None and view.litres else practice.KIT_LITRES.value


def _bottles(found: LoreAnswer) -> int:
    expected = expected_bottles(found.view) if found.view is not None else None
    return expected or bottling(practice.KIT_LITRES.value).bottles


def _span(span: timedelta) -> str:
    """Hours up to two days, then days or whole weeks."""
    if span < timedelta(hours=1):
        return f"{span // timedelta(minutes=1)} minutes"
    if span <= timedelta(hours=48) and span != timedelta(days=1):
        return f"{span // timedelta(hours=1)} hours"
    if span == timedelta(days=1):
        return "a day"
    number, unit = (span.days // 7, "week") if span.days % 7 == 0 else (span.days, "day")
    return f"{number} {unit}{'s' if number != 1 else ''}"


def _share(share: float) -> str:
    return f"{share * 100:.0f} %"


def _mg_l(value: float) -> str:
    return f"{value:.0f} mg/l"


def _kilograms(litres: float) -> str:
    """Of a bucket with so much in it: a litre of wine weighs about a kilogram, as water does."""
    return f"{litres + practice.BUCKET_KG.value:.0f} kg"


def _warm_shift() -> str:
    """By how much a sample at 28 °C reads too low, for one of 1.050."""
    return f"{correct_gravity(1.050, 28.0) - 1.050:.3f}"


FigureWords = Callable[[Plan, LoreAnswer, Manner], str]

FIGURES: Mapping[str, FigureWords] = {
    "low": lambda plan, found, manner: manner.temperature(plan.ferment_c[0]),
    "high": lambda plan, found, manner: manner.temperature(plan.ferment_c[1]),
    "cool": lambda plan, found, manner: manner.temperature(plan.pitch_c[0]),
    "warm": lambda plan, found, manner: manner.temperature(plan.pitch_c[1]),
    "hurts": lambda plan, found, manner: manner.temperature(practice.HURTS_YEAST_C.value),
    "deadly": lambda plan, found, manner: manner.temperature(practice.KILLS_YEAST_C.value),
    "scalds": lambda plan, found, manner: manner.temperature(practice.SCALDS_C.value),
    "swing": lambda plan, found, manner: manner.degrees(practice.SWING_C.value),
    "finished": lambda plan, found, manner: sg(practice.FINISHED_BELOW.value),
    "dry": lambda plan, found, manner: sg(practice.DRY_SG.value),
    "lowest": lambda plan, found, manner: sg(practice.LOWEST_SG.value),
    "warm_shift": lambda plan, found, manner: _warm_shift(),
    "steady": lambda plan, found, manner: STEADY_FOR,
    "first_look": lambda plan, found, manner: _span(practice.FIRST_LOOK.value),
    "closest": lambda plan, found, manner: _span(practice.CLOSEST_LOOK.value),
    "longest": lambda plan, found, manner: _span(practice.LONGEST_LOOK.value),
    "contact": lambda plan, found, manner: _span(found.contact),
    "stale": lambda plan, found, manner: _span(practice.STALE_AFTER.value),
    "rest_red": lambda plan, found, manner: _span(timedelta(days=practice.REST_DAYS.value["red"])),
    "rest_white": lambda plan, found, manner: _span(timedelta(days=practice.REST_DAYS.value["white"])),
    "tastes": lambda plan, found, manner: _tastes(),
    "kit_litres": lambda plan, found, manner: manner.volume(_litres(found)),
    "kg": lambda plan, found, manner: _kilograms(_litres(found)),
    "bottle": lambda plan, found, manner: f"{practice.BOTTLE_LITRES.value * 100:.0f} cl",
    "bottles": lambda plan, found, manner: str(_bottles(found)),
    "foam_room": lambda plan, found, manner: _share(practice.FOAM_ROOM.value),
    "headspace": lambda plan, found, manner: _share(practice.LARGEST_HEADSPACE.value),
    "tablet": lambda plan, found, manner: f"{amount(practice.TABLET_G.value)} g",
    "smelt": lambda plan, found, manner: _mg_l(practice.SMELT_MG_L.value),
    "allergen": lambda plan, found, manner: _mg_l(practice.ALLERGEN_MG_L.value),
    "red_limit": lambda plan, found, manner: _mg_l(practice.SULPHITE_MAX_MG_L.value["red"]),
    "white_limit": lambda plan, found, manner: _mg_l(practice.SULPHITE_MAX_MG_L.value["white"]),
    "sorbic": lambda plan, found, manner: _mg_l(practice.SORBIC_MAX_MG_L.value),
    "strongest": lambda plan, found, manner: f"{practice.STRONGEST_ABV.value:.0f} % vol",
    "sugar": lambda plan, found, manner: f"{practice.SUGAR_A_PERCENT.value[1]:.0f} g",
    "times": lambda plan, found, manner: str(max([1, *(s.times for s in plan.steps if s.does == "degas")])),
    "minutes": lambda plan, found, manner: _minutes(plan),
}
"""What stands in every text: figures of the trade, of the plan and of the house."""


def _tastes() -> str:
    weeks = [str(after // timedelta(weeks=1)) for after in practice.TASTE_AFTER.value]
    return f"{', '.join(weeks[:-1])} and {weeks[-1]} weeks"


def _minutes(plan: Plan) -> str:
    """How long it is stirred: by the plan, else by the generic one."""
    usual = plan_of(None, practice.USUAL_KIT_DAYS.value)
    told = [s.minutes for one in (plan, usual) for s in one.steps if s.does == "degas" and s.minutes]
    return amount(told[0])


SentenceWords = Callable[[Batch, LoreAnswer, Manner], str]


def _last(view: Batch, found: LoreAnswer, manner: Manner) -> str:
    latest = view.latest
    if latest is None:
        return ""
    return (
        f"The last reading: {'about ' if latest.estimated else ''}{sg(latest.sg)}, {manner.ago(latest.at)}."
    )


def _since(view: Batch, found: LoreAnswer, manner: Manner) -> str:
    return f"The yeast went in {manner.ago(view.pitched_at)}." if view.pitched_at is not None else ""


def _warmth(view: Batch, found: LoreAnswer, manner: Manner) -> str:
    known = [m for m in view.temperatures if manner.now - m.at <= practice.TEMPERATURE_KNOWN_FOR.value]
    return f"You told me {manner.temperature(known[-1].value)}, {manner.ago(known[-1].at)}." if known else ""


def _read(view: Batch, found: LoreAnswer, manner: Manner) -> str:
    if found.read_at is None:
        return ""
    return (
        f"Next reading: {manner.day(manner.awake(found.read_at)) if found.read_at > manner.now else 'now'}."
    )


def _start(view: Batch, found: LoreAnswer, manner: Manner) -> str:
    return f"{name(view.name)} began at {sg(view.starting.sg)}." if view.starting is not None else ""


def _strength(view: Batch, found: LoreAnswer, manner: Manner) -> str:
    so_far = strength_so_far(view)
    if so_far is None:
        return ""
    works = " so far" if found.moment in ("just_pitched", "fermenting") else ""
    return f"{name(view.name)}: about {percent(so_far.abv)}{works}."


def _packet(view: Batch, found: LoreAnswer, manner: Manner) -> str:
    chore = place_in_plan(view).chore
    if chore is None or chore.does not in ("pitch", "stabilise", "fine", "add"):
        return ""
    marked = f" (sachet {', '.join(map(said, chore.sachets))})" if chore.sachets else ""
    return f"Next by the plan: {said(chore.title)}{marked}."


def _clear_days(view: Batch, found: LoreAnswer, manner: Manner) -> str:
    waits = [s.wait_hours for s in view.follows.steps if s.does is None and s.gate is None and s.wait_hours]
    return f"The plan gives it {_span(timedelta(hours=waits[-1]))}." if waits else ""


def _bottled(view: Batch, found: LoreAnswer, manner: Manner) -> str:
    return f"{name(view.name)} was bottled {manner.day(view.bottled_at)}." if view.bottled_at else ""


def _kit_line(view: Batch, found: LoreAnswer, manner: Manner) -> str:
    return f"{name(view.name)} is a {view.days} day kit, begun {manner.ago(view.begun_at)}."


SENTENCES: Mapping[str, SentenceWords] = {
    "name": lambda view, found, manner: name(view.name),
    "plain_name": lambda view, found, manner: said(view.name),
    "last": _last,
    "since": _since,
    "warmth": _warmth,
    "read": _read,
    "start": _start,
    "strength": _strength,
    "packet": _packet,
    "clear_days": _clear_days,
    "bottled": _bottled,
    "kit_line": _kit_line,
}
"""What the log tells of the batch, as a sentence; empty where there is none, or it tells nothing."""
