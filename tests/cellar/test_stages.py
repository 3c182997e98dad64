"""Stages and gates. The 48 hours of agreeing readings and the one-point tolerance are the project's rule;
the other limits are named, with their source, where they stand in `bot.cellar.batch.place`."""

import pytest

from bot.cellar.batch.place import doing_of, place_in_plan, stage
from bot.cellar.batch.proof import curve, settled, true_sg
from bot.cellar.plans.kits import plan_for
from tests.cellar.batches import Story, fermented_out, hours


def word(story: Story, at: float) -> str:
    return stage(story.view, hours(at)).word


def next_step(story: Story, at: float) -> str | None:
    step = stage(story.view, hours(at)).step
    return step.id if step else None


def test_a_whole_batch_step_by_step() -> None:
    story = Story()
    story.begin(14)
    assert (word(story, 0), next_step(story, 0)) == ("setting up", "sanitise")
    story.step("sanitise", 0)
    story.step("mix", 1)
    assert (word(story, 1), next_step(story, 1)) == ("setting up", "og")
    story.sg(1.080, 1)
    assert (word(story, 1), next_step(story, 1)) == ("ready for the yeast", "pitch")
    story.step("pitch", 2)
    assert (word(story, 3), next_step(story, 3)) == ("fermenting", "ferment")
    story.sg(1.030, 50)
    story.sg(0.995, 100)
    assert word(story, 120) == "fermenting"
    story.sg(0.994, 150)
    assert (word(story, 150), next_step(story, 150)) == ("fermented out", "rack")
    story.step("rack", 151, to="bucket 3")
    assert story.view.vessel == "bucket 3"
    story.add("sorbate", 152)
    assert next_step(story, 152) == "degas"
    story.step("degas", 153)
    story.step("fine", 154)
    assert (word(story, 155), next_step(story, 155)) == ("clearing", "clear")
    assert (word(story, 154 + 96), next_step(story, 154 + 96)) == ("ready to bottle", "bottle")
    story.step("bottle", 260, bottles=29)
    assert (word(story, 260), next_step(story, 260)) == ("bottled", "label")
    assert (story.view.bottles_made, story.view.vessel) == (29, None)
    story.step("label", 261)
    assert next_step(story, 261) is None


def test_yeast_waits_for_the_starting_gravity() -> None:
    story = Story()
    story.begin()
    story.step("sanitise", 0)
    story.step("mix", 1)
    found = stage(story.view, hours(1))
    assert found.step is not None
    assert found.step.id == "og"


@pytest.mark.parametrize(
    ("readings", "proved"),
    [
        ([(100, 0.994), (148, 0.994)], True),
        ([(100, 0.995), (148, 0.994)], True),
        ([(100, 0.994), (147.9, 0.994)], False),  # not 48 hours
        ([(100, 0.996), (148, 0.994)], False),  # two points apart
        ([(100, 0.996), (124, 0.995), (172, 0.994)], True),  # the last two, over 48 hours
        ([(100, 0.996), (124, 0.995), (148, 0.994)], False),  # creeping down
        ([(100, 1.020), (200, 1.020)], False),  # stuck, not finished
        ([(100, 0.994)], False),
        ([(100, 0.994), (148, 0.994), (200, 0.994)], True),
        ([(100, 0.998), (148, 0.998), (172, 0.994)], False),  # it has begun again
    ],
)
def test_only_readings_that_agree_prove_the_end(readings: list[tuple[float, float]], proved: bool) -> None:
    story = Story()
    story.begin()
    story.sg(1.080, 0)
    story.step("pitch", 1)
    for at, value in readings:
        story.sg(value, at)
    assert (settled(story.view) is not None) is proved


def test_a_warm_sample_is_corrected_before_it_is_compared() -> None:
    story = Story()
    story.begin()
    story.sg(1.080, 0)
    story.step("pitch", 1)
    warm = story.sg(0.992, 100, temp_c=27)
    story.sg(0.994, 148, temp_c=20)
    reading = next(r for r in story.view.readings if r.entry == warm)
    assert true_sg(story.view, reading) == pytest.approx(0.994, abs=0.0005)
    assert settled(story.view) is not None


