"""Words that strike out what was written last, and when they do.

"Undo", and what names the log ("delete the last entry"), is said to the bot. "Scrap that", "forget it" and the
like people say to each other all day: they count only in reply to a message about an entry, or at once, from
whoever wrote the last entry; and never where the message goes on about something else.
"""

import re
from collections.abc import Sequence
from datetime import timedelta
from functools import lru_cache
from typing import NamedTuple

from bot.cellar.log.acts import Undo
from bot.understand.text.language import tables_of
from bot.understand.text.message import Message
from bot.understand.text.spans import Span

AT_ONCE = timedelta(minutes=2)
"""So long after it was said, "scrap that" can mean the last entry."""

_EXCUSE_WORDS = 4
"""Unknown words that an excuse beside an undo may have."""


class TakenBack(NamedTuple):
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
