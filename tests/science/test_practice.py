"""The table of figures: each has its unit and its source, is used, and is given in one place."""

import ast
import doctest
import re
from collections.abc import Iterator
from datetime import timedelta
from itertools import pairwise
from pathlib import Path

import pytest

import bot
from bot.cellar.plans.kits import built_in
from bot.science import practice

BOT = Path(bot.__file__).parent
FILES = [path for path in sorted(BOT.rglob("*.py")) if path.name != "practice.py"]


@pytest.mark.parametrize("name", practice.TABLE)
def test_a_figure_has_its_unit_its_source_and_what_it_means(name: str) -> None:
    row = practice.TABLE[name]
    assert row.unit
    assert row.about.endswith(".")
    assert row.source
    spans = {"hours": timedelta(hours=1), "days": timedelta(days=1), "weeks": timedelta(weeks=1)}
    for value in row.value if isinstance(row.value, tuple) else (row.value,):
        if isinstance(value, timedelta) and row.unit in spans:
            assert value % spans[row.unit] == timedelta(0)


def test_every_figure_is_used() -> None:
    named = set(re.findall(r"\bpractice\.([A-Z][A-Z0-9_]*)\.value", "".join(map(_text, FILES))))
    assert named == set(practice.TABLE)


def test_the_example_runs() -> None:
    tried = doctest.testmod(practice)
    assert tried.attempted >= 3
    assert tried.failed == 0


def test_no_figure_of_the_trade_stands_elsewhere() -> None:
    """A constant that says of itself that it is common practice, or from memory, belongs into the table. Times of the
    day in which people mean a word are no wine's."""
    found = [f"{path.relative_to(BOT)}: {name}" for path in FILES for name in _customary(path)]
    assert found == ["understand/text/times.py: _PART_HOURS"]


def _customary(path: Path) -> Iterator[str]:
    body = ast.parse(_text(path)).body
    for node, told in pairwise(body):
        constant = isinstance(node, (ast.Assign, ast.AnnAssign)) and isinstance(told, ast.Expr)
        if constant and re.search(r"common\s+practice|from\s+memory", ast.unparse(told)):
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            yield ast.unparse(target)


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def test_what_a_plan_does_not_say_is_the_tables() -> None:
    for plan in built_in():
        assert plan.pitch_c == practice.PITCH_C.value
        assert plan.ferment_c == practice.FERMENT_C.value or plan.days < 14
