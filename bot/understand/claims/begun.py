"""A batch begun, told in any order: its colour, litres, days, vessel and name stand all over the message.

"Forge, red, 23 l, bucket 1, 14 day kit", "It is a rosé, 23 litres, and the box says seven days. We should like to call
it Pearl", "batch=kernel type=red vol=6gal". Three such things are a beginning, or two where something says that one is.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import takewhile
from typing import NamedTuple

from bot.cellar.log.acts import Begin, Colour
from bot.understand.claims.beginnings import DAYS_OF, OwnWords, refused
from bot.understand.claims.drafts import Draft
from bot.understand.claims.labels import LabelledSaying
from bot.understand.claims.naming import named
from bot.understand.claims.readings import litres
from bot.understand.claims.said import SURE
from bot.understand.text.clauses import VOLUMES, Clause
from bot.understand.text.language import tables_of
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.sayings import Saying
from bot.understand.text.scan import fold
from bot.understand.text.spans import Span, colour_among
from bot.understand.verdict import Doubt

_LONGEST = 3
_THINGS = ("colour", "amount", "days", "vessel")


@dataclass(slots=True)
class _Beginning:
    """What is known of one beginning, and in which sayings that stood."""

    colour: Colour | None = None
    amount: float | None = None
    length: int | None = None
    """The days that it may last."""
    bare: float | None = None
    """A number alone that can be its litres."""
    days: int | None = None
    vessel: Ref | None = None
    name: str | None = None
    called: bool = False
    """The name was said to be one."""
    explicit: bool = False
    begun: bool = False
    """It was said that one of that name was begun."""
    sure: float = 1.0
    """How likely the name is right, or that none was told."""
    parts: set[int] = field(default_factory=set)

    def weight(self) -> int:
        """How many of the things that make a beginning are known."""
        return sum(getattr(self, each) is not None for each in _THINGS)

    def take(self, other: "_Beginning") -> None:
        """Takes from another what is not known of this one; who named it, and how surely, stays."""
        for each in (*_THINGS, "bare", "length"):
            setattr(self, each, getattr(self, each) or getattr(other, each))
        self.explicit, self.begun = self.explicit or other.explicit, self.begun or other.begun
        self.parts |= other.parts

    def alike(self, other: "_Beginning") -> bool:
        """Whether nothing that is known of both is known otherwise."""
        pairs = ((getattr(self, each), getattr(other, each)) for each in _THINGS)
        return all(None in pair or pair[0] == pair[1] for pair in pairs)


class Begun(NamedTuple):
    """The batches that a message begins, none where nothing is begun; which of its sayings say so; and how likely their
    names are right."""

    drafts: list[Draft]
    taken: set[int]
    sure: float


def beginnings(message: Message, said: Sequence[LabelledSaying]) -> Begun:
    """The batches that a message begins."""
    groups = _groups(message, said)
    shared = [
        group
        for group in groups
        if group.weight() and group.vessel is None and group.name is None and group.colour is None
    ]
    begun = [group for group in groups if group not in shared]
    begins = _that_begin(message, said)
    if begins and not begun:
        begun, shared = groups[:1], []
    if len(begun) == 1:
        begun[0].parts |= begins
    _name([group for group in begun if group.weight() or group.parts & begins], message, said)
    begun = _once_each(begun)
    for group in shared:  # "23 litres each, both 14 day kits"
        for other in begun:
            other.amount, other.days = other.amount or group.amount, other.days or group.days
        if begun:
            begun[0].parts |= group.parts
    each_named = len(begun) > 1 and all(group.name is not None for group in begun)
    colours = {group.colour for group in begun if group.colour is not None}
    likely = max((one.share("begin") for one in said), default=0.0) >= _LIKELY
    mine = [group for group in begun if not _of_others(group, message, said)]
    for group in mine:
        if len(begun) > 1 and len(colours) == 1:
            group.colour = group.colour or next(iter(colours))
        group.called = group.called or each_named
    surely = [group for group in mine if _kit_told(group, message, likely=likely)]
    found = [group for group in mine if group in surely or _told_begun(group, message, said, likely=likely)]
    by_words = [] if found else [group for group in mine if _by_words(group, message, begins)]
    drafts: list[Draft] = []
    taken: set[int] = set()
    sure = 1.0
    for group in found or by_words:
        draft = _draft(group, message, said)
        begins_surely = max((said[at].share("begin") for at in group.parts & begins), default=0.0) >= _SURELY
        if group not in surely and not (group.called and begins_surely):
            draft.doubt = Doubt.UNSURE
        drafts.append(draft)
        sure = min(sure, group.sure)
        taken |= {at for at in group.parts if not _tells_a_chore(said[at])}
    if drafts:
        taken |= {at for at, one in enumerate(said) if _announces(one)}
    return Begun(drafts, taken, sure)


def _kit_told(group: _Beginning, message: Message, *, likely: bool) -> bool:
    """Whether a kit is told by enough of its things: three, or two where something says that one begins."""
    kit = group.days is not None or group.colour is not None
    told = group.explicit or likely
    known = group.called and told and _free(group.vessel, message)
    return kit and (
        group.weight() >= 3 or (group.weight() >= 2 and told and (group.days is not None or known))
    )


def _told_begun(group: _Beginning, message: Message, said: Sequence[LabelledSaying], *, likely: bool) -> bool:
    """Whether it is said of a name, with an empty vessel, that it begins."""
    if _mooded(message, [said[at].saying for at in group.parts]):
        return False
    named = group.called and (group.explicit or likely) and _free(group.vessel, message)
    return group.begun or bool(named and group.weight())


def _by_words(group: _Beginning, message: Message, begins: set[int]) -> bool:
    """Whether the words alone begin it, in a vessel that is free where one is told."""
    something = group.name is not None or group.weight() >= _SOMETHING
    free = group.vessel is None or _free(group.vessel, message)
    return bool(group.parts & begins) and free and something


def _that_begin(message: Message, said: Sequence[LabelledSaying]) -> set[int]:
    """The sayings whose words begin a batch, whatever stands in them: "damson is go"."""
    found = [at for at, one in enumerate(said) if one.share("begin") >= _LIKELY and not one.saying.asked]
    likeliest = max(found, key=lambda at: said[at].share("begin"), default=None)
    if likeliest is None or _mooded(message, [said[likeliest].saying]):
        return set()
    return set(found)


def _once_each(begun: Sequence[_Beginning]) -> list[_Beginning]:
    """The beginnings, those of one name as one: "got the merlot going, 23l"."""
    found: list[_Beginning] = []
    for group in begun:
        last = found[-1] if found else None
        if last is None or group.name is None or group.name != last.name or not last.alike(group):
            found.append(group)
            continue
        last.take(group)
        last.called, last.sure = last.called or group.called, min(last.sure, group.sure)
    return found


def _of_others(group: _Beginning, message: Message, said: Sequence[LabelledSaying]) -> bool:
    """Whether the sayings that seem to make a beginning surely tell of wines that are under way."""
    share = max((said[at].share("begin") for at in group.parts), default=1.0)
    return share < _HARDLY_BEGINS and not (group.explicit or group.begun) and bool(message.scene.under_way)


_HARDLY_BEGINS = 0.03
"""Below this a saying begins no batch, whatever stands in it."""


def _announces(one: LabelledSaying) -> bool:
    """ "We are starting two today": whether it only says that something begins."""
    label, sure = one.best()
    told = any(
        span.ref is not None
        or (span.qty is not None and (span.qty.unit is not None or span.qty.value > _MOST_BEGUN))
        or any(map(span.has, ("step", "substance", "put", "measure", "question")))
        for span in one.saying.spans
    )
    return label == "begin" and sure >= _ANNOUNCED and not told and not one.saying.asked


_ANNOUNCED = 0.9
_MOST_BEGUN = 4
"""So many wines may begin at once."""


def _tells_a_chore(one: LabelledSaying) -> bool:
    """Whether it tells a chore besides; a vessel alone tells none: "a red, bucket 2"."""
    alone = all(span.ref is not None or span.has("filler") for span in one.saying.spans)
    return one.best()[0].startswith("step:") and not alone


def forms(groups: Sequence[_Beginning], message: Message) -> dict[str, str]:
    """What the forms below, and those of the grammar, take for the names of some beginnings, folded, and how."""
    stated = OwnWords(message).begin(message.spans)
    name = stated.act.name if stated is not None and isinstance(stated.act, Begin) else None
    found = {fold(name): "stated"} if name is not None else {}
    return found | {
        fold(group.name): "called" if group.called else "beside"
        for group in groups
        if group.name is not None and not refused(group.name, message.words, message.scene)
    }


def _name(begun: Sequence[_Beginning], message: Message, said: Sequence[LabelledSaying]) -> None:
    """Gives each beginning the name that it likeliest has; with several, of the words from its first saying to the next
    one's."""
    if not begun:
        return
    known = forms(begun, message)
    starts = [said[min(group.parts)].saying.spans[0].lo if group.parts else 0 for group in begun]
    ends = [*starts[1:], len(message.tokens)]
    for group, lo, hi in zip(begun, starts, ends, strict=True):
        within = None if len(begun) == 1 else (lo, hi)
        name, group.sure = named(message, known, within=within, one_of=len(begun))
        if name is None and group.begun and group.name is not None:
            continue  # "got a damson kit going"
        surely = group.sure >= _CALLED or (name == group.name and group.called)
        group.called = name is not None and surely
        group.name = name


