"""Whether a reminder was asked of the bot, and what it is about: the verdict on what `reminding` read."""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from functools import partial
from typing import Final

from bot.cellar.batch.due import TIMER_WITHIN
from bot.cellar.log.acts import Reminder, Step, StepName, Undo
from bot.cellar.log.due_key import AskedKey, is_meant
from bot.understand.claims import plans, weigh
from bot.understand.claims.drafts import Draft
from bot.understand.claims.offers import WHY
from bot.understand.forms.reminders import (
    People,
    Reminding,
    Wanted,
    only_a_time,
    people_of,
    reminding_in,
    wanted,
    wish_for_nobody,
    wish_in,
)
from bot.understand.judge.settle import Settler
from bot.understand.scene import Recent, ReplyTo, Scene
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.scan import tidy
from bot.understand.text.spans import Span
from bot.understand.text.times import Moment
from bot.understand.verdict import Doubt, Verdict

_IGNORE: Final = Verdict(verdict="ignore", why="people talking to each other")
_TRADE = ("step", "substance", "measure", "packet", "vessel")
_EVERYDAY = 1.0
"""From this weight of everyday words on, a word that also means something in a cellar is not about the wine."""
_NAMES = ("batch", "vessel", "colour")


def read_reminder(
    text: str,
    scene: Scene,
    sent_at: datetime,
    replying_to: ReplyTo | None,
    otherwise: Callable[[str], Verdict],
    *,
    by: str | None,
    addressed: bool,
) -> Verdict | None:
    """The verdict on a message that asks for a reminder, or takes one back; None for any other. `otherwise`
    reads the rest of the message."""
    words = reminding_in(scene.language)
    if not words.trigger.search(text):
        return None
    said, slash = _bare(text, addressed=addressed)
    if words.forget.fullmatch(said.strip(" .!?")):
        return _forget(scene, replying_to, by)
    people = people_of(scene.language, scene.members)
    asked = wanted(words.timer(said), by, words, people)
    read = partial(
        Message, scene=scene, sent_at=sent_at, by=by, replying_to=replying_to, addressed=addressed or slash
    )
    if asked is None:
        if replying_to is not None and replying_to.reminds:
            return None
        stray = _no_promise(said, words, people, otherwise, by)
        return stray or _for_nobody(said, words, people, otherwise, read)
    answers = replying_to is not None and (replying_to.reminds or replying_to.of is not None)
    if not asked.what and not asked.left and not answers and _is_timer(asked, by):
        asked = asked._replace(what=words.nothing)
    message = read(asked.what)
    if not asked.what:
        return _of_nothing(asked, replying_to, sure=addressed or slash or asked.called)
    if replying_to is not None and replying_to.reminds and _points_back(message.spans):
        return None  # "remind me tomorrow to do it": an answer to the reminder itself
    rest = otherwise(asked.rest) if asked.rest else _IGNORE
    own = _judged(asked, message, words, _spoken_of(rest, message.spans))
    return _both(own, rest, first=asked.first)


def _bare(text: str, *, addressed: bool) -> tuple[str, bool]:
    """The message without the bot's name or a slash before it, and whether there was a slash."""
    said = tidy(text).strip()
    slash = said.startswith("/")
    if slash or (addressed and said.startswith("@")):
        first, _, rest = said.partition(" ")
        said = f"{first[1:].partition('@')[0]} {rest}" if slash else rest
    return said, slash


def _of_nothing(asked: Wanted, replying_to: ReplyTo | None, *, sure: bool) -> Verdict | None:
    """ "Remind me tomorrow": an answer to what it replies to, or of what?"""
    if (replying_to is not None and (replying_to.reminds or replying_to.of is not None)) or asked.rest:
        return None
    return Verdict(verdict="ask", why=WHY[Doubt.WHAT], doubt=Doubt.WHAT) if sure else _IGNORE


