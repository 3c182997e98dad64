"""What a sum accepts: ranges with units, and the one error that says what to write instead."""

from typing import NamedTuple


class BadInput(ValueError):
    """Input no sum can use. The text is one line: what is needed, with unit and accepted range."""


class Lacking(BadInput):
    """What a sum still needs; `what` says it without the keys' names, `keys` are those that would do."""

    def __init__(self, text: str, what: tuple[str, ...], keys: tuple[str, ...] = ()) -> None:
        super().__init__(text)
        self.what = what
        self.keys = keys


class Range(NamedTuple):
    """A closed interval of a quantity with its unit ("" for a ratio), why it ends there, how it is
    written."""

    lo: float
    hi: float
    unit: str = ""
    because: str = ""
    form: str = "g"

    def check(self, value: float, what: str) -> float:
        """The value itself. Raises BadInput outside the range and for anything that is no finite number."""
        if isinstance(value, (int, float)) and not isinstance(value, bool) and self.lo <= value <= self.hi:
            return float(value)
        because = f": {self.because}" if self.because else ""
        raise BadInput(f"{what} needs {self}, not {shown(value)}{because}")

    def __str__(self) -> str:
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.lo:{self.form}} to {self.hi:{self.form}}{unit}"


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


LITRES = Range(0.1, 2000.0, "litres")
STRENGTH = Range(0.0, 25.0, "% vol")
