"""What an act may not be, whoever wrote it: the last check before the log."""

from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Literal

from bot.cellar.acts import Act, Begin, Gravity, Step, Temperature
from bot.cellar.log import HouseView

SG_RANGE = (0.980, 1.200)
TEMPERATURE_RANGE = (-5.0, 110.0)
_CLOCKS_DIFFER = timedelta(minutes=5)

Objection = Literal["out_of_range", "unknown_vessel", "vessel_busy", "future"]


def objection(
    act: Act, house: HouseView, vessels: Collection[str], now: datetime
) -> tuple[Objection, str] | None:
    """Why the act cannot be written down, and the word it hangs on; None when it can."""
    if act.at is not None and act.at > now + _CLOCKS_DIFFER:
        return "future", act.at.isoformat()
    match act:
        case Gravity() if not SG_RANGE[0] <= act.sg <= SG_RANGE[1]:
            return "out_of_range", str(act.sg)
        case Temperature() if not TEMPERATURE_RANGE[0] <= act.temp_c <= TEMPERATURE_RANGE[1]:
            return "out_of_range", str(act.temp_c)
        case Gravity() if act.temp_c is not None and not _is_temperature(act.temp_c):
            return "out_of_range", str(act.temp_c)
        case Begin() if act.vessel is not None:
            return _vessel(act.vessel, None, house, vessels)
        case Step() if act.to is not None:
            return _vessel(act.to, act.of, house, vessels)
        case _:
            return None


def _is_temperature(temp_c: float) -> bool:
    return TEMPERATURE_RANGE[0] <= temp_c <= TEMPERATURE_RANGE[1]


def _vessel(
    vessel: str, of: str | None, house: HouseView, vessels: Collection[str]
) -> tuple[Objection, str] | None:
    if vessel not in vessels:
        return "unknown_vessel", vessel
    holder = house.in_vessel(vessel)
    if holder is not None and holder is not house.named(of):
        return "vessel_busy", vessel
    return None
