"""How fast the cellar's sums are: `.venv/bin/python ops/bench_science.py`."""

import subprocess
import sys
import timeit
from collections.abc import Callable

from bot.science.formulas.hydrometer import correct_gravity
from bot.science.formulas.strength import alcohol_by_volume, potential_alcohol
from bot.science.sums.reckon import reckon

SUMS: dict[str, Callable[[], object]] = {
    "strength, no correction": lambda: alcohol_by_volume(1.080, 0.994),
    "strength, both corrected": lambda: alcohol_by_volume(1.080, 0.992, og_temp_c=26, fg_temp_c=24),
    "a must corrected": lambda: correct_gravity(1.079, 27),
    "a wine corrected": lambda: correct_gravity(0.992, 24, og=1.080),
    "potential strength": lambda: potential_alcohol(1.080),
    "reckon abv": lambda: reckon("abv", {"og": 1.080, "fg": 0.992, "og_temp_c": 26, "fg_temp_c": 24}),
    "reckon sulphite": lambda: reckon("sulphite", {"litres": 23, "ph": 3.4}),
    "reckon mix": lambda: reckon(
        "mix",
        {
            "have_l": 5.5,
            "have_c": 18,
            "to_l": 23,
            "target_c": 22,
            "hot_c": 90,
            "cold_c": 12,
            "have_sg": 1.32,
        },
    ),
    "reckon sugar (abv_rise)": lambda: reckon("sugar", {"litres": 23, "abv_rise": 1, "sg_from": 1.07}),
}

IMPORT = """
import time
begun = time.perf_counter()
import bot.edges.reckon
print(1000 * (time.perf_counter() - begun))
"""


def main() -> None:
    """Prints the best of five runs of each, in ms, and the median of nine imports."""
    for name, work in SUMS.items():
        best = min(timeit.repeat(work, number=200, repeat=5)) / 200
        print(f"{name:<26}{1000 * best:8.3f} ms")
    runs = sorted(
        float(
            subprocess.run([sys.executable, "-c", IMPORT], capture_output=True, text=True, check=True).stdout
        )
        for _ in range(9)
    )
    print(f"{'import bot.edges.reckon':<26}{runs[4]:8.1f} ms")


if __name__ == "__main__":
    main()
