"""Looks, errands and tastes: brought up when they are of use, over when somebody has seen to them."""

from datetime import timedelta

from bot.cellar.home.due import Due, due_for, due_for_house
from bot.cellar.log.acts import (
    Begin,
    Blend,
    Bottles,
    Done,
    Gravity,
    Look,
    PutOff,
    Step,
    StepName,
    TakeOn,
    Temperature,
    Timer,
    Vessel,
)
from bot.cellar.log.fold import fold
from tests.cellar.batches import Story, fermented_out, hours


def dues(story: Story, kind: str) -> list[Due]:
    view = story.view
    return [due for due in due_for(view) if due.kind == kind]


def to_wash(story: Story, level: str = "first") -> list[Due]:
    return [due for due in due_for_house(fold(story.entries)) if (due.kind, due.level) == ("wash", level)]


def fermenting(days: int = 14) -> Story:
    story = Story()
    story.begin(days=days)
    story.sg(1.080, 0)
    story.step("pitch", 2)
    return story


def cleared() -> Story:
    story = fermented_out()
    chores: tuple[StepName, ...] = ("rack", "stabilise", "degas", "fine")
    for number, step in enumerate(chores):
        story.step(step, 200 + number)
    return story


def test_a_temperature_out_of_range_is_looked_at_again_until_it_is_back() -> None:
    story = fermenting()
    story.temp(21, 24)
    assert dues(story, "temperature") == []
    story.temp(27, 48)
    (due,) = dues(story, "temperature")
    assert due.at == hours(60)
    story.tell(Gravity(sg=1.030, temp_c=21.0, of="plum"), 57)  # the sample's, not the wine's
    assert [due.at for due in dues(story, "temperature")] == [hours(60)]
    story.temp(26, 58)
    assert [due.at for due in dues(story, "temperature")] == [hours(70)]
    story.temp(22, 69)
    assert dues(story, "temperature") == []


def test_a_temperature_before_the_yeast_or_after_the_ferment_asks_for_nothing() -> None:
    story = Story()
    story.begin()
    story.temp(30, 1)
    story.step("pitch", 2)
    assert dues(story, "temperature") == []
    stopped = fermented_out()
    stopped.temp(12, 250)
    assert dues(stopped, "temperature") == []


def test_bottles_and_corks_are_got_in_the_week_before_bottling_by_the_kit() -> None:
    assert [due.at for due in dues(fermenting(days=30), "collect")] == [hours(23 * 24)]
    assert [due.at for due in dues(fermenting(days=14), "collect")] == [hours(7 * 24)]
    # The week before begins before the wine does: then once the ferment is under way.
    assert [due.at for due in dues(fermenting(days=7), "collect")] == [hours(2 + 72)]


def test_bottles_and_corks_are_got_once() -> None:
    story = fermenting()
    story.tell(Done(of="plum", what="collect"), 180)
    assert dues(story, "collect") == []
    bottled = fermenting()
    bottled.step("bottle", 300, bottles=29)
    assert dues(bottled, "collect") == []


def test_somebody_looks_whether_it_is_clear_a_day_before_bottling() -> None:
    story = cleared()
    ready = next(due.at for due in dues(story, "chore") if due.chore == "bottle")
    (look,) = dues(story, "clearing")
    assert look.at == ready - timedelta(hours=24)
    story.tell(PutOff(of="plum", what="clear", until=ready + timedelta(days=2)), 280)
    (look,) = dues(story, "clearing")
    assert look.at == ready + timedelta(days=2)
    story.tell(Look(of="plum", what="clear", found="clear"), 290)
    assert dues(story, "clearing") == []


def test_tastes_after_bottling_as_long_as_there_are_bottles() -> None:
    story = fermented_out()
    assert dues(story, "taste") == []
    story.step("bottle", 300, bottles=3)
    assert [(due.at - hours(300)).days for due in dues(story, "taste")] == [28, 91, 182]
    story.tell(Done(of="plum", what="taste 28"), 1000)
    assert [due.step for due in dues(story, "taste")] == ["taste 91", "taste 182"]
    assert [(due.until - hours(300)).days for due in dues(story, "taste") if due.until] == [182, 364]
    story.tell(Bottles(of="plum", change=-3, reason="drank"), 1001)
    assert dues(story, "taste") == []


def test_an_emptied_vessel_is_washed() -> None:
    story = fermented_out()
    assert to_wash(story) == []
    racked = story.step("rack", 200, to="bucket 1")
    (due,) = to_wash(story)
    assert (due.of, due.at, due.batch) == ("bucket 2", hours(203), 0)
    washed = story.tell(Vessel(of="bucket 2", state="clean"), 201, batch=None)
    assert to_wash(story) == []
    story.undo(washed, 202)
    assert [due.of for due in to_wash(story)] == ["bucket 2"]
    story.undo(racked, 203)
    assert to_wash(story) == []


def test_a_vessel_filled_or_sanitised_since_is_not_washed() -> None:
    story = fermented_out()
    story.step("rack", 200, to="bucket 1")
    story.step("rack", 201, to="bucket 2")
    assert [due.of for due in to_wash(story)] == ["bucket 1"]
    story.tell(Step(step="sanitise", of="bucket 1"), 202, batch=None)
    assert to_wash(story) == []


def test_washing_is_put_off_and_taken_on_like_anything_else() -> None:
    story = fermented_out()
    story.step("rack", 200, to="bucket 1")
    (due,) = to_wash(story)
    until = due.at + timedelta(hours=5)
    story.tell(PutOff(what=due.step, until=until), 203, batch=None)
    story.tell(TakeOn(what=due.step), 204, batch=None, by="bo")
    (due,) = to_wash(story)
    assert (due.at, due.whose) == (until, "bo")
    (again,) = to_wash(story, "claimer")
    assert again.at == until + timedelta(hours=24)
    assert [due.level for due in to_wash(story, "all")] == ["all"]


def test_a_chore_s_own_minutes_ring_exactly() -> None:
    story = fermented_out()
    story.step("rack", 200)
    story.tell(
        Timer(of="plum", step="degas", until=hours(201) + timedelta(minutes=10)),
        201,
    )
    (timer,) = dues(story, "timer")
    assert (timer.at, timer.exact, timer.minutes) == (hours(201) + timedelta(minutes=10), True, 10)
    story.step("degas", 202)
    assert dues(story, "timer") == []


def test_a_number_ends_what_asked_for_it_though_nobody_says_done() -> None:
    story = fermenting()
    story.temp(30, 48)
    story.tell(Temperature(temp_c=21.0, of="plum"), 61)
    assert dues(story, "temperature") == []


def test_two_vessels_emptied_at_once_are_two_things_to_wash() -> None:
    story = Story()
    story.begin(vessel="bucket 2")
    pear = story.tell(Begin(of="pear", name="pear", litres=10.0, days=14, vessel="bucket 1"), 1)
    story.tell(Blend(of="plum", other="pear", to="bucket 3", batch=pear), 2)
    found = to_wash(story)
    assert {due.of for due in found} == {"bucket 1", "bucket 2"}
    assert len({due.step for due in found}) == 2
