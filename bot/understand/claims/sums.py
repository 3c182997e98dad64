"""Questions that are sums: "abv from 1.080 to 0.994", "convert 20 brix", "hot water for 23 l at 21"."""

from collections.abc import Callable, Sequence

from bot.cellar.log.acts import Question
from bot.cellar.log.subjects import Input, Reckon
from bot.science import practice
from bot.science.codes import Measure
from bot.science.sums.form import Key
from bot.science.sums.reckon import CATALOGUE
from bot.understand.claims.drafts import Draft
from bot.understand.claims.readings import celsius, gravity, litres
from bot.understand.scene import Scene
from bot.understand.text.clauses import DEGREES, SCALES, VOLUMES, Clause, colours, reads_gravity
from bot.understand.text.lexicon import Lexicon, lexicon
from bot.understand.text.moods import asks
from bot.understand.text.names import Ref, names_of
from bot.understand.text.scan import scan, tidy
from bot.understand.text.spans import Quantity, Reader, Span

Figures = dict[str, float | str]

_MOST_SPANS = 24
_TWO = 2
_MILLILITRES = {"ml": 1.0, "cl": 10.0, "litre": 1000.0}
_SCORE = 3.0
_FROM_WHERE_IT_IS = frozenset({"acid", "sugar"})
"""Sums that begin with what the wine has now."""
_BOTTLE_CL, _HALF_BOTTLE_CL = 100.0 * practice.BOTTLE_LITRES.value, 100.0 * practice.HALF_BOTTLE_LITRES.value


def sum_asked(spans: Sequence[Span], scene: Scene) -> Draft | None:
    """The sum that a message asks for, with what was given for it in the catalogue's units."""
    clause = Clause(
        [span for span in spans if span.kind != "line"], asked=any(span.fold == "?" for span in spans)
    )
    priced = clause.means("sum", "drinks") or clause.means("question", "cost")
    if clause.means("sum", "mix") and any(quantity.unit in VOLUMES for quantity in clause.quantities):
        priced = True  # a kettle is no chatter there
    if (clause.any("chatter") and not priced) or (not clause.quantities and not clause.refs):
        return None
    asked = _SumNumbers(clause, scene)
    for name, read in (
        ("correct", asked.correct),
        ("refract", asked.refract),
        ("convert", asked.convert),
        ("dilute", asked.dilute),
        ("mix", asked.mix),
        ("sweeten", asked.sweeten),
        ("sugar", asked.sugar),
        ("blend", asked.blend),
        ("abv", asked.abv),
        ("sulphite", asked.sulphite),
        ("sorbate", asked.sorbate),
        ("acid", asked.acid),
        ("bottles", asked.bottles),
        ("drinks", asked.drinks),
        ("gas", asked.gas),
        ("cost", asked.cost),
    ):
        given = read()
        if given is not None:
            given |= by_words(name, given, clause, scene)
            inputs = tuple(Input(key=key, value=value) for key, value in given.items())
            spare = unused(given, clause, scene)
            refs = [ref for ref in clause.refs if "litres" not in given or ref.kind != "colour"]
            if asked.own is not None and not refs and ("litres" not in given or name in _FROM_WHERE_IT_IS):
                refs = [asked.own]
            return Draft(
                Question(subject=Reckon(sum=name, inputs=inputs, unused=spare)),
                _SCORE,
                "nothing",
                refs=refs,
                clause=clause,
            )
    return None


def _is_volume(quantity: Quantity) -> bool:
    return quantity.unit in VOLUMES


