"""Plans of the house's own: followed, asked for, or named in a beginning."""

import re
from collections.abc import Iterable

from bot.cellar.log.acts import (
    Act,
    Follow,
    Question,
)
from bot.cellar.log.subjects import (
    Plans,
)
from bot.understand.forms.notation import (
    Forms,
    HouseNames,
    group,
)
from bot.understand.scene import Scene
from bot.understand.text.scan import joined


def follow(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """A batch goes by a plan of the house's own."""
    of, plan = house.batch(found), _plan(found["plan"], house.scene)
    return (Follow(of=of, plan=plan),) if of is not None and plan is not None else ()


def asks_plans(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """Which plans there are, what is in one, or which one a batch goes by."""
    if (said := group(found, "batch")) is not None:
        of = house.batch(found)
        return (Question(subject=Plans(), of=of),) if of is not None and said else ()
    if (said := group(found, "plan")) is None:
        return (Question(subject=Plans()),) if found[0] not in ("plan", "plans", "the plan") else ()
    plan = _plan(said, house.scene)
    return (Question(subject=Plans(plan=plan)),) if plan else ()


def plan_mentioned(text: str, plans: Iterable[str]) -> tuple[str, str] | None:
    """The plan that a beginning names, and the message without it: "new batch: elder, 23 l, elder plan"."""
    text = joined(text)
    folded = text.casefold()
    for plan in sorted(plans, key=len, reverse=True):
        if plan.casefold() not in folded:
            continue
        form = rf"[,;]? ?(?:(?:with|on|by|using|following|after) )?(?:the |our )?(?:plan:? {re.escape(plan)}|{re.escape(plan)}(?:'s)? plan)\b"
        found = re.search(form, text, re.I)
        if found:
            return plan, (text[: found.start()] + text[found.end() :]).strip()
    return None


def _plan(said: str | None, scene: Scene) -> str | None:
    wanted = (said or "").removeprefix("the ").strip()
    return next((plan for plan in scene.plans if plan.casefold() == wanted), None)
