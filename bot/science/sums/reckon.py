"""The catalogue of sums, and doing one of them. What is said of it is `say`'s."""

from collections.abc import Mapping

import msgspec

from bot.science.codes import Remark, Wrong
from bot.science.limits import BadInput
from bot.science.sums.dose_sums import DOSE_SUMS
from bot.science.sums.form import Result, Sum
from bot.science.sums.gravity_sums import GRAVITY_SUMS
from bot.science.sums.volume_sums import VOLUME_SUMS

CATALOGUE: dict[str, Sum] = {row.name: row for row in (*GRAVITY_SUMS, *DOSE_SUMS, *VOLUME_SUMS)}
"""Every sum by its name. The command, the chat, the help and the docs follow it."""


class Reckoned(msgspec.Struct, frozen=True, kw_only=True):
    """A sum done: `given` with its defaults, exact `results`, the band where honest, and what to say."""

    name: str
    given: dict[str, float | str]
    results: dict[str, Result]
    answer: tuple[Remark, ...]
    formula: Remark
    low: float | None = None
    high: float | None = None
    cautions: tuple[Remark, ...] = ()
    notes: tuple[Remark, ...] = ()


def reckon(name: str, given: Mapping[str, float | str]) -> Reckoned:
    """Does the sum of that name. Numbers may come as text. Raises BadInput, and nothing else, for any
    input."""
    row = sum_named(name)
    if not isinstance(given, Mapping):
        raise BadInput(Wrong.NO_KEYS, sum=row.name, key=row.keys[0].name)
    checked = row.read(given)
    outcome = row.work(checked)
    return Reckoned(
        name=row.name,
        given=checked.plain(),
        results={key: _neat(value) for key, value in outcome.results.items()},
        answer=outcome.answer,
        formula=outcome.formula,
        low=None if outcome.low is None else _tidy(outcome.low),
        high=None if outcome.high is None else _tidy(outcome.high),
        cautions=outcome.cautions,
        notes=outcome.notes,
    )


def sum_named(name: object) -> Sum:
    """The sum of that name. Raises BadInput where there is none."""
    row = CATALOGUE.get(name) if isinstance(name, str) else None
    if row is None:
        raise BadInput(Wrong.NO_SUCH_SUM, value=name, sums=tuple(CATALOGUE))
    return row


def _neat(value: Result) -> Result:
    return _tidy(value) if isinstance(value, float) else value


def _tidy(value: float) -> float:
    """Seven figures: far finer than any of the sums, free of the computer's dust."""
    return float(f"{value:.7g}")
