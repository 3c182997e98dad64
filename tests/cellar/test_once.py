"""What a batch knows of itself: worked out once, never of another state, and no part of what it is."""

import msgspec
import pytest

from bot.cellar.batch import place
from bot.cellar.batch.advice import cautions
from bot.cellar.batch.once import once
from bot.cellar.batch.place import doings, place_in_plan, stage
from bot.cellar.batch.proof import agreeing_since, settled
from bot.cellar.batch.readings import next_reading
from bot.cellar.batch.strength import strength_so_far
from bot.cellar.home.due import due_for
from bot.cellar.log.fold import Batch, fold
from tests.cellar.batches import Story, fermented_out, hours


def test_it_is_worked_out_once_for_a_view() -> None:
    asked: list[str] = []

    @once
    def named(view: Batch) -> str | None:
        asked.append(view.name)
        return None

    view = fermented_out().view
    assert (named(view), named(view)) == (None, None)
    assert asked == ["plum"]
    named(msgspec.structs.replace(view, name="sloe"))
    named(fermented_out().view)
    assert asked == ["plum", "sloe", "plum"]


def test_what_cannot_be_worked_out_is_asked_again() -> None:
    story = Story()
    story.begin()
    view = story.view
    for _ in range(2):
        with pytest.raises(IndexError):
            agreeing_since(view)


def test_a_changed_view_forgets_what_the_first_one_knew() -> None:
    view = fermented_out().view
    known = settled(view), place_in_plan(view).behind, view.follows, view.starting, strength_so_far(view)
    assert None not in known
    before = msgspec.structs.replace(view, readings=view.readings[:1], chores=(), skipped=("rack",))
    assert settled(before) is None
    assert strength_so_far(before) is None
    assert "rack" not in [step.id for step in before.follows.steps]
    assert len(place_in_plan(before).behind) < len(place_in_plan(view).behind)
    assert (
        settled(view),
        place_in_plan(view).behind,
        view.follows,
        view.starting,
        strength_so_far(view),
    ) == known


def test_what_it_knows_is_no_part_of_what_it_is() -> None:
    story = fermented_out()
    knows, other = story.view, story.view
    doings(knows), stage(knows, hours(160)), next_reading(knows), strength_so_far(knows), knows.pitched_at
    assert knows == other
    assert msgspec.json.encode(knows) == msgspec.json.encode(other)


def test_one_fold_goes_through_the_plan_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever is asked of a batch, in whatever order, its readings are compared and its plan gone through once."""
    gone_through: list[str] = []
    first = place._shows_yeast

    def counted(view: Batch) -> object:
        gone_through.append(view.name)
        return first(view)

    monkeypatch.setattr(place, "_shows_yeast", counted)
    house = fold((story := fermented_out()).entries)
    (view,) = house.batches
    for _ in range(3):
        due_for(view, house)
        stage(view, hours(151))
        cautions(view, story.entries[-1])
    assert gone_through == ["plum"]
