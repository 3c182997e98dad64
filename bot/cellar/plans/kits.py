"""Kit plans as data: one TOML file a plan in `plans/`, read once.

A plan is an ordered list of steps. A step waits for the one before it, for so many hours, and for its gate:

- `og`       the starting gravity is written down
- `settled`  the gravity has stopped: readings that agree over 48 hours, low enough for a finished wine
- `sg_at_most`  the latest gravity is at most the step's `sg`

What a step says of temperatures comes from the plan's own: `{pitch_c[0]:g}`, `{ferment_c[1]:g}`.

`key` names a plan and its version ("kit-14@1"): a batch keeps the plan it began with, so a change of steps
is a new file with the next version.
"""

import tomllib
from functools import cache
from importlib import resources

import msgspec

from bot.cellar.plans.model import Plan as Plan
from bot.cellar.plans.model import PlanStep as PlanStep


@cache
def built_in() -> tuple[Plan, ...]:
    """The generic plans, shortest kit first. Raises msgspec.ValidationError on a file not of the form."""
    folder = resources.files("bot.cellar.plans")
    plans = [
        _filled(msgspec.convert(tomllib.loads(item.read_text(encoding="utf-8")), type=Plan))
        for item in folder.iterdir()
        if item.name.endswith(".toml")
    ]
    return tuple(sorted(plans, key=lambda plan: plan.days))


def _filled(plan: Plan) -> Plan:
    """With its own figures in what its steps say."""
    figures = {"pitch_c": plan.pitch_c, "ferment_c": plan.ferment_c}
    steps = (msgspec.structs.replace(step, how=step.how.format(**figures)) for step in plan.steps)
    return msgspec.structs.replace(plan, steps=tuple(steps))


def plan_for(days: int) -> Plan:
    """The generic plan nearest to a kit's own length in days, newest version; on a tie the longer one, since
    waiting is safe."""
    return min(built_in(), key=lambda plan: (abs(plan.days - days), -plan.days, -plan.version))


def plan_of(key: str | None, days: int) -> Plan:
    """The plan that a batch began with; the generic one for its days where none was written down."""
    return next((plan for plan in built_in() if plan.key == key), None) or plan_for(days)