_CALLED = 0.8
"""How likely a name at least was told as one."""


def _free(vessel: Ref | None, message: Message) -> bool:
    """Whether a wine can begin in a vessel: one that holds none, "it's pink, bucket 1, we're calling it Fizz"."""
    return vessel is not None and vessel.name not in message.targets.in_vessel


def attributes(message: Message, said: Sequence[LabelledSaying]) -> list[Draft]:
    """What a message that tells nothing else says of one batch: colour, litres, days, vessel."""
    groups = _groups(message, said)
    whole = len(groups) == 1 and groups[0].parts == set(range(len(said)))
    other = any(
        one.saying.asked or any(map(span.has, ("step", "put", "substance", "measure", "question")))
        for one in said
        for span in one.saying.spans
    )
    if not whole or not groups[0].weight() or other or _mooded(message, [one.saying for one in said]):
        return []
    if any(one.saying.wordy and one.best()[0] not in ("begin", "amend", "volume", "vessel") for one in said):
        return []
    return [_draft(groups[0], message, said)]


_SOMETHING = 2
"""So many things must be known of a batch without a name that is begun by the words alone."""
_LIKELY, _SURELY = 0.6, 0.9
"""How likely, and how surely, a saying must begin a batch."""


def _mooded(message: Message, parts: Sequence[Saying]) -> bool:
    """Whether these parts may only be planned, denied, asked or imagined; what stands beside them says nothing of that:
    "beetroot started. don't laugh"."""
    moods = ("plan", "negation", "unreal", "request", "ask")
    return message.text.rstrip().endswith("?") or any(
        span.is_("mood", mood) and span.fold not in message.small.name.going
        for part in parts
        for span in part.spans
        for mood in moods
    )


