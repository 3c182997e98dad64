"""What happened to bottles, told in any order: drunk, given away, broken, found.

A count stands for bottles where nothing else is counted by it, and a word of its saying, or of the one before it, tells what
became of them. What only says how a number just told is made up ("two, one with the fish and one without") counts once.
"""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from functools import lru_cache
from itertools import pairwise
from typing import Any, Literal

from bot.cellar.log.acts import Bottles, Note, Reason, Step
from bot.understand.claims.bottles import MOST_BOTTLES
from bot.understand.claims.drafts import Draft
from bot.understand.scene import JustSaid, NumberWanted, SceneBatch
from bot.understand.text.clauses import Clause, of_bottles, reads_gravity
from bot.understand.text.language import tables_of
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.sayings import Saying, asks
from bot.understand.text.spans import Span
from bot.understand.verdict import Doubt

How = Literal["drank", "gave", "broke", "found", "lost"]
"""What became of bottles; `lost` where they are gone for a reason that nobody tells."""
_REASONS: dict[How, Reason | None] = {
    "drank": "drank", "gave": "gave", "broke": "broke", "found": "found", "lost": None
}  # fmt: skip
_SPOKEN = timedelta(minutes=20)
"""So long what was spoken of is still what is spoken of."""
_FEW = 6
"""A number with its sign and nothing else is of bottles up to here."""
_MANY = 99
"""More than so many are counted only where they are called bottles, or by the name of a wine."""
_BEYOND = 9.0
_FEW_WORDS = 2
_WINES = ("batch", "colour", "every")
"""Names that stand for wines."""
_LASTED = ("minute", "hour")
"""Units of how long it took."""
_PLAIN = ("step", "substance", "packet", "measure", "question", "correct", "undo", "begin")
"""Words that tell or ask something of their own."""


@dataclass(frozen=True, slots=True)
class ShelfPatterns:
    """The words of a language for what happens to bottles."""

    broke: re.Pattern[str]
    gave: re.Pattern[str]
    carried: re.Pattern[str]
    toward: re.Pattern[str]
    drank: re.Pattern[str]
    lost: re.Pattern[str]
    found: re.Pattern[str]
    other: re.Pattern[str]
    taken: re.Pattern[str]
    remain: re.Pattern[str]
    plan: re.Pattern[str]
    elsewhere: re.Pattern[str]
    ours: re.Pattern[str]
    tainted: re.Pattern[str]
    stores: re.Pattern[str]
    apiece: re.Pattern[str]
    kept: re.Pattern[str]
    each: re.Pattern[str]
    counted: re.Pattern[str]
    of: frozenset[str]
    after: frozenset[str]
    before: frozenset[str]
    single: frozenset[str]
    ordinal: frozenset[str]
    own: frozenset[str]
    pointed: frozenset[str]
    off: frozenset[str]
    ranks: frozenset[str]
    goes_on: frozenset[str]
    them: frozenset[str]
    rather: frozenset[str]
    ends: frozenset[str]
    leads_there: frozenset[str]


@lru_cache(maxsize=8)
def patterns_of(language: str) -> ShelfPatterns:
    """The patterns of a language; the English ones where it has none."""
    return ShelfPatterns(**patterns_in(tables_of(language, "shelf")))


def patterns_in(table: Mapping[str, Any]) -> dict[str, Any]:
    """A table of words made ready: of several lines one pattern, of a line its words."""
    return {
        key: _any_of(said) if isinstance(said, list) else frozenset(said.split())
        for key, said in table.items()
    }


def _any_of(lines: Sequence[str]) -> re.Pattern[str]:
    """One pattern of several: in a line without brackets, "a|b c" stands for "a c" and "b c"."""
    made = [line if "(" in line else " ".join(f"(?:{word})" for word in line.split(" ")) for line in lines]
    return re.compile("|".join(rf"\b(?:{one})(?!\w)" for one in made))


@dataclass(slots=True)
class _CountTold:
    """A count of bottles in a saying: where it stands, how many, and whether they are called bottles or by a name."""

    place: int
    many: int
    plainly: bool
    refs: list[Ref]
    span: Span


@dataclass(slots=True)
class OffTheShelf:
    """What became of bottles in a message: drafts by the place of their saying, and the places of sayings that only say
    how or with whom."""

    drafts: dict[int, list[Draft]] = field(default_factory=dict)
    said: set[int] = field(default_factory=set)
    """Sayings that tell nothing further."""

    @property
    def every(self) -> list[Draft]:
        """All drafts in the order told."""
        return [draft for place in sorted(self.drafts) for draft in self.drafts[place]]


