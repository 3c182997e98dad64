"""Reminders in words."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Literal

from bot.cellar.batch.proof import true_sg
from bot.cellar.home.due import LATE_TIMER, Due
from bot.cellar.log.acts import StepName
from bot.cellar.log.fold import Batch
from bot.say import looks
from bot.say.facts import STEP_TO_DO, to_do
from bot.say.manner import Manner, name, said, sg
from bot.science import practice

_LATE = timedelta(hours=12)


def reminder(due: Due, view: Batch | None, manner: Manner) -> str:
    """One thing that is due: what, how, and the caution where it can hurt."""
    late = _when(due, manner)
    if due.kind == "contact":
        return _contact(due, manner)
    if due.kind == "watch" and view is not None:
        return _watch(view, manner)
    if due.kind == "timer":
        return looks.timer(due, view, title(due, view), manner)
    who = f"{said(due.whose)}, " if due.whose else ""
    if due.kind == "wash":
        return f"{looks.wash(due, who, late)} {looks.WASH_WITH_CARE}\n{looks.tell_washed(due)}"
    if due.level != "first" and view is not None:
        return _once_more(due, view, manner)
    if view is not None and due.kind in looks.TITLES:
        return looks.check(due, view, who, late, manner)
    if due.kind == "asked" and (due.about is not None or due.chore is None):
        return _asked(due, view, manner)
    if view is None:
        what = STEP_TO_DO[due.chore] if due.chore else due.base
        of = f" ({name(due.of)})" if due.of else ""
        return f"{who}time for {what}{of}{late}."
    if due.kind == "asked":
        return f"{name(view.name)}: {who}{STEP_TO_DO[due.chore] if due.chore else due.base}{late}."
    if due.kind == "reading" and due.base == "reading":
        latest = view.latest
        last = f" The last was {sg(latest.sg)}, {manner.ago(latest.at)}." if latest else ""
        where = view.vessel or view.name
        low = latest is not None and true_sg(view, latest) <= practice.FINISHED_BELOW.value
        proof = " If it reads the same now, it has stopped." if low else ""
        return (
            f"{name(view.name)}: {who}time for a gravity reading{late}.{last}{proof}\n"
            f"Send it like <code>sg {sg(latest.sg) if latest else '1.012'} {looks.example(manner)} {said(where)}</code>"
        )
    step = view.follows.step(due.base)
    what = said(to_do(step, due.did))
    only = looks.ONLY_IF_CLEAR if due.if_clear else ""
    lines = [f"{name(view.name)}: {who}time to {what}{late}.", only, said(step.how), said(step.caution)]
    return "\n".join(filter(None, lines))


def _when(due: Due, manner: Manner) -> str:
    """From when on, where a chore has to wait for it, or since when, where it is long ago."""
    at = manner.awake(due.at)
    if due.kind in ("chore", "reading") and at - manner.now > timedelta(minutes=1):
        return f" from {manner.clock(at)}"
    return f" (it was due {manner.when(at)})" if manner.now - at > _LATE else ""


def _asked(due: Due, view: Batch | None, manner: Manner) -> str:
    """Something that somebody asked for in their own words; a chore with the caution that its plan has."""
    of = view.name if view is not None else due.of
    where = f"{name(of)}: " if of else ""
    asker = "you" if due.asked_by == due.whose else said(due.asked_by or "somebody")
    who = f"{said(due.whose)}, " if due.whose else ""
    late = manner.now - due.at > (LATE_TIMER if due.exact else _LATE)
    was = f" (for {manner.when(due.at)})" if late else ""
    about = f": {said(due.about)}" if due.about else ""
    end = "" if about.endswith((".", "!", "?", "…")) else "."
    care = caution(due, view)
    return f"{where}{who}{asker} asked me to bring this up{was}{about}{end}" + (
        f"\n{said(care)}" if care else ""
    )


def asked_for(asked: Sequence[tuple[Due, str | None]], manner: Manner) -> str:
    """Everything that people asked to be reminded of, a line each: when, whom, of what."""
    rows: list[str] = []
    for due, of in asked:
        what = due.about or (STEP_TO_DO[due.chore] if due.chore else "")
        told = [name(of) if of else "", said(due.whose or "all of you"), said(what)]
        rows.append(f"{manner.when(due.at)}: {', '.join(filter(None, told))}")
    return "\n".join(rows) or NOTHING_ASKED


NOTHING_ASKED = "Nobody asked me for a reminder that is still open. Like this: <code>remind me on friday to buy corks</code>"


def _watch(view: Batch, manner: Manner) -> str:
    """Nobody read the gravity: what to look at first."""
    latest, pitched = view.latest, view.pitched_at
    where = said(view.vessel or view.name)
    if pitched is not None and (latest is None or latest.at <= pitched):
        low, high = view.follows.ferment_c
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


def what_number(due: Due, manner: Manner) -> str:
    """Asks for the number that a "done" alone does not tell."""
    if due.kind == "temperature":
        return f"What does it say? Reply to this with the number, like <code>{looks.example(manner)}</code>"
    return WHAT_READING


NO_LONGER_NEEDED = "↩ No longer needed."
ASKED_AGAIN = "↩ Asked again since."
TODAY = "Today:"
MORNING = "Good morning. Today:"
AWAY = "I was off for a while. What still makes sense:"
DONE, LATER, MINE, RELEASE = "Done", "Later", "I'll do it", "Not me after all"
CLEAR: dict[Literal["done", "cloudy"], str] = {"done": "It is clear", "cloudy": "Still cloudy"}
DO_LATER: dict[Literal["hour", "evening", "tomorrow"], str] = {
    "hour": "In an hour",
    "evening": "This evening",
    "tomorrow": "Tomorrow",
}

_WHY: dict[StepName | None, str] = {
    "mix": "The concentrate keeps, but only until it is opened; once mixed it wants its yeast the same day.",
    "pitch": "Must without yeast spoils within days.",
    "rack": "Wine left on its lees for weeks can take on a bad smell.",
    "stabilise": "Without its stabiliser it can spoil, or ferment again in the bottle.",
    "degas": "Gas left in keeps it cloudy and pushes at corks.",
    "fine": "Without finings it may stay cloudy.",
    "bottle": "Air in a vessel that is not quite full spoils it slowly: top it up, or bottle it.",
}


def title(due: Due, view: Batch | None) -> str:
    """What is to be done, in as few words as say it: "draw off the lees"."""
    if due.kind in ("reading", "watch") and due.base == "reading":
        return "read the gravity"
    if due.kind in looks.TITLES:
        return looks.TITLES[due.kind]
    if due.about is not None:
        return due.about
    steps = view.follows.steps if view is not None else ()
    known = [to_do(step, due.did) for step in steps if step.id == due.base]
    return known[0] if known else STEP_TO_DO[due.chore] if due.chore else "what you asked me to bring up"


def label(due: Due, view: Batch | None) -> str:
    """The same on a button, beside a batch's name."""
    return "gravity" if due.base == "reading" else looks.NAMES.get(due.kind) or title(due, view)