class _SumNumbers:
    """The numbers of a message by kind, and which sums they could be for."""

    def __init__(self, clause: Clause, scene: Scene) -> None:
        self.clause = clause
        self.scene = scene
        question = clause.asked or asks(clause)
        self.much = clause.means("topic", "much") or (question and clause.means("topic", "need"))
        past = clause.means("mood", "past")
        self.need = (
            self.much
            or (clause.asked and bool(self._all(_is_volume)) and not past)
            or clause.means("topic", "need")
        )
        self.gravities = self._all(lambda q: reads_gravity(q) and q.unit not in SCALES)
        self.scales = self._all(lambda q: q.unit in SCALES)
        self.degrees = self._all(lambda q: q.unit in DEGREES)
        self.volumes = [litres(q.value, q.unit, scene) for q in self._all(lambda q: q.unit in VOLUMES)]
        self.percents = [q.value for q in self._all(lambda q: q.unit == "percent")]
        self.per_litre = [q.value for q in self._all(lambda q: q.unit == "g_per_l")]
        self.put = clause.means("put", "done")
        one = [batch.name for batch in scene.under_way]
        self.own = Ref("batch", one[0]) if len(one) == 1 else None
        """The only wine under way."""

    def _all(self, fits: Callable[[Quantity], bool]) -> list[Quantity]:
        return [quantity for quantity in self.clause.quantities if fits(quantity)]

    def _means(self, name: str) -> bool:
        return self.clause.means("sum", name)

    def _substance(self, name: str) -> bool:
        return self.clause.means("substance", name)

    def _after(self, measure: str) -> float | None:
        """The plain number nearest after the name of a measure."""
        spans = self.clause.spans
        for index, span in enumerate(spans):
            if not span.is_("measure", measure):
                continue
            for other in spans[index + 1 :]:
                if other.qty is not None and other.qty.unit in (None, "percent", "g_per_l"):
                    return other.qty.value
                if other.qty is not None:
                    break
        return None

    def _degrees(self) -> float | None:
        """The temperature given, with a unit or bare after "at"."""
        if self.degrees:
            return celsius(self.degrees[0].value, self.degrees[0].unit, self.scene)
        for before, span in zip(self.clause.spans, self.clause.spans[1:], strict=False):
            plain = span.qty is not None and span.qty.unit is None and not reads_gravity(span.qty)
            if plain and span.qty is not None and before.is_("part", "at") and 5 <= span.qty.value <= 110:
                return celsius(span.qty.value, None, self.scene)
        return None

    def _sgs(self) -> list[float]:
        return [value for value in (gravity(quantity) for quantity in self.gravities) if value is not None]

    def _ph(self) -> float | None:
        value = self._after("ph")
        return value if value is not None and 2.0 <= value <= 5.0 else None

    def _whole(self, given: Figures) -> Figures | None:
        """The sum's keys, when there is a batch or a volume to reckon with."""
        return given if "litres" in given or self.clause.refs or self.own is not None else None

    def _volume(self) -> Figures:
        return {"litres": self.volumes[0]} if self.volumes else {}

    # ------------------------------------------------------------------ the sums

    def correct(self) -> Figures | None:
        sgs, degrees = self._sgs(), self._degrees()
        wants = self._means("correct") or (asks(self.clause) and not self.clause.refs)
        if len(sgs) != 1 or degrees is None or not wants or self.clause.refs:
            return None
        if not self._means("correct") and (self._told_before() or self.clause.any("step", "done")):
            return None  # "0.994, 19 degrees. can I bottle?" tells a reading, and asks something else
        return {"sg": sgs[0], "temp_c": degrees}

    def _told_before(self) -> bool:
        """Whether the gravity stands in a sentence before the one that asks."""
        spans = self.clause.spans
        at = next((at for at, span in enumerate(spans) if span.qty and reads_gravity(span.qty)), len(spans))
        ends = [n for n, span in enumerate(spans) if span.kind == "mark" and span.fold in (".", "!", ";")]
        return any(at < end < len(spans) - 2 for end in ends)

    def refract(self) -> Figures | None:
        brix = [q for q in self.scales if q.unit == "brix"]
        wants = asks(self.clause) or self.clause.asked
        if self.clause.refs or not brix or not wants or len(self.clause.quantities) < 2:
            return None
        given: Figures = {"brix": brix[0].value}
        return (
            given if "brix_from" in by_words("refract", given, self.clause, self.scene, spend=False) else None
        )

    def dilute(self) -> Figures | None:
        if not self._means("dilute") or self.put or self.degrees or not (self.need or self._orders("dilute")):
            return None
        given = self._volume()
        sgs = self._sgs()
        if len(self.percents) >= 2:
            given |= {"abv": max(self.percents[:2]), "abv_to": min(self.percents[:2])}
        elif len(sgs) == 2:
            given |= {"sg": max(sgs), "sg_to": min(sgs)}
        elif self.percents:
            given["abv_to"] = self.percents[0]
        elif sgs:
            given["sg_to"] = sgs[0]
        elif not self._orders("dilute"):
            return None
        return self._whole(given)

    def convert(self) -> Figures | None:
        wants = self._means("convert") or (asks(self.clause) and not self.clause.refs)
        if not wants or self.clause.refs:
            return None
        if len(self.scales) == 1 and self.scales[0].unit is not None:
            return {self.scales[0].unit: self.scales[0].value}
        sgs = self._sgs()
        if len(sgs) == 1 and self._means("convert") and not self.need:
            return {"sg": sgs[0]}
        return None

    def abv(self) -> Figures | None:
        wants = self._means("abv") or self.clause.means("question", "abv")
        sgs = self._sgs()
        if not wants:
            return None
        if len(sgs) == 2:
            return {"og": max(sgs), "fg": min(sgs)}
        if len(self.scales) == 1 and len(sgs) == 1:
            og = gravity(self.scales[0])
            return {"og": og, "fg": sgs[0]} if og is not None else None
        return None

    def mix(self) -> Figures | None:
        degrees = self._degrees()
        if not self._means("mix") or not self.volumes:
            return None
        given: Figures = {"to_l": max(self.volumes)}
        if degrees is not None:
            given["target_c"] = degrees
        for quantity in self.clause.quantities:
            spent = litres(quantity.value, quantity.unit, self.scene) if quantity.unit in VOLUMES else None
            if spent == given["to_l"]:
                self._spend(quantity)
        if self.degrees:
            self._spend(self.degrees[0])
        return given

    def _spend(self, quantity: Quantity) -> None:
        """What a number went into is told already."""
        for span in self.clause.spans:
            span.used |= span.qty is quantity

    def sulphite(self) -> Figures | None:
        if not self._substance("sulphite") or not self.need or self.put:
            return None
        given = self._volume()
        ph, degrees = self._ph(), self._degrees()
        if ph is not None:
            given["ph"] = ph
        if self.percents:
            given["abv"] = self.percents[0]
        if degrees is not None and self.degrees:
            given["temp_c"] = degrees
        targets = [q for q in self.clause.quantities if q.unit == "mg_per_l"]
        if len(targets) == 1 and not has_roles(self.clause, self.scene.language):
            given["free_target_mg_l"] = targets[0].value
            self._spend(targets[0])
        salt = next((s.fold for s in self.clause.spans if s.fold.startswith(("sodium", "potassium"))), "")
        if salt.startswith("sodium"):
            given["salt"] = "sodium"
        colour = next((span.colour for span in self.clause.spans if span.has("colour")), None)
        if colour in ("red", "white") and "litres" in given:
            given["colour"] = colour
        return self._whole(given)

    def sorbate(self) -> Figures | None:
        if not self._substance("sorbate") or not self.need or self.put:
            return None
        given = self._volume()
        ph = self._ph()
        if ph is not None:
            given["ph"] = ph
        if self.percents:
            given["abv"] = self.percents[0]
        return self._whole(given)

    def sugar(self) -> Figures | None:
        sgs = self._sgs()
        if (self._means("sweeten") or self._means("sweetness")) and not sgs:
            return None
        if not self._substance("sugar") or not self.need or self.put:
            return None
        given = self._volume()
        if len(sgs) == 2:
            given |= {"sg_from": min(sgs), "sg_to": max(sgs)}
        elif self.percents:
            given["abv_rise"] = self.percents[0]
        elif len(sgs) == 1 and (self.clause.refs or self.own is not None):
            given["sg_to"] = sgs[0]
        elif self.much and self.clause.refs and self.clause.means("topic", "need"):
            pass
        elif self._means("points"):
            # So many points are the rise of a gravity by thousandths: what it starts from is still to be told.
            pass
        else:
            return None
        return self._whole(given)

    def sweeten(self) -> Figures | None:
        wants = self.need or self._substance("sugar") or (bool(self.per_litre) and self._orders("sweeten"))
        asked = (asks(self.clause) or self.clause.asked) and bool(self.clause.refs)
        wants = wants or (asked and self._means("sweeten"))
        if not (self._means("sweeten") or self._means("sweetness")) or not wants or self.put:
            return None
        given = self._volume()
        sgs = self._sgs()
        if sgs and not self.per_litre:
            return None
        if self.per_litre:
            given["sugar_g_l"] = self.per_litre[0]
        if sgs:
            given["sg_from"] = min(sgs)
        return self._whole(given) if len(given) > 1 or self.clause.refs or self.much else None

    def acid(self) -> Figures | None:
        wants = self._substance("acid") or self.clause.means("measure", "acidity")
        need = self.need or self._orders("change")
        plain = [
            q.value for q in self.clause.quantities if q.unit in (None, "g_per_l") and not reads_gravity(q)
        ]
        if not wants or not need or self.put or not plain or (len(plain) < _TWO and self.own is None):
            return None
        told: Figures = (
            {"ta_from": plain[0], "ta_to": plain[1]} if len(plain) >= _TWO else {"ta_to": plain[0]}
        )
        return self._whole(self._volume() | told)

    def blend(self) -> Figures | None:
        if not self._means("blend") or len(self.volumes) != 2 or len(self.percents) < 2:
            return None
        given: Figures = {
            "litres_a": self.volumes[0],
            "abv_a": self.percents[0],
            "litres_b": self.volumes[1],
            "abv_b": self.percents[1],
        }
        if len(self.percents) > 2:
            given["abv_target"] = self.percents[2]
        return given

    def bottles(self) -> Figures | None:
        if (
            not (
                self._means("bottles")
                or (self.much and (self.clause.means("unit", "bottle") or self._means("halves")))
            )
            or not self.volumes
        ):
            return None
        given: Figures = {"litres": self.volumes[0]}
        sizes = [q.value for q in self.clause.quantities if q.unit == "cl"]
        big = [value for value in self.volumes if value > 2]
        if big:
            given["litres"] = big[0]
        if sizes:
            given["size_cl"] = sizes[0]
        elif self._means("halves"):
            given["size_cl"] = _HALF_BOTTLE_CL
        lost = [value for value in self.volumes if value <= 2]
        if lost and self.clause.means("sum", "loss"):
            given["loss_l"] = lost[-1]
        return given

    def drinks(self) -> Figures | None:
        if not self._means("drinks") or not (self.percents or self.clause.refs):
            return None
        given: Figures = {"abv": self.percents[0]} if self.percents else {}
        amounts = [q for q in self.clause.quantities if q.unit in ("ml", "cl", "litre")]
        bottles = [q.value for q in self.clause.quantities if q.unit == "bottle"]
        if amounts:
            given["ml"] = round(amounts[0].value * _MILLILITRES[amounts[0].unit or "ml"], 1)
        elif self.clause.means("unit", "bottle") or self._means("halves"):
            size = _HALF_BOTTLE_CL if self._means("halves") else _BOTTLE_CL
            parts = [float(value) for s in self.clause.spans if (value := s.value("amount")) is not None]
            given["ml"] = 10 * size * (bottles[0] if bottles else parts[0] if parts else 1)
        return given

    def gas(self) -> Figures | None:
        if not self._means("gas") or not (self.much or asks(self.clause)):
            return None
        given = self._volume()
        if self.per_litre:
            given["sugar_g_l"] = self.per_litre[0]
        return given if len(given) == 2 else None

    def cost(self) -> Figures | None:
        plain = [q.value for q in self.clause.quantities if q.unit is None and not reads_gravity(q)]
        filled = [q.value for q in self.clause.quantities if q.unit == "bottle"]
        if not self.clause.means("question", "cost") or len(filled) != 1 or not 1 <= len(plain) <= 2:
            return None
        given: Figures = {"kit": plain[0], "bottles": filled[0]}
        if len(plain) == 2:
            given["extras"] = plain[1]
        return given

    def _orders(self, name: str) -> bool:
        """Whether the message begins with the verb of a sum, as an order does: "lower the acid from 8 to 6"."""
        words = [
            span for span in self.clause.spans if span.kind != "mark" and not span.is_("filler", "social")
        ]
        return bool(words) and words[0].is_("sum", name)


