"""Bottling day: how many bottles were filled, in whatever words, of the wine that waits for it.

"Done, 29" says it where bottling is next; thirty corks, or bottles that were washed, do not.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from functools import lru_cache
from itertools import pairwise

from bot.cellar.log.acts import Bottles, Step
from bot.science import practice
from bot.understand.claims.bottles import MOST_BOTTLES
from bot.understand.claims.drafts import Draft
from bot.understand.claims.shelf import (
    OffTheShelf,
    happened,
    many_in,
    patterns_in,
    tells_nothing_more,
    told_how,
)
from bot.understand.scene import SceneBatch
from bot.understand.text.clauses import Clause, of_bottles, reads_gravity, tells_gravity
from bot.understand.text.language import tables_of
from bot.understand.text.message import Message
from bot.understand.text.names import Ref, Target
from bot.understand.text.sayings import Saying, asks, sayings
from bot.understand.text.spans import Span
from bot.understand.verdict import Doubt

_SCORE = 9.0
_HALF = 0.5
_SOON = 3
"""So many of the chores to come can be the one that is told of, where the wine is named."""
_SAME_DAY = timedelta(hours=12)
"""A bottling of so long ago belongs to the same day's work."""
_FEWEST = 3
"""Fewer bottles than these, said without the word, are hardly a whole bottling."""


@dataclass(frozen=True, slots=True)
class _BottlingWords:
    plainly: re.Pattern[str]
    done: re.Pattern[str]
    rest: re.Pattern[str]
    partly: re.Pattern[str]
    none: re.Pattern[str]
    siphoned: re.Pattern[str]
    totals: re.Pattern[str]
    things: frozenset[str]
    sizes: frozenset[str]
    crates: frozenset[str]
    sixes: frozenset[str]
    twelves: frozenset[str]
    so: frozenset[str]
    short: frozenset[str]


@lru_cache(maxsize=8)
def _words(language: str) -> _BottlingWords:
    return _BottlingWords(**patterns_in(tables_of(language, "bottling")))


@dataclass(slots=True)
class OfBottles:
    """What a message tells of bottles, by the place of each saying: drafts of bottlings and of what became of bottles;
    the places of sayings that tell nothing further, and of those of bottles that nobody filled."""

    drafts: dict[int, list[Draft]] = field(default_factory=dict)
    said: set[int] = field(default_factory=set)
    empty: set[int] = field(default_factory=set)


def told_of_bottles(message: Message, parts: Sequence[Saying]) -> OfBottles:
    """All that a message tells of bottles."""
    shelf = happened(message, parts)
    filled, empty, of_count = _filled(message, parts, shelf)
    found = OfBottles(dict(shelf.drafts), set(shelf.said), empty)
    for place, draft in filled.items():
        found.drafts[place] = [draft, *found.drafts.get(place, ())]
    refs = list(dict.fromkeys(ref for draft in filled.values() for ref in draft.refs))
    for drafts in shelf.drafts.values():
        for draft in drafts:
            if isinstance(draft.act, Bottles) and not draft.refs and len(refs) == 1:
                draft.refs = refs
    kept = [batch for batch in message.scene.batches if batch.bottled is not None and batch.bottles_left != 0]
    for draft in (draft for drafts in shelf.drafts.values() for draft in drafts):
        if (
            not draft.refs
            and len(kept) == 1
            and (message.replying_to is None or message.replying_to.of is None)
        ):
            draft.refs = [Ref("batch", kept[0].name)]
    alone = [moment for part in parts if _only_when(part) for moment in Clause(list(part.spans)).moments]
    for draft in (draft for drafts in shelf.drafts.values() for draft in drafts):
        draft.moments = draft.moments or alone  # "yesterday: drank two, gave one to nan"
    for at, part in enumerate(parts):
        if filled and at not in found.drafts and _labelled(part):
            own = [span.ref for span in part.spans if span.ref is not None]
            clause = Clause(list(part.spans), hard=part.hard)
            found.drafts[at] = [Draft(Step(step="label"), _SCORE, refs=own or refs, clause=clause)]
    if found.drafts:
        free = (at for at in range(len(parts)) if at not in found.drafts and at not in empty)
        found.said |= {
            at
            for at in free
            if at in of_count
            or tells_nothing_more(parts[at], message)
            or (filled and _of_the_work(parts[at], message))
        }
    return found


def wholly(message: Message, parts: Sequence[Saying]) -> list[Draft]:
    """What a message tells of bottles, where it tells nothing else; else nothing."""
    found = told_of_bottles(message, parts)
    everything = set(found.drafts) | found.said == set(range(len(parts)))
    return [draft for place in sorted(found.drafts) for draft in found.drafts[place]] if everything else []


