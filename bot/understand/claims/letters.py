"""A reply to a reminder's letter: what is done, put off, taken on or given back, and which of its things."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Literal, assert_never

import msgspec

from bot.cellar.log.acts import Done, PutOff, StepName, TakeOn
from bot.understand.claims.replies import reminder_reply
from bot.understand.forms.letters import LetterWords, letter_words
from bot.understand.scene import ReplyTo, Scene
from bot.understand.text import moods
from bot.understand.text.clauses import Clause
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.spans import Span
from bot.understand.text.split import split

Answer = Literal["done", "later", "mine", "release"]

_MOST_UNKNOWN = 1
"""Words that mean nothing here: with more of them it is talk beside the letter."""

_SOON = timedelta(hours=36)
"""Without a reply, "on friday" answers somebody else as well: only what is soon is taken for the letter's."""

_SHORT = 8
"""Words of an answer without a reply: with more of them it is talk."""


class Reply(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that the reply says; `of` are the batches and vessels named, `every` that all are meant."""

    action: Answer
    until: datetime | None = None
    of: frozenset[str] = frozenset()
    step: StepName | None = None
    measure: str | None = None
    every: bool = False
    whom: str | None = None
    """The member who will do it, where that is not the writer."""
    goods: frozenset[str] | None = None
    """The things to buy that it is about, in words; none of them for "got them"."""
    excepting: bool = False
    """Some of the things are left out: which, is better asked."""
    enough: bool | None = None
    """Of what is done several times: whether that was the last time. None where nothing is said of it."""

    @property
    def named(self) -> bool:
        return bool(self.of or self.step or self.measure or self.goods)

    @property
    def of_its_own(self) -> bool:
        """Whether only a letter can be meant: the grammar of facts knows nothing of it."""
        return (
            self.action == "release" or bool(self.whom) or self.goods is not None or self.enough is not None
        )


def letter_reply(
    text: str, scene: Scene, sent_at: datetime, pending: Answer | None = None
) -> tuple[Reply, ...]:
    """What the reply says of the things in the letter, in order; nothing when it says something else besides.
    `pending` is what was said before and is only to be told of which."""
    message = _message(text, scene, sent_at)
    words = letter_words(scene.language, scene.members)
    goods = words.goods(words.said(message.spans))
    if goods is not None:
        return (Reply(action="done", goods=goods),)
    if words.excepting.search(text):
        first = (_answer(clause, message, words) for clause in split(message.spans))
        answer = next((one for one in first if one is not None), None)
        return () if answer is None else (Reply(action=answer.action, until=answer.until, excepting=True),)
    found: list[Reply] = []
    waiting: frozenset[str] = frozenset()
    for clause in split(message.spans):
        said = words.said(clause.spans)
        if not said and not clause.any("mood"):
            continue  # "ok", "thanks"
        gas = words.gas(said)
        if gas is not None:
            before = found.pop() if found and found[-1].action == "done" else Reply(action="done")
            found.append(msgspec.structs.replace(before, step=before.step or "degas", enough=gas))
            continue
        if (own := _of_its_own(clause, message, words)) is not None:
            if found and found[-1] == _DECLINED and own.whom:
                found.pop()  # "I can't, bo will"
            found.append(msgspec.structs.replace(own, of=own.of | waiting))
            waiting = frozenset()
            continue
        if _says_more(clause):
            return ()
        of, every = _names(clause, message)
        answer = _answer(clause, message, words) or (
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
        if found and answer.action == "later" and _vaguer(found[-1]) and not of | waiting:
            found.pop()  # "later, in half an hour" says one thing, and so does "can't, tomorrow"
        found.append(msgspec.structs.replace(answer, of=of | waiting, every=every, measure=_measure(clause)))
        waiting = frozenset()
    return tuple(found) if not waiting else ()


_DECLINED = Reply(action="release")


def _vaguer(reply: Reply) -> bool:
    """Whether a time that is said next belongs to it."""
    return reply == _DECLINED or (reply.action == "later" and not reply.named and not reply.every)


def plain_reply(
    text: str, scene: Scene, sent_at: datetime, pending: Answer | None = None
) -> tuple[Reply, ...]:
    """The same for what was sent without a reply to the letter: only where every word of it is of an answer."""
    words = letter_words(scene.language, scene.members)
    message = _message(text, scene, sent_at)
    spans = [span for span in message.spans if span.kind not in ("mark", "line")]
    said = words.said(spans)
    whole = words.goods(said) is not None or words.gas(said) is not None
    if not 0 < len(spans) <= _SHORT or not (whole or all(_answers(span, words) for span in spans)):
        return ()
    found = letter_reply(text, scene, sent_at, pending)
    soon = all(reply.until is None or reply.until - sent_at <= _SOON for reply in found)
    return found if soon and not any(reply.whom or reply.action == "release" for reply in found) else ()


def mixed_reply(text: str, scene: Scene, sent_at: datetime) -> tuple[tuple[Reply, ...], str]:
    """What a reply says of the letter's things beside facts ("plum 1.050, sloe later"), each of a thing that
    it names, and the facts as written; nothing, when it says only one or the other."""
    message = _message(text, scene, sent_at)
    found: list[Reply] = []
    facts: list[str] = []
    for clause in split(message.spans):
        if clause.quantities:
            facts.append(_said(clause, message))
            continue
        reply = letter_reply(_said(clause, message), scene, sent_at)
        if len(reply) != 1 or not reply[0].named:
            return (), ""
        found += reply
    return (tuple(found), ", ".join(facts)) if found and facts else ((), "")


def _said(clause: Clause, message: Message) -> str:
    first, last = clause.spans[0], clause.spans[-1]
    return message.text[message.tokens[first.lo].start : message.tokens[last.hi - 1].end]


def _message(text: str, scene: Scene, sent_at: datetime) -> Message:
    return Message(text, scene, sent_at, by=None, replying_to=ReplyTo(), addressed=True)


def _of_its_own(clause: Clause, message: Message, words: LetterWords) -> Reply | None:
    """Handed to somebody, or given back."""
    named = [span for span in clause.spans if span.ref is not None or span.has("step", "ing")]
    said = words.said([span for span in clause.spans if span not in named])
    if clause.asked or any(span.ref is not None and span.ref.kind == "unknown" for span in named):
        return None
    whom = words.handed_to(said)
    if whom is not None and (bool(named) or not said.endswith(" the")):
        of, every = _names(clause, message)
        step = next((span.step for span in named if span.step), None)
        return Reply(action="mine", whom=whom, of=of, every=every, step=step)
    return Reply(action="release") if words.declined(said) and not named else None


def _answers(span: Span, words: LetterWords) -> bool:
    """Whether a word can only be part of an answer: a name, a time, done, later, a chore, or a small word."""
    return span.fold not in words.talk and (
        span.ref is not None
        or span.kind == "time"
        or span.fold in words.polite
        or span.fold in words.more
        or any(span.is_("mood", answer) for answer in ("done", "later", "mine"))
        or span.is_("answer", "all")
        or span.has("measure")
        or span.has("step", "done")
        or span.has("step", "ing")
        or span.has("join")
        or words.good.fullmatch(span.fold) is not None
    )


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


def _answer(clause: Clause, message: Message, words: LetterWords) -> Reply | None:
    step = next((span.step for span in clause.spans if span.has("step") and span.step), None)
    answer = reminder_reply(clause, ReplyTo(), message.sent_at, message.scene)
    goods = words.goods_named(words.said(clause.spans)) or None
    match answer:
        case Done():
            return Reply(action="done", step=step, goods=goods)
        case PutOff(until=until):
            return Reply(action="later", until=until, step=step, goods=goods)
        case TakeOn(until=until):
            return Reply(action="mine", until=until, step=step, goods=goods)
        case None:
            pass
        case _:
            assert_never(answer)
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
