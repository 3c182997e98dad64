"""Clauses to measured values: gravity, temperature, pH, acidity, volume."""

from collections.abc import Sequence
from typing import get_args

import msgspec

from bot.cellar.log.acts import Acidity, Act, Gravity, Instrument, Ph, Temperature, Volume
from bot.science import practice
from bot.science.formulas.gravity import (
    brix_from_sg,
    sg_from_baume,
    sg_from_brix,
    sg_from_oechsle,
    sg_from_plato,
)
from bot.science.limits import BadInput
from bot.understand.claims.drafts import Draft
from bot.understand.scene import Scene
from bot.understand.text.clauses import DEGREES, SCALES, VOLUMES, Clause, reads_gravity
from bot.understand.text.message import Message
from bot.understand.text.spans import Quantity, Span
from bot.understand.verdict import Doubt

SG_RANGE = practice.SG_WRITTEN.value
TEMP_RANGE = practice.TEMPERATURE_WRITTEN.value
PH_RANGE = practice.PH_WRITTEN.value
PINT_LITRES = practice.PINT_LITRES.value

_DROP, _RISE = practice.FASTEST_FALL.value, practice.RISE_IN_READING.value
_SAMPLE_C = practice.SAMPLE_C.value
_LIKELY_C = practice.LIKELY_C.value
_SHORT = 3
"""Letters of a word that may be the first half of a yeast's name."""

_INSTRUMENTS: tuple[Instrument, ...] = get_args(Instrument)
_REFRACTS = (2.0, 35.0)
"""Bare numbers that a refractometer for must can show, in Brix."""
_FROM_SCALE = {
    "brix": sg_from_brix,
    "plato": sg_from_plato,
    "oechsle": sg_from_oechsle,
    "baume": sg_from_baume,
}


def celsius(value: float, unit: str | None, scene: Scene) -> float:
    """Degrees Celsius to one decimal; without a unit, in the house's own."""
    fahrenheit = unit == "fahrenheit" or (unit in (None, "degree") and scene.temperature_unit == "F")
    return round((value - 32.0) / 1.8 if fahrenheit else value, 1)


def litres(value: float, unit: str | None, scene: Scene) -> float:
    """Litres to two decimals; gallons and pints as the house counts them."""
    if unit == "gallon":
        value *= practice.GALLON_LITRES.value[scene.gallon]
    elif unit == "pint":
        value *= PINT_LITRES[scene.gallon]
    elif unit == "ml":
        value /= 1000
    elif unit == "cl":
        value /= 100
    return round(value, 2)


def gravity(quantity: Quantity) -> float | None:
    """The specific gravity that a number stands for, whatever its scale; None when it is out of all reason."""
    value = quantity.value
    if quantity.unit in SCALES:
        try:
            return round(_FROM_SCALE[quantity.unit](value), 4)
        except BadInput:
            return None
    if quantity.decimals == 0 and value >= 900:
        value /= 1000
    return round(value, 4)


def read_by(sg: float, quantity: Quantity, instrument: Instrument | None, scene: Scene) -> Gravity:
    """The gravity with its Brix and its instrument, where those matter."""
    if quantity.unit == "brix":
        return Gravity(sg=sg, brix=quantity.value, instrument=instrument or scene.brix_by or None)
    if instrument == "refractometer" and sg >= 1.0:
        return Gravity(sg=sg, brix=round(brix_from_sg(sg), 1), instrument=instrument)
    return Gravity(sg=sg)


def instrument_named(message: Message) -> Instrument | None:
    """What a message says that it was read with; None where it names none, or both."""
    tags = [tag for token in message.tokens for tag in message.words.tags(token.fold)]
    named = {tag.value for tag in tags if tag.kind == "instrument"}
    found = [name for name in _INSTRUMENTS if name in named]
    return found[0] if len(found) == 1 else None


def _of_the_wine(between: Sequence[Span]) -> bool:
    """ "1.012 and the must is at 31": a temperature after a gravity that is said of the wine, and not of the sample."""
    joined = next((place for place, span in enumerate(between) if span.has("join")), None)
    if joined is None or any(span.is_("part", "sample") for span in between):
        return False
    rest = between[joined + 1 :]
    return any(span.ref is not None or span.is_("part", "warm") for span in rest)


