"""Densities of water, sugar solutions and ethanol-water, in kg/m3 (vacuum).

Everywhere: `temp_c` in degrees Celsius, `w` the mass fraction of sucrose, `p` the mass fraction of ethanol,
`abv` in % vol at 20 °C. All functions raise BadInput outside their range.
"""

from bot.science.codes import Argument, Measure
from bot.science.limits import Range
from bot.science.root import find_root

WATER_TEMP = Range(0.0, 100.0, Measure.CELSIUS)
SUCROSE_TEMP = Range(0.0, 100.0, Measure.CELSIUS)
ETHANOL_TEMP = Range(-20.0, 40.0, Measure.CELSIUS)
# Below zero the polynomial is only carried on, smoothly, for liquids lighter than water.
SUCROSE_FRACTION = Range(-0.12, 0.80)
ETHANOL_FRACTION = Range(0.0, 1.0)

_ANY_STRENGTH = Range(0.0, 100.0, Measure.ABV)

_S = (
    (385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.2890),
    (-46.2720, -7.1720, 1.1597, 5.1126, 17.5254),
    (59.7712, 7.2491, 12.3630, -35.4791),
    (-47.2207, -21.6977, 27.6301),
    (18.3184, 12.3081),
)
_A = (
    998.20123,
    -192.9769495,
    389.1238958,
    -1668.103923,
    13522.15441,
    -88292.78388,
    306287.4042,
    -613838.1234,
    747017.2998,
    -547846.1354,
    223446.0334,
    -39032.85426,
)
_B = (-2.0618513e-1, -5.2682542e-3, 3.6130013e-5, -3.8957702e-7, 7.1693540e-9, -9.9739231e-11)
_C = (
    (
        1.693443461530087e-1,
        -1.046914743455169e1,
        7.196353469546523e1,
        -7.047478054272792e2,
        3.924090430035045e3,
        -1.210164659068747e4,
        2.248646550400788e4,
        -2.605562982188164e4,
        1.852373922069467e4,
        -7.420201433430137e3,
        1.285617841998974e3,
    ),
    (
        -1.193013005057010e-2,
        2.517399633803461e-1,
        -2.170575700536993,
        1.353034988843029e1,
        -5.029988758547014e1,
        1.096355666577570e2,
        -1.422753946421155e2,
        1.080435942856230e2,
        -4.414153236817392e1,
        7.442971530188783,
    ),
    (
        -6.802995733503803e-4,
        1.876837790289664e-2,
        -2.002561813734156e-1,
        1.022992966719220,
        -2.895696483903638,
        4.810060584300675,
        -4.672147440794683,
        2.458043105903461,
        -5.411227621436812e-1,
    ),
    (4.075376675622027e-6, -8.763058573471110e-6, 6.515031360099368e-6, -1.515784836987210e-6),
    (-2.788074354782409e-8, 1.345612883493354e-8),
)


def _polynomial(coefficients: tuple[float, ...], x: float) -> float:
    total = 0.0
    for coefficient in reversed(coefficients):
        total = total * x + coefficient
    return total


def water_density(temp_c: float) -> float:
    """Water at 0-100 °C and 101.325 kPa, within 0.02 kg/m3 of IAPWS-95.

    Source: Kell, J. Chem. Eng. Data 20 (1975) 97, coefficients for the scale ITS-90.
    """
    t = WATER_TEMP.check(temp_c, Argument.WATER_TEMPERATURE)
    above = (999.83952, 16.952577, -7.9905127e-3, -46.241757e-6, 105.84601e-9, -281.03006e-12)
    return _polynomial(above, t) / (1.0 + 16.887236e-3 * t)


def sucrose_density(w: float, temp_c: float) -> float:
    """A sucrose solution of mass fraction `w` (0-0.80) at 0-100 °C.

    Printed tables bear it out to 0.08 kg/m3 between 0 and 35 % and 15 and 20 °C; kit concentrate (0.60-0.70)
    lies inside the polynomial, which is carried on beyond 80 °C only for hot water with little sugar in it.
    Source: polynomial of ICUMSA method SPS-4 on top of Kell's water.
    """
    SUCROSE_FRACTION.check(w, Argument.SUGAR_MASS_FRACTION)
    SUCROSE_TEMP.check(temp_c, Argument.SOLUTION_TEMPERATURE)
    if temp_c == 20.0:
        return WATER_20 + w * _polynomial(_S[0], w)
    x = (temp_c - 20.0) / 100.0
    return water_density(temp_c) + w * _polynomial(tuple(_polynomial(row, w) for row in _S), x)


def sucrose_fraction(density_kg_m3: float) -> float:
    """The mass fraction of sucrose in a solution of this density at 20 °C: `sucrose_density` turned round.

    Lighter than water gives a negative, extrapolated fraction (down to -0.12).
    """
    _SUCROSE_DENSITY.check(density_kg_m3, Argument.SOLUTION_DENSITY)
    rise = density_kg_m3 - WATER_20
    slope = tuple((k + 1) * s for k, s in enumerate(_S[0]))
    w = rise / (385.0 + 0.35 * rise)
    for _ in range(20):
        step = (w * _polynomial(_S[0], w) - rise) / _polynomial(slope, w)
        w -= step
        if abs(step) < 1e-14:
            break
    return w


def ethanol_density(p: float, temp_c: float) -> float:
    """Ethanol-water of ethanol mass fraction `p` (0-1) at -20 to 40 °C.

    Source: OIML R 22 (1973), the formula of Council Directive 76/766/EEC, annex.
    """
    ETHANOL_FRACTION.check(p, Argument.ALCOHOL_MASS_FRACTION)
    ETHANOL_TEMP.check(temp_c, Argument.LIQUID_TEMPERATURE)
    density = _polynomial(_A, p)
    if temp_c == 20.0:
        return density
    t = temp_c - 20.0
    by_temp = (0.0, *(b + p * _polynomial(c, p) for b, c in zip(_B[:5], _C, strict=True)), _B[5])
    return density + _polynomial(by_temp, t)


def strength_of(p: float) -> float:
    """% vol at 20 °C of ethanol-water of ethanol mass fraction `p`. Source: OIML R 22, definition."""
    return 100.0 * p * ethanol_density(p, 20.0) / ETHANOL_20


def ethanol_fraction(abv: float) -> float:
    """The ethanol mass fraction of ethanol-water of `abv` % vol: `strength_of` turned round."""
    _ANY_STRENGTH.check(abv, Argument.STRENGTH)
    return find_root(lambda p: strength_of(p) - abv, 0.0, 1.0, 1e-13)


WATER_20 = water_density(20.0)
"""Water at 20 °C, kg/m3: what specific gravity 20/20 is measured against."""

ETHANOL_20 = _polynomial(_A, 1.0)
"""Pure ethanol at 20 °C, kg/m3."""

_SUCROSE_DENSITY = Range(
    sucrose_density(SUCROSE_FRACTION.lo, 20.0), sucrose_density(SUCROSE_FRACTION.hi, 20.0), Measure.KG_M3
)
