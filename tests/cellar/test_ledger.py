"""The ledger of litres: what came, went and was shared out, and what strength and doses make of it."""

import pytest

from bot.cellar.batch.advice import Caution, cautions, sulphite_mg_l
from bot.cellar.batch.bounds import objection
from bot.cellar.batch.strength import strength_so_far, water_added
from bot.cellar.batch.troubles import troubles
from bot.cellar.batch.verdicts import all_right
from bot.cellar.log.acts import Addition, Draw, Share, Split, Step, Volume
from bot.cellar.log.fold import Entry, fold
from bot.cellar.log.gravities import yeast_between
from tests.cellar.batches import START, Story, fermented_out, hours


def parts(story: Story) -> dict[str, float | None]:
    return {part.vessel: part.litres for part in story.view.parts}


def test_a_sample_and_a_loss_leave_the_rest() -> None:
    story = fermented_out()
    story.tell(Draw(of="plum", litres=0.1, why="sample"), 151)
    lees = story.tell(Draw(of="plum", litres=2.0, why="lees"), 152)
    assert story.view.litres == pytest.approx(20.9)
    story.undo(lees, 153)
    assert story.view.litres == pytest.approx(22.9)


def test_more_than_there_is_cannot_be_taken() -> None:
    story = fermented_out()
    act = Draw(of="plum", litres=24.0, why="spill")
    assert objection(act, fold(story.entries), ["bucket 2"], hours(200)) == ("too_much", "24 l")
    # Told though, in another order, it takes no more than there is.
    story.tell(act, 151)
    assert story.view.litres == 0


def test_the_rest_is_what_the_others_leave_whatever_is_told_before_it_later() -> None:
    story = fermented_out()
    into = (Share(vessel="demijohn 1", litres=4.5), Share(vessel="bucket 3", litres=18.5, rest=True))
    story.tell(Split(of="plum", into=into), 152)
    assert parts(story) == {"demijohn 1": 4.5, "bucket 3": 18.5}
    story.tell(Draw(of="plum", litres=2.0, why="lees"), 151)
    assert parts(story) == {"demijohn 1": 4.5, "bucket 3": 16.5}
    story.tell(Draw(of="plum", litres=0.5, why="spill", vessel="demijohn 1"), 153)
    assert parts(story) == {"demijohn 1": 4.0, "bucket 3": 16.5}
    assert story.view.litres == pytest.approx(20.5)


def test_one_of_several_vessels_is_racked_and_counted_alone() -> None:
    story = fermented_out()
    into = (Share(vessel="demijohn 1", litres=5.0), Share(vessel="bucket 3", rest=True))
    story.tell(Split(of="plum", into=into), 151)
    story.tell(Step(step="rack", of="plum", to="demijohn 2", vessel="demijohn 1"), 152)
    assert parts(story) == {"bucket 3": 18.0, "demijohn 2": 5.0}
    story.tell(Volume(of="plum", litres=4.0, vessel="demijohn 2"), 153)
    assert parts(story) == {"bucket 3": 18.0, "demijohn 2": 4.0}
    assert story.view.litres == 22.0


def test_what_nobody_knew_is_worked_out_once_the_others_are_told() -> None:
    story = fermented_out()
    into = (Share(vessel="demijohn 1"), Share(vessel="bucket 3", rest=True))
    story.tell(Split(of="plum", into=into), 151)
    assert parts(story) == {"demijohn 1": None, "bucket 3": None}
    story.tell(Volume(of="plum", litres=5.0, vessel="demijohn 1"), 152)
    assert parts(story) == {"demijohn 1": 5.0, "bucket 3": 18.0}


def test_water_thins_strength_gravity_and_doses() -> None:
    story = fermented_out()
    story.tell(Addition(what="sulphite", amount=2.0, unit="g", of="plum"), 151)
    before, so2 = strength_so_far(story.view), sulphite_mg_l(story.view)
    story.tell(Step(step="top_up", of="plum", litres=2.3, using="water"), 152)
    after = strength_so_far(story.view)
    assert before is not None
    assert after is not None
    assert so2 is not None
    assert story.view.litres == pytest.approx(25.3)
    assert water_added(story.view) == pytest.approx(2.3)
    assert after.abv == pytest.approx(before.abv / 1.1, abs=0.05)
    assert sulphite_mg_l(story.view) == pytest.approx(so2 / 1.1)
    latest = story.view.latest
    assert latest is not None
    assert story.view.thinned(latest.sg, latest) == pytest.approx(1 - 0.006 / 1.1)


def test_what_is_taken_out_takes_its_share_along() -> None:
    story = fermented_out()
    story.tell(Addition(what="sulphite", amount=2.0, unit="g", of="plum"), 151)
    before, so2 = strength_so_far(story.view), sulphite_mg_l(story.view)
    story.tell(Draw(of="plum", litres=10.0, why="lost"), 152)
    assert (strength_so_far(story.view), sulphite_mg_l(story.view)) == (before, so2)


def test_the_water_of_the_kit_is_in_the_volume_told() -> None:
    story = Story()
    story.begin()
    story.tell(Addition(what="water", amount=7.0, unit="l", of="plum"), 0)
    assert story.view.litres == 23.0


@pytest.mark.parametrize(
    ("read", "at"),
    [
        ([(0, 1.080)], None),
        ([(0, 1.080), (48, 1.071)], None),
        ([(0, 1.080), (48, 1.070)], 24),
        ([(0, 1.080), (24, 1.076), (36, 1.069)], 30),
        ([(0, 1.080), (240, 1.000)], 24),
        ([(48, 1.020)], 24),
    ],
)
def test_a_fall_proves_yeast(read: list[tuple[float, float]], at: float | None) -> None:
    found = yeast_between(START, [(hours(when), sg) for when, sg in read])
    assert found == (hours(at) if at is not None else None)


def said(story: Story, number: int) -> list[Caution]:
    entry: Entry = story.entries[number - 1]
    view = story.view
    return [found.caution for found in cautions(view, entry)]


def test_yeast_that_nobody_mentioned_is_said_once_and_watched() -> None:
    story = Story()
    story.begin()
    story.sg(1.080, 0)
    first = story.sg(1.040, 72)
    assert Caution.YEAST_INFERRED in said(story, first)
    second = story.sg(1.020, 120)
    assert Caution.YEAST_INFERRED not in said(story, second)
    story.temp(15.0, 260)
    third = story.sg(1.020, 264)
    assert Caution.STUCK in said(story, third)
    assert story.view.pitching_told is None
    assert [t.kind for t in troubles(story.view, hours(265))] == ["stuck", "too_cold"]
    assert all_right(story.view, hours(265)).verdict == "no"


def test_told_yeast_goes_before_inferred() -> None:
    story = Story()
    story.begin()
    story.sg(1.080, 0)
    story.sg(1.040, 72)
    story.step("pitch", 2)
    assert story.view.yeast_inferred is None
    assert story.view.pitched_at == hours(2)


def test_a_fall_by_water_alone_proves_none() -> None:
    story = Story()
    story.begin()
    story.sg(1.100, 0)
    story.tell(Addition(what="water", amount=4.0, unit="l", of="plum"), 1)
    story.sg(1.085, 2)
    assert story.view.yeast_inferred is None
