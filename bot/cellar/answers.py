"""Questions answered: a typed answer for each kind of question, and how it is found from what was asked, the house and the
time. The words are `say`'s."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Literal, assert_never, get_args

import msgspec

from bot.cellar.batch.advice import sulphite_over
from bot.cellar.batch.ahead import coming, ferment_until
from bot.cellar.batch.clearing import HasCleared, found_clear
from bot.cellar.batch.place import Doing, Stage, day_of, done_by, place_in_plan, stage
from bot.cellar.batch.proof import Proof, agreeing_since, falls_now, settled, true_sg
from bot.cellar.batch.readings import ReadThen, next_reading, why_then
from bot.cellar.batch.signs import Sign
from bot.cellar.batch.story import Happened, story
from bot.cellar.batch.strength import blended_from, strength_so_far, water_added
from bot.cellar.batch.troubles import Trouble, ferment_trouble
from bot.cellar.batch.verdicts import (
    AllRightAnswer,
    FinishedAnswer,
    SafeAnswer,
    StuckAnswer,
    all_right,
    finished,
    safe,
    stuck,
)
from bot.cellar.home.costs import Costs, costs_of, expected_bottles
from bot.cellar.home.due import Due, asked_for
from bot.cellar.home.occasions import Schedule, schedule
from bot.cellar.home.vessels import Known, VesselView, vessel_views
from bot.cellar.log.acts import Question, StepName
from bot.cellar.log.due_key import CollectKey
from bot.cellar.log.fold import Batch, HouseView, Reading
from bot.cellar.log.subjects import (
    About,
    BottlesToCome,
    Compare,
    FermentRange,
    IsAllRight,
    IsFinished,
    IsSafe,
    IsStuck,
    LitresLeft,
    Lore,
    Matter,
    NextReading,
    Occasion,
    Plans,
    Reckon,
    Safety,
    Shopping,
    Vessels,
    WasDone,
)
from bot.cellar.plans.kits import Plan, PlanStep
from bot.ids import EntryId
from bot.science import practice
from bot.science.formulas.strength import Strength, alcohol_by_volume, potential_alcohol
from bot.science.limits import BadInput

HistoryAbout = Literal["readings", "chart", "temperature", "additions", "who"]


class Need(msgspec.Struct, frozen=True, kw_only=True):
    """Something to have ready by a time: bottles and corks, or a vessel washed and sanitised."""

    what: Literal["bottles", "vessel"]
    count: int | None
    by: datetime | None


class Expected(msgspec.Struct, frozen=True, kw_only=True):
    """The strength that a batch may reach, % vol, with its band."""

    abv: float
    low: float
    high: float


class BatchAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Where a batch stands and what is next."""

    about: Literal["stage", "next"]
    view: Batch
    stage: Stage
    fall_per_day: float | None
    next_reading: datetime | None
    strength: Strength | None
    needs: tuple[Need, ...] = ()
    """What to wash or buy before the next chores."""
    clear: HasCleared | None = None
    """Whether it has cleared, where the next chore wants that."""
    stuck: Trouble | None = None
    """That it stands still too high, and since when."""


class HouseAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Every batch under way, the most urgent first, and those of which there are bottles."""

    about: Literal["overview", "next", "stage"]
    batches: tuple[BatchAnswer, ...]
    at_home: tuple[Batch, ...] = ()


class Rough(msgspec.Struct, frozen=True, kw_only=True):
    """At least how strong, % vol, counted from the `first` reading as if that were the start: what had fermented before is
    not in it. `so_far` is None where there is no later one; `dry` is what it comes to at a dry end."""

    first: Reading
    so_far: float | None
    dry: float


class StrengthAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """The strength so far and expected. `strength` is None where a starting or a later gravity is missing;
    `uncorrected` are the readings used that came without a temperature, `corrected` whether others had one."""

    view: Batch
    strength: Strength | None
    expected: Expected | None
    uncorrected: tuple[Reading, ...]
    corrected: bool
    settled: bool
    blended: tuple[tuple[str, float, float], ...] = ()
    """What it was blended of: name, litres, % vol."""
    water: float = 0.0
    """Litres of water that went in since the start; the figures count it."""
    roughly: "Rough | None" = None
    """What can be told where no starting gravity was written down."""


class ReadyAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Whether it is time to rack or bottle. `before` is the chore that comes first, where one does;
    `since` is when the readings that agree began, `proof_at` when one more would be proof."""

    what: Literal["rack", "bottle"]
    verdict: Literal["yes", "not_yet", "done"]
    view: Batch
    latest: Reading | None
    proof: Proof | None
    since: datetime | None
    proof_at: datetime | None
    before: PlanStep | None
    ready: datetime | None
    fall_per_day: float | None = None
    trouble: Trouble | None = None
    """A ferment that is stuck or has not begun."""
    clear: HasCleared | None = None
    """Whether it has cleared, where that matters now."""


class FinishAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """When it should stop fermenting at its present fall, and when there may be bottles."""

    view: Batch
    proof: Proof | None
    ferment_until: datetime | None
    bottles_from: datetime


class HistoryAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What was read, measured, added or done. `figures` are the readings at 20 °C, in order."""

    about: HistoryAbout
    views: tuple[Batch, ...]
    figures: tuple[tuple[float, ...], ...] = ()
    did: tuple[tuple[Happened, ...], ...] = ()
    """For `about="who"`: what everybody did, oldest first."""


class RangeAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """The temperatures that are right for each batch at its moment by its plan, in °C from and to. `at_c` is the one that
    was asked about."""

    rows: tuple[tuple[Batch, "LifeStage", tuple[float, float]], ...]
    at_c: float | None = None


class EachAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """The same, answered for each of several batches."""

    answers: tuple["StrengthAnswer | ReadyAnswer | FinishAnswer | BatchAnswer", ...]


class ExpectedAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """How many bottles of 75 cl each batch should give; None where no volume is known."""

    counts: tuple[tuple[Batch, int | None], ...]


class LitresAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """How much is left of each batch, in all or in the `vessel` asked about."""

    views: tuple[Batch, ...]
    vessel: str | None = None


class StockAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Bottles at home."""

    views: tuple[Batch, ...]


class CostAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What was spent, a batch each."""

    costs: tuple[tuple[Batch, Costs], ...]


class StoryAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What happened to each batch."""

    stories: tuple[tuple[Batch, tuple[Happened, ...]], ...]


class VesselsAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """The vessels asked about: all, one, or only the `free` ones."""

    vessels: tuple[VesselView, ...]
    free: bool = False


class PlansAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """One plan to be shown (and for which batch), or all that the house has."""

    plan: Plan | None
    view: Batch | None
    plans: tuple[Plan, ...]


class OccasionAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """When to begin for a day."""

    schedule: Schedule


class VerdictsAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """A verdict for each batch asked about."""

    verdicts: tuple[FinishedAnswer | AllRightAnswer | StuckAnswer | SafeAnswer, ...]


class SafetyAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What to do about something that may hurt somebody."""

    topic: str


LifeStage = Literal[
    "any",
    "setting_up",
    "ready_for_yeast",
    "just_pitched",
    "fermenting",
    "fermented_out",
    "clearing",
    "ready_to_bottle",
    "bottled",
]
"""When in a batch's life something of the craft is asked; "any" where no batch is meant, or it is at another end. It is
"just pitched" until its first reading is due."""


class LoreAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Something of the craft, by its topic, for the batch that it is asked of, if any. `contact` is how long the house's
    sanitiser stands."""

    topic: str
    view: Batch | None
    moment: LifeStage
    contact: timedelta
    read_at: datetime | None = None
    """When its gravity is worth reading next."""


class ReadingAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """When to measure next, a batch each, and why then."""

    rows: tuple[tuple[Batch, ReadThen, datetime | None], ...]


class Compared(msgspec.Struct, frozen=True, kw_only=True):
    """A batch beside others; `bottles_at` is when it was bottled, or may be."""

    stands: BatchAnswer
    strength: StrengthAnswer
    bottles_at: datetime


class CompareAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """Batches side by side, the one that is nearest to its bottles first."""

    rows: tuple[Compared, ...]


class WasDoneAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """By which facts each chore asked about was done, a batch each, oldest first. `of` is the one chore that was asked
    about."""

    of: StepName | None
    rows: tuple[tuple[Batch, tuple[tuple[StepName, tuple[Doing, ...]], ...]], ...]


class Errands(msgspec.Struct, frozen=True, kw_only=True):
    """What the chores to come want for a batch: bottles and corks by a day (unless somebody `got` them), the kit's own
    packets, and a vessel to rack into."""

    view: Batch
    bottling: datetime | None
    bottles: int | None
    got: bool
    packets: tuple[PlanStep, ...]
    racking: datetime | None


class ShoppingAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What to buy or have at hand, a batch each; `free` are the vessels that hold nothing."""

    errands: tuple[Errands, ...]
    free: tuple[str, ...]


class RemindersAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What people asked to be reminded of, with the batch's name, soonest first."""

    asked: tuple[tuple[Due, str | None], ...]


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
    | RangeAnswer
    | EachAnswer
    | ExpectedAnswer
    | LitresAnswer
    | StockAnswer
    | CostAnswer
    | StoryAnswer
    | VesselsAnswer
    | PlansAnswer
    | OccasionAnswer
    | VerdictsAnswer
    | RemindersAnswer
    | SafetyAnswer
    | LoreAnswer
    | ReadingAnswer
    | CompareAnswer
    | WasDoneAnswer
    | ShoppingAnswer
    | HelpAnswer
    | NoneAnswer
)


class Surroundings(msgspec.Struct, frozen=True, kw_only=True):
    """The household's vessels as it was set up with, its date today, of what signs its notes (by entry) tell, and how
    long its sanitiser stands."""

    known: tuple[Known, ...]
    today: date
    signs: Mapping[EntryId, tuple[Sign, ...]] = {}
    contact: timedelta = practice.CONTACT.value


_OF_EACH = frozenset({"abv", "finish_time", "ready_to_rack", "ready_to_bottle"})
"""What is told of each batch where none is named."""

_OF_WHAT_IS_UNDER_WAY = frozenset({"next", "overview", "stock", "cost", "story"})


