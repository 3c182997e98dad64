"""The words of the sums: a line for each code and no other, and no sentence left in science."""

import ast
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

import bot.science
from bot.say.catalogue import line, words
from bot.science import practice
from bot.science.codes import Argument, Because, Measure, Point, ShortRule, Wrong, remark
from bot.science.sums.reckon import CATALOGUE


@pytest.mark.parametrize(
    ("codes", "table"),
    [
        (Measure, "measures"),
        (Because, "because"),
        (ShortRule, "short_rules"),
        (Wrong, "wrong"),
        (Point, "points"),
        (Argument, "arguments"),
    ],
)
def test_every_code_has_its_line(codes: type[Measure], table: str) -> None:
    assert set(getattr(words(), table)) == set(codes)


def test_every_sum_and_key_has_its_words_and_no_other_has() -> None:
    told = {name: set(of.keys) for name, of in words().sums.items()}
    assert told == {name: {key.name for key in row.keys} for name, row in CATALOGUE.items()}


FOLDER = Path(bot.science.__file__).parent
SCIENCE = [file for file in sorted(FOLDER.rglob("*.py")) if file.name != "practice.py"]


@pytest.mark.parametrize("file", SCIENCE, ids=lambda file: file.stem)
def test_science_says_nothing(file: Path) -> None:
    """Numbers and codes alone: text with a space in it is for who reads the code, in docstrings, errors of the program
    itself, and the table of figures, whose sources are read by nobody else."""
    assert list(_sentences(ast.parse(file.read_text(encoding="utf-8")))) == []


def _sentences(tree: ast.AST) -> Iterator[str]:
    """Texts with a space in them that are no docstring and no error of the program's own."""
    silent: set[ast.AST] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            silent.add(node.value)
        elif isinstance(node, ast.Raise) and _is_the_programs_own(node.exc):
            silent.update(ast.walk(node))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and node not in silent and " " in str(node.value):
            yield str(node.value)


def _is_the_programs_own(error: ast.expr | None) -> bool:
    return isinstance(error, ast.Call) and getattr(error.func, "id", "") in ("ValueError", "TypeError")


def test_a_figure_of_the_trade_is_said_as_it_stands_in_its_table(monkeypatch: pytest.MonkeyPatch) -> None:
    def stands(name: str, value: object) -> None:
        monkeypatch.setattr(practice, name, msgspec.structs.replace(getattr(practice, name), value=value))

    stands("FERMENT_C", (17.0, 23.5))
    stands("BOUND_OF_FIRST", (0.24, 0.66))
    assert "about 17 to 23.5 °C" in line(remark(Point.MIXED_YEAST))
    assert "a quarter to two thirds binds" in line(remark(Point.SULPHITE_BINDS, low=1.0, high=2.0))