def _draft(group: _Beginning, message: Message, said: Sequence[LabelledSaying]) -> Draft:
    name = group.name
    if name is not None and refused(name, message.words, message.scene):
        name = None
    begin = Begin(
        name=name,
        litres=group.amount,
        days=group.days,
        colour=group.colour,
        vessel=group.vessel.name if group.vessel is not None else None,
    )
    draft = Draft(begin, SURE, "nothing", to=group.vessel)
    spans = [span for at in sorted(group.parts) for span in said[at].saying.spans]
    draft.clause = Clause(spans)
    draft.moments = [
        span.moment
        for span in spans
        if span.moment is not None
        and (name is None or span.fold not in name.casefold())
        and span.moment.days != group.days
    ]
    return draft


def _groups(message: Message, said: Sequence[LabelledSaying]) -> list[_Beginning]:
    """What each beginning has, in the order written: a thing said twice is another's."""
    groups = [_Beginning()]
    for at, one in enumerate(said):
        part = one.saying
        own = _of(part, message)
        if at and _names_what_follows(said[at - 1].saying, message):
            own.name = _lone_name(part, message) or own.name
            own.called = own.name is not None
        goes_on = own.bare is not None or own.length is not None
        if goes_on and not own.weight() and groups[-1].weight():
            groups[-1].bare = groups[-1].bare or own.bare
            groups[-1].length = groups[-1].length or own.length
            groups[-1].parts.add(at)
            continue
        if not own.weight() and own.name is None:
            own.name = _lone_name(part, message) if at + 1 < len(said) or groups[-1].weight() else None
            if own.name is None:
                continue
            if at + 1 < len(said) and not (_of(said[at + 1].saying, message).weight() or groups[-1].weight()):
                continue
        last = groups[-1]
        again = (
            (own.vessel is not None and last.vessel is not None)
            or (own.colour is not None and last.colour is not None and own.colour != last.colour)
            or (own.name is not None and last.name is not None and own.called == last.called)
            or (own.days is not None and last.days is not None)
            or (own.amount is not None and last.amount is not None)
        )
        each = any(span.fold in message.small.name.each for span in part.spans)
        if again or (each and last.weight()):
            last = _Beginning()
            groups.append(last)
        last.take(own)
        if own.name is not None and (last.name is None or (own.called and not last.called)):
            last.name, last.called = own.name, own.called
        last.parts.add(at)
    for group in groups:
        if group.weight() >= _BESIDE_BARE:
            group.amount = group.amount or group.bare
            group.days = group.days or group.length
    return groups


