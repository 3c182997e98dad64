"""A text answer to a question that the bot asked: which of the options it means."""

from collections.abc import Sequence
from typing import assert_never

import msgspec

from bot.cellar.log.acts import (
    Acidity,
    Act,
    Addition,
    Bottles,
    Gravity,
    Ph,
    Split,
    Step,
    Temperature,
    Undo,
    Volume,
    kind,
)
from bot.understand.claims.drafts import Unmeasured
from bot.understand.claims.readings import celsius, gravity
from bot.understand.scene import Scene
from bot.understand.text.clauses import colours, reads_gravity
from bot.understand.text.language import tables_of
from bot.understand.text.lexicon import lexicon
from bot.understand.text.names import Targets, names_of
from bot.understand.text.scan import scan, tidy
from bot.understand.text.spans import Quantity, Reader, Span
from bot.understand.verdict import Doubt, Verdict

_MOST_WORDS = 8
_HEADS = (
    "step",
    "substance",
    "packet",
    "put",
    "move",
    "fill",
    "question",
    "begin",
    "bottles",
    "chatter",
    "sum",
)
"""What makes a message a statement or a question of its own, unless it is just a small word."""

_WAVERING = (Doubt.UNSURE, Doubt.HALF_UNDERSTOOD)
"""What is said so is no answer, even where it fits one."""

MADE_OF_LITTLE = (
    Doubt.KEEP_NOTE,
    Doubt.NOT_UNDERSTOOD,
    Doubt.WHICH_QUESTION,
    Doubt.NO_ANSWER,
    Doubt.THANKED,
)
"""What is made of a few words only because nothing else is: a name or a place among them answers all the same."""

_FROM_THE_MESSAGE = ("of", "at")
_LEFT_OUT = ("of", "at", "temp_c")

_SMALL = (
    "answer",
    "place",
    "filler",
    "hedge",
    "correct",
    "batchword",
    "measure",
    "colour",
    "unit",
    "part",
    "numbermark",
)


def pick(
    text: str,
    options: Sequence[Sequence[Act]],
    scene: Scene,
    by_itself: Verdict | None = None,
    *,
    others: bool = False,
) -> int | None:
    """The number of the option that an answer chooses; None when it chooses none, or could mean several.

    "Yes" takes the only option, or the first of those that are about a value as it was said. `by_itself` is what
    the message means when nothing is asked: what is clear so, or is more than a bare name, value, place or "yes",
    answers only by telling just what one option holds. `others`: it was not the speaker who was asked, and only a
    "yes" counts.
    """
    if not options:
        return None
    names = names_of(scene)
    real = _spans(text, scene)
    if not real or len(real) > _MOST_WORDS or any(span.has("chatter") for span in real):
        return None
    if others:
        return _by_yes(real, options) if all(_agrees(span) for span in real) else None
    bare = _bare(real)
    told = by_itself.acts if by_itself is not None and by_itself.doubt not in _WAVERING else ()
    if not bare or (by_itself is not None and by_itself.verdict == "act"):
        return _by_acts(told, options, bare=bare)
    if len(options) == 1 and _denied(real):
        return None
    kinds = {kind(act) for option in options for act in option}
    if by_itself is not None and by_itself.doubt in MADE_OF_LITTLE:
        by_itself = None
    if by_itself is not None and any(kind(act) not in kinds for act in by_itself.acts):
        return None
    by_name = _by_name(real, options, Targets(scene, names))
    number = next((span.qty for span in real if span.qty is not None and not span.qty.spoken), None)
    by_value = _by_value(real, options, scene)
    if by_name is not None:
        valued = number is None or any(_has_value(act, number, scene) for act in options[by_name])
        return by_name if valued else None
    if by_value is not None:
        return by_value
    if number is not None and number.unit is not None:
        return None
    by_place = _by_place(real, options, scene)
    return _by_yes(real, options) if by_place is None and number is None else by_place


def declines(text: str, scene: Scene) -> bool:
    """Whether an answer is nothing but "no", "neither" or "cancel"."""
    real = _spans(text, scene)
    return any(span.is_("answer", "no") for span in real) and all(
        span.is_("answer", "no") or span.is_("filler", "social") for span in real
    )


def denial(text: str, scene: Scene) -> str | None:
    """What a message says after it denied what was asked, in its words; None where it denies nothing, or says no
    more."""
    said = tidy(text)
    denials = tables_of(scene.language, "forms")["answers"]["denials"]
    tokens = scan(said)
    if not tokens or tokens[0].fold not in denials:
        return None
    rest = next((token.start for token in tokens[1:] if token.kind in ("word", "num")), None)
    return said[rest:] if rest is not None else None


