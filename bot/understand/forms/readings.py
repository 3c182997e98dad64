"""What readings are taken with, and what somebody finds who looks whether a wine is clear."""

import re
from datetime import datetime
from functools import lru_cache
from typing import Literal

import msgspec

from bot.cellar.log.acts import Instrument
from bot.understand.forms.notation import LONGEST, HouseNames, forms_of, group, wording
from bot.understand.scene import Scene
from bot.understand.text.language import tables_of

Found = Literal["clear", "cloudy"]
_FOUND: tuple[Found, Found] = ("cloudy", "clear")


def instrument_meant(text: str, language: str, *, stated: bool = False) -> Instrument | None:
    """The instrument that the message names, alone or nearly; `stated`: the one that it says the house's Brix are
    read with. None for any other message."""
    if len(text) > LONGEST or text.rstrip().endswith("?"):
        return None
    said = wording(text)
    named, states = _forms(language)
    for form in states if stated else named:
        if found := form.fullmatch(said):
            return "refractometer" if found["refracts"] else "hydrometer"
    return None


@lru_cache(maxsize=8)
def _forms(language: str) -> tuple[tuple[re.Pattern[str], ...], tuple[re.Pattern[str], ...]]:
    plain = tables_of(language, "forms")["instrument"]
    return _compiled(plain["named"], plain), _compiled(plain["states"], plain)


def _compiled(forms: list[str], plain: dict[str, str]) -> tuple[re.Pattern[str], ...]:
    which = f"(?:(?P<refracts>{plain['refractometer']})|(?:{plain['hydrometer']}))"
    return tuple(re.compile(form.replace("<which>", which)) for form in forms)


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
        if any(form.match(said) for form in forms.named(f"{found}_it")):
            return Clearness(found=found)
        if any(form.match(said) for form in forms.named(f"{found}_bare")):
            return Clearness(found=found, bare=True)
    for found in _FOUND:
        for hit in (form.match(said) for form in forms.named(f"{found}_named")):
            target = house.target(group(hit, "batch")) if hit else None
            if target is not None and target.batch is not None:
                return Clearness(found=found, of=target.batch.name)
    return None
