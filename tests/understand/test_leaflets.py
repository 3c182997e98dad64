"""Leaflets: what is read of them, what is kept as written, and the small text that gives the same plan again."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.cellar.log.acts import KeepPlan
from bot.cellar.log.plain import from_plain, to_plain
from bot.cellar.plans.leaflet import changes, versioned
from bot.cellar.plans.model import Plan
from bot.say.leaflets import plan_text, step_text
from bot.understand.forms.leaflets import read_leaflet

THREE_LINES = (
    "Day 1 add sachet A, stir. Day 7 when 0.996 or less add B and C, degas for 10 min. Day 14 bottle"
)


def plan(text: str) -> Plan:
    found = read_leaflet(text)
    assert found is not None
    return found.plan("elder")


def test_three_lines_make_a_plan() -> None:
    found = plan(THREE_LINES)
    told = [(s.does, s.day, s.gate, s.sg, s.sachets, s.minutes) for s in found.steps if s.day is not None]
    assert told == [
        ("add", 1, None, None, ("A",), None),
        ("add", 7, "sg_at_most", 0.996, ("B", "C"), None),
        ("degas", 7, "sg_at_most", 0.996, (), 10),
        ("bottle", 14, "settled", None, (), None),
    ]
    assert found.days == 14
    assert [s.does for s in found.steps if s.day is None] == ["sanitise", "gravity", "pitch", "label"]


@pytest.mark.parametrize(
    ("line", "does", "gate", "sg"),
    [
        ("Day 5: rack into a clean demijohn when 1.010 or below", "rack", "sg_at_most", 1.010),
        ("Day 5 - if SG is below 0.998 add the stabiliser", "stabilise", "sg_at_most", 0.998),
        ("day 5 once the gravity reaches 996 stir in the finings", "fine", "sg_at_most", 0.996),
        ("On day 5, when fermentation has stopped, siphon off", "rack", "settled", None),
        ("Day 5. Shake the gas out for five minutes", "degas", None, None),
        ("Week 2: filter", "filter", None, None),
        ("Day 5 pour in the juice", "mix", None, None),
        ("Day 5 sprinkle the yeast on top", "pitch", None, None),
    ],
)
def test_a_line_says_what_to_do_and_when(line: str, does: str, gate: str | None, sg: float | None) -> None:
    found = plan(f"plan for elder:\n{line}\nDay 20 bottle")
    step = next(step for step in found.steps if step.day is not None)
    assert (step.does, step.gate, step.sg) == (does, gate, sg)
    assert step.day == (8 if line.startswith("Week") else 5)


@pytest.mark.parametrize(
    ("line", "title", "times", "every"),
    [
        ("degas 3 times a day for 2 days", "degas", 6, 6),
        ("degas three times a day for two days", "degas", 6, 6),
        ("stir twice a day for 3 days", "stir", 6, 12),
        ("degas for 10 min, repeat every 6 hours, 3 times", "degas for 10 min", 3, 6),
        ("degas for 10 min. Repeat every 6 hours, 3 times", "degas for 10 min", 3, 6),
        ("degas for 10 min, repeat daily for 3 days", "degas for 10 min", 3, 24),
        ("degas morning and evening for two days", "degas", 4, 12),
        ("stir every 6 hours for 2 days", "stir", 8, 6),
        ("stir every 4 hours for 12 hours", "stir", 3, 4),
        ("stir every day for 5 days", "stir", 5, 24),
        ("degas 3 times over a day", "degas", 3, 6),
        ("degas three times", "degas", 3, 4),
        ("degas twice", "degas", 2, 4),
        ("degas 3 times, 4 hours apart", "degas", 3, 4),
        ("add nutrient once a day for 3 days", "add nutrient", 3, 24),
        ("stir twice", "stir twice", 1, 0),  # in one go
        ("rack twice", "rack twice", 1, 0),
        ("degas 99 times a day for 9 days", "degas 99 times a day for 9 days", 1, 0),
    ],
)
def test_what_is_done_over_and_over(line: str, title: str, times: int, every: float) -> None:
    found = plan(f"plan for elder:\nDay 1 mix\nDay 5 {line}\nDay 20 bottle")
    (step,) = [step for step in found.steps if step.day == 5]
    assert (step.title, step.times, step.every_hours) == (title, times, every)


def test_repeats_of_nothing_are_kept_as_written() -> None:
    found = plan("plan for elder:\nDay 1 filter\nDay 1 repeat daily for 3 days\nDay 9 bottle")
    assert [step.title for step in found.steps if step.unclear] == ["repeat daily for 3 days"]


def test_unclear_lines_are_kept_in_their_place() -> None:
    found = plan("leaflet:\nDay 1 mix to 23 l\nDay 3 hang the muslin moon\nDay 9 bottle")
    unclear = [(step.title, step.day) for step in found.steps if step.unclear]
    assert unclear == [("hang the muslin moon", 3)]
    titles = [step.title for step in found.steps]
    assert titles.index("mix to 23 l") < titles.index("hang the muslin moon") < titles.index("bottle")


def test_bottling_always_waits_for_a_steady_gravity() -> None:
    steps = plan("plan for elder:\nDay 1 mix\nDay 9 when 0.998 or less bottle").steps
    bottle = next(step for step in steps if step.does == "bottle")
    assert (bottle.gate, bottle.sg) == ("settled", 0.998)
    assert "burst" in bottle.caution


@pytest.mark.parametrize(
    ("line", "does", "gate", "title"),
    [
        ("when clear bottle", "bottle", "settled", "bottle"),
        ("bottle when clear", "bottle", "settled", "bottle"),
        ("bottle once the wine is bright", "bottle", "settled", "bottle"),
        ("when steady and clear, bottle", "bottle", "settled", "bottle"),
        ("when clear and steady, bottle", "bottle", "settled", "bottle"),
        ("once cleared, rack off the sediment", "rack", None, "rack off the sediment"),
    ],
)
def test_when_clear_is_a_condition(line: str, does: str, gate: str | None, title: str) -> None:
    steps = plan(f"plan for elder:\nDay 1 mix\nDay 28 {line}").steps
    step = next(step for step in steps if step.does == does)
    assert (step.title, step.gate, step.clear) == (title, gate, True)


def test_letting_it_clear_is_a_wait_and_no_condition() -> None:
    steps = plan("plan for elder:\nDay 1 mix\nDay 14 leave to clear for 7 days\nDay 21 bottle").steps
    wait = next(step for step in steps if step.wait_hours)
    assert (wait.does, wait.wait_hours, wait.clear) == (None, 168, False)


@pytest.mark.parametrize(
    ("line", "sachets"),
    [
        ("add sachet A and 6 gallons water at 72F", ("A",)),
        ("add sachets A and B and 6.5 gallons water", ("A", "B")),
        ("add sachets 1 and 2", ("1", "2")),
        ("add sachet 3 and 5 l of water", ("3",)),
    ],
)
def test_water_is_no_sachet(line: str, sachets: tuple[str, ...]) -> None:
    steps = plan(f"plan for elder:\nDay 1 {line}\nDay 28 bottle").steps
    step = next(step for step in steps if step.does == "add")
    assert step.sachets == sachets
    assert step.met_by == tuple(f"sachet {one}" for one in sachets)


@pytest.mark.parametrize(
    "chatter",
    [
        "day 1 we go to Rome, day 2 to Pisa",
        "what a day",
        "the plan: dinner at 7, film at 9",
        "plan for tonight: pizza",
        "Day 1 of the holiday and the boiler is broken",
        "my plan for the weekend: wash the car, then sleep",
        "",
        "day 5",
    ],
)
def test_plans_of_other_kinds_are_no_leaflets(chatter: str) -> None:
    assert read_leaflet(chatter) is None


def test_a_plan_goes_into_the_log_and_comes_back() -> None:
    act = KeepPlan(plan=plan(THREE_LINES))
    assert from_plain(to_plain(act)) == act


def test_versions_count_on() -> None:
    first = plan(THREE_LINES)
    second = versioned(first, [first])
    assert (first.key, second.key, second.version) == ("house/elder@1", "house/elder@2", 2)


def test_a_changed_plan_says_what_changed() -> None:
    old = plan(THREE_LINES)
    new = plan(THREE_LINES.replace("Day 14 bottle", "Day 10 rack. Day 21 bottle"))
    told = [(c.old and step_text(c.old), c.new and step_text(c.new)) for c in changes(old, new)]
    assert told == [
        (None, "Day 10: rack"),
        ("Day 14, when steady: bottle", "Day 21, when steady: bottle"),
    ]
    assert changes(old, old) == []


WORDS = st.sampled_from(
    [
        "add sachet A",
        "add sachets 1 and 2",
        "add B and C",
        "stir in sachet D, gently",
        "mix the concentrate to 23 l",
        "top up with water",
        "sprinkle the yeast on top",
        "read the gravity",
        "degas for 10 min",
        "rack into a clean demijohn",
        "add the stabiliser and degas",
        "add finings, stir",
        "leave to clear for 7 days",
        "keep at 18-22 °C",
        "add sachet A and 6 gallons water at 72F",
        "hang the muslin moon",
        "whisper to it, twice a day",
        "add bentonite",
        "filter",
        "degas 3 times a day for 2 days",
        "degas for 10 min, repeat every 7 hours, 3 times",
        "add the stabiliser and degas three times",
        "stir five times a day",
        "rack twice, 3 times, 6 hours apart",
        "stir twice a day for 2 days, 3 times, 4 hours apart",
    ]
)
GATES = st.sampled_from(
    [
        "",
        "when 0.996 or less ",
        "once steady ",
        "if below 1.010 ",
        "when clear ",
        "once it has cleared ",
        "when steady and clear ",
        "when clear and steady ",
    ]
)
LINES = st.lists(st.tuples(st.integers(1, 60), GATES, WORDS), min_size=1, max_size=12)


@given(LINES)
def test_the_small_text_gives_the_same_plan_again(lines: list[tuple[int, str, str]]) -> None:
    rows = [f"Day {day} {gate}{words}" for day, gate, words in sorted(lines)]
    found = read_leaflet("\n".join(["plan for elder:", "Day 1 mix", *rows, "Day 70 bottle"]))
    if found is None:
        return  # more of it unclear than clear
    once = found.plan("elder")
    again = read_leaflet(plan_text(once))
    assert again is not None
    assert again.plan("another") == once


@given(st.text(max_size=300))
def test_any_text_is_read_without_a_crash(text: str) -> None:
    read_leaflet(text)
    read_leaflet(f"plan for elder:\nDay 1 mix\n{text}\nDay 9 bottle")