_BESIDE_BARE = 2
"""Beside so many things that make a beginning, a number alone is its litres: "gamay. red. b2. 23. 10d"."""
_KIT_SIZES = ((4.0, 6.0), (9.0, 12.0), (18.0, 30.0))
"""Litres that a kit can make."""


def _bare_litres(part: Saying, message: Message) -> float | None:
    """The litres that the only number without a unit can be, in a saying of nothing but names and numbers."""
    if any(any(map(span.has, ("step", "put", "measure", "substance", "join"))) for span in part.spans):
        return None
    numbers = [span.qty for span in part.spans if span.qty is not None and span.qty.unit is None]
    if len(numbers) != 1 or numbers[0].signed or numbers[0].value > _LITRES[1]:
        return None
    unit = "gallon" if message.scene.volume_unit == "gal" else "litre"
    amount = litres(numbers[0].value, unit, message.scene)
    return amount if any(low <= amount <= high for low, high in _KIT_SIZES) else None


def _names_what_follows(part: Saying, message: Message) -> bool:
    """ "Name: Quince", "We call it: Quince"."""
    naming = message.small.name
    folds = message.folds_of(part.spans)
    return not naming.by.isdisjoint(folds) and all(
        fold in naming.by or fold in naming.between or fold in naming.who for fold in folds
    )


def _of(part: Saying, message: Message) -> _Beginning:
    """What one saying has of a beginning."""
    found = _Beginning()
    for place, span in enumerate(part.spans):
        if span.has("begin"):
            found.explicit = True
        if span.ref is not None and span.ref.kind in ("vessel", "unknown"):
            found.vessel = found.vessel or span.ref
        colour = span.colour
        if colour is None and span.has("begin"):  # "new red called"
            colour = next(
                filter(None, (colour_among(message.words.tags(w)) for w in span.fold.split())), None
            )
        if colour is not None and not of_a_vessel(part.spans[place + 1 :]):
            found.colour = found.colour or colour
        if span.qty is None:
            continue
        if span.qty.unit is None and _LITRES[0] <= span.qty.value <= _LITRES[1] and _stands_in(part, span):
            found.amount = found.amount or litres(span.qty.value, "litre", message.scene)
        if span.qty.unit in VOLUMES and span.qty.unit != "ml":
            found.amount = found.amount or litres(span.qty.value, span.qty.unit, message.scene)
        elif span.qty.unit in DAYS_OF:
            found.days = found.days or round(span.qty.value * DAYS_OF[span.qty.unit])
    found.length = length_said(part, message)
    found.bare = _bare_litres(part, message)
    found.name = called_name(part, message)
    found.called = found.name is not None
    if found.name is None:
        found.name = _named_kit(part, message)
        plainly = message.addressed or found.weight() or any(span.has("kitword") for span in part.spans)
        begins = any(set(span.fold.split()) & message.small.name.begun for span in part.spans)
        found.begun = found.name is not None and bool(plainly) and begins
    if found.name is None and found.weight():
        found.name = _beside(part, message)
    return found


