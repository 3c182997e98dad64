"""Vessels: worked out from what was poured where, and what was washed when."""

from datetime import timedelta

import pytest

from bot.cellar.batch.bounds import objection
from bot.cellar.batch.proof import settled
from bot.cellar.batch.strength import blended_from, strength_so_far
from bot.cellar.home.costs import costs_of
from bot.cellar.home.vessels import Known, VesselView, before_filling, clash, fits, shared_out, vessel_views
from bot.cellar.log.acts import Begin, Blend, Cost, Gravity, Share, Split, Step, Vessel, Volume
from bot.cellar.log.fold import Entry, HouseView, fold
from bot.science import practice
from bot.science.formulas.volumes import blend
from tests.cellar.batches import Story, fermented_out, hours

KNOWN = [
    Known(name="bucket 1", litres=30.0),
    Known(name="bucket 2", litres=25.0),
    Known(name="bucket 3"),
    Known(name="demijohn 1", litres=5.0),
]
NAMES = [vessel.name for vessel in KNOWN]


def vessel(story: Story, name: str, at: float) -> VesselView:
    views = vessel_views(fold(story.entries), KNOWN, hours(at))
    return next(view for view in views if view.name == name)


def house(story: Story) -> HouseView:
    return fold(story.entries)


def test_racking_frees_and_dirties_the_old_vessel() -> None:
    story = fermented_out()
    assert vessel(story, "bucket 2", 150).state == "in use"
    story.step("rack", 151, to="bucket 3")
    assert vessel(story, "bucket 2", 152).state == "dirty"
    assert vessel(story, "bucket 3", 152).batch is not None
    story.tell(Vessel(of="bucket 2", state="clean"), 153, batch=None)
    assert vessel(story, "bucket 2", 154).state == "clean"


def test_a_sanitised_vessel_goes_stale() -> None:
    story = Story()
    story.begin()
    story.entries.append(_sanitised(story, "bucket 3", 0))
    stale = practice.STALE_AFTER.value / timedelta(hours=1)
    assert vessel(story, "bucket 3", stale).state == "sanitised"
    assert vessel(story, "bucket 3", stale + 0.1).state == "stale"


def _sanitised(story: Story, of: str, at: float) -> Entry:
    return Entry(
        entry=len(story.entries) + 1,
        act=Step(of=of, step="sanitise"),
        by="bo",
        said_at=hours(at),
        at=hours(at),
    )


def test_what_a_vessel_was_like_before_it_was_filled() -> None:
    story = fermented_out()
    story.entries.append(_sanitised(story, "bucket 3", 150))
    story.step("rack", 151, to="bucket 3")
    assert before_filling("bucket 3", house(story), hours(151)) == "sanitised"
    story.step("rack", 160, to="bucket 2")
    assert before_filling("bucket 2", house(story), hours(160)) == "dirty"


@pytest.mark.parametrize(
    ("litres", "to", "trouble"),
    [
        (26.0, None, "overfull"),
        (23.5, None, "foam"),
        (22.0, None, None),
        (23.0, "bucket 1", "headspace"),
        (29.0, "bucket 1", None),
        (4.8, "demijohn 1", None),
        (4.0, "demijohn 1", "headspace"),
    ],
)
def test_room_before_and_after_the_ferment(litres: float, to: str | None, trouble: str | None) -> None:
    story = fermented_out() if to else Story()
    if to:
        story.step("rack", 151, to=to)
    else:
        story.begin()
    story.tell(Volume(of="plum", litres=litres), 152)
    views = vessel_views(house(story), KNOWN, hours(153))
    assert [found.trouble for found in fits(story.view, views)] == ([trouble] if trouble else [])


def test_a_split_batch_is_in_both_vessels() -> None:
    story = fermented_out()
    parts = (Share(vessel="bucket 3", litres=18.0), Share(vessel="demijohn 1", litres=5.0))
    story.tell(Split(of="plum", into=parts), 151)
    assert story.view.vessels == ("bucket 3", "demijohn 1")
    assert vessel(story, "demijohn 1", 152).holds == 5.0
    assert vessel(story, "bucket 2", 152).state == "dirty"
    assert house(story).named("demijohn 1") is not None
    story.step("rack", 160, to="bucket 2")
    assert story.view.vessels == ("bucket 2",)


