"""What a sum accepts: ranges with units, and the one error, in codes. Its words are `say`'s."""

import msgspec

from bot.science.codes import Because, Measure, Wrong


class Range(msgspec.Struct, frozen=True):
    """A closed interval of a quantity with its unit, and why it ends there."""

    lo: float
    hi: float
    unit: Measure = Measure.RATIO
    because: Because | None = None

    def check(self, value: float, what: str) -> float:
        """The value itself. `what` is the key of the sum, or the `Argument` of the formula, that it was given for.
        Raises BadInput outside the range and for anything that is no finite number."""
        if isinstance(value, (int, float)) and not isinstance(value, bool) and self.lo <= value <= self.hi:
            return float(value)
        raise BadInput(Wrong.OUT_OF_RANGE, key=what, value=value, range=self)


class BadInput(ValueError):
    """Input no sum can use: what is wrong, with which key (or `Argument`), the value given, the range that is
    accepted, and what else there is to tell (`figures`, by name: numbers, ranges, words)."""

    def __init__(
        self,
        wrong: Wrong,
        *,
        key: str = "",
        value: object = None,
        range: Range | None = None,
        **figures: object,
    ) -> None:
        super().__init__(wrong.value, key, value)
        self.wrong = wrong
        self.key = key
        self.value = value
        self.range = range
        self.figures = figures


class Lacking(BadInput):
    """What a sum still needs: `keys` are those that would do."""

    def __init__(self, wrong: Wrong, keys: tuple[str, ...], **figures: object) -> None:
        super().__init__(wrong)
        self.figures = figures
        self.keys = keys


LITRES = Range(0.1, 2000.0, Measure.LITRES)
STRENGTH = Range(0.0, 25.0, Measure.ABV)
