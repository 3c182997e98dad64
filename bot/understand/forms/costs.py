"""What something cost."""

import re

from bot.cellar.log.acts import (
    Act,
    Cost,
)
from bot.understand.forms.notation import (
    Forms,
    HouseNames,
    group,
)


def cost(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """What a kit or something else cost; of a kit and something else, both."""
    of = house.batch(found, bottled=False)
    if of is None:
        return ()
    what = group(found, "thing") or "kit"
    acts: list[Act] = []
    if group(found, "second") is not None:
        acts.append(Cost(of=of, what="kit", amount=_money(found["money"])))
        return (*acts, Cost(of=of, what=what, amount=_money(found["second"])))
    return (Cost(of=of, what=what, amount=_money(found["money"])),)


def _money(said: str) -> float:
    return float(said.replace(",", "."))
