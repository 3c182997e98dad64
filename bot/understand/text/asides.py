"""Figures told beside a fact that are none of the wine: how much a bottle holds, what was left over, what something was
dissolved in, somebody's age, the score of a game, the hour that it is not; and of the wine's own figures those that are
no reading: a line that it is under, where it came from, how warm the room is.

They are made small words before anything reads the message, so that no reading takes one for a second fact.
"""

from collections.abc import Sequence
from itertools import pairwise

from bot.science import practice
from bot.understand.scene import Scene
from bot.understand.text.clauses import (
    DEGREES,
    DOSES,
    SENTENCE_ENDS,
    VOLUMES,
    of_bottles,
    reads_gravity,
    tells_gravity,
)
from bot.understand.text.lexicon import Tag
from bot.understand.text.scan import Token
from bot.understand.text.small_words import Beside, Bounds, SmallWords
from bot.understand.text.spans import Quantity, Span

_SMALL = (Tag("filler", "reading", ""),)
_LITRES = {"ml": 0.001, "cl": 0.01, "litre": 1.0, "pint": 0.6, "gallon": 4.5}
"""About how much each is, in litres."""
_BOTTLE = (0.18, 3.0)
"""What a bottle may hold, in litres: from a quarter bottle to four in one."""
_LITTLE = 2.0
"""No more litres are left over, or taken to dissolve what goes in."""
_NEAR = 4
_OLD = 99
_GOALS = 20
_SCORE = 3
"""Spans of "2-1"."""


def without_asides(spans: Sequence[Span], tokens: Sequence[Token], small: Beside) -> None:
    """Makes small words of the figures that are told beside."""
    for number in _list_numbers(spans):
        _blank(number)
    told = any(of_bottles(span) or span.is_("step", "bottle") for span in spans)
    read = any(map(tells_gravity, spans))
    for at, span in enumerate(spans):
        if _of_game(spans, at, tokens, small):
            for each in spans[at : at + _SCORE]:
                _blank(each)
        elif marks := _marks(spans, at, told=read):
            for each in marks:
                _blank(each)
        elif span.qty is not None and (
            _bottle_size(spans, at, told=told)
            or (told and _left_over(spans, at, small))
            or _solvent(spans, at, small)
            or _age(spans, at, small)
            or _of_place(spans, at, small)
            or _rate(spans, at, small)
            or _of_time(spans, at, small)
        ):
            _blank(span)
        elif span.moment is not None and _no_hour(spans, at):
            _blank(span)
            _blank(spans[at - 1])


def _list_numbers(spans: Sequence[Span]) -> list[Span]:
    """The numbers of a list, where it has several: "1, it is called plum. 2, 23 litres. 3, bucket 1"."""
    found: list[Span] = []
    for at, span in enumerate(spans[:-1]):
        first = at == 0 or spans[at - 1].fold in SENTENCE_ENDS or spans[at - 1].kind == "line"
        marked = spans[at + 1].kind == "mark" and spans[at + 1].fold in _AFTER_NUMBER
        quantity = span.qty
        if not (first and marked) or quantity is None or quantity.unit is not None or quantity.decimals:
            continue
        if quantity.value == len(found) + 1:
            found.append(span)
    return found if len(found) >= _LIST else []


_AFTER_NUMBER = frozenset({",", ".", ":", ")"})
_LIST = 3


