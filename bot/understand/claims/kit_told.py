"""What is told of a kit in passing: its colour, the days on its box, the litres it makes, where it stands, its name.

"It's a white one, says ten days on the lid", "23 litres", "we want to make a red", "call it Heron".
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import msgspec

from bot.cellar.log.acts import Begin, Colour, KitPart
from bot.science import practice
from bot.understand.claims.beginnings import DAYS_OF, refused
from bot.understand.claims.begun import called_name, length_said, of_a_vessel
from bot.understand.claims.naming import named
from bot.understand.claims.readings import litres
from bot.understand.text import moods
from bot.understand.text.clauses import VOLUMES, Clause
from bot.understand.text.language import tables_of
from bot.understand.text.message import Message
from bot.understand.text.sayings import Saying, sayings
from bot.understand.text.scan import fold
from bot.understand.text.spans import Quantity, Span

FEWEST_DAYS, MOST_DAYS = 4, 120
"""Days that a kit may take."""
FEWEST_LITRES, MOST_LITRES = 1.0, 200.0
"""Litres that a kit may make."""
_SHORT = 8
"""Spans of a saying that tells what the box says, and hardly more."""
_MOST_AROUND = 3
"""Words around a bare number that answers what was asked."""


class _KitWords(msgspec.Struct, frozen=True):
    """Words beside what a kit is (`kit` in `beginnings.toml`)."""

    has: frozenset[str]
    box: frozenset[str]
    worth: frozenset[str]
    or_: frozenset[str]
    another: frozenset[str]
    times: frozenset[str]
    greets: frozenset[str]
    made: frozenset[str]
    names: frozenset[str]
    named: frozenset[str]
    idle: frozenset[str]


@lru_cache(maxsize=8)
def _words(language: str) -> _KitWords:
    table = tables_of(language, "kit")
    return msgspec.convert(
        {("or_" if key == "or" else key): said.split() for key, said in table.items()}, type=_KitWords
    )


@dataclass(slots=True)
class KitTold:
    """What was told of a kit; of several colours each is a kit of its own."""

    colours: list[Colour]
    days: int | None = None
    amount: float | None = None
    vessel: str | None = None
    name: str | None = None
    plainly: bool = False
    """Whether a saying tells that, and hardly anything else."""
    bare: bool = False
    """Whether it is the bare number that was asked for."""

    @property
    def colour(self) -> Colour | None:
        """The one colour."""
        return self.colours[0] if len(self.colours) == 1 else None

    def begin(self, colour: Colour | None = None) -> Begin:
        """It as a beginning, of that colour where it has several."""
        return Begin(
            name=self.name,
            litres=self.amount,
            days=self.days,
            colour=colour or self.colour,
            vessel=self.vessel,
        )

    def weight(self) -> int:
        """How many of the things that make a kit were told."""
        return sum(map(bool, (self.colours, self.days, self.amount, self.vessel)))

    def completed(self, other: "KitTold") -> None:
        """Takes from another reading of the same words what this one lacks, but for the name."""
        self.colours = self.colours or other.colours
        self.days = self.days or other.days
        self.amount = self.amount or other.amount
        self.vessel = self.vessel or other.vessel
        self.plainly |= other.plainly

    def __bool__(self) -> bool:
        return bool(self.colours or self.days or self.amount or self.vessel or self.name)


def kit_told(message: Message, asked: KitPart | None = None) -> KitTold:
    """What a message tells of a kit, `asked` the thing of it that the bot had asked for: then a bare number can be it.
    What is asked, denied, supposed or told of something that was done is not of the kit."""
    told = KitTold([])
    length: int | None = None
    for part in sayings(message):
        if not _plain(part, message):
            continue
        _take(told, part, message, asked)
        length = length or length_said(part, message)
    if told.weight() >= _NAMED_WITH or asked == "days" or (told and of_a_kit(message)):
        told.days = told.days or length
    brief = asked is not None and told.weight() > 0 and len(message.text.split()) <= _BRIEF
    if (told.weight() >= _NAMED_WITH or brief) and len(told.colours) <= 1:
        name, sure = named(message, {fold(told.name): "called"} if told.name is not None else {})
        told.name = name if sure >= _LIKELY_NAMED else told.name
    idle = told.name is not None and told.name.casefold() in _words(message.scene.language).idle
    if told.name is not None and (idle or refused(told.name, message.words, message.scene)):
        told.name = None
    if asked is not None and not told:
        _take_bare(told, message, asked)
        told.bare = bool(told)
    return told


_NAMED_WITH = 2
"""So many things told of a kit, beside which a word can be its name."""
_BRIEF = 4
"""Words of an answer to what was asked, in which one may be the name: "Largo. Bucket one"."""
_LIKELY_NAMED = 0.65


def of_a_kit(message: Message) -> bool:
    """Whether a message speaks of a kit, a parcel, the making of wine."""
    words = _words(message.scene.language)
    folds = set(message.folds_of(message.spans))
    return bool(folds & (words.box | words.made)) or any(span.has("kitword") for span in message.spans)


def greets(message: Message) -> bool:
    """Whether it begins with a greeting."""
    folds = message.folds_of(message.spans)
    return bool(folds) and folds[0] in _words(message.scene.language).greets


def another(message: Message) -> bool:
    """Whether it speaks of one more batch."""
    return bool(_words(message.scene.language).another.intersection(message.folds_of(message.spans)))


def _plain(part: Saying, message: Message) -> bool:
    """Whether a saying states something, of what is."""
    clause = Clause(list(part.spans))
    words = _words(message.scene.language)
    if part.asked or moods.asks(clause) or moods.denied(clause):
        return False
    return not any(
        span.is_("mood", "unsure")
        or span.fold in words.or_
        or (moods.unreal(Clause([span])) and not _said(span, words))
        for span in part.spans
    )


def _said(span: Span, words: _KitWords) -> bool:
    """Whether it says what the box says, or what somebody wants to make, which is of the kit all the same."""
    return span.is_("mood", "plan") or bool(words.box.intersection(span.fold.split()))


def _take(told: KitTold, part: Saying, message: Message, asked: KitPart | None) -> None:
    words = _words(message.scene.language)
    folds = message.folds_of(part.spans)
    done = any(any(map(span.has, ("put", "substance", "measure"))) for span in part.spans)
    put = asked == "vessel" and not any(span.has("substance") or span.has("measure") for span in part.spans)
    chore = any(span.has("step") and span.fold not in words.box for span in part.spans)
    done |= chore
    small = all(_small(span) for span in part.spans)
    has = small or bool(words.has.intersection(folds)) or any(span.has("kitword") for span in part.spans)
    box = bool(words.box.intersection(folds)) or any(span.has("kitword") for span in part.spans)
    timed = bool(words.times.intersection(folds)) and not box
    for at, span in enumerate(part.spans):
        after = part.spans[at + 1 :]
        ours = has or box or asked == "colour"
        apart = of_a_vessel(after) or (_names_more(after) and not box)
        if span.colour is not None and ours and not done and not apart and span.colour not in told.colours:
            told.colours.append(span.colour)
        if span.qty is not None and span.qty.unit in DAYS_OF and not done and not timed:
            days = round(span.qty.value * DAYS_OF[span.qty.unit])
            if FEWEST_DAYS <= days <= MOST_DAYS:
                told.days = told.days or days
        if span.qty is not None and span.qty.unit in VOLUMES and not done:
            amount = litres(span.qty.value, span.qty.unit, message.scene)
            if FEWEST_LITRES <= amount <= MOST_LITRES and not _of_something(after, message):
                told.amount = told.amount or amount
        if span.qty is not None and span.qty.unit == "bottle" and words.worth.intersection(folds):
            told.amount = told.amount or round(span.qty.value * practice.BOTTLE_LITRES.value, 2)
        led = at > 0 and (part.spans[at - 1].is_("part", "in") or part.spans[at - 1].has("put"))
        placed = small or (led and (has or asked == "vessel"))
        stands = not done or (put and not chore)  # "we put it in bucket 1"
        if span.ref is not None and span.ref.kind == "vessel" and stands and placed:
            told.vessel = told.vessel or span.ref.name
    names = bool(folds) and (folds[0] in words.names or bool(words.named.intersection(folds)))
    if names and told.name is None:
        told.name = called_name(part, message)
    told.plainly |= bool(told) and (small or (box and len(part.spans) <= _SHORT))


def _of_something(after: Sequence[Span], message: Message) -> bool:
    """Whether a volume is of something that goes in: "2 gallons of syrup"."""
    what = [span for span in after[:2] if span.kind != "mark"]
    of = bool(what) and what[0].is_("part", "some")
    return of and len(what) > 1 and what[1].colour is None and not what[1].has("batchword")


def _names_more(after: Sequence[Span]) -> bool:
    """Whether what follows a colour is what it is the colour of, and no wine: "the pink powder"."""
    return bool(after) and (after[0].ref is not None or not _small(after[0]))


def _small(span: Span) -> bool:
    """Whether it says nothing that a kit's colour, days or litres could not stand beside."""
    if span.qty is not None or span.ref is not None or span.colour is not None or span.kind == "mark":
        return True
    return any(map(span.has, ("filler", "hedge", "batchword", "answer", "part", "kitword")))


def _take_bare(told: KitTold, message: Message, asked: KitPart) -> None:
    """ "10" where the days were asked for."""
    number = _only_number(message)
    if number is None:
        return
    value = number.value
    if asked == "days" and value.is_integer() and FEWEST_DAYS <= value <= MOST_DAYS:
        told.days = int(value)
    elif asked == "litres":
        unit = "gallon" if message.scene.volume_unit == "gal" else "litre"
        amount = litres(value, unit, message.scene)
        told.amount = amount if FEWEST_LITRES <= amount <= MOST_LITRES else None
    elif asked == "vessel" and value.is_integer():
        fits = [one.name for one in message.scene.vessels if one.name.endswith(f" {int(value)}")]
        told.vessel = fits[0] if fits else None


def _only_number(message: Message) -> Quantity | None:
    spans = [span for span in message.spans if span.kind not in ("mark", "line")]
    numbers = [span.qty for span in spans if span.qty is not None]
    rest = [span for span in spans if span.qty is None]
    alone = len(numbers) == 1 and numbers[0].unit is None and len(rest) <= _MOST_AROUND
    if not alone or message.text.rstrip().endswith("?") or not all(map(_small, rest)):
        return None
    return numbers[0]
