"""Published check values: one CSV a formula, each line with its tolerance and its source."""

import csv
from pathlib import Path
from typing import NamedTuple

FOLDER = Path(__file__).parents[2] / "fixtures" / "reference"


class Check(NamedTuple):
    """One line: the inputs as written, the value, how far off is allowed, where it comes from."""

    formula: str
    given: dict[str, str]
    value: float
    tolerance: float
    source: str

    def number(self, name: str) -> float:
        return float(self.given[name])


def checks(formula: str) -> list[Check]:
    """All lines of a formula's CSV."""
    with (FOLDER / f"{formula}.csv").open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    return [
        Check(
            formula,
            row,
            float(row.pop("value")),
            float(row.pop("tolerance")),
            row.pop("source"),
        )
        for row in rows
    ]