class Readings:
    """Reads the measured values of a clause."""

    def __init__(self, scene: Scene, instrument: Instrument | None = None) -> None:
        self.scene = scene
        self.instrument = instrument
        """What the message says that it was read with."""

    def read(self, clause: Clause, carried: str | None, *, anchored: bool) -> list[tuple[int, Draft]]:
        """Drafts with the place of each in the clause. `carried` is a measure named for the lines below it;
        `anchored` that the message is for the bot or names a batch nearby."""
        spans = clause.spans
        found: list[tuple[int, Draft]] = []
        anchored = anchored or bool(clause.refs)
        for index, span in enumerate(spans):
            if span.qty is None or span.used:
                continue
            measure = self._measure(spans, index) or (carried if span.qty.unit is None else None)
            draft = self._one(span.qty, measure, clause, index, anchored=anchored)
            if draft is not None:
                span.used = True
                found.append((index, draft))
        return self._with_sample(found, spans)

    def _measure(self, spans: Sequence[Span], at: int) -> str | None:
        """The measure named nearest before a number, else just after it."""
        for span in reversed(spans[:at]):
            if span.qty is not None:
                break
            if span.has("measure"):
                return span.value("measure")
        for span in spans[at + 1 : at + 5]:
            if span.qty is not None:
                break
            if span.has("measure"):
                return span.value("measure")
        return None

    def _one(
        self, quantity: Quantity, measure: str | None, clause: Clause, at: int, *, anchored: bool
    ) -> Draft | None:
        warm = measure == "temperature"
        if quantity.unit in DEGREES or (warm and quantity.unit is None and not reads_gravity(quantity)):
            return self._temperature(quantity, clause, named=warm)
        if measure == "ph" and quantity.unit is None and not reads_gravity(quantity):
            return self._ph(quantity)
        if quantity.unit == "g_per_l" and measure is None and anchored and not clause.any("substance"):
            return self._acidity(quantity)
        if (
            measure == "acidity"
            and (quantity.unit in (None, "g_per_l", "percent"))
            and not reads_gravity(quantity)
        ):
            return self._acidity(quantity)
        if quantity.unit in VOLUMES:
            told = clause.any("step") or clause.any("batchword") or (anchored and clause.any("fill"))
            at_home = len(self.scene.under_way) == 1 and told
            if measure == "volume" or anchored or at_home:
                amount = litres(quantity.value, quantity.unit, self.scene)
                if not 0 < amount <= 1000:
                    return Draft(
                        Volume(litres=amount), 1.0, "anything", doubt=Doubt.OUT_OF_RANGE, about=quantity.text
                    )
                score = 1.5 if measure == "volume" or at_home else 0.8
                return Draft(Volume(litres=amount), score, "anything")
            return None
        if measure == "volume" and quantity.unit is None and not reads_gravity(quantity) and anchored:
            return Draft(
                Volume(litres=litres(quantity.value, self._house_volume(), self.scene)), 1.2, "anything"
            )
        return self._gravity(quantity, measure, clause, at, anchored=anchored)

    def _house_volume(self) -> str:
        return "gallon" if self.scene.volume_unit.lower().startswith("gal") else "litre"

    def _gravity(
        self, quantity: Quantity, measure: str | None, clause: Clause, at: int, *, anchored: bool
    ) -> Draft | None:
        named = measure == "gravity"
        later = any(span.qty is not None and reads_gravity(span.qty) for span in clause.spans[at + 1 :])
        if later and at and clause.spans[at - 1].is_("part", "starts"):
            clause.spans[at].used = True
            return None
        if quantity.unit not in SCALES and quantity.unit is not None:
            return None
        if quantity.signed and not named:
            return None
        if not named and self._strain(quantity, clause, at):
            return None
        if self._refracts(quantity, clause):
            quantity = msgspec.structs.replace(quantity, unit="brix")
        if self._lone(quantity, clause):
            degrees = celsius(quantity.value, None, self.scene)
            return Draft(
                Temperature(temp_c=degrees), 0.5, "anything", doubt=Doubt.UNSURE, about=quantity.text
            )
        sg = gravity(quantity)
        score = 1.5 if named else 0.0
        if quantity.unit in SCALES:
            score += 1.5
            if sg is None:
                return None
        elif reads_gravity(quantity):
            lone = len(clause.spans) == 1 and self._likely(sg)
            if quantity.decimals == 0 and not (named or anchored or quantity.spoken or lone):
                return None
            score += 1.5 if quantity.decimals >= 3 else 1.0
        elif quantity.decimals in (1, 2) and sg is not None and 0.98 <= sg <= 1.13 and (named or anchored):
            score += 0.7
            after = clause.spans[at + 1] if at + 1 < len(clause.spans) else None
            if after is not None and after.kind == "word":
                return Draft(Gravity(sg=sg), score, "anything", doubt=Doubt.UNSURE, about=quantity.text)
        elif quantity.decimals == 2 and 1.13 < quantity.value < 1.3 and clause.refs and not clause.words():
            return self._odd_gravity(quantity, score + 0.5)
        elif quantity.decimals == 2 and 9.8 <= quantity.value < 12.0 and (named or anchored):
            meant = round(quantity.value / 10, 4)
            return Draft(
                Gravity(sg=meant),
                score + 0.5,
                "anything",
                doubt=Doubt.SLIPPED_DIGIT,
                about=quantity.text,
                likely=(Gravity(sg=meant),),
            )
        elif named or (anchored and quantity.decimals >= 3):
            return self._odd_gravity(quantity, score + 0.5)
        else:
            return None
        if sg is None or not SG_RANGE[0] <= sg <= SG_RANGE[1]:
            return self._odd_gravity(quantity, score)
        return Draft(read_by(sg, quantity, self.instrument, self.scene), score, "anything")

    def _refracts(self, quantity: Quantity, clause: Clause) -> bool:
        """ "Refractometer says 8": a bare number of that instrument is Brix."""
        return (
            clause.means("instrument", "refractometer")
            and quantity.unit is None
            and not quantity.signed
            and not reads_gravity(quantity)
            and quantity.decimals <= 1
            and _REFRACTS[0] <= quantity.value <= _REFRACTS[1]
        )

    def _strain(self, quantity: Quantity, clause: Clause, at: int) -> bool:
        """ "Pitched with 1118": the number of a yeast."""
        if quantity.unit is not None or quantity.decimals or not at:
            return False
        before = clause.spans[at - 1]
        yeasts = clause.means("step", "pitch") or clause.means("substance", "yeast")
        unknown = before.kind == "word" and (yeasts or (clause.any("put") and len(before.fold) <= _SHORT))
        named = yeasts and (before.is_("part", "using") or before.is_("substance", "yeast"))
        clause.spans[at].used |= unknown or named
        return unknown or named

    def _likely(self, sg: float | None) -> bool:
        """Whether a bare number is where the only batch under way was read last."""
        under_way = self.scene.under_way
        if len(under_way) != 1 or not under_way[0].readings or sg is None:
            return False
        return under_way[0].readings[-1][1] - _DROP <= sg <= under_way[0].readings[-1][1] + _RISE

    def _lone(self, quantity: Quantity, clause: Clause) -> bool:
        """ "Bucket 2: 21": a bare number beside a name, which is most likely a temperature, but asked about."""
        if quantity.unit is not None or quantity.decimals > 1 or clause.any("measure"):
            return False
        if (
            not _LIKELY_C[0] <= celsius(quantity.value, None, self.scene) <= _LIKELY_C[1]
            or len(clause.refs) != 1
        ):
            return False
        led = any(span.is_("part", "at") for span in clause.spans)
        if (clause.refs[0].kind not in ("batch", "vessel") and not led) or any(
            moment.weekday is not None for moment in clause.moments
        ):
            return False
        rest = [
            span
            for span in clause.spans
            if span.kind not in ("mark", "time") and span.ref is None and span.qty is None
        ]
        return (
            len(clause.quantities) == 1
            and (clause.refs[0].sure >= 1.5 or (clause.refs[0].sure >= 1.0 and not rest))
            and all(span.has("filler") for span in rest)
        )

    def _odd_gravity(self, quantity: Quantity, score: float) -> Draft | None:
        """A number said to be a gravity that none can be: asked about, never written down."""
        points = quantity.value
        if quantity.spoken:
            return None
        if quantity.decimals == 0 and 1 <= points <= 130:
            meant = Gravity(sg=round(1 + points / 1000, 4))
            return Draft(meant, score, "anything", doubt=Doubt.UNSURE, about=quantity.text, likely=(meant,))
        return Draft(
            Gravity(sg=round(quantity.value, 4)),
            score,
            "anything",
            doubt=Doubt.OUT_OF_RANGE,
            about=quantity.text,
        )

    def _temperature(self, quantity: Quantity, clause: Clause, *, named: bool) -> Draft:
        degrees = celsius(quantity.value, quantity.unit, self.scene)
        draft = Draft(
            Temperature(temp_c=degrees),
            1.5 if named else 0.8 if quantity.unit in ("celsius", "fahrenheit") else 0.7,
            "anything",
        )
        if clause.refs and not clause.words() and _LIKELY_C[0] <= degrees <= _LIKELY_C[1]:
            draft.score = max(draft.score, 1.1)
        if not TEMP_RANGE[0] <= degrees <= TEMP_RANGE[1]:
            draft.doubt, draft.about = Doubt.OUT_OF_RANGE, quantity.text
        if quantity.unit in (None, "degree"):
            other = "fahrenheit" if self.scene.temperature_unit == "C" else "celsius"
            draft.likely = (Temperature(temp_c=celsius(quantity.value, other, self.scene)),)
        return draft

    def _ph(self, quantity: Quantity) -> Draft:
        draft = Draft(Ph(ph=quantity.value), 1.5, "anything")
        if quantity.decimals == 0 and 20 <= quantity.value <= 50:
            meant = Ph(ph=round(quantity.value / 10, 1))
            return Draft(
                meant, 1.5, "anything", doubt=Doubt.SLIPPED_DIGIT, about=quantity.text, likely=(meant,)
            )
        if not PH_RANGE[0] <= quantity.value <= PH_RANGE[1]:
            draft.doubt, draft.about = Doubt.OUT_OF_RANGE, quantity.text
        return draft

    def _acidity(self, quantity: Quantity) -> Draft:
        per_litre = round(quantity.value * 10, 4) if quantity.unit == "percent" else quantity.value
        draft = Draft(Acidity(g_per_l=per_litre), 1.5, "anything")
        if not 0.5 <= per_litre <= 25:
            draft.doubt, draft.about = Doubt.OUT_OF_RANGE, quantity.text
        return draft

    def _with_sample(self, found: list[tuple[int, Draft]], spans: Sequence[Span]) -> list[tuple[int, Draft]]:
        """Gives the temperature that was said with a gravity to it: "1.012 at 21"."""
        gravities = [(index, draft) for index, draft in found if isinstance(draft.act, Gravity)]
        if len(gravities) != 1:
            return found
        index, reading = gravities[0]
        sample: tuple[int, Act] | None = None
        for place, draft in found:
            if isinstance(draft.act, Temperature) and draft.doubt is None:
                sample = (place, draft.act)
        if sample is None:
            bare = self._bare_sample(spans, index)
            if bare is not None:
                sample = (index, bare)
        if sample is not None and _of_the_wine(spans[index + 1 : sample[0]]):
            return found
        if sample is None or not isinstance(reading.act, Gravity) or not isinstance(sample[1], Temperature):
            return found
        reading.act = msgspec.structs.replace(reading.act, temp_c=sample[1].temp_c)
        reading.likely = tuple(
            msgspec.structs.replace(act, temp_c=sample[1].temp_c) if isinstance(act, Gravity) else act
            for act in reading.likely
        )
        reading.score += 0.5
        return [(place, draft) for place, draft in found if not isinstance(draft.act, Temperature)]

    def sample(self, clause: Clause) -> float | None:
        """The sample's temperature, when a clause after a gravity is only that: "and it's 21 in there"."""
        numbers = clause.quantities
        small = all(
            span.qty is not None or span.kind == "mark" or span.has("filler") for span in clause.spans
        )
        if (
            len(numbers) != 1
            or numbers[0].unit is not None
            or numbers[0].decimals > 1
            or not small
            or clause.refs
        ):
            return None
        degrees = celsius(numbers[0].value, None, self.scene)
        return degrees if _LIKELY_C[0] <= degrees <= _LIKELY_C[1] else None

    def _bare_sample(self, spans: Sequence[Span], at: int) -> Temperature | None:
        """ "@ 22" after a gravity, "20.5/" before it: a number without a unit that a sample's temperature can be."""
        for place in (at + 1, at + 2, at - 2):
            if not 0 <= place < len(spans):
                continue
            span = spans[place]
            if span.qty is None or span.used or span.qty.unit is not None or span.qty.decimals > 1:
                continue
            joint = spans[place - 1] if place > at else spans[at - 1]
            joined = (
                joint.is_("part", "at") or joint.kind == "mark" or joint.has("join") or joint.qty is not None
            )
            degrees = celsius(span.qty.value, None, self.scene)
            if joined and _SAMPLE_C[0] <= degrees <= _SAMPLE_C[1]:
                span.used = True
                return Temperature(temp_c=degrees)
        return None