def tells_time(text: str, language: str = "en") -> bool:
    """Whether the text says when and nothing else: it may be what a reminder lacked."""
    return only_a_time(text, reminding_in(language))


def _is_timer(asked: Wanted, by: str | None) -> bool:
    """Minutes that the writer lets me count: nobody says that to people."""
    if asked.moment is None or asked.moment.hours is None or asked.often or asked.notice:
        return False
    soon = timedelta(hours=asked.moment.hours) <= TIMER_WITHIN
    return soon and asked.whom in (None, by)


def _forget(scene: Scene, replying_to: ReplyTo | None, by: str | None) -> Verdict:
    """The reminder of the message replied to is struck out, else the newest that is open: the writer's own
    before another's."""
    if replying_to is not None and replying_to.wishes:
        undo = Undo(entry=replying_to.wishes[-1])
        return Verdict(verdict="act", acts=(undo,), why="takes a reminder back")
    told = scene.recent or ()
    found = [recent for place, recent in enumerate(told) if _is_open(recent, told[:place])]
    own = [recent for recent in found if recent.by == by] or found
    if not own:
        why = WHY[Doubt.NOTHING_TO_CORRECT]
        return Verdict(verdict="ask", why=why, doubt=Doubt.NOTHING_TO_CORRECT)
    return Verdict(verdict="act", acts=(Undo(entry=own[0].entry),), why="takes a reminder back")


def _no_promise(
    said: str, words: Reminding, people: People, otherwise: Callable[[str], Verdict], by: str | None
) -> Verdict | None:
    """A wish for a reminder that could not be read is never a plan of the writer's: it is asked when."""
    stray = wish_in(said, words, people, by)
    if stray is None:
        return None
    plain = otherwise(said)
    promised = [act for act in plain.acts if isinstance(act, Reminder)]
    if not promised or (stray.whom in (None, by) and promised[0].until is not None):
        return None
    if words.tells.match(stray.what):
        return _IGNORE
    return Verdict(verdict="ask", why=WHY[Doubt.WHEN], doubt=Doubt.WHEN, about=stray.what)


def _for_nobody(
    said: str,
    words: Reminding,
    people: People,
    otherwise: Callable[[str], Verdict],
    read: Callable[[str], Message],
) -> Verdict | None:
    """A wish for somebody who is not of the house: said so where it is about the wine, and never the writer's."""
    stray = wish_for_nobody(said, words) if wish_in(said, words, people, None) is None else None
    if stray is None or stray.nobody is None:
        return None
    message = read(stray.what)
    spans = message.spans
    refs = [span.ref for span in spans if span.ref is not None and span.ref.kind in _NAMES]
    sure = message.addressed or (
        stray.nobody.casefold() not in words.nameless and _of_the_trade(stray.what, spans, refs, words)
    )
    rest = otherwise(stray.rest) if stray.rest else _IGNORE
    if not sure:
        return rest
    doubt = Doubt.UNKNOWN_MEMBER
    return _both(Verdict(verdict="ask", why=WHY[doubt], doubt=doubt, about=stray.nobody), rest, first=False)


def _is_open(recent: Recent, newer: Sequence[Recent]) -> bool:
    """Whether it asks for a reminder that nobody has answered with "done", and whose chore nobody has done."""
    wish = recent.act
    if not isinstance(wish, Reminder) or not wish.own:
        return False
    asked = AskedKey(entry=recent.entry) if recent.entry is not None else None
    return not any(
        (
            isinstance(act, Reminder)
            and act.action == "done"
            and asked is not None
            and is_meant(act.what, asked)
        )
        or (isinstance(act, Step) and wish.step == act.step and wish.of == act.of)
        for act in (other.act for other in newer)
    )


def _spoken_of(rest: Verdict, spans: Sequence[Span]) -> str | None:
    """What "it" is: the one batch that the rest of the message is about."""
    names = {act.of for act in rest.acts}
    return names.pop() if len(names) == 1 and any(span.is_("batchword", "it") for span in spans) else None


