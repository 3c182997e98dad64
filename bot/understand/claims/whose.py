"""What the numbers of a message are, and of which wine each is, learned: "poppy 1068 and 23, daisy 1056 and 21", "1.029
and 1.033, red first", "28 bottles, two of them went to the neighbours".

Whoever writes of several wines has a manner of their own: names before values or after, values in a row, one for all. So
every number is weighed as a gravity, a temperature or a count of bottles of each wine that the message names, of none that
it names, and as something else, by a log-linear model (`ops/train_whose.py`, `words/<language>/whose.weights`) that looks
at what stands between a number and a name, and around both.
"""

from collections.abc import Iterator, Sequence
from datetime import timedelta
from functools import lru_cache
from math import log
from typing import Literal

import msgspec
import numpy as np
import numpy.typing as npt

from bot.understand.claims.readings import celsius, gravity
from bot.understand.claims.setting import kind_of
from bot.understand.claims.traits import TraitWeights, decode, numbers, shares_by
from bot.understand.scene import NumberWanted, Scene
from bot.understand.text.clauses import DEGREES, SCALES, reads_gravity
from bot.understand.text.language import file_of
from bot.understand.text.message import Message
from bot.understand.text.spans import Quantity, Span

_GROUP = "whose"
_MOST, _FEW = 10, 4
"""Values that are weighed; how near two things are counted."""
_LIKELIEST = 3
"""So many of what a number can be are held against those of the others."""
_TWICE = 3.0
"""What it counts against two gravities of one wine in one message, in log odds."""
_SG = (0.98, 1.13)
_POINTS = (2, 120)
_WARM = (5.0, 40.0)
_MOST_BOTTLES = 80
_NEAR = 8
"""So far around a count words tell what became of the bottles."""
_INITIAL = 2
"""Letters of what may stand for a name."""


Role = Literal["sg", "warm", "filled", "gone", "found", "left", ""]
"""A gravity, a temperature; so many bottles that were filled, went, came back or are left; something else."""
_OF_BOTTLES: tuple[Role, ...] = ("filled", "gone", "found", "left")


class Value(msgspec.Struct, frozen=True):
    """A number that can be a gravity, a temperature in Celsius, or a count of bottles, by its place among the spans."""

    at: int
    sg: float | None
    temp_c: float | None
    count: int | None = None

    def figure(self, role: Role) -> float:
        """The number as what it is."""
        figure = {"sg": self.sg, "warm": self.temp_c}.get(role, self.count)
        assert figure is not None
        return figure


class Mention(msgspec.Struct, frozen=True):
    """A wine that is named, or several at once: the place of the name, its kind, and the batches: those under way, and
    those in bottles."""

    at: int
    kind: str
    of: frozenset[str]
    bottled: frozenset[str] = frozenset()

    def batches(self, role: Role) -> frozenset[str]:
        """The batches that something of that kind can be told of."""
        return self.bottled if role in ("gone", "found", "left") else self.of


class Meant(msgspec.Struct, frozen=True):
    """What a number can be, and the place of the mention among all; None where no name says whose."""

    role: Role
    mention: int | None = None


def values(message: Message) -> list[Value]:
    """The numbers that can be any of these, in order."""
    found = []
    for at, span in enumerate(message.spans):
        if span.ref is not None:
            continue
        count = _count(message.spans, at)
        if span.qty is not None:
            after = message.spans[at + 1].fold if at + 1 < len(message.spans) else ""
            line = after in message.small.marks  # "up to the 23 mark"
            warm = None if line else _warmth(span.qty, message.scene)
            value = Value(at, _gravity(span.qty), warm, count)
        else:
            value = Value(at, None, None, count)
        if (value.sg, value.temp_c, value.count) != (None, None, None):
            found.append(value)
    return found[:_MOST]


def _count(spans: Sequence[Span], at: int) -> int | None:
    """So many bottles: a whole number, "a couple", "another", "a bottle"."""
    span = spans[at]
    after = spans[at + 1] if at + 1 < len(spans) else None
    bottle = after is not None and after.is_("unit", "bottle")
    if span.fold == "one" and at and spans[at - 1].is_("mood", "subject"):
        return None  # "the one in bucket 1"
    if span.qty is not None:
        many, whole = span.qty.value, not (span.qty.decimals or span.qty.signed)
        fits = span.qty.unit in (None, "bottle") and whole and not reads_gravity(span.qty)
    else:
        amount = span.value("amount")
        many = float(amount) if amount is not None else 0.0
        fits = many > 1 or (many == 1 and (bottle or span.is_("part", "more")))
    return int(many) if fits and many.is_integer() and 1 <= many <= _MOST_BOTTLES else None


