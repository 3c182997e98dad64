"""Clauses to additions: what was put in, and how much of it."""

from collections.abc import Sequence
from itertools import pairwise

import msgspec

from bot.cellar.log.acts import Addition, AmountUnit
from bot.understand.claims.drafts import Draft
from bot.understand.claims.readings import litres
from bot.understand.scene import Scene
from bot.understand.text.clauses import DOSES, VOLUMES, Clause, reads_gravity
from bot.understand.text.scan import Token
from bot.understand.text.spans import Quantity, Span
from bot.understand.verdict import Doubt

_GRAMS = {"g": 1.0, "kg": 1000.0, "mg": 0.001, "oz": 28.349523125, "lb": 453.59237}
_LOOSE = frozenset({"yeast", "water", "sugar", "acid"})
"""Things that are in every kitchen: they need an amount or a verb to count."""

_DOSED = frozenset({"g", "kg", "tsp", "tbsp", "tablet", "sachet", "ml"})


def amount_of(quantity: Quantity, scene: Scene) -> tuple[float, AmountUnit | None]:
    """An amount in the contract's units: grams, millilitres, litres, teaspoons, tablets, sachets."""
    unit = quantity.unit
    value = quantity.value
    if unit in _GRAMS:
        return _neat(value * _GRAMS[unit]), "g"
    if unit == "tbsp":
        return _neat(value * 3), "tsp"
    if unit in ("cl", "ml"):
        return _neat(value * (10 if unit == "cl" else 1)), "ml"
    if unit in ("litre", "gallon", "pint"):
        return litres(value, unit, scene), "l"
    if unit == "tsp":
        return _neat(value), "tsp"
    if unit == "tablet":
        return _neat(value), "tablet"
    if unit == "sachet":
        return _neat(value), "sachet"
    return _neat(value), None


def _neat(value: float) -> float:
    return round(value, 3)


