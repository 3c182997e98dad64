"""What is said of reminders: a chore that somebody takes on, and a reply to a reminder's letter, of what is done, put
off, taken on or given back, and which of its things."""

import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from itertools import pairwise
from typing import Any, assert_never

import msgspec

from bot.cellar.log.acts import Act, Done, PutOff, Remind, StepName, TakeOn
from bot.understand.claims.drafts import Draft
from bot.understand.scene import LetterAnswer, ReplyTo, Scene
from bot.understand.text import moods
from bot.understand.text.clauses import Clause
from bot.understand.text.language import tables_of
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.scan import fold
from bot.understand.text.spans import Span
from bot.understand.text.split import split
from bot.understand.text.times import TimeSaid, resolve, together

_PLAN_HOUR = 10
"""When on its day a plan without an hour is for."""

_FARTHEST = timedelta(days=3660)
"""Nobody puts a chore off for longer than ten years."""


_MOST_UNKNOWN = 1
"""Words that mean nothing here: with more of them it is talk beside the letter."""
_SOON = timedelta(hours=36)
"""Without a reply, "on friday" answers somebody else as well: only what is soon is taken for the letter's."""
_SHORT = 8
"""Words of an answer without a reply: with more of them it is talk."""


def until(moments: Sequence[TimeSaid], sent_at: datetime, scene: Scene) -> datetime | None:
    """When a plan or a put-off reminder is for: the nearest future that was said."""
    moment = together(moments)
    if moment is None:
        return None
    when = resolve(moment, sent_at, scene.zone, "future")
    if when is None:
        return None
    if moment.clock is None and moment.hours is None and moment.part is None:
        when = when.replace(hour=_PLAN_HOUR, minute=0).astimezone(UTC).astimezone(scene.zone)
    return when if sent_at < when <= sent_at + _FARTHEST else None


def plan(
    clause: Clause, sent_at: datetime, scene: Scene, weights: dict[str, float], before: Clause | None = None
) -> Draft | None:
    """A chore that somebody takes on: "I'll do the racking", "will rack plum tomorrow". The clause before may
    name it: "leave the racking, I'll do it tomorrow"."""
    spans = clause.spans
    step = next((span for span in spans if span.has("step")), None)
    other = before is not None and not clause.hard and bool(clause.moments) and not before.any("step", "done")
    if step is None and before is not None and other:
        step = next((span for span in before.spans if span.has("step")), None)
    name: StepName | None = step.step if step is not None else None
    if moods.denied(clause) or clause.asked or clause.any("chatter") or _somebody_elses(clause, scene):
        return None
    mine = clause.means("mood", "mine")
    when = until(clause.moments, sent_at, scene)
    moment = together(clause.moments)
    named = step is not None and step.has("step", "ing") and moment is not None and moment.weekday is not None
    ahead = moment is not None and ((moment.days is not None and moment.days > 0) or named)
    planned = moods.planned(clause) or (ahead and step is not None and not step.has("step", "done"))
    if mine and name is not None:
        act: Act = TakeOn(until=when, step=name)
        score = 0.6 + weights.get(name, 0.8) + (0.3 if step is not None and step.has("step", "ing") else 0.0)
        return Draft(act, score, "nothing", refs=list(clause.refs))
    if clause.means("mood", "later") and clause.any("mood") and any("remind" in span.fold for span in spans):
        act = PutOff(until=when, step=name) if name is not None else Remind(until=when)
        score = 1.0 + (0.8 if name else 0.0)
        return Draft(act, score, "nothing", refs=list(clause.refs))
    own = any(span.is_("part", "ill") for span in spans)
    if (
        planned
        and name is not None
        and (when is not None or (own and clause.refs))
        and not moods.unreal(clause)
    ):
        exact = own and moment is not None and moment.exact
        score = 0.9 + weights.get(name, 0.8) if exact else 1.0
        return Draft(TakeOn(until=when, step=name), score, "nothing", refs=list(clause.refs))
    return None


def _somebody_elses(clause: Clause, scene: Scene) -> bool:
    """ "Ana will rack the plum": a plan that is not the writer's own."""
    return any(span.fold in scene.members and span.is_("mood", "subject") for span in clause.spans)


