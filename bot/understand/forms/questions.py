"""Questions by their form: about a batch, what may be done without harm, the dates to come."""

import re

from bot.cellar.log.acts import (
    Act,
    Question,
)
from bot.cellar.log.subjects import (
    IsSafe,
    Matter,
    Subject,
)
from bot.understand.forms.notation import (
    Forms,
    HouseNames,
    ReadsForm,
    group,
)


def about_batch(subject: Subject, *, bottled: bool = False) -> ReadsForm:
    """Reads a question about a batch; none where what is named is no batch."""

    def read(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
        of = house.batch(found, bottled=bottled)
        if of is None and group(found, "batch") not in (None, "it", "that", "this"):
            return ()
        if of is None and not house.scene.batches:
            return ()
        return (Question(subject=subject, of=of),)

    return read


def calendar(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """The dates to come as a file: of all, of the batch that is named, or of the one replied to."""
    said = group(found, "batch")
    if group(found, "when"):
        return ()
    of = house.batch(found) if said is not None or house.replied is not None else None
    return (Question(subject=Matter(about="calendar"), of=of),) if of is not None or said is None else ()


def safe(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """Whether something may be done without harm."""
    of = house.batch(found, bottled=True)
    if not house.scene.batches or (of is None and group(found, "batch") not in (None, "it", "that", "this")):
        return ()
    return (Question(subject=IsSafe(drink=bool(group(found, "drink"))), of=of),)
