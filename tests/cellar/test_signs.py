"""Signs that no number shows, told in notes, speak against a wine; and a rate is told only where it says something."""

import pytest

from bot.cellar.batch.proof import curve, falls_now
from bot.cellar.batch.signs import Sign
from bot.cellar.batch.verdicts import all_right
from bot.cellar.log.acts import Note
from bot.understand import signs_of
from tests.cellar.batches import Story, fermented_out, hours


@pytest.mark.parametrize(
    ("text", "signs"),
    [
        ("white film on top, smells of vinegar", ("film", "vinegar")),
        ("no film, no vinegar smell", ()),
        ("smells eggy", ("eggs",)),
        ("lid popped off overnight", ("open",)),
        ("mould on the airlock", ("mould",)),
        ("isn't mouldy but smells rotten", ("rotten",)),
        ("smells of pear drops", ()),
        ("lid was loose this morning, pressed it back down", ()),
        ("nothing wrong, smells lovely", ()),
    ],
)
def test_what_a_note_tells(text: str, signs: tuple[Sign, ...]) -> None:
    assert signs_of(text, "en") == signs


def test_a_sign_speaks_against_it_while_it_lasts() -> None:
    story = fermented_out()
    entry = story.tell(Note(of="plum", text="lid popped off"), 151)
    assert all_right(story.view, hours(152)).verdict == "yes"
    found = all_right(story.view, hours(152), {entry: ("open",)})
    assert found.verdict == "not_yet"
    assert [told.signs for told in found.told] == [("open",)]
    # A lid is put back on within days; a film does not go.
    assert all_right(story.view, hours(152 + 24 * 4), {entry: ("open",)}).told == ()
    assert all_right(story.view, hours(152 + 24 * 4), {entry: ("film",)}).told != ()


def test_a_rate_down_to_the_end_over_a_long_gap_is_no_rate_of_now() -> None:
    story = Story()
    story.begin()
    story.sg(1.090, 0)
    story.step("pitch", 1)
    story.sg(1.050, 48)
    assert falls_now(story.view) == curve(story.view).fall == pytest.approx(0.020)
    story.sg(0.996, 48 + 24 * 7)
    assert curve(story.view).fall is not None
    assert falls_now(story.view) is None
    story.sg(0.996, 48 + 24 * 9)  # settled
    assert falls_now(story.view) is None