def without_bounds(spans: Sequence[Span], tokens: Sequence[Token], small: SmallWords, scene: Scene) -> None:
    """Makes small words of gravities that only say where another is: "just under the 1.000 line, .996", "it was 1.031,
    now 1.024"; and of how warm a room is, told beside how warm the wine is."""
    held = [at for at, span in enumerate(spans) if tells_gravity(span)]
    if any(tag.kind == "sum" and tag.value not in _NO_SUM for span in spans for tag in span.tags):
        return
    asked = any(span.fold == "?" or span.has("substance") or span.has("question") for span in spans)
    known = {batch.readings[-1][1] for batch in scene.under_way if batch.readings}
    for at, after in pairwise(held):
        between = spans[at + 1 : after]
        if any(span.ref is not None or span.kind == "line" for span in between):
            continue
        before = [span for span in spans[max(0, at - _NEAR) : at] if span.kind != "mark"]
        value = spans[at].qty
        known_now = value is not None and value.value in known and not asked
        if known_now and _was(before, between, tokens, small.bounds):
            _blank(spans[at])
            if spans[at + 1].moment is not None:
                _blank(spans[at + 1])
        elif _is_bound(before, between, tokens, small.bounds):
            _blank(spans[at])
    rooms = [part for part in _parts(spans) if _is_room(part, tokens, small, scene)]
    warm = [part for part in _parts(spans) if part not in rooms and _warmth(part, scene) is not None]
    if rooms and warm:
        for span in (span for part in rooms for span in part):
            _blank(span)


def _is_bound(
    before: Sequence[Span], between: Sequence[Span], tokens: Sequence[Token], small: Bounds
) -> bool:
    """ "Under the", "a shade over" before a figure, or "line" after it."""
    led = [span for span in before if not span.is_("part", "lead")][-1:]
    folds = _folds(led, tokens)
    return bool(folds and folds[-1] in small.sides) or bool(
        small.line.intersection(_folds(between[:1], tokens))
    )


def _was(before: Sequence[Span], between: Sequence[Span], tokens: Sequence[Token], small: Bounds) -> bool:
    """ "It was 1.031 and is 1.024 now": whether a figure is told as what was, and another as what is."""
    told = between[:1] and between[0].moment is not None
    now = told or small.now.intersection(_folds(between, tokens))
    return bool(now) and bool(small.was.intersection(_folds(before[-2:], tokens)))


def _folds(spans: Sequence[Span], tokens: Sequence[Token]) -> list[str]:
    return [token.fold for span in spans for token in tokens[span.lo : span.hi]]


def _parts(spans: Sequence[Span]) -> list[list[Span]]:
    """What stands between marks, lines and words that join."""
    found: list[list[Span]] = [[]]
    for span in spans:
        if span.kind in ("mark", "line") or span.has("join"):
            found.append([])
        else:
            found[-1].append(span)
    return found


def _warmth(part: Sequence[Span], scene: Scene) -> Span | None:
    """The one number of a part, where a room or a wine can be so warm."""
    numbers = [span for span in part if span.qty is not None]
    if len(numbers) != 1 or any(span.has(kind) for span in part for kind in _OF_COUNTS):
        return None
    quantity = numbers[0].qty
    assert quantity is not None
    return numbers[0] if _can_be_degrees(quantity, scene) else None


def _can_be_degrees(quantity: Quantity, scene: Scene) -> bool:
    low, high = practice.ROOM_C.value
    fahrenheit = scene.temperature_unit == "F"
    value = (quantity.value - 32) / 1.8 if fahrenheit and quantity.unit != "celsius" else quantity.value
    return quantity.unit in (None, *DEGREES) and quantity.decimals <= 1 and low <= value <= high


def _is_room(part: Sequence[Span], tokens: Sequence[Token], small: SmallWords, scene: Scene) -> bool:
    """ "The room is 21", "it's 29 in the shed"."""
    named = any(span.ref is not None or span.is_("batchword", "batch") for span in part)
    return (
        not named
        and bool(small.warmth.rooms.intersection(_folds(part, tokens)))
        and _warmth(part, scene) is not None
    )


_NO_SUM = frozenset({"change", "points", "halves", "extras", "from", "to"})
"""Words of sums that readings are told with as well: "dropped", "points"."""
_OF_COUNTS = ("bottles", "substance", "step", "packet")


def _blank(span: Span) -> None:
    if span.kind != "mark":
        span.kind, span.tags, span.qty, span.moment = "phrase", _SMALL, None, None


def _litres(span: Span) -> float | None:
    quantity = span.qty
    if quantity is None or quantity.unit not in VOLUMES or quantity.signed:
        return None
    return quantity.value * _LITRES[quantity.unit]


