"""What a reading says twice, said once: a chore counted and not, a vessel and what stands in it."""

import msgspec

from bot.cellar.log.acts import Act, Addition, Gravity, Question, Step, Temperature
from bot.cellar.log.subjects import Matter, WasDone
from bot.understand.text.message import Message
from bot.understand.verdict import Verdict

_DISSOLVES_IN = 5
"""Spans between "in" and the water that something is dissolved in."""
_SAID_OF_EACH = 2
"""So often a chore is told of each time that it was done."""
_LITTLE = 0.5
"""Litres of water that are only what something is dissolved in, at most."""


def once(verdict: Verdict, message: Message) -> Verdict:
    """The verdict with what it says twice said once: a chore counted and not, a vessel and what stands in it; and yeast
    that went in as what it is."""
    if verdict.verdict == "ask" and verdict.options == (verdict.acts,):
        asked = once(msgspec.structs.replace(verdict, verdict="act"), message).acts
        return msgspec.structs.replace(verdict, acts=asked, options=(asked,)) if asked else verdict
    if verdict.verdict != "act":
        return verdict
    acts: list[Act] = []
    vessels = {vessel.name for vessel in message.scene.vessels}
    cleaned = {act.of for act in verdict.acts if isinstance(act, Step) and act.step == "sanitise"}
    refs = {span.ref for span in message.spans if span.ref is not None}
    wines = {
        target.of for ref in refs if ref.kind in ("batch", "colour") for target in message.targets.of(ref)
    }
    mixed = {act.of for act in verdict.acts if isinstance(act, Step) and act.step == "mix"}
    degassed = {act.of for act in verdict.acts if isinstance(act, Step) and act.step == "degas"}
    named = {span.step for span in message.spans if span.has("step", "done")}
    each_named = {"stir", "degas"} <= named
    often = any(span.has("often") for span in message.spans)
    twice = often and all(verdict.acts.count(act) <= _SAID_OF_EACH for act in verdict.acts)
    days = sum(span.moment is not None for span in message.spans)
    warm = any(isinstance(act, Temperature) for act in verdict.acts) and "?" not in message.text
    for act in verdict.acts:
        if isinstance(act, Question) and (done := _whether_done(act, message)) is not None:
            act = done
        if warm and isinstance(act, Question) and act.about == "temperature":
            continue  # it was just told
        if isinstance(act, Step) and act.step in ("stir", "top_up") and act.of in mixed:
            continue  # how it was mixed
        if isinstance(act, Step) and act.step == "stir" and act.of in degassed and not each_named:
            continue  # "got all the gas out, stirred three times"
        if isinstance(act, Gravity | Temperature) and act in acts and days < 2:
            continue  # "0.994, and Bo read it too, also 0.994"
        told = act.of is not None and (act.of in vessels or not cleaned & set(vessels))
        if isinstance(act, Step) and act.step == "sanitise" and len(cleaned) > max(len(refs), 1) and not told:
            continue  # what was cleaned is told besides
        if isinstance(act, Step) and act.step == "sanitise" and act.of in wines and cleaned & vessels:
            continue  # a wine is not cleaned, and the vessel is told besides
        if isinstance(act, Addition) and act.what == "water" and _no_addition(act, message):
            continue
        if isinstance(act, Addition) and act.what == "yeast" and act.amount is None:
            act = Step(of=act.of, at=act.at, step="pitch")
        if act in acts and isinstance(act, Step) and act.step == "degas" and not twice:
            continue  # "shook it three times now", "degassed, 2 x 5 min": how, and no chores of their own
        twin = next((place for place, old in enumerate(acts) if _twice(old, act)), None)
        if twin is None:
            acts.append(act)
        elif isinstance(act, Step) and isinstance(old := acts[twin], Step) and _weight(act) > _weight(old):
            acts[twin] = act
    if not acts:
        return Verdict(verdict="ignore", why="nothing that is told of the wine")
    return msgspec.structs.replace(verdict, acts=tuple(_bottled_first(acts)))


def _bottled_first(acts: list[Act]) -> list[Act]:
    """The same with a bottling before its labels: "bottled and labelled plum, 29 bottles" counts at the end."""
    bottled = {act.of: at for at, act in enumerate(acts) if isinstance(act, Step) and act.step == "bottle"}

    def place(at: int) -> tuple[int, int]:
        act = acts[at]
        late = isinstance(act, Step) and act.step == "label"
        return (max(at, bottled.get(act.of, at)), 1) if late else (at, 0)

    return [acts[at] for at in sorted(range(len(acts)), key=place)]


def _no_addition(act: Addition, message: Message) -> bool:
    """Whether a little water is only what something else is dissolved in, or goes into an airlock."""
    spans = message.spans
    at = next((at for at, span in enumerate(spans) if span.is_("substance", "water")), None)
    if at is None:
        return False
    small = message.small
    if any(set(span.fold.split()) & small.airlock for span in spans):
        return True
    other = any(
        span.has("packet") or (span.has("substance") and not span.is_("substance", "water"))
        for span in spans[:at]
    )
    led = any(span.is_("part", "inside") for span in spans[max(0, at - _DISSOLVES_IN) : at])
    litres = (act.amount or 0.0) / (1000.0 if act.unit == "ml" else 1.0)
    return other and led and litres <= _LITTLE


def _whether_done(act: Question, message: Message) -> Question | None:
    """ "Have we racked the plum" asks whether that chore was done, and not only how things are."""
    steps = {span.step for span in message.spans if span.step is not None}
    asks = bool(message.spans) and message.spans[0].is_("mood", "aux")
    if not asks or len(steps) != 1 or not isinstance(act.subject, Matter) or act.subject.about != "stage":
        return None
    return msgspec.structs.replace(act, subject=WasDone(step=next(iter(steps))))


def _twice(old: Act, new: Act) -> bool:
    if not (isinstance(old, Step) and isinstance(new, Step)) or old.step != new.step:
        return False
    if old.step == "degas":
        return False
    if old == new:
        return True  # "1 into 3, plover racked"
    if old.step == "bottle" and old.of == new.of:
        return True  # "28, and one I dropped"
    if old.at != new.at:
        return False
    both = (old.bottles, new.bottles, old.to, new.to)
    if new.of is not None and new.of == old.to and new.to is None:
        return True
    return old.of == new.of and (None in both[:2] and None in both[2:])


def _weight(step: Step) -> int:
    return sum(each is not None for each in (step.of, step.to, step.bottles))
