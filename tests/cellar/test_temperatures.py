"""Temperatures beyond what yeast bears: said at once, and once for each time. Limits are common practice without a
source; they are named in `advice`."""

import pytest

from bot.cellar.batch.advice import Caution, cautions
from bot.cellar.batch.verdicts import all_right
from bot.cellar.log.fold import fold
from tests.cellar.batches import Story, hours

ABOUT_WARMTH = {
    Caution.TOO_WARM_TO_PITCH,
    Caution.PITCHED_HOT,
    Caution.PITCHED_WARM,
    Caution.TOO_HOT,
    Caution.TOO_WARM,
    Caution.TOO_COLD,
}


def said_last(story: Story) -> list[Caution]:
    """What the last entry gives cause to say of its warmth."""
    (view,) = fold(story.entries).batches
    found = cautions(view, story.entries[-1])
    return [heed.caution for heed in found if heed.caution in ABOUT_WARMTH]


def begun() -> Story:
    story = Story()
    story.begin()
    return story


def test_a_sample_is_not_the_wine() -> None:
    story = begun()
    story.sg(1.080, 0, temp_c=34)
    assert said_last(story) == []
    story.step("pitch", 1)
    assert said_last(story) == []
    story.sg(1.050, 48, temp_c=36)
    assert said_last(story) == []
    assert not [t for t in all_right(story.view, hours(49)).troubles if t.kind in ("too_warm", "swing")]


def test_too_warm_before_the_yeast() -> None:
    story = begun()
    story.temp(34, 0)
    assert said_last(story) == [Caution.TOO_WARM_TO_PITCH]
    story.temp(30, 0.5)
    assert said_last(story) == [Caution.TOO_WARM_TO_PITCH]
    story.temp(22, 1)
    assert said_last(story) == []


@pytest.mark.parametrize(
    ("temp_c", "hours_before", "expected"),
    [
        (21, 0, []),
        (23.5, 0, [Caution.PITCHED_WARM]),
        (27, 0, [Caution.PITCHED_WARM]),
        (34, 0, [Caution.PITCHED_HOT]),
    ],
)
def test_the_yeast_put_in_so_warm(temp_c: float, hours_before: float, expected: list[Caution]) -> None:
    story = begun()
    story.temp(temp_c, 0)
    story.step("pitch", hours_before)
    assert said_last(story) == expected


def test_each_time_it_goes_out_of_range_and_further() -> None:
    story = begun()
    story.sg(1.080, 0, temp_c=21)
    story.step("pitch", 0)
    # In the same minute as the yeast.
    told = [(34, 0), (35, 1), (45, 2), (44, 3), (21, 24), (34, 48), (27, 50), (22, 60), (26, 70), (15, 90)]
    found = []
    for temp_c, at in told:
        story.temp(temp_c, at)
        found.append(said_last(story))
    hot, warm, cold = [Caution.TOO_HOT], [Caution.TOO_WARM], [Caution.TOO_COLD]
    assert found == [hot, [], hot, [], [], hot, [], [], warm, cold]


def test_told_of_the_wine_it_counts_for_is_it_all_right() -> None:
    story = begun()
    story.sg(1.080, 0, temp_c=21)
    story.step("pitch", 1)
    story.temp(36, 48)
    assert said_last(story) == [Caution.TOO_HOT]
    assert [trouble.kind for trouble in all_right(story.view, hours(49)).troubles] == ["too_warm"]