def happened(message: Message, parts: Sequence[Saying]) -> OffTheShelf:
    """What became of bottles by what a message says; nothing where no wine can be meant."""
    if not _any_bottled(message, parts) or not of_the_house(message, parts):
        return OffTheShelf()
    if already_counted(message):
        return OffTheShelf()
    if signed := _signed(message, parts):
        return OffTheShelf(signed, {at for at in range(len(parts)) if at not in signed})
    return _ShelfRead(message, parts).read()


def already_counted(message: Message) -> bool:
    """ "It was in the count already": whether what is told of bottles changes nothing."""
    said = " ".join(message.folds_of(message.spans))
    return patterns_of(message.scene.language).counted.search(said) is not None


class _ShelfRead:
    """Reads the sayings of one message, one after the other."""

    def __init__(self, message: Message, parts: Sequence[Saying]) -> None:
        self.message = message
        self.parts = parts
        self.words = patterns_of(message.scene.language)
        self.found = OffTheShelf()
        self.told: list[tuple[Draft, int]] = []
        self.loose: tuple[int, _CountTold] | None = None
        """A count of which nothing was told yet, and the place of its saying."""
        self.listed: list[tuple[int, _CountTold]] = []
        """All of these."""
        self.parted: set[int] = set()
        self.more = _how_before(message)
        """What became of the bottles that the message goes on from."""
        self.to_come = False
        """Whether the saying before tells what is planned, or of something else."""
        self.refs: list[Ref] = []
        self.fills = _fills(parts)

    def read(self) -> OffTheShelf:
        for at, part in enumerate(self.parts):
            self._saying(at, part)
            named = _wines(part.spans)
            if named:  # "added finings to the fig and had one": not of a wine that is in no bottles yet
                self.refs = named if self.fills or self._in_bottles(named) else []
        self._left_over()
        every = {ref for part in self.parts for ref in _wines(part.spans)}
        names = {ref for ref in every if self.fills or self._in_bottles([ref])}
        for draft, _ in self.told:
            draft.refs = draft.refs or (list(names) if len(names) == 1 else [])
        if self.found.drafts:
            self.found.said |= {
                at
                for at, part in enumerate(self.parts)
                if at not in self.found.drafts and tells_nothing_more(part, self.message)
            }
        return self.found

    def _saying(self, at: int, part: Saying) -> None:
        said = " ".join(self.message.folds_of(part.spans))
        if not part.asked and remaining(self.message, part):
            self._still_there(at, part)
            return
        if not _is_fact(part, said, self.words):
            kept = _counts(self.message, part, self.words) if self.words.kept.search(said) else ()
            self.loose = (at, kept[0]) if kept else None
            self.to_come = self.words.plan.search(said) is not None
            return
        if self.to_come and not part.hard and not _has_verb(said, self.words):
            self.found.said.add(at)
            return  # "bringing a white and a red to yours"
        self.to_come = False
        counts = _counts(self.message, part, self.words)
        headed = bool(at) and _only_names(self.parts[at - 1])
        if counts and headed and not counts[0].refs and self._in_bottles(self.refs):
            counts[0].plainly, counts[0].refs = True, list(self.refs)  # "plum: 2 to my sister"
        reason = _reason(said, self.words, counts, part)
        if not counts:
            self._of_the_last(at, part, reason)
        elif self.told and self.told[-1][1] == at - 1 and _puts_right(part, counts, self.words, self.message):
            last = self.told[-1][0]
            assert isinstance(last.act, Bottles)
            last.act = Bottles(
                change=int(math.copysign(counts[0].many, last.act.change)), reason=last.act.reason
            )
            self.found.said.add(at)
        elif at in self.parted:
            self.found.said.add(at)  # how the number before is made up
        else:
            self._counted(at, part, counts, reason)

    def _still_there(self, at: int, part: Saying) -> None:
        """ "Ten of the white left": how many there are, unless the message told how they became so few."""
        counts = _counts(self.message, part, self.words)
        if self.told:
            self.found.said.add(at)
            return
        kept = [each for each in self.message.scene.batches if each.bottled is not None and each.bottles_left]
        refs = (counts[0].refs or self.refs) if counts else []
        named = {target.of for ref in refs for target in self.message.targets.of(ref, bottled=True)}
        kept = [batch for batch in kept if not named or batch.name in named]
        numbers = [
            number
            for number, after in zip(part.spans, [*part.spans[1:], None], strict=True)
            if number.qty is not None
            and number.qty.unit in (None, "bottle")
            and (after is None or after.fold.startswith(("left", "remain")))
        ]
        spans = [count.span for count in counts] or numbers
        many = counts[0].many if counts else 0
        if not counts and len(numbers) == 1 and numbers[0].qty is not None:
            many = int(numbers[0].qty.value)
        if len(spans) != 1 or len(kept) != 1 or not 1 <= many <= (known := kept[0].bottles_left or 0):
            return
        clause = Clause(list(part.spans), hard=part.hard)
        act = Bottles(change=many - known, left=many)
        draft = Draft(act, _BEYOND, "bottled", refs=[Ref("batch", kept[0].name)], clause=clause)
        spans[0].used = True
        self.found.drafts[at] = [draft]

    def _of_the_last(self, at: int, part: Saying, reason: How | None) -> None:
        """ "Kept one back, and drank it", "one fell. broken": what became of what was counted before."""
        if self.loose is not None and reason is not None:
            place, count = self.loose
            if _of_them(part, self.words) or count.refs or reason == "broke":
                refs = count.refs or self.refs
                draft = _draft(count.many, reason, part, refs, self.words, self.message)
                if count.span.is_("part", "more") and _just_filled(self.message):
                    draft.doubt = Doubt.UNSURE
                self.found.drafts[at] = [draft]
                self.found.said.add(place)
                self.told.append((draft, at))
                self.loose = None
        elif self.told and reason == "broke" and not any(span.ref is not None for span in part.spans):
            last = self.told[-1][0]
            untold = isinstance(last.act, Bottles) and last.act.reason is None
            if isinstance(last.act, Bottles) and (untold or len(part.spans) <= _FEW_WORDS):
                last.act = Bottles(change=last.act.change, reason="broke")
                self.found.said.add(at)

    def _counted(self, at: int, part: Saying, counts: Sequence[_CountTold], reason: How | None) -> None:
        own = _wines(part.spans)
        mine: list[Draft] = []
        for number, count in enumerate(counts):
            until = counts[number + 1].place if number + 1 < len(counts) else len(part.spans)
            spans = part.spans[count.place if number else 0 : until]
            piece = " ".join(self.message.folds_of(spans))
            how = _reason(piece, self.words, [count], part) or (reason if len(counts) > 1 else None)
            if self.told and not (count.refs or part.wordy) and self._are_left(count.many):
                self.found.said.add(at)
                continue
            filled = part.hard or _fills(self.parts[at - 1 : at])
            counts_off = self.fills and filled and len(part.spans) == 1  # "opened a plum on it. 28."
            if how is None and self.told and not counts_off and _goes_on(piece, spans):
                how = _how(self.told[-1][0])
            if how is None and not self.told and self.more is not None and _goes_on(piece, spans):
                how = self.more
            if how is None and self.told and count.refs and _only_counts(part, count):
                how = _how(self.told[-1][0])  # "went 2 plum and 1 fig"
            before = [draft for draft, _ in self.told] + mine
            if how is None:
                self.listed.append((at, count))
                self.loose = (at, count) if not own or self._in_bottles(own) else None
            elif how == "lost" and before and count.many in _totals(before):
                self.found.said.add(at)  # "he dropped one, so that's one gone"
            else:
                refs = count.refs or own or self.refs
                draft = _draft(count.many, how, part, refs, self.words, self.message)
                if count.span.is_("part", "more") and _just_filled(self.message):
                    draft.doubt = Doubt.UNSURE  # one more filled, perhaps
                mine.append(draft)
                count.span.used = True
        if mine:
            self.found.drafts[at] = mine
            self.told += [(draft, at) for draft in mine]
            self.loose = None
        if len(mine) == 1:
            self.parted |= _parted(self.message, self.parts, at, counts[0], self.words)

    def _are_left(self, many: int) -> bool:
        """ "Dropped one on the step. 28": whether so many are left of a wine by what the message has told."""
        gone = sum(-draft.act.change for draft, _ in self.told if isinstance(draft.act, Bottles))
        left = [batch.bottles_left for batch in self.message.scene.batches if batch.bottles_left]
        return many > gone > 0 and any(each - gone == many for each in left)

    def _left_over(self) -> None:
        """ "2 plum. sister", "3 plum 1 fig since Friday": counts of wines in bottles, of which nothing is told: gone, most
        likely, and surely so where it says since when."""
        if self.told or not self.message.addressed:
            return
        listed = [(at, count) for at, count in self.listed if _only_counts(self.parts[at], count)]
        if not listed or not all(self._in_bottles(count.refs) for _, count in listed):
            return
        if len(listed) < len(self.listed):
            return
        since = any(span.moment is not None for part in self.parts for span in part.spans)
        for at, count in listed:
            draft = _draft(count.many, "lost", self.parts[at], count.refs, self.words, self.message)
            draft.doubt = None if since and len(listed) > 1 else Doubt.UNSURE
            self.found.drafts.setdefault(at, []).append(draft)

    def _in_bottles(self, refs: Sequence[Ref]) -> bool:
        return any(_is_bottled(ref, self.message) for ref in refs)


