"""Reminders in words."""

from datetime import timedelta

from bot.cellar.due import Due
from bot.cellar.log import BatchView
from bot.cellar.plans import Plan
from bot.say.facts import STEP_TO_DO
from bot.say.manner import Manner, name, said, sg

_LATE = timedelta(hours=12)


def reminder(due: Due, view: BatchView | None, plan: Plan | None, manner: Manner) -> str:
    """One thing that is due: what, how, and the caution where it can hurt."""
    late = f" (it was due {manner.when(due.at)})" if manner.now - due.at > _LATE else ""
    if due.kind == "contact":
        return _contact(due, manner)
    if due.kind == "watch" and view is not None:
        return _watch(view, plan, manner)
    who = f"{said(due.whose)}, " if due.whose else ""
    if view is None:
        what = STEP_TO_DO[due.chore] if due.chore else "what you asked me to bring up"
        of = f" ({name(due.of)})" if due.of else ""
        return f"{who}time for {what}{of}{late}."
    if due.kind == "asked":
        what = STEP_TO_DO[due.chore] if due.chore else "it is time, as you asked"
        return f"{name(view.name)}: {who}{what}{late}."
    if due.kind == "reading" and due.step == "reading":
        latest = view.latest
        last = f" The last was {sg(latest.sg)}, {manner.ago(latest.at)}." if latest else ""
        where = view.vessel or view.name
        return (
            f"{name(view.name)}: {who}time for a gravity reading{late}.{last}\n"
            f"Send it like <code>sg {sg(latest.sg) if latest else '1.012'} {said(where)}</code>"
        )
    step = plan.step(due.step) if plan is not None else None
    if step is None:
        return f"{name(view.name)}: {who}{said(due.step)}{late}."
    lines = [f"{name(view.name)}: {who}time to {step.title}{late}.", said(step.how), said(step.caution)]
    return "\n".join(filter(None, lines))


def _watch(view: BatchView, plan: Plan | None, manner: Manner) -> str:
    """Nobody read the gravity: what to look at first."""
    latest, pitched = view.latest, view.pitched_at
    where = said(view.vessel or view.name)
    if pitched is not None and (latest is None or latest.at <= pitched):
        low, high = plan.ferment_c if plan is not None else (18.0, 24.0)
        return (
            f"{name(view.name)}: the yeast went in {manner.ago(pitched)} and nobody has read it since. Has it begun? "
            f"Look at the temperature first ({manner.temperature(low)} to {manner.temperature(high)}), then read it: "
            f"<code>sg 1.060 {where}</code>"
        )
    last = f" The last was {sg(latest.sg)}, {manner.ago(latest.at)}." if latest else ""
    return f"{name(view.name)}: its reading is overdue.{last} One number is enough: <code>sg 1.010 {where}</code>"


def _contact(due: Due, manner: Manner) -> str:
    minutes = round(due.minutes or 0)
    if manner.now - due.at > _LATE:
        return (
            f"The sanitiser's {minutes} minutes were up at {manner.when(due.at)}. Drain it if it is still in."
        )
    return f"{minutes} minutes are up: the sanitiser has had its contact time. Drain it; rinse only if its pack says so."


WHAT_READING = "What does it read? Reply to this with the number, like <code>1.012</code>"


def taken(who: str, what: str) -> str:
    """Somebody took it on."""
    return f"{what}\n✋ {said(who)} will do it."


def put_off(until_words: str, what: str) -> str:
    return f"{what}\n⏳ I will ask again {until_words}."


def done(who: str, what: str) -> str:
    return f"{what}\n✓ Done, {said(who)}."
