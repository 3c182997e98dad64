"""Random members at work: whatever they say, in whatever order it arrives, the house stays in order."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from random import Random
from typing import Literal

import msgspec
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from bot.cellar.batch.bounds import NEVER_SKIPPED, objection
from bot.cellar.batch.place import doings, place_in_plan, skippable, stage
from bot.cellar.home.due import due_for
from bot.cellar.home.vessels import Known, clash, shared_out, vessel_views
from bot.cellar.log.acts import (
    Act,
    Addition,
    Amend,
    Begin,
    Blend,
    Bottles,
    Colour,
    Cost,
    Draw,
    GiveUp,
    Gravity,
    Share,
    Skip,
    Split,
    Step,
    StepName,
    Undo,
    Vessel,
    Volume,
)
from bot.cellar.log.fold import Batch, Entry, HouseView, fold, standing
from tests.cellar.batches import START

VESSELS = [Known(name=f"bucket {n}", litres=25.0) for n in (1, 2, 3)] + [Known(name="demijohn 1", litres=5.0)]
NAMES = [vessel.name for vessel in VESSELS]
CHORES: list[StepName] = ["sanitise", "mix", "pitch", "stir", "degas", "stabilise", "fine", "rack", "top_up"]

vessels = st.sampled_from(NAMES)
Why = Literal["sample", "lees", "spill", "lost", "out"]


def one_of(view: Batch) -> st.SearchStrategy[str | None]:
    """One of a batch's vessels, or none of them in particular."""
    return st.sampled_from([None, *view.vessels])


late = st.one_of(st.just(0.0), st.floats(0.1, 200.0))
"""Hours by which a fact is told late."""