def answer(question: Question, house: HouseView, now: datetime, around: Surroundings | None = None) -> Answer:
    """Answers from what the house has said so far. `around` is what the house has to keep wine in, and its day."""
    about, subject = question.about, question.subject
    around = around or Surroundings(known=(), today=now.date())
    match subject:
        case Matter(about="help"):
            return HelpAnswer()
        case Matter(about="reminders"):
            names = {view.batch: view.name for view in house.batches}
            asked = tuple((due, names.get(due.batch, due.of)) for due in asked_for(house))
            return RemindersAnswer(asked=asked)
        case Safety():
            return SafetyAnswer(topic=subject.topic)
        case Occasion():
            vessels = vessel_views(house, around.known, now)
            return OccasionAnswer(schedule=schedule(subject.wishes, house, vessels, now, around.today))
        case Vessels():
            every = vessel_views(house, around.known, now)
            asked_of = [v for v in every if subject.vessel in (None, v.name) and (v.free or not subject.free)]
            return VesselsAnswer(vessels=tuple(asked_of), free=subject.free)
        case Lore():
            return _lore(subject, house.named(question.of), house, now, around)
        case Plans():
            return _plans(house.named(question.of), subject.plan, house)
        case _:
            pass  # of a batch
    view = house.named(question.of)
    if isinstance(subject, WasDone) and view is None and question.of is not None:
        empty = [v for v in vessel_views(house, around.known, now) if v.name == question.of]
        if empty and subject.step == "sanitise":
            return VesselsAnswer(vessels=tuple(empty))
    if question.of is not None and view is None:
        return NoneAnswer(of=question.of)
    if view is None and len(house.under_way) == 1:
        view = house.under_way[0]
    if view is None and not house.under_way and house.batches and about not in _OF_WHAT_IS_UNDER_WAY:
        view = house.batches[-1]  # the last one is what is still spoken of
    if isinstance(subject, FermentRange | LitresLeft | BottlesToCome) and house.under_way:
        views = (view,) if view else house.under_way
        if isinstance(subject, FermentRange):
            return _range(views, subject.at_c, now)
        if isinstance(subject, LitresLeft) and all(one.ended_at is None for one in views):
            return LitresAnswer(views=views, vessel=subject.vessel)
        if any(one.bottled_at is None for one in views):
            return ExpectedAnswer(counts=tuple((one, expected_bottles(one)) for one in views))
    if about == "stock":
        kept = [v for v in house.batches if v.bottled_at is not None]
        return StockAnswer(views=(view,) if view is not None and view in kept else tuple(kept))
    if isinstance(subject, Shopping):
        return _shopping((view,) if view else house.under_way, house, now, around)
    if not house.batches:
        return NoneAnswer(of=None)
    if about == "cost":
        views = (view,) if view else tuple(v for v in house.batches if v.costs) or house.under_way
        return CostAnswer(costs=tuple((one, costs_of(one, house)) for one in views))
    if about == "story":
        return StoryAnswer(stories=tuple((one, story(one)) for one in ((view,) if view else house.under_way)))
    views = (view,) if view else house.under_way
    match subject:
        case IsFinished(stopped=stopped):
            return VerdictsAnswer(verdicts=tuple(finished(one, now, stopped=stopped) for one in views))
        case IsStuck(restart=restart):
            return VerdictsAnswer(verdicts=tuple(stuck(one, now, help_asked=restart) for one in views))
        case IsSafe(drink=drink):
            known = views or house.batches[-1:]
            over = [safe(one, now, sulphite_over(one), around.signs, drink=drink) for one in known]
            return VerdictsAnswer(verdicts=tuple(over))
        case IsAllRight():
            return VerdictsAnswer(verdicts=tuple(all_right(one, now, around.signs) for one in views))
        case NextReading():
            return ReadingAnswer(rows=tuple((one, why_then(one), next_reading(one)) for one in views))
        case Compare(other=other):
            return _compare(view, other, house, now)
        case WasDone(step=step):
            return _was_done(step, views or house.batches[-1:], house)
        case Matter() | Reckon() | FermentRange() | LitresLeft() | BottlesToCome():
            pass  # told by its name, also where there is nothing to be counted
        case _:
            assert_never(subject)
    if about in ("readings", "chart", "temperature", "additions", "who"):
        # Who did what is asked of a wine in bottles too.
        return _history(about, views if views or about != "who" else house.batches[-1:])
    if view is None and len(views) > 1 and about in _OF_EACH:
        return EachAnswer(answers=tuple(_about_batch(about, one, now) for one in views))
    if about == "overview" or view is None:
        return _whole_house(about, house, now)
    return _about_batch(about, view, now)


def _plans(view: Batch | None, name: str | None, house: HouseView) -> PlansAnswer:
    plan = view.follows if view is not None else house.plan_named(name) if name else None
    newest = {kept.title.casefold(): kept for kept in house.plans}
    return PlansAnswer(plan=plan, view=view, plans=tuple(newest.values()))


def _range(views: tuple[Batch, ...], at_c: float | None, now: datetime) -> RangeAnswer:
    """By the plan: before the yeast what the must should have, then what the ferment wants."""
    rows = []
    for view in views:
        moment = _moment(view, now)
        before = moment in ("setting_up", "ready_for_yeast")
        rows.append((view, moment, view.follows.pitch_c if before else view.follows.ferment_c))
    return RangeAnswer(rows=tuple(rows), at_c=at_c)


def _about_batch(
    about: About, view: Batch, now: datetime
) -> StrengthAnswer | ReadyAnswer | FinishAnswer | BatchAnswer:
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
    kept = tuple(view for view in house.batches if view.bottles_left)
    return HouseAnswer(about=kind, batches=tuple(rows), at_home=() if kind == "next" and rows else kept)