def length_said(part: Saying, message: Message) -> int | None:
    """The days that a saying may tell of a kit without their number, or as a time to come: "a fortnight", "week-long job",
    "23 litres in seven days"."""
    lengths = tables_of(message.scene.language, "kit_lengths")
    folds = message.folds_of(part.spans)
    if not message.small.name.times.isdisjoint(folds):
        return None
    for span, after in zip(part.spans, [*part.spans[1:], None], strict=True):
        if span.moment is not None:
            days = span.moment.days
            lasts = span.is_("part", "into") or (after is not None and after.has("begin"))
            if lasts and days is not None and days >= _SHORTEST_KIT:
                return days  # "28 days from start to finish"
        elif span.qty is None and (days := lengths.get(span.fold.split()[-1])) is not None:
            return int(days)
    return None


_SHORTEST_KIT = 5
"""Days of the shortest kit."""


def called_name(part: Saying, message: Message) -> str | None:
    """The name after "called", "we call it", "name is"."""
    first, last = part.spans[0].lo, part.spans[-1].hi
    tokens, naming = message.tokens, message.small.name
    for at in range(first, last):
        if tokens[at].fold not in naming.by:
            continue
        start = at + 1
        while start < last and (
            tokens[start].fold in naming.between or (start == at + 1 and tokens[start].fold in naming.led_on)
        ):
            start += 1
        if start < last and tokens[start].fold in naming.by:
            continue  # "the batch shall be known as"
        end = start
        counted = {place for span in part.spans if _attribute(span) for place in range(span.lo, span.hi)}
        while (
            end < last
            and end - start < _LONGEST
            and tokens[end].kind == "word"
            and tokens[end].fold not in message.small.name.ends
            and end not in counted
        ):
            end += 1
        if end > start and not any(span.lo <= start < span.hi and _attribute(span) for span in part.spans):
            start = _capital(message, start, end)
            end = _title_end(message, start, end, last)
            return message.text[tokens[start].start : tokens[end - 1].end]
        back = first  # "Bramble we're calling it"
        while (
            back < at
            and back - first < _LONGEST
            and tokens[back].kind == "word"
            and tokens[back].fold not in message.small.name.who
        ):
            back += 1
        if (
            first < back < at
            and tokens[back].fold in message.small.name.who
            and back not in counted
            and first not in counted
        ):
            return message.text[tokens[first].start : tokens[back - 1].end]
    return None


def _title_end(message: Message, start: int, end: int, last: int) -> int:
    """Where a name ends that is written as a title: "Midnight Omnibus to Tremblay". `end` is where it ends anyway."""
    found = end
    for at in range(start, min(last, start + _LONGEST_TITLE)):
        if message.tokens[at].kind != "word":
            break
        if _capitalised(message, at):
            found = max(found, at + 1)
        elif at == start or at > found:
            break  # no title, or more than one small word
    return found


_LONGEST_TITLE = 7


def _capital(message: Message, start: int, end: int) -> int:
    """Where a name begins that is written as one, after small words that are not: "this ship Old Bruiser"."""
    written = [at for at in range(start, end) if _capitalised(message, at)]
    closed = bool(written) and written == list(range(written[0], end))
    return written[0] if closed else start


def _capitalised(message: Message, at: int) -> bool:
    return message.text[message.tokens[at].start].isupper()


def _named_kit(part: Saying, message: Message) -> str | None:
    """The words that nothing knows between "started", "a" and "kit": "got a plum kit going", "begun the gooseberry"."""
    spans = part.spans
    naming = message.small.name
    start = next((at for at, span in enumerate(spans) if set(span.fold.split()) & naming.begun), None)
    if start is None:
        return _before_kit(part, message)
    run = list(spans[start + 1 :])
    while run and (run[0].fold in naming.is_ or run[0].has("amount")):
        run.pop(0)
    named = list(takewhile(lambda span: span.kind == "word" and span.fold not in naming.ends, run))
    after = run[len(named)] if len(named) < len(run) else None
    closed = (
        after is None
        or after.has("kitword")
        or after.has("filler")
        or after.moment is not None
        or _vessel(after)
    )
    opened = spans[start].has("begin") or (
        after is not None and (after.has("kitword") or after.fold in naming.going)
    )
    return message.words_of(named) if named and len(named) <= _LONGEST and closed and opened else None


