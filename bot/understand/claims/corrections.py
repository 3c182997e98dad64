"""What puts right, or strikes out, what was written down last.

"Undo", and what names the log ("delete the last entry"), is said to the bot. "Scrap that", "forget it" and the
like people say to each other all day: they count only in reply to a message about an entry, or at once, from
whoever wrote the last entry; and never where the message goes on about something else.
"""

import re
from collections.abc import Sequence
from datetime import timedelta
from functools import lru_cache
from itertools import pairwise

import msgspec

from bot.cellar.log.acts import Act, Addition, Bottles, Gravity, Step, Temperature, Undo, kind
from bot.understand.claims.additions import amount_of
from bot.understand.claims.drafts import Draft
from bot.understand.scene import Recent, Scene
from bot.understand.text.clauses import DOSES, reads_gravity
from bot.understand.text.language import tables_of
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.spans import Quantity, Span
from bot.understand.verdict import Doubt

SURE_OF_AMOUNT = 2.0


AT_ONCE = timedelta(minutes=2)
"""So long after it was said, "scrap that" can mean the last entry."""
_EXCUSE_WORDS = 4
"""Unknown words that an excuse beside an undo may have."""


def corrects(spans: Sequence[Span]) -> tuple[bool, list[Span]]:
    """Whether the message puts something right, and what is left of it without those words."""
    real = [span for span in spans if span.kind not in ("mark", "line")]
    if not real:
        return False, []
    if spans[0].fold == "*" and real and (real[0].qty is not None or real[0].ref is not None):
        return True, list(spans[1:])
    first = next((span for span in real if not span.is_("filler", "social") or span.has("correct")), real[0])
    if first.is_("correct", "strong") or (first.is_("correct", "weak") and _short(real)):
        rest = list(spans)
        while rest and (rest[0].kind == "mark" or rest[0].has("correct") or rest[0].is_("filler", "social")):
            rest = rest[1:]
        return True, rest
    return False, []


def supposes(message: Message) -> bool:
    """ "Should be 1.030 by now", "should be 1.090 for a red": what a figure ought to be, which puts nothing right. Of what
    somebody else told last, "should be" says no more than that."""
    real = [span for span in message.spans if span.kind not in ("mark", "line")]
    first = next((span for span in real if not span.is_("filler", "social")), None)
    if first is None or not (first.has("correct") and first.is_("mood", "unreal")):
        return False
    at = next((at for at, span in enumerate(real) if span.qty is not None), None)
    after = real[at + 1 :] if at is not None else []
    staged = any(
        span.moment is not None or span.is_("part", "counted") or span.is_("unit", "day") for span in after
    )
    kinds = any(one.is_("amount", "1") and two.has("colour") for one, two in pairwise(after))
    entry = message.entry
    others = entry is not None and entry.by != message.by and message.replying_to is None
    return staged or kinds or others


def _short(real: Sequence[Span]) -> bool:
    """A weak word like "sorry" corrects only when a value or name follows at once."""
    after = [span for span in real if not span.is_("correct", "weak") and not span.is_("filler", "social")]
    if not after or len(after) > 5:
        return False
    if any(span.is_("correct", "strong") for span in real[:4]):
        return True
    meaty = [span for span in after if span.qty is not None or span.ref is not None]
    lead = next((span for span in after if not span.is_("part", "lead")), after[0])
    return (
        bool(meaty)
        and (lead.qty is not None or lead.ref is not None)
        and all(span.qty is not None or span.ref is not None or span.has("filler") for span in after)
    )


def without_denied(spans: Sequence[Span]) -> list[Span]:
    """Leaves out what is denied: "1.014 not 1.041", "bucket 1 not 2"."""
    kept: list[Span] = []
    skip = False
    for span in spans:
        if span.is_("part", "not"):
            skip = True
            continue
        if skip and (span.qty is not None or span.ref is not None):
            skip = False
            continue
        kept.append(span)
    return kept


