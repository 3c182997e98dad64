"""Who does a chore, by turns."""

import re

import msgspec

from bot.cellar.log.acts import (
    Act,
    Rota,
    StepName,
    Turns,
)
from bot.understand.forms.notation import (
    COMMA,
    Forms,
    HouseNames,
    group,
)
from bot.understand.scene import Scene
from bot.understand.text.lexicon import lexicon
from bot.understand.text.scan import fold
from bot.understand.verdict import Doubt


def rota(found: re.Match[str], house: HouseNames, forms: Forms) -> tuple[Act, ...]:
    """Who does a chore; none where somebody is not of the house, or the word is no chore."""
    members = {member.casefold(): member for member in house.scene.members}
    people: list[str] = []
    every = (said := group(found, "people")) is None or said in forms.everybody
    chore = group(found, "chore")
    step = _chore(chore, house.scene, forms) if chore is not None else None
    for part in [] if every else COMMA.split(said or ""):
        if part not in members:
            if step is not None and _strange(part, house.scene):
                house.unknown = (Doubt.UNKNOWN_MEMBER, part)
            return ()
        people.append(members[part])
    of = house.batch(found) if group(found, "batch") is not None else None
    if (chore is not None and step is None) or (group(found, "batch") is not None and of is None):
        return ()
    nobody = group(found, "nobody") is not None
    return (Rota(of=of, step=step, people=tuple(people), all=every and not nobody),)


def _strange(word: str, scene: Scene) -> bool:
    """Whether it may be somebody's name: a single word that means nothing here."""
    return word.isalpha() and not lexicon(scene.language).tags(fold(word))


def _chore(word: str, scene: Scene, forms: Forms) -> Turns | None:
    if forms.readings.fullmatch(word):
        return "reading"
    tags = [tag for tag in lexicon(scene.language).tags(fold(word)) if tag.kind == "step"]
    return msgspec.convert(tags[0].value, StepName) if tags else None
