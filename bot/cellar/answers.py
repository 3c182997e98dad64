"""Questions answered: what was asked, the house and the time, to a typed answer. The words are `say`'s."""

from datetime import datetime, timedelta
from typing import Literal

import msgspec

from bot.cellar.acts import About, Question
from bot.cellar.due import next_reading
from bot.cellar.log import BatchView, HouseView, Reading
from bot.cellar.plans import Plan, PlanStep
from bot.cellar.stages import (
    FINISHED_BELOW,
    SETTLED_OVER,
    Settled,
    Stage,
    agreeing_since,
    fall_per_day,
    place_in_plan,
    settled,
    stage,
    true_sg,
)
from bot.science.limits import BadInput
from bot.science.strength import Strength, alcohol_by_volume, potential_alcohol


class Expected(msgspec.Struct, frozen=True, kw_only=True):
    """The strength that a batch may reach, % vol, with its band."""

    abv: float
    low: float
    high: float


class BatchAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Where a batch stands and what is next."""

    about: Literal["stage", "next"]
    view: BatchView
    plan: Plan
    stage: Stage
    fall_per_day: float | None
    next_reading: datetime | None
    strength: Strength | None


class HouseAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Every batch under way, the most urgent first."""

    about: Literal["overview", "next", "stage"]
    batches: tuple[BatchAnswer, ...]


class StrengthAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """The strength so far and expected. `strength` is None where a starting or a later gravity is missing;
    `uncorrected` counts the readings used that came without a temperature."""

    view: BatchView
    strength: Strength | None
    expected: Expected | None
    uncorrected: int
    settled: bool


class ReadyAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Whether it is time to rack or bottle. `before` is the chore that comes first, where one does;
    `since` is when the readings that agree began, `proof_at` when one more would be proof."""

    what: Literal["rack", "bottle"]
    verdict: Literal["yes", "not_yet", "done"]
    view: BatchView
    latest: Reading | None
    proof: Settled | None
    since: datetime | None
    proof_at: datetime | None
    before: PlanStep | None
    ready: datetime | None


class FinishAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """When it should stop fermenting at its present fall, and when there may be bottles."""

    view: BatchView
    proof: Settled | None
    ferment_until: datetime | None
    bottles_from: datetime


class HistoryAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What was read, measured, added or done. `figures` are the readings at 20 °C, in order."""

    about: Literal["readings", "chart", "temperature", "additions", "who"]
    views: tuple[BatchView, ...]
    figures: tuple[tuple[float, ...], ...] = ()


class StockAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Bottles at home."""

    views: tuple[BatchView, ...]


class CostAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """The cost is not known from the log alone."""

    view: BatchView | None


class HelpAnswer(msgspec.Struct, frozen=True):
    """What to type."""


class NoneAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """There is no such batch, or none at all: `of` is what was named."""

    of: str | None


Answer = (
    BatchAnswer
    | HouseAnswer
    | StrengthAnswer
    | ReadyAnswer
    | FinishAnswer
    | HistoryAnswer
    | StockAnswer
    | CostAnswer
    | HelpAnswer
    | NoneAnswer
)


def answer(question: Question, house: HouseView, now: datetime) -> Answer:
    """Answers from what the house has said so far."""
    about = question.about
    if about == "help":
        return HelpAnswer()
    view = house.named(question.of)
    if question.of is not None and view is None:
        return NoneAnswer(of=question.of)
    if view is None and len(house.under_way) == 1:
        view = house.under_way[0]
    if about == "stock":
        kept = [v for v in house.batches if v.bottled_at is not None]
        return StockAnswer(views=(view,) if view is not None and view in kept else tuple(kept))
    if about == "cost":
        return CostAnswer(view=view)
    if not house.batches:
        return NoneAnswer(of=None)
    if about in ("readings", "chart", "temperature", "additions", "who"):
        return _history(about, (view,) if view else house.under_way)
    if about == "overview" or view is None:
        return _whole_house(about, house, now)
    return _about_batch(about, view, now)


def _about_batch(about: About, view: BatchView, now: datetime) -> Answer:
    match about:
        case "abv":
            return strength_answer(view)
        case "ready_to_rack":
            return ready(view, "rack", now)
        case "ready_to_bottle":
            return ready(view, "bottle", now)
        case "finish_time":
            return _finish(view, now)
        case "next":
            return batch_answer(view, now, "next")
        case _:
            return batch_answer(view, now, "stage")


def _whole_house(about: About, house: HouseView, now: datetime) -> HouseAnswer:
    kind: Literal["overview", "next", "stage"] = "overview"
    if about in ("next", "stage"):
        kind = "next" if about == "next" else "stage"
    rows = [batch_answer(view, now, "next" if kind == "next" else "stage") for view in house.under_way]
    far = datetime.max.replace(tzinfo=now.tzinfo)
    rows.sort(key=lambda row: (row.stage.ready or row.next_reading or far, row.view.batch))
    return HouseAnswer(about=kind, batches=tuple(rows))


def batch_answer(view: BatchView, now: datetime, about: Literal["stage", "next"] = "stage") -> BatchAnswer:
    """Where the batch stands."""
    plan = view.follows
    return BatchAnswer(
        about=about,
        view=view,
        plan=plan,
        stage=stage(view, plan, now),
        fall_per_day=fall_per_day(view),
        next_reading=next_reading(view, plan),
        strength=strength_so_far(view),
    )


def strength_so_far(view: BatchView) -> Strength | None:
    """The strength between the starting and the latest gravity; None where one of them is missing."""
    start, latest = view.starting, view.latest
    if start is None or latest is None or latest.entry == start.entry:
        return None
    try:
        return alcohol_by_volume(
            true_sg(view, start), true_sg(view, latest), sugar_added_g_l=sugar_added(view)
        )
    except BadInput:
        return None


def sugar_added(view: BatchView) -> float:
    """Sugar put in after the starting gravity and before the latest reading, in g per litre."""
    start, latest = view.starting, view.latest
    if start is None or latest is None or not view.litres:
        return 0.0
    grams = sum(
        added.amount
        for added in view.additions
        if added.what == "sugar" and added.unit == "g" and added.amount and start.at < added.at <= latest.at
    )
    return grams / view.litres


def strength_answer(view: BatchView) -> StrengthAnswer:
    """The strength so far, and what is to be expected of a dry end."""
    start, latest = view.starting, view.latest
    expected = None
    if start is not None:
        try:
            figure, low, high = potential_alcohol(true_sg(view, start))
            expected = Expected(abv=figure, low=low, high=high)
        except BadInput:
            expected = None
    used = {r.entry: r for r in (start, latest) if r is not None}
    return StrengthAnswer(
        view=view,
        strength=strength_so_far(view),
        expected=expected,
        uncorrected=sum(r.temp_c is None for r in used.values()),
        settled=settled(view) is not None,
    )


def ready(view: BatchView, what: Literal["rack", "bottle"], now: datetime) -> ReadyAnswer:
    """Whether the batch is ready to be racked or bottled, and what the answer rests on."""
    plan = view.follows
    place = place_in_plan(view, plan)
    proof = settled(view)
    latest = view.latest
    low = latest is not None and true_sg(view, latest) <= FINISHED_BELOW
    since = agreeing_since(view) if low else None
    before = place.held or (place.chore if place.chore is None or place.chore.does != what else None)
    waiting = place.ready is None or now < place.ready
    done = view.bottled_at is not None or (place.chore is None and not place.waits)
    if what == "rack":
        done = done or all(step.does != "rack" for step in plan.steps if step not in place.behind)
    yes = not done and not waiting and place.chore is not None and place.chore.does == what
    return ReadyAnswer(
        what=what,
        verdict="done" if done else "yes" if yes else "not_yet",
        view=view,
        latest=latest,
        proof=proof,
        since=since,
        proof_at=since + SETTLED_OVER if since is not None and proof is None else None,
        before=None if yes or done else before,
        ready=place.ready,
    )


def _finish(view: BatchView, now: datetime) -> FinishAnswer:
    fall, latest = fall_per_day(view), view.latest
    until = None
    if fall and fall > 0 and latest is not None and settled(view) is None:
        days = max(0.0, true_sg(view, latest) - FINISHED_BELOW) / fall
        # The fall slows down as the sugar runs out, so a straight line ends too early: days become half as
        # many again (common practice, no source).
        until = latest.at + timedelta(days=days * 1.5) + SETTLED_OVER
    started = view.pitched_at or view.begun_at
    by_kit = started + timedelta(days=view.days)
    rest = timedelta(hours=sum(step.wait_hours for step in view.follows.steps))
    return FinishAnswer(
        view=view,
        proof=settled(view),
        ferment_until=until,
        bottles_from=max(by_kit, until + rest if until else by_kit),
    )


def _history(about: About, views: tuple[BatchView, ...]) -> HistoryAnswer:
    assert about in ("readings", "chart", "temperature", "additions", "who")
    figures = tuple(tuple(true_sg(view, reading) for reading in view.readings) for view in views)
    return HistoryAnswer(about=about, views=views, figures=figures)
