"""What only makes sense after something else: correcting, answering a reminder, and plans."""

from collections.abc import Sequence
from datetime import datetime

import msgspec

from bot.cellar.log.acts import (
    Act,
    Addition,
    Bottles,
    Done,
    Gravity,
    PutOff,
    Step,
    TakeOn,
    Temperature,
    Undo,
    kind,
)
from bot.understand.claims.additions import amount_of
from bot.understand.claims.drafts import Draft
from bot.understand.claims.plans import until
from bot.understand.scene import Recent, ReplyTo, Scene
from bot.understand.text import moods
from bot.understand.text.clauses import DOSES, Clause, reads_gravity
from bot.understand.text.names import Ref
from bot.understand.text.spans import Quantity, Span
from bot.understand.text.times import Moment
from bot.understand.verdict import Doubt

SURE_OF_AMOUNT = 2.0


def corrects(spans: Sequence[Span]) -> tuple[bool, list[Span]]:
    """Whether the message puts something right, and what is left of it without those words."""
    real = [span for span in spans if span.kind not in ("mark", "line")]
    if not real:
        return False, []
    if spans[0].fold == "*" and real and (real[0].qty is not None or real[0].ref is not None):
        return True, list(spans[1:])
    first = next((span for span in real if not span.is_("filler", "social") or span.has("correct")), real[0])
    if first.is_("correct", "strong") or (first.is_("correct", "weak") and _short(real)):
        rest = list(spans)
        while rest and (rest[0].kind == "mark" or rest[0].has("correct") or rest[0].is_("filler", "social")):
            rest = rest[1:]
        return True, rest
    return False, []


def _short(real: Sequence[Span]) -> bool:
    """A weak word like "sorry" corrects only when a value or name follows at once."""
    after = [span for span in real if not span.is_("correct", "weak") and not span.is_("filler", "social")]
    if not after or len(after) > 5:
        return False
    if any(span.is_("correct", "strong") for span in real[:4]):
        return True
    meaty = [span for span in after if span.qty is not None or span.ref is not None]
    lead = next((span for span in after if not span.is_("part", "lead")), after[0])
    return (
        bool(meaty)
        and (lead.qty is not None or lead.ref is not None)
        and all(span.qty is not None or span.ref is not None or span.has("filler") for span in after)
    )


def without_denied(spans: Sequence[Span]) -> list[Span]:
    """Leaves out what is denied: "1.014 not 1.041", "bucket 1 not 2"."""
    kept: list[Span] = []
    skip = False
    for span in spans:
        if span.is_("part", "not"):
            skip = True
            continue
        if skip and (span.qty is not None or span.ref is not None):
            skip = False
            continue
        kept.append(span)
    return kept


def amount_meant(spans: Sequence[Span], entry: Recent | None, scene: Scene) -> Draft | None:
    """ "Make that 3 tablets", "no, 28 bottles": the entry's own act with another amount; a bare amount when
    nothing is known to be put right."""
    amounts = [span.qty for span in spans if span.qty is not None]
    known = all(span.qty is not None or span.kind in ("mark", "time") or span.has("filler") for span in spans)
    if not amounts or not known:
        return None
    amount = amounts[0]
    if entry is not None and isinstance(entry.act, Addition) and amount.unit in (*DOSES, None):
        value, unit = amount_of(amount, scene)
        unit = unit or entry.act.unit
        return Draft(Addition(what=entry.act.what, amount=value, unit=unit), SURE_OF_AMOUNT, "batch")
    if entry is not None and isinstance(entry.act, Bottles) and amount.unit in ("bottle", None):
        change = int(amount.value) * (-1 if entry.act.change < 0 else 1)
        return Draft(Bottles(change=change, reason=entry.act.reason), SURE_OF_AMOUNT, "bottled")
    if (
        entry is not None
        and isinstance(entry.act, Step)
        and entry.act.bottles
        and amount.unit in ("bottle", None)
    ):
        return Draft(msgspec.structs.replace(entry.act, bottles=int(amount.value)), SURE_OF_AMOUNT, "batch")
    if entry is None and amount.unit == "tablet":
        return Draft(Addition(what="sulphite", amount=amount.value, unit="tablet"), SURE_OF_AMOUNT, "batch")
    if amount.unit in ("tablet", "sachet", "bottle", "tsp"):
        return Draft(Undo(), SURE_OF_AMOUNT, "nothing", doubt=Doubt.NOTHING_TO_CORRECT)
    return None


def put_right(entry: Recent, told: Sequence[Act], of: str | None) -> tuple[Act, ...] | None:
    """Undo and the corrected act, when what was told fits the entry; None when it does not."""
    if not told and of is not None:
        if of == entry.act.of:
            return None
        return (Undo(entry=entry.entry), msgspec.structs.replace(entry.act, of=of))
    if len(told) == 1 and isinstance(told[0], Temperature) and isinstance(entry.act, Gravity):
        return (Undo(entry=entry.entry), msgspec.structs.replace(entry.act, temp_c=told[0].temp_c))
    if len(told) != 1 or kind(told[0]) != kind(entry.act):
        return None
    new = told[0]
    changes: dict[str, object] = {"of": new.of or entry.act.of, "at": new.at or entry.act.at}
    if hasattr(new, "temp_c") and new.temp_c is None and hasattr(entry.act, "temp_c"):
        changes["temp_c"] = entry.act.temp_c
    return (Undo(entry=entry.entry), msgspec.structs.replace(new, **changes))