class Members(RuleBasedStateMachine):
    """A house of three buckets and a demijohn, and people who do and say things."""

    @initialize()
    def open_house(self) -> None:
        self.entries: list[Entry] = []
        self.now: datetime = START
        self.count = 0

    # what a member says, and what the house makes of it

    def tell(self, act: Act, hours_late: float = 0.0, strikes: int | None = None) -> bool:
        """Writes the act down unless the house refuses it."""
        self.count += 1
        self.now += timedelta(hours=5, microseconds=self.count)
        at = max(START, self.now - timedelta(hours=hours_late)) + timedelta(microseconds=self.count)
        act = msgspec.structs.replace(act, at=at) if hours_late else act
        house = fold(self.entries)
        if not isinstance(act, Undo) and objection(act, house, NAMES, self.now) is not None:
            return False
        view = house.named(act.of)
        if isinstance(act, Split) and view is not None:
            act = shared_out(act, view, VESSELS)
        if isinstance(act, Step) and act.using is not None:
            donor = house.named(act.using)
            act = msgspec.structs.replace(act, donor=donor.batch if donor else None)
        if isinstance(act, Blend):
            other = house.named(act.other)
            act = msgspec.structs.replace(act, batch=other.batch if other else None)
        if isinstance(act, Skip) and view is not None and (step := skippable(view, act.step)) is not None:
            act = msgspec.structs.replace(act, which=step.id)
        batch = view.batch if view is not None and not isinstance(act, Begin | Vessel) else None
        entry = Entry(
            entry=len(self.entries) + 1,
            act=act,
            by="ana",
            said_at=self.now,
            at=at if hours_late else self.now,
            batch=batch,
            strikes=strikes,
        )
        if clash(fold([*self.entries, entry])) is not None:
            return False
        self.entries.append(entry)
        return True

    def some(self, data: st.DataObject, *, under_way: bool = True) -> Batch:
        house = fold(self.entries)
        return data.draw(st.sampled_from(house.under_way if under_way else house.batches))

    def any_batch(self) -> bool:
        return bool(fold(self.entries).under_way)

    @rule(vessel=vessels, litres=st.one_of(st.none(), st.floats(3, 25)), days=st.sampled_from([7, 14, 30]))
    def begin(self, vessel: str, litres: float | None, days: int) -> None:
        name = f"batch {len(self.entries)}"
        self.tell(Begin(name=name, of=name, litres=litres, days=days, vessel=vessel))

    @precondition(any_batch)
    @rule(data=st.data(), to=vessels, hours=late)
    def rack(self, data: st.DataObject, to: str, hours: float) -> None:
        self.tell(Step(step="rack", of=self.some(data).name, to=to), hours)

    @precondition(any_batch)
    @rule(data=st.data(), step=st.sampled_from(CHORES), hours=late)
    def chore(self, data: st.DataObject, step: StepName, hours: float) -> None:
        self.tell(Step(step=step, of=self.some(data, under_way=False).name), hours)

    @precondition(any_batch)
    @rule(data=st.data(), sg=st.floats(0.985, 1.100), hours=late)
    def read(self, data: st.DataObject, sg: float, hours: float) -> None:
        self.tell(Gravity(of=self.some(data).name, sg=sg), hours)

    @precondition(any_batch)
    @rule(data=st.data(), litres=st.floats(-5, 30), hours=late)
    def measure(self, data: st.DataObject, litres: float, hours: float) -> None:
        self.tell(Volume(of=self.some(data).name, litres=litres), hours)

    @precondition(any_batch)
    @rule(data=st.data(), what=st.sampled_from(["sulphite", "sachet 1", "sugar", "yeast"]), hours=late)
    def add(self, data: st.DataObject, what: str, hours: float) -> None:
        self.tell(Addition(of=self.some(data).name, what=what), hours)

    @precondition(any_batch)
    @rule(
        data=st.data(),
        into=st.lists(vessels, min_size=2, max_size=3, unique=True),
        first=st.one_of(st.none(), st.floats(-2, 30)),
    )
    def split(self, data: st.DataObject, into: list[str], first: float | None) -> None:
        parts = [Share(vessel=name, litres=first if not n else None) for n, name in enumerate(into)]
        self.tell(Split(of=self.some(data).name, into=tuple(parts)))

    @precondition(any_batch)
    @rule(
        data=st.data(),
        litres=st.floats(0.01, 12),
        why=st.sampled_from(["sample", "lees", "spill", "lost", "out"]),
        hours=late,
    )
    def draw(self, data: st.DataObject, litres: float, why: Why, hours: float) -> None:
        view = self.some(data)
        self.tell(Draw(of=view.name, litres=litres, why=why, vessel=data.draw(one_of(view))), hours)

    @precondition(any_batch)
    @rule(
        data=st.data(), litres=st.floats(0.01, 3), using=st.sampled_from([None, "water", "wine"]), hours=late
    )
    def top_up(self, data: st.DataObject, litres: float, using: str | None, hours: float) -> None:
        view, other = self.some(data), self.some(data, under_way=False)
        vessel = data.draw(one_of(view))
        using = using or (other.name if other.batch != view.batch else None)
        self.tell(Step(step="top_up", of=view.name, litres=litres, using=using, vessel=vessel), hours)

    @precondition(any_batch)
    @rule(data=st.data(), litres=st.floats(0.1, 3), hours=late)
    def water(self, data: st.DataObject, litres: float, hours: float) -> None:
        view = self.some(data)
        self.tell(Addition(of=view.name, what="water", amount=litres, unit="l"), hours)

    @precondition(any_batch)
    @rule(data=st.data(), to=vessels, first=vessels, litres=st.floats(1, 6))
    def rack_a_part(self, data: st.DataObject, to: str, first: str, litres: float) -> None:
        view = self.some(data)
        into = (Share(vessel=first, litres=litres), Share(vessel=to, rest=True))
        if first != to:
            self.tell(Split(of=view.name, into=into, vessel=data.draw(one_of(view))))

    @precondition(any_batch)
    @rule(data=st.data(), to=st.one_of(st.none(), vessels))
    def blend(self, data: st.DataObject, to: str | None) -> None:
        self.tell(Blend(of=self.some(data).name, other=self.some(data, under_way=False).name, to=to))

    @precondition(any_batch)
    @rule(data=st.data(), bottles=st.one_of(st.none(), st.integers(1, 30)), hours=late)
    def bottle(self, data: st.DataObject, bottles: int | None, hours: float) -> None:
        self.tell(Step(step="bottle", of=self.some(data).name, bottles=bottles), hours)

    @precondition(lambda self: bool(fold(self.entries).batches))
    @rule(data=st.data(), change=st.integers(-40, 5))
    def drink(self, data: st.DataObject, change: int) -> None:
        self.tell(Bottles(of=self.some(data, under_way=False).name, change=change))

    @precondition(lambda self: bool(fold(self.entries).batches))
    @rule(data=st.data(), left=st.integers(0, 40))
    def count(self, data: st.DataObject, left: int) -> None:
        view = self.some(data, under_way=False)
        if self.tell(Bottles(of=view.name, change=0, left=left)) and view.ended_at is not None:
            assert self.now_of(view).bottles_left == left

    @precondition(any_batch)
    @rule(
        data=st.data(),
        days=st.one_of(st.none(), st.sampled_from([7, 14, 30])),
        colour=st.one_of(st.none(), st.sampled_from(["red", "white"])),
        vessel=st.one_of(st.none(), vessels),
    )
    def amend(self, data: st.DataObject, days: int | None, colour: Colour | None, vessel: str | None) -> None:
        """A beginning that is put right changes what was told, and nothing of what was done."""
        view = self.some(data)
        if self.tell(Amend(of=view.name, days=days, colour=colour, vessel=vessel)):
            after = self.now_of(view)
            assert after.days == (days or view.days)
            assert after.colour == (colour or view.colour)
            assert after.readings == view.readings
            if vessel is None:  # where it began decides whether a later split was a transfer
                assert after.chores == view.chores

    @precondition(any_batch)
    @rule(data=st.data(), step=st.sampled_from([*CHORES, "label"]))
    def leave_out(self, data: st.DataObject, step: StepName) -> None:
        """A step that is left out is no longer waited for, and opens no gate of the wine's."""
        view = self.some(data)
        if not self.tell(Skip(of=view.name, step=step)):
            return
        assert step not in NEVER_SKIPPED
        after = self.now_of(view)
        assert len(after.follows.steps) == len(view.follows.steps) - 1
        assert not set(after.skipped) & {due.base for due in due_for(after)}
        bottling = next(s for s in after.follows.steps if s.does == "bottle")
        assert bottling.gate == next(s for s in view.follows.steps if s.does == "bottle").gate

    @precondition(any_batch)
    @rule(data=st.data())
    def give_up(self, data: st.DataObject) -> None:
        """What was thrown away is in no vessel and asks for nothing more."""
        view = self.some(data, under_way=False)
        if self.tell(GiveUp(of=view.name)):
            after = self.now_of(view)
            assert after.given_up
            assert not after.vessels
            assert not after.bottles_left
            assert due_for(after, fold(self.entries)) == []
            assert all(one.batch != view.batch for one in fold(self.entries).under_way)

    def now_of(self, view: Batch) -> Batch:
        found = fold(self.entries).batch(view.batch)
        assert found is not None
        return found

    @precondition(any_batch)
    @rule(data=st.data(), amount=st.floats(0, 100))
    def spend(self, data: st.DataObject, amount: float) -> None:
        self.tell(Cost(of=self.some(data).name, what="kit", amount=amount))

    @rule(vessel=vessels, clean=st.booleans())
    def wash(self, vessel: str, clean: bool) -> None:
        self.tell(Vessel(of=vessel, state="clean" if clean else "dirty"))

    @precondition(lambda self: bool(self.entries))
    @rule()
    def undo_the_last(self) -> None:
        """Undo of the last action gives exactly the state before it, and putting it back the state after."""
        before, after = fold(self.entries[:-1]), fold(self.entries)
        last = self.entries[-1]
        if isinstance(last.act, Undo):
            return
        undone = _undo(last.entry + 1, last.entry, self.now)
        put_back = _undo(last.entry + 2, undone.entry, self.now)
        assert fold([*self.entries, undone]) == before
        assert fold([*self.entries, undone, put_back]) == after
        self.entries.append(undone)

    @precondition(lambda self: bool(self.entries))
    @rule(data=st.data())
    def undo_any(self, data: st.DataObject) -> None:
        entry = data.draw(st.sampled_from(standing(self.entries)))
        self.tell(Undo(), strikes=entry.entry)

    # what must always hold

    @invariant()
    def never_two_batches_in_one_vessel(self) -> None:
        house = fold(self.entries)
        assert clash(house) is None
        inside = [vessel for view in house.under_way for vessel in view.vessels]
        assert len(inside) == len(set(inside))
        for view in vessel_views(house, VESSELS, self.now):
            assert (view.state == "in use") == (view.name in inside)

    @invariant()
    def volumes_are_never_negative(self) -> None:
        for view in fold(self.entries).batches:
            parts = [part.litres for part in view.parts]
            known = [litres for litres in parts if litres is not None]
            assert all(litres >= 0 for litres in known)
            assert view.litres is None or view.litres >= 0
            assert view.bottles_left is None or view.bottles_left >= 0
            if view.litres is not None and parts and None not in parts:
                assert abs(sum(known) - view.litres) < 1e-6

    @invariant()
    def litres_are_conserved(self) -> None:
        """What came and went sums to what is there, and what one batch gave another has."""
        house = fold(self.entries)
        for view in house.batches:
            assert all(move.total is None or move.total >= 0 for move in view.moves)
            if view.litres is not None:
                # Where a volume was not known the ledger begins anew with the next that was told.
                unknown = max((n for n, m in enumerate(view.moves) if m.total is None), default=-1)
                changes = [m.change for m in view.moves[unknown + 1 :] if m.change is not None]
                assert abs(sum(changes) - view.litres) < 1e-6
        moves = [move for view in house.batches for move in view.moves]
        for given in (move for move in moves if move.kind == "given" and move.change is not None):
            taken = next((m for m in moves if m.entry == given.entry and m.kind == "topped_up"), None)
            if taken is not None and taken.change is not None and given.litres == -given.change:
                assert abs(given.change + taken.change) < 1e-6

    @invariant()
    def every_batch_has_a_next_step_or_is_finished(self) -> None:
        for view in fold(self.entries).batches:
            found = stage(view, self.now)
            if found.step is None:
                assert found.word in ("bottled", "blended", "given up")

    @invariant()
    def what_is_done_in_part_is_waited_for_and_throws_nothing_back(self) -> None:
        house = fold(self.entries)
        for view in house.batches:
            plan = view.follows
            place = place_in_plan(view)
            done = doings(view)
            assert all(1 <= len(events) <= plan.step(step).times for step, events in done.items())
            told = [n for n, step in enumerate(plan.steps) if step.id in done]
            assert len(place.behind) >= max(told, default=0)
            if not place.did:
                continue
            assert place.chore is not None
            assert len(done[place.chore.id]) == place.did < place.chore.times
            assert len(place.behind) == max(told)
            due = next((due for due in due_for(view, house) if due.step == place.chore.id), None)
            if view.ended_at is None:
                assert due is not None
                assert due.at == place.ready == place.did_at + timedelta(hours=place.chore.every_hours)

    @invariant()
    def the_order_of_arrival_does_not_matter(self) -> None:
        facts = standing(self.entries)
        movable = [e for e in facts if not isinstance(e.act, Begin | Undo)]
        numbers = [e.entry for e in movable]
        Random(len(facts)).shuffle(numbers)
        renumbered = [msgspec.structs.replace(e, entry=n) for e, n in zip(movable, numbers, strict=True)]
        fixed = [e for e in facts if isinstance(e.act, Begin)]
        assert _plain(fold([*fixed, *renumbered])) == _plain(fold(facts))


def _undo(entry: int, strikes: int, at: datetime) -> Entry:
    return Entry(entry=entry, act=Undo(), by="bo", said_at=at, at=at, strikes=strikes)


def _plain(house: HouseView) -> object:
    """The view without entry numbers."""

    def strip(value: object) -> object:
        if isinstance(value, dict):
            return {key: strip(v) for key, v in value.items() if key not in ("entry", "until_entry")}
        if isinstance(value, Iterable) and not isinstance(value, str):
            return [strip(item) for item in value]
        return value

    return strip(msgspec.to_builtins(house))


TestMembers = Members.TestCase
TestMembers.settings = settings(max_examples=60, stateful_step_count=40, deadline=None)