def count_told(message: Message, of: str | None) -> int | None:
    """How many bottles of the batch `of` a message tells that says nothing else: "four cases of six and 3", "Ted counted 29"."""
    words = _words(message.scene.language)
    parts = sayings(message)
    lines = [" ".join(message.folds_of(part.spans)) for part in parts]
    refs = {
        target.of for span in message.spans if span.ref is not None for target in _targets(message, span.ref)
    }
    off = message.text.rstrip().endswith("?") or any(part.asked or not _is_fact(part) for part in parts)
    if off or refs - {of} or any(words.partly.search(said) or words.none.search(said) for said in lines):
        return None
    per = _per_crate(parts, words)
    counts = [_count(part, words, per) for part in parts]
    at = next((at for at, count in enumerate(counts) if count is not None), None)
    if at is None or (count := counts[at]) is None or told_how(message, parts[at]):
        return None
    plainly = count[1] or _by_crate(parts[at], words) or _sized(parts[at], words)
    if not (plainly or many_in(message, parts[at]) or words.totals.search(lines[at])):
        return None
    many, places = _in_all(message, parts, at, count[0], OffTheShelf(), words, per)
    for span in parts[at].spans:
        span.used = span.used or span.qty is not None
    rest = (part for place, part in enumerate(parts) if place != at and place not in places)
    return many if all(tells_nothing_more(part, message) for part in rest) else None


def into_bottles(message: Message, part: Saying) -> bool:
    """ "It's in the bottles": whether a saying says that a wine is, without how many."""
    return _words(message.scene.language).plainly.search(" ".join(message.folds_of(part.spans))) is not None


def _targets(message: Message, ref: Ref) -> Sequence[Target]:
    return [*message.targets.of(ref), *message.targets.of(ref, bottled=True)]


def _filled(
    message: Message, parts: Sequence[Saying], shelf: OffTheShelf
) -> tuple[dict[int, Draft], set[int], set[int]]:
    """The bottlings by the place of the saying that counts them, the places of bottles that nobody filled, and of what
    only says how a count is made up."""
    words = _words(message.scene.language)
    lines = [" ".join(message.folds_of(part.spans)) for part in parts]
    empty = {
        at for at, said in enumerate(lines) if words.none.search(said) and not words.plainly.search(said)
    }
    empty |= {
        at
        for at in range(1, len(parts))
        if at - 1 in empty
        and any(of_bottles(span) for span in parts[at - 1].spans)
        and not any(span.ref is not None for span in parts[at].spans)
        and not words.plainly.search(lines[at])
        and not words.done.search(lines[at])
    }  # "bottles washed, 30 of them"
    plainly = any(words.plainly.search(said) for said in lines)
    done = plainly or any(words.done.search(said) for at, said in enumerate(lines) if at not in empty)
    if any(words.partly.search(said) for said in lines):
        return {}, set(range(len(parts))), set()  # "half way through, twelve done"
    rest = any(words.rest.search(said) for said in lines)
    found: dict[int, Draft] = {}
    when = [
        moment
        for part, said in zip(parts, lines, strict=True)
        if words.plainly.search(said) or not part.wordy
        for moment in Clause(list(part.spans)).moments
    ]
    several = _in_turn(message, parts, words)
    waits = [batch for batch in message.scene.under_way if batch.next[:1] == ("bottle",)]
    named: list[Ref] = []
    told: set[str] = set()
    of_count: set[int] = set()
    per = _per_crate(parts, words)
    if per is not None:
        of_count |= {
            at for at, part in enumerate(parts) if _by_crate(part, words) and _count(part, words, per) is None
        }
    for at, part in enumerate(parts):
        own = [
            span.ref for span in part.spans if span.ref is not None and span.ref.kind in ("batch", "colour")
        ]
        of_gravity = bool(at) and not part.wordy and any(map(tells_gravity, parts[at - 1].spans))
        if (
            at in empty
            or at in shelf.drafts
            or (of_gravity and not own)  # "lundy bottled, 29. dogger 0.995, 18"
            or (at in of_count and _count(part, words, per) is None)
            or not _is_fact(part)
        ):
            named = named if at in shelf.drafts and named else own or named
            continue
        named = own or named
        count = _count(part, words, per)
        if count is None:
            continue
        many, bottles = count
        many, made_up = _in_all(message, parts, at, many, shelf, words, per)
        batch = _meant(message, named, waits, plainly=plainly)
        if (
            batch is None
            or batch.name in told
            or any(span.ref is not None and span.ref not in named for span in part.spans)
        ):
            continue
        waited = batch in waits or (
            "bottle" in batch.next[:_SOON] and (_just_bottled(message, batch) or bool(named))
        )
        fits = _fits(many, batch)
        told_too = bool(named) and done and _just_bottled(message, batch)  # "and that's the red done, 27"
        waited = waited or (told_too and (bottles or fits))
        sure = (
            (batch in waits and bottles and fits and rest)
            or (plainly and (bottles or fits or bool(own) or _beside(lines[at], words)))
            or (waited and ((done and (bottles or fits)) or several))
        )
        if not sure and not (waited and bottles):
            continue
        refs = named or [Ref("batch", batch.name)]
        clause = Clause(list(part.spans), hard=part.hard)
        draft = Draft(
            Step(step="bottle", bottles=many),
            _SCORE,
            refs=list(refs),
            moments=clause.moments or when,
            clause=clause,
        )
        draft.doubt = None if sure else Doubt.UNSURE
        for span in part.spans:
            span.used = span.used or span.qty is not None
        found[at] = draft
        told.add(batch.name)
        of_count |= made_up
    return found, empty, of_count if found else set()