def _gravity(quantity: Quantity) -> float | None:
    if quantity.signed or (quantity.unit is not None and quantity.unit not in SCALES):
        return None
    low, high = _SG
    if quantity.unit is None and quantity.decimals == 0 and _POINTS[0] <= quantity.value <= _POINTS[1]:
        return round(1 + quantity.value / 1000, 4)
    sg = gravity(quantity)
    return sg if sg is not None and low <= sg <= high else None


def _warmth(quantity: Quantity, scene: Scene) -> float | None:
    if quantity.unit is not None and quantity.unit not in DEGREES:
        return None
    if quantity.unit is None and (quantity.decimals > 1 or reads_gravity(quantity)):
        return None
    warm = celsius(quantity.value, quantity.unit, scene)
    return warm if _WARM[0] <= warm <= _WARM[1] else None


def mentions(message: Message, found: Sequence[Value]) -> list[Mention]:
    """The wines that are named, in order; "both" and "all" are those that the rest of the message names, if it names two,
    and else all under way."""
    known: list[Mention] = []
    under_way = {batch.name for batch in message.scene.under_way}
    in_bottles = {batch.name for batch in message.scene.batches if batch.bottled is not None}
    fills = not in_bottles or any(span.step == "bottle" for span in message.spans)

    def filling(of: frozenset[str]) -> frozenset[str]:
        return of if fills else frozenset()  # nothing is drunk of what is in no bottles yet

    beside = {place for value in found for place in (value.at - 1, value.at + 1)}
    for at, span in enumerate(message.spans):
        if span.ref is not None:
            of, drunk = (
                frozenset(
                    target.batch.name
                    for target in message.targets.of(span.ref, bottled=bottled)
                    if target.batch is not None
                )
                for bottled in (False, True)
            )
            if span.ref.kind == "every" or of | drunk:
                known.append(
                    Mention(at, span.ref.kind, of & under_way or of, drunk & in_bottles or filling(drunk))
                )
        elif at in beside and (name := _initial(span, under_way)) is not None:
            known.append(Mention(at, "initial", frozenset({name}), frozenset({name})))
    ones = [each for each in known if each.kind != "every"]
    named = frozenset(name for each in ones for name in each.of)
    drunk = frozenset(name for each in ones for name in each.bottled)
    of_all = named if len(named) > 1 else frozenset(under_way)
    all_bottled = drunk if len(drunk) > 1 else frozenset(in_bottles)
    return [
        msgspec.structs.replace(each, of=of_all, bottled=all_bottled) if each.kind == "every" else each
        for each in known
    ]


def _initial(span: Span, under_way: set[str]) -> str | None:
    """ "A 1.058 B 1.068": the one wine whose name begins so."""
    if span.qty is not None or not span.fold.isalpha() or len(span.fold) > _INITIAL or len(under_way) < 2:
        return None
    begins = [name for name in under_way if name.casefold().startswith(span.fold)]
    return begins[0] if len(begins) == 1 else None


def candidates(value: Value, known: Sequence[Mention]) -> list[Meant]:
    """All that a number can be."""
    roles: list[Role] = []
    roles += ["sg"] if value.sg is not None else []
    roles += ["warm"] if value.temp_c is not None else []
    roles += _OF_BOTTLES if value.count is not None else ()
    whose: list[int | None] = [*range(len(known)), None]
    return [*(Meant(role, one) for role in roles for one in whose), Meant("")]


def traits(message: Message, found: Sequence[Value], known: Sequence[Mention]) -> Iterator[list[list[int]]]:
    """For each number the traits of all that it can be."""
    around = _Vicinity(message, found, known)
    for which, value in enumerate(found):
        every = candidates(value, known)
        of_role = {
            role: numbers(_GROUP, around.of_role(which, role)) for role in {meant.role for meant in every}
        }
        yield [
            list(dict.fromkeys([*of_role[meant.role], *numbers(_GROUP, around.of_wine(which, meant))]))
            for meant in every
        ]


