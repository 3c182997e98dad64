"""What a wine is made of, by its gravity: Balling's mass balance closed with Tabarié's relation.

SG = SG(alcohol in water) + SG(extract in water) - 1 (Tabarié; OIV-MA-AS2-03B). 2.0665 g of extract give 1 g
of alcohol, 0.9565 g of carbon dioxide and 0.11 g of yeast (Balling; as in Nielsen et al., Scandinavian
School of Brewing).
"""

import msgspec

from bot.science.formulas.density import (
    ETHANOL_20,
    WATER_20,
    ethanol_density,
    ethanol_fraction,
    strength_of,
    sucrose_density,
    sucrose_fraction,
)
from bot.science.formulas.gravity import sg_from_extract
from bot.science.root import find_root

EXTRACT_PER_ALCOHOL = 2.0665
CO2_PER_ALCOHOL = 0.9565
YEAST_PER_ALCOHOL = 0.11

_SPIRITLESS = ethanol_density(0.0, 20.0)
_STRONGEST = 0.35

_NO_FALL = 1e-9
"""A smaller fall (SG) than the arithmetic can tell from none."""


class Wine(msgspec.Struct, frozen=True):
    """A must or wine, as its two halves: ethanol mass fraction `p` of the one, sucrose mass fraction `w` of
    the other, each in water."""

    p: float
    w: float

    @property
    def abv(self) -> float:
        """% vol at 20 °C."""
        return strength_of(self.p)

    @property
    def extract(self) -> float:
        """Real extract in g/l at 20 °C, counted as sucrose."""
        return self.w * sucrose_density(self.w, 20.0)

    @property
    def sg(self) -> float:
        """SG 20/20."""
        return self.density(20.0) / WATER_20

    def density(self, temp_c: float) -> float:
        """kg/m3 at 0-40 °C: Tabarié's relation, held at that temperature."""
        sugar = sucrose_density(self.w, temp_c)
        if self.p == 0.0:
            return sugar
        lighter = ethanol_density(self.p, temp_c) - ethanol_density(0.0, temp_c)
        return sugar + lighter * WATER_20 / _SPIRITLESS


def must(sg: float) -> Wine:
    """A liquid of this SG 20/20 of which nothing is known: sugar above water, alcohol below it."""
    if sg >= 1.0:
        return Wine(0.0, sucrose_fraction(sg * WATER_20))
    return Wine(find_root(lambda p: Wine(p, 0.0).sg - sg, 0.0, _STRONGEST), 0.0)


def wine(sg: float, abv: float) -> Wine:
    """A wine of this SG 20/20 and strength in % vol (Tabarié)."""
    p = ethanol_fraction(abv)
    return Wine(p, _extract_fraction(sg, ethanol_density(p, 20.0)))


def fermented(og: float, fg: float) -> Wine:
    """The wine that a must of `og` has become at `fg` (both SG 20/20), by Balling and Tabarié.

    A gravity that has not fallen is judged as `must`. The extract comes out negative when no fermentation of
    such a must ends so low: the caller judges that.
    """
    if og - fg <= _NO_FALL:
        return must(fg)
    original = sucrose_fraction(og * WATER_20)

    def excess(p: float) -> float:
        spirit = ethanol_density(p, 20.0)
        alcohol = p * spirit
        w = _extract_fraction(fg, spirit)
        extract = w * sucrose_density(w, 20.0) + EXTRACT_PER_ALCOHOL * alcohol
        return extract - original * (fg * WATER_20 + (CO2_PER_ALCOHOL + YEAST_PER_ALCOHOL) * alcohol)

    p = find_root(excess, 0.0, _STRONGEST)
    return Wine(p, _extract_fraction(fg, ethanol_density(p, 20.0)))


def fermented_share(og: float, share: float) -> Wine:
    """The wine that a must of `og` (SG 20/20) becomes once `share` (0-1, over 0) of its extract has
    fermented."""
    if og <= 1.0:
        return must(og)
    original = sucrose_fraction(og * WATER_20)
    in_must = original * og * WATER_20

    def of(extract: float) -> Wine:
        """The wine that holds, or held, so much extract in each of its litres."""
        left = sucrose_fraction(sg_from_extract(extract * (1.0 - share)) * WATER_20)
        return Wine(ethanol_fraction(_strength_from(extract * share)), left)

    def excess(extract: float) -> float:
        wine = of(extract)
        alcohol = extract * share / EXTRACT_PER_ALCOHOL
        mass = wine.density(20.0) + (CO2_PER_ALCOHOL + YEAST_PER_ALCOHOL) * alcohol
        return extract - original * mass

    return of(find_root(excess, 0.9 * in_must, 1.2 * in_must))


def _strength_from(extract: float) -> float:
    """% vol from so much extract fermented in a litre of wine, g/l."""
    return 100.0 * extract / EXTRACT_PER_ALCOHOL / ETHANOL_20


def _extract_fraction(sg: float, spirit_density: float) -> float:
    """The extract's mass fraction once the alcohol, ethanol-water of this density, is driven off
    (Tabarié)."""
    return sucrose_fraction((sg + 1.0) * WATER_20 - spirit_density * WATER_20 / _SPIRITLESS)