def _only_when(part: Saying) -> bool:
    """Whether a saying is a time and nothing else."""
    return all(
        span.moment is not None or span.kind in ("time", "mark") or span.has("filler") for span in part.spans
    )


def _labelled(part: Saying) -> bool:
    """Whether a saying beside a bottling tells that labels are on."""
    steps = {span.step for span in part.spans if span.has("step", "done")}
    return steps == {"label"} and _is_fact(part)


def _of_the_work(part: Saying, message: Message) -> bool:
    """ "Bottled!", "Jo siphoned", "a mug over": whether a saying beside the counts tells of the same day's work alone."""
    words = _words(message.scene.language)
    said = " ".join(message.folds_of(part.spans))
    steps = {span.step for span in part.spans if span.step is not None}
    vessel = any(span.ref is not None and span.ref.kind == "vessel" for span in part.spans)
    if part.asked or not _is_fact(part) or vessel:
        return False
    if steps == {"rack"}:
        return words.siphoned.search(said) is not None
    if words.rest.search(said) and not steps:
        return True
    return steps <= {"bottle"} and bool(steps) and not any(span.qty is not None for span in part.spans)


def _per_crate(parts: Sequence[Saying], words: _BottlingWords) -> int | None:
    """How many bottles a case holds, where it is said: "cases of six"."""
    for part in parts:
        for at, span in enumerate(part.spans[:-2]):
            of = part.spans[at + 2].qty
            if span.fold in words.crates and of is not None and part.spans[at + 1].fold == "of":
                return int(of.value)
    return None


def _in_all(
    message: Message,
    parts: Sequence[Saying],
    at: int,
    many: int,
    shelf: OffTheShelf,
    words: _BottlingWords,
    per: int | None,
) -> tuple[int, set[int]]:
    """The count of a bottling with what is added to it, taken off or told as the total right after, and the places of the
    sayings that do so: "two dozen and four", "26 and two magnums, so 28"."""
    places: set[int] = set()
    whole = many
    added: list[int] = []
    by_crate = _by_crate(parts[at], words)
    for place in range(at + 1, len(parts)):
        part = parts[place]
        said = " ".join(message.folds_of(part.spans))
        if _half(part):
            places.add(place)
            continue
        count = _count(part, words, per, fewest=1)
        own = any(span.ref is not None and span.ref.kind != "every" for span in part.spans)
        over = words.rest.search(said) is not None
        if count is None or own or part.asked or not (over or _is_fact(part)):
            if part.hard or own:
                break
            continue
        first = next(span for span in part.spans if span.qty is not None)
        led = {message.tokens[one].fold for one in range(max(0, first.lo - 2), first.lo)}
        total = bool(led & words.so) or words.totals.search(said) is not None
        if total and count[0] >= many:
            return count[0], places | {place} | set(range(at + 1, place)) - set(shelf.drafts)
        if place in shelf.drafts or part.hard:
            break
        sized = by_crate or _by_crate(part, words) or _sized(part, words)
        if not sized:
            break
        added.append(count[0])
        whole += count[0]
        places.add(place)
    if added and sum(added) == many:
        return many, places  # "28, 14 of them green and 14 clear"
    return whole, places


def _half(part: Saying) -> bool:
    """ "A half bottle", "one half full": whether a saying counts part of a bottle, and no whole one."""
    halves = any(span.is_("amount", "0.5") for span in part.spans)
    whole = any(span.qty is not None and span.qty.value > 1 for span in part.spans)
    return halves and not whole and not part.asked


def _by_crate(part: Saying, words: _BottlingWords) -> bool:
    """Whether bottles are counted by dozens or cases."""
    kinds = words.crates | words.sixes | words.twelves
    return any(
        span.fold in kinds or (span.qty is not None and span.qty.text.endswith("dozen"))
        for span in part.spans
    )


