"""A reply to a letter that says several things: what is done, put off or taken on, and which of them."""

from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise
from typing import Literal

import msgspec

from bot.cellar.acts import Reminder, StepName
from bot.understand import moods
from bot.understand.clauses import Clause
from bot.understand.message import Message
from bot.understand.names import Ref
from bot.understand.replies import reminder_reply
from bot.understand.scene import ReplyTo, Scene
from bot.understand.spans import Span
from bot.understand.splitting import split

Answer = Literal["done", "later", "mine"]

_MOST_UNKNOWN = 1
"""Words that mean nothing here: with more of them it is talk beside the letter."""


class Reply(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that the reply says; `of` are the batches and vessels named, `every` that all are meant."""

    action: Answer
    until: datetime | None = None
    of: frozenset[str] = frozenset()
    step: StepName | None = None
    measure: str | None = None
    every: bool = False

    @property
    def named(self) -> bool:
        return bool(self.of or self.step or self.measure)


def letter_reply(
    text: str, scene: Scene, sent_at: datetime, pending: Answer | None = None
) -> tuple[Reply, ...]:
    """What the reply says of the things in the letter, in order; nothing when it says something else besides.
    `pending` is what was said before and is only to be told of which."""
    message = Message(text, scene, sent_at, by=None, replying_to=ReplyTo(), addressed=True)
    found: list[Reply] = []
    waiting: frozenset[str] = frozenset()
    for clause in split(message.spans):
        if _says_more(clause):
            return ()
        of, every = _names(clause, message)
        answer = _answer(clause, message) or (
            Reply(action=pending) if pending is not None and (of or every or _measure(clause)) else None
        )
        if answer is None and clause.clean() and of:
            if found:
                found[-1] = msgspec.structs.replace(found[-1], of=found[-1].of | of)
            else:
                waiting |= of
            continue
        if answer is None:
            return ()
        if found and answer.action == "later" and found[-1] == Reply(action="later") and not of | waiting:
            found.pop()  # "later, in half an hour" says one thing
        found.append(msgspec.structs.replace(answer, of=of | waiting, every=every, measure=_measure(clause)))
        waiting = frozenset()
    return tuple(found) if not waiting else ()


def _says_more(clause: Clause) -> bool:
    """A number, a vessel that something went into, a question, chatter: that is for the grammar of facts."""
    spans = clause.spans
    numbers = [s for s in spans if s.qty is not None and not s.has("filler") and not _length(s)]
    into = any(
        before.is_("part", "into") and after.ref is not None and after.ref.kind == "vessel"
        for before, after in pairwise(spans)
    )
    unknown = any(ref.kind == "unknown" for ref in clause.refs)
    return bool(
        numbers
        or into
        or unknown
        or clause.asked
        or clause.any("chatter")
        or len(clause.words()) > _MOST_UNKNOWN
    )


def _length(span: Span) -> bool:
    return span.qty is not None and span.qty.unit in ("hour", "minute", "day")


def _answer(clause: Clause, message: Message) -> Reply | None:
    step = next((span.step for span in clause.spans if span.has("step") and span.step), None)
    draft = reminder_reply(clause, ReplyTo(), message.sent_at, message.scene)
    if draft is not None and isinstance(draft.act, Reminder):
        return Reply(action=draft.act.action, until=draft.act.until, step=step)
    told = clause.any("step", "done") and not moods.denied(clause) and not moods.planned(clause)
    return Reply(action="done", step=step) if told and not moods.asks(clause) else None


def _measure(clause: Clause) -> str | None:
    """Which number is meant: "done the gravity"."""
    return next((span.value("measure") for span in clause.spans if span.has("measure")), None)


def _names(clause: Clause, message: Message) -> tuple[frozenset[str], bool]:
    refs = clause.refs
    every = any(ref.kind == "every" for ref in refs) or clause.means("answer", "all")
    return frozenset(_targets(refs, message)), every


def _targets(refs: Sequence[Ref], message: Message) -> list[str]:
    return [
        name
        for ref in refs
        if ref.kind not in ("every", "unknown")
        for target in message.targets.of(ref)
        for name in (target.of, target.vessel, *target.choices)
        if name is not None
    ]
