"""What a gravity was read with: named in an answer, or told once for the whole house."""

import re
from functools import lru_cache

from bot.cellar.log.acts import Instrument
from bot.understand.forms.forms import LONGEST, wording
from bot.understand.text.language import tables_of


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