def reminder_reply(
    clause: Clause, replying_to: ReplyTo, sent_at: datetime, scene: Scene
) -> Done | PutOff | TakeOn | None:
    """An answer to a reminder: done, later or mine."""
    spans = clause.spans
    step = replying_to.step
    moments = list(clause.moments) + _lengths(spans)
    later = clause.means("mood", "later")
    when = until(moments, sent_at, scene)
    if when is None and clause.means("mood", "not_today"):
        when = until([Moment(days=1)], sent_at, scene)
    of, what = replying_to.of, replying_to.what
    done = Done(of=of, step=step, what=what)
    if later or (when is not None and not clause.any("step", "done") and not clause.means("mood", "done")):
        if clause.means("mood", "mine") and not later:
            return TakeOn(of=of, until=when, step=step, what=what)
        return PutOff(of=of, until=when, step=step, what=what)
    if clause.means("mood", "mine") and not moods.denied(clause):
        return TakeOn(of=of, step=step, what=what)
    if moods.denied(clause) or moods.asks(clause):
        return None
    if clause.means("mood", "done") and not clause.asked and not moods.planned(clause):
        return done
    same = step is not None and any(span.step == step and span.has("step", "done") for span in spans)
    if same and not clause.quantities and not clause.refs and not clause.asked:
        return done
    return None


def _lengths(spans: Sequence[Span]) -> list[Moment]:
    """A length of time alone: "half an hour", "2 hours"."""
    found: list[Moment] = []
    for index, span in enumerate(spans):
        if span.qty is not None and span.qty.unit in ("hour", "minute", "day"):
            size = {"hour": 1.0, "minute": 1 / 60, "day": 24.0}[span.qty.unit]
            found.append(Moment(hours=span.qty.value * size))
        elif span.has("amount") and index + 1 < len(spans) and spans[index + 1].has("unit"):
            size = {"hour": 1.0, "minute": 1 / 60}.get(spans[index + 1].value("unit") or "", 0.0)
            if size:
                found.append(Moment(hours=float(span.value("amount") or 1) * size))
    return found


def mended(spans: Sequence[Span]) -> list[Span]:
    """The message with what it puts right itself put right: "4 no 3 campden", "to dj2, sorry, dj1"."""
    kept = _without_other(spans)
    index = 1
    while index < len(kept):
        if not kept[index].has("correct"):
            index += 1
            continue
        after = index + 1
        while after < len(kept) and (
            kept[after].kind == "mark" or kept[after].has("correct") or kept[after].is_("part", "lead")
        ):
            after += 1
        place = _replaced(kept, index, after)
        if place is None:
            index = after
            continue
        old, new = kept[place], kept[after]
        if new.qty is not None and new.qty.unit is None and old.qty is not None:
            new.qty = new.qty._replace(unit=old.qty.unit)
        kept[place] = new
        del kept[index : after + 1]
    return kept


def _without_other(spans: Sequence[Span]) -> list[Span]:
    """ "1.012 not 1.021": the gravity that it is not is left out."""
    gravities = [
        index for index, span in enumerate(spans) if span.qty is not None and reads_gravity(span.qty)
    ]
    denied = [index for index in gravities if index and spans[index - 1].is_("part", "not")]
    if len(gravities) < 2 or len(denied) != 1:
        return list(spans)
    return [span for index, span in enumerate(spans) if index not in (denied[0], denied[0] - 1)]


def _replaced(spans: Sequence[Span], at: int, new_at: int) -> int | None:
    """The place of what the name or number after a correcting word stands for."""
    if new_at >= len(spans):
        return None
    new = spans[new_at]
    following = spans[new_at + 1] if new_at + 1 < len(spans) else None
    plain = following is None or following.kind in ("mark", "line") or following.has("join")
    if new.qty is not None:
        plain = plain or (following is not None and (following.has("substance") or following.ref is not None))
        same = [place for place in range(at) if _alike(spans[place].qty, new.qty)]
    elif new.ref is not None:
        same = [place for place in range(at) if _same_kind(spans[place].ref, new.ref)]
        named = [place for place in range(at) if spans[place].ref is not None]
        same = same or (named if len(named) == 1 else [])
    else:
        return None
    return same[-1] if same and plain else None


def _alike(old: Quantity | None, new: Quantity) -> bool:
    if old is None:
        return False
    return reads_gravity(old) == reads_gravity(new) and (new.unit is None or new.unit == old.unit)


def _same_kind(old: Ref | None, new: Ref) -> bool:
    """Whether one name can stand for another: a vessel for a vessel, a batch for a batch."""
    if old is None:
        return False
    batches = ("batch", "colour")
    return (old.kind in batches) == (new.kind in batches) and old != new


def without_starts(spans: Sequence[Span]) -> list[Span]:
    """ "From 1.016 to 1.010": only where it got to is news."""
    kept = list(spans)
    at = 0
    while at + 3 < len(kept):
        first, last = kept[at + 1].qty, kept[at + 3].qty
        both = first is not None and last is not None and reads_gravity(first) and reads_gravity(last)
        if both and kept[at].is_("part", "starts") and kept[at + 2].is_("part", "to"):
            del kept[at : at + 2]
        at += 1
    return kept


def unquoted(spans: Sequence[Span]) -> list[Span]:
    """The message without what it quotes: the bot's own words are no news to it."""
    for mark in ('"', "'"):
        places = [index for index, span in enumerate(spans) if span.kind == "mark" and span.fold == mark]
        if len(places) >= 2:
            return [*spans[: places[0]], *spans[places[-1] + 1 :]]
    return list(spans)