class _Vicinity:
    """What a message has around its numbers and names."""

    def __init__(self, message: Message, found: Sequence[Value], known: Sequence[Mention]) -> None:
        self.spans = message.spans
        self.message = message
        self.found = found
        self.known = known
        self.places = {each.at for each in found}
        self.named = {each.at: each for each in known}
        self.words = set(message.folds_of(message.spans))
        self.several = min(len(message.scene.under_way), _FEW)
        self.stage = list(_stage(message))
        first = min((*self.places, *self.named), default=0)
        self.leads = "name" if first in self.named else "value"
        self.each = min(len({each.of for each in known if each.kind != "every"}), _FEW)

    def word(self, at: int) -> str:
        if not 0 <= at < len(self.spans):
            return "^" if at < 0 else "$"
        span = self.spans[at]
        if at in self.named:
            return f"<{self.named[at].kind}>"
        if span.qty is not None:
            return f"<{_shape(span.qty)}>" if at in self.places else f"<{span.qty.unit}>"
        return "<time>" if span.moment is not None else span.fold

    def of_role(self, which: int, role: Role) -> Iterator[str]:
        """What tells that a number is of a kind, whatever wine it is of."""
        value = self.found[which]
        at = value.at
        shape = _shape_of(self.spans[at])
        yield f"{role}"
        yield f"{role} {shape}"
        yield f"{role} {shape} {_size(self.spans[at])}"
        if value.count is not None:
            yield from self._around(role, at)
        yield f"{role} alone {len(self.found)} {self.several}"
        for place in (-2, -1, 1, 2):
            yield f"{role} {place} {self.word(at + place)}"
            yield f"{role} {shape} {place} {self.word(at + place)}"
        others = [_shape_of(self.spans[each.at]) for each in self.found if each.at != at]
        yield f"{role} {shape} beside {' '.join(sorted(set(others)))}"
        yield from self._among_alike(role, at)
        if which:
            before = self.found[which - 1].at
            yield f"{role} {shape} after {_shape_of(self.spans[before])} {self._mark(before, at)}"
        if which + 1 < len(self.found):
            then = self.found[which + 1].at
            yield f"{role} {shape} before {_shape_of(self.spans[then])} {self._mark(at, then)}"

    def _among_alike(self, role: Role, at: int) -> Iterator[str]:
        """What stands between a number and those before and after it that look alike, by which one is told in place of the
        other: "1.012 no 1.021", "thought it was 1.012, it's 1.021"."""
        shape = _shape_of(self.spans[at])
        alike = [each.at for each in self.found if _shape_of(self.spans[each.at]) == shape]
        if len(alike) < _SEVERAL:
            return
        rank = alike.index(at)
        several = min(self.several, _SEVERAL)
        yield f"{role} {shape} {min(rank, _FEW)} of {min(len(alike), _FEW)} {several}"
        before = alike[rank - 1] if rank else -1
        then = alike[rank + 1] if rank + 1 < len(alike) else len(self.spans)
        for place in range(max(before + 1, at - _NEAR), at):
            yield f"{role} {'since' if rank else 'led'} {self.word(place)}"
        for place in range(at + 1, min(then, at + _NEAR)):
            yield f"{role} {'until' if then < len(self.spans) else 'last'} {self.word(place)}"

    def of_wine(self, which: int, meant: Meant) -> Iterator[str]:
        """What tells that a number is of that wine, or of none that is named."""
        value = self.found[which]
        if not meant.role:
            return
        if meant.mention is None:
            yield from self._of_none(meant.role, value)
        else:
            yield from self._of(meant.role, _shape_of(self.spans[value.at]), which, meant.mention)

    def _around(self, role: str, at: int) -> Iterator[str]:
        """What can tell what became of so many bottles: the words around, and what stands around the message."""
        for place in range(max(0, at - _NEAR), min(len(self.spans), at + _NEAR + 1)):
            if place != at:
                yield f"{role} in {self.word(place)}"
                if not self._stop(min(place, at), max(place, at)):
                    yield f"{role} with {self.word(place)}"
        yield from (f"{role} {each}" for each in self.stage)

    def _stop(self, lo: int, hi: int) -> bool:
        return self._mark(lo, hi) in ("stop", "comma")

    def _of_none(self, role: str, value: Value) -> Iterator[str]:
        yield f"none {role} {self.each} {self.several}"
        yield f"none {self.each} of {len(self.known)}"
        near = [abs(each.at - value.at) for each in self.known]
        yield f"none near {min(min(near, default=9), 9)}"
        before = [each for each in self.known if each.at < value.at]
        yield f"none before {bool(before)} {self._mark(before[-1].at, value.at) if before else ''}"

    def _of(self, role: str, shape: str, which: int, mention: int) -> Iterator[str]:
        value, whose = self.found[which], self.known[mention]
        lo, hi = sorted((value.at, whose.at))
        side = "before" if whose.at < value.at else "after"
        kind = "every" if whose.kind == "every" else "one"
        between = [each for each in self.found if lo < each.at < hi]
        alike = sum(_shape_of(self.spans[each.at]) == shape for each in between)
        names = sum(lo < each.at < hi for each in self.known)
        mark = self._mark(lo, hi)
        where = f"{side} {min(len(between), 3)} {min(alike, 2)} {min(names, 2)}"
        yield from (
            f"{kind} {where}",
            f"{kind} {where} {mark}",
            f"{role} {kind} {where}",
            f"{self.leads} {kind} {where}",
            f"{self.leads} {role} {where} {mark}",
            f"{whose.kind} {where}",
            f"{side} {mark} {min(hi - lo, 6)}",
            f"{kind} {self.each} {self.several}",
            f"{kind} {role} {len(self.known)} {len(self.found)}",
        )
        # what leads from the one to the other
        inner = [self.word(at) for at in range(lo + 1, hi)]
        if len(inner) <= _FEW:
            yield f"{kind} {side} by {' '.join(inner)}"
        yield f"{kind} {side} first {inner[0] if inner else '-'}"
        yield f"{kind} {side} last {inner[-1] if inner else '-'}"
        yield f"{kind} {side} beyond {self.word(whose.at + 1) if side == 'after' else self.word(whose.at - 1)}"
        # values in a row, as many as there are names
        mine = [each for each in self.found if _shape_of(self.spans[each.at]) == shape]
        ones = [at for at, each in enumerate(self.known) if each.kind != "every"]
        rank = next(at for at, each in enumerate(mine) if each.at == value.at)
        if mention in ones:
            place = ones.index(mention)
            same = len(mine) == len(ones)
            yield f"rank {rank - place if abs(rank - place) < 3 else 'far'} {same} {len(mine)}"
            row = any(each.at < min((m.at for m in self.known), default=0) for each in mine[1:])
            row |= any(m.at < mine[0].at for m in self.known[1:])
            yield f"row {row} {rank == place} {same} {side}"
            for word in sorted(self.words & self.message.small.order.in_turn):
                yield f"{word} {rank == place} {same}"
                if self.word(whose.at + 1) == word or self.word(whose.at - 1) == word:
                    yield f"{word} beside, {rank}"
        # whether a nearer value or name takes it
        nearer = [each for each in self.found if each is not value and abs(each.at - whose.at) < hi - lo]
        nearer_alike = any(_shape_of(self.spans[each.at]) == shape for each in nearer)
        closer = any(abs(each.at - value.at) < hi - lo for each in self.known if each is not whose)
        yield f"{kind} nearer {nearer_alike} {closer} {side}"
        yield f"{role} nearer {nearer_alike} {closer} {side} {mark}"
        again = sum(each.of == whose.of for each in self.known)
        yield f"again {min(again, 3)} {kind} {side}"

    def _mark(self, lo: int, hi: int) -> str:
        """The strongest that parts two places."""
        strongest = ""
        for span in self.spans[lo + 1 : hi]:
            if span.kind == "line" or (span.kind == "mark" and span.fold in ".!?;"):
                return "stop"
            if span.kind == "mark":
                strongest = "comma"
            elif span.has("join") and not strongest:
                strongest = "and"
        return strongest


