"""What an act lacks until it is written down: a free name, a plan's version, a blend's other batch."""

from collections.abc import Sequence
from typing import assert_never

import msgspec

from bot.cellar.batch.place import skippable
from bot.cellar.home.vessels import shared_out
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
from bot.cellar.plans.kits import plan_for
from bot.cellar.plans.leaflet import versioned
from bot.house.home import Home
from bot.ids import BatchId, EntryId


def completed(home: Home, act: Act, batch: BatchId | None) -> Act:
    """The act as it goes into the log."""
    match act:
        case Rota() if act.all:
            names = tuple(member.name for member in home.members)
            return msgspec.structs.replace(act, people=names, all=False)
        case Begin():
            return _begin(home, act, batch)
        case Amend() if act.days is not None and act.plan is None:
            view = home.view.batch(batch) if batch is not None else None
            own = view.own_plan if view is not None else None
            # A plan of the house's own has its days from the leaflet; what the kit is called changes no step.
            return act if own is not None else msgspec.structs.replace(act, plan=plan_for(act.days).key)
        case Skip():
            view = home.view.named(act.of)
            step = skippable(view, act.step) if view is not None else None
            return act if step is None else msgspec.structs.replace(act, which=step.id)
        case KeepPlan():
            kept = [entry.act.plan for entry in home.entries if isinstance(entry.act, KeepPlan)]
            return msgspec.structs.replace(act, plan=versioned(act.plan, kept))
        case Follow():
            plan = home.view.plan_named(act.plan)
            return act if plan is None else msgspec.structs.replace(act, plan=plan.key)
        case Blend():
            other = home.view.named(act.other)
            return act if other is None else msgspec.structs.replace(act, other=other.name, batch=other.batch)
        case Split():
            view = home.view.named(act.of)
            return shared_out(act, view, home.vessels) if view is not None else act
        case Step() if act.using is not None:
            donor = home.view.named(act.using)
            if donor is None or donor.gone_at is not None or donor.batch == home.batch_of(act):
                return act
            return msgspec.structs.replace(act, using=donor.name, donor=donor.batch)
        case Step() | Amend() | Gravity() | Temperature() | Ph() | Acidity() | Volume() | Draw() | Addition():
            return act
        case GiveUp() | Bottles() | Note() | Nickname() | Vessel() | Cost() | Rota() | Question() | Undo():
            return act
        case Remind() | PutOff() | TakeOn() | Done() | Look() | Timer():
            return act
        case _:
            assert_never(act)


def _begin(home: Home, act: Begin, batch: BatchId | None) -> Begin:
    """The batch with a name that is free and the plan it will keep: the one named, else the house's own of the
    batch's name when no days were given, else the generic one for its days."""
    taken = {view.name.casefold() for view in home.view.batches if view.batch != batch}
    wanted = act.name or act.colour or "batch"
    free, number = wanted, 2
    while free.casefold() in taken:
        free, number = f"{wanted} {number}", number + 1
    plan = home.view.plan_named(act.plan) if act.plan else None
    if plan is None and act.days is None:
        plan = home.view.plan_named(wanted)
    if plan is not None:
        return msgspec.structs.replace(act, name=free, of=free, plan=plan.key, days=act.days or plan.days)
    return msgspec.structs.replace(act, name=free, of=free, plan=plan_for(act.days or 14).key)


def clash_of(home: Home, acts: Sequence[Act], strikes: Sequence[EntryId]) -> tuple[str, str, str] | None:
    """The vessel in which two batches would be, were these acts carried out and these entries struck out."""
    left = list(strikes)
    new: list[tuple[Act, BatchId | None, EntryId | None]] = []
    for act in acts:
        # A beginning written anew takes the place of the old one, as the same batch.
        old = next((e for e in home.entries if e.entry in left and isinstance(e.act, Begin)), None)
        if isinstance(act, Begin) and old is not None:
            left.remove(old.entry)
            batch = old.batch or BatchId(old.entry)
            new.append((completed(home, act, batch), batch, old.entry))
        else:
            new.append((completed(home, act, None), home.batch_of(act), None))
    struck: list[tuple[Act, BatchId | None, EntryId | None]] = [(Undo(), None, entry) for entry in left]
    return home.clash_after([*struck, *new])
