"""What the numbers of a message tell, as `whose.py` weighs them: gravities and temperatures, and counts of bottles, each of
its wine, in place of what the sayings were taken for one by one, where that is likelier."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import prod
from typing import NamedTuple

import msgspec

from bot.cellar.log.acts import Act, Addition, Bottles, Gravity, Reason, Step, Temperature
from bot.cellar.log.plain import to_plain
from bot.understand.claims.drafts import Draft
from bot.understand.claims.labels import LabelledSaying
from bot.understand.claims.said import SURE, AllTold, Claim, denied, supposed
from bot.understand.claims.shelf import at_home
from bot.understand.claims.whose import Meant, Mention, Role, Value, likeliest, mentions, shares, values
from bot.understand.text.clauses import Clause
from bot.understand.text.message import Message
from bot.understand.text.names import Ref
from bot.understand.text.sayings import asks

LIKELY, LIKELY_ANEW, SURELY_NONE, PUT_RIGHT = 0.75, 0.9, 0.97, 0.8
"""How likely what all the numbers are must be to stand in place of another reading, where there was none, and where
something that was told is then told no more, and where that is a gravity in place of which another is told."""
_APART = frozenset({"again", "correct", "begin", "remind", "plan", "amend", "later", "undo"})
"""Labels of what has numbers of its own."""
_REASONS: Mapping[str, Reason] = {"bottles:gave": "gave", "bottles:drank": "drank", "bottles:broke": "broke"}
_CLOSE = 1e-4
_PLAINLY, _BY_LABEL = 0.5, 0.85
"""How likely a saying must be what became of bottles, to be that whatever else it was taken for; and how sure it is of one way
of counting them, against what the number is taken for."""


class Tally(NamedTuple):
    """A number as it is told: what it is, how much, and of which wines; None where no name says so."""

    role: Role
    figure: float
    of: frozenset[str] | None


class _NumberSaid(NamedTuple):
    """A number, what it is most likely, how likely that is, and the saying that it stands in."""

    value: Value
    meant: Meant
    sure: float
    said: LabelledSaying


class Numbers(NamedTuple):
    """What all the numbers of a message are, and how likely that is."""

    figures: tuple[Tally, ...] = ()
    sure: float = 1.0


NO_NUMBERS = Numbers()


def put_right(told: AllTold, message: Message, said: Sequence[LabelledSaying]) -> Numbers:
    """Puts what is likeliest in the place of what the numbers were taken for, and tells what that is."""
    found = values(message)
    if not found:
        return NO_NUMBERS
    known = mentions(message, found)
    meant, sures = likeliest(shares(message, found, known), found, known)
    every = [_figure(one, value, known) for one, value in zip(meant, found, strict=True) if one.role]
    whole = Numbers(tuple(_with_the_other(every, message)), prod(sures))
    numbers = [
        _NumberSaid(value, one, sure, part)
        for value, one, sure in zip(found, meant, sures, strict=True)
        if (part := _said_in(said, message, value)) is not None
    ]
    apart = len(numbers) < len(found) or any(each.label in _APART for each in told.claims)
    if apart or any(_only_said(each, told, message) for each in numbers if each.meant.role):
        return whole
    before, left = told.claims, told.left
    turned = _turned(told, numbers, message)
    for roles in (_MEASURED, _COUNTED):
        new = [each for each in numbers if each.meant.role in roles]
        _put(told, message, new, numbers, known, roles, anew=LIKELY if turned else LIKELY_ANEW)
    if turned and not any(one.role in _COUNTED for each in told.claims for one in figures(each, message)):
        told.claims, told.left = before, left
    return whole


def _turned(told: AllTold, numbers: Sequence[_NumberSaid], message: Message) -> bool:
    """ "29 silk", while it is to be bottled: takes away how warm it would be, where the number surely counts bottles."""
    counts = [each.value.count for each in numbers if each.meant.role in _COUNTED and each.sure >= LIKELY]
    gone = [
        claim
        for claim in told.claims
        if claim.draft is not None
        and isinstance(claim.draft.act, Temperature)
        and any(one.figure in counts for one in figures(claim, message))
    ]
    told.claims = [claim for claim in told.claims if not any(claim is each for each in gone)]
    told.left = [*told.left, *(claim.part for claim in gone)]
    return bool(gone)


_TOLD_BY: Mapping[Role, tuple[str, ...]] = {
    "sg": ("gravity",),
    "warm": ("temperature", "gravity"),
    "filled": ("step:bottle",),
    "gone": ("bottles:gave", "bottles:drank", "bottles:broke"),
}
"""The labels that tell of what a number is."""
_SURELY = 0.95
_MEASURED = frozenset[Role]({"sg", "warm"})
_COUNTED = frozenset[Role]({"filled", "gone", "found", "left"})
_HARDLY = 0.05
"""Less likely than this a saying tells nothing of bottles."""


def _put(
    told: AllTold,
    message: Message,
    new: Sequence[_NumberSaid],
    every: Sequence[_NumberSaid],
    known: Sequence[Mention],
    roles: frozenset[Role],
    *,
    anew: float,
) -> None:
    """Puts the numbers of some kinds in the place of the claims that tell of these."""
    mine = [claim for claim in told.claims if any(one.role in roles for one in figures(claim, message))]
    old = [one for claim in mine for one in figures(claim, message)]
    taken = _with_the_other([_figure(each.meant, each.value, known) for each in new], message)
    sure = prod(each.sure for each in every if each.meant.role in roles or not each.meant.role)
    least = anew if not mine else _least(old, taken)
    if _same(old, taken) or not _all_among(old, every) or sure < least or (mine and not new):
        return
    if any(one.meant.role in _COUNTED and one.said.share(*_REASONS, *_COUNTS) < _HARDLY for one in new):
        return  # "added pack 4"
    if any(one.meant.role in _COUNTED and _surely_other(one) for one in new):
        return  # "only four bottles left" fills none
    others = [claim for claim in told.claims if claim not in mine]
    if any(_tells(claim, one.figure) for claim in others for one in taken):
        return
    claims = [_claim(each, told_of, mine, message, sure) for each, told_of in zip(new, taken, strict=True)]
    place = {id(part): at for at, part in enumerate(told.parts)}
    told.claims = sorted(
        [*_with_samples(claims), *others], key=lambda claim: place.get(id(claim.part), len(place))
    )
    parts = [each.said.saying for each in new]
    told.left = [part for part in told.left if not any(part is one for one in parts)]


def _surely_other(one: _NumberSaid) -> bool:
    """Whether its saying surely counts bottles in another way than its number is taken for."""
    label, sure = one.said.best()
    ways = _TOLD_BY.get(one.meant.role, (_LABELS[one.meant.role],))
    return sure >= _BY_LABEL and label in (*_COUNTS, *_REASONS) and label not in ways


def _only_said(one: _NumberSaid, told: AllTold, message: Message) -> bool:
    """Whether a saying is asked, supposed or denied, or was left alone on purpose: "the room is at 19"; not where it surely
    tells of what its number is."""
    part = one.said.saying
    sure = one.said.share(*_TOLD_BY.get(one.meant.role, ()))
    if asks(part) or supposed(part, message.small, sure) or denied(part):
        return True
    if sure >= _SURELY and not (one.meant.role == "gone" and at_home(message, part.spans)):
        return False
    taken = any(claim.part is part for claim in told.claims) or any(part is one for one in told.joined)
    return not taken and not any(part is one for one in told.left)


def _said_in(said: Sequence[LabelledSaying], message: Message, value: Value) -> LabelledSaying | None:
    span = message.spans[value.at]
    return next((one for one in said if any(each is span for each in one.saying.spans)), None)


def _figure(meant: Meant, value: Value, known: Sequence[Mention]) -> Tally:
    of = known[meant.mention].batches(meant.role) if meant.mention is not None else None
    return Tally(meant.role, value.figure(meant.role), of or None)


def _with_the_other(taken: Sequence[Tally], message: Message) -> list[Tally]:
    """ "1.044 and 1.038, plum first", of two: the value that no name is beside is that of the other."""
    under_way = frozenset(batch.name for batch in message.scene.under_way)
    times = {span.lo for span in message.spans if span.moment is not None}
    if len(times) == len(taken):
        return list(taken)  # "the plum is point nine nine six today and point nine nine six on sunday"
    found = []
    for one in taken:
        alike = [each.of for each in taken if each.role == one.role]
        others = under_way.difference(*(of for of in alike if of is not None))
        beside = one.role != "gone" and len(under_way) == len(alike) == _BOTH
        others_own = one.of is None and beside and len(others) == 1
        found.append(one._replace(of=others) if others_own else one)
    return found


_BOTH = 2


def figures(claim: Claim, message: Message) -> list[Tally]:
    """What a claim measures or counts, of which wines."""
    if claim.draft is None:
        return []
    act = claim.draft.act
    bottled = isinstance(act, Bottles)
    names = frozenset(
        target.batch.name
        for ref in claim.draft.refs
        for target in message.targets.of(ref, bottled=bottled)
        if target.batch is not None
    )
    return of_act(act, names or None)


def of_act(act: Act, of: frozenset[str] | None) -> list[Tally]:
    """What an act measures or counts."""
    match act:
        case Gravity(sg=sg, temp_c=warm):
            return [Tally("sg", sg, of), *([Tally("warm", warm, of)] if warm is not None else [])]
        case Temperature(temp_c=warm):
            return [Tally("warm", warm, of)]
        case Step(step="bottle", bottles=int(many)):
            return [Tally("filled", many, of)]
        case Bottles(left=int(many)):
            return [Tally("left", many, of)]
        case Bottles(change=change):
            return [Tally("gone" if change < 0 else "found", abs(change), of)]
        case _:
            return []


def _all_among(told: Sequence[Tally], every: Sequence[_NumberSaid]) -> bool:
    """Whether all that is told stands among the numbers, and was not worked out, or mended."""
    held = [
        figure
        for each in every
        for figure in (each.value.sg, each.value.temp_c, each.value.count)
        if figure is not None
    ]
    return all(any(abs(one.figure - figure) < _CLOSE for figure in held) for one in told)


def _least(old: Sequence[Tally], new: Sequence[Tally]) -> float:
    """How likely what is new must be, to be told in place of what was: a gravity may be put right by another of the same
    wine, and nothing else is given up as easily."""
    gone = list(old)
    for one in new:
        same = next((each for each in gone if abs(each.figure - one.figure) < _CLOSE), None)
        if same is not None:
            gone.remove(same)
    if not gone:
        return LIKELY
    readings = [one for one in new if one.role == "sg"]
    put_right = all(
        one.role == "sg"
        and any(one.of == other.of or None in (one.of, other.of) for other in readings)
        and all(abs(one.figure - other.figure) >= _CLOSE for other in readings)
        for one in gone
    )
    return PUT_RIGHT if put_right and len(readings) == 1 else SURELY_NONE


def _same(old: Sequence[Tally], new: Sequence[Tally]) -> bool:
    def each(told: Sequence[Tally]) -> Counter[tuple[str, float, str | None]]:
        return Counter((one.role, round(one.figure, 4), name) for one in told for name in one.of or (None,))

    return each(old) == each(new)


def _tells(claim: Claim, figure: float) -> bool:
    """Whether a figure is taken by something else that is told."""
    if claim.draft is None:
        return False
    if isinstance(claim.draft.act, Addition) and claim.draft.act.what.endswith(f" {figure:g}"):
        return True  # "packet 3"
    told = to_plain(claim.draft.act).values()
    return any(abs(abs(float(each)) - figure) < _CLOSE for each in told if isinstance(each, int | float))


def _claim(number: _NumberSaid, told: Tally, mine: Sequence[Claim], message: Message, sure: float) -> Claim:
    """A number as it is told, with what else was known of it."""
    part = number.said.saying
    alike = [
        claim
        for claim in mine
        if any(
            one.role == told.role and abs(one.figure - told.figure) < _CLOSE
            for one in figures(claim, message)
        )
    ]
    own = [claim.draft for claim in alike if claim.part is part] or [claim.draft for claim in alike]
    old = own[0] if own else None
    clause = Clause(list(part.spans), asked=part.asked, hard=part.hard)
    draft = Draft(_act(number, told, old), SURE, clause=clause, moments=clause.moments)
    if told.role in ("gone", "found", "left"):
        draft.needs = "bottled"
    if old is not None:
        draft.moments, draft.doubt, draft.about = old.moments, old.doubt, old.about
    of = told.of
    if of is None and draft.needs == "bottled":
        kept = [batch.name for batch in message.scene.batches if batch.bottled is not None]
        of = frozenset(kept) if len(kept) == 1 else None
    if of is not None:
        draft.refs = [Ref("batch", name) for name in sorted(of)]
    return Claim(draft, sure, _LABELS[told.role], part)


_LABELS: Mapping[Role, str] = {
    "sg": "gravity",
    "warm": "temperature",
    "filled": "step:bottle",
    "gone": "bottles:drank",
    "found": "bottles:found",
    "left": "bottles:left",
}


_COUNTS = tuple(_LABELS[role] for role in ("filled", "found", "left"))
"""Labels of counts, beside those of how bottles went."""


def _act(number: _NumberSaid, told: Tally, old: Draft | None) -> Gravity | Temperature | Step | Bottles:
    many = round(told.figure)
    match told.role:
        case "sg":
            if old is not None and isinstance(old.act, Gravity):  # with its Brix, and what it was read with
                return msgspec.structs.replace(old.act, temp_c=None)
            return Gravity(sg=told.figure)
        case "warm":
            return Temperature(temp_c=told.figure)
        case "filled":
            return Step(step="bottle", bottles=many)
        case "left":
            return Bottles(change=0, left=many)
        case "found":
            return Bottles(change=many, reason="found")
        case _:
            label = max(_REASONS, key=number.said.share)
            if old is not None and isinstance(old.act, Bottles) and number.said.share(label) < _PLAINLY:
                return Bottles(change=-many, reason=old.act.reason)
            return Bottles(change=-many, reason=_REASONS[label])


def _with_samples(claims: Sequence[Claim]) -> list[Claim]:
    """The claims, a temperature that follows the gravity of the same wine as that of its sample."""
    found: list[Claim] = []
    for claim in claims:
        assert claim.draft is not None
        act, before = claim.draft.act, found[-1].draft if found else None
        if (
            before is not None
            and isinstance(act, Temperature)
            and isinstance(before.act, Gravity)
            and before.act.temp_c is None
            and before.refs == claim.draft.refs
            and claim.draft.doubt is None
        ):
            sample = Gravity(sg=before.act.sg, temp_c=act.temp_c)
            found[-1] = replace(found[-1], draft=replace(before, act=sample))
        else:
            found.append(claim)
    return found