def _stage(message: Message) -> Iterator[str]:
    """What the house waits for, and what was told just now."""
    scene = message.scene
    yield from (
        f"waits {step}" for step in sorted({batch.next[0] for batch in scene.under_way if batch.next})
    )
    yield f"stock {any(batch.bottled is not None for batch in scene.batches)} {bool(scene.under_way)}"
    last = next(iter(scene.recent or ()), None)
    if last is not None and message.sent_at - last.said_at < _FRESH:
        yield f"last {kind_of(last.act)}"
    if any(isinstance(each, NumberWanted) for each in scene.open):
        yield "number wanted"


_SEVERAL = 2
_FRESH = timedelta(minutes=20)


def _shape_of(span: Span) -> str:
    return _shape(span.qty) if span.qty is not None else "amount"


def _shape(quantity: Quantity) -> str:
    """What a number looks like by itself."""
    if quantity.unit in DEGREES:
        return "degrees"
    if quantity.unit in SCALES:
        return "scale"
    if quantity.unit is not None:
        return quantity.unit
    if reads_gravity(quantity):
        return "gravity"
    if quantity.decimals >= 2:
        return "nearly"
    return "half" if quantity.decimals else "whole"


def _size(span: Span) -> str:
    many = span.qty.value if span.qty is not None else float(span.value("amount") or 0)
    for most in (0, 1.2, 6, 12, 16, 20, 24, 28, 35, 60, 90):
        if many <= most:
            return f"to {most}"
    return "over"