def batch_answer(view: Batch, now: datetime, about: Literal["stage", "next"] = "stage") -> BatchAnswer:
    """Where the batch stands."""
    clear, stands = found_clear(view), stage(view, now)
    if clear == "cloudy":
        stands = msgspec.structs.replace(stands, word="clearing")
    trouble = ferment_trouble(view)
    return BatchAnswer(
        about=about,
        view=view,
        stage=stands,
        clear=clear,
        stuck=trouble if trouble is not None and trouble.kind == "stuck" else None,
        fall_per_day=falls_now(view),
        next_reading=next_reading(view),
        strength=strength_so_far(view),
        needs=_needs(view, now),
    )


def _needs(view: Batch, now: datetime) -> tuple[Need, ...]:
    """Once it has stopped: a vessel for a transfer that comes next, bottles and corks for the bottling."""
    place = place_in_plan(view)
    if view.ended_at is not None or settled(view) is None:
        return ()
    chore = place.chore
    found = (
        [Need(what="vessel", count=1, by=place.ready)] if chore is not None and chore.does == "rack" else []
    )
    ahead = [step for step in view.follows.steps if step not in place.behind]
    bottling = [step for step in ahead if step.does == "bottle"]
    if bottling:
        at = place.ready if chore is not None and chore.does == "bottle" else None
        rest = timedelta(hours=sum(step.takes_hours for step in ahead))
        days = [day_of(view, step) for step in bottling]
        found.append(Need(what="bottles", count=expected_bottles(view), by=at or max(now + rest, *days)))
    return tuple(found)


def strength_answer(view: Batch) -> StrengthAnswer:
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
        roughly=_roughly(view) if start is None else None,
    )


def _roughly(view: Batch) -> Rough | None:
    """The least that it is, by the first of its readings, where that was taken early enough to tell anything."""
    first = next((reading for reading in view.readings if not reading.estimated), None)
    if first is None or view.mixed or true_sg(view, first) < practice.STARTS_AT_LEAST.value:
        return None
    latest = view.latest
    try:
        dry, _, _ = potential_alcohol(true_sg(view, first))
        later = latest is not None and latest.entry != first.entry and latest.sg < first.sg
        so_far = (
            alcohol_by_volume(true_sg(view, first), true_sg(view, latest)).abv if later and latest else None
        )
    except BadInput:
        return None
    return Rough(first=first, so_far=so_far, dry=dry)


def ready(view: Batch, what: Literal["rack", "bottle"], now: datetime) -> ReadyAnswer:
    """Whether the batch is ready to be racked or bottled, and what the answer rests on."""
    place, proof = place_in_plan(view), settled(view)
    latest = view.latest
    low = (
        latest is not None and not latest.estimated and true_sg(view, latest) <= practice.FINISHED_BELOW.value
    )
    since = agreeing_since(view) if low else None
    before = place.held or (place.chore if place.chore is None or place.chore.does != what else None)
    waiting = place.ready is None or now < place.ready
    done = view.bottled_at is not None or (place.chore is None and not place.waits)
    if what == "rack":
        done = done or all(step.does != "rack" for step in view.follows.steps if step not in place.behind)
    clear = found_clear(view)
    reached = not done and not waiting and place.chore is not None and place.chore.does == what
    yes = reached and clear != "cloudy"
    return ReadyAnswer(
        what=what,
        verdict="done" if done else "yes" if yes else "not_yet",
        view=view,
        latest=latest,
        proof=proof,
        since=since,
        proof_at=since + practice.SETTLED_OVER.value if since is not None and proof is None else None,
        before=None if reached or done else before,
        clear=clear if reached else None,
        ready=place.ready,
        fall_per_day=falls_now(view),
        trouble=ferment_trouble(view),
    )


def _history(about: HistoryAbout, views: tuple[Batch, ...]) -> HistoryAnswer:
    """What the batches' log tells of it."""
    figures = tuple(tuple(true_sg(view, reading) for reading in view.readings) for view in views)
    did = tuple(tuple(one for one in story(view) if one.by) for view in views) if about == "who" else ()
    return HistoryAnswer(about=about, views=views, figures=figures, did=did)