def amount_meant(spans: Sequence[Span], entry: Recent | None, scene: Scene) -> Draft | None:
    """ "Make that 3 tablets", "no, 28 bottles": the entry's own act with another amount; a bare amount when
    nothing is known to be put right."""
    amounts = [span.qty for span in spans if span.qty is not None]
    known = all(span.qty is not None or span.kind in ("mark", "time") or span.has("filler") for span in spans)
    if not amounts or not known:
        return None
    amount = amounts[0]
    if entry is not None and isinstance(entry.act, Addition) and amount.unit in (*DOSES, None):
        value, unit = amount_of(amount, scene)
        unit = unit or entry.act.unit
        return Draft(Addition(what=entry.act.what, amount=value, unit=unit), SURE_OF_AMOUNT, "batch")
    if entry is not None and isinstance(entry.act, Bottles) and amount.unit in ("bottle", None):
        change = int(amount.value) * (-1 if entry.act.change < 0 else 1)
        return Draft(Bottles(change=change, reason=entry.act.reason), SURE_OF_AMOUNT, "bottled")
    if (
        entry is not None
        and isinstance(entry.act, Step)
        and entry.act.bottles
        and amount.unit in ("bottle", None)
    ):
        return Draft(msgspec.structs.replace(entry.act, bottles=int(amount.value)), SURE_OF_AMOUNT, "batch")
    if entry is None and amount.unit == "tablet":
        return Draft(Addition(what="sulphite", amount=amount.value, unit="tablet"), SURE_OF_AMOUNT, "batch")
    if amount.unit in ("tablet", "sachet", "bottle", "tsp"):
        return Draft(Undo(), SURE_OF_AMOUNT, "nothing", doubt=Doubt.NOTHING_TO_CORRECT)
    return None


def put_right(entry: Recent, told: Sequence[Act], of: str | None) -> tuple[Act, ...] | None:
    """Undo and the corrected act, when what was told fits the entry; None when it does not."""
    if not told and of is not None:
        if of == entry.act.of:
            return None
        return (Undo(entry=entry.entry), msgspec.structs.replace(entry.act, of=of))
    if len(told) == 1 and isinstance(told[0], Temperature) and isinstance(entry.act, Gravity):
        return (Undo(entry=entry.entry), msgspec.structs.replace(entry.act, temp_c=told[0].temp_c))
    if len(told) != 1 or kind(told[0]) != kind(entry.act):
        return None
    new = told[0]
    changes: dict[str, object] = {"of": new.of or entry.act.of, "at": new.at or entry.act.at}
    if hasattr(new, "temp_c") and new.temp_c is None and hasattr(entry.act, "temp_c"):
        changes["temp_c"] = entry.act.temp_c
    return (Undo(entry=entry.entry), msgspec.structs.replace(new, **changes))


def mended(spans: Sequence[Span]) -> list[Span]:
    """The message with what it puts right itself put right: "4 no 3 campden", "to dj2, sorry, dj1"."""
    kept = _without_other(spans)
    index = 1
    while index < len(kept):
        if not _corrects(kept[index]):
            index += 1
            continue
        after = index + 1
        while after < len(kept) and (
            kept[after].kind == "mark" or _corrects(kept[after]) or kept[after].is_("part", "lead")
        ):
            after += 1
        place = _replaced(kept, index, after)
        if place is None:
            index = after
            continue
        old, new = kept[place], kept[after]
        if new.qty is not None and new.qty.unit is None and old.qty is not None:
            new.qty = msgspec.structs.replace(new.qty, unit=old.qty.unit)
        kept[place] = new
        following = kept[after + 1].fold if after + 1 < len(kept) else None
        again = all(span.kind == "mark" or span.fold == following for span in kept[place + 1 : index])
        del kept[place + 1 if again else index : after + 1]  # "5 campden, no, 4 campden"
    return kept


def _corrects(span: Span) -> bool:
    """Whether what follows may stand for what was said before: "no", "I mean", "scratch that"."""
    return span.has("correct") or span.is_("undo", "whole")