def shares(
    message: Message, found: Sequence[Value], known: Sequence[Mention]
) -> list[npt.NDArray[np.float64]]:
    """How likely each number is each of its `candidates`: for each number shares that sum to one."""
    model = weights_of(message.scene.language)
    return [shares_by([*map(model.score, rows)]) for rows in traits(message, found, known)]


def likeliest(
    shares: Sequence[npt.NDArray[np.float64]], found: Sequence[Value], known: Sequence[Mention]
) -> tuple[list[Meant], list[float]]:
    """What the numbers are together, and how likely each is that: no wine has two gravities in a message, if it can be
    helped."""
    every = [candidates(value, known) for value in found]
    ranked = []
    for each, share in zip(every, shares, strict=True):
        order = np.argsort(-share)[:_LIKELIEST]
        ranked.append([(each[one], log(float(share[one]) + 1e-9)) for one in order])
    best = _together(ranked, known)
    return best, [
        sum(
            float(each_share[at])
            for at, other in enumerate(each)
            if other.role == one.role and _of(other, known) == _of(one, known)
        )
        for one, each, each_share in zip(best, every, shares, strict=True)
    ]


def _together(ranked: Sequence[Sequence[tuple[Meant, float]]], known: Sequence[Mention]) -> list[Meant]:
    """What counts most of all that some numbers can be together, each given with what it counts, the likeliest first. What
    cannot come to more than the best so far is not gone into, so that ten numbers are hardly slower than two."""
    rest = [0.0] * (len(ranked) + 1)
    for at in range(len(ranked) - 1, -1, -1):
        rest[at] = rest[at + 1] + ranked[at][0][1]
    best: list[Meant] = []
    most = -1e9
    chosen: list[Meant] = []

    def go_on(worth: float, taken: frozenset[tuple[Role, frozenset[str]]]) -> None:
        nonlocal best, most
        at = len(chosen)
        if worth + rest[at] <= most:
            return
        if at == len(ranked):
            best, most = list(chosen), worth
            return
        for meant, counts in ranked[at]:
            of = known[meant.mention].of if meant.mention is not None and meant.role in _ONCE else None
            again = of is not None and (meant.role, of) in taken
            chosen.append(meant)
            go_on(worth + counts - _TWICE * again, taken if of is None else taken | {(meant.role, of)})
            chosen.pop()

    go_on(0.0, frozenset())
    return best


_ONCE = frozenset[Role]({"sg", "warm", "filled"})
"""What a wine has once in a message."""


def _of(meant: Meant, known: Sequence[Mention]) -> frozenset[str] | None:
    return known[meant.mention].batches(meant.role) if meant.mention is not None else None


@lru_cache(maxsize=8)
def weights_of(language: str) -> TraitWeights:
    """The weights of a language; the English ones where it has none."""
    return decode(file_of(language, "whose.weights").read_bytes())
