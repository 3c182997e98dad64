"""What is asked of batches for one thing: when to read next, which is ahead, whether a chore was done, what to buy,
which vessel is free. Answered from the log, in words that say so."""

from datetime import datetime
from typing import get_args
from zoneinfo import ZoneInfo

import pytest

from bot.cellar.answers import Surroundings, answer
from bot.cellar.home.vessels import Known
from bot.cellar.log.acts import Act, Begin, Done, Gravity, Question, Step, StepName
from bot.cellar.log.fold import fold
from bot.cellar.log.subjects import (
    Compare,
    Lore,
    Matter,
    NextReading,
    Shopping,
    Subject,
    Vessels,
    WasDone,
)
from bot.cellar.log.topics import CRAFT, OWN, subject_of
from bot.say.answers import answer as in_words
from bot.say.manner import Manner, plain
from tests.cellar.batches import START, Story, fermented_out, hours

AROUND = Surroundings(known=(Known(name="bucket 1"), Known(name="bucket 2", litres=25.0)), today=START.date())


def said(story: Story, subject: Subject, at: float, of: str | None = None) -> str:
    now: datetime = hours(at)
    found = answer(Question(subject=subject, of=of), fold(story.entries), now, AROUND)
    return plain(in_words(found, Manner(zone=ZoneInfo("Europe/London"), now=now)))


def fermenting() -> Story:
    story = Story()
    story.begin()
    story.step("sanitise", 0)
    story.step("mix", 0)
    story.sg(1.080, 1)
    story.step("pitch", 2)
    return story


def with_pear(story: Story, *acts: tuple[Act, float]) -> Story:
    """A second batch beside the first."""
    pear = story.tell(
        Begin(of="pear", name="pear", litres=10.0, days=7, colour="white", vessel="bucket 1"), 3
    )
    for act, at in acts:
        story.tell(act, at, batch=pear)
    return story


# ---------------------------------------------------------------------- topics


def test_every_topic_has_a_subject_of_its_own() -> None:
    assert not CRAFT & OWN.keys()
    assert all(subject_of(topic) == Lore(topic=topic) for topic in CRAFT)
    assert {topic: subject_of(topic) for topic in OWN} == dict(OWN)
    assert all(subject.about == topic for topic, subject in OWN.items() if isinstance(subject, Matter))
    assert subject_of("the weather") is None
    assert subject_of("") is None


# ---------------------------------------------------------------------- the next reading


def test_before_the_yeast_the_next_reading_is_now() -> None:
    story = Story()
    story.begin()
    assert "now, before the yeast" in said(story, NextReading(), 1)
    story.sg(1.080, 1)
    assert "two days after" in said(story, NextReading(), 2)


def test_the_next_reading_and_why_then() -> None:
    story = fermenting()
    assert said(story, NextReading(), 10).startswith("plum: tomorrow. By then the gravity should have moved")
    story.sg(1.040, 60)
    told = said(story, NextReading(), 61)
    assert "1.040" in told
    assert "sooner tells little" in told
    story.sg(0.996, 120)
    told = said(story, NextReading(), 121)
    assert "0.996" in told
    assert "proof that it has stopped" in told
    assert "plum: now." in said(story, NextReading(), 200)
    assert "By now the gravity should have moved" in said(fermenting(), NextReading(), 60)


def test_no_reading_is_due_once_it_stands_or_is_in_bottles() -> None:
    story = fermented_out()
    assert "no reading is due" in said(story, NextReading(), 160)
    story.step("bottle", 300, bottles=29)
    assert "it was bottled" in said(story, NextReading(), 310, of="plum")


# ---------------------------------------------------------------------- side by side


def test_side_by_side_the_nearer_to_its_bottles_is_ahead_and_the_stronger_is_told() -> None:
    story = with_pear(fermenting(), (Gravity(sg=1.100, of="pear"), 4), (Step(step="pitch", of="pear"), 5))
    story.sg(1.040, 60)
    told = said(story, Compare(), 70)
    assert told.index("pear") < told.index("plum")
    assert "Ahead: pear, by about 7 days" in told
    assert "Stronger in the end: pear, by about 2." in told
    assert "1.040" in told
    assert said(story, Compare(other="pear"), 70, of="plum") == told
    assert "no batch called sloe" in said(story, Compare(other="sloe"), 70, of="plum")