def filled(name: str, keys: Sequence[str], text: str, scene: Scene) -> Figures:
    """What an answer tells of the keys that a sum still needs, or of others by their words; empty where the text is
    no such answer, but says something of its own."""
    spans = Reader(lexicon(scene.language), names_of(scene)).label(scan(tidy(text)))
    colours(spans, scene)
    clause = Clause(spans)
    facts = any(clause.any(kind) for kind in ("question", "undo", "begin"))
    facts = facts or (clause.any("chatter") and not has_roles(clause, scene.language))
    facts = facts or clause.any("step", "done") or clause.any("put", "done") or clause.any("bottles")
    if len(spans) > _MOST_SPANS or clause.refs or facts:
        return {}
    if (
        any(span.kind == "word" for span in spans)
        and not has_roles(clause, scene.language)
        and len(clause.words()) > 2
    ):
        return {}
    found = by_words(name, {}, clause, scene)
    row = CATALOGUE[name]
    for wanted in keys:
        key = next(key for key in row.keys if key.name == wanted)
        if key.name in found:
            continue
        if key.words:
            said = next((span.fold for span in spans if span.fold in key.words), None)
            if said is not None:
                found[key.name] = said
            continue
        for span in spans:
            value = None if span.qty is None or span.used else fitting(key, span.qty, scene, bare=True)
            if value is not None:
                found[key.name] = value
                span.used = True
                break
    return found


