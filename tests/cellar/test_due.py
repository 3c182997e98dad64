"""What falls due is derived from facts alone: the same facts, the same dues."""

from datetime import timedelta

import pytest

from bot.cellar.batch.readings import next_reading
from bot.cellar.home.due import Due, due_for, due_for_house
from bot.cellar.log.acts import Done, PutOff, Remind, Step, StepName, TakeOn
from bot.cellar.log.fold import fold
from bot.science import practice
from tests.cellar.batches import Story, fermented_out, hours


def dues(story: Story) -> dict[str, Due]:
    view = story.view
    return {due.step: due for due in due_for(view)}


def test_a_first_look_two_days_after_the_yeast() -> None:
    story = Story()
    story.begin()
    story.sg(1.080, 0)
    story.step("pitch", 2)
    assert dues(story)["reading"].at == hours(50)


@pytest.mark.parametrize(
    ("second", "third", "in_days"),
    [
        ((48, 1.040), None, 2.0),  # 0.020 a day: two days to 1.000
        ((48, 1.070), None, 3.0),  # slow: never longer than three days
        ((48, 1.010), None, 1.0),  # fast: never sooner than a day
        ((48, 0.995), None, 2.0),  # low: agreeing 48 hours later would be proof
        ((48, 0.995), (96, 0.994), None),
    ],
)
def test_the_next_reading_comes_when_it_tells_most(
    second: tuple[float, float], third: tuple[float, float] | None, in_days: float | None
) -> None:
    story = Story()
    story.begin()
    story.sg(1.080, 0)
    story.step("pitch", 0)
    story.sg(second[1], second[0])
    if third:
        story.sg(third[1], third[0])
    expected = None if in_days is None else hours(second[0]) + timedelta(days=in_days)
    assert next_reading(story.view) == expected


def test_a_chore_that_could_be_done_at_once_is_brought_up_a_day_later() -> None:
    story = fermented_out()
    assert dues(story)["rack"].at == hours(150 + 24)
    story.step("rack", 151)
    assert "rack" not in dues(story)
    assert dues(story)["stabilise"].at == hours(151 + 24)


def test_after_a_wait_it_is_due_to_the_minute() -> None:
    story = fermented_out()
    chores: tuple[StepName, ...] = ("rack", "stabilise", "degas", "fine")
    for number, step in enumerate(chores):
        story.step(step, 151 + number)
    due = dues(story)["bottle"]
    assert due.at == hours(154 + 96)
    assert due.chore == "bottle"


def test_a_step_done_in_part_is_due_to_the_minute_each_time() -> None:
    story = fermented_out()
    story.step("rack", 151)
    story.step("stabilise", 152)
    assert (dues(story)["degas"].at, dues(story)["degas"].did) == (hours(152 + 24), 0)
    story.tell(PutOff(step="degas", until=hours(190), of="plum", what="degas"), 176)
    assert dues(story)["degas"].at == hours(190)
    story.step("degas", 180)
    due = dues(story)["degas"]
    assert (due.at, due.did, due.timed) == (hours(184), 1, False)  # the putting off was of the first time
    story.tell(PutOff(step="degas", until=hours(186), of="plum", what="degas"), 184)
    assert (dues(story)["degas"].at, dues(story)["degas"].timed) == (hours(186), True)
    story.step("degas", 186)
    assert (dues(story)["degas"].at, dues(story)["degas"].did) == (hours(190), 2)
    story.step("fine", 187)
    assert "degas" not in dues(story)


def test_undoing_what_caused_it_withdraws_it() -> None:
    story = fermented_out()
    assert "rack" in dues(story)
    story.undo(story.view.readings[-1].entry)
    assert "rack" not in dues(story)
    assert "reading" in dues(story)


def test_later_moves_it_and_mine_names_who() -> None:
    story = fermented_out()
    story.tell(PutOff(step="rack", until=hours(200), of="plum"), 175)
    assert dues(story)["rack"].at == hours(200)
    story.tell(TakeOn(step="rack", of="plum"), 176, by="bo")
    assert dues(story)["rack"].whose == "bo"


def test_a_plan_for_something_else_is_brought_up_at_its_time() -> None:
    story = fermented_out()
    number = story.tell(TakeOn(step="top_up", until=hours(180), of="plum"), 155)
    asked = dues(story)[f"asked {number}"]
    assert (asked.at, asked.whose, asked.chore) == (hours(180), "ana", "top_up")
    story.step("top_up", 170)
    assert f"asked {number}" not in dues(story)


def test_what_somebody_asked_for_is_over_when_they_say_so_and_not_by_a_reading() -> None:
    story = fermented_out()
    asked = Remind(until=hours(200), of="plum", about="buy corks", whom="bo")
    number = story.tell(asked, 155)
    before = dues(story)
    due = before[f"asked {number}"]
    assert (due.about, due.whose, due.asked_by, due.exact) == ("buy corks", "bo", "ana", False)
    assert before["rack"].at == hours(174)  # nothing of the plan is put off by it
    story.sg(0.994, 160)
    assert dues(story)[f"asked {number}"] == due
    story.tell(PutOff(until=hours(210), of="plum", what=f"asked {number}"), 200)
    assert dues(story)[f"asked {number}"].at == hours(210)
    done = story.tell(Done(of="plum", what=f"asked {number}"), 210)
    assert f"asked {number}" not in dues(story)
    story.undo(done, 211)
    assert f"asked {number}" in dues(story)
    story.undo(number, 212)
    assert f"asked {number}" not in dues(story)


@pytest.mark.parametrize(("ahead", "timer"), [(0.3, True), (2, True), (2.1, False)])
@pytest.mark.parametrize("batch", [None, 1])
def test_one_asked_for_at_most_two_hours_ahead_is_a_timer(
    ahead: float, timer: bool, batch: int | None
) -> None:
    story = fermented_out()
    number = story.tell(Remind(until=hours(155 + ahead), about="drain it"), 155, batch=batch)
    house = fold(story.entries)
    (due,) = [d for d in [*dues(story).values(), *due_for_house(house)] if d.step == f"asked {number}"]
    assert (due.exact, due.timed, due.at) == (timer, True, hours(155 + ahead))


def test_a_timer_for_a_chore_of_the_plan_leaves_the_plan_alone() -> None:
    story = fermented_out()
    number = story.tell(Remind(step="rack", until=hours(175), about="rack it"), 174)
    assert dues(story)["rack"].at == hours(174)
    assert dues(story)[f"asked {number}"].exact
    story.step("rack", 174.5)
    assert f"asked {number}" not in dues(story)


def test_what_was_asked_about_no_batch_is_over_when_the_chore_is_done() -> None:
    story = Story()
    number = story.tell(Remind(step="sanitise", until=hours(9), about="clean"), batch=None)
    assert [due.step for due in due_for_house(fold(story.entries))] == [f"asked {number}"]
    story.tell(Step(step="sanitise"), 5, batch=None)
    assert [due.kind for due in due_for_house(fold(story.entries))] == ["contact"]


def test_each_sanitising_has_its_contact_time() -> None:
    story = Story()
    story.begin()
    story.step("sanitise", 0)
    (due,) = due_for_house(fold(story.entries))
    assert (due.at, due.exact) == (hours(0) + practice.CONTACT.value, True)


def test_nothing_but_a_taste_is_due_once_it_is_labelled() -> None:
    story = fermented_out()
    story.step("bottle", 300, bottles=29)
    assert "label" in dues(story)
    story.step("label", 301)
    assert {due.kind for due in dues(story).values()} == {"taste"}
