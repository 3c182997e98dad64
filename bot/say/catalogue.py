"""The catalogue of sums in words: answers, workings, help, and what is wrong with an input.

Science answers in codes and numbers; their lines are data, in `sums.toml`.
"""

import re
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from string import Formatter
from types import MappingProxyType
from typing import Any

import msgspec

from bot.science import practice
from bot.science.codes import Argument, Because, Measure, Point, Remark, ShortRule, Wrong
from bot.science.limits import BadInput, Lacking, Range
from bot.science.sums.form import Key
from bot.science.sums.reckon import CATALOGUE, Reckoned, sum_named

MOST_LINES = 8
"""An answer of the command, or a working, is no longer."""

_SHARES = {
    "a quarter": 1 / 4,
    "a third": 1 / 3,
    "a half": 1 / 2,
    "two thirds": 2 / 3,
    "three quarters": 3 / 4,
}
_DECIMALS = {Measure.SG: ".3f", Measure.KG_M3: ".1f"}


class SumWords(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What a sum is for, how it is done and by which source, and what its keys are."""

    purpose: str
    method: str
    source: str
    keys: dict[str, str]


class Words(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Every line of the sums: each code of `bot/science/codes.py` has one."""

    command: dict[str, str]
    measures: dict[Measure, str]
    because: dict[Because, str]
    short_rules: dict[ShortRule, str]
    wrong: dict[Wrong, str]
    lacking: dict[Wrong, str]
    points: dict[Point, str]
    arguments: dict[Argument, str]
    sums: dict[str, SumWords]


@lru_cache(maxsize=1)
def words() -> Words:
    """The lines, read once. Raises msgspec.ValidationError where one belongs to no code."""
    found = msgspec.toml.decode(Path(__file__).with_name("sums.toml").read_bytes(), type=Words)
    return msgspec.structs.replace(
        found,
        because={code: _filled(text) for code, text in found.because.items()},
        sums={name: _of_sum(of) for name, of in found.sums.items()},
    )


def _of_sum(of: SumWords) -> SumWords:
    keys = {key: _filled(text) for key, text in of.keys.items()}
    return msgspec.structs.replace(of, method=_filled(of.method), keys=keys)


class _Lines(Formatter):
    """Python's format, with what `sums.toml` tells of at its top."""

    def format_field(self, value: Any, format_spec: str) -> Any:
        if isinstance(value, Range):
            return range_text(value)
        match format_spec:
            case "sg":
                return gravity_text(value)
            case "scale":
                return scale_grams(value)
            case "half":
                return halves(value)
            case "input":
                return shown(value)
            case "list":
                return ", ".join(value)
            case "or":
                return " or ".join(value)
            case "rules":
                return ", ".join(f"{figure:.1f} ({words().short_rules[rule]})" for rule, figure in value)
            case "share":
                return min(_SHARES, key=lambda share: abs(_SHARES[share] - value))
            case "percent":
                return f"{100.0 * value:.0f}"
        return super().format_field(value, format_spec)


_LINES = _Lines()


def _filled(text: str, figures: Mapping[str, object] = MappingProxyType({})) -> str:
    """A line with its figures: a remark's own, and those of the trade."""
    return _LINES.vformat(text, (), {"practice": practice, **figures})


def line(remark: Remark) -> str:
    """A remark as people read it."""
    return _filled(words().points[remark.point], remark.figures)


def answer(reckoned: Reckoned) -> str:
    """The figures said aloud, in one or two lines, with a true minus sign before a figure."""
    return re.sub(r"(?<![\w.])-(?=\d)", "−", "\n".join(map(line, reckoned.answer)))


def in_words(reckoned: Reckoned) -> str:
    """The answer for people: at most eight lines, with cautions before notes."""
    said = [*answer(reckoned).splitlines(), *map(line, reckoned.cautions), *_grounds(reckoned)]
    return "\n".join([*said, *map(line, reckoned.notes)][:MOST_LINES])


def why(reckoned: Reckoned) -> str:
    """Where the answer comes from: formula, inputs and source, then the notes; at most eight lines."""
    grounds = _grounds(reckoned, command("formula", text=line(reckoned.formula)))
    return "\n".join([*grounds, *map(line, reckoned.notes)][:MOST_LINES])


def to_plain(reckoned: Reckoned) -> dict[str, Any]:
    """The one JSON object: the results, then method, source, the band where there is one, cautions, notes."""
    band = {"low": reckoned.low, "high": reckoned.high}
    of = words().sums[reckoned.name]
    return {
        **{key: _plain(value) for key, value in reckoned.results.items()},
        "method": of.method,
        "source": of.source,
        **{key: value for key, value in band.items() if value is not None},
        "cautions": [line(caution) for caution in reckoned.cautions],
        "notes": [line(note) for note in reckoned.notes],
    }


def _plain(value: object) -> object:
    return line(Remark(value, {})) if isinstance(value, Point) else value


def _grounds(reckoned: Reckoned, *formula: str) -> list[str]:
    of, keys = words().sums[reckoned.name], CATALOGUE[reckoned.name].keys
    inputs = ", ".join(
        f"{key.name} {written(key, reckoned.given[key.name])}" for key in keys if key.name in reckoned.given
    )
    return [
        command("how", text=of.method),
        *formula,
        command("inputs", text=inputs),
        command("from", text=of.source),
    ]


def listing(name: str | None = None) -> str:
    """The catalogue for people, or one sum of it with its keys. Raises BadInput for an unknown name."""
    sums = words().sums
    if name is None:
        width = max(map(len, CATALOGUE))
        rows = [f"  {row:<{width}}  {sums[row].purpose}" for row in CATALOGUE]
        return "\n".join([command("usage"), *rows, command("more")])
    row = sum_named(name)
    of = sums[row.name]
    return "\n".join(
        [
            f"{row.name}: {of.purpose}",
            *(f"  {_described(row.name, key)}" for key in row.keys),
            command("method", text=of.method),
            command("source", text=of.source),
        ]
    )


def _described(name: str, key: Key) -> str:
    needed = command("needed") if key.required else command("optional")
    if not key.required and key.default is not None:
        needed = command("default", text=written(key, key.default))
    return f"{_wanted(name, key)}; {needed}"


def _wanted(name: str, key: Key) -> str:
    return f"{key.name}: {words().sums[name].keys[key.name]}, {accepts(key)}"


def accepts(key: Key) -> str:
    """What may be written, with the unit."""
    return range_text(key.range) if key.range else " or ".join(key.words)


def written(key: Key, value: float | str) -> str:
    """A key's value as people write it."""
    if isinstance(value, str):
        return value
    return gravity_text(value) if key.range and key.range.unit is Measure.SG else f"{value:.7g}"


def refusal(error: BadInput) -> str:
    """One line, for whoever writes keys: what is needed, with unit and accepted range."""
    figures: dict[str, object] = {**error.figures, "value": error.value, "range": error.range, "because": ""}
    figures["key"] = words().arguments[error.key] if isinstance(error.key, Argument) else error.key
    if error.range is not None and error.range.because is not None:
        figures["because"] = f": {words().because[error.range.because]}"
    if error.wrong is Wrong.STILL_NEEDS and isinstance(error, Lacking):
        row = sum_named(error.figures["sum"])
        figures["wanted"] = "; ".join(_wanted(row.name, key) for key in row.keys if key.name in error.keys)
    return _filled(words().wrong[error.wrong], figures)


def lacking(error: Lacking) -> list[str]:
    """What a sum still needs, for somebody who knows no keys: each that it needs, or the ways there are."""
    if error.wrong is not Wrong.STILL_NEEDS:
        return [words().lacking[error.wrong]]
    row = sum_named(error.figures["sum"])
    return [_asked(row.name, key) for key in row.keys if key.name in error.keys]


def _asked(name: str, key: Key) -> str:
    what, unit = words().sums[name].keys[key.name], words().measures[key.range.unit] if key.range else ""
    return f"{what} ({unit})" if unit else what


def command(name: str, **figures: object) -> str:
    """A line of the command itself."""
    return _filled(words().command[name], figures)


def range_text(span: Range) -> str:
    """From where to where, with the unit."""
    decimals, unit = _DECIMALS.get(span.unit, "g"), words().measures[span.unit]
    return f"{span.lo:{decimals}} to {span.hi:{decimals}}{f' {unit}' if unit else ''}"


def shown(value: object) -> str:
    """Somebody's input, short and on one line, for an answer that quotes it."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        return "that"
    if isinstance(value, str):
        text = "".join(c for c in " ".join(value.split()) if c.isprintable())
        return f"“{text if len(text) <= 30 else text[:29] + '…'}”"
    if isinstance(value, int) and abs(value) >= 10**15:
        return "so large a number"
    return f"{value:.7g}"


def gravity_text(sg: float) -> str:
    """A gravity with three decimals, or four where they tell more."""
    text = f"{sg:.4f}"
    return text.removesuffix("0")


def scale_grams(grams: float) -> str:
    """Grams as a kitchen scale shows them: to 0.1 g, whole grams from 100 g, kilograms from 1,000 g."""
    if grams >= 1000.0:
        return f"{grams / 1000.0:.2f} kg"
    if grams >= 100.0:
        return f"{grams:.0f} g"
    return f"{grams:.1f} g" if grams >= 1.0 or grams == 0.0 else f"{grams:.2f} g"


def halves(count: float) -> str:
    """A count of whole and half pieces: “2½”."""
    twice = round(2.0 * count)
    return (f"{twice // 2}" if twice >= 2 else "") + ("½" if twice % 2 else "")