def by_words(name: str, given: Figures, clause: Clause, scene: Scene, *, spend: bool = True) -> Figures:
    """What the words beside the numbers tell of the keys that are not given yet: "with 10 mg/l free", "kettle 95"."""
    row, words = CATALOGUE[name], lexicon(scene.language)
    found: Figures = {}
    spans = [span for span in clause.spans if span.kind not in ("mark", "line")]
    for place, span in enumerate(spans):
        if span.qty is None or span.used or _spent(span.qty, given, scene):
            continue
        for roles in _roles(spans, place, words):
            key = next(
                (
                    key
                    for key in row.keys
                    if key.name in roles
                    and key.name not in given
                    and key.name not in found
                    and fitting(key, span.qty, scene, bare=True) is not None
                ),
                None,
            )
            if key is not None:
                value = fitting(key, span.qty, scene, bare=True)
                assert value is not None
                found[key.name] = value
                span.used = spend
                break
    return found


def _roles(spans: Sequence[Span], place: int, words: Lexicon) -> list[set[str]]:
    """The keys that the words before a number name, then those that the words after it do; the nearest first."""
    before: list[set[str]] = []
    for span in reversed(spans[:place]):
        if named := _named(span, words):
            before.append(named)
    after: list[set[str]] = []
    for span in spans[place + 1 : place + 4]:
        if span.qty is not None:
            break
        if named := _named(span, words):
            after.append(named)
    return [*before, *after]