def _sized(part: Saying, words: _BottlingWords) -> bool:
    """Whether a saying tells what size of bottle it counts."""
    return any(words.sizes.intersection(span.fold.split()) for span in part.spans)


def _in_turn(message: Message, parts: Sequence[Saying], words: _BottlingWords) -> bool:
    """ "Plum 28 bottles, fig 5": whether several wines are named, each with its count, and bottles are spoken of."""
    counts = [
        (ref, count)
        for part in parts
        if (count := _count(part, words)) is not None
        for ref in [next((span.ref for span in part.spans if span.ref is not None), None)]
        if ref is not None
    ]
    return len({ref for ref, _ in counts}) > 1 and any(bottles for _, (_, bottles) in counts)


def _just_bottled(message: Message, batch: SceneBatch) -> bool:
    """Whether another wine was bottled the same day: "and that's the red done as well"."""
    return any(
        isinstance(one.act, Step) and one.act.step == "bottle" and one.act.of != batch.name
        for one in message.scene.recent or ()
        if message.sent_at - one.said_at <= _SAME_DAY
    )


def _beside(said: str, words: _BottlingWords) -> bool:
    return words.plainly.search(said) is not None


def _meant(
    message: Message, named: Sequence[Ref], waits: Sequence[SceneBatch], *, plainly: bool
) -> SceneBatch | None:
    """The one batch that may have been bottled: the named one, the one that waits for it, or the only one."""
    if named:
        targets = message.targets.of(named[-1])
        batch = targets[0].batch if len(targets) == 1 else None
        return batch if batch is not None and batch.bottled is None else None
    if len(waits) == 1:
        return waits[0]
    under_way = message.scene.under_way
    return under_way[0] if plainly and not waits and len(under_way) == 1 else None


def _is_fact(part: Saying) -> bool:
    if asks(part):
        return False
    if any(span.has("substance") or span.has("packet") for span in part.spans):
        return False
    unreal = ("plan", "request", "unreal", "perhaps", "negation")
    return not any(span.is_("mood", mood) for span in part.spans for mood in unreal)


def _count(
    part: Saying, words: _BottlingWords, per: int | None = None, *, fewest: int = _FEWEST
) -> tuple[int, bool] | None:
    """How many bottles a saying counts, and whether it calls them so: a half one beside them is none."""
    for place, span in enumerate(part.spans):
        quantity = span.qty
        if quantity is None or span.ref is not None or span.moment is not None or quantity.signed:
            continue
        if place > 1 and part.spans[place - 1].fold == "of" and part.spans[place - 2].fold in words.crates:
            continue  # "cases of six"
        half = quantity.value % 1 == _HALF and not set(quantity.text) & set(".,/")
        if (
            quantity.unit not in (None, "bottle")
            or reads_gravity(quantity)
            or (quantity.value % 1 and not half)
        ):
            continue
        after: Span | None = part.spans[place + 1] if place + 1 < len(part.spans) else None
        if after is not None and after.fold.split()[0] in words.things:
            continue
        bottles = quantity.unit == "bottle" or (after is not None and of_bottles(after))
        many = int(quantity.value)
        if after is not None and after.fold in words.crates | words.sixes | words.twelves:
            each = 6 if after.fold in words.sixes else 12 if after.fold in words.twelves else per
            if each is None:
                return None
            many, bottles = many * each - _short_by(part.spans[place + 2 :], words), True
        elif after is not None and words.sizes.intersection(after.fold.split()):
            many += _of_other_sizes(part.spans[place + 1 :], words)
        if 1 <= many <= MOST_BOTTLES and (bottles or many >= fewest):
            return many, bottles
    return None


def _of_other_sizes(after: Sequence[Span], words: _BottlingWords) -> int:
    """ "14 green 14 clear": how many more are counted with a size or a kind of their own."""
    return sum(
        int(number.qty.value)
        for number, size in pairwise(after)
        if number.qty is not None
        and number.qty.unit is None
        and number.qty.value.is_integer()
        and words.sizes.intersection(size.fold.split())
    )


def _short_by(after: Sequence[Span], words: _BottlingWords) -> int:
    """ "Five sixes less one": how many are taken off."""
    for less, number in pairwise(after):
        if less.fold in words.short and number.qty is not None:
            return int(number.qty.value)
    return 0


def _fits(many: int, batch: SceneBatch) -> bool:
    """Whether so many bottles can be what a batch gives."""
    if batch.litres is None:
        return True
    share = many * practice.BOTTLE_LITRES.value / batch.litres
    return practice.LITTLE_OF_IT.value <= share <= practice.MORE_IN_BOTTLES.value
