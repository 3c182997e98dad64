"""When the chores to come are forecast for: from facts, by the plan, and by the kit's days where a gate is closed."""

from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from bot.cellar.batch.ahead import Coming, coming
from bot.cellar.batch.place import place_in_plan
from bot.cellar.home.due import due_for
from bot.cellar.log.acts import Follow, KeepPlan
from bot.cellar.log.fold import Batch
from bot.understand.forms.leaflets import read_leaflet
from tests.cellar.batches import START, Story, fermented_out, hours


def ahead(view: Batch, at: float) -> dict[str, Coming]:
    """What is to come, by step, asked so many hours after the beginning."""
    chore = place_in_plan(view).chore
    first = next((d.at for d in due_for(view) if chore is not None and d.step == chore.id), None)
    return {one.step.id: one for one in coming(view, hours(at), first)}


def pitched(days: int = 14) -> Story:
    story = Story()
    story.begin(days)
    story.step("sanitise", 0)
    story.step("mix", 0)
    story.sg(1.080, 1)
    story.step("pitch", 2)
    return story


def test_by_the_kits_days_while_nothing_was_read() -> None:
    found = ahead(pitched(14).view, 3)
    assert list(found) == ["rack", "stabilise", "degas", "fine", "bottle", "label"]
    # 14 days from the yeast, less the plan's 96 hours of clearing, and 8 of degassing three times.
    assert found["rack"].at == hours(2) + timedelta(days=10, hours=-8)
    assert found["bottle"].at == hours(2) + timedelta(days=14)
    assert all(one.estimate for one in found.values())


def test_by_the_fall_once_it_is_known() -> None:
    story = pitched(14)
    story.sg(
        1.052, 26
    )  # 0.028 in 25 hours; 50 more take half as long again as a line would, and two days for the proof
    found = ahead(story.view, 27)
    about = timedelta(hours=25) * ((1.052 - 1.002) / 0.028) * 1.5 + timedelta(days=2)
    assert abs(found["rack"].at - hours(26) - about) < timedelta(seconds=1)
    assert found["bottle"].at == found["rack"].at + timedelta(hours=96 + 8)


def test_a_fall_too_small_to_tell_anything_tells_nothing() -> None:
    story = pitched(14)
    story.sg(1.05000001, 26)
    story.sg(1.05, 50)  # in a straight line it would take thousands of years
    assert ahead(story.view, 51)["bottle"].at == hours(2) + timedelta(days=14)


def test_the_reading_that_would_be_the_proof_opens_the_gate() -> None:
    story = pitched()
    story.sg(1.030, 50)
    story.sg(0.995, 100)
    (reading,) = [due for due in due_for(story.view) if due.step == "reading"]
    assert ahead(story.view, 101)["rack"].at == reading.at == hours(148)


def test_with_the_proof_nothing_is_an_estimate() -> None:
    found = ahead(fermented_out().view, 150)
    assert not any(one.estimate for one in found.values())
    (rack,) = [due for due in due_for(fermented_out().view) if due.step == "rack"]
    assert found["rack"].at == rack.at
    assert found["bottle"].at == rack.at + timedelta(hours=96 + 8)


def test_the_first_racking_of_a_long_kit_comes_when_most_of_the_sugar_has_gone() -> None:
    story = pitched(30)
    found = ahead(story.view, 3)
    assert hours(2) < found["first_rack"].at < found["stabilise"].at
    assert found["stabilise"].at == hours(2) + timedelta(days=20, hours=-8)
    story.sg(1.075, 26)
    # 0.005 in 25 hours: the 65 points to 1.010 take thirteen times as long.
    assert abs(ahead(story.view, 27)["first_rack"].at - hours(26 + 13 * 25)) < timedelta(seconds=1)
    # What only a reading can tell is not before the next one.
    story.sg(1.020, 50)
    (reading,) = [due for due in due_for(story.view) if due.step == "reading"]
    assert ahead(story.view, 51)["first_rack"].at == reading.at


def test_a_leaflets_own_days_count() -> None:
    leaflet = read_leaflet(
        "leaflet for elder: Day 1 add sachet A, stir. Day 7 when 0.996 or less add B and C. Day 20 bottle",
        "en",
    )
    assert leaflet is not None
    story = pitched()
    plan = leaflet.plan("elder")
    story.tell(KeepPlan(plan=plan), 2, batch=None)
    story.tell(Follow(of="plum", plan=plan.key), 2)
    found = ahead(story.view, 3)
    sachets = next(one for one in found.values() if one.step.sachets == ("B", "C"))
    assert (sachets.at, sachets.estimate) == (START + timedelta(days=6), True)
    assert found["bottle"].at == START + timedelta(days=19)


def test_yeast_that_is_still_to_go_in_puts_all_of_it_off() -> None:
    story = Story()
    story.begin(7)
    found = ahead(story.view, 24 * 9)
    assert list(found)[:4] == ["sanitise", "mix", "og", "pitch"]
    assert found["pitch"].at == hours(24 * 9)
    assert not found["pitch"].estimate
    assert found["rack"].at >= found["pitch"].at + timedelta(days=4)
    assert found["rack"].estimate


def test_a_batch_at_its_end_has_only_its_labels() -> None:
    story = fermented_out()
    for step in ("rack", "stabilise", "degas", "fine"):
        story.step(step, 151)
    story.step("bottle", 250, bottles=29)
    assert list(ahead(story.view, 251)) == ["label"]
    story.step("label", 252)
    assert ahead(story.view, 253) == {}


READINGS = st.lists(st.tuples(st.floats(0.990, 1.085), st.integers(3, 600)), max_size=6)


@given(READINGS, st.sampled_from([7, 14, 30]), st.integers(0, 700), st.integers(0, 300))
def test_a_forecast_keeps_still_while_it_is_to_come_and_keeps_the_plans_order(
    readings: list[tuple[float, int]], days: int, asked: int, later: int
) -> None:
    story = pitched(days)
    for value, at in readings:
        story.sg(round(value, 3), at)
    before, after = ahead(story.view, asked), ahead(story.view, asked + later)
    assert before.keys() == after.keys()
    moments = [one.at for one in before.values()]
    assert moments == sorted(moments)
    assert all(one.at >= hours(asked) for one in before.values())
    if moments and moments[0] >= hours(asked + later):
        assert before == after
    for step, one in before.items():
        assert after[step].at >= one.at