def _bottle_size(spans: Sequence[Span], at: int, *, told: bool) -> bool:
    """ "29 x 750 ml", "29 of 75 cl each": how much each of so many bottles holds."""
    size = _litres(spans[at])
    if size is None or not _BOTTLE[0] <= size <= _BOTTLE[1] or at == 0:
        return False
    joint = spans[at - 1]
    by = joint.is_("part", "times") or joint.fold in ("@", "at", "of")
    count = spans[at - 2 if by else at - 1] if at >= (2 if by else 1) else None
    counted = count is not None and count.qty is not None and count.qty.unit in (None, "bottle")
    whole = count is not None and count.qty is not None and not count.qty.decimals
    return counted and whole and (joint.is_("part", "times") or told)


def _left_over(spans: Sequence[Span], at: int, small: Beside) -> bool:
    """ "210 ml left over": too little for one more bottle, or not bottled."""
    volume = _litres(spans[at])
    if volume is None or volume > _LITTLE:
        return False
    after = [span.fold for span in spans[at + 1 : at + 1 + _NEAR] if span.kind != "mark"]
    before = [span.fold for span in spans[max(0, at - 2) : at] if span.kind != "mark"]
    return bool(small.over.intersection(after[:3])) or bool(small.over.intersection(before))


def _solvent(spans: Sequence[Span], at: int, small: Beside) -> bool:
    """ "360 g sugar dissolved in 400 ml of the must": what something that goes in was dissolved in."""
    volume = _litres(spans[at])
    if volume is None or volume > _LITTLE or at == 0 or not spans[at - 1].is_("part", "in"):
        return False
    before = spans[max(0, at - 1 - _NEAR) : at - 1]
    loosened = any(span.fold in small.dissolved for span in before)
    dosed = any(span.qty is not None and span.qty.unit in DOSES - VOLUMES for span in before)
    others = any(
        span.has("substance") or span.has("packet") or span.is_("step", "pitch") for span in spans[:at]
    )
    if not others or not (loosened or dosed):
        return False
    for span in spans[at + 1 : at + 1 + _NEAR]:
        if span.kind in ("mark", "line") or span.has("join"):
            break
        if span.is_("substance", "water") or span.has("batchword") or span.is_("part", "warm"):
            _blank(span)
    return True


def _age(spans: Sequence[Span], at: int, small: Beside) -> bool:
    """ "Somebody under ten": how old a person is."""
    quantity = spans[at].qty
    if quantity is None or quantity.unit is not None or quantity.decimals or not 0 < quantity.value <= _OLD:
        return False
    if at < 2 or spans[at - 1].fold not in small.aged:
        return False
    who = spans[at - 2]
    return who.is_("part", "anyone") or who.fold in small.people


def _of_place(spans: Sequence[Span], at: int, small: Beside) -> bool:
    """ "The chap on plot 12", "to ward 4": a number that is part of a place's name."""
    quantity = spans[at].qty
    if (
        quantity is None
        or quantity.unit is not None
        or quantity.decimals
        or reads_gravity(quantity)
        or at < 2
    ):
        return False
    place, led = spans[at - 1], spans[at - 2]
    return place.kind == "word" and place.ref is None and led.fold in small.placed


def _of_game(spans: Sequence[Span], at: int, tokens: Sequence[Token], small: Beside) -> bool:
    """ "Lost 2-1": the score of a game; "so 2-1" is no sulphite either."""
    if at + 2 >= len(spans):
        return False
    first, mark, second = spans[at : at + _SCORE]
    led = at > 0 and spans[at - 1].fold in small.scored
    read_as_one = first.kind == "phrase" and tokens[first.hi - 1].fold.isdecimal()
    read_as_one = read_as_one and first.hi - first.lo > 1 and tokens[first.lo].fold in small.scored
    goals = [span.qty for span in (first, second) if span.qty is not None]
    plain = all(goal.unit is None and not goal.decimals and goal.value < _GOALS for goal in goals)
    if not plain or len(goals) != (1 if read_as_one else 2) or not (led or read_as_one):
        return False
    glued = mark.fold in ("-", ":", "–") and tokens[mark.lo].glued and tokens[second.lo].glued
    following = spans[at + _SCORE] if at + _SCORE < len(spans) else None
    return glued and (following is None or following.kind in ("mark", "line", "word"))