def _without_other(spans: Sequence[Span]) -> list[Span]:
    """ "1.012 not 1.021": the gravity that it is not is left out."""
    gravities = [
        index for index, span in enumerate(spans) if span.qty is not None and reads_gravity(span.qty)
    ]
    denied = [index for index in gravities if index and spans[index - 1].is_("part", "not")]
    if len(gravities) < 2 or len(denied) != 1:
        return list(spans)
    return [span for index, span in enumerate(spans) if index not in (denied[0], denied[0] - 1)]


def _replaced(spans: Sequence[Span], at: int, new_at: int) -> int | None:
    """The place of what the name or number after a correcting word stands for."""
    if new_at >= len(spans):
        return None
    new = spans[new_at]
    following = spans[new_at + 1] if new_at + 1 < len(spans) else None
    plain = following is None or following.kind in ("mark", "line") or following.has("join")
    if new.qty is not None:
        plain = plain or (following is not None and (following.has("substance") or following.ref is not None))
        same = [place for place in range(at) if _alike(spans[place].qty, new.qty)]
    elif new.ref is not None:
        same = [place for place in range(at) if _same_kind(spans[place].ref, new.ref)]
        named = [place for place in range(at) if spans[place].ref is not None]
        same = same or (named if len(named) == 1 else [])
    else:
        return None
    return same[-1] if same and plain else None


def _alike(old: Quantity | None, new: Quantity) -> bool:
    if old is None:
        return False
    return reads_gravity(old) == reads_gravity(new) and (new.unit is None or new.unit == old.unit)


def _same_kind(old: Ref | None, new: Ref) -> bool:
    """Whether one name can stand for another: a vessel for a vessel, a batch for a batch."""
    if old is None:
        return False
    batches = ("batch", "colour")
    return (old.kind in batches) == (new.kind in batches) and old != new


def without_starts(spans: Sequence[Span]) -> list[Span]:
    """ "From 1.016 to 1.010": only where it got to is news."""
    kept = list(spans)
    at = 0
    while at + 3 < len(kept):
        first, last = kept[at + 1].qty, kept[at + 3].qty
        both = first is not None and last is not None and reads_gravity(first) and reads_gravity(last)
        if both and kept[at].is_("part", "starts") and kept[at + 2].is_("part", "to"):
            del kept[at : at + 2]
        at += 1
    return kept


def unquoted(spans: Sequence[Span]) -> list[Span]:
    """The message without what it quotes: the bot's own words are no news to it."""
    for mark in ('"', "'"):
        places = [index for index, span in enumerate(spans) if span.kind == "mark" and span.fold == mark]
        if len(places) >= 2:
            return [*spans[: places[0]], *spans[places[-1] + 1 :]]
    return list(spans)


class TakenBack(msgspec.Struct, frozen=True):
    """`named`: it says "undo", or speaks of the log. `counts`: it strikes something out. `rest` is what else the
    message says."""

    named: bool
    counts: bool
    rest: Sequence[Span] = ()


@lru_cache(maxsize=8)
def _patterns(language: str) -> tuple[re.Pattern[str], re.Pattern[str]]:
    table = tables_of(language, "corrections")["undo"]
    return re.compile(table["named"]), re.compile(table["excuse"])


def taken_back(message: Message) -> TakenBack | None:
    """What a message takes back; None when it takes nothing back."""
    spans = message.spans
    if not any(span.has("undo") for span in spans):
        return None
    by_log = _patterns(message.scene.language)[0]
    counts = _counts(message)

    def judged(part: Sequence[Span], rest: Sequence[Span] = ()) -> TakenBack:
        named = any(span.has("undo") for span in part) and bool(by_log.search(_folds(part)))
        return TakenBack(named, named or counts, rest)

    parts = _parts(spans)
    sure = message.addressed or counts
    for number, part in enumerate(parts):
        if not _takes_back(message, part, sure=sure):
            continue
        found = judged(part)
        others = [other for other in parts if other is not part]
        if all(_excuses(message, other, strict=not found.named) for other in others) and _few_words(others):
            return found
        if number == 0:
            return judged(part, _after(spans, part))
    return None


