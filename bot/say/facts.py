"""What was written down, in a line a fact."""

from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import assert_never

import msgspec

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
    KitPart,
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
    StepName,
    TakeOn,
    Temperature,
    Timer,
    Undo,
    Vessel,
    Volume,
)
from bot.cellar.log.fold import Added, Batch, Entry
from bot.cellar.log.subjects import Subject
from bot.cellar.log.topics import topic_of
from bot.cellar.plans.model import PlanStep
from bot.say.litres import WENT, small
from bot.say.manner import Manner, amount, listed, money, name, said, sg

STEP_DONE = {
    "sanitise": "sanitised",
    "mix": "mixed",
    "pitch": "yeast pitched",
    "stir": "stirred",
    "degas": "degassed",
    "stabilise": "stabilised",
    "fine": "finings in",
    "rack": "racked",
    "top_up": "topped up",
    "filter": "filtered",
    "bottle": "bottled",
    "label": "labelled",
}
STEP_TO_DO = {
    "sanitise": "sanitising",
    "mix": "mixing",
    "pitch": "pitching the yeast",
    "stir": "stirring",
    "degas": "degassing",
    "stabilise": "stabilising",
    "fine": "fining",
    "rack": "racking",
    "top_up": "topping up",
    "filter": "filtering",
    "bottle": "bottling",
    "label": "labelling",
}
NOTHING_TO_STRIKE = "There is nothing left to strike out."
HOW_MANY = "How many bottles? Just reply with the number."
SANITISER_RUNS = "I will say at {at} when {minutes} minutes are up. The time on the sanitiser's pack goes first (/contact)."
KEPT_FOR_LATER = "I keep it, and it goes with your wine once that is begun."
_MEASURES = ("g", "ml", "l", "tsp")


def fact(act: Act, manner: Manner) -> str:
    """The act in plain words, with its batch or vessel in bold and its time when it was another."""
    if isinstance(act, Remind):
        return f"a reminder for {said(act.whom) if act.whom else 'all'}{_brought_up(act, manner)}"
    subject = f"{name(act.of)}: " if act.of and not isinstance(act, Begin) else ""
    when = f" ({manner.when(act.at)})" if act.at is not None else ""
    return f"{subject}{_words(act, manner)}{when}"


def noted(act: Act, manner: Manner, *, replaces: bool) -> str:
    """It is written down, or put in the place of what stood there."""
    if isinstance(act, Remind):
        return f"✓ I will remind {said(act.whom) if act.whom else 'you all'}{_brought_up(act, manner)}."
    if replaces and isinstance(act, Begin):
        return f"✓ {_kit(act, manner)}"
    return f"✓ {'changed to ' if replaces else ''}{fact(act, manner)}"


def noted_already(entry: Entry, manner: Manner) -> str:
    """A fact that was told a moment ago: by whom, and when."""
    plain = msgspec.structs.replace(entry.act, at=None)
    when = f"{entry.said_at.astimezone(manner.zone):%H:%M}"
    return f"Noted already: {fact(plain, manner)} ({said(entry.by)}, {when})"


def struck(old: Entry, manner: Manner) -> str:
    """It no longer counts."""
    return f"Struck out: {fact(old.act, manner)} ({said(old.by)}, {manner.when(old.said_at)})"


def back_in(act: Act, manner: Manner) -> str:
    """It counts again."""
    return f"Back in: {fact(act, manner)}"


