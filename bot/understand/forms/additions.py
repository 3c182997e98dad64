"""The kit's packets by their numbers."""

import re

from bot.cellar.log.acts import (
    Act,
    Addition,
)
from bot.understand.forms.notation import (
    Forms,
    HouseNames,
)


def sachets(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """Each packet by its number; "a" alone is a word."""
    of = house.batch(found)
    ids = re.findall(r"\b[a-z0-9]\b", found["ids"])
    if of is None or ("sachet" not in found[0] and "pack" not in found[0] and ids == ["a"]):
        return ()
    return tuple(Addition(of=of, what=f"sachet {one.upper()}") for one in ids)
