"""Clauses to bottles drunk, given away, broken or found."""

from collections.abc import Iterable, Sequence

from bot.cellar.acts import Bottles, Reason
from bot.understand import moods
from bot.understand.clauses import Clause, reads_gravity
from bot.understand.drafts import Draft
from bot.understand.spans import Quantity, Span
from bot.understand.verdict import Doubt

MOST_BOTTLES = 400
_REASONS: tuple[Reason, ...] = ("drank", "gave", "broke", "found")


def bottles_told(clause: Clause, *, wine: bool, elsewhere: Reason | None) -> list[tuple[int, Draft]]:
    """Bottles drunk, given away, broken or found. `elsewhere` is a reason said in another clause:
    "minus one rosé, bo drank it"."""
    spans = clause.spans
    at = next((index for index, span in enumerate(spans) if span.has("bottles")), None)
    signed = next(
        (s for s in spans if s.qty is not None and s.qty.signed and s.qty.unit in (None, "bottle")), None
    )
    if (at is None and signed is None) or moods.denied(clause, at) or moods.unreal(clause, at):
        return []
    if moods.planned(clause, at) or any(_other_unit(span.qty) for span in spans):
        return []
    reason: Reason | None = None
    word = spans[at].value("bottles") if at is not None else None
    if word == "there":
        more = {"more", "another", "extra"}
        if not any(more & set(span.fold.split()) for span in spans) or clause.any("topic"):
            return []
        word = "found"
    if at is not None:
        reason = "found" if word == "found" else reason_among([spans[at]])
    count = _bottle_count(spans, at)
    few = any(span.is_("vague", "amount") for span in spans) and bool(clause.refs) and at is not None
    if count is None and few and word in ("drank", "gave"):
        return [
            (at or 0, Draft(Bottles(change=-1, reason=reason), 1.0, "bottled", doubt=Doubt.HALF_UNDERSTOOD))
        ]
    if count is None or not (wine or clause.refs):
        return []
    said_bottle = any(
        span.is_("unit", "bottle") or (span.qty and span.qty.unit == "bottle") for span in spans
    )
    change = -abs(count) if reason != "found" else abs(count)
    if reason is None:
        change = -abs(count) if word == "lost" else count
        reason = elsewhere
    score = 1.0 + (0.6 if said_bottle else 0.3) if at is not None else 0.5
    draft = Draft(Bottles(change=change, reason=reason), score, "bottled")
    if any(s.qty is not None and s.qty.value % 1 for s in spans):
        draft.doubt = Doubt.HALF_UNDERSTOOD
    if at is not None:
        spans[at].used = True
    return [(at or 0, draft)]


def _bottle_count(spans: Sequence[Span], at: int | None) -> int | None:
    for span in spans:
        if span.qty is not None and span.qty.unit in (None, "bottle") and not span.used:
            if not 1 <= abs(span.qty.value) <= MOST_BOTTLES:
                return None
            span.used = True
            return int(span.qty.value)
    for index, span in enumerate(spans):
        if at is not None and span.has("amount"):
            value = float(span.value("amount") or 1)
            nouns = spans[index + 1 : index + 3]
            fits = any(item.is_("unit", "bottle") or (item.ref is not None and index > at) for item in nouns)
            if value.is_integer() and (fits or value > 1):
                span.used = True
                return int(value)
    return None


def reason_among(spans: Iterable[Span]) -> Reason | None:
    """The first reason for which bottles came or went among some words."""
    for span in spans:
        value = span.value("bottles")
        for reason in _REASONS:
            if value == reason:
                return reason
    return None


def _other_unit(quantity: Quantity | None) -> bool:
    return quantity is not None and (
        quantity.unit not in (None, "bottle", "day", "week", "month") or reads_gravity(quantity)
    )
