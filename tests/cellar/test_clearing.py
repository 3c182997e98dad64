"""Whether a wine has cleared: before which chores somebody looks, when, and what the answers make of it."""

from datetime import timedelta

import pytest

from bot.cellar.answers import batch_answer, ready
from bot.cellar.batch.clearing import found_clear
from bot.cellar.home.due import Due, due_for
from bot.cellar.log.acts import Begin, Gravity, KeepPlan, Look, PutOff, StepName
from bot.cellar.log.fold import fold
from bot.understand.forms.leaflets import read_leaflet
from tests.cellar.batches import Story, hours


def fined(days: int) -> Story:
    """Everything done up to the finings, at hour 203."""
    story = Story()
    story.begin(days=days)
    story.sg(1.080, 0)
    story.step("pitch", 2)
    for sg, at in ((1.010, 90), (0.994, 120), (0.994, 170)):
        story.sg(sg, at)
    chores: tuple[StepName, ...] = ("rack", "stabilise", "degas", "fine")
    for number, step in enumerate(chores):
        story.step(step, 200 + number)
    return story


def dues(story: Story, kind: str) -> list[Due]:
    view = story.view
    return [due for due in due_for(view) if due.kind == kind and due.level == "first"]


@pytest.mark.parametrize(
    ("days", "chore", "key", "chore_at", "look_at"),
    [
        # The wait is a day: on the day itself, in one letter with the bottling.
        (7, "bottle", "clear", 203 + 24, 203 + 24),
        (14, "bottle", "clear", 203 + 96, 203 + 96 - 24),
        (30, "rack", "clear last_rack", 203 + 240, 203 + 240 - 24),
    ],
)
def test_somebody_looks_before_what_wants_a_clear_wine(
    days: int, chore: str, key: str, chore_at: float, look_at: float
) -> None:
    story = fined(days)
    (look,), (due,) = dues(story, "clearing"), dues(story, "chore")
    assert (look.step, look.at) == (key, hours(look_at))
    assert (due.chore, due.at, due.if_clear) == (chore, hours(chore_at), True)
    story.tell(Look(of="plum", what=key, found="clear"), look_at + 1)
    assert dues(story, "clearing") == []
    assert [due.if_clear for due in dues(story, "chore")] == [False]


def test_once_drawn_off_clear_it_is_bottled_without_another_look() -> None:
    story = fined(30)
    story.step("rack", 450)
    assert dues(story, "clearing") == []
    assert [(due.chore, due.if_clear) for due in dues(story, "chore")] == [("bottle", False)]


def test_a_racking_that_clears_nothing_is_not_looked_at() -> None:
    story = Story()
    story.begin(days=30)
    story.sg(1.080, 0)
    story.step("pitch", 2)
    story.sg(1.008, 90)
    assert [due.chore for due in dues(story, "chore")] == ["rack"]
    assert dues(story, "clearing") == []


def test_is_it_ready_to_bottle_depends_on_what_was_found() -> None:
    story, now = fined(7), hours(230)
    answer = ready(story.view, "bottle", now)
    assert (answer.verdict, answer.clear) == ("yes", "unknown")
    story.tell(PutOff(of="plum", what="clear", until=hours(232)), 230)
    assert ready(story.view, "bottle", now).clear == "unknown"  # put off, and nobody looked
    story.tell(Look(of="plum", what="clear", found="cloudy", until=hours(302)), 231)
    answer = ready(story.view, "bottle", hours(240))
    assert (answer.verdict, answer.clear) == ("not_yet", "cloudy")
    assert batch_answer(story.view, hours(240)).stage.word == "clearing"
    story.tell(Look(of="plum", what="clear", found="clear"), 302)
    answer = ready(story.view, "bottle", hours(303))
    assert (answer.verdict, answer.clear) == ("yes", "clear")


def test_a_leaflet_says_when_clear() -> None:
    leaflet = read_leaflet("plan for elder:\nDay 1 add sachet A, stir\nDay 28 when clear bottle")
    assert leaflet is not None
    plan = leaflet.plan("elder")
    bottle = plan.step("bottle")
    assert (bottle.title, bottle.gate, bottle.clear, bottle.day) == ("bottle", "settled", True, 28)
    story = Story()
    story.tell(KeepPlan(plan=plan), batch=None)
    story.tell(Begin(of="elder", name="elder", litres=23.0, plan=plan.key), 0)
    (view,) = fold(story.entries).batches
    assert found_clear(view) is None
    for sg, at in ((1.080, 0), (1.010, 100), (0.994, 400), (0.994, 460)):
        story.tell(Gravity(sg=sg, of="elder"), at, batch=2)
    (view,) = fold(story.entries).batches
    looks = [due for due in due_for(view) if due.kind == "clearing"]
    (bottling,) = [due for due in due_for(view) if due.chore == "bottle" and due.level == "first"]
    assert bottling.if_clear
    assert bottling.at == hours(27 * 24)  # the 28th day
    assert [look.at for look in looks] == [bottling.at - timedelta(hours=24)]