def _named(span: Span, words: Lexicon) -> set[str]:
    return {key for word in span.fold.split() for key in words.roles.get(word, ())}


def has_roles(clause: Clause, language: str) -> bool:
    """Whether a word beside the numbers names a key of a sum."""
    return any(_named(span, lexicon(language)) for span in clause.spans)


def fitting(key: Key, quantity: Quantity, scene: Scene, *, bare: bool) -> float | None:
    """The number in the key's own unit; None where it is of another kind. `bare`: one without a unit will do where it
    lies in the key's range."""
    if key.range is None:
        return None
    unit, value = quantity.unit, quantity.value
    plain = unit is None and bare
    got: float | None = None
    match key.range.unit:
        case Measure.LITRES:
            house = "gallon" if scene.volume_unit.lower().startswith("gal") else "litre"
            got = litres(value, house if plain else unit, scene) if plain or unit in VOLUMES else None
        case Measure.CELSIUS:
            got = celsius(value, unit, scene) if plain or unit in DEGREES else None
        case Measure.SG:
            likely = reads_gravity(quantity) or unit in SCALES or (plain and 0.9 <= value < 1.3)
            got = gravity(quantity) if likely else None
        case Measure.ABV:
            got = value if plain or unit == "percent" else None
        case Measure.MG_L:
            got = value if plain or unit == "mg_per_l" else None
        case Measure.BRIX:
            got = value if plain or unit in ("brix", "plato") else None
        case Measure.MILLILITRES:
            got = value * _MILLILITRES[unit] if unit in _MILLILITRES else value if plain else None
        case Measure.CENTILITRES:
            got = value * _MILLILITRES[unit] / 10 if unit in _MILLILITRES else value if plain else None
        case Measure.G_L | Measure.G_L_TARTARIC:
            got = value * 10 if unit == "percent" else value if plain or unit == "g_per_l" else None
        case _:
            got = value if plain or unit in ("bottle", "pound") else None
    if got is None or (unit is None and not key.range.lo <= got <= key.range.hi):
        return None
    return got


def unused(given: Figures, clause: Clause, scene: Scene) -> tuple[str, ...]:
    """The numbers that were told with a sum and are none of what it was given, in the asker's words."""
    return tuple(quantity.text for quantity in clause.quantities if not _spent(quantity, given, scene))


def _spent(quantity: Quantity, given: Figures, scene: Scene) -> bool:
    """Whether a number went into what is given already."""
    numbers = [value for value in given.values() if isinstance(value, float | int)]
    ways = _ways(quantity, scene)
    return any(abs(one - number) < 1e-6 * max(1.0, abs(number)) for one in ways for number in numbers)


def _ways(quantity: Quantity, scene: Scene) -> list[float]:
    """What a number may have become in a sum."""
    value, unit = quantity.value, quantity.unit
    found = [value, value * 10, value * 1000, value / 10, value / 1000]
    if unit in VOLUMES:
        amount = litres(value, unit, scene)
        found += [amount, round(amount * 1000, 1), amount * 100]
    if unit in DEGREES or unit is None:
        found.append(celsius(value, unit, scene))
    as_gravity = gravity(quantity) if unit in SCALES or unit is None else None
    return found if as_gravity is None else [*found, as_gravity]