def _lore(asked: Lore, of: Batch | None, house: HouseView, now: datetime, around: Surroundings) -> LoreAnswer:
    alone = house.under_way[0] if len(house.under_way) == 1 else None
    view = of or alone
    return LoreAnswer(
        topic=asked.topic,
        view=view,
        moment="any" if view is None else _moment(view, now),
        contact=around.contact,
        read_at=next_reading(view) if view is not None else None,
    )


_MOMENTS: Mapping[str, LifeStage] = {
    "setting up": "setting_up",
    "ready for the yeast": "ready_for_yeast",
    "fermenting": "fermenting",
    "fermented out": "fermented_out",
    "clearing": "clearing",
    "ready to bottle": "ready_to_bottle",
    "bottled": "bottled",
}


def _moment(view: Batch, now: datetime) -> LifeStage:
    moment = _MOMENTS.get(batch_answer(view, now).stage.word, "any")
    early = view.pitched_at is not None and now < view.pitched_at + practice.FIRST_LOOK.value
    return "just_pitched" if moment == "fermenting" and early else moment


def _compare(view: Batch | None, other: str | None, house: HouseView, now: datetime) -> Answer:
    beside = house.named(other)
    if other is not None and beside is None:
        return NoneAnswer(of=other)
    pair = [one for one in (view, beside) if one is not None]
    every = house.under_way if len(house.under_way) > 1 else house.batches
    views = pair if beside is not None and len(pair) > 1 else [*pair, *every]
    rows = [
        Compared(
            stands=batch_answer(one, now),
            strength=strength_answer(one),
            bottles_at=one.ended_at or _finish(one, now).bottles_from,
        )
        for one in {one.batch: one for one in views}.values()
    ]
    return CompareAnswer(rows=tuple(sorted(rows, key=lambda row: (row.bottles_at, row.stands.view.batch))))


def _was_done(step: StepName | None, views: tuple[Batch, ...], house: HouseView) -> WasDoneAnswer:
    steps: tuple[StepName, ...] = (step,) if step is not None else get_args(StepName)
    rows = []
    for view in views:
        every = ((one, _done(view, one, house)) for one in steps)
        rows.append((view, tuple((one, facts) for one, facts in every if facts or step is not None)))
    return WasDoneAnswer(of=step, rows=tuple(rows))


def _done(view: Batch, step: StepName, house: HouseView) -> tuple[Doing, ...]:
    """What was sanitised just before it began was sanitised for it."""
    facts = done_by(view, step)
    if step != "sanitise":
        return tuple(facts)
    its_own = {stay.vessel for stay in view.stays} | {None}
    known = {fact.entry for fact in facts}
    since = view.begun_at - practice.STALE_AFTER.value
    for_it = [c for c in house.sanitised if c.vessel in its_own and since <= c.at and c.entry not in known]
    return tuple(sorted([*facts, *for_it], key=lambda fact: (fact.at, fact.entry)))


def _shopping(
    views: tuple[Batch, ...], house: HouseView, now: datetime, around: Surroundings
) -> ShoppingAnswer:
    vessels = vessel_views(house, around.known, now)
    errands = [_errands(view, now) for view in views if view.ended_at is None]
    return ShoppingAnswer(errands=tuple(errands), free=tuple(v.name for v in vessels if v.free))


def _errands(view: Batch, now: datetime) -> Errands:
    ahead = coming(view, now)
    when = {one.step.does: one.at for one in reversed(ahead)}
    return Errands(
        view=view,
        bottling=when.get("bottle"),
        bottles=expected_bottles(view),
        got=any(promise.ends == CollectKey().text for promise in view.promises),
        packets=tuple(one.step for one in ahead if one.step.does in _FROM_PACKETS),
        racking=when.get("rack"),
    )


_FROM_PACKETS = ("pitch", "stabilise", "fine", "add")


def _finish(view: Batch, now: datetime) -> FinishAnswer:
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
