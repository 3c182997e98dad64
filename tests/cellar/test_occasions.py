"""Planning for a day: the search against every way there is to share out the kits."""

from datetime import date, timedelta
from itertools import permutations, product

from hypothesis import given, settings
from hypothesis import strategies as st

from bot.cellar.home.occasions import PROOF_DAYS, Schedule, schedule
from bot.cellar.home.vessels import Known, vessel_views
from bot.cellar.log.acts import Begin
from bot.cellar.log.fold import fold
from bot.cellar.log.subjects import Wish
from bot.science import practice
from tests.cellar.batches import START, Story

TODAY = date(2026, 3, 1)
BUCKETS = [Known(name="bucket 1", litres=25.0), Known(name="bucket 2", litres=25.0)]


def plan(wishes: list[Wish], known: list[Known] = BUCKETS, story: Story | None = None) -> Schedule:
    house = fold(story.entries if story else [])
    return schedule(wishes, house, vessel_views(house, known, START), START, TODAY)


def white(bottles: int, in_days: int, kit: int = 14) -> Wish:
    return Wish(bottles=bottles, by=TODAY + timedelta(days=in_days), colour="white", days=kit)


def test_one_kit_is_worked_back_from_the_day() -> None:
    found = plan([white(25, 60)])
    (start,) = found.starts
    assert start.bottle == TODAY + timedelta(days=60 - practice.REST_DAYS.value["white"])
    assert start.start == start.bottle - timedelta(days=14 + PROOF_DAYS)


def test_more_bottles_than_a_kit_gives_take_two_vessels() -> None:
    assert {start.vessel for start in plan([white(40, 60)]).starts} == {"bucket 1", "bucket 2"}


def test_a_vessel_in_use_is_free_only_later() -> None:
    story = Story()
    story.begin(30, vessel="bucket 1")
    one = [BUCKETS[0]]
    assert plan([white(25, 40)], one, story).starts == ()
    found = plan([white(25, 40)], one, story)
    assert found.late_days is not None
    assert [busy.batch for busy in found.busy] == ["plum"]
    in_time = plan([white(25, 40 + found.late_days)], one, story)
    assert len(in_time.starts) == 1
    assert plan([white(25, 39 + found.late_days)], one, story).starts == ()


def test_demijohns_are_not_for_kits() -> None:
    assert plan([white(20, 60)], [Known(name="demijohn 1"), Known(name="bucket 9", litres=5.0)]).vessels == 0


def test_two_buckets_and_four_wishes() -> None:
    """Each bucket takes two kits of 14 days and their proof one after the other: 32 days, and 14 of rest."""
    wishes = [white(25, 46), white(25, 46), white(25, 30), white(25, 30)]
    found = plan(wishes)
    assert len(found.starts) == 4
    assert min(start.start for start in found.starts) == TODAY
    tighter = plan([white(25, 45), white(25, 45), white(25, 30), white(25, 30)])
    assert tighter.starts == ()
    assert tighter.late_days == 1


JOBS = st.lists(
    st.tuples(st.integers(1, 30), st.integers(20, 120), st.sampled_from([7, 14, 30])), min_size=1, max_size=4
)


def first_start(jobs: list[tuple[int, int]], free: tuple[int, ...]) -> int | None:
    """The latest possible first start over every sharing out and every order: by trying all of them."""
    best: int | None = None
    for where in product(range(len(free)), repeat=len(jobs)):
        for order in permutations(range(len(jobs))):
            fronts = [10_000] * len(free)
            starts = []
            for job in order:
                days, deadline = jobs[job]
                end = min(deadline, fronts[where[job]])
                fronts[where[job]] = end - days
                starts.append((end - days, end - days >= free[where[job]]))
            if all(in_time for _, in_time in starts):
                first = min(start for start, _ in starts)
                best = first if best is None else max(best, first)
    return best


@given(JOBS, st.booleans())
@settings(max_examples=60, deadline=None)
def test_the_search_finds_what_trying_everything_finds(jobs: list[tuple[int, int, int]], busy: bool) -> None:
    story = Story()
    if busy:
        story.tell(Begin(of="fig", name="fig", litres=20.0, days=20, vessel="bucket 2"), 0, batch=None)
    house = fold(story.entries)
    views = vessel_views(house, BUCKETS, START)
    wishes = [white(bottles, by, kit) for bottles, by, kit in jobs]
    found = schedule(wishes, house, views, START, TODAY)
    free = (0, (found.busy[0].until - TODAY).days + 1 if found.busy else 0)
    expected = first_start(
        [(kit + PROOF_DAYS, by - practice.REST_DAYS.value["white"]) for _, by, kit in jobs],
        free,
    )
    have = min(((start.start - TODAY).days for start in found.starts), default=None)
    assert have == expected
