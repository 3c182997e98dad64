"""A small safeguarded solver for one unknown."""

from collections.abc import Callable

_MAX_STEPS = 120


def find_root(f: Callable[[float], float], lo: float, hi: float, tolerance: float = 1e-12) -> float:
    """The x in [lo, hi] where the continuous `f` changes sign, to `tolerance` in x.

    Regula falsi with the Illinois weighting; whenever three steps have not halved the bracket, it is
    bisected, so the end is always reached. `f` is asked nowhere outside. Raises ValueError when f has the
    same sign at both ends.
    """
    f_lo, f_hi = f(lo), f(hi)
    if f_lo == 0.0:
        return lo
    if f_hi == 0.0:
        return hi
    if (f_lo > 0.0) == (f_hi > 0.0):
        raise ValueError("no change of sign between the ends")
    width, since_halved, kept = abs(hi - lo), 0, 0
    for _ in range(_MAX_STEPS):
        if since_halved == 3:
            x, since_halved = 0.5 * (lo + hi), 0
        else:
            # Rounding can carry it past an end by a hair, where `f` may know no answer.
            x = min(max((lo * f_hi - hi * f_lo) / (f_hi - f_lo), lo), hi)
        f_x = f(x)
        if f_x == 0.0:
            return x
        moved = abs(x - lo) if (f_x > 0.0) == (f_lo > 0.0) else abs(x - hi)
        if (f_x > 0.0) == (f_lo > 0.0):
            lo, f_lo = x, f_x
            f_hi *= 0.5 if kept == 1 else 1.0
            kept = 1
        else:
            hi, f_hi = x, f_x
            f_lo *= 0.5 if kept == -1 else 1.0
            kept = -1
        if abs(hi - lo) <= tolerance or moved <= 0.01 * tolerance:
            return x
        if abs(hi - lo) <= 0.5 * width:
            width, since_halved = abs(hi - lo), 0
        else:
            since_halved += 1
    return 0.5 * (lo + hi)
