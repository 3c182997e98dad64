"""The solver against scipy's."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import bisect

from bot.science.root import find_root

CASES: list[tuple[Callable[[float], float], float, float]] = [
    (lambda x: x**3 - 2 * x - 5, 2.0, 3.0),
    (lambda x: math.cos(x) - x, 0.0, 1.0),
    (lambda x: math.exp(-50 * x) - 0.5, 0.0, 1.0),
    (lambda x: (x - 0.3) ** 9, 0.0, 1.0),
    (lambda x: math.copysign(1.0, x - 0.123456), 0.0, 1.0),
]


@pytest.mark.parametrize(("f", "lo", "hi"), CASES)
def test_finds_what_scipy_finds(f: Callable[[float], float], lo: float, hi: float) -> None:
    found, scipy_found = find_root(f, lo, hi), bisect(f, lo, hi, xtol=1e-13)
    assert found == pytest.approx(scipy_found, abs=1e-9) or abs(f(found)) <= abs(f(scipy_found)) + 1e-15


@given(st.floats(-5, 5), st.floats(0.1, 8), st.floats(-3, 3))
def test_inverts_a_monotone_function(root: float, steep: float, bend: float) -> None:
    def f(x: float) -> float:
        return steep * (x - root) + math.exp(bend) * (x - root) ** 3

    assert find_root(f, -6.0, 6.0) == pytest.approx(root, abs=1e-9)


@pytest.mark.parametrize(("lo", "hi"), [(1.0, 2.0), (0.0, 1.0)])
def test_an_end_may_be_the_root(lo: float, hi: float) -> None:
    assert find_root(lambda x: x - 1.0, lo, hi) == 1.0


@pytest.mark.parametrize("end", ["lo", "hi"])
@given(st.floats(0, 50), st.floats(1e-3, 100), st.floats(1e-3, 1e3), st.floats(1e-18, 1e-12))
def test_asks_nowhere_outside(end: str, lo: float, width: float, steep: float, off: float) -> None:
    """However near an end the root is, so that rounding would carry the next step past it."""
    hi = lo + width

    def f(x: float) -> float:
        assert lo <= x <= hi
        return steep * (x - hi) + off if end == "hi" else steep * (x - lo) - off

    assert lo <= find_root(f, lo, hi) <= hi


def test_refuses_a_bracket_without_a_root() -> None:
    with pytest.raises(ValueError, match="no change of sign"):
        find_root(lambda x: x * x + 1.0, -1.0, 1.0)
