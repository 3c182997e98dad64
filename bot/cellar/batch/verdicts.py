"""Verdicts: a yes, a not yet or a no, with the facts behind it and what would change it."""

from collections.abc import Mapping
from datetime import datetime
from typing import Literal

import msgspec

from bot.cellar.batch.looks import temperatures
from bot.cellar.batch.proof import Proof, agreeing_since, falls_now, settled, true_sg
from bot.cellar.batch.signs import Sign, Telltale, told_signs
from bot.cellar.batch.troubles import Trouble, ferment_trouble, troubles
from bot.cellar.log.fold import Batch, Reading
from bot.ids import EntryId
from bot.science import practice


class FinishedAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Whether it has stopped fermenting. `proof_at` is when one more reading would be proof; `before` and
    `latest` the last two readings."""

    verdict: Literal["yes", "not_yet", "no"]
    view: Batch
    proof: Proof | None
    before: Reading | None
    latest: Reading | None
    fall_per_day: float | None
    proof_at: datetime | None
    trouble: Trouble | None
    stopped: bool = False
    """Asked whether it has stopped, which a stuck one has too."""


class StuckAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Whether it has stopped too early. `trouble` is what the readings say is wrong; `help` that the way out was
    asked for."""

    verdict: Literal["yes", "no", "unknown"]
    view: Batch
    proof: Proof | None
    before: Reading | None
    latest: Reading | None
    fall_per_day: float | None
    trouble: Trouble | None
    help: bool = False


class SafeAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What is known for and against: sulphur dioxide (mg/l) over its limit, notes that tell of bad signs."""

    view: Batch
    drink: bool
    over_mg_l: float | None
    told: tuple[Telltale, ...]
    proof: Proof | None


class AllRightAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Whether anything is wrong, with the facts it rests on."""

    verdict: Literal["yes", "not_yet", "no"]
    view: Batch
    troubles: tuple[Trouble, ...]
    latest: Reading | None
    fall_per_day: float | None
    temperature: tuple[float, datetime] | None
    range_c: tuple[float, float]
    proof: Proof | None
    told: tuple[Telltale, ...] = ()
    """Notes that speak against it, whatever the numbers say."""


def finished(view: Batch, now: datetime, *, stopped: bool = False) -> FinishedAnswer:
    """Has it stopped? Readings that agree over 48 hours are the only yes."""
    proof, latest = settled(view), view.latest
    found = [t for t in troubles(view, now) if t.kind in ("stuck", "not_started")]
    trouble = found[0] if found else None
    done = proof is not None or view.ended_at is not None
    low = (
        latest is not None and not latest.estimated and true_sg(view, latest) <= practice.FINISHED_BELOW.value
    )
    since = agreeing_since(view) if low else None
    return FinishedAnswer(
        verdict="yes" if done else "no" if trouble is not None else "not_yet",
        view=view,
        proof=proof,
        before=view.readings[-2] if len(view.readings) > 1 else None,
        latest=latest,
        fall_per_day=falls_now(view),
        proof_at=since + practice.SETTLED_OVER.value if since is not None and proof is None else None,
        trouble=trouble,
        stopped=stopped,
    )


def stuck(view: Batch, now: datetime, *, help_asked: bool = False) -> StuckAnswer:
    """Is it stuck? Yes where readings over 48 hours agree too high; no where it falls, has finished or is low enough;
    unknown where nobody has read it twice of late."""
    proof, latest, trouble = settled(view), view.latest, ferment_trouble(view)
    after = [r for r in view.readings if view.pitched_at is None or r.at > view.pitched_at]
    fall = falls_now(view)
    fresh = latest is not None and now - latest.at <= practice.RATE_KNOWN_FOR.value
    low = (
        latest is not None and min(true_sg(view, latest), latest.low or 2.0) <= practice.FINISHED_BELOW.value
    )
    falls = fall is not None and fall >= practice.SETTLED_WITHIN.value and fresh and bool(after)
    verdict: Literal["yes", "no", "unknown"] = "unknown"
    if trouble is not None and trouble.kind == "stuck":
        verdict = "yes"
    elif proof is not None or view.ended_at is not None or falls or (low and after):
        verdict = "no"
    return StuckAnswer(
        verdict=verdict,
        view=view,
        proof=proof,
        before=view.readings[-2] if len(view.readings) > 1 else None,
        latest=latest,
        fall_per_day=fall,
        trouble=trouble,
        help=help_asked,
    )


def safe(
    view: Batch,
    now: datetime,
    over_mg_l: float | None,
    signs: Mapping[EntryId, tuple[Sign, ...]],
    *,
    drink: bool,
) -> SafeAnswer:
    """What speaks against it; nobody can say from a log that a wine is safe."""
    told = told_signs(view, signs, now)
    return SafeAnswer(view=view, drink=drink, over_mg_l=over_mg_l, told=told, proof=settled(view))


def all_right(
    view: Batch, now: datetime, signs: Mapping[EntryId, tuple[Sign, ...]] | None = None
) -> AllRightAnswer:
    """Is it all right? No where the ferment stands still; not quite where something else is off, where a note
    (by its entry) tells of bad `signs`, or where nobody has looked."""
    found = troubles(view, now)
    last = next(reversed(temperatures(view)), None)
    blind = view.latest is None or (view.pitched_at is not None and view.latest.at <= view.pitched_at)
    serious = [trouble for trouble in found if trouble.kind in ("stuck", "not_started")]
    unseen = blind and settled(view) is None and view.ended_at is None
    told = told_signs(view, signs or {}, now)
    return AllRightAnswer(
        verdict="no" if serious else "not_yet" if unseen or found or told else "yes",
        told=told,
        view=view,
        troubles=found,
        latest=view.latest,
        fall_per_day=falls_now(view),
        temperature=(last.value, last.at) if last is not None else None,
        range_c=view.follows.ferment_c,
        proof=settled(view),
    )
