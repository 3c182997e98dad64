"""The curve of a ferment: it sets out at the fall so far, never rises, and ends where such wines end."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.science import practice
from bot.science.formulas.curve import Curve

BEGAN = datetime(2026, 3, 1, 18, tzinfo=UTC)
DAY = timedelta(days=1)


def _curve(*readings: tuple[float, float]) -> Curve:
    return Curve([(BEGAN + days * DAY, sg) for days, sg in readings])


def test_nothing_read_tells_nothing() -> None:
    assert _curve().gravity(BEGAN) is None
    assert _curve().fall is None
    assert _curve().days_to(1.0) is None


def test_the_fall_is_between_the_last_two_that_lie_apart() -> None:
    assert _curve((0, 1.080), (1, 1.060), (1.1, 1.059)).fall == pytest.approx(0.020)
    assert _curve((0, 1.080), (0.1, 1.079)).fall is None


def test_the_way_to_the_end_is_slower_than_a_straight_line() -> None:
    curve = _curve((0, 1.080), (2, 1.040))
    assert curve.straight_days_to(1.000) == pytest.approx(2.0)
    assert curve.days_to(1.000) == pytest.approx(2.0 * practice.SLOWING.value)
    assert curve.days_to(1.020) == pytest.approx(1.0)
    assert curve.days_to(1.050) == 0.0


@pytest.mark.parametrize("fall", [-0.01, 0.0, 0.0004])
def test_what_hardly_moves_has_no_end_in_sight(fall: float) -> None:
    assert _curve((0, 1.020), (1, 1.020 - fall)).days_to(1.000) is None


def test_it_sets_out_at_the_fall_so_far() -> None:
    curve = _curve((0, 1.080), (1, 1.065))
    later = curve.gravity(BEGAN + 1.1 * DAY)
    assert later is not None
    assert (1.065 - later) / 0.1 == pytest.approx(0.015, rel=0.05)


@given(
    st.floats(0.99, 1.12),
    st.floats(-0.01, 0.05),
    st.floats(0.1, 5),
    st.lists(st.floats(0, 60), min_size=2, max_size=2).map(sorted),
)
def test_it_never_rises_and_stays_above_the_end(
    start: float, fall: float, days: float, ahead: list[float]
) -> None:
    curve = _curve((0, start), (days, start - fall))
    sooner, later = (curve.gravity(BEGAN + (days + more) * DAY) for more in ahead)
    assert sooner is not None
    assert later is not None
    assert start - fall + 1e-12 >= sooner >= later - 1e-12
    assert later >= min(start - fall, practice.DRY_SG.value) - 1e-12


def test_before_the_first_reading_it_is_the_first_reading() -> None:
    assert _curve((2, 1.050)).gravity(BEGAN) == 1.050