def _signed(message: Message, parts: Sequence[Saying]) -> dict[int, list[Draft]]:
    """ "-1", "plum -3 btl", "-2 plum, drunk", "-3, brother", said to the bot: so many less or more, where no other number and no
    other subject is in the message."""
    every = [span for part in parts for span in part.spans]
    numbers = [span.qty for span in every if span.qty is not None]
    few = all(
        each.signed
        and each.unit in (None, "bottle")
        and each.value.is_integer()
        and 1 <= abs(each.value) <= _FEW
        for each in numbers
    )
    other = any(any(map(span.has, _PLAIN)) and not of_bottles(span) for span in every)
    if not message.addressed or not numbers or not few or other or len(every) > _SHORT * len(numbers):
        return {}
    words = patterns_of(message.scene.language)
    how = _reason(" ".join(message.folds_of(every)), words, (), Saying(every))
    found: dict[int, list[Draft]] = {}
    for at, part in enumerate(parts):
        refs: list[Ref] = []
        for place, span in enumerate(part.spans):
            if span.ref is not None and span.ref.kind in _WINES:
                refs = [span.ref]
            if span.qty is None:
                continue
            about = refs or _wines(part.spans[place + 1 :])[:1]
            if len(numbers) > 1 and not about:
                return {}
            change = int(span.qty.value)
            draft = _draft(abs(change), "lost", part, about, words, message)
            reason = _REASONS[how] if how is not None and change < 0 else None
            draft.act = Bottles(change=change, reason=reason)
            found.setdefault(at, []).append(draft)
            refs = []
    return found


