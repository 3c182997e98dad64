"""The fold: a pure function of the entries that stand, whatever order they came in."""

from datetime import timedelta
from random import Random

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from bot.cellar.log.acts import (
    Act,
    Addition,
    Amend,
    Begin,
    Blend,
    Bottles,
    Cost,
    Draw,
    GiveUp,
    Gravity,
    Nickname,
    Note,
    Share,
    Skip,
    Split,
    Step,
    Temperature,
    Undo,
    Vessel,
    Volume,
)
from bot.cellar.log.fold import Entry, Folded, HouseView, fold, standing, struck_out
from bot.ids import BatchId, EntryId
from tests.cellar.batches import START, Story, hours

FACTS: st.SearchStrategy[Act] = st.one_of(
    st.builds(Gravity, sg=st.floats(0.98, 1.2), of=st.just("plum")),
    st.builds(Temperature, temp_c=st.floats(-5, 110), of=st.just("plum")),
    st.builds(Volume, litres=st.floats(1, 100), of=st.just("plum")),
    st.builds(Addition, what=st.sampled_from(["sugar", "yeast", "sorbate"]), of=st.just("plum")),
    st.builds(Step, step=st.sampled_from(["mix", "pitch", "rack", "degas"]), of=st.just("plum")),
    st.builds(Note, text=st.text(max_size=20), of=st.just("plum")),
    st.builds(Bottles, change=st.integers(-3, 3), of=st.just("plum")),
)


OTHERS: st.SearchStrategy[Act] = st.one_of(
    st.builds(Step, step=st.just("sanitise"), of=st.sampled_from([None, "bucket 2"])),
    st.builds(Step, step=st.just("rack"), to=st.sampled_from(["demijohn 1", "bucket 3"])),
    st.builds(Step, step=st.just("bottle"), bottles=st.integers(1, 30)),
    st.builds(
        Step, step=st.just("top_up"), litres=st.floats(0.1, 9), using=st.sampled_from(["water", "wine"])
    ),
    st.builds(Step, step=st.just("top_up"), litres=st.floats(0.1, 9), donor=st.sampled_from([1, 2])),
    st.builds(Split, into=st.just((Share(vessel="bucket 3", litres=9.0), Share(vessel="jar", rest=True)))),
    st.builds(Blend, other=st.just("sloe"), batch=st.sampled_from([1, 2]), to=st.sampled_from([None, "jar"])),
    st.builds(Draw, litres=st.floats(0.1, 30), why=st.sampled_from(["sample", "lees"])),
    st.builds(Addition, what=st.just("water"), amount=st.floats(0.1, 5), unit=st.just("l")),
    st.builds(
        Gravity,
        sg=st.floats(0.98, 1.2),
        brix=st.floats(1, 30),
        instrument=st.sampled_from(["refractometer", "hydrometer"]),
    ),
    st.builds(Amend, days=st.sampled_from([7, 30]), vessel=st.sampled_from([None, "bucket 3"])),
    st.builds(Skip, step=st.just("degas"), which=st.just("degas")),
    st.builds(Cost, what=st.just("kit"), amount=st.floats(1, 90)),
    st.builds(Nickname, name=st.sampled_from(["posh", "rough"])),
    st.builds(Vessel, of=st.just("jar"), litres=st.floats(1, 30)),
    st.builds(GiveUp),
)


def entries_of(facts: list[tuple[Act, int]]) -> list[Entry]:
    story = Story()
    story.begin()
    for act, at in facts:
        story.tell(act, at)
    return story.entries


def without_numbers(view: HouseView) -> str:
    """The view as text, entry numbers left out."""

    def strip(value: object) -> object:
        if isinstance(value, dict):
            return {key: strip(item) for key, item in value.items() if key != "entry"}
        return [strip(item) for item in value] if isinstance(value, list | tuple) else value

    return repr(strip(msgspec.to_builtins(view)))


