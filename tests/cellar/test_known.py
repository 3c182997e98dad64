"""What is told twice within minutes is one fact."""

from datetime import UTC, datetime, timedelta

import pytest

from bot.cellar.batch.known import told_already
from bot.cellar.log.acts import Act, Addition, Bottles, Gravity, Step, Temperature, Undo
from bot.cellar.log.fold import Entry
from bot.ids import BatchId, EntryId

NOW = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)
BATCH = BatchId(1)


def told(act: Act, minutes: float, *, entry: int = 2, strikes: int | None = None) -> Entry:
    at = NOW - timedelta(minutes=minutes)
    return Entry(
        entry=EntryId(entry),
        act=act,
        by="bea",
        said_at=at,
        at=at,
        batch=BATCH,
        strikes=EntryId(strikes) if strikes else None,
    )


@pytest.mark.parametrize(
    ("old", "new", "minutes", "known"),
    [
        (Step(step="pitch"), Step(step="pitch"), 10, True),
        (Step(step="pitch"), Step(step="pitch"), 40, False),
        (Step(step="rack", to="bucket 2"), Step(step="rack"), 10, True),
        (Step(step="rack"), Step(step="rack", to="bucket 2"), 10, False),
        (Step(step="bottle", bottles=28), Step(step="bottle", bottles=29), 10, False),
        (Step(step="sanitise"), Step(step="sanitise"), 3, True),
        (Step(step="sanitise"), Step(step="sanitise"), 12, False),
        (Gravity(sg=1.012, temp_c=20.0), Gravity(sg=1.012), 3, True),
        (Gravity(sg=1.012), Gravity(sg=1.012, temp_c=20.0), 3, False),
        (Gravity(sg=1.012), Gravity(sg=1.010), 3, False),
        (Addition(what="sulphite", amount=5, unit="tablet"), Addition(what="sulphite"), 10, True),
        (
            Addition(what="sulphite", amount=5, unit="tablet"),
            Addition(what="sulphite", amount=4, unit="tablet"),
            10,
            False,
        ),
        (Temperature(temp_c=20.0), Temperature(temp_c=20.0), 1, False),
        (Bottles(change=-1), Bottles(change=-1), 1, False),
    ],
)
def test_the_same_again(old: Act, new: Act, minutes: float, known: bool) -> None:
    found = told_already(new, BATCH, [told(old, minutes)], NOW)
    assert (found is not None) == known


def test_what_was_struck_out_is_not_known() -> None:
    entries = [told(Step(step="pitch"), 10), told(Undo(), 5, entry=3, strikes=2)]
    assert told_already(Step(step="pitch"), BATCH, entries, NOW) is None


def test_another_batch_is_another_fact() -> None:
    assert told_already(Step(step="pitch"), BatchId(9), [told(Step(step="pitch"), 10)], NOW) is None


def test_a_chore_done_again_is_a_new_one() -> None:
    entries = [told(Step(step="degas"), 10), told(Step(step="pitch"), 10, entry=3)]
    assert told_already(Step(step="degas"), BATCH, entries, NOW, again=True) is None
    assert told_already(Step(step="pitch"), BATCH, entries, NOW, again=True) is not None