# ---------------------------------------------------------------------- which wine


def _any_bottled(message: Message, parts: Sequence[Saying]) -> bool:
    """Whether there are bottles, or the message itself fills some."""
    if any(batch.bottled is not None for batch in message.scene.batches):
        return True
    return _fills(parts)


def _fills(parts: Sequence[Saying]) -> bool:
    """Whether a message bottles a wine."""
    return any(span.has("step", "done") and span.step == "bottle" for part in parts for span in part.spans)


def of_a_shop(message: Message) -> bool:
    """ "Got two reds from the corner shop": whether a family talks of wine that is not its own, and names none of its own."""
    said = " ".join(message.folds_of(message.spans))
    named = any(ref.kind == "batch" and _is_bottled(ref, message) for ref in _wines(message.spans))
    elsewhere = patterns_of(message.scene.language).elsewhere.search(said) is not None
    return elsewhere and not (named or message.addressed)


def _is_bottled(ref: Ref, message: Message) -> bool:
    targets = message.targets.of(ref, bottled=True)
    return any(target.batch is not None and target.batch.bottled is not None for target in targets)


def spoken_of(message: Message) -> list[SceneBatch]:
    """The wines in bottles that were spoken of just now, by people or by the bot."""
    scene = message.scene
    names = [
        one.act.of
        for one in scene.recent or ()
        if message.sent_at - one.said_at <= _SPOKEN and not isinstance(one.act, Note)
    ]
    for each in scene.open:
        if isinstance(each, JustSaid | NumberWanted) and each.ago <= _SPOKEN:
            names.append(each.of)
    return [batch for batch in scene.batches if batch.bottled is not None and batch.name in names]


def goes_on_about(message: Message) -> Ref | None:
    """The wine of which the same person told just before that bottles of it came or went."""
    last = next(iter(message.scene.recent or ()), None)
    fresh = last is not None and message.sent_at - last.said_at <= _SPOKEN and last.by == message.by
    if last is None or not fresh or not isinstance(last.act, Bottles) or last.act.of is None:
        return None
    return Ref("batch", last.act.of)


def _just_filled(message: Message) -> bool:
    """Whether the last that was told is how many bottles were filled."""
    last = next(iter(message.scene.recent or ()), None)
    fresh = last is not None and message.sent_at - last.said_at <= _SPOKEN
    return last is not None and fresh and isinstance(last.act, Step) and last.act.step == "bottle"


def _how_before(message: Message) -> How | None:
    """What became of the bottles that the same person told of just before, where a message goes on: "and one for nan"."""
    first = next((token.fold for token in message.tokens), "")
    if first not in patterns_of(message.scene.language).goes_on or goes_on_about(message) is None:
        return None
    last = message.scene.recent[0].act if message.scene.recent else None
    return (last.reason or "lost") if isinstance(last, Bottles) and last.change < 0 else None


def _wines(spans: Sequence[Span]) -> list[Ref]:
    return [span.ref for span in spans if span.ref is not None and span.ref.kind in _WINES]


