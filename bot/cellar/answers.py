"""Questions answered: what was asked, the house and the time, to a typed answer. The words are `say`'s."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Literal

import msgspec

from bot.cellar.answered import (
    Answer,
    BatchAnswer,
    CostAnswer,
    Expected,
    ExpectedAnswer,
    FinishAnswer,
    HelpAnswer,
    HouseAnswer,
    LitresAnswer,
    Need,
    NoneAnswer,
    OccasionAnswer,
    PlansAnswer,
    RangeAnswer,
    ReadyAnswer,
    RemindersAnswer,
    SafetyAnswer,
    StockAnswer,
    StoryAnswer,
    StrengthAnswer,
    VerdictsAnswer,
    VesselsAnswer,
)
from bot.cellar.batch.advice import sulphite_over
from bot.cellar.batch.ahead import ferment_until
from bot.cellar.batch.clearing import found_clear
from bot.cellar.batch.due import next_reading
from bot.cellar.batch.histories import history
from bot.cellar.batch.place import (
    FINISHED_BELOW,
    SETTLED_OVER,
    agreeing_since,
    day_of,
    falls_now,
    place_in_plan,
    settled,
    stage,
    true_sg,
)
from bot.cellar.batch.signs import Sign
from bot.cellar.batch.story import story
from bot.cellar.batch.strength import blended_from, strength_so_far, water_added
from bot.cellar.batch.troubles import ferment_trouble
from bot.cellar.batch.verdicts import all_right, finished, safe, stuck
from bot.cellar.home.costs import costs_of, expected_bottles
from bot.cellar.home.due import asked_for
from bot.cellar.home.occasions import schedule
from bot.cellar.home.vessels import Known, vessel_views
from bot.cellar.log.acts import About, Question
from bot.cellar.log.fold import BatchView, HouseView
from bot.cellar.plans.kits import Plan
from bot.ids import EntryId
from bot.science.limits import BadInput
from bot.science.strength import potential_alcohol


class Room(msgspec.Struct, frozen=True, kw_only=True):
    """The household's vessels as it was set up with, its date today, and of what signs its notes (by entry) tell."""

    known: tuple[Known, ...]
    today: date
    signs: Mapping[EntryId, tuple[Sign, ...]] = {}


def answer(question: Question, house: HouseView, now: datetime, room: Room | None = None) -> Answer:
    """Answers from what the house has said so far. `room` is what the house has to keep wine in, and its day."""
    about = question.about
    room = room or Room(known=(), today=now.date())
    if about == "help":
        return HelpAnswer()
    if about == "safety":
        return SafetyAnswer(topic=str((question.given or {}).get("topic", "")))
    if about == "occasion" and question.wishes:
        vessels = vessel_views(house, room.known, now)
        return OccasionAnswer(schedule=schedule(question.wishes, house, vessels, now, room.today))
    if about == "vessels":
        wanted = (question.given or {}).get("vessel")
        every = vessel_views(house, room.known, now)
        return VesselsAnswer(vessels=tuple(v for v in every if wanted in (None, v.name)))
    if about == "reminders":
        names = {view.batch: view.name for view in house.batches}
        return RemindersAnswer(asked=tuple((due, names.get(due.batch, due.of)) for due in asked_for(house)))
    if about == "plans":
        return _plans(question, house)
    view = house.named(question.of)
    if question.of is not None and view is None:
        return NoneAnswer(of=question.of)
    if view is None and len(house.under_way) == 1:
        view = house.under_way[0]
    wished = (question.given or {}).get("wanted")
    if wished is not None and house.under_way:
        views = (view,) if view else house.under_way
        if wished == "range":
            return RangeAnswer(ranges=tuple((one, one.follows.ferment_c) for one in views))
        if wished == "litres" and all(one.ended_at is None for one in views):
            vessel = (question.given or {}).get("vessel")
            return LitresAnswer(views=views, vessel=str(vessel) if vessel is not None else None)
        if any(one.bottled_at is None for one in views):
            return ExpectedAnswer(counts=tuple((one, expected_bottles(one)) for one in views))
    if about == "stock":
        kept = [v for v in house.batches if v.bottled_at is not None]
        return StockAnswer(views=(view,) if view is not None and view in kept else tuple(kept))
    if not house.batches:
        return NoneAnswer(of=None)
    if about == "cost":
        views = (view,) if view else tuple(v for v in house.batches if v.costs) or house.under_way
        return CostAnswer(costs=tuple((one, costs_of(one, house)) for one in views))
    if about == "story":
        return StoryAnswer(stories=tuple((one, story(one)) for one in ((view,) if view else house.under_way)))
    if question.verdict is not None:
        views = (view,) if view else house.under_way
        asked = (question.given or {}).get("asked")
        if question.verdict == "finished":
            return VerdictsAnswer(
                verdicts=tuple(finished(one, now, stopped=asked == "stopped") for one in views)
            )
        if question.verdict == "stuck":
            return VerdictsAnswer(
                verdicts=tuple(stuck(one, now, help_asked=asked == "help") for one in views)
            )
        if question.verdict == "safe":
            known = views or house.batches[-1:]
            return VerdictsAnswer(
                verdicts=tuple(
                    safe(one, now, sulphite_over(one), room.signs, drink=asked != "other") for one in known
                )
            )
        return VerdictsAnswer(verdicts=tuple(all_right(one, now, room.signs) for one in views))
    if about in ("readings", "chart", "temperature", "additions", "who"):
        views = (view,) if view else house.under_way
        # Who did what is asked of a wine in bottles too.
        return history(about, views if views or about != "who" else house.batches[-1:])
    if about == "overview" or view is None:
        return _whole_house(about, house, now)
    return _about_batch(about, view, now)


