"""Questions by their form: about a batch, what may be done without harm, the dates to come."""

import re
from typing import Any

from bot.cellar.log.acts import Act, Question
from bot.understand.forms.notation import Forms, HouseNames, ReadsForm, group


def about_batch(
    about: Any, verdict: Any = None, wanted: str | None = None, asked: str | None = None
) -> ReadsForm:
    """Reads a question about a batch; none where what is named is no batch."""

    def read(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
        of = house.batch(found, bottled=about in ("story", "who"))
        if of is None and group(found, "batch") not in (None, "it", "that", "this"):
            return ()
        if of is None and not house.scene.batches:
            return ()
        given: dict[str, float | str] | None = {"wanted": wanted} if wanted else None
        given = {"asked": asked} if asked else given
        return (Question(about=about, of=of, verdict=verdict, given=given),)

    return read


def calendar(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """The dates to come as a file: of all, of the batch that is named, or of the one replied to."""
    said = group(found, "batch")
    if group(found, "when"):
        return ()
    of = house.batch(found) if said is not None or house.replied is not None else None
    return (Question(about="calendar", of=of),) if of is not None or said is None else ()


def safe(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """Whether something may be done without harm."""
    of = house.batch(found, bottled=True)
    if not house.scene.batches or (of is None and group(found, "batch") not in (None, "it", "that", "this")):
        return ()
    given: dict[str, float | str] = {"asked": "drink" if group(found, "drink") else "other"}
    return (Question(about="stage", of=of, verdict="safe", given=given),)
