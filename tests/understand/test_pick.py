"""Text answers to a question that the bot asked."""

import pytest

from bot.cellar.log.acts import Act, Gravity, Step, Temperature
from bot.understand.judge.answers import pick
from tests.understand.labelled import house

HARBOUR = house("harbour")
WHICH: tuple[tuple[Act, ...], ...] = (
    (Gravity(of="plum", sg=1.012),),
    (Gravity(of="harbour white", sg=1.012),),
)
SLIPPED: tuple[tuple[Act, ...], ...] = ((Gravity(of="plum", sg=1.112),), (Gravity(of="plum", sg=1.012),))
DEGREES: tuple[tuple[Act, ...], ...] = (
    (Temperature(of="plum", temp_c=68.0),),
    (Temperature(of="plum", temp_c=20.0),),
)
VESSELS: tuple[tuple[Act, ...], ...] = (
    (Step(of="plum", step="rack", to="demijohn 1"),),
    (Step(of="plum", step="rack", to="demijohn 2"),),
)


@pytest.mark.parametrize(
    ("text", "options", "chosen"),
    [
        ("the red one", WHICH, 0),
        ("the white", WHICH, 1),
        ("bucket 1", WHICH, 1),
        ("b2", WHICH, 0),
        ("Plum!", WHICH, 0),
        ("not the plum, the white", WHICH, 1),
        ("the second", WHICH, 1),
        ("2", WHICH, 1),
        ("1st one", WHICH, 0),
        ("last one", WHICH, 1),
        ("1.012", SLIPPED, 1),
        ("1.112", SLIPPED, 0),
        ("yes", SLIPPED, 0),
        ("yes really", SLIPPED, 0),
        ("yes", WHICH[:1], 0),
        ("20c", DEGREES, 1),
        ("68", DEGREES, 0),
        ("demijohn 2", VESSELS, 1),
        ("dj1", VESSELS, 0),
        ("yes", WHICH, None),
        ("no", SLIPPED, None),
        ("neither", WHICH, None),
        ("dinner at 7?", WHICH, None),
        ("rosé", WHICH, None),
        ("3", WHICH, None),
        ("", WHICH, None),
        ("plum or white", WHICH, None),
        ("yes", (), None),
        ("the other", WHICH, 1),
        ("no, the other one", WHICH, 1),
        ("option 2", WHICH, 1),
        ("the former", WHICH, 0),
        ("harbour", WHICH, 1),
        ("the one in bucket 1", WHICH, 1),
        ("no the plum one", WHICH, 0),
        ("no it's in bucket 2", WHICH[:1], None),
        ("no, plum", WHICH[:1], None),
        ("the other", WHICH[:1], None),
    ],
)
def test_pick(text: str, options: tuple[tuple[Act, ...], ...], chosen: int | None) -> None:
    assert pick(text, options, HARBOUR) == chosen
