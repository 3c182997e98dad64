"""Hot and cold water onto a kit's concentrate: to the right volume at the right temperature."""

import msgspec

from bot.science.codes import Argument, Measure, Wrong
from bot.science.formulas.density import WATER_20, sucrose_density, sucrose_fraction, water_density
from bot.science.limits import LITRES, BadInput, Range
from bot.science.root import find_root

HAVE_LITRES = Range(0.0, 2000.0, Measure.LITRES)
WATER_TEMP = Range(0.0, 100.0, Measure.CELSIUS)
TARGET_TEMP = Range(1.0, 60.0, Measure.CELSIUS)
HAVE_SG = Range(1.0, 1.4, Measure.SG)

_WATER_HEAT = 4184.0
_CLOSE_K = 0.005
_NOTHING_KG = 1e-6


class Mix(msgspec.Struct, frozen=True):
    """Litres of hot and of cold water, each measured at its own temperature, and what they give."""

    hot_l: float
    cold_l: float
    reached_c: float
    feasible: bool
    sg: float


def heat_capacity(w: float, temp_c: float) -> float:
    """J/(kg K) of a sugar solution of mass fraction `w`, sugar taken as pure: 4184 - 2511 w + 7.5 w t.

    Source: sugar-industry formula (Bubník et al.), with purity 1.
    """
    return _WATER_HEAT - 2511.0 * w + 7.5 * w * temp_c


def mix_water(
    have_l: float,
    have_c: float,
    to_l: float,
    target_c: float,
    hot_c: float,
    cold_c: float,
    have_sg: float = 1.0,
) -> Mix:
    """The hot and cold water that bring `have_l` litres at `have_c` to `to_l` litres at `target_c`.

    Masses and heats are balanced, not volumes; `have_sg` (1.0-1.4) is the gravity of what is there. No heat
    of dilution, no bucket, nothing lost to the room: expect the thermometer within 1 °C. When the target
    cannot be met the nearest mix comes back, with `feasible` false. Raises BadInput outside the ranges.
    """
    HAVE_LITRES.check(have_l, Argument.WHAT_IS_THERE)
    LITRES.check(to_l, Argument.VOLUME_WANTED)
    WATER_TEMP.check(have_c, Argument.WHAT_IS_THERE)
    TARGET_TEMP.check(target_c, Argument.TEMPERATURE_WANTED)
    WATER_TEMP.check(hot_c, Argument.HOT_WATER)
    WATER_TEMP.check(cold_c, Argument.COLD_WATER)
    w = sucrose_fraction(HAVE_SG.check(have_sg, Argument.GRAVITY_OF_WHAT_IS_THERE) * WATER_20)
    if to_l < have_l:
        raise BadInput(Wrong.LESS_THAN_THERE, key="to_l", value=to_l, have_l=have_l)
    if cold_c > hot_c:
        raise BadInput(Wrong.HOT_BELOW_COLD, key="hot_c", value=hot_c, cold_c=cold_c)
    mass = have_l / 1000.0 * sucrose_density(w, have_c)

    def water_for(temp_c: float) -> float:
        """kg of water that fill the volume up at this temperature."""
        water = 0.0
        for _ in range(30):
            total = to_l / 1000.0 * sucrose_density(mass * w / (mass + water) if mass else 0.0, temp_c)
            water, before = max(0.0, total - mass), water
            if abs(water - before) < 1e-10:
                break
        return water

    def surplus(temp_c: float, water: float, added_c: float) -> float:
        """J that all parts have left over at this temperature, when the water comes at `added_c`."""
        return mass * (_heat(w, have_c) - _heat(w, temp_c)) + water * _WATER_HEAT * (added_c - temp_c)

    def reached_with(added_c: float) -> float:
        """The temperature of the whole when all the water comes at `added_c`."""
        lower, upper = min(have_c, added_c), max(have_c, added_c)
        return find_root(lambda t: surplus(t, water_for(t), added_c), lower, upper, 1e-9)

    reached = min(max(target_c, reached_with(cold_c)), reached_with(hot_c))
    water = water_for(reached)
    if water < _NOTHING_KG:
        return Mix(0.0, 0.0, have_c, abs(have_c - target_c) < _CLOSE_K, have_sg)
    share = 0.0
    if hot_c > cold_c:
        short = -surplus(reached, water, cold_c)
        # Rounded, so that all hot or all cold leaves no trace of the other from the arithmetic.
        share = round(min(1.0, max(0.0, short / (water * _WATER_HEAT * (hot_c - cold_c)))), 12)
    return Mix(
        hot_l=1000.0 * share * water / water_density(hot_c),
        cold_l=1000.0 * (1.0 - share) * water / water_density(cold_c),
        reached_c=reached,
        feasible=abs(reached - target_c) < _CLOSE_K,
        sg=sucrose_density(mass * w / (mass + water), 20.0) / WATER_20,
    )


def _heat(w: float, temp_c: float) -> float:
    """J/kg above 0 °C: `heat_capacity` summed."""
    return (_WATER_HEAT - 2511.0 * w) * temp_c + 3.75 * w * temp_c * temp_c
