"""Plans in words: as a small text that can be typed in elsewhere, shown back for a yes, and compared."""

from collections.abc import Sequence

from bot.cellar.log.fold import Batch
from bot.cellar.plans.leaflet import Change, Misgiving, misgivings
from bot.cellar.plans.model import Plan, PlanStep
from bot.say.manner import Manner, listed, name, said, sg
from bot.science import practice

UNCLEAR = "Lines with “?” I could not read: I keep them as they are. The leaflet goes first."


def plan_text(plan: Plan) -> str:
    """The plan as plain text, a step a line. Pasted back, it gives the same plan."""
    head = f"plan for {plan.title}, {plan.days} days, a step a line:"
    keep = (
        [f"Keep at {plan.ferment_c[0]:g}-{plan.ferment_c[1]:g} °C"]
        if plan.ferment_c != practice.FERMENT_C.value
        else []
    )
    return "\n".join([head, *keep, *(step_text(step) for step in plan.steps)])


def step_text(step: PlanStep) -> str:
    """One step: day, gate, what to do; a line that was not understood behind a question mark."""
    holds = [
        f"{sg(step.sg)} or less" if step.sg is not None else "",
        "steady" if step.gate == "settled" else "",
        "clear" if step.clear else "",
    ]
    told_gates = " and ".join(filter(None, holds))
    gate = f"when {told_gates}" if told_gates else ""
    when = ", ".join(filter(None, (f"day {step.day}" if step.day is not None else "", gate)))
    often = f", {step.times} times, {step.every_hours:g} hours apart" if step.times > 1 else ""
    title = f"{step.title}{often}"
    told = f"{when[0].upper()}{when[1:]}: {title}" if when else title
    return f"? {told}" if step.unclear else told


def preview(plan: Plan) -> str:
    """The plan that was read, and the question whether it is right."""
    lines = [f"{name(plan.title)}, {plan.days} days. Have I read it right?"]
    lines += [said(step_text(step)) for step in plan.steps]
    if any(step.unclear for step in plan.steps):
        lines.append(UNCLEAR)
    asked = misgivings(plan)
    lines += [questioned(one) for one in asked]
    if asked:
        lines.append("Please look at the leaflet again: what does it really say there?")
    return "\n".join(lines)


def questioned(asked: Misgiving) -> str:
    """Why a line is not kept unasked."""
    line = f"<b>Really?</b> “{said(asked.step.title)}”"
    match asked.why:
        case "before_yeast":
            return f"{line}: before the yeast is in, that would stop the ferment before it begins."
        case "after_bottling":
            return f"{line}: after the bottles are corked it comes too late; before, it keeps them from bursting."
        case "dose":
            times = "ten times" if asked.times > 5 else "several times" if asked.times > 2 else "more than"
            return f"{line}: that is {times} what a kit of {practice.KIT_LITRES.value:g} l takes, and too much of it can make people ill."


def kept(plan: Plan) -> str:
    """How to use the plan just kept."""
    return (
        f"Begin with it: <code>new batch: {said(plan.title)}, 23 l in bucket 2, {said(plan.title)} plan</code>. "
        f"<code>show the {said(plan.title)} plan</code> gives it as text to pass on."
    )


def changed(old: Plan, changes: Sequence[Change], batches: Sequence[Batch]) -> str:
    """What the new version changes, and that batches under way keep theirs."""
    if not changes:
        return f"Nothing differs from version {old.version}."
    lines = [f"Against version {old.version}:"]
    for change in changes:
        if change.old is None and change.new is not None:
            lines.append(f"new: {said(step_text(change.new))}")
        elif change.new is None and change.old is not None:
            lines.append(f"gone: {said(step_text(change.old))}")
        elif change.old is not None and change.new is not None:
            lines.append(f"{said(step_text(change.new))} (was: {said(step_text(change.old))})")
    if batches:
        who = listed([name(view.name) for view in batches])
        lines.append(
            f"{who} {'keeps' if len(batches) == 1 else 'keep'} version {old.version}, begun with it."
        )
    return "\n".join(lines)


def shown(plan: Plan) -> str:
    """The plan to be read, copied and passed on."""
    return f"<code>{said(plan_text(plan))}</code>"


def listing(plans: Sequence[Plan], manner: Manner) -> str:
    """The plans that the house has."""
    if not plans:
        return "No plans of your own yet. Paste the leaflet's lines, like:\n" + EXAMPLE
    rows = [f"{name(plan.title)}, {plan.days} days (version {plan.version})" for plan in plans]
    return "\n".join([*rows, f"<code>show the {said(plans[-1].title)} plan</code> gives one as text."])


EXAMPLE = (
    "<code>plan for elder:\nDay 1 add sachet A, stir\n"
    "Day 7 when 0.996 or less add B and C, degas for 10 min\nDay 14 bottle</code>"
)