def test_a_second_racking_is_the_plans_second() -> None:
    story = Story()
    story.begin(30)
    story.sg(1.090, 0)
    story.step("pitch", 1)
    story.sg(1.008, 160)
    assert next_step(story, 160) == "first_rack"
    story.step("rack", 161)
    story.sg(0.995, 250)
    story.sg(0.995, 300)
    story.step("stabilise", 301)
    story.step("degas", 302)
    story.step("fine", 303)
    assert next_step(story, 303 + 240) == "last_rack"
    story.step("rack", 303 + 241)
    assert next_step(story, 303 + 242) == "bottle"


def test_yeast_at_work_shows_though_nobody_said_it_was_pitched() -> None:
    story = Story()
    story.begin()
    story.sg(1.080, 0)
    story.sg(1.050, 60)
    assert word(story, 61) == "fermenting"


def test_what_was_done_out_of_order_was_done() -> None:
    story = Story()
    story.begin()
    story.step("bottle", 10, bottles=30)
    assert word(story, 11) == "bottled"


def test_sulphite_before_the_yeast_is_not_the_stabiliser() -> None:
    story = Story()
    story.begin()
    story.add("sulphite", 0)
    story.sg(1.080, 1)
    assert next_step(story, 1) == "pitch"


def test_the_fall_is_taken_over_at_least_six_hours() -> None:
    story = Story()
    story.begin()
    story.sg(1.080, 0)
    story.sg(1.060, 24)
    story.sg(1.059, 25)
    assert curve(story.view).fall == pytest.approx(0.020)


def test_striking_out_the_proof_takes_it_back() -> None:
    story = fermented_out()
    assert settled(story.view) is not None
    last = story.view.readings[-1].entry
    story.undo(last, 160)
    assert settled(story.view) is None


def stabilised() -> Story:
    """Racked and stabilised, at 151 and 152 hours."""
    story = fermented_out()
    story.step("rack", 151)
    story.step("stabilise", 152)
    return story


def test_a_step_done_in_part_is_the_next_one_again() -> None:
    story, plan = stabilised(), plan_for(14)
    assert place_in_plan(story.view).did == 0
    first = story.step("degas", 160)
    place = place_in_plan(story.view)
    assert place.chore is not None
    assert (place.chore.id, place.did, place.ready, place.did_at) == ("degas", 1, hours(164), hours(160))
    assert place.behind == plan.steps[: plan.steps.index(place.chore)]
    assert stage(story.view, hours(161)).did == 1
    story.step("degas", 165)
    assert (place_in_plan(story.view).did, place_in_plan(story.view).ready) == (2, hours(169))
    last = story.step("degas", 170)
    assert next_step(story, 170) == "fine"
    story.undo(last)
    assert (next_step(story, 170), place_in_plan(story.view).did) == ("degas", 2)
    story.undo(first)
    assert (next_step(story, 170), place_in_plan(story.view).did) == ("degas", 1)


def test_what_was_done_after_it_puts_it_behind() -> None:
    story = stabilised()
    story.step("degas", 160)
    fined = story.add("finings", 161)
    assert next_step(story, 162) == "clear"
    story.undo(fined)
    assert next_step(story, 162) == "degas"


def test_a_step_done_in_part_leaves_untold_steps_behind() -> None:
    story = fermented_out()
    story.step("degas", 160)  # nobody told of the racking, nor of the stabiliser
    assert next_step(story, 161) == "degas"
    story.step("rack", 162)  # told late
    assert next_step(story, 163) == "degas"
    for at in (164, 168):
        story.step("degas", at)
    assert next_step(story, 169) == "fine"


def test_each_time_has_its_own_fact() -> None:
    story = stabilised()
    numbers = [story.step("degas", at) for at in (176, 181, 190)]
    told = [set(numbers), set(numbers[1:]), set(numbers[2:])]
    found = [doing_of(story.view, "degas", since) for since in told]
    assert [event.entry for event in found if event is not None] == numbers
    story.undo(numbers[2])
    assert doing_of(story.view, "degas", told[2]) is None
    assert doing_of(story.view, "dance", told[0]) is None