def reminder_reply(
    clause: Clause, replying_to: ReplyTo, sent_at: datetime, scene: Scene
) -> Done | PutOff | TakeOn | None:
    """An answer to a reminder: done, later or mine."""
    spans = clause.spans
    step = replying_to.step
    moments = list(clause.moments) + lengths(spans)
    later = clause.means("mood", "later")
    when = until(moments, sent_at, scene)
    if when is None and clause.means("mood", "not_today"):
        when = until([TimeSaid(days=1)], sent_at, scene)

    of, what = replying_to.of, replying_to.what
    done = Done(of=of, step=step, what=what)
    if later or (when is not None and not clause.any("step", "done") and not clause.means("mood", "done")):
        doing = any(span.has("step", "ing") for span in spans) and not moods.denied(clause)
        if (clause.means("mood", "mine") or doing) and not later:
            return TakeOn(of=of, until=when, step=step, what=what)
        return PutOff(of=of, until=when, step=step, what=what)
    if clause.means("mood", "mine") and not moods.denied(clause):
        return TakeOn(of=of, step=step, what=what)
    if moods.denied(clause) or moods.asks(clause):
        return None
    if clause.means("mood", "done") and not clause.asked and not moods.planned(clause):
        return done
    same = step is not None and any(span.step == step and span.has("step", "done") for span in spans)
    if same and not clause.quantities and not clause.refs and not clause.asked:
        return done
    return None


def lengths(spans: Sequence[Span]) -> list[TimeSaid]:
    """A length of time alone: "half an hour", "2 hours"."""
    found: list[TimeSaid] = []
    for index, span in enumerate(spans):
        if span.qty is not None and span.qty.unit in ("hour", "minute", "day"):
            size = {"hour": 1.0, "minute": 1 / 60, "day": 24.0}[span.qty.unit]
            found.append(TimeSaid(hours=span.qty.value * size))
        elif span.has("amount") and index + 1 < len(spans) and spans[index + 1].has("unit"):
            size = {"hour": 1.0, "minute": 1 / 60}.get(spans[index + 1].value("unit") or "", 0.0)
            if size:
                found.append(TimeSaid(hours=float(span.value("amount") or 1) * size))
    return found


class LetterWords:
    """What people say of a reminder's letter in words of its own: somebody else will do it, not me, the corks are bought,
    the gas is out. The forms of a language, ready to be matched."""

    def __init__(self, language: str) -> None:
        table: dict[str, Any] = tables_of(language, "forms")["letter"]
        self.polite, self.more, self.talk = (frozenset(table[key]) for key in ("polite", "more", "talk"))
        self.hands = self._forms(table["hands"], table)
        self.declines = self._forms(table["declines"], table)
        self.got = self._forms(table["got"], table)
        self.gas_out = self._forms(table["gas_out"], table)
        self.gas_in = self._forms(table["gas_in"], table)
        self.excepting = re.compile(table["excepting"], re.IGNORECASE)
        self.again = [re.compile(rf"(?:{form})\b") for form in table["asks_again"]]
        self.reads = re.compile(rf"\b(?:{table['reads']})\b")
        self.put_off = [re.compile(rf"(?:{form})\b") for form in table["puts_off"]]
        self.taken_on = [re.compile(rf"(?:{form})\b") for form in table["takes_on"]]
        self.cannot_words = re.compile(rf"\b(?:{table['cannot']})\b")
        self.lasting = re.compile(rf"\b(?:{table['lasts']})\b")
        self.good = re.compile(rf"\b(?:{table['good']})\b")

    @staticmethod
    def _forms(forms: Sequence[str], table: dict[str, Any]) -> list[re.Pattern[str]]:
        goods = table["goods"].replace("<good>", table["good"])
        return [re.compile(form.replace("<goods>", goods) + table["close"]) for form in forms]

    def said(self, spans: Sequence[Span]) -> str:
        """The words as the forms have them: folded, without marks and without polite words before them."""
        words = [span.fold for span in spans if span.kind not in ("mark", "line")]
        while words and words[0] in self.polite:
            del words[0]
        return " ".join(words)

    def handed_to(self, said: str, members: Sequence[str]) -> str | None:
        """The one of these members who will do it: "bo can do it", "ask bo". The member's name is put out of the words
        before they are matched, so that the forms are the same for every house."""
        for member in sorted(filter(str.strip, members), key=len, reverse=True):
            before, name, after = f" {said}".partition(f" {fold(member)}")
            if name and _fits(self.hands, f"{before} {_WHO}{after}".lstrip()):
                return member
        return None

    def goods(self, said: str) -> frozenset[str] | None:
        """What is said to be in the house ("got the corks"), in words; none of them for "got them"."""
        return self.goods_named(said) if _fits(self.got, said) else None

    def goods_named(self, said: str) -> frozenset[str]:
        """The words for things to buy that are in it."""
        return frozenset(self.good.findall(said))

    def gas(self, said: str) -> bool | None:
        """Whether all the gas is out, for degassing; None where nothing is said of it."""
        return True if _fits(self.gas_out, said) else False if _fits(self.gas_in, said) else None

    def puts_off(self, said: str) -> bool:
        """Whether it begins as what is put off does: "ask us again", "can it wait"."""
        return self.asks_again(said) or any(form.match(said) for form in self.put_off)

    def asks_again(self, said: str) -> bool:
        """Whether it begins as a wish to be asked again."""
        return any(form.match(said) for form in self.again)

    def takes_on(self, said: str) -> bool:
        """Whether it begins as what is taken on does: "I'll get to it"."""
        return any(form.match(said) for form in self.taken_on)

    def cannot(self, said: str) -> bool:
        """Whether it says when it can not be done: "can't tonight"."""
        return self.cannot_words.search(said) is not None

    def lasts(self, said: str) -> bool:
        """Whether it says until when that is: "not home till nine"."""
        return self.lasting.search(said) is not None

    def declined(self, said: str) -> bool:
        """Whether the writer will not do it: "not me", "can't"."""
        return _fits(self.declines, said)


