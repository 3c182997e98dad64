"""The one time of a message, told beside the fact and not with it: "wednesday 2115, 1.024", "we were in to land on sunday
night, 10pm, and it was at 1.062"."""

from datetime import datetime
from typing import get_args

import msgspec

from bot.cellar.log.acts import Act, Addition, Gravity, Step, Temperature
from bot.understand.judge import plausible
from bot.understand.judge.offers import WHY
from bot.understand.text.message import Message
from bot.understand.text.sayings import Saying, sayings
from bot.understand.text.spans import Span
from bot.understand.text.times import TimeSaid
from bot.understand.verdict import Doubt, Verdict

_HasTime = Gravity | Temperature | Step | Addition
_TIMED = get_args(_HasTime)
_OF_ITS_TIME = (Doubt.RISING, Doubt.FALLING_FAST, Doubt.SLIPPED_DIGIT)
"""Doubts that come from the time that a gravity is of."""


def with_hour(verdict: Verdict, message: Message) -> Verdict:
    """The verdict, with the day and hour that the message tells for what has none."""
    acts = verdict.acts
    if not acts or verdict.doubt not in (None, Doubt.UNSURE, *_OF_ITS_TIME):
        return verdict
    if any(not isinstance(act, _TIMED) or act.at is not None for act in acts):
        return verdict
    moment = _moment(message)
    if moment is None:
        return verdict
    at, doubt = plausible.when([moment], message.sent_at, message.scene)
    if at is None or doubt is not None:
        return verdict

    def timed(act: Act) -> Act:
        return msgspec.structs.replace(act, at=at) if isinstance(act, _TIMED) and act.at is None else act

    acts = tuple(map(timed, acts))
    options = tuple(tuple(map(timed, option)) for option in verdict.options)
    told = msgspec.structs.replace(verdict, acts=acts, options=options)
    return _held_against(told, message, at)


def _held_against(told: Verdict, message: Message, at: datetime) -> Verdict:
    """The verdict, with its one gravity held against the curve as it was at that time."""
    (act, *more), target = told.acts, message.targets.named(told.acts[0].of)
    if more or not isinstance(act, Gravity) or target is None:
        return told
    worry = plausible.concern(act, target, message.scene, at, sweetened=False)
    if worry is not None:
        options = ((act,), *((likely,) for likely in worry.likely))
        return Verdict(
            verdict="ask",
            acts=(act,),
            why=WHY[worry.doubt],
            doubt=worry.doubt,
            options=options,
            about=worry.about,
        )
    if told.doubt not in _OF_ITS_TIME:
        return told
    return Verdict(verdict="act", acts=(act,), why="what was read at that time")


def _moment(message: Message) -> TimeSaid | None:
    """The one time in it, a day and an hour, that can only be that of the fact: it stands in a piece of its own, or what was
    so is told after it."""
    timed = [span for span in message.spans if span.moment is not None]
    if len(timed) != 1 or timed[0].moment is None or not _whole(timed[0].moment):
        return None
    parts = sayings(message)
    at = next((at for at, part in enumerate(parts) if timed[0] in part.spans), None)
    if at is None or any(map(_imagined, parts[at].spans)) or parts[at].asked:
        return None
    alone = not parts[at].wordy and all(span.qty is None for span in parts[at].spans)
    return timed[0].moment if alone or _was(parts, at, message) else None


def _whole(moment: TimeSaid) -> bool:
    """Whether a day that is over or today, and an hour of it, were said."""
    day = (
        moment.weekday is not None or moment.day is not None or (moment.days is not None and moment.days <= 0)
    )
    return day and moment.clock is not None


def _was(parts: list[Saying], at: int, message: Message) -> bool:
    """Whether the piece right after it says what was so then."""
    following = parts[at + 1] if at + 1 < len(parts) else None
    return (
        following is not None
        and not following.hard
        and bool(message.small.was.intersection(message.folds_of(following.spans)))
    )


def _imagined(span: Span) -> bool:
    return any(span.is_("mood", mood) for mood in ("plan", "unreal", "request", "negation"))