def _once_more(due: Due, view: Batch, manner: Manner) -> str:
    """Nobody has done it yet: to the one who took it on, to all, or plainly with why."""
    what = said(title(due, view))
    who = said(due.whose) if due.whose else ""
    only = f" {looks.ONLY_IF_CLEAR}" if due.if_clear else ""
    if due.level == "claimer":
        return f"{name(view.name)}: {who}, this is still to do: {what}.{only} If it does not suit, say so and somebody else can."
    if due.level == "all":
        had = f" {who} had it in hand." if who and due.claim else f" It is {who}'s turn." if who else ""
        return f"{name(view.name)}: nobody has done this yet: {what}.{only}{had} Who can?"
    return f"{name(view.name)}: please {what} now.{only} {_WHY[due.chore]}"


def caution(due: Due, view: Batch | None) -> str:
    """Where it can hurt; empty where it cannot."""
    if due.kind == "wash":
        return looks.WASH_WITH_CARE
    steps = view.follows.steps if view is not None else ()
    if due.kind == "asked":
        return next((step.caution for step in steps if due.chore is not None and step.does == due.chore), "")
    return next((step.caution for step in steps if step.id == due.base), "")


def line(due: Due, view: Batch | None, manner: Manner) -> str:
    """One thing among several of a day: what, and when if not yet."""
    who = f"{said(due.whose)}, " if due.whose else ""
    late = _when(due, manner)
    if due.kind == "wash":
        return looks.wash(due, who, late)
    if due.kind == "watch" or due.level != "first" or view is None or due.kind in _SHORT:
        return reminder(due, view, manner)
    only = ", if it is clear" if due.if_clear else ""
    return f"{name(view.name)}: {who}{said(title(due, view))}{only}{late}."


_SHORT = ("temperature", "collect", "taste", "asked")
"""Said in the same words among others: they are no longer than a line."""


def taken(who: str) -> str:
    """Somebody took it on."""
    return f"✋ {said(who)} will do it."


def put_off(until_words: str) -> str:
    return f"⏳ I will ask again {until_words}."


def moved(until_words: str) -> str:
    return f"⏳ Moved to {until_words}."


SEEN_TO = "That is seen to already, thank you."
FREE_AGAIN = "That is open again. Who can?"
ALL_OF_THEM = "All of them"
WHICH: dict[Literal["later", "mine"], str] = {"later": "Later…", "mine": "I'll do one…"}


def which(action: str, whom: str | None = None) -> str:
    """Asks which of a letter's things was meant; `whom` is the one who will do it, where that is another."""
    if whom is not None:
        return f"Which one will {said(whom)} do?"
    asks = {"done": "Which one is done?", "later": "Which one can wait?", "release": "Which one not?"}
    return asks.get(action, "Which one will you do?")


def noted(action: str, names: Sequence[str], who: str, when: str | None) -> str:
    """What was said of one or several things of a letter."""
    first = "\n".join(name(one) for one in names)
    if action == "done":
        return f"{first}\n{done(who)}"
    if action == "release":
        return f"{first}\n{FREE_AGAIN}"
    return f"{first}\n{taken(who) if action == 'mine' else put_off(when or '')}"


def done(who: str) -> str:
    return f"✓ Done, {said(who)}."


def has_felt(temp_c: float, who: str, manner: Manner) -> str:
    return f"✓ {manner.temperature(temp_c)}, {said(who)}."


def has_read(value: float, who: str) -> str:
    return f"✓ {sg(value)}, {said(who)}."