def _words(act: Act, manner: Manner) -> str:
    match act:
        case Gravity():
            at = f" at {manner.temperature(act.temp_c)}" if act.temp_c is not None else ""
            if act.brix is not None and act.instrument == "refractometer":
                return f"{amount(act.brix)} Brix by refractometer"
            return f"SG {sg(act.sg)}{at}"
        case Temperature():
            return manner.temperature(act.temp_c)
        case Ph():
            return f"pH {amount(act.ph)}"
        case Acidity():
            return f"acidity {amount(act.g_per_l)} g/l as tartaric"
        case Volume():
            return f"{manner.volume(act.litres)}{f' in {name(act.vessel)}' if act.vessel else ''}"
        case Draw():
            source = f" from {name(act.vessel)}" if act.vessel else ""
            return f"{small(act.litres, manner)}{source} {WENT[act.why]}"
        case Addition():
            goal = f" to {name(act.vessel)}" if act.vessel else ""
            return f"added {dose(act)}{goal}"
        case Step():
            to = f" into {name(act.to)}" if act.to else ""
            count = f", {act.bottles} bottles" if act.bottles is not None else ""
            source = f" {name(act.vessel)}" if act.vessel else ""
            using = f" of {said(act.using)}" if act.using else ""
            with_it = f" with {small(act.litres, manner)}{using}" if act.litres is not None else ""
            with_it = with_it or (f" with {said(act.using)}" if act.using else "")
            return f"{STEP_DONE[act.step]}{source}{with_it}{to}{count}"
        case Begin():
            return f"begun: {_kit(act, manner)}"
        case Amend():
            return _amended(act)
        case Skip():
            return f"{STEP_TO_DO[act.step]} left out"
        case GiveUp():
            return "thrown away, at its end"
        case Bottles(left=int(count)):
            return f"{count} bottle{'s' * (count != 1)} left"
        case Bottles():
            left = "out" if act.change < 0 else "more"
            why = f" ({act.reason})" if act.reason else ""
            return f"{abs(act.change)} bottle{'s' * (abs(act.change) != 1)} {left}{why}"
        case Note():
            return f"note “{said(act.text)}”"
        case Nickname():
            return f"also called {name(act.name)}"
        case Split():
            shares = [
                f"{name(share.vessel)}{f' ({manner.volume(share.litres)})' if share.litres else ''}"
                for share in act.into
            ]
            source = f"{name(act.vessel)} " if act.vessel else ""
            return f"{source}{'split over' if len(shares) > 1 else 'racked into'} {listed(shares)}"
        case Blend():
            return f"{name(act.other)} poured in{f', all into {name(act.to)}' if act.to else ''}"
        case Vessel():
            return _vessel(act, manner)
        case Cost():
            return f"{said(act.what)} cost {money(act.amount)}"
        case KeepPlan():
            return f"the plan {name(act.plan.title)}, version {act.plan.version}"
        case Follow():
            return f"goes on by the plan {name(_title(act.plan))}"
        case Rota():
            return _rota(act)
        case Undo():
            return "struck out"
        case Remind():
            return f"a reminder{_brought_up(act, manner)}"
        case TakeOn():
            until = f" for {manner.when(act.until)}" if act.until is not None else ""
            return f"{_thing(act.step)} is taken on{until}{f' for {said(act.whom)}' if act.whom else ''}"
        case Done() if act.what in STEP_TO_DO:
            return f"{STEP_TO_DO[act.what]}: that is enough"
        case Done():
            return f"{_thing(act.step)} done"
        case Look(found="clear"):
            return f"{_thing(None)} done"
        case PutOff() | Timer():
            return f"{_thing(act.step)} put off{_until(act.until, manner)}"
        case Look():
            return f"{_thing(None)} put off{_until(act.until, manner)}"
        case Question():
            return asked(act.subject)
        case _:
            assert_never(act)


def asked(subject: Subject) -> str:
    """A question in a few words."""
    return _topics().get(topic_of(subject) or "", A_QUESTION)


@lru_cache(maxsize=1)
def _topics() -> dict[str, str]:
    return msgspec.toml.decode(Path(__file__).with_name("topics.toml").read_bytes(), type=dict[str, str])


A_QUESTION = "a question"


def _title(key: str) -> str:
    """A plan's name out of its key: "elder" of "house/elder@2"."""
    return key.removeprefix("house/").rpartition("@")[0] or key


