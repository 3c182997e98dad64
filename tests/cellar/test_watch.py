"""What is not well, from the readings. Limits are common practice without a source; they are named in `watch`."""

import pytest

from bot.cellar.batch.advice import Caution, cautions, sulphite_mg_l
from bot.cellar.batch.transitions import LEGAL, legal
from bot.cellar.batch.troubles import troubles
from bot.cellar.batch.verdicts import all_right, finished
from bot.cellar.home.due import due_for
from bot.cellar.log.acts import Addition, Note, Step
from bot.cellar.log.fold import Batch, Entry, fold
from bot.science.formulas.doses import SO2_SHARE
from tests.cellar.batches import Story, fermented_out, hours


def fermenting(*readings: tuple[float, float]) -> Story:
    story = Story()
    story.begin()
    story.sg(1.080, 0)
    story.step("pitch", 1)
    for at, value in readings:
        story.sg(value, at)
    return story


def kinds(story: Story, at: float) -> list[str]:
    return [trouble.kind for trouble in troubles(story.view, hours(at))]


@pytest.mark.parametrize(
    ("readings", "expected"),
    [
        ([(30, 1.079)], []),
        ([(50, 1.079)], ["not_started"]),
        ([(50, 1.060)], []),
        ([(50, 1.030), (100, 1.030)], ["stuck"]),
        ([(50, 1.030), (97, 1.030)], ["slow"]),
        ([(50, 1.030), (98, 1.027)], ["slow"]),
        ([(50, 1.030), (98, 1.020)], []),
        ([(50, 1.005), (100, 1.004)], ["stuck"]),
        ([(50, 1.000), (100, 1.000)], []),
    ],
)
def test_a_ferment_that_is_not_well(readings: list[tuple[float, float]], expected: list[str]) -> None:
    story = fermenting(*readings)
    assert kinds(story, readings[-1][0]) == expected


def test_trouble_is_said_with_the_reading_that_shows_it_first() -> None:
    story = fermenting((50, 1.030), (100, 1.030), (124, 1.030))
    said = [
        [heed.caution for heed in cautions(view, entry)]
        for view, entry in (_as_of(story, number) for number in (4, 5, 6))
    ]
    assert [Caution.STUCK in found for found in said] == [False, True, False]
    assert Caution.SLOW not in said[2]


def _as_of(story: Story, count: int) -> tuple[Batch, Entry]:
    entries = story.entries[:count]
    (view,) = fold(entries).batches
    return view, entries[-1]


def test_a_reading_that_nobody_took_is_brought_up_once_more() -> None:
    story = fermenting()
    (watch,) = [due for due in due_for(story.view) if due.kind == "watch"]
    assert watch.at == hours(1 + 72)
    story.sg(1.050, 60)
    (watch,) = [due for due in due_for(story.view) if due.kind == "watch"]
    assert watch.at > hours(60 + 72)


def test_temperature_and_its_jumps() -> None:
    story = fermenting((50, 1.050))
    story.temp(16.0, 51)
    assert kinds(story, 52) == ["too_cold"]
    story.temp(22.0, 60)
    assert kinds(story, 61) == ["swing"]
    story.temp(22.0, 70)
    assert kinds(story, 71) == []


def test_the_same_sachet_twice_is_noticed() -> None:
    story = fermented_out()
    story.add("sachet 2", 160)
    story.add("sachet 2", 300)
    (heed,) = [h for h in cautions(story.view, story.entries[-1]) if h.caution is Caution.DOUBLED]
    assert (heed.about, heed.by) == ("sachet 2", "ana")


def test_sulphite_is_added_up_against_the_limit() -> None:
    """Potassium metabisulphite is 57.6 % sulphur dioxide by its formula; limits: Reg. (EU) 2019/934."""
    story = fermented_out()
    story.tell(Addition(of="plum", what="sulphite", amount=5.0, unit="g"), 160)
    assert sulphite_mg_l(story.view) == pytest.approx(5000 * SO2_SHARE["potassium"] / 23)
    first = [h.caution for h in cautions(story.view, story.entries[-1])]
    assert Caution.SULPHITE_OVER not in first
    story.tell(Addition(of="plum", what="sulphite", amount=2.0, unit="g"), 200)
    (heed,) = cautions(story.view, story.entries[-1])
    assert (heed.caution, heed.limit) == (Caution.SULPHITE_OVER, 150.0)


def test_sorbate_with_malolactic_bacteria() -> None:
    story = fermented_out()
    story.tell(Note(of="plum", text="MLF culture in"), 155)
    story.add("sorbate", 160)
    found = [h.caution for h in cautions(story.view, story.entries[-1])]
    assert Caution.SORBATE_MALO in found


def test_an_addition_of_the_plan_that_was_passed_over() -> None:
    story = fermented_out()
    story.step("rack", 160)
    story.step("bottle", 300, bottles=29)
    (heed,) = cautions(story.view, story.entries[-1])
    assert (heed.caution, heed.about) == (Caution.FORGOTTEN, "add the stabiliser")


def test_verdicts() -> None:
    story = fermenting((50, 1.030))
    assert (finished(story.view, hours(51)).verdict, all_right(story.view, hours(51)).verdict) == (
        "not_yet",
        "yes",
    )
    stuck = fermenting((50, 1.030), (100, 1.030))
    assert (finished(stuck.view, hours(101)).verdict, all_right(stuck.view, hours(101)).verdict) == (
        "no",
        "no",
    )
    done = fermented_out()
    assert (finished(done.view, hours(151)).verdict, all_right(done.view, hours(151)).verdict) == (
        "yes",
        "yes",
    )
    assert all_right(fermenting().view, hours(20)).verdict == "not_yet"


def test_what_is_legal_depends_on_the_time_meant() -> None:
    story = fermented_out()
    story.step("bottle", 300, bottles=29)
    rack = Step(step="rack", of="plum", to="bucket 3")
    assert not legal(rack, story.view, hours(301))
    assert legal(rack, story.view, hours(299))
    assert legal(Step(step="label", of="plum"), story.view, hours(301))
    assert all(LEGAL.values())
