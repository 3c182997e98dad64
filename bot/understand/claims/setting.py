"""What stands around a message, before its words are looked at: what the plans wait for, what is open, what was told just
now, and the kind of chat. "24 now" is a temperature while it ferments, and a count of bottles once they are filled.
"""

from collections.abc import Iterator, Sequence
from datetime import timedelta

from bot.cellar.log.acts import Act, Addition, Question, Step, kind
from bot.understand.scene import (
    JustSaid,
    LetterSaid,
    LookAsked,
    NumberWanted,
    Open,
    OptionsAsked,
    Recent,
    Scene,
)
from bot.understand.text.message import Message

_FRESH = timedelta(minutes=20)
_SOON = 3
"""So many of the chores to come can be meant."""
_MOST = 3
_DRY = 1.0
"""Below this gravity a ferment is nearly over."""
_WITH_FIGURES = ("number", "letter", "last")
"""What a figure may be said to; each is looked at with the kind of figure."""
_WITH_QUESTIONS = ("open", "wine", "family", "next")
WHATS = frozenset(
    {
        "sulphite",
        "sorbate",
        "finings",
        "sugar",
        "nutrient",
        "acid",
        "water",
        "oak",
        "tannin",
        "bentonite",
        "sachet",
    }
)
"""What is put in so often that it is a kind of its own."""


def kind_of(act: Act) -> str:
    """What kind of thing is told or asked."""
    if isinstance(act, Step):
        return "add finings" if act.step == "fine" else f"step {act.step}"
    if isinstance(act, Addition):
        what = act.what.partition(" ")[0].casefold()
        return "step pitch" if what == "yeast" else f"add {what if what in WHATS else 'other'}"
    if isinstance(act, Question):
        return f"ask {act.about}"
    return kind(act)


def setting_of(message: Message, figures: Sequence[str]) -> list[str]:
    """What stands around a message with figures of these kinds, each once."""
    scene = message.scene
    alone = ["always", "wine" if message.addressed else "family"]
    waits = sorted({batch.next[0] for batch in scene.under_way if batch.next})
    bottled = any(batch.bottled is not None for batch in scene.batches)
    alone += _of_batches(scene, waits, bottled=bottled)
    for each in scene.open:
        alone += _of_open(each)
    alone += _of_told(message)
    both = [
        f"{figure} & {wait}" for figure in figures for wait in [*waits, *(["bottled"] if bottled else [])]
    ]
    both += [f"{figure} & {one}" for figure in figures for one in alone if one.startswith(_WITH_FIGURES)]
    if message.text.rstrip().endswith("?"):
        both += [f"? & {one}" for one in alone if one.startswith(_WITH_QUESTIONS)]
    return list(dict.fromkeys([*alone, *both]))


def _of_batches(scene: Scene, waits: Sequence[str], *, bottled: bool) -> Iterator[str]:
    yield f"under way {min(len(scene.under_way), _MOST)}"
    if not scene.batches:
        yield "no batch"
    if bottled:
        yield "bottled"
    if any(batch.unlabelled for batch in scene.batches):
        yield "unlabelled"
    read = [batch.readings[-1][1] for batch in scene.under_way if batch.readings]
    if read:
        yield "read"
    if any(gravity < _DRY for gravity in read):
        yield "dry"
    yield from (f"next {chore}" for chore in waits)
    soon = {chore for batch in scene.under_way for chore in batch.next[1:_SOON]}
    yield from (f"soon {chore}" for chore in sorted(soon.difference(waits)))


def _of_open(each: Open) -> Iterator[str]:
    if isinstance(each, LetterSaid) and each.earlier:
        yield "earlier letter"
        return
    age = "fresh" if each.ago < _FRESH else "old"
    yield f"open {type(each).__name__} {age}"
    match each:
        case LetterSaid(things=things):
            yield from (f"letter {thing.step or thing.measure or 'what'} {age}" for thing in things)
        case NumberWanted(what=what):
            yield f"number {what} {age}"
        case OptionsAsked(options=options):
            yield from (f"option {kind_of(act)} {age}" for option in options for act in option)
        case JustSaid(asked=str(asked)):
            yield f"said {asked} {age}"
        case LookAsked() | _:
            pass


def _of_told(message: Message) -> Iterator[str]:
    fresh = [told for told in message.scene.recent or () if message.sent_at - told.said_at < _FRESH]
    if not fresh:
        yield "quiet"
        return
    yield from (f"told {kind_of(told.act)}" for told in fresh[:_MOST])
    yield f"last {kind_of(fresh[0].act)} {_whose(fresh[0], message)}"


def _whose(told: Recent, message: Message) -> str:
    return "same" if told.by == message.by else "other"