def _denied(real: Sequence[Span]) -> bool:
    """Whether it says no before anything else, or that something else is so."""
    yes = any(span.is_("answer", "yes") for span in real)
    return not yes and any(span.is_("answer", "no") or span.is_("correct", "strong") for span in real)


def _spans(text: str, scene: Scene) -> list[Span]:
    spans = Reader(lexicon(scene.language), names_of(scene)).label(scan(tidy(text)))
    colours(spans, scene)
    return [span for span in spans if span.kind not in ("mark", "line")]


def _bare(real: Sequence[Span]) -> bool:
    """Whether a message is no more than the name, value, place or word that a question asks for."""
    numbers = [span for span in real if span.qty is not None and not span.qty.spoken]
    return len(numbers) <= 1 and all(
        span.qty is not None or span.ref is not None or _small(span) for span in real
    )


def _small(span: Span) -> bool:
    sayings = any(span.has(kind) for kind in _SMALL)
    return sayings and (not any(span.has(kind) for kind in _HEADS) or span.has("answer"))


def _agrees(span: Span) -> bool:
    return span.is_("answer", "yes") or span.is_("filler", "social")


def _by_yes(real: Sequence[Span], options: Sequence[Sequence[Act]]) -> int | None:
    if any(span.is_("answer", "no") for span in real) or not any(span.is_("answer", "yes") for span in real):
        return None
    same = len({act.of for option in options for act in option}) == 1
    return 0 if len(options) == 1 or same else None


def _by_acts(told: Sequence[Act], options: Sequence[Sequence[Act]], *, bare: bool) -> int | None:
    """A whole statement: the one option that holds just what it tells. A bare value need not tell all of it."""
    if not told:
        return None
    fitting = [
        index
        for index, option in enumerate(options)
        if _same([act for act in option if not isinstance(act, Undo)], told, bare=bare)
    ]
    return fitting[0] if len(fitting) == 1 else None


def _same(option: Sequence[Act], told: Sequence[Act], *, bare: bool) -> bool:
    return len(option) == len(told) and all(
        _completed(said, act, _LEFT_OUT if bare else _FROM_THE_MESSAGE) == act
        for act, said in zip(option, told, strict=True)
    )


def _completed(said: Act, act: Act, fields: Sequence[str]) -> Act:
    """What was said, with what it left out taken from the option's act."""
    known = [name for name in fields if hasattr(said, name) and getattr(said, name) is None]
    return msgspec.structs.replace(said, **{name: getattr(act, name, None) for name in known})


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
    if isinstance(act, Addition):
        return quantity.unit is not None and act.amount == quantity.value
    if isinstance(act, Acidity | Volume | Step | Split | Bottles | Unmeasured):
        return False
    assert_never(act)


def _by_place(real: Sequence[Span], options: Sequence[Sequence[Act]], scene: Scene) -> int | None:
    """ "The second", "2", "the last one", "the other"."""
    count = len(options)
    numbered = _by_number(real, options)
    if numbered is not None:
        return numbered
    places: set[int] = set()
    for span in real:
        place = span.value("place")
        if places and span.qty is not None and span.qty.spoken:
            continue
        if place == "other":
            places |= {_other(options, scene)} if count == 2 else set()
        elif place is not None:
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


def _by_number(real: Sequence[Span], options: Sequence[Sequence[Act]]) -> int | None:
    """ "Number 3", of places where wine can go: the vessel of that number rather than the third."""
    said = {span.qty.value for span in real if span.qty is not None and span.qty.unit is None}
    into = [
        next((act.to for act in option if isinstance(act, Step) and act.to is not None), None)
        for option in options
    ]
    if len(said) != 1 or None in into or len(set(into)) != len(into):
        return None
    fitting = [
        place
        for place, vessel in enumerate(into)
        if vessel is not None and vessel.endswith(f" {min(said):g}")
    ]
    return fitting[0] if len(fitting) == 1 else None


def _other(options: Sequence[Sequence[Act]], scene: Scene) -> int:
    """Of two the one that was not spoken of last; what was as it was said stands first."""
    last = next((told.act.of for told in scene.recent or () if told.act.of is not None), None)
    about = [any(act.of == last for act in option) for option in options]
    return 0 if about == [False, True] else 1