def test_side_by_side_says_what_it_lacks() -> None:
    assert "There is no other" in said(fermenting(), Compare(), 70)
    told = said(with_pear(fermenting()), Compare(), 70)
    assert "once each has a starting gravity" in told
    same = with_pear(fermenting(), (Gravity(sg=1.080, of="pear"), 4))
    assert "About as strong" in said(same, Compare(), 70)


# ---------------------------------------------------------------------- was it done


def test_a_chore_that_was_done_is_told_with_when_and_who() -> None:
    story = fermented_out()
    story.step("rack", 151)
    assert said(story, WasDone(step="rack"), 160).startswith("Yes, plum: racked today 01:00 (ana)")
    story.step("degas", 153)
    story.step("degas", 157)
    assert "2 times by now" in said(story, WasDone(step="degas"), 160)


def test_a_chore_that_was_not_done_is_not_in_the_log() -> None:
    told = said(fermenting(), WasDone(step="rack"), 20)
    assert "not in the log" in told
    assert "racked plum" in told
    assert "Yes" not in told


def test_what_the_plan_has_for_a_chore_counts_as_it() -> None:
    story = fermented_out()
    story.add("sorbate", 152)
    story.add("sulphite", 152)
    assert said(story, WasDone(step="stabilise"), 160).startswith("Yes, plum: stabilised")


def test_yeast_that_only_the_gravity_shows_is_told_as_that() -> None:
    story = Story()
    story.begin()
    story.sg(1.080, 1)
    story.sg(1.040, 60)
    assert "the gravity shows it" in said(story, WasDone(step="pitch"), 70)


def test_a_vessel_sanitised_before_the_batch_began_was_sanitised_for_it() -> None:
    story = Story()
    story.tell(Step(step="sanitise", of="bucket 2"), -2, batch=None)
    story.tell(Step(step="sanitise", of="bucket 1"), -1, batch=None, by="bo")
    story.tell(Begin(of="plum", name="plum", litres=23.0, days=14, colour="red", vessel="bucket 2"))
    assert said(story, WasDone(step="sanitise"), 1).startswith("Yes, plum: sanitised today 16:00 (ana)")
    assert "bucket 1: free, sanitised today" in said(story, WasDone(step="sanitise"), 1, of="bucket 1")
    assert "sanitised" in said(story, WasDone(), 1)


def test_all_that_was_done_where_no_chore_is_named() -> None:
    told = said(fermenting(), WasDone(), 20)
    assert "sanitised" in told
    assert "mixed" in told
    assert "racked" not in told
    empty = Story()
    empty.begin()
    assert "no chore is in the log yet" in said(empty, WasDone(), 1)


@pytest.mark.parametrize("step", get_args(StepName))
def test_every_chore_can_be_asked_about(step: StepName) -> None:
    assert "not in the log" in said(with_pear(begun()), WasDone(step=step), 5)


def begun() -> Story:
    story = Story()
    story.begin()
    return story


# ---------------------------------------------------------------------- what to buy


def test_what_to_buy_for_the_chores_to_come() -> None:
    told = said(fermenting(), Shopping(), 20)
    assert "30 bottles, 30 corks, labels" in told
    assert "stabiliser, finings" in told
    assert "yeast" not in told
    assert "bucket 1" in told
    assert "read the gravity" not in told


def test_where_no_vessel_is_free_one_more_is_wanted() -> None:
    assert "a second vessel, none is free" in said(with_pear(fermenting()), Shopping(), 20, of="plum")


def test_what_is_got_or_past_is_not_bought() -> None:
    story = fermented_out()
    story.tell(Done(of="plum", what="collect"), 155)
    assert "nothing to buy: bottles and corks are there" in said(story, Shopping(), 160)
    story.step("bottle", 300, bottles=29)
    assert said(story, Shopping(), 310).startswith("Nothing to buy")
    assert said(Story(), Shopping(), 1).startswith("Nothing to buy")


# ---------------------------------------------------------------------- free vessels


def test_only_free_vessels_are_told_where_those_were_asked_for() -> None:
    told = said(fermenting(), Vessels(free=True), 20)
    assert "bucket 1: free" in told
    assert "bucket 2" not in told
    assert said(with_pear(fermenting()), Vessels(free=True), 20).startswith("None is free")