def split_of(*into: tuple[str, float | None], rest: str = "") -> list[tuple[str, float | None]]:
    """How 23 litres in bucket 2 are shared out."""
    story = Story()
    story.begin()
    shares = tuple(Share(vessel=name, litres=litres, rest=name == rest) for name, litres in into)
    act = shared_out(Split(of="plum", into=shares), story.view, KNOWN)
    return [(share.vessel, share.litres) for share in act.into]


def test_the_rest_of_a_split_goes_by_capacity() -> None:
    assert split_of(("bucket 3", 18.0), ("demijohn 1", None)) == [("bucket 3", 18.0), ("demijohn 1", 5.0)]
    assert split_of(("bucket 1", None), ("bucket 3", None)) == [("bucket 1", 11.5), ("bucket 3", 11.5)]
    assert split_of(("bucket 1", None), ("bucket 2", None)) == [("bucket 1", 12.545), ("bucket 2", 10.455)]


def test_what_was_not_racked_stayed_where_it_was() -> None:
    assert split_of(("demijohn 1", 4.5), ("bucket 3", 4.5)) == [
        ("demijohn 1", 4.5),
        ("bucket 3", 4.5),
        ("bucket 2", 14.0),
    ]
    assert split_of(("demijohn 1", 4.5), ("bucket 3", 18.0)) == [("demijohn 1", 4.5), ("bucket 3", 18.0)]
    told = split_of(("demijohn 1", 4.5), ("bucket 3", None), rest="bucket 3")
    assert told == [("demijohn 1", 4.5), ("bucket 3", 18.5)]


def test_more_than_there_is_cannot_be_split_off() -> None:
    story = fermented_out()
    too_much = (Share(vessel="bucket 3", litres=20.0), Share(vessel="demijohn 1", litres=5.0))
    found = objection(Split(of="plum", into=too_much), house(story), NAMES, hours(200))
    assert found == ("too_much", "25 l")


def two() -> Story:
    story = fermented_out()
    sloe = story.tell(Begin(of="sloe", name="sloe", litres=10.0, days=14, vessel="bucket 1"), 0, batch=None)
    story.tell(Gravity(sg=1.100, of="sloe"), 1, batch=sloe)
    story.tell(Gravity(sg=0.998, of="sloe"), 100, batch=sloe)
    story.tell(Cost(of="sloe", what="kit", amount=20.0), 100, batch=sloe)
    story.tell(Cost(of="plum", what="kit", amount=46.0), 100)
    story.tell(Blend(of="plum", other="sloe", batch=sloe), 160)
    return story


def test_volume_strength_and_costs_follow_a_blend() -> None:
    """The strength is that of `science.volumes.blend`, which is checked against OIML R 22 elsewhere."""
    plum, sloe = house(two()).batches
    assert (plum.litres, sloe.gone_into) == (33.0, plum.batch)
    own, other = strength_so_far(plum.mixed[-1].own), strength_so_far(plum.mixed[-1].other)
    assert own is not None
    assert other is not None
    both = strength_so_far(plum)
    assert both is not None
    assert both.abv == pytest.approx(blend(23.0, own.abv, 10.0, other.abv).abv)
    assert [name for name, _, _ in blended_from(plum)] == ["plum", "sloe"]
    costs = costs_of(plum, house(two()))
    assert (costs.kit, costs.bottles) == (66.0, 44)
    assert costs.per_bottle == pytest.approx(1.5)


def test_a_blend_with_a_wine_that_had_not_stopped_proves_nothing() -> None:
    plum, _ = house(two()).batches
    assert settled(plum) is None  # the sloe had one low reading only
    story = two()
    story.sg(0.996, 170)
    assert settled(house(story).batches[0]) is None
    story.sg(0.996, 220)
    assert settled(house(story).batches[0]) is not None


def test_what_was_poured_away_is_over() -> None:
    story = two()
    found = objection(Blend(of="plum", other="sloe"), house(story), NAMES, hours(200))
    assert found == ("ended", "sloe")
    assert [view.name for view in house(story).under_way] == ["plum"]
    assert vessel(story, "bucket 1", 161).state == "dirty"


def test_two_batches_in_one_vessel_are_found_even_in_the_past() -> None:
    story = two()
    assert clash(house(story)) is None
    story.step("rack", 50, to="bucket 1")
    assert clash(house(story)) == ("bucket 1", "sloe", "plum")
