"""A text answer to a question that the bot asked: which of the options it means."""

from collections.abc import Sequence

from bot.cellar.acts import Act, Addition, Gravity, Ph, Step, Temperature
from bot.understand.clauses import colours, reads_gravity
from bot.understand.lexicon import lexicon
from bot.understand.names import names_of
from bot.understand.readings import celsius, gravity
from bot.understand.scan import scan, tidy
from bot.understand.scene import Scene
from bot.understand.spans import Quantity, Reader, Span
from bot.understand.targets import Targets

_MOST_WORDS = 8


def pick(text: str, options: Sequence[Sequence[Act]], scene: Scene) -> int | None:
    """The number of the option that an answer chooses; None when it chooses none, or could mean several.

    "Yes" takes the only option, or the first of those that are about a value as it was said.
    """
    if not options:
        return None
    names = names_of(scene)
    words = lexicon(scene.language)
    tokens = scan(tidy(text))
    spans = Reader(words, names).label(tokens)
    colours(spans, scene)
    real = [span for span in spans if span.kind not in ("mark", "line")]
    if not real or len(real) > _MOST_WORDS or any(span.has("chatter") for span in real):
        return None
    by_name = _by_name(real, options, Targets(scene, names))
    if by_name is not None:
        return by_name
    by_value = _by_value(real, options, scene)
    if by_value is not None:
        return by_value
    if any(span.qty is not None and span.qty.unit is not None for span in real):
        return None
    by_place = _by_place(real, len(options))
    if by_place is not None:
        return by_place
    if any(span.is_("answer", "yes") for span in real) and not any(span.is_("answer", "no") for span in real):
        same = len({act.of for option in options for act in option}) == 1
        return 0 if len(options) == 1 or same else None
    return None


def _by_name(real: Sequence[Span], options: Sequence[Sequence[Act]], targets: Targets) -> int | None:
    """ "The red one", "bucket 2", "plum": the one option that is about it."""
    wanted: set[str | None] = set()
    for index, span in enumerate(real):
        if span.ref is None or any(item.is_("part", "not") for item in real[max(0, index - 2) : index]):
            continue
        for bottled in (False, True):
            wanted |= {target.of for target in targets.of(span.ref, bottled=bottled)}
            wanted |= {target.vessel for target in targets.of(span.ref, bottled=bottled) if target.vessel}
    if not wanted:
        return None
    fitting = [index for index, option in enumerate(options) if any(_names(act) & wanted for act in option)]
    return fitting[0] if len(fitting) == 1 else None


def _names(act: Act) -> set[str | None]:
    names: set[str | None] = {act.of} if act.of is not None else set()
    if isinstance(act, Step) and act.to is not None:
        names.add(act.to)
    return names


def _by_value(real: Sequence[Span], options: Sequence[Sequence[Act]], scene: Scene) -> int | None:
    """ "1.012": the one option with that value."""
    for span in real:
        if span.qty is None:
            continue
        fitting = [
            index
            for index, option in enumerate(options)
            if any(_has_value(act, span.qty, scene) for act in option)
        ]
        if len(fitting) == 1:
            return fitting[0]
    return None


def _has_value(act: Act, quantity: Quantity, scene: Scene) -> bool:
    if isinstance(act, Gravity):
        value = gravity(quantity) if reads_gravity(quantity) or quantity.decimals else None
        return value is not None and abs(value - act.sg) < 1e-6
    if isinstance(act, Temperature):
        return (
            quantity.decimals + quantity.value >= 5
            and abs(celsius(quantity.value, quantity.unit, scene) - act.temp_c) < 0.05
        )
    if isinstance(act, Ph):
        return quantity.decimals > 0 and abs(quantity.value - act.ph) < 1e-6
    return isinstance(act, Addition) and quantity.unit is not None and act.amount == quantity.value


def _by_place(real: Sequence[Span], count: int) -> int | None:
    """ "The second", "2", "the last one"."""
    places: set[int] = set()
    for span in real:
        place = span.value("place")
        if places and span.qty is not None and span.qty.spoken:
            continue
        if place is not None:
            places.add(count - 1 if place == "last" else int(place) - 1)
        elif (
            span.qty is not None
            and span.qty.unit is None
            and span.qty.value in range(1, count + 1)
            and len(real) <= 2
        ):
            places.add(int(span.qty.value) - 1)
    if len(places) != 1:
        return None
    (place_chosen,) = places
    return place_chosen if 0 <= place_chosen < count else None
