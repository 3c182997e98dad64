"""What can be seen of the two readings of a message, and of the talk around it, that speaks for or against each: its signs.

A sign has a name and a strength, mostly 1. What each is worth, alone and beside another, is learned (`belief.py`).
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import timedelta
from math import log

import msgspec

from bot.cellar.log.acts import (
    Act,
    Addition,
    Amend,
    Begin,
    Bottles,
    Gravity,
    Note,
    Question,
    Step,
    Temperature,
    Volume,
    kind,
)
from bot.cellar.log.plain import to_plain
from bot.cellar.log.topics import topic_of
from bot.understand.claims.labels import LabelledSaying
from bot.understand.claims.measured import Numbers, Tally, of_act
from bot.understand.claims.said import SAME_AS
from bot.understand.claims.setting import WHATS, kind_of
from bot.understand.judge.plausible import FAR, NEAR, distance
from bot.understand.judge.sayings import SayingsRead
from bot.understand.scene import LetterSaid
from bot.understand.text.clauses import chatter
from bot.understand.text.message import Message
from bot.understand.verdict import Verdict

_WINE_WORDS = ("measure", "substance", "step", "packet", "kitword", "vessel", "move")
_BROAD = frozenset({"help", "overview", "stage"})
"""Questions that much is taken for."""
_STEPS_OF_LIKELIHOOD = (0.05, 0.2, 0.5, 0.8, 0.95, 0.99)
_LENGTHS = (1, 2, 3, 5, 8, 13, 21, 34)
_MOODS = ("unsure", "perhaps", "negation", "unreal", "request", "plan", "want", "ask")
_MOST, _MANY = 3, 8
_FRESH = timedelta(minutes=20)
_WARM = (8.0, 34.0)
_MANY_BOTTLES = 12
_BOTTLE, _FILLED = 0.75, (0.6, 1.1)
_AFTER = frozenset({"rack", "stabilise", "degas", "fine", "bottle", "label"})
_FEW = (1, 2, 3, 5)
_SOON = 2
"""So many of the chores to come can be told as a matter of course."""


def signs(
    rules: Verdict, heard: SayingsRead, message: Message, *, to_bot: bool, for_wine: bool, spoke: bool
) -> dict[str, float]:
    """The signs of a message that the rules read so and its sayings so; `spoke`: the bot did, just before."""
    found: dict[str, float] = {"always": 1.0}
    for name, strength in _every(rules, heard, message):
        if strength:
            found[name] = float(strength)
    found |= {
        name: 1.0
        for name, holds in (("wine chat", for_wine), ("to bot", to_bot), ("bot spoke", spoke))
        if holds
    }
    return found


def _borne_out(
    whose: str, acts: Sequence[Act], said: Sequence[LabelledSaying]
) -> Iterator[tuple[str, float]]:
    """How well the labels bear out what is told: how likely each of its acts is said by some saying, and each saying with
    words of its own says one of them, or nothing."""
    wordy = [one for one in said if one.saying.wordy]
    if not acts or not wordy:
        return
    labels = [_labels_of(act) for act in acts]
    borne = min(max(one.share(*each) for one in wordy) for each in labels)
    every = {label for each in labels for label in each} | _TELLS_NOTHING
    accounted = min(one.share(*every) for one in wordy)
    yield f"{whose} borne out", _odds(borne)
    yield f"{whose} accounted for", _odds(accounted)
    yield from ((f"{whose} borne out over {least}", borne > least) for least in _STEPS_OF_LIKELIHOOD)


def _as_numbers(whose: str, acts: Sequence[Act], numbers: Numbers) -> Iterator[tuple[str, float]]:
    """How well what is told fits what the numbers are, each of its wine."""
    lacks, more = as_numbers(acts, numbers)
    yield f"{whose} lacks a number", lacks > 0
    yield f"{whose} lacks numbers", lacks > 1
    yield f"{whose} has a number more", more > 0
    yield f"{whose} as numbers", bool(numbers.figures) and not lacks and not more


def as_numbers(acts: Sequence[Act], numbers: Numbers) -> tuple[int, int]:
    """How many of the numbers stand in no act, each of its wine, and how many stand in acts that are none of these."""
    left = [one for act in acts for one in of_act(act, frozenset({act.of}) if act.of is not None else None)]
    lacks = 0
    for figure in numbers.figures:
        for name in figure.of or (None,):
            hit = next((one for one in left if _is_it(one, figure, name)), None)
            if hit is None:
                lacks += 1
            else:
                left.remove(hit)
    return lacks, len(left)


def _is_it(one: Tally, figure: Tally, name: str | None) -> bool:
    own = name is None or one.of is None or name in one.of
    return own and one.role == figure.role and abs(one.figure - figure.figure) < _EXACT


_EXACT = 1e-3

_TELLS_NOTHING = frozenset({"rest", "thanks", "yes", "no"})


def _labels_of(act: Act) -> tuple[str, ...]:
    """The labels that say an act."""
    match act:
        case Step(step=step):
            label = f"step:{step}"
            return (SAME_AS.get(label, label), "done")
        case Addition(what=what):
            first = what.partition(" ")[0].casefold()
            label = f"add:{first if first in WHATS or first == 'yeast' else 'other'}"
            return (SAME_AS.get(label, label), "step:stabilise", "add:sachet")
        case Bottles():
            return ("bottles:left",) if act.left is not None else (f"bottles:{act.reason or 'drank'}",)
        case Question():
            return (f"ask:{topic_of(act.subject) or act.about}",)
        case Temperature():
            return ("temperature", "gravity")
        case Begin() | Amend():
            return ("begin", "amend")
        case _:
            return (kind(act),)


def _every(rules: Verdict, heard: SayingsRead, message: Message) -> Iterator[tuple[str, float]]:
    told = heard.verdict
    yield from _of_verdict("rules", rules, message)
    yield from _of_verdict("told", told, message)
    relation = _relation(rules, told)
    yield f"relation {relation}", 1
    yield f"rules {rules.verdict}, {relation}", 1
    yield f"rules {_name(rules)}, told {_name(told)}", 1
    yield f"rules {rules.verdict}, told {told.verdict if told else 'nothing'}, {relation}", 1
    for what, share in (("sure", heard.sure), ("talk", heard.talk), ("asks", heard.asks)):
        yield what, _odds(share)
        for least in _STEPS_OF_LIKELIHOOD:
            yield f"{what} over {least}", share > least
    numbers = heard.numbers
    yield "numbers", _odds(numbers.sure)
    yield from ((f"numbers over {least}", numbers.sure > least) for least in _STEPS_OF_LIKELIHOOD)
    yield "numbers told", len(numbers.figures) > 0
    yield from _as_numbers("rules", rules.acts, numbers)
    yield from _as_numbers("told", told.acts if told is not None else (), numbers)
    yield "asking", heard.asking
    yield "left over", heard.left is not None
    yield "unread", rules.unread is not None
    yield "completes", heard.completes
    yield from ((f"label {label.partition(':')[0]}", 1) for label in set(heard.labels))
    for label, share in heard.top[:1]:
        yield f"whole {label.partition(':')[0]}", 1
        yield f"whole of {label}", 1
        yield "whole", _odds(share)
    yield "together", _odds(heard.together)
    yield from ((f"over {count} parts", heard.parts > count) for count in _FEW)
    yield "untold parts", min(heard.untold, _MANY) / _MANY
    yield from ((f"over {count} told", len(heard.labels) > count) for count in _FEW)
    for label, share in heard.top[1:2]:
        yield f"second {label.partition(':')[0]}", 1
        yield "second", share / heard.top[0][1]
    if told is not None:
        yield "other batch", any(a.of != b.of for a, b in zip(rules.acts, told.acts, strict=False))
        yield "more told", detail(told.acts) > detail(rules.acts)
        yield "less told", detail(told.acts) < detail(rules.acts)
    yield from _borne_out("rules", rules.acts, heard.said)
    yield from _borne_out("told", told.acts if told is not None else (), heard.said)
    yield from _of_message(message)


def _name(verdict: Verdict | None) -> str:
    if verdict is None:
        return "nothing"
    return verdict.doubt.value if verdict.doubt else verdict.verdict


def _of_verdict(whose: str, verdict: Verdict | None, message: Message) -> Iterator[tuple[str, float]]:
    yield f"{whose} {_name(verdict)}", 1
    if verdict is None:
        return
    yield from ((f"{whose} {each}", 1) for each in kinds(verdict.acts))
    yield f"{whose} count", min(len(verdict.acts), _MOST) / _MOST
    yield f"{whose} of nothing", of_nothing(verdict.acts, message)
    figures, names = not_taken(verdict.acts, message)
    yield f"{whose} leaves a figure", figures > 0
    yield f"{whose} leaves figures", figures > 1
    yield f"{whose} leaves a name", names > 0
    yield f"{whose} takes all", bool(verdict.acts) and not figures and not names
    waits = {step for batch in message.scene.under_way for step in batch.next[:_SOON]}
    steps = [act for act in verdict.acts if isinstance(act, Step)]
    yield f"{whose} chore that is next", any(step.step in waits for step in steps)
    yield f"{whose} chore that is not next", any(step.step not in waits for step in steps)
    yield from ((f"{whose} {each}", 1) for each in set(_of_acts(verdict.acts, message)))
    yield (
        f"{whose} broad",
        any(topic_of(a.subject) in _BROAD for a in verdict.acts if isinstance(a, Question)),
    )


def _of_acts(acts: Sequence[Act], message: Message) -> Iterator[str]:
    """How what is told stands to what is known of its batch, and to what was told before."""
    scene = message.scene
    named = {
        target.of for span in message.spans if span.ref is not None for target in message.targets.of(span.ref)
    }
    last = next(iter(scene.recent or ()), None)
    spoken = last.act.of if last is not None and message.sent_at - last.said_at < _FRESH else None
    batches = {batch.name: batch for batch in scene.batches}
    for act in acts:
        batch = batches.get(act.of) if act.of is not None else None
        if act.of is not None and act.of not in named and len(scene.batches) > 1:
            yield "of one of several, unnamed"
            if act.of == spoken:
                yield "of the one just spoken of"
            if len(scene.under_way) == 1 and batch is not None and batch.bottled is None:
                yield "of the only one under way"
        if act.of is not None and batch is None:
            yield "of a vessel"
        if batch is None:
            continue
        if batch.bottled is not None and not isinstance(act, Bottles | Question | Note):
            yield "of a wine in bottles"
        if isinstance(act, Gravity):
            near = distance(batch, act.sg, message.sent_at)
            first = not batch.readings
            yield "first reading" if first else "near the curve" if near < NEAR else "off the curve"
            if near >= FAR and not first:
                yield "far from the curve"
        if isinstance(act, Temperature) and not _WARM[0] <= act.temp_c <= _WARM[1]:
            yield "odd warmth"
        if isinstance(act, Bottles) and batch.bottles_left is not None:
            yield "many bottles" if -act.change > _MANY_BOTTLES else "few bottles"
            if batch.bottles_left + act.change < 0:
                yield "more than there are"
        if isinstance(act, Step) and act.step == "bottle" and act.bottles is not None and batch.litres:
            full = batch.litres / _BOTTLE
            yield (
                "fits the bottles" if _FILLED[0] * full <= act.bottles <= _FILLED[1] * full else "odd bottles"
            )
        if isinstance(act, Step) and act.step in batch.next[:1]:
            yield "just what is next"
        if isinstance(act, Step) and not batch.readings and act.step in _AFTER:
            yield "before any reading"


def _of_message(message: Message) -> Iterator[tuple[str, float]]:
    spans = message.spans
    yield "named", named(message)
    yield "of wine", of_wine(message)
    yield "anchored", message.anchored
    yield "marked", message.text.rstrip().endswith("?")
    yield "exclaimed", "!" in message.text
    weight = chatter(spans)
    yield "everyday word", weight > 0
    yield "everyday words", weight >= 1
    folds = {token.fold for token in message.tokens}
    yield "first person", not message.small.we.isdisjoint(folds)
    yield "second person", not message.small.you.isdisjoint(folds)
    moments = [span.moment for span in spans if span.moment is not None]
    yield "time", bool(moments)
    yield "time ahead", any(moment.days is not None and moment.days > 0 for moment in moments)
    words = sum(token.kind == "word" for token in message.tokens)
    yield from ((f"over {count} words", words > count) for count in _LENGTHS)
    unknown = sum(span.kind == "word" for span in spans)
    yield "every word known", not unknown
    yield "unknown words", min(unknown, _MANY) / _MANY
    numbers = sum(span.qty is not None for span in spans)
    yield from ((f"over {count} numbers", numbers > count) for count in range(_MOST))
    yield "bottles", any(span.is_("unit", "bottle") for span in spans)
    yield "vague", any(span.has("vague") or span.has("often") for span in spans)
    yield "guessed", any(span.is_("hedge", "guess") or span.is_("part", "either") for span in spans)
    yield "other unit", any(span.is_("unit", "other") or span.is_("unit", "glass") for span in spans)
    yield "being done", any(tag.kind == "step" and tag.form == "ing" for span in spans for tag in span.tags)
    yield "helping verb first", any(span.is_("mood", "aux") for span in spans[:2])
    yield "member", bool(set(message.folds_of(spans)) & set(message.scene.members))
    yield from ((mood, any(span.is_("mood", mood) for span in spans)) for mood in _MOODS)
    yield "reply", message.replying_to is not None
    for open_thing in message.scene.open:
        if isinstance(open_thing, LetterSaid) and open_thing.earlier:
            continue
        yield f"open {type(open_thing).__name__}", 1
        yield "just open", open_thing.ago < _FRESH
    yield f"{min(len(message.scene.under_way), _MOST)} under way", 1
    yield f"{min(len(message.scene.batches), _MOST)} batches", 1
    last = next(iter(message.scene.recent or ()), None)
    yield "told just before", last is not None and message.sent_at - last.said_at < _FRESH


def _odds(share: float) -> float:
    share = min(max(share, 1e-3), 1 - 1e-3)
    return log(share / (1 - share)) / 3


def _relation(rules: Verdict, told: Verdict | None) -> str:
    """How what the rules read stands to what the sayings tell."""
    mine, theirs = kinds(rules.acts), kinds(told.acts if told else ())
    if not mine or not theirs:
        return "neither" if not mine and not theirs else "only told" if theirs else "only rules"
    if told is not None and rules.acts == told.acts:
        return "same"
    if mine == theirs:
        return "same kinds"
    more, less = theirs - mine, mine - theirs
    if more and less:
        return "overlap" if mine & theirs else "other"
    return "told more" if more else "told less"


def kinds(acts: Sequence[Act]) -> Counter[str]:
    """What kinds of things are told, as often as they are."""
    return Counter(kind_of(act) for act in acts)


def detail(acts: Sequence[Act]) -> int:
    """How much is told of them."""
    return sum(value is not None for act in acts for value in msgspec.structs.astuple(act))


def not_taken(acts: Sequence[Act], message: Message) -> tuple[int, int]:
    """How many figures, and names of the house, of a message stand in none of the acts."""
    plain = [to_plain(act) for act in acts]
    values = [
        abs(float(value))
        for act in plain
        for value in act.values()
        if isinstance(value, int | float) and not isinstance(value, bool)
    ]
    said = {str(value).casefold() for act in plain for value in act.values() if isinstance(value, str)}
    figures = sum(
        span.qty is not None and not any(_near(span.qty.value, value) for value in values)
        for span in message.spans
    )
    names = sum(
        span.ref is not None
        and not any(target.of and target.of.casefold() in said for target in message.targets.of(span.ref))
        for span in message.spans
    )
    return figures, names


def _near(said: float, taken: float) -> bool:
    """Whether a figure was taken as it was said, as a gravity without its point, or in other units of temperature."""
    forms = (said, 1 + said / 1000, said / 1000, 1 + said / 100, (said - 32) / 1.8)
    return any(abs(form - taken) <= 1e-3 * max(1.0, abs(taken)) for form in forms)


def broad(acts: Sequence[Act]) -> bool:
    """Whether a question is among them that much is taken for."""
    return any(isinstance(act, Question) and topic_of(act.subject) in _BROAD for act in acts)


def named(message: Message) -> bool:
    """Whether a name of the house is in it."""
    return any(span.ref is not None for span in message.spans)


def of_wine(message: Message) -> bool:
    """Whether a word of the message is one of the trade, or a name of the house."""
    return message.anchored or any(
        span.ref is not None
        or any(span.has(kind) for kind in _WINE_WORDS)
        or (span.is_("batchword", "batch") and span.fold not in message.small.anything)
        for span in message.spans
    )


def of_nothing(acts: Sequence[Act], message: Message) -> bool:
    """Whether something is told or asked of a vessel that holds no wine."""
    vessels = {vessel.name for vessel in message.scene.vessels}
    chores = (
        act
        for act in acts
        if isinstance(act, Step | Addition | Volume) or (isinstance(act, Question) and act.about != "vessels")
    )
    return any(act.of in vessels and not (isinstance(act, Step) and act.step == "sanitise") for act in chores)
