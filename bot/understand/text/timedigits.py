"""Clocks and dates in digits: "20:15", "7.30", "28/2/2026"."""

from datetime import date


def number(text: str) -> float | None:
    """The value of a number token: point or comma for decimals."""
    if ":" in text:
        return None
    return float(text.replace(",", "."))


def clock_digits(text: str) -> tuple[int, int, bool] | None:
    """(hour, minute, whether it can only be a clock)."""
    sure = ":" in text
    if sure or "." in text:
        hours, minutes = text.split(":" if sure else ".")
        if not hours or len(hours) > 2 or len(minutes) != 2:
            return None
        hour, minute = int(hours), int(minutes)
    elif text.isdecimal() and len(text) <= 2:
        hour, minute = int(text), 0
    elif text.isdecimal() and len(text) == 4:
        hour, minute = int(text[:2]), int(text[2:])
    else:
        return None
    return (hour, minute, sure) if hour < 24 and minute < 60 else None


def no_gravity(text: str) -> bool:
    return not 0.97 < float(text) < 1.13


def written_date(text: str) -> tuple[int | None, int, int] | None:
    pieces = [int(piece) for piece in text.replace("/", "-").replace(".", "-").split("-")]
    year, month, day = pieces if pieces[0] > 31 else pieces[::-1]
    year += 2000 if year < 100 else 0
    try:
        date(year, month, day)
    except ValueError:
        return None
    return year, month, day
