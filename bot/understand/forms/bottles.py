"""Bottles wanted for a day: "40 bottles of white for 12 June", one wish or several."""

from datetime import datetime

from bot.cellar.log.acts import Question
from bot.cellar.log.subjects import Colour, Occasion, Wish
from bot.understand.forms.notation import HouseNames, forms_of
from bot.understand.scene import Scene
from bot.understand.text.lexicon import lexicon
from bot.understand.text.scan import fold, tidy
from bot.understand.text.spans import colour_among
from bot.understand.text.times import resolve

LONGEST = 400
MOST_BOTTLES = 999


def read_wishes(text: str, scene: Scene, sent_at: datetime) -> Question | None:
    """The question how to have them in time; None when any part of the message is no wish."""
    if len(text) > LONGEST:
        return None
    said = "\n".join(" ".join(line.split()) for line in tidy(text).casefold().splitlines())
    if "bottle" not in said and "btl" not in said:
        return None
    forms = forms_of(scene.language)
    house = HouseNames(scene, sent_at, None)
    wishes: list[Wish] = []
    for piece in forms.between.split(said):
        part = forms.open.sub("", piece.strip(" .!?:"), count=1)
        if not part:
            continue
        found = forms.wish.match(part)
        if found is None:
            return None
        colour, known = _colour(found["kind"], scene)
        when = _when(found["when"], house, scene, sent_at)
        if not known or when is None or when <= sent_at or not 1 <= int(found["n"]) <= MOST_BOTTLES:
            return None
        days = int(found["days"]) if found["days"] else None
        by = when.astimezone(scene.zone).date()
        wishes.append(Wish(bottles=int(found["n"]), by=by, colour=colour, days=days))
    return Question(subject=Occasion(wishes=tuple(wishes))) if wishes else None


def _when(said: str, house: HouseNames, scene: Scene, sent_at: datetime) -> datetime | None:
    """The day of the wish: one with a name, or a date, the next that comes."""
    named = forms_of(scene.language).days.get(said.strip())
    if named is not None:
        month, day = (int(part) for part in named.split("-"))
        here = sent_at.astimezone(scene.zone)
        found = here.replace(month=month, day=day)
        return found if found > here else found.replace(year=here.year + 1)
    moments = house.moments(said)
    return resolve(moments[0], sent_at, scene.zone, "future") if moments else None


def _colour(said: str | None, scene: Scene) -> tuple[Colour | None, bool]:
    """The colour that was said, and whether what was said is wine at all."""
    words = [word for word in (said or "").split() if word not in ("of", "some", "more", "wine", "a", "the")]
    if not words:
        return None, True
    colour = colour_among(lexicon(scene.language).tags(fold(words[0])))
    if colour is None or len(words) > 1:
        return None, False
    return colour, True