@given(
    st.lists(st.tuples(FACTS, st.integers(1, 500)), unique_by=lambda fact: fact[1]),
    st.randoms(use_true_random=False),
)
def test_a_fact_told_late_falls_into_its_place(facts: list[tuple[Act, int]], random: Random) -> None:
    shuffled = list(facts)
    random.shuffle(shuffled)
    assert without_numbers(fold(entries_of(facts))) == without_numbers(fold(entries_of(shuffled)))


@given(st.lists(st.tuples(FACTS, st.integers(0, 500)), min_size=1))
def test_undo_of_the_last_gives_exactly_what_was_before(facts: list[tuple[Act, int]]) -> None:
    before = entries_of(facts[:-1])
    after = entries_of(facts)
    last = after[-1]
    undone = Entry(
        entry=last.entry + 1, act=Undo(), by="bo", said_at=last.said_at, at=last.at, strikes=last.entry
    )
    assert fold([*after, undone]) == fold(before)
    put_back = Entry(
        entry=last.entry + 2, act=Undo(), by="bo", said_at=last.said_at, at=last.at, strikes=undone.entry
    )
    assert fold([*after, undone, put_back]) == fold(after)


TOLD = st.tuples(
    FACTS | OTHERS, st.integers(-3, 5), st.sampled_from([1, 1, 2, None]), st.none() | st.integers(1, 9)
)


@given(st.lists(TOLD, max_size=14))
def test_a_log_that_is_gone_on_with_is_the_log_read_from_its_start(
    told: list[tuple[Act, int, int | None, int | None]],
) -> None:
    story = Story()
    story.begin()
    story.tell(Begin(of="sloe", name="sloe", litres=5.0, vessel="demijohn 2"))
    for number, (act, later, batch, strikes) in enumerate(told):
        story.tell(act, number + later, batch=batch)
        if strikes is not None:
            story.tell(Undo(), number + later, batch=batch, strikes=strikes)
    logs = [Folded()]
    for entry in story.entries:
        logs.append(logs[-1].plus([entry]))
    for count, log in enumerate(logs):  # what came after has changed none of them
        before = story.entries[:count]
        assert log.view == fold(before)
        assert list(log.entries) == before
        assert list(log.standing) == standing(before)


def test_a_newest_fact_leaves_what_is_known_of_other_batches() -> None:
    story = Story()
    story.begin()
    story.tell(Begin(of="sloe", name="sloe", litres=5.0, vessel="demijohn 2"))
    log = Folded.of(story.entries)
    story.sg(1.080, 1)
    plum, sloe = log.plus(story.entries[-1:]).view.batches
    assert plum.latest is not None
    assert sloe is log.view.batches[1]


@given(st.lists(st.tuples(FACTS, st.integers(0, 500))))
def test_the_fold_leaves_the_entries_alone(facts: list[tuple[Act, int]]) -> None:
    entries = entries_of(facts)
    copy = list(entries)
    fold(entries)
    assert entries == copy


def test_a_correction_takes_the_place_of_what_it_strikes() -> None:
    story = Story()
    story.begin()
    wrong = story.sg(1.012, 10)
    right = story.tell(Gravity(sg=1.014, of="plum"), 11, strikes=wrong)
    assert [reading.sg for reading in story.view.readings] == [1.014]
    assert struck_out(story.entries) == {wrong: right}
    story.undo(right, 12)
    assert [reading.sg for reading in story.view.readings] == [1.012]


def test_the_correction_of_a_correction_brings_nothing_back() -> None:
    story = Story()
    story.begin()
    first = story.sg(1.012, 10)
    second = story.tell(Gravity(sg=1.014, of="plum"), 11, strikes=first)
    third = story.tell(Gravity(sg=1.016, of="plum"), 12, strikes=second)
    assert [reading.sg for reading in story.view.readings] == [1.016]
    undone = story.undo(third, 13)
    assert [reading.sg for reading in story.view.readings] == [1.014]
    story.undo(undone, 14)
    assert [reading.sg for reading in story.view.readings] == [1.016]
    story.undo(third, 15)
    story.undo(second, 16)
    assert [reading.sg for reading in story.view.readings] == [1.012]


