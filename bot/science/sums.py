"""How a sum is described: its keys, what it was given, what it answers. The catalogue is made of these."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from bot.science.limits import BadInput, Lacking, Range, shown

Result = float | int | bool | str | None


@dataclass(frozen=True, kw_only=True)
class Key:
    """One input: its name, what it is, the range it lies in or the words it may be, and its default."""

    name: str
    what: str
    range: Range | None = None
    words: tuple[str, ...] = ()
    required: bool = False
    default: float | str | None = None

    @property
    def accepts(self) -> str:
        """What may be written, with the unit."""
        return str(self.range) if self.range else " or ".join(self.words)

    @property
    def asked(self) -> str:
        """What it is, with its unit, for somebody who knows no keys."""
        unit = self.range.unit if self.range else ""
        return f"{self.what} ({unit})" if unit else self.what

    def written(self, value: float | str) -> str:
        """A value as people write it."""
        if isinstance(value, str):
            return value
        return gravity_text(value) if self.range and self.range.unit == "SG" else f"{value:.7g}"

    def read(self, value: object) -> float | str:
        """The value as a sum takes it. Raises BadInput for anything else."""
        if self.range is None:
            word = value.strip().lower() if isinstance(value, str) else ""
            word = {"rose": "rosé"}.get(word, word)
            if word not in self.words:
                raise BadInput(f"{self.name} needs {self.accepts}, not {shown(value)}")
            return word
        number = _number(value)
        if number is None:
            raise BadInput(f"{self.name} needs a number, {self.accepts}, not {shown(value)}")
        return self.range.check(number, self.name)


class Given:
    """What a sum was given, checked, with the defaults filled in."""

    def __init__(self, values: Mapping[str, float | str]) -> None:
        self._values = dict(values)

    def number(self, name: str) -> float:
        """A number that is there for certain."""
        value = self._values[name]
        if isinstance(value, str):
            raise TypeError(f"{name} is a word")
        return value

    def maybe(self, name: str) -> float | None:
        """A number, or None where it was left out."""
        return self.number(name) if name in self._values else None

    def word(self, name: str) -> str:
        """A word that is there for certain."""
        return str(self._values[name])

    def plain(self) -> dict[str, float | str]:
        """All of it."""
        return dict(self._values)


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What a sum answers: exact results, the answer said aloud (one or two lines), and what goes with it."""

    results: dict[str, Result]
    answer: str
    formula: str
    low: float | None = None
    high: float | None = None
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Sum:
    """A row of the catalogue."""

    name: str
    purpose: str
    keys: tuple[Key, ...]
    method: str
    source: str
    work: Callable[[Given], Outcome] = field(repr=False)

    def read(self, given: Mapping[str, object]) -> Given:
        """The input, checked key by key. Raises BadInput."""
        known = {key.name: key for key in self.keys}
        for name in given:
            if name not in known:
                raise BadInput(f"{self.name} knows no {shown(name)}; its keys are {', '.join(known)}")
        missing = [key for key in self.keys if key.required and key.name not in given]
        if missing:
            wanted = "; ".join(f"{key.name}: {key.what}, {key.accepts}" for key in missing)
            raise Lacking(
                f"{self.name} still needs {wanted}",
                tuple(key.asked for key in missing),
                tuple(key.name for key in missing),
            )
        values: dict[str, float | str] = {}
        for key in self.keys:
            if key.name in given:
                values[key.name] = key.read(given[key.name])
            elif key.default is not None:
                values[key.name] = key.default
        return Given(values)


def gravity_text(sg: float) -> str:
    """A gravity with three decimals, or four where they tell more."""
    text = f"{sg:.4f}"
    return text.removesuffix("0")


def _number(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        return None
    if isinstance(value, str):
        value = value.strip().replace(",", ".")
        if not value or not set(value) <= set("0123456789+-.eE"):
            return None
    try:
        return float(value)
    except (ValueError, OverflowError):
        return None