def _before_kit(part: Saying, message: Message) -> str | None:
    """ "First the elder kit": the words that nothing knows between an article and "kit"."""
    spans = part.spans
    at = next((at for at, span in enumerate(spans) if span.has("kitword")), None)
    if at is None:
        return None
    named = list(takewhile(lambda span: span.kind == "word", reversed(spans[:at])))[::-1]
    before = spans[at - len(named) - 1] if len(named) < at else None
    led = before is not None and (before.fold in message.small.name.is_ or before.has("amount"))
    return message.words_of(named) if led and 0 < len(named) <= _LONGEST else None


def _beside(part: Saying, message: Message) -> str | None:
    """The words that nothing knows beside what a beginning has: "chandi in bucket 1", "white nimbu 23 l"."""
    run: list[Span] = []
    for place, span in enumerate(part.spans):
        if span.kind == "word" and _participle(part.spans, place, message):
            return None
        if span.kind == "word" or (span.ref is not None and span.ref.kind == "batch"):
            run.append(span)
        elif run and span.fold in message.small.name.is_:
            continue
        elif run:
            beside = _vessel(span) or span.colour is not None or span.is_("part", "into")
            before = part.spans[: part.spans.index(run[0])]
            first = all(
                _vessel(each) or each.colour is not None or _has_one(each, message) for each in before
            )
            return message.words_of(run) if beside and first and len(run) <= _LONGEST else None
        elif not (_vessel(span) or span.colour is not None or _has_one(span, message)):
            return None
    before = [span for span in part.spans if span not in run]
    named = (
        bool(run)
        and len(run) <= _LONGEST
        and all(_vessel(span) or span.colour is not None or _has_one(span, message) for span in before)
    )
    return message.words_of(run) if named else None


def _participle(spans: Sequence[Span], at: int, message: Message) -> bool:
    """ "We have bought a rosé": what was done, and no name, between who did it and what to."""
    before, after = spans[at - 1] if at else None, spans[at + 1] if at + 1 < len(spans) else None
    who = before is not None and (before.fold in message.small.name.who or before.is_("mood", "have"))
    return who and after is not None and after.fold in message.small.name.articles


def _has_one(span: Span, message: Message) -> bool:
    """Whether it leads to what there is: "is a", "we have a"."""
    naming = message.small.name
    return span.fold in naming.is_ or span.fold in naming.who or span.is_("mood", "have")


def _lone_name(part: Saying, message: Message) -> str | None:
    """One or two words that stand for themselves before or between what a beginning has: "forge, red, 23 l"."""
    words = [span for span in part.spans if not (span.is_("filler", "social") or span.kind == "mark")]
    led = next(
        (place for place, span in enumerate(words) if span.fold in message.small.name.led and place), None
    )
    after = words[led + 1 :] if led is not None else []
    if after and len(after) <= _LONGEST and all(span.kind == "word" for span in after):
        return message.words_of(after)  # "the big one is Bruno"
    count = sum(span.hi - span.lo for span in words)
    if (
        not words
        or count > _LONGEST
        or part.asked
        or any(span.qty is not None or span.moment is not None for span in words)
    ):
        return None
    if any(
        span.has(kind)
        for span in words
        for kind in ("step", "put", "measure", "substance", "kitword", "begin")
    ):
        lead = [span for span in words if span.kind == "word"]
        alone = len(lead) == 1 and not any(span.has("step") for span in words)
        return message.words_of(lead) if alone else None
    unknown = [
        span
        for span in words
        if span.kind == "word" or span.has("chatter") or (span.ref is not None and span.ref.kind == "batch")
    ]
    if not unknown:
        return None
    lead = unknown[-1:] if len(words) > len(unknown) else unknown
    return message.words_of(lead)


def of_a_vessel(after: Sequence[Span]) -> bool:
    """ "The white bucket": whether a colour before these is only a vessel's."""
    return bool(after) and after[0].ref is not None and after[0].ref.kind == "kind"


_LITRES = (4.0, 60.0)
"""Litres that a bare number before a vessel can be."""


def _stands_in(part: Saying, number: Span) -> bool:
    """ "23 in bucket 2": whether a number stands right before "in" and a vessel."""
    after = part.spans[part.spans.index(number) + 1 :][:2]
    return len(after) == 2 and after[0].is_("part", "in") and _vessel(after[1])


def _vessel(span: Span) -> bool:
    return span.ref is not None and span.ref.kind in ("vessel", "unknown")


def _attribute(span: Span) -> bool:
    return span.qty is not None or (span.ref is not None and span.ref.kind in ("vessel", "unknown"))