def test_a_corrected_beginning_keeps_the_batch() -> None:
    story = Story()
    first = story.begin()
    story.sg(1.080, 1)
    story.entries.append(
        Entry(
            entry=3,
            act=Begin(of="damson", name="damson", vessel="bucket 2"),
            by="ana",
            said_at=hours(2),
            at=hours(0),
            batch=first,
            strikes=first,
        )
    )
    assert (story.view.name, story.view.batch) == ("damson", first)
    assert [reading.sg for reading in story.view.readings] == [1.080]


def test_a_reading_before_its_batch_was_begun_is_taken_in() -> None:
    story = Story()
    story.tell(Gravity(sg=1.080, of="bucket 2"), 0, batch=None)
    story.tell(Gravity(sg=1.090, of="bucket 1"), 0, batch=None)
    story.entries.append(
        Entry(
            entry=3,
            act=Begin(of="plum", name="plum", vessel="bucket 2"),
            by="ana",
            said_at=hours(1),
            at=hours(1),
        )
    )
    house = fold(story.entries)
    assert [reading.sg for reading in house.batches[0].readings] == [1.080]


def test_names_nicknames_and_vessels_find_a_batch() -> None:
    story = Story()
    story.begin(vessel="bucket 2")
    house = fold(story.entries)
    assert house.named("PLUM") is house.named("bucket 2")
    assert house.named("damson") is None
    assert house.in_vessel("bucket 2") is not None
    story.step("bottle", 300, bottles=30)
    bottled = fold(story.entries)
    assert bottled.in_vessel("bucket 2") is None
    assert bottled.named("plum") is not None


def test_bottles_left_never_fall_below_none() -> None:
    story = Story()
    story.begin()
    story.step("bottle", 300, bottles=2)
    story.tell(Bottles(change=-5, of="plum"), 301)
    assert (story.view.bottles_made, story.view.bottles_left) == (2, 0)


def test_the_start_counts_only_when_it_was_early_and_high_enough() -> None:
    story = Story()
    story.begin()
    story.step("pitch", 0)
    story.sg(1.060, 13)
    assert story.view.starting is None
    under_way = Story()
    under_way.begin()
    under_way.sg(1.020, 0)
    assert under_way.view.starting is None
    fresh = Story()
    fresh.begin()
    fresh.step("pitch", 0)
    fresh.sg(1.080, 11)
    assert fresh.view.starting is not None
    assert fresh.view.starting.at - START == timedelta(hours=11)


def _told(number: int, act: Act, day: float, batch: int | None = None) -> Entry:
    at = START + timedelta(days=day)
    return Entry(
        entry=EntryId(number), act=act, by="ana", said_at=at, at=at, batch=BatchId(batch) if batch else None
    )


def test_what_was_kept_goes_with_the_first_batch_however_late_it_is_begun() -> None:
    kept = (
        _told(1, Gravity(of="bucket 1", sg=1.08), 0),
        _told(2, Addition(what="yeast"), 0.1),
        _told(3, Note(text="smells of bread"), 2),
        _told(4, Step(step="sanitise"), 0),
    )
    begin = _told(5, Begin(name="plum", colour="red"), 9)
    (plum,) = fold((*kept, begin)).batches
    assert [reading.sg for reading in plum.readings] == [1.08]
    assert [added.what for added in plum.additions] == ["yeast"]
    assert [note.text for note in plum.notes] == ["smells of bread"]
    assert not plum.chores  # what was clean nine days ago is not clean now


def test_what_was_kept_of_another_vessel_or_beside_a_batch_under_way_goes_with_none() -> None:
    elsewhere = _told(1, Gravity(of="bucket 2", sg=1.08), 0)
    begin = _told(2, Begin(name="plum", vessel="bucket 1"), 3)
    (plum,) = fold((elsewhere, begin)).batches
    assert not plum.readings
    beside = _told(3, Temperature(of="bucket 2", temp_c=21), 4)
    later = _told(4, Begin(name="sloe", vessel="bucket 2"), 9)
    assert not fold((begin, beside, later)).batches[1].temperatures