def _draft(
    many: int, how: How, part: Saying, refs: Sequence[Ref], words: ShelfPatterns, message: Message
) -> Draft:
    change = many if how == "found" else -many
    said = " ".join(message.folds_of(part.spans))
    kept = [batch for batch in message.scene.batches if batch.bottled is not None and batch.bottles_left != 0]
    about = list(refs)
    if not about and len(kept) > 1 and words.each.search(said):
        about = [Ref("every", "each", 2.0)]
    elif not about and len(kept) > 1 and (same := goes_on_about(message)) is not None:
        about = [same]
    clause = Clause(list(part.spans), hard=part.hard)
    act = Bottles(change=change, reason=_REASONS[how])
    draft = Draft(act, _BEYOND, "bottled", refs=about, moments=clause.moments, clause=clause)
    shared = words.apiece.search(said) is not None and not words.each.search(said)
    draft.doubt = Doubt.UNSURE if shared else None  # "four each for the six of us"
    return draft


# ---------------------------------------------------------------------- what became of them


def _is_fact(part: Saying, said: str, words: ShelfPatterns) -> bool:
    """Whether a saying tells what was, and of nothing but bottles."""
    if asks(part):
        return False
    left = any(span.fold.startswith("left") for span in part.spans[1:] if _is_left(part.spans, span))
    if words.other.search(said) or left:
        return False
    first = next(
        (at for at, span in enumerate(part.spans) if span.qty is not None or of_bottles(span)),
        len(part.spans),
    )
    moods_before = ("plan", "request", "unreal", "negation")
    if any(
        span.is_("mood", mood) and not span.has("bottles")
        for span in part.spans[:first]
        for mood in moods_before
    ):
        return False
    burst = words.broke.search(said) is not None  # "one blew its cork"
    told = [span for span in part.spans if not of_bottles(span)]
    chores = any(
        (span.has("step") and not (burst and span.step == "bottle"))
        or (span.has("measure") and len(span.fold) > 1)
        for span in told
    )
    return not chores and not any(span.has("packet") or span.has("substance") for span in part.spans)


def _is_left(spans: Sequence[Span], span: Span) -> bool:
    """ "12 left": whether it stands after a number."""
    at = spans.index(span)
    return at > 0 and (spans[at - 1].qty is not None or of_bottles(spans[at - 1]))


def _reason(said: str, words: ShelfPatterns, counts: Sequence[_CountTold], part: Saying) -> How | None:
    """What became of bottles, by the words of a saying, or a part of it."""
    carried = words.carried.search(said)
    kept = carried is not None and words.stores.search(said, carried.end()) is not None
    toward = words.toward.search(said, carried.end()) if carried and not kept else None
    if words.broke.search(said) and not (
        toward and re.search(r"\b(?:off|round|over to|in (?:at|to))\b", said)
    ):
        return "broke"
    if words.gave.search(said) or toward or (carried and not kept and _handed(part, counts, carried.group())):
        return "gave"
    if words.drank.search(said):
        return "drank"
    if words.found.search(said):
        return "found"
    if words.lost.search(said) or (not kept and counts and counts[0].plainly and words.taken.search(said)):
        return "lost"
    return "gave" if counts and counts[0].plainly and _recipient(part, counts[0]) else None


def _recipient(part: Saying, count: _CountTold) -> bool:
    """ "2 haystack to the vet": whether somebody stands after "to" or "for"."""
    small = all(
        span.is_("filler", "link")
        or span.is_("filler", "social")
        or span.kind == "mark"
        or span.ref is not None
        for span in part.spans[: count.place]
    )
    spans = part.spans[count.place :]
    to = ("to", "for") if count.refs else ("to",)
    at = next((place for place, span in enumerate(spans) if span.fold in to), None)
    return small and at is not None and at + 1 < len(spans) and spans[at + 1].qty is None


def _handed(part: Saying, counts: Sequence[_CountTold], verb: str) -> bool:
    """ "Slipped the postman one": whether somebody stands between the verb and the count that ends the saying."""
    at = next((place for place, span in enumerate(part.spans) if verb in span.fold.split()), None)
    last = len(part.spans) - 1
    return at is not None and bool(counts) and counts[-1].place == last and last - at > 1


def at_home(message: Message, spans: Sequence[Span]) -> bool:
    """Whether bottles that are told of are still in the house: carried to where they are kept, wanted, or yet to be filled."""
    words = patterns_of(message.scene.language)
    return words.other.search(" ".join(message.folds_of(spans))) is not None or stored(message, spans)


def stored(message: Message, spans: Sequence[Span]) -> bool:
    """ "Took 6 down to the cellar": whether bottles were only carried to where they are kept."""
    words = patterns_of(message.scene.language)
    said = " ".join(message.folds_of(spans))
    carried = words.carried.search(said)
    return carried is not None and words.stores.search(said, carried.end()) is not None


