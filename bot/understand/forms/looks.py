"""What somebody says who looked whether a wine has cleared: "it's clear", "plum is still cloudy"."""

from datetime import datetime
from typing import Literal

import msgspec

from bot.understand.forms.forms import LONGEST, forms_of, wording
from bot.understand.forms.pieces import HouseNames, group
from bot.understand.scene import Scene

Found = Literal["clear", "cloudy"]
_FOUND: tuple[Found, Found] = ("cloudy", "clear")


class Clearness(msgspec.Struct, frozen=True, kw_only=True):
    """What was found; `of` is the batch where one was named. `bare` words mean it only in answer to the question."""

    found: Found
    of: str | None = None
    bare: bool = False


def clearness(text: str, scene: Scene, sent_at: datetime) -> Clearness | None:
    """What the message says of a wine's clearness; None where it is about something else, asks, or says more."""
    if len(text) > LONGEST or "\n" in text.strip() or text.rstrip().endswith("?"):
        return None
    said = wording(text)
    forms, house = forms_of(scene.language), HouseNames(scene, sent_at, None)
    for found in _FOUND:
        if any(form.match(said) for form in forms.by_name[f"{found}_it"]):
            return Clearness(found=found)
        if any(form.match(said) for form in forms.by_name[f"{found}_bare"]):
            return Clearness(found=found, bare=True)
    for found in _FOUND:
        for hit in (form.match(said) for form in forms.by_name[f"{found}_named"]):
            target = house.target(group(hit, "batch")) if hit else None
            if target is not None and target.batch is not None:
                return Clearness(found=found, of=target.batch.name)
    return None