def _counts(message: Message) -> bool:
    """Whether words that do not name the log strike something out here."""
    if message.scene.recent is None:
        return True  # nothing is known of what was said: a message by itself is taken at its word
    if message.replying_to is not None:
        return bool(message.replying_to.told)
    last = next((entry for entry in message.scene.recent if not isinstance(entry.act, Undo)), None)
    if last is None:
        return False
    own = last.by == message.by and message.sent_at - last.said_at <= AT_ONCE
    return own or message.addressed


def _parts(spans: Sequence[Span]) -> list[list[Span]]:
    parts: list[list[Span]] = [[]]
    for span in spans:
        if span.kind == "line" or (span.kind == "mark" and span.fold in ",.;:!-()"):
            parts.append([])
        else:
            parts[-1].append(span)
    return [part for part in parts if part]


def _after(spans: Sequence[Span], part: Sequence[Span]) -> Sequence[Span]:
    end = next(index for index, span in enumerate(spans) if span is part[-1])
    rest = list(spans[end + 1 :])
    while rest and rest[0].kind in ("mark", "line"):
        rest = rest[1:]
    return rest


def _folds(spans: Sequence[Span]) -> str:
    return " ".join(span.fold for span in spans)


def _takes_back(message: Message, spans: Sequence[Span], *, sure: bool) -> bool:
    """Whether these words only say to strike out what was written last. `sure` that they are for the bot."""
    if any(
        span.qty is not None or span.ref is not None or span.has("chatter") or span.has("step")
        for span in spans
    ):
        return False
    verb = next(
        (index for index, span in enumerate(spans) if span.is_("undo", "verb") or span.is_("undo", "whole")),
        None,
    )
    if verb is not None and _something_else(spans, verb):
        return False
    rest = [span for span in spans if not _idle(span)]
    plain = not rest or _excuses(message, spans[list(spans).index(rest[0]) :], strict=True)
    # "Delete the message that I sent a minute ago": what stands behind the log's own word only says which.
    plain = plain or (
        bool(_patterns(message.scene.language)[0].search(_folds(spans)))
        and sum(span.kind == "word" for span in spans) <= 2
    )
    if (
        verb is not None
        and verb <= 3
        and plain
        and not any(span.is_("mood", "negation") for span in spans[:verb])
    ) and (" " in spans[verb].fold or any(span.is_("undo", "object") for span in spans[verb + 1 : verb + 3])):
        return True
    if not any(span.is_("undo", "whole") or (sure and span.is_("undo", "weak")) for span in spans):
        return False
    return all(_idle(span) or span.has("filler") for span in spans) and (plain or sure)


def _idle(span: Span) -> bool:
    """Whether a span adds nothing to words that take back."""
    return (
        span.has("undo")
        or span.kind in ("mark", "line")
        or span.is_("filler", "social")
        or span.has("correct")
        or span.is_("mood", "negation")
    )


def _something_else(spans: Sequence[Span], verb: int) -> bool:
    """ "Delete that photo", "scrap that idea": a noun that is none of the bot's follows the words at once."""
    last = verb
    while last + 1 < len(spans) and spans[last + 1].has("undo"):
        last += 1
    return last + 1 < len(spans) and spans[last + 1].kind == "word"


def _excuses(message: Message, spans: Sequence[Span], *, strict: bool) -> bool:
    """Whether some words only say why something is taken back. `strict`: in words that excuse; else anything
    without a value, a name or a chore."""
    if any(span.qty is not None or span.ref is not None or span.has("step") for span in spans):
        return False
    if not strict or all(_idle(span) for span in spans):
        return True
    excuse = _patterns(message.scene.language)[1]
    told = message.words_of(spans).casefold().replace("’", "'")
    return (
        bool(excuse.search(told))
        and not any(span.kind == "time" or span.has("chatter") for span in spans)
        and sum(span.kind == "word" for span in spans) <= _EXCUSE_WORDS
    )


def _few_words(parts: Sequence[Sequence[Span]]) -> bool:
    return (
        len(parts) <= 3 and sum(span.kind == "word" for part in parts for span in part) <= 2 * _EXCUSE_WORDS
    )
