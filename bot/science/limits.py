"""What a sum accepts: ranges with units, and the one error that says what to write instead."""

from typing import NamedTuple


class BadInput(ValueError):
    """Input no sum can use. The text is one line: what is needed, with unit and accepted range."""


class Range(NamedTuple):
    """A closed interval of a quantity with its unit ("" for a ratio) and why it ends where it does."""

    lo: float
    hi: float
    unit: str = ""
    because: str = ""

    def check(self, value: float, what: str) -> float:
        """The value itself. Raises BadInput outside the range and for anything that is no finite number."""
        if not isinstance(value, (int, float)) or isinstance(value, bool) or not self.lo <= value <= self.hi:
            shown = format(value, ".6g") if isinstance(value, float) else str(value)[:40]
            because = f": {self.because}" if self.because else ""
            raise BadInput(f"{what} needs {self}, not {shown}{because}")
        return float(value)

    def __str__(self) -> str:
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.lo:g} to {self.hi:g}{unit}"