def many_in(message: Message, part: Saying) -> tuple[int, ...]:
    """The counts of bottles in a saying: nothing else is counted by these numbers."""
    return tuple(count.many for count in _counts(message, part, patterns_of(message.scene.language)))


def told_how(message: Message, part: Saying) -> How | None:
    """What became of bottles by the words of a saying; None where none says it."""
    words = patterns_of(message.scene.language)
    said = " ".join(message.folds_of(part.spans))
    return _reason(said, words, _counts(message, part, words), part)


def remaining(message: Message, part: Saying) -> bool:
    """ "Ten of the white left", "down to our last five": whether what is counted is still there."""
    words = patterns_of(message.scene.language)
    said = " ".join(message.folds_of(part.spans))
    found = words.remain.search(said)
    at = next((at for at, span in enumerate(part.spans) if span.fold.startswith(("left", "remain"))), None)
    if at is not None and not any(span.qty is not None or span.has("amount") for span in part.spans[:at]):
        return False  # "left one on the step"
    after = part.spans[at + 1] if at is not None and at + 1 < len(part.spans) else None
    if after is not None and not (after.has("filler") or after.kind in ("time", "mark")):
        return False  # "two left feet"
    verbs = (words.broke, words.gave, words.drank, words.found)
    return found is not None and not any(verb.search(said[: found.start()]) for verb in verbs)


def shared_out(message: Message, part: Saying) -> bool:
    """ "One each for the bridesmaids": whether how many in all is not told."""
    words = patterns_of(message.scene.language)
    return words.apiece.search(" ".join(message.folds_of(part.spans))) is not None


def of_the_house(message: Message, parts: Sequence[Saying]) -> bool:
    """Whether bottles of the house can be meant: much is drunk in a family."""
    if message.addressed or (message.replying_to is not None and message.replying_to.of is not None):
        return True
    kinds = ("batch",) if of_a_shop(message) else _WINES
    for part in parts:
        if any(ref.kind in kinds and _is_bottled(ref, message) for ref in _wines(part.spans)):
            return True
        if any(span.has("step", "done") and span.step == "bottle" for span in part.spans):
            return True
    said = " ".join(message.folds_of(message.spans))
    ours = patterns_of(message.scene.language).ours.search(said) is not None
    return ours or bool(spoken_of(message))


def _has_verb(said: str, words: ShelfPatterns) -> bool:
    return any(
        pattern.search(said) for pattern in (words.broke, words.gave, words.carried, words.found)
    ) or bool(re.search(r"\b(?:drank|drunk|had|opened)\b", said))


_SHORT = 4


def _goes_on(piece: str, spans: Sequence[Span]) -> bool:
    """ "And 1 to the neighbours", "one for the boss", "aunt joan two": more of the same."""
    if re.search(r"\b(?:to|for|with|wi|on|at)\b", piece):
        return True
    strange = any(
        span.kind == "word" or span.has("chatter") or span.is_("filler", "social") for span in spans[:-1]
    )
    when = len(spans) == _FEW_WORDS and spans[1].moment is not None  # "and one tonight"
    return len(spans) == 1 or when or (strange and len(spans) <= _SHORT and spans[-1].qty is not None)


def _totals(told: Sequence[Draft]) -> tuple[int, int]:
    """How many bottles were told of last, and in all."""
    many = [abs(draft.act.change) for draft in told if isinstance(draft.act, Bottles)]
    return many[-1], sum(many)


def _parted(
    message: Message, parts: Sequence[Saying], at: int, whole: _CountTold, words: ShelfPatterns
) -> set[int]:
    """The places of the sayings that only tell how a number is made up: "had two, one with the fish and one without"."""
    after = " ".join(message.folds_of(parts[at].spans[whole.place + 1 :]))
    if re.search(r"\b(?:to|for|with|wi|at|on)\b", after):
        return set()
    found: set[int] = set()
    total = 0
    for place in range(at + 1, len(parts)):
        said = " ".join(message.folds_of(parts[place].spans))
        counts = _counts(message, parts[place], words)
        if not counts or _has_verb(said, words):
            break
        total += sum(count.many for count in counts)
        found.add(place)
    return found if total == whole.many and len(found) > 1 else set()


def _how(draft: Draft) -> How:
    assert isinstance(draft.act, Bottles)
    return draft.act.reason or "lost"


def _only_names(part: Saying) -> bool:
    """Whether a saying is a name and nothing else, as before a colon."""
    return not part.wordy and not any(span.qty is not None for span in part.spans)


def _only_counts(part: Saying, count: _CountTold) -> bool:
    """Whether a saying is nothing but so many of a wine in bottles."""
    return bool(count.refs) and not part.wordy


def _of_them(part: Saying, words: ShelfPatterns) -> bool:
    return any(span.fold in words.them for span in part.spans)


