"""What somebody is going to do: plans, and until when a reminder is put off."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from bot.cellar.log.acts import Act, PutOff, Remind, StepName, TakeOn
from bot.understand.claims.drafts import Draft
from bot.understand.scene import Scene
from bot.understand.text import moods
from bot.understand.text.clauses import Clause
from bot.understand.text.times import Moment, resolve, together

_PLAN_HOUR = 10
"""When on its day a plan without an hour is for."""

_FARTHEST = timedelta(days=3660)
"""Nobody puts a chore off for longer than ten years."""


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
    return when if sent_at < when <= sent_at + _FARTHEST else None


def plan(
    clause: Clause, sent_at: datetime, scene: Scene, weights: dict[str, float], before: Clause | None = None
) -> Draft | None:
    """A chore that somebody takes on: "I'll do the racking", "will rack plum tomorrow". The clause before may
    name it: "leave the racking, I'll do it tomorrow"."""
    spans = clause.spans
    step = next((span for span in spans if span.has("step")), None)
    other = before is not None and not clause.hard and bool(clause.moments) and not before.any("step", "done")
    if step is None and before is not None and other:
        step = next((span for span in before.spans if span.has("step")), None)
    name: StepName | None = step.step if step is not None else None
    if moods.denied(clause) or clause.asked or clause.any("chatter") or _somebody_elses(clause, scene):
        return None
    mine = clause.means("mood", "mine")
    when = until(clause.moments, sent_at, scene)
    moment = together(clause.moments)
    named = step is not None and step.has("step", "ing") and moment is not None and moment.weekday is not None
    ahead = moment is not None and ((moment.days is not None and moment.days > 0) or named)
    planned = moods.planned(clause) or (ahead and step is not None and not step.has("step", "done"))
    if mine and name is not None:
        act: Act = TakeOn(until=when, step=name)
        score = 0.6 + weights.get(name, 0.8) + (0.3 if step is not None and step.has("step", "ing") else 0.0)
        return Draft(act, score, "nothing", refs=list(clause.refs))
    if clause.means("mood", "later") and clause.any("mood") and any("remind" in span.fold for span in spans):
        act = PutOff(until=when, step=name) if name is not None else Remind(until=when)
        score = 1.0 + (0.8 if name else 0.0)
        return Draft(act, score, "nothing", refs=list(clause.refs))
    own = any(span.is_("part", "ill") for span in spans)
    if (
        planned
        and name is not None
        and (when is not None or (own and clause.refs))
        and not moods.unreal(clause)
    ):
        exact = own and moment is not None and moment.exact
        score = 0.9 + weights.get(name, 0.8) if exact else 1.0
        return Draft(TakeOn(until=when, step=name), score, "nothing", refs=list(clause.refs))
    return None


def _somebody_elses(clause: Clause, scene: Scene) -> bool:
    """ "Ana will rack the plum": a plan that is not the writer's own."""
    return any(span.fold in scene.members and span.is_("mood", "subject") for span in clause.spans)
