"""The catalogue of sums, and the ways to ask it: from the command, from the chat, from the docs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bot.science.dose_sums import DOSE_SUMS
from bot.science.gravity_sums import GRAVITY_SUMS
from bot.science.limits import BadInput, shown
from bot.science.sums import Key, Result, Sum
from bot.science.volume_sums import VOLUME_SUMS

__all__ = ["CATALOGUE", "BadInput", "Reckoned", "in_words", "listing", "reckon", "run", "to_plain", "why"]

CATALOGUE: dict[str, Sum] = {row.name: row for row in (*GRAVITY_SUMS, *DOSE_SUMS, *VOLUME_SUMS)}
"""Every sum by its name. The command, the chat, the help and the docs follow it."""

_MOST_LINES = 8
_HELP = ("--help", "-h")


@dataclass(frozen=True, kw_only=True)
class Reckoned:
    """A sum done: `given` with its defaults, exact `results`, the band where honest, and what to say."""

    name: str
    given: dict[str, float | str]
    results: dict[str, Result]
    method: str
    source: str
    answer: str
    formula: str
    low: float | None = None
    high: float | None = None
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def reckon(name: str, given: Mapping[str, float | str]) -> Reckoned:
    """Does the sum of that name. Numbers may come as text. Raises BadInput, and nothing else, for any
    input."""
    row = _row(name)
    if not isinstance(given, Mapping):
        raise BadInput(f"{row.name} needs keys with values, such as {_example(row)}")
    checked = row.read(given)
    outcome = row.work(checked)
    return Reckoned(
        name=row.name,
        given=checked.plain(),
        results={key: _neat(value) for key, value in outcome.results.items()},
        method=row.method,
        source=row.source,
        answer=outcome.answer,
        formula=outcome.formula,
        low=None if outcome.low is None else _tidy(outcome.low),
        high=None if outcome.high is None else _tidy(outcome.high),
        cautions=outcome.cautions,
        notes=outcome.notes,
    )


def to_plain(reckoned: Reckoned) -> dict[str, Any]:
    """The one JSON object: the results, then method, source, the band where there is one, cautions, notes."""
    band = {
        key: value for key, value in (("low", reckoned.low), ("high", reckoned.high)) if value is not None
    }
    return {
        **reckoned.results,
        "method": reckoned.method,
        "source": reckoned.source,
        **band,
        "cautions": list(reckoned.cautions),
        "notes": list(reckoned.notes),
    }


def in_words(reckoned: Reckoned) -> str:
    """The answer for people: at most eight lines, with cautions before notes."""
    lines = [*reckoned.answer.splitlines(), *reckoned.cautions, *_grounds(reckoned, formula=False)]
    return "\n".join([*lines, *reckoned.notes][:_MOST_LINES])


def why(reckoned: Reckoned) -> str:
    """Where the answer comes from: formula, inputs and source, then the notes; at most eight lines."""
    return "\n".join([*_grounds(reckoned, formula=True), *reckoned.notes][:_MOST_LINES])


def listing(name: str | None = None) -> str:
    """The catalogue for people, or one sum of it with its keys. Raises BadInput for an unknown name."""
    if name is None:
        width = max(map(len, CATALOGUE))
        rows = [f"  {row.name:<{width}}  {row.purpose}" for row in CATALOGUE.values()]
        return "\n".join(
            [
                "bucketside reckon NAME key=value ... [--json]",
                *rows,
                "The keys of one: bucketside reckon NAME --help",
            ]
        )
    row = _row(name)
    return "\n".join(
        [
            f"{row.name}: {row.purpose}",
            *(f"  {_described(key)}" for key in row.keys),
            f"Method: {row.method}",
            f"Source: {row.source}",
        ]
    )


def run(argv: Sequence[str]) -> tuple[int, str, str]:
    """`bucketside reckon` with these arguments: exit status, what goes out, what goes to standard error.

    Wrong input: status 2 and one line.
    """
    import json

    words = [word for word in argv if word not in ("--json", *_HELP)]
    try:
        if any(word in _HELP for word in argv):
            return 0, listing(words[0] if words else None), ""
        if not words:
            raise BadInput(f"Name a sum: {', '.join(CATALOGUE)}")
        reckoned = reckon(words[0], _pairs(words[1:]))
    except BadInput as error:
        return 2, "", str(error)
    if "--json" in argv:
        return 0, json.dumps(to_plain(reckoned), ensure_ascii=False), ""
    return 0, in_words(reckoned), ""


def _row(name: object) -> Sum:
    row = CATALOGUE.get(name) if isinstance(name, str) else None
    if row is None:
        raise BadInput(f"There is no sum called {shown(name)}; there are {', '.join(CATALOGUE)}")
    return row


def _pairs(words: Sequence[str]) -> dict[str, float | str]:
    given: dict[str, float | str] = {}
    for word in words:
        key, equals, value = word.partition("=")
        if not equals:
            raise BadInput(f"Write key=value, such as litres=23, not {shown(word)}")
        if key in given:
            raise BadInput(f"{shown(key)} is there twice: once is enough")
        given[key] = value
    return given


def _grounds(reckoned: Reckoned, *, formula: bool) -> list[str]:
    keys = CATALOGUE[reckoned.name].keys
    inputs = ", ".join(
        f"{key.name} {key.written(reckoned.given[key.name])}" for key in keys if key.name in reckoned.given
    )
    return [
        f"How: {reckoned.method}.",
        *([f"Formula: {reckoned.formula}."] if formula else []),
        f"From: {inputs}.",
        f"Source: {reckoned.source}.",
    ]


def _described(key: Key) -> str:
    needed = (
        "needed"
        if key.required
        else "optional"
        if key.default is None
        else f"else {key.written(key.default)}"
    )
    return f"{key.name}: {key.what}, {key.accepts}; {needed}"


def _example(row: Sum) -> str:
    return next(f"{key.name}=…" for key in row.keys)


def _neat(value: Result) -> Result:
    return _tidy(value) if isinstance(value, float) else value


def _tidy(value: float) -> float:
    """Seven figures: far finer than any of the sums, free of the computer's dust."""
    return float(f"{value:.7g}")