def _rota(act: Rota) -> str:
    what = "the chores" if act.step is None else "the readings"
    if act.step is not None and act.step != "reading":
        what = STEP_TO_DO[act.step]
    if not act.people:
        return f"{what}: whoever can"
    people = [said(person) for person in act.people]
    if len(people) == 1:
        return f"{people[0]} does {what}"
    return f"{listed(people)} take turns with {what}, {people[0]} first"


def _vessel(act: Vessel, manner: Manner) -> str:
    told = [
        manner.volume(act.litres) if act.litres else "",
        "" if act.tap is None else "with a tap" if act.tap else "no tap",
        {"clean": "washed", "dirty": "dirty", None: ""}[act.state],
    ]
    return ", ".join(filter(None, told)) or (act.kind or "noted")


def _amended(act: Amend) -> str:
    """What a batch is, where its beginning did not say so."""
    told = [
        act.colour or "",
        f"a {act.days} day kit" if act.days else "",
        f"begun in {name(act.vessel)}" if act.vessel else "",
    ]
    return ", ".join(filter(None, told))


KIT_ASKED: dict[KitPart, str] = {
    "colour": "What have you got: a red, a white or a rosé?",
    "days": "How many days does the kit's box say?",
    "litres": "How many litres does it make?",
    "vessel": "Which bucket is it in, or going in?",
}
"""What is asked of a kit, one thing at a time, in this order."""
NAME_IT = "If you like, give it a name: <code>call it heron</code>"


def kit_question(told: Begin, manner: Manner) -> str:
    """What was told of a kit that is not begun yet, and what is asked next."""
    known = _kit(told, manner, unnamed="") if told != Begin() else ""
    asked = KIT_ASKED[told.lacks or "vessel"]
    return f"{known[:1].upper()}{known[1:]}: good. {asked}" if known else asked


def named_by_colour(view: Batch) -> bool:
    """Whether a batch has no name but its colour's."""
    return view.name.casefold() in (view.colour or "", "batch")


def _kit(act: Begin, manner: Manner, unnamed: str = "new batch") -> str:
    parts = [
        name(act.name or unnamed) if act.name or unnamed else "",
        (act.colour or "") if act.colour != act.name else "",
        manner.volume(act.litres) if act.litres else "",
        f"in {name(act.vessel)}" if act.vessel else "",
        f"by the plan {name(_title(act.plan))}"
        if act.plan and act.plan.startswith("house/")
        else f"{act.days} day kit"
        if act.days
        else "",
    ]
    return ", ".join(filter(None, parts))


def to_do(step: PlanStep, did: int) -> str:
    """A step of a plan as a thing to do: "degas", and once it was done in part "degas again (2 of 3)"."""
    return f"{step.title} again ({did + 1} of {step.times})" if did else step.title


def dose(added: Addition | Added) -> str:
    """An addition with its amount: "3 tablets of sulphite", "5 g yeast", "finings"."""
    what = said(added.what)
    if added.amount is None:
        return what
    number = amount(added.amount)
    if added.unit is None:
        return f"{number} {what}"
    if added.unit in _MEASURES:
        return f"{number} {added.unit} {what}"
    return f"{number} {added.unit}{'s' * (added.amount != 1)} of {what}"


def _brought_up(act: Remind, manner: Manner) -> str:
    """Of what, and when: " about plum: buy corks, Friday 18:00"."""
    of = f" about {name(act.of)}" if act.of else ""
    about = act.about or (STEP_TO_DO[act.step] if act.step else "")
    until = f", {manner.when(act.until)}" if act.until is not None else ""
    return f"{of}{f': {said(about)}' if about else ''}{until}"


def _thing(step: StepName | None) -> str:
    """What is put off, taken on or done: the chore, where it is known."""
    return STEP_TO_DO[step] if step else "the reminder"


def _until(until: datetime | None, manner: Manner) -> str:
    return f" until {manner.when(until)}" if until is not None else ""
