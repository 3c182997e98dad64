"""Clauses to bottles drunk, given away, broken or found."""

from collections.abc import Iterable, Sequence

from bot.cellar.log.acts import Bottles, Reason, Step
from bot.understand.claims.drafts import Draft
from bot.understand.text import moods
from bot.understand.text.clauses import Clause, reads_gravity
from bot.understand.text.spans import Quantity, Span
from bot.understand.verdict import Doubt

MOST_BOTTLES = 400
_FEW = 3
"""So many, said without "bottles", are written down where just one wine is in bottles; more are asked about."""

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


def outright(clause: Clause) -> bool:
    """ "Drank 2", "gave 3 bottles to the neighbours": a verb of drinking or giving, and a count of nothing else.
    Where just one wine is in bottles, it is that wine."""
    spans = [span for span in clause.spans if span.kind != "mark"]
    verb = next((index for index, span in enumerate(spans) if span.has("outright")), None)
    if verb is None or clause.refs or clause.any("substance") or len(spans[:verb]) > 1:
        return False
    after = spans[verb + 1 :]
    at = next((index for index, span in enumerate(after) if span.qty is not None or _counts(span)), None)
    if at is None or any(span.is_("unit", "bottle") and " " in span.fold for span in after):
        return False
    if any(span.has(kind) for span in after for kind in ("put", "step", "measure", "packet")):
        return False
    rest = [span for span in after[at + 1 :] if not span.is_("unit", "bottle")]
    if spans[verb].is_("outright", "drank"):  # "drank 2 bottles last night" may have been the shop's
        return not rest
    several = after[at].qty is None or " of" not in after[at].fold
    return several and (
        not rest or rest[0].is_("part", "to") or rest[0].kind == "time" or rest[0].has("join")
    )


def _counts(span: Span) -> bool:
    return span.has("amount") or span.has("number") or span.is_("batchword", "batch")


def more_given(clause: Clause, before: Draft) -> Draft | None:
    """ "... and 1 to the neighbours": bottles more, gone the way of those told of just before."""
    spans = [span for span in clause.spans if span.kind != "mark"]
    if clause.hard or clause.asked or not isinstance(before.act, Bottles) or before.act.change > 0:
        return None
    number = spans[0].qty if spans else None
    plain = number is not None and number.unit in (None, "bottle") and number.value in range(1, MOST_BOTTLES)
    to = any(span.is_("part", "to") for span in spans[1:4])
    if not plain or not to or number is None or clause.any("bottles") or reads_gravity(number):
        return None
    spans[0].used = True
    act = Bottles(change=-int(number.value), reason=before.act.reason)
    return Draft(act, before.score, "bottled", refs=clause.refs or before.refs, doubt=before.doubt)


def asked_if_many(draft: Draft, clause: Clause) -> Draft:
    """Many of something that was not called bottles may be another thing."""
    said = any(
        span.is_("unit", "bottle") or (span.qty and span.qty.unit == "bottle") for span in clause.spans
    )
    if isinstance(draft.act, Bottles) and not said and -draft.act.change > _FEW:
        draft.doubt = draft.doubt or Doubt.UNSURE
    return draft


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


def counted(clause: Clause, drafts: Sequence[Draft]) -> None:
    """ "Bottled and labelled plum, 29 bottles": the count of a bottling told of before."""
    number = clause.quantities[0] if clause.only_amount() else None
    for draft in drafts:
        act = draft.act
        uncounted = isinstance(act, Step) and act.step == "bottle" and act.bottles is None
        if uncounted and number is not None and number.unit == "bottle" and 1 <= number.value <= MOST_BOTTLES:
            draft.act = Step(step="bottle", bottles=int(number.value))