class Additions:
    """Reads what was put in. `text` and `tokens` keep a thing's own words where the grammar has none."""

    def __init__(self, scene: Scene, tokens: Sequence[Token], text: str) -> None:
        self.scene = scene
        self.tokens = tokens
        self.text = text

    def read(self, clause: Clause, *, anchored: bool) -> list[tuple[int, Draft]]:
        """What was put in. Marks the amounts that it takes, so that nothing else reads them."""
        spans = clause.spans
        if clause.means("step", "top_up") or (
            clause.means("step", "mix") and clause.means("substance", "water")
        ):
            for span in spans:
                span.used = span.used or (span.qty is not None and span.qty.unit in VOLUMES)
            return []
        if self._stepwise(clause):
            return []
        put = any(span.is_("put", "done") for span in spans)
        found: list[tuple[int, Draft]] = []
        for index, span in enumerate(spans):
            what = self._what(spans, index)
            if what is None or span.used or _never_went(spans, index):
                continue
            if what == "yeast" and clause.means("step", "pitch"):
                continue
            amount = self._amount(spans, index)
            into = anchored or bool(clause.refs) or what not in _LOOSE
            here = anchored or bool(clause.refs)
            enough = put or (into and amount is not None) or (here and self._in(spans, index))
            if not clause.refs and self._elsewhere(spans, index):
                continue
            if (
                what in _LOOSE
                and amount is None
                and not any(_puts(item) for item in spans)
                and not (what == "yeast" and self._in(spans, index) and clause.refs)
            ):
                enough = False
            if what == "water":
                enough = put or (amount is not None and here and _poured(spans, index))
            if not enough or (what == "water" and amount is None and not (put and clause.refs)):
                continue
            span.used = True
            value, unit = amount if amount else (None, None)
            if unit is None and value is not None and what == "sulphite" and _tablets(span.fold):
                unit = "tablet"
            score = (0.8 if what in _LOOSE else 1.5) + (0.6 if put else 0.0) + (0.4 if amount else 0.0)
            draft = Draft(Addition(what=what, amount=value, unit=unit), score, "batch")
            if amount is None and any(other.act == draft.act for _, other in found):
                continue
            if amount is None and any(item.qty is not None and item.qty.unit == "other" for item in spans):
                draft.doubt = Doubt.HALF_UNDERSTOOD
            if value is not None and value <= 0:
                draft.doubt, draft.about = Doubt.OUT_OF_RANGE, f"{value:g}"
            found.append((index, draft))
            found += [
                (index, Draft(Addition(what=other), score, "batch")) for other in self._more(spans, index)
            ]
        if not found and put and not any(span.has("substance") or span.has("step", "done") for span in spans):
            odd = self._as_written(clause)
            if odd:
                found.append(odd)
        elif not found and not any(span.has("substance") for span in spans):
            odd = self._dosed(clause)
            if odd:
                found.append(odd)
        return found

    def _stepwise(self, clause: Clause) -> bool:
        return any(
            span.has("step", "done") and span.has("step") and "yeast" in span.fold for span in clause.spans
        )

    def _what(self, spans: Sequence[Span], at: int) -> str | None:
        span = spans[at]
        if span.has("packet") or (span.qty is None and span.is_("unit", "sachet")):
            after = next((item for item in spans[at + 1 : at + 3] if item.fold != "."), None)
            if (
                after
                and after.qty
                and after.qty.unit is None
                and after.qty.value in range(1, 21)
                and not after.used
            ):
                after.used = True
                return f"sachet {int(after.qty.value)}"
            if after and after.kind in ("word", "phrase") and len(after.fold) == 1 and after.fold.isalpha():
                after.used = True
                return f"sachet {after.fold.upper()}"
            return None
        return span.value("substance") if span.qty is None else None

    def _more(self, spans: Sequence[Span], at: int) -> list[str]:
        """The other numbers of "sachets 2 and 3"."""
        found: list[str] = []
        if not spans[at].has("packet"):
            return found
        for joint, span in zip(spans[at + 2 :: 2], spans[at + 3 :: 2], strict=False):
            if not (joint.has("join") or joint.kind == "mark") or span.used:
                break
            if span.qty is not None and span.qty.unit is None and span.qty.value in range(1, 21):
                span.used = True
                found.append(f"sachet {int(span.qty.value)}")
            elif len(span.fold) == 1 and span.fold.isalpha():
                span.used = True
                found.append(f"sachet {span.fold.upper()}")
            else:
                break
        return found

    def _amount(self, spans: Sequence[Span], at: int) -> tuple[float, AmountUnit | None] | None:
        left = self._amount_left(spans, at)
        return left if left else self._amount_right(spans, at)

    def _amount_left(self, spans: Sequence[Span], at: int) -> tuple[float, AmountUnit | None] | None:
        unit: str | None = None
        strange = 0
        for span in reversed(spans[:at]):
            if span.used and span.qty is not None:
                return None
            if span.qty is not None:
                if span.qty.unit in DOSES or (span.qty.unit is None and not reads_gravity(span.qty)):
                    span.used = True
                    return amount_of(
                        span.qty if span.qty.unit else msgspec.structs.replace(span.qty, unit=unit),
                        self.scene,
                    )
                return None
            if span.has("amount") and (unit is not None or not span.has("filler") or strange == 0):
                span.used = True
                return amount_of(
                    Quantity(float(span.value("amount") or 1), unit, 0, False, span.fold), self.scene
                )
            if span.has("unit") and unit is None and span.value("unit") in DOSES:
                unit = span.value("unit")
                continue
            if span.is_("vague", "amount") or (unit is not None and span.is_("batchword", "every")):
                return None  # "both packets": however many there were
            if span.has("put") and span.has("filler"):
                continue
            if span.has("put") or span.has("substance") or span.ref is not None or span.kind == "mark":
                break
            if not span.has("filler"):
                strange += 1
                if strange > 1:
                    break
        return amount_of(Quantity(1.0, unit, 0, False, ""), self.scene) if unit else None

    def _amount_right(self, spans: Sequence[Span], at: int) -> tuple[float, AmountUnit | None] | None:
        for index in range(at + 1, len(spans)):
            span = spans[index]
            if span.has("substance"):
                return None
            times = span.qty is not None and span.qty.unit is None and spans[index - 1].is_("part", "times")
            if span.qty is not None and not span.used and (span.qty.unit in DOSES or times):
                if self._goes_with_next(spans, index):
                    return None
                span.used = True
                return amount_of(span.qty, self.scene)
            if span.has("amount") and span.qty is None and not span.used:
                unit = _unit_after(spans, index)
                if unit is not None:
                    span.used = unit.used = True
                    count = float(span.value("amount") or 1)
                    quantity = Quantity(count, unit.value("unit"), 0, False, span.fold)
                    return amount_of(quantity, self.scene)
        return None

    def _goes_with_next(self, spans: Sequence[Span], at: int) -> bool:
        for span in spans[at + 1 : at + 3]:
            if span.has("substance"):
                return True
            if not span.has("filler"):
                return False
        return False

    def _in(self, spans: Sequence[Span], at: int) -> bool:
        """Whether the thing is said to be in something: "finings in the plum", "sachet 3 is in the plum"."""
        after = [span.fold for span in spans[at + 1 : at + 6]]
        return "in" in after or "into" in after or "to" in after[:2]

    def _dosed(self, clause: Clause) -> tuple[int, Draft] | None:
        """ "1 tsp pectic enzyme in the damson": an amount of something without a word of its own."""
        spans = clause.spans
        at = next(
            (i for i, span in enumerate(spans) if span.qty is not None and span.qty.unit in _DOSED), None
        )
        if at is None or not clause.refs or clause.means("chatter", "strong"):
            return None
        into = next((i for i, span in enumerate(spans) if span.is_("part", "into") and i > at), None)
        plus = at > 0 and spans[at - 1].fold == "+"
        after = [
            span for span in spans[at + 1 : into] if not span.is_("part", "some") and span.kind != "mark"
        ]
        before = [span for span in spans[:at] if span.kind != "mark"]
        thing = after or before
        if (
            (into is None and not plus)
            or not 1 <= len(thing) <= 3
            or not any(span.kind == "word" for span in thing)
        ):
            return None
        if any(span.ref is not None or not (span.kind == "word" or span.has("filler")) for span in thing):
            return None
        quantity = spans[at].qty
        assert quantity is not None
        for span in (spans[at], *thing):
            span.used = True
        value, unit = amount_of(quantity, self.scene)
        what = self.text[self.tokens[thing[0].lo].start : self.tokens[thing[-1].hi - 1].end].casefold()
        return at, Draft(Addition(what=what, amount=value, unit=unit), 1.0, "batch")

    def _elsewhere(self, spans: Sequence[Span], at: int) -> bool:
        """ "The campden is in the drawer": put away, and not put in."""
        for index in range(at + 1, len(spans) - 1):
            if spans[index].is_("part", "inside"):
                return any(
                    item.kind == "word" or item.has("chatter") or item.is_("part", "place")
                    for item in spans[index + 1 : index + 3]
                )
        return False

    def _as_written(self, clause: Clause) -> tuple[int, Draft] | None:
        """Something the grammar has no word for: kept as written when it is one plain thing."""
        spans = clause.spans
        start = next(index for index, span in enumerate(spans) if span.is_("put", "done"))
        thing: list[Span] = []
        count: Span | None = None
        amount, measure = 1.0, None
        vague = into = False
        for span in spans[start + 1 :]:
            if (
                span.ref is not None
                or span.kind == "mark"
                or span.is_("part", "into")
                or span.is_("part", "place_ends")
            ):
                into = span.is_("part", "into")
                break
            if span.qty is not None:
                if reads_gravity(span.qty) or span.qty.unit not in (*DOSES, None):
                    return None
                count = span
            elif span.is_("vague", "thing"):
                vague = True
            elif span.kind == "word" or (thing and span.is_("filler", "reading")):
                thing.append(span)
            elif span.has("amount") and not thing and count is None:
                amount = float(span.value("amount") or 1)
            elif span.has("unit") and not thing and span.value("unit") in DOSES:
                measure = span.value("unit")
            elif span.has("chatter"):
                return None
        if vague or (count is not None and not thing):
            if count is not None:
                count.used = True
            if not vague and count is None:
                return None
            about = " ".join(span.fold for span in thing) or "that"
            return start, Draft(Addition(what=about), 1.2, "batch", doubt=Doubt.HALF_UNDERSTOOD, about=about)
        if not 1 <= len(thing) <= 3 or not clause.refs or not into:
            return None
        lo, hi = self.tokens[thing[0].lo].start, self.tokens[thing[-1].hi - 1].end
        for span in thing:
            span.used = True
        what = self.text[lo:hi].casefold()
        value, unit = (None, None)
        if count is not None and count.qty is not None:
            count.used = True
            value, unit = amount_of(count.qty, self.scene)
        elif measure is not None:
            value, unit = amount_of(Quantity(amount, measure, 0, False, measure), self.scene)
        return start, Draft(Addition(what=what, amount=value, unit=unit), 1.0, "batch")