def _marks(spans: Sequence[Span], at: int, *, told: bool) -> Sequence[Span]:
    """ "7 out of 10", "8/10": how good it is, nothing where that is not said; with a stroke no more than a part where a
    gravity is `told` besides, for a date looks like it."""
    until = next((place for place in range(at + 1, len(spans)) if not _out_of(spans[place])), len(spans))
    if until == at + 1 or until >= len(spans):
        return ()
    given, of = spans[at].qty, spans[until].qty
    if given is None or of is None or given.unit is not None or of.unit is not None:
        return ()
    if of.value not in _BEST or not 0 <= given.value <= of.value:
        return ()
    stroke = spans[at + 1].fold == "/"
    return () if stroke and told else spans[at : until + 1]


_BEST = (10, 100)


def _out_of(span: Span) -> bool:
    """Whether it stands between a mark and the best there is."""
    return span.fold in ("out of", "out", "of", "o", "/")


def _rate(spans: Sequence[Span], at: int, small: Beside) -> bool:
    """ "One tablet per gallon, so five": how much goes into each litre or gallon, where how much went in is told
    besides."""
    quantity = spans[at].qty
    if quantity is None or quantity.unit in VOLUMES or reads_gravity(quantity):
        return False
    rest = spans[at + 1 :]
    each = _each(rest, small)
    if each is None or each > _NEAR:
        return False
    between, ends = rest[:each], rest[each : each + _NEAR]
    if any(span.qty is not None or span.kind == "mark" for span in between):
        return False
    measure = next((span for span in ends if _volume(span)), None)
    if measure is None:
        return False
    after = rest[each + 1 :]
    ends_at = next(
        (place for place, span in enumerate(after) if span.kind == "mark" or span.has("join")), None
    )
    total = after[ends_at:] if ends_at is not None else []
    return any(span.qty is not None and span.qty.unit not in VOLUMES for span in total)


def _of_time(spans: Sequence[Span], at: int, small: Beside) -> bool:
    """ "40 bubbles per minute": how often in a minute, where nothing is put in."""
    quantity, rest = spans[at].qty, spans[at + 1 : at + 1 + _NEAR]
    if quantity is None or quantity.unit is not None or reads_gravity(quantity):
        return False
    each = _each(rest, small)
    if each is None or each > 1 or any(span.has("substance") or span.has("packet") for span in rest[:each]):
        return False
    said = [*rest[each].fold.split()[1:], *(span.fold for span in rest[each + 1 : each + 2])]
    return bool(said) and said[0] in small.moments


def _each(spans: Sequence[Span], small: Beside) -> int | None:
    """Where "per" or the like stands first."""
    return next((at for at, span in enumerate(spans) if span.fold.partition(" ")[0] in small.each), None)


def _volume(span: Span) -> bool:
    """Whether it is a litre or a gallon, by itself or after "per"."""
    return (span.value("unit") or span.fold.rpartition(" ")[2]) in _EACH_OF


_EACH_OF = ("litre", "gallon")


def _no_hour(spans: Sequence[Span], at: int) -> bool:
    """ "And it's not half past two": the hour that it is not yet, at the end of what is told."""
    moment = spans[at].moment
    if moment is None or moment.clock is None or at < 2 or not spans[at - 1].is_("mood", "negation"):
        return False
    is_ = spans[at - 2].is_("batchword", "it")
    ends = at + 1 == len(spans) or spans[at + 1].kind in ("mark", "line")
    others = any(span.moment is not None for span in (*spans[:at], *spans[at + 1 :]))
    return is_ and ends and not others