def _puts_right(part: Saying, counts: Sequence[_CountTold], words: ShelfPatterns, message: Message) -> bool:
    """ "Drank 2 of the plum, ok 3"."""
    folds = message.folds_of([span for span in part.spans if span.kind != "mark"])
    return len(counts) == 1 and 1 < len(folds) <= _SHORT and folds[0] in words.rather and not counts[0].refs


# ---------------------------------------------------------------------- counts


def _counts(message: Message, part: Saying, words: ShelfPatterns) -> list[_CountTold]:
    """The counts of bottles in a saying."""
    spans = part.spans
    found: list[_CountTold] = []
    for place, span in enumerate(spans):
        after = spans[place + 1] if place + 1 < len(spans) else None
        before = spans[place - 1] if place else None
        many, plainly = _number(span, before, after, words)
        if many is None or not 1 <= many <= MOST_BOTTLES:
            continue
        if found and found[-1].place == place - 1 and not found[-1].plainly and plainly:
            found.pop()
        if _of_another(spans[place:], message):
            continue
        refs = _named_with(spans[place + 1 :], message)
        plainly = plainly or bool(refs)
        if many > _MANY and not plainly:
            continue
        if before is not None and before.is_("part", "not"):
            continue  # "two, not three"
        if (
            before is not None
            and before.fold in words.off
            and any(one.qty is not None for one in spans[:place])
        ):
            continue  # "five sixes less one"
        if before is not None and (before.fold in words.before or (before.has("vessel") and not plainly)):
            continue
        if not plainly and not _free(spans[place + 1 :], words):
            continue
        if (
            found
            and not plainly
            and before is not None
            and _of_a_place(before, spans[found[-1].place + 1 : place], words)
        ):
            continue  # "gone to ward 12", "with cedric on plot seven"
        found.append(_CountTold(place, many, plainly, refs, span))
    return found


def _of_a_place(before: Span, between: Sequence[Span], words: ShelfPatterns) -> bool:
    """Whether a number after a count is that of a place or a thing: a plain word stands before it, and one that leads
    there before that."""
    return before.kind == "word" and any(span.fold in words.leads_there for span in between)


def _number(
    span: Span, before: Span | None, after: Span | None, words: ShelfPatterns
) -> tuple[int | None, bool]:
    """How many bottles a span counts, and whether they are called bottles."""
    bottle = after is not None and after.is_("unit", "bottle")
    quantity = span.qty
    if span.ref is not None:
        return None, False
    if quantity is not None:
        if quantity.unit not in (None, "bottle") or quantity.decimals or reads_gravity(quantity):
            return None, False
        if quantity.signed:
            return None, False
        return (
            int(quantity.value) if quantity.value.is_integer() else None
        ), quantity.unit == "bottle" or bottle
    called = span.fold.split()
    if span.kind == "phrase" and len(called) > 1 and called[-1] == "one" and called[0] in words.single:
        return 1, False  # "the last one"
    if called[-1] in words.ordinal and (before is None or before.fold.split()[-1] in words.single):
        if after is not None and (after.qty is not None or (bottle and called[-1] in words.single)):
            return None, False  # "the last 3", "the first bottle": what follows counts
        named = after is not None and after.ref is not None
        return (1, named) if len(called) == 1 else (None, False)  # "opened the first with the beef"
    if called == ["another"] and after is not None and after.is_("part", "some"):
        return 1, False  # "another of the whites"
    if span.is_("part", "more") and len(called) > 1 and span.is_("amount", "1"):
        return 1, bottle  # "one more"
    amount = span.value("amount")
    if amount is not None and float(amount).is_integer() and float(amount) > 1:
        return int(float(amount)), bottle
    if span.tags and any(tag.kind == "homophone" and tag.value.isdigit() for tag in span.tags) and bottle:
        return int(next(tag.value for tag in span.tags if tag.kind == "homophone")), True
    if span.is_("unit", "bottle") and span.fold.split()[0] == "bottle" and before is not None:
        part_of_it = any(tag.kind == "amount" and tag.value != "1" for tag in before.tags)
        one = before.fold.split()[-1] in words.single and before.qty is None and not part_of_it
        return (1, True) if one else (None, False)
    if span.fold.split()[0] in ("another", "a", "an") and after is not None and after.ref is not None:
        return 1, True
    ends = after is None or after.fold in words.ends
    return (1, False) if span.fold == "another" and ends else (None, False)


