"""Messages that are read whole, by their form: vessels, splits, blends, costs, plans, stories, wishes, calendars.

They come before the grammar of clauses, and only where the whole message has a known form and every name in
it is one of the house's. What does not is left to the grammar. The forms are data, under
`forms` in the words of each subject.
"""

import re
from collections.abc import Iterator, Sequence
from datetime import datetime

from bot.cellar.log.acts import (
    Act,
    Question,
)
from bot.cellar.log.subjects import (
    BottlesToCome,
    FermentRange,
    IsAllRight,
    IsFinished,
    IsStuck,
    Matter,
)
from bot.understand.forms import additions, chores, costs, plans, questions, vessels
from bot.understand.forms.notation import LONGEST, Forms, HouseNames, ReadsForm, Unknown, forms_of, wording
from bot.understand.scene import ReplyTo, Scene

_OF_PIECES = (
    "vessel_clean",
    "vessel_dirty",
    "vessel_is",
    "vessel_sizes",
    "split",
    "half",
    "some",
    "blend",
    "poured",
)
"""Forms of facts that a piece of a message can have, beside what else it tells."""
_FACTS = frozenset({*_OF_PIECES, "cost", "costs_both", "sachets", "follow", "rota", "rota_bare"})

_ADDRESSED = frozenset({"rota_bare"})

_READERS: dict[str, ReadsForm] = {
    "vessel_clean": vessels.clean,
    "vessel_dirty": vessels.dirty,
    "vessel_is": vessels.described,
    "vessel_sizes": vessels.sizes,
    "how_much": vessels.how_much,
    "split": vessels.split_over,
    "half": vessels.some,
    "some": vessels.some,
    "blend": vessels.blend,
    "poured": vessels.blend,
    "costs_both": costs.cost,
    "cost": costs.cost,
    "sachets": additions.sachets,
    "follow": plans.follow,
    "rota": chores.rota,
    "rota_bare": chores.rota,
    "story": questions.about_batch(Matter(about="story"), bottled=True),
    "who": questions.about_batch(Matter(about="who"), bottled=True),
    "vessels": vessels.asks_vessels,
    "vessel_asked": vessels.asks_vessels,
    "plans": plans.asks_plans,
    "all_right": questions.about_batch(IsAllRight()),
    "restart": questions.about_batch(IsStuck(restart=True)),
    "stuck": questions.about_batch(IsStuck()),
    "stopped": questions.about_batch(IsFinished(stopped=True)),
    "safe": questions.safe,
    "finished": questions.about_batch(IsFinished()),
    "shopping": questions.about_batch(Matter(about="next")),
    "to_do": questions.about_batch(Matter(about="next")),
    "contact": lambda found, house, forms: (Question(subject=Matter(about="contact")),),
    "temperature_range": questions.about_batch(FermentRange()),
    "expected_bottles": questions.about_batch(BottlesToCome()),
    "reminders": lambda found, house, forms: (Question(subject=Matter(about="reminders")),),
    "calendar": questions.calendar,
}


def read_piece(text: str, scene: Scene, sent_at: datetime, *, asked: bool) -> tuple[Act, ...]:
    """What a piece of a message tells that has a form of its own: a vessel's state or size, a split, a blend; or what it
    asks, where it is `asked`."""
    forms = forms_of(scene.language)
    ways = _ways(text, forms) if asked else (wording(text),)
    if len(text) > LONGEST or not any(map(forms.has, ways)):
        return ()
    house = HouseNames(scene, sent_at, None)
    for name in (name for name in _READERS if name not in _FACTS) if asked else _OF_PIECES:
        for found in _matches(name, ways, forms):
            if acts := _READERS[name](found, house, forms):
                return acts if asked else house.timed(acts, found)
    return ()


def _ways(text: str, forms: Forms) -> tuple[str, ...]:
    """The words as they are, and without what they open with."""
    said = wording(text)
    return tuple(dict.fromkeys((forms.open.sub("", said, count=1), said)))


def _matches(name: str, ways: Sequence[str], forms: Forms) -> Iterator[re.Match[str]]:
    """How the words have a form of that name, in the order of the forms."""
    return (found for form in forms.named(name) for words in ways if (found := form.match(words)))


def read_form(
    text: str,
    scene: Scene,
    sent_at: datetime,
    replying_to: ReplyTo | None = None,
    *,
    addressed: bool = False,
) -> tuple[tuple[Act, ...], Unknown | None]:
    """The acts of a message that has a form, none for any other; and a vessel or person that it names and the
    house does not have, where that is what it lacks. Some forms are only meant for the bot when it is `addressed`."""
    if len(text) > LONGEST or "\n" in text.strip():
        return (), None
    forms = forms_of(scene.language)
    ways = _ways(text, forms)
    if not any(map(forms.has, ways)):
        return (), None
    asked = text.rstrip().endswith("?")
    house = HouseNames(scene, sent_at, replying_to)
    for name, read in _READERS.items():
        if (asked and name in _FACTS) or (name == "vessel_asked" and not asked):
            continue
        if name in _ADDRESSED and not addressed:
            continue
        for found in _matches(name, ways, forms):
            if acts := read(found, house, forms):
                return (house.timed(acts, found) if name in _FACTS else acts), None
            if house.unknown is not None and name in _FACTS:
                return (), house.unknown
    return (), None