_WHO = "<who>"
"""Stands for a member in the forms."""


def _fits(forms: Sequence[re.Pattern[str]], said: str) -> bool:
    return any(form.fullmatch(said) for form in forms)


@lru_cache(maxsize=8)
def letter_words(language: str) -> LetterWords:
    """What is said of letters in this language."""
    return LetterWords(language)


class Reply(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that the reply says; `of` are the batches and vessels named, `every` that all are meant."""

    action: LetterAnswer
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
    text: str, scene: Scene, sent_at: datetime, pending: LetterAnswer | None = None
) -> tuple[Reply, ...]:
    """What the reply says of the things in the letter, in order; nothing when it says something else besides.
    `pending` is what was said before and is only to be told of which."""
    message = _message(text, scene, sent_at)
    words = letter_words(scene.language)
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
    text: str, scene: Scene, sent_at: datetime, pending: LetterAnswer | None = None
) -> tuple[Reply, ...]:
    """The same for what was sent without a reply to the letter: only where every word of it is of an answer."""
    words = letter_words(scene.language)
    message = _message(text, scene, sent_at)
    spans = [span for span in message.spans if span.kind not in ("mark", "line")]
    said = words.said(spans)
    whole = words.goods(said) is not None or words.gas(said) is not None
    if not 0 < len(spans) <= _SHORT or not (whole or all(_answers(span, words) for span in spans)):
        return ()
    found = letter_reply(text, scene, sent_at, pending)
    soon = all(reply.until is None or reply.until - sent_at <= _SOON for reply in found)
    return found if soon and not any(reply.whom or reply.action == "release" for reply in found) else ()


def mixed_reply(text: str, scene: Scene, sent_at: datetime) -> tuple[tuple[Reply, ...], tuple[str, ...]]:
    """What a reply says of the letter's things beside facts ("plum 1.050, sloe later"), each of a thing that
    it names, and the runs of facts as written; nothing, when it says only one or the other."""
    message = _message(text, scene, sent_at)
    found: list[Reply] = []
    runs: list[list[Clause]] = []
    telling = False
    for clause in split(message.spans):
        if clause.quantities:
            runs = [*runs[:-1], [*runs[-1], clause]] if telling else [*runs, [clause]]
            telling = True
            continue
        telling = False
        reply = letter_reply(_said([clause], message), scene, sent_at)
        if len(reply) != 1 or not reply[0].named:
            return (), ()
        found += reply
    return (tuple(found), tuple(_said(run, message) for run in runs)) if found and runs else ((), ())


def _said(run: Sequence[Clause], message: Message) -> str:
    first, last = run[0].spans[0], run[-1].spans[-1]
    return message.text[message.tokens[first.lo].start : message.tokens[last.hi - 1].end]


def _message(text: str, scene: Scene, sent_at: datetime) -> Message:
    return Message(text, scene, sent_at, by=None, replying_to=ReplyTo(), addressed=True)


def _of_its_own(clause: Clause, message: Message, words: LetterWords) -> Reply | None:
    """Handed to somebody, or given back."""
    named = [span for span in clause.spans if span.ref is not None or span.has("step", "ing")]
    said = words.said([span for span in clause.spans if span not in named])
    if clause.asked or any(span.ref is not None and span.ref.kind == "unknown" for span in named):
        return None
    whom = words.handed_to(said, message.scene.members)
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
