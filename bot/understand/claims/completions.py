"""The keys of a sum filled from what people write: by unit, by the words beside a number, else in the order asked."""

from collections.abc import Sequence

from bot.science.codes import Measure
from bot.science.reckon import CATALOGUE
from bot.science.sums import Key
from bot.understand.claims.readings import celsius, gravity, litres
from bot.understand.scene import Scene
from bot.understand.text.clauses import DEGREES, SCALES, VOLUMES, Clause, colours, reads_gravity
from bot.understand.text.lexicon import Lexicon, lexicon
from bot.understand.text.names import names_of
from bot.understand.text.scan import scan, tidy
from bot.understand.text.spans import Quantity, Reader, Span

Given = dict[str, float | str]

_MOST_SPANS = 24
_MILLILITRES = {"ml": 1.0, "cl": 10.0, "litre": 1000.0}


def filled(name: str, keys: Sequence[str], text: str, scene: Scene) -> Given:
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


def by_words(name: str, given: Given, clause: Clause, scene: Scene, *, spend: bool = True) -> Given:
    """What the words beside the numbers tell of the keys that are not given yet: "with 10 mg/l free", "kettle 95"."""
    row, words = CATALOGUE[name], lexicon(scene.language)
    found: Given = {}
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


def unused(given: Given, clause: Clause, scene: Scene) -> tuple[str, ...]:
    """The numbers that were told with a sum and are none of what it was given, in the asker's words."""
    return tuple(quantity.text for quantity in clause.quantities if not _spent(quantity, given, scene))


def _spent(quantity: Quantity, given: Given, scene: Scene) -> bool:
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
