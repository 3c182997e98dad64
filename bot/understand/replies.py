"""What only makes sense after something else: taking back, correcting, answering a reminder, and plans."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import msgspec

from bot.cellar.acts import Act, Reminder, StepName, Undo
from bot.understand import moods
from bot.understand.clauses import Clause
from bot.understand.drafts import Draft
from bot.understand.scene import Recent, ReplyTo, Scene
from bot.understand.spans import Span
from bot.understand.times import Moment, resolve, together

RECENT = timedelta(hours=2)
_PLAN_HOUR = 10


def takes_back(spans: Sequence[Span], *, sure: bool) -> bool:
    """Whether these words only say to strike out what was written last. `sure` that they are for the bot."""
    if any(span.qty is not None or span.ref is not None or span.has("chatter") or span.has("step") for span in spans):
        return False
    unknown = sum(span.kind == "word" for span in spans)
    verb = next((index for index, span in enumerate(spans) if span.is_("undo", "verb") or span.is_("undo", "whole")), None)
    if verb is not None and unknown <= 2 and verb <= 3 and not any(span.is_("mood", "negation") for span in spans[:verb]):
        if " " in spans[verb].fold or any(span.is_("undo", "object") for span in spans[verb + 1 : verb + 3]):
            return True
    if not any(span.is_("undo", "whole") or (sure and span.is_("undo", "weak")) for span in spans):
        return False
    return all(
        span.has("undo")
        or span.kind == "mark"
        or span.kind == "line"
        or span.has("filler")
        or span.has("correct")
        or span.is_("mood", "negation")
        for span in spans
    )


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
    return bool(meaty) and all(span.qty is not None or span.ref is not None or span.has("filler") for span in after)


def without_denied(spans: Sequence[Span]) -> list[Span]:
    """Leaves out what is denied: "1.014 not 1.041", "bucket 1 not 2"."""
    kept: list[Span] = []
    skip = False
    for span in spans:
        if span.fold == "not":
            skip = True
            continue
        if skip and (span.qty is not None or span.ref is not None):
            skip = False
            continue
        kept.append(span)
    return kept


def last_entry(scene: Scene, sent_at: datetime, by: str | None, replying_to: ReplyTo | None) -> Recent | None:
    """The entry that a correction means: the newest by the same person, or the one replied to."""
    for entry in scene.recent:
        if sent_at - entry.said_at > RECENT:
            break
        same = by is not None and entry.by == by
        replied = replying_to is not None and replying_to.of is not None and entry.act.of == replying_to.of
        if same or replied:
            return entry
    return None


def put_right(entry: Recent, told: Sequence[Act], of: str | None) -> tuple[Act, ...] | None:
    """Undo and the corrected act, when what was told fits the entry; None when it does not."""
    if not told and of is not None:
        if of == entry.act.of:
            return None
        return (Undo(), msgspec.structs.replace(entry.act, of=of))
    if len(told) != 1 or type(told[0]) is not type(entry.act):
        return None
    new = told[0]
    changes = {"of": new.of or entry.act.of, "at": new.at or entry.act.at}
    if hasattr(new, "temp_c") and new.temp_c is None and hasattr(entry.act, "temp_c"):
        changes["temp_c"] = entry.act.temp_c
    return (Undo(), msgspec.structs.replace(new, **changes))


def until(moments: Sequence[Moment], sent_at: datetime, scene: Scene) -> datetime | None:
    """When a plan or a put-off reminder is for: the nearest future that was said."""
    moment = together(moments)
    if moment is None:
        return None
    when = resolve(moment, sent_at, scene.zone, "future")
    if when is None:
        return None
    if moment.clock is None and moment.hours is None and moment.part is None:
        when = when.replace(hour=_PLAN_HOUR, minute=0).astimezone(UTC).astimezone(scene.zone)
    return when if when > sent_at else None


def reminder_reply(clause: Clause, replying_to: ReplyTo, sent_at: datetime, scene: Scene) -> Draft | None:
    """An answer to a reminder: done, later or mine."""
    spans = clause.spans
    step = replying_to.step
    moments = list(clause.moments) + _lengths(spans)
    later = clause.means("mood", "later")
    when = until(moments, sent_at, scene)
    if later or (when is not None and not clause.any("step", "done") and not clause.means("mood", "done")):
        if clause.means("mood", "mine") and not later:
            return Draft(Reminder(action="mine", of=replying_to.of, until=when, step=step), 3.0, "nothing")
        return Draft(Reminder(action="later", of=replying_to.of, until=when, step=step), 3.0, "nothing")
    if clause.means("mood", "mine") and not moods.denied(clause):
        return Draft(Reminder(action="mine", of=replying_to.of, step=step), 3.0, "nothing")
    if moods.denied(clause):
        return None
    if clause.means("mood", "done") and not clause.asked and not moods.planned(clause):
        return Draft(Reminder(action="done", of=replying_to.of, step=step), 3.0, "nothing")
    if step is not None and any(span.is_("step", step) and span.has("step", "done") for span in spans):
        if not clause.quantities and not clause.refs and not clause.asked:
            return Draft(Reminder(action="done", of=replying_to.of, step=step), 3.0, "nothing")
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


def plan(clause: Clause, sent_at: datetime, scene: Scene, weights: dict[str, float]) -> Draft | None:
    """A chore that somebody takes on: "I'll do the racking", "will rack plum tomorrow"."""
    spans = clause.spans
    step = next((span for span in spans if span.has("step")), None)
    name: StepName | None = step.value("step") if step is not None else None  # type: ignore[assignment]
    if moods.denied(clause) or clause.asked or clause.any("chatter"):
        return None
    mine = clause.means("mood", "mine")
    when = until(clause.moments, sent_at, scene)
    moment = together(clause.moments)
    ahead = moment is not None and moment.days is not None and moment.days > 0
    planned = moods.planned(clause) or (ahead and step is not None and not step.has("step", "done"))
    if mine and name is not None:
        act = Reminder(action="mine", until=when, step=name)
        score = 0.6 + weights.get(name, 0.8) + (0.3 if step is not None and step.has("step", "ing") else 0.0)
        return Draft(act, score, "nothing", refs=list(clause.refs))
    if clause.means("mood", "later") and clause.any("mood") and any("remind" in span.fold for span in spans):
        act = Reminder(action="later", until=when, step=name)
        score = 1.0 + (0.8 if name else 0.0)
        return Draft(act, score, "nothing", refs=list(clause.refs))
    if planned and name is not None and (when is not None or mine) and not moods.unreal(clause):
        return Draft(Reminder(action="mine", until=when, step=name), 1.0, "nothing", refs=list(clause.refs))
    return None