def _of_another(counted: Sequence[Span], message: Message) -> bool:
    """ "Two bottles of lager": whether a drink follows that is no wine of the house."""
    for at, span in enumerate(counted[:3]):
        if span.fold.split()[-1] == "of" and at + 1 < len(counted):
            drink = counted[at + 1]
            words = patterns_of(message.scene.language)
            if drink.fold in words.of:
                return drink.fold in words.pointed and not _free(counted[at + 2 :], words)
            if message.targets.names.begun_with(drink.fold) is not None:
                return False
            return (
                drink.ref is None
                and (drink.kind == "word" or drink.has("chatter"))
                and not drink.has("filler")
            )
    return False


def _named_with(after: Sequence[Span], message: Message) -> list[Ref]:
    """The wine named right after a count: "2 of the plum", "2 bottles of plum"."""
    for span in after[:4]:
        if span.ref is not None:
            return [span.ref] if span.ref.kind in ("batch", "colour", "every") else []
        begun = message.targets.names.begun_with(span.fold) if span.kind == "word" else None
        if begun is not None and _is_bottled(begun, message):
            return [begun]
        small = span.has("filler") or span.is_("unit", "bottle") or span.is_("part", "some")
        if not small or span.fold in ("to", "for", "with", "and"):
            return []
    return []


def _free(following: Sequence[Span], words: ShelfPatterns) -> bool:
    """Whether nothing that follows a number is counted by it."""
    after = following[0] if following else None
    if after is None or after.kind in ("mark", "line", "time"):
        return True
    if after.is_("part", "some"):  # "of"
        if words.of.intersection(after.fold.split()):
            return True
        said = [span for span in following[1:4] if span.fold not in words.own]
        if len(said) < len(following[1:4]) and said and said[0].is_("batchword", "batch"):
            return True  # "two of our own wine"
        return any(of_bottles(span) or span.ref is not None or span.fold in words.of for span in said[:2])
    if after.fold in ("more", "extra", "too"):
        return _free(following[1:], words)
    if after.fold.split()[0] in words.after or after.has("bottles") or after.has("outright"):
        return True
    if after.kind == "word" or after.qty is not None:
        rest = " ".join(span.fold for span in following[:3])
        return any(each.match(rest) for each in (words.broke, words.gave, words.drank, words.found))
    if any(
        after.has(kind)
        for kind in ("unit", "measure", "question", "packet", "vessel", "substance", "chatter", "sum")
    ):
        return after.fold in ("to", "from", "each", "for")
    rest = " ".join(span.fold for span in following[:3])
    verbs = (words.broke, words.gave, words.drank, words.found)
    if any(verb.match(rest) for verb in verbs):
        return True
    return after.has("filler") or after.has("mood") or after.has("part") or after.has("amount")


def relative(part: Saying, message: Message) -> bool:
    """ "29, and half a one, which Bo has emptied": whether a saying goes on with the sentence before it and asks nothing."""
    spans = part.spans
    goes_on = bool(spans) and spans[0].lo > 0 and not part.hard and not part.asked
    return goes_on and spans[0].fold in message.small.relative


def tells_nothing_more(part: Saying, message: Message) -> bool:
    """Whether a saying tells nothing for the log beside bottles that were filled, came or went."""
    denied = bool(part.spans) and part.spans[0].fold.endswith("nt")  # "couldnt wait"
    if denied and not part.asked and len(part.spans) <= _FEW_WORDS:
        return True
    goes_on = relative(part, message)
    if part.asked or (not (denied or goes_on) and asks(part)):
        return False
    if _price(part) or _hour(part):
        return True
    words = patterns_of(message.scene.language)
    if words.tainted.search(" ".join(message.folds_of(part.spans))) and _of_them(part, words):
        return True  # "opened one, it was corked"
    if any(
        span.qty is not None
        and not span.used
        and span.fold != "one"
        and span.qty.unit not in _LASTED
        and not (place + 1 < len(part.spans) and part.spans[place + 1].fold in words.ranks)
        for place, span in enumerate(part.spans)
    ):
        return False
    return not any(
        (span.has(kind) and not span.has("filler") and not span.is_("undo", "object"))
        or (span.ref is not None and span.ref.kind == "vessel")
        for span in part.spans
        for kind in _PLAIN
    )


def _price(part: Saying) -> bool:
    """ "$48.60": whether a saying is what something cost, and nothing else."""
    money = [span for span in part.spans if span.kind == "mark" and span.is_("chatter", "strong")]
    return bool(money) and all(span in money or span.qty is not None for span in part.spans)


def _hour(part: Saying) -> bool:
    """ "It's not half past two": whether a saying only tells the hour."""
    past = any(
        before.is_("mood", "perhaps") and after.qty is not None and after.qty.spoken
        for before, after in pairwise(part.spans)
    )
    small = all(
        span.has("filler") or span.has("mood") or span.has("amount") or span.qty is not None
        for span in part.spans
    )
    return past and small and not any(span.ref is not None or of_bottles(span) for span in part.spans)