def _never_went(spans: Sequence[Span], at: int) -> bool:
    """ "The yeast never went in": denied right after it, with nothing else that is denied."""
    for index in range(at + 1, min(at + 3, len(spans))):
        if spans[index].is_("mood", "negation"):
            after = spans[index + 1 : index + 4]
            return not any(span.has("substance") or span.qty is not None for span in after)
    return False


def _poured(spans: Sequence[Span], at: int) -> bool:
    """Whether water is said to go into a batch or vessel: "7 litres of water into bucket 2"."""
    after = spans[at + 1 : at + 4]
    return any(
        (before.is_("part", "into") and span.ref is not None)
        or (before.fold in ("in", "into", "to") and _article(span))
        for before, span in pairwise(after)
    ) and not any(span.is_("mood", "have") or span.is_("mood", "past") for span in spans[:at])


def _article(span: Span) -> bool:
    return span.fold in ("the", "my", "our")


def _unit_after(spans: Sequence[Span], at: int) -> Span | None:
    """The unit that an amount in words goes with: "a level tsp", "half a teaspoon"."""
    for span in spans[at + 1 : at + 3]:
        if span.value("unit") in DOSES:
            return span
        if not span.has("filler") and span.kind != "word":
            return None
    return None


def _tablets(fold: str) -> bool:
    return "tab" in fold or "campden" in fold or "camden" in fold


def _puts(span: Span) -> bool:
    """A verb of putting, and not just being in."""
    return span.is_("put", "done") and not span.is_("part", "isin")
