"""Notes: lines that begin with a word for it, kept in the writer's own words."""

import re
from collections.abc import Sequence
from functools import lru_cache

from bot.cellar.log.acts import Note
from bot.understand.claims.beginnings import joint
from bot.understand.claims.drafts import Draft
from bot.understand.text.clauses import reads_gravity
from bot.understand.text.language import tables_of
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.spans import Span
from bot.understand.verdict import Doubt

_SHORT_VALUE = 6
"""A note of at most this many spans that holds a gravity is a reading: "note 1.012 for plum"."""
_NOTE_BY = 6


def note(message: Message, spans: Sequence[Span]) -> Draft | None:
    """ "Note plum: smells of pears" - from a line that starts with a word for note."""
    start = _note_at(spans)
    ref: Ref | None = None
    if start < len(spans) and spans[start].ref is not None:
        after = start + 1
        while after < len(spans) and spans[after].kind == "mark":
            after += 1
        if after < len(spans) and spans[after].is_("mood", "note"):
            ref, start = spans[start].ref, after
    if start >= len(spans) or not spans[start].is_("mood", "note"):
        return None
    index = start + 1
    while index < len(spans):
        span = spans[index]
        if span.ref is not None and ref is None:
            ref = span.ref
        elif (
            (span.is_("part", "opens_note") and ref is None)
            or span.kind == "mark"
            or (
                span.has("batchword", None)
                and ref is not None
                and index + 1 < len(spans)
                and joint(spans[index + 1])
            )
        ):
            pass
        else:
            break
        index += 1
        if joint(spans[index - 1]) and (ref is not None or spans[index - 1].fold != ","):
            break
    colon = any(joint(span) for span in spans[start + 1 : index])
    if ref is None and not colon and spans[start].is_("part", "bare_note"):
        return None
    while index < len(spans) and joint(spans[index]):
        index += 1
    if ref is None and index + 1 < len(spans) and spans[index].ref is not None and joint(spans[index + 1]):
        ref, index = spans[index].ref, index + 2
    rest = spans[index:]
    if ref is None and spans[start].is_("part", "on_record") and not any(map(_of_wine, rest)):
        return None  # "for the record I voted against"
    valued = any(span.qty is not None and reads_gravity(span.qty) for span in rest)
    if valued and not colon and len(rest) <= _SHORT_VALUE and not any(span.kind == "word" for span in rest):
        return None
    if index >= len(spans) and spans[-1].fold == "?":
        return None
    if index >= len(spans):
        return Draft(Note(text=""), 2.0, "nothing", [ref] if ref else [], doubt=Doubt.HALF_UNDERSTOOD)
    if ref is None:
        ref = next((span.ref for span in (*spans[:start], *spans[index:]) if span.ref is not None), None)
    text = message.text[message.tokens[spans[index].lo].start :].strip()
    if text == "?":
        return None
    if ref is None and spans[start].is_("part", "idiom"):
        return Draft(Note(text=text), 3.0, "nothing", doubt=Doubt.UNSURE)
    return Draft(Note(text=text), 3.0, "nothing", [ref] if ref is not None else [])


_HEAD = 7
"""Words at most before the colon of a note of how a wine tastes."""


def tasting(message: Message, spans: Sequence[Span]) -> Draft | None:
    """ "Plum, first glass: cherries, a bit thin. Six out of ten": how a wine tastes, by a line that says so before its
    colon, and that tells nothing else."""
    colon = next((at for at, span in enumerate(spans) if span.kind == "mark" and span.fold == ":"), None)
    if colon is None or message.text.rstrip().endswith("?"):
        return None
    head, rest = message.folds_of(spans[:colon]), spans[colon + 1 :]
    if len(head) > _HEAD or not rest or not _opens(message.scene.language).search(" ".join(head)):
        return None
    if any(_tells(span) for span in (*spans[:colon], *rest)):
        return None
    refs = [span.ref for span in spans if span.ref is not None and span.ref.kind in ("batch", "colour")]
    return Draft(Note(text=message.text.strip()), _PLAINLY, "anything", refs[:1])


def _tells(span: Span) -> bool:
    """Whether it may be a fact of its own: a gravity, a chore, something put in."""
    gravity = span.qty is not None and reads_gravity(span.qty)
    chore = span.has("step") and not span.has("unit")
    return gravity or chore or span.has("packet") or span.is_("put", "done")


_PLAINLY = 3.0
"""The score of a note that says itself that it is one."""


@lru_cache(maxsize=8)
def _opens(language: str) -> re.Pattern[str]:
    return re.compile("|".join(rf"\b(?:{each})\b" for each in tables_of(language, "tasting")["opens"]))


def _note_at(spans: Sequence[Span]) -> int:
    """Where the word for note stands: first, or later when a name and a colon follow it."""
    for index in range(1, min(_NOTE_BY, len(spans) - 1)):
        before = all(
            span.ref is not None or span.has("filler") or span.kind == "mark" for span in spans[:index]
        )
        if spans[index].is_("mood", "note") and before and spans[index + 1].fold == ":":
            return index
    for index in range(1, len(spans) - 2):
        if (
            spans[index].is_("mood", "note")
            and spans[index + 1].ref is not None
            and spans[index + 2].fold == ":"
        ):
            return index
    return _skip_small(spans, 0)


def _of_wine(span: Span) -> bool:
    return span.ref is not None or any(
        span.has(kind) for kind in ("step", "measure", "substance", "packet", "vessel", "batchword")
    )


def _skip_small(spans: Sequence[Span], at: int) -> int:
    while at < len(spans) and (spans[at].kind == "mark" or spans[at].is_("filler", "social")):
        if spans[at].is_("mood", "note"):
            break
        at += 1
    return at