def _judged(asked: Wanted, message: Message, words: Reminding, spoken_of: str | None) -> Verdict:
    spans, scene = message.spans, message.scene
    refs = [span.ref for span in spans if span.ref is not None and span.ref.kind in _NAMES]
    trade = spoken_of is not None or _of_the_trade(asked.what, spans, refs, words)
    sure = message.addressed or asked.called or message.replying_to not in (None, ReplyTo())
    others = asked.notice or (asked.whom is not None and asked.whom != message.by)
    if not trade and not sure and (others or asked.moment is None or asked.often):
        return _IGNORE
    until = plans.until([asked.moment], message.sent_at, scene) if asked.moment is not None else None
    doubt = Doubt.OFTEN if asked.often else _doubt_of_time(asked) if until is None else None
    step = _chore(spans) if trade else None
    name_only = asked.thing and all(_no_more_than_a_name(span) for span in spans)
    act = Reminder(
        action="later",
        of=None if refs else message.replied.of if message.replied is not None else spoken_of,
        until=until,
        step=step,
        about=None if name_only and (refs or message.replied is not None) else asked.what,
        whom=asked.whom,
    )
    unsure = doubt or (None if trade or sure or _is_timer(asked, message.by) else Doubt.UNSURE)
    draft = Draft(act, weigh.SURE, "nothing", refs=refs if trade else [], doubt=unsure)
    verdict = Settler(message).verdict([draft], half=asked.left)
    if doubt is None:
        return verdict
    return Verdict(verdict="ask", acts=verdict.acts, why=WHY[doubt], doubt=doubt, about=asked.what)


def _doubt_of_time(asked: Wanted) -> Doubt:
    """No time that can be kept to, or one that has passed: "today" alone may be any hour of it."""
    bare = asked.moment is None or asked.moment._replace(vague=False) in (Moment(), Moment(days=0))
    return Doubt.WHEN if bare else Doubt.PAST


def _of_the_trade(what: str, spans: Sequence[Span], refs: Sequence[Ref], words: Reminding) -> bool:
    """Whether a batch, a vessel, a chore or another word of the cellar is in it."""
    if words.trade.search(what) or any(ref.kind != "colour" and ref.sure >= 2 for ref in refs):
        return True
    pot = any(span.ref is not None and span.ref.kind == "kind" for span in spans)  # "the bucket"
    known = bool(refs) or pot or any(span.has(kind) for span in spans for kind in _TRADE)
    return known and weigh.chatter(spans) < _EVERYDAY


def _chore(spans: Sequence[Span]) -> StepName | None:
    """The chore that it begins with: "rack the plum", "the racking"."""
    first = next((span for span in spans if span.kind != "mark" and not span.is_("filler", "link")), None)
    return first.step if first is not None and not first.has("step", "done") else None


def _no_more_than_a_name(span: Span) -> bool:
    return span.ref is not None or span.kind == "mark" or span.has("filler") or span.has("batchword")


def _points_back(spans: Sequence[Span]) -> bool:
    """ "Do it", "that": nothing but a word for what was said before."""
    return len(spans) <= 3 and all(
        span.tags and span.ref is None and not span.has("step", "bare") for span in spans
    )


def _both(own: Verdict, rest: Verdict, *, first: bool) -> Verdict:
    """The reminder with what else the message says: both, or a question about both."""
    if rest.verdict == "ignore" or own.verdict == "ignore":
        return own if rest.verdict == "ignore" else rest
    acts = (*own.acts, *rest.acts) if first else (*rest.acts, *own.acts)
    if own.verdict == rest.verdict == "act":
        return Verdict(verdict="act", acts=acts, why=f"{rest.why} and a reminder")
    return Verdict(
        verdict="ask",
        acts=acts,
        why=WHY[Doubt.HALF_UNDERSTOOD],
        doubt=Doubt.HALF_UNDERSTOOD,
        options=(acts,) if acts else (),
    )
