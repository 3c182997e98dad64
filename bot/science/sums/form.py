"""What a sum is: its keys, what it was given, what it answers, in numbers and codes. The catalogue is made of these."""

from collections.abc import Callable, Mapping

import msgspec

from bot.science.codes import Point, Remark, Wrong
from bot.science.limits import BadInput, Lacking, Range

Result = float | int | bool | Point | None


class Key(msgspec.Struct, frozen=True, kw_only=True):
    """One input: its name, the range it lies in or the words it may be, and its default."""

    name: str
    range: Range | None = None
    words: tuple[str, ...] = ()
    required: bool = False
    default: float | str | None = None

    def read(self, value: object) -> float | str:
        """The value as a sum takes it. Raises BadInput for anything else."""
        if self.range is None:
            word = value.strip().lower() if isinstance(value, str) else ""
            word = {"rose": "rosé"}.get(word, word)
            if word not in self.words:
                raise BadInput(Wrong.NO_SUCH_WORD, key=self.name, value=value, words=self.words)
            return word
        number = _number(value)
        if number is None:
            raise BadInput(Wrong.NO_NUMBER, key=self.name, value=value, range=self.range)
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


class Outcome(msgspec.Struct, frozen=True, kw_only=True):
    """What a sum answers: exact results, the answer to say aloud (one or two lines), and what goes with it."""

    results: dict[str, Result]
    answer: tuple[Remark, ...]
    formula: Remark
    low: float | None = None
    high: float | None = None
    cautions: tuple[Remark, ...] = ()
    notes: tuple[Remark, ...] = ()


class Sum(msgspec.Struct, frozen=True, kw_only=True):
    """A row of the catalogue."""

    name: str
    keys: tuple[Key, ...]
    work: Callable[[Given], Outcome]

    def read(self, given: Mapping[str, object]) -> Given:
        """The input, checked key by key. Raises BadInput."""
        known = {key.name: key for key in self.keys}
        for name in given:
            if name not in known:
                raise BadInput(Wrong.NO_SUCH_KEY, value=name, sum=self.name, keys=tuple(known))
        missing = [key for key in self.keys if key.required and key.name not in given]
        if missing:
            raise Lacking(Wrong.STILL_NEEDS, tuple(key.name for key in missing), sum=self.name)
        values: dict[str, float | str] = {}
        for key in self.keys:
            if key.name in given:
                values[key.name] = key.read(given[key.name])
            elif key.default is not None:
                values[key.name] = key.default
        return Given(values)


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
