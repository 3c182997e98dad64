"""What a hydrometer shows, and what it would show at the temperature it was made for.

A floating hydrometer's mass is constant, its glass swells: at temperature T the scale reads
rho(T) (1 + g (T - Tc)) / rho_water(Tc), where Tc is its calibration temperature and g the glass's cubic
expansion, 25e-6 per kelvin (ISO 1768:1975, clause 3).
"""

from bot.science.codes import Argument, Because, Measure, Wrong
from bot.science.formulas.balance import Wine, fermented, must
from bot.science.formulas.balance import wine as wine_of
from bot.science.formulas.density import water_density
from bot.science.limits import STRENGTH, BadInput, Range

GLASS_PER_K = 25e-6

READING = Range(0.97, 1.2, Measure.SG)
OG = Range(1.0, 1.2, Measure.SG)
SAMPLE_TEMP = Range(0.0, 40.0, Measure.CELSIUS, Because.TABLES_END)

_SIXTY_FAHRENHEIT = 15.0 + 5.0 / 9.0
_ENOUGH = 1e-9
_MAX_STEPS = 40


def hydrometer_reading(liquid: Wine, temp_c: float, calibration_c: float = 20.0) -> float:
    """What an instrument calibrated at `calibration_c` (20 or 15.56 °C) shows in the liquid at `temp_c`."""
    at = _calibration(calibration_c)
    return liquid.density(temp_c) * (1.0 + GLASS_PER_K * (temp_c - at)) / water_density(at)


def liquid_read(
    sg_read: float,
    temp_c: float | None = None,
    calibration_c: float = 20.0,
    *,
    og: float | None = None,
    abv: float | None = None,
) -> Wine:
    """The liquid in which a hydrometer shows `sg_read` at `temp_c` (0-40 °C; None: at its calibration).

    With `og`, the SG 20/20 before fermenting, the sample holds the alcohol that the fall has made; with `abv`
    (% vol) it holds that much; with neither it is a must: sugar and no alcohol, or, when it is lighter than
    water, as much alcohol as that takes. Raises BadInput outside the ranges.
    """
    READING.check(sg_read, Argument.READING)
    at = _calibration(calibration_c)
    temp_c = at if temp_c is None else SAMPLE_TEMP.check(temp_c, Argument.SAMPLE_TEMPERATURE)
    if og is not None:
        OG.check(og, Argument.GRAVITY_BEFORE_FERMENTING)
    if abv is not None:
        STRENGTH.check(abv, Argument.STRENGTH_SO_FAR)

    def of(sg: float) -> Wine:
        if abv is not None:
            return wine_of(sg, abv)
        return must(sg) if og is None else fermented(og, sg)

    # The liquid's make-up changes little with its gravity, so what is missing on the scale is simply added.
    sg = sg_read
    for _ in range(_MAX_STEPS):
        liquid = of(sg)
        missing = sg_read - hydrometer_reading(liquid, temp_c, at)
        if abs(missing) < _ENOUGH:
            break
        sg += missing
    return liquid


def correct_gravity(
    sg_read: float,
    temp_c: float,
    calibration_c: float = 20.0,
    og: float | None = None,
    *,
    abv: float | None = None,
) -> float:
    """What the instrument would read, had the sample its calibration temperature.

    `sg_read` 0.97-1.2 as read, `temp_c` 0-40 °C, `calibration_c` 20 or 15.56 °C. The sample is must unless
    the gravity before fermenting (`og`, SG 20/20) or the strength so far (`abv`, % vol) is known. Physics,
    not a fitted rule: the glass by ISO 1768, sugar by ICUMSA, alcohol by OIML R 22. Raises BadInput outside
    the ranges.
    """
    liquid = liquid_read(sg_read, temp_c, calibration_c, og=og, abv=abv)
    at = _calibration(calibration_c)
    return liquid.density(at) / water_density(at)


def _calibration(calibration_c: float) -> float:
    """The exact calibration temperature meant. Raises BadInput for any other."""
    if abs(calibration_c - 20.0) < 0.01:
        return 20.0
    if abs(calibration_c - _SIXTY_FAHRENHEIT) < 0.1:
        return _SIXTY_FAHRENHEIT
    raise BadInput(Wrong.CALIBRATION, key="calibration_c", value=calibration_c)
