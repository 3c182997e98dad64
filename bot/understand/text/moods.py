"""The mood of a clause: a fact, a plan, a wish, a denial, or a question."""

from collections.abc import Sequence
from itertools import pairwise

from bot.understand.text.clauses import Clause
from bot.understand.text.spans import Span

_FIRST_PLACE = 3


def first_words(clause: Clause) -> list[Span]:
    """The spans that a clause begins with, past greetings, names and marks."""
    return [
        span
        for span in clause.spans
        if span.kind != "mark"
        and not (span.has("filler") and len(span.tags) == 1 and span.is_("filler", "social"))
    ][:_FIRST_PLACE]


def denied(clause: Clause, at: int | None = None) -> bool:
    """Whether a "not" stands before a place in the clause (anywhere, when no place is given)."""
    spans = clause.spans if at is None else clause.spans[:at]
    start = 0
    while (
        not clause.hard
        and start < len(spans)
        and (spans[start].has("correct") or spans[start].kind == "mark")
    ):
        start += 1
    colons = [index for index, span in enumerate(spans) if span.kind == "mark" and span.fold == ":"]
    start = max(start, colons[-1]) if colons else start
    return any(span.is_("mood", "negation") for span in spans[start:])


def planned(clause: Clause, at: int | None = None) -> bool:
    """Whether the clause speaks of what somebody is going to do."""
    spans = clause.spans if at is None else clause.spans[:at]
    return any(span.is_("mood", "plan") for span in spans)


def unreal(clause: Clause, at: int | None = None) -> bool:
    """Whether the clause speaks of what may, should or would be, or of what somebody else says."""
    spans = clause.spans if at is None else clause.spans[:at]
    return any(span.is_("mood", "unreal") or span.is_("mood", "relative") for span in spans)


def perhaps(clause: Clause, at: int) -> bool:
    """Whether "might be" stands before a place in the clause."""
    return any(span.is_("mood", "perhaps") for span in clause.spans[:at])


def compared(clause: Clause, at: int) -> bool:
    """Whether "more than" follows: "he fizzed more than the wine" tells of him."""
    return any(span.is_("part", "compared") for span in clause.spans[at + 1 : at + 3])


def ordered(clause: Clause) -> bool:
    """Whether it bids somebody do a chore: "stir it slowly", "rinse it first", "now get the gas out"."""
    opening = [span for span in first_words(clause) if not span.has("join")]
    steps = [span for span in clause.spans if span.has("step")]
    led = len(opening) > 1 and opening[0].kind == "time" and opening[0].is_("part", "tail")
    if led and not any(span.has("step", "done") for span in steps):
        return any(tag.kind == "step" and tag.form == "bare" for tag in opening[1].tags)
    bidden = len(opening) > 1 and any(tag.kind == "step" and tag.form == "bare" for tag in opening[0].tags)
    whom = bidden and (opening[1].ref is not None or opening[1].is_("mood", "subject"))
    return whom and not any(span.has("step", "done") for span in steps)


def asks(clause: Clause, *, by_words: bool = False) -> bool:
    """Whether the clause is a question: by its mark, or by its first words (only these, if `by_words`)."""
    if clause.asked and not by_words:
        return True
    opening = [
        span
        for span in first_words(clause)
        if span.ref is None and span.kind != "time" and not span.has("join")
    ]
    if not opening:
        return False
    first = opening[0]
    if first.is_("mood", "relative"):
        return len(opening) > 1 and (opening[1].is_("mood", "aux") or opening[1].is_("mood", "plan"))
    if first.is_("mood", "ask") or first.is_("mood", "want"):
        return True
    if first.is_("mood", "aux"):
        return _turned_round(clause, first)
    if first.opens and (first.has("question") or first.has("topic")):
        return True
    return any(tag.kind == "question" and tag.form == "plain" for tag in first.tags)


def asks_within(spans: Sequence[Span], people: frozenset[str]) -> bool:
    """Whether a question stands somewhere in it, by a helping verb before who is meant: "it is foaming, do I ease the lid",
    "wait was I meant to", "is that bad"."""
    for at, (verb, who) in enumerate(pairwise(spans)):
        if not (verb.is_("mood", "aux") and who.is_("mood", "subject")):
            continue
        before = spans[at - 1] if at else None
        if before is not None and before.is_("mood", "subject"):
            continue  # "this is it"
        closes = at + 2 < len(spans) <= at + 2 + _CLOSE and all(span.kind != "mark" for span in spans[at:-1])
        if who.fold in people or closes:
            return True
    return False


_CLOSE = 2
"""Spans that may follow "is that" to the end of the message."""


def _turned_round(clause: Clause, first: Span) -> bool:
    """ "Is the plum", "can we": a helping verb before who or what it is about, which makes a question."""
    at = clause.spans.index(first)
    after = clause.spans[at + 1 :]
    if not after:
        return False
    following = after[0]
    if at > 0 and clause.spans[at - 1].ref is not None:
        return False
    if following.ref is not None and following.ref.kind == "every":
        return False
    if first.is_("part", "did") and len(after) > 1 and after[1].has("step", "ing"):
        return False
    did = any(span.has("step") or span.has("put") or span.is_("topic", "finish_time") for span in after)
    if first.is_("part", "did") and following.fold in ("the", "both") and clause.quantities and not did:
        return False
    thing = len(after) > 1 and (after[1].kind == "word" or after[1].has("measure"))
    if first.is_("part", "did") and following.fold == "the" and thing:
        return False
    put_in = len(after) > 2 and after[1].has("substance") and all(map(_small, after[2:]))
    put_in = put_in and (after[2].is_("part", "into") or after[2].moment is not None)
    put_in = put_in and (after[-1].ref is not None or after[-1].moment is not None)
    if first.is_("part", "did") and put_in and not did:
        return False  # "did the finings in the plum"
    if following.is_("mood", "subject"):
        return True
    done = any(span.has("step") or span.has("put") or span.is_("topic", "finish_time") for span in after)
    if first.is_("part", "did") and not done:
        return False
    if following.qty is not None:
        return clause.means("topic", "well") or clause.means("topic", "ready")
    return following.ref is not None or (following.has("substance") and done)


def _small(span: Span) -> bool:
    return span.ref is not None or span.has("filler") or span.moment is not None or span.kind == "mark"