def _plans(question: Question, house: HouseView) -> PlansAnswer:
    view = house.named(question.of)
    name = (question.given or {}).get("plan")
    plan = view.follows if view is not None else house.plan_named(str(name)) if name else None
    newest = {kept.title.casefold(): kept for kept in house.plans}
    return PlansAnswer(plan=plan, view=view, plans=tuple(newest.values()))


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
    clear, stands = found_clear(view, place_in_plan(view, plan)), stage(view, plan, now)
    if clear == "cloudy":
        stands = msgspec.structs.replace(stands, word="clearing")
    return BatchAnswer(
        about=about,
        view=view,
        plan=plan,
        stage=stands,
        clear=clear,
        fall_per_day=falls_now(view),
        next_reading=next_reading(view, plan),
        strength=strength_so_far(view),
        needs=_needs(view, plan, now),
    )


def _needs(view: BatchView, plan: Plan, now: datetime) -> tuple[Need, ...]:
    """Once it has stopped: a vessel for a transfer that comes next, bottles and corks for the bottling."""
    place = place_in_plan(view, plan)
    if view.ended_at is not None or settled(view) is None:
        return ()
    chore = place.chore
    found = (
        [Need(what="vessel", count=1, by=place.ready)] if chore is not None and chore.does == "rack" else []
    )
    ahead = [step for step in plan.steps if step not in place.behind]
    bottling = [step for step in ahead if step.does == "bottle"]
    if bottling:
        at = place.ready if chore is not None and chore.does == "bottle" else None
        rest = timedelta(hours=sum(step.takes_hours for step in ahead))
        days = [day_of(view, step) for step in bottling]
        found.append(Need(what="bottles", count=expected_bottles(view), by=at or max(now + rest, *days)))
    return tuple(found)


def strength_answer(view: BatchView) -> StrengthAnswer:
    """The strength so far, and what is to be expected of a dry end."""
    start, latest = view.starting, view.latest
    expected = None
    if start is not None:
        try:
            figure, low, high = potential_alcohol(view.thinned(true_sg(view, start), start))
            expected = Expected(abv=figure, low=low, high=high)
        except BadInput:
            expected = None
    used = {r.entry: r for r in (start, latest) if r is not None}
    return StrengthAnswer(
        view=view,
        strength=strength_so_far(view),
        expected=expected,
        uncorrected=tuple(r for r in used.values() if r.temp_c is None),
        corrected=any(r.temp_c is not None for r in used.values()),
        settled=settled(view) is not None,
        blended=blended_from(view),
        water=water_added(view),
    )


def ready(view: BatchView, what: Literal["rack", "bottle"], now: datetime) -> ReadyAnswer:
    """Whether the batch is ready to be racked or bottled, and what the answer rests on."""
    plan = view.follows
    place = place_in_plan(view, plan)
    proof = settled(view)
    latest = view.latest
    low = latest is not None and not latest.estimated and true_sg(view, latest) <= FINISHED_BELOW
    since = agreeing_since(view) if low else None
    before = place.held or (place.chore if place.chore is None or place.chore.does != what else None)
    waiting = place.ready is None or now < place.ready
    done = view.bottled_at is not None or (place.chore is None and not place.waits)
    if what == "rack":
        done = done or all(step.does != "rack" for step in plan.steps if step not in place.behind)
    clear = found_clear(view, place)
    reached = not done and not waiting and place.chore is not None and place.chore.does == what
    yes = reached and clear != "cloudy"
    return ReadyAnswer(
        what=what,
        verdict="done" if done else "yes" if yes else "not_yet",
        view=view,
        latest=latest,
        proof=proof,
        since=since,
        proof_at=since + SETTLED_OVER if since is not None and proof is None else None,
        before=None if reached or done else before,
        clear=clear if reached else None,
        ready=place.ready,
        fall_per_day=falls_now(view),
        trouble=ferment_trouble(view),
    )


def _finish(view: BatchView, now: datetime) -> FinishAnswer:
    until = ferment_until(view)
    started = view.pitched_at or view.begun_at
    by_kit = started + timedelta(days=view.days)
    rest = timedelta(hours=sum(step.takes_hours for step in view.follows.steps))
    return FinishAnswer(
        view=view,
        proof=settled(view),
        ferment_until=until,
        bottles_from=max(by_kit, until + rest if until else by_kit),
    )
