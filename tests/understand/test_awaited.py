"""What is told in few or odd words by what the plan waits for: where a wine went, the chore that is next, packets, and
what each of several facts is about."""

from datetime import datetime, timedelta

import pytest

from bot.cellar.log.acts import Act, Addition, Begin, Gravity, Step, Undo, Vessel
from bot.ids import EntryId
from bot.understand import understand
from bot.understand.judge.sayings import hear
from bot.understand.scene import OptionsAsked, Recent, Scene, SceneBatch, SceneVessel
from bot.understand.text.message import Message
from bot.understand.verdict import Doubt, Verdict

NOW = datetime.fromisoformat("2026-03-14T19:30:00+00:00")
VESSELS = tuple(
    SceneVessel(name=name) for name in ("bucket 1", "bucket 2", "bucket 3", "demijohn 1", "demijohn 2")
)
FELL = ((NOW - timedelta(days=9), 1.08), (NOW - timedelta(days=5), 1.01), (NOW - timedelta(days=1), 0.996))
FALLS = ((NOW - timedelta(days=6), 1.08), (NOW - timedelta(days=3), 1.05), (NOW - timedelta(days=1), 1.02))


def batch(name: str, vessel: str, *awaited: str, falls: bool = False, **more: object) -> SceneBatch:
    readings = () if "mix" in awaited or "pitch" in awaited[:1] else FALLS if falls else FELL
    return SceneBatch(
        name=name,
        vessel=vessel,
        litres=23,
        started=NOW - timedelta(days=10),
        next=awaited,
        readings=readings,
        **more,  # type: ignore[arg-type]
    )


def home(
    *batches: SceneBatch, told: Act | None = None, by: str = "ana", asked: OptionsAsked | None = None
) -> Scene:
    said = Recent(entry=EntryId(7), act=told, by=by, said_at=NOW - timedelta(minutes=3)) if told else None
    return Scene(
        members=("ana", "bo"),
        vessels=VESSELS,
        batches=batches,
        recent=(said,) if said is not None else (),
        open=(asked,) if asked is not None else (),
    )


def read(text: str, scene: Scene) -> Verdict | None:
    return hear(Message(text, scene, NOW, by="ana", replying_to=None, addressed=True)).verdict


def acts(text: str, scene: Scene) -> tuple[Act, ...]:
    verdict = read(text, scene)
    return verdict.acts if verdict is not None else ()


HERON = batch("heron", "bucket 1", "rack", "stabilise")
SLOE = batch("sloe", "bucket 3", "gravity", "rack", falls=True, colour="white")


# ---------------------------------------------------------------------- where it went


@pytest.mark.parametrize(
    ("text", "to"),
    [
        ("in 3", "bucket 3"),
        ("demijohn 2 now", "demijohn 2"),
        ("all done. bucket 3.", "bucket 3"),
        ("ok that's bucket 2", "bucket 2"),
        ("she lives in demijohn 1 now, we took her off the sludge", "demijohn 1"),
        ("it is in bucket 2, the dregs stayed behind", "bucket 2"),
        ("heron's in two", "bucket 2"),
        ("shifted it. bucket 2. what an evening", "bucket 2"),
    ],
)
def test_a_vessel_alone_says_where_the_wine_went_that_waits_for_it(text: str, to: str) -> None:
    assert acts(text, home(HERON)) == (Step(of="heron", step="rack", to=to),)


@pytest.mark.parametrize(
    "text",
    [
        "is it in bucket 2",
        "it's not in bucket 2",
        "sloe is in bucket 3",
    ],
)
def test_a_vessel_says_nothing_of_a_racking_that_is_asked_proposed_or_denied(text: str) -> None:
    assert not any(isinstance(act, Step) for act in acts(text, home(HERON, SLOE)))


def test_a_vessel_says_nothing_while_no_wine_waits_to_be_drawn_off() -> None:
    assert acts("demijohn 2 now", home(SLOE)) == ()


def test_a_racking_told_without_its_vessel_is_completed() -> None:
    racked = Step(of="heron", step="rack")
    scene = home(batch("heron", "bucket 1", "stabilise"), SLOE, told=racked, by="bo")
    assert acts("it's demijohn 1 it went to", scene) == (
        Undo(entry=EntryId(7)),
        Step(of="heron", step="rack", to="demijohn 1"),
    )


@pytest.mark.parametrize(
    "text", ["my bad its demijohn 1", "demijohn 1, my mistake", "sorry it's in demijohn 1"]
)
def test_the_last_racking_is_put_right_by_another_vessel(text: str) -> None:
    scene = home(
        batch("heron", "bucket 2", "stabilise"), SLOE, told=Step(of="heron", step="rack", to="bucket 2")
    )
    assert acts(text, scene) == (Undo(entry=EntryId(7)), Step(of="heron", step="rack", to="demijohn 1"))


def test_somebody_else_s_racking_is_not_put_right_by_a_vessel() -> None:
    racked = Step(of="heron", step="rack", to="bucket 2")
    scene = home(batch("heron", "bucket 2", "stabilise"), SLOE, told=racked, by="bo")
    assert not any(isinstance(act, Undo) for act in acts("sorry it's in demijohn 1", scene))


def test_of_two_that_wait_it_is_asked_which_one_went_there() -> None:
    verdict = read("in bucket 2 now", home(HERON, batch("sloe", "bucket 3", "rack")))
    assert verdict is not None
    assert (verdict.verdict, verdict.doubt) == ("ask", Doubt.WHICH_BATCH)


def test_of_two_that_wait_it_is_the_one_that_the_bot_has_a_question_about() -> None:
    racked = Step(of="sloe", step="rack", to="bucket 1")
    asked = OptionsAsked(options=((racked,),))
    scene = home(HERON, batch("sloe", "bucket 3", "rack"), asked=asked)
    assert acts("in bucket 2 now", scene) == (Step(of="sloe", step="rack", to="bucket 2"),)


def test_another_wine_s_vessel_beside_it_is_only_where_that_one_stands() -> None:
    assert acts("it's bucket 2, 3 is sloe's", home(HERON, SLOE)) == (
        Step(of="heron", step="rack", to="bucket 2"),
    )


def test_a_gravity_that_proves_it_goes_before_where_it_went() -> None:
    scene = home(batch("heron", "bucket 1", "gravity", "rack"), SLOE)
    assert acts("heron still .996, demijohn 1 now", scene) == (
        Gravity(of="heron", sg=0.996),
        Step(of="heron", step="rack", to="demijohn 1"),
    )


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("rinsed bucket 2, racked heron into it", Vessel(of="bucket 2", state="clean")),
        ("Bucket 2 is scrubbed and sanitised, heron is racked into it", Step(of="bucket 2", step="sanitise")),
        ("washed bucket 2 and moved heron over to it", Vessel(of="bucket 2", state="clean")),
    ],
)
def test_into_it_is_into_the_empty_vessel_that_was_named(text: str, first: Act) -> None:
    assert acts(text, home(HERON, SLOE)) == (first, Step(of="heron", step="rack", to="bucket 2"))


# ---------------------------------------------------------------------- the chore that is next


@pytest.mark.parametrize(
    "text",
    [
        "gave her another go with the drill",
        "turned it with the paddle on the drill till no more gas came",
        "whipped it for ten minutes with the drill thing",
    ],
)
def test_odd_words_for_degassing_are_that_while_it_is_next(text: str) -> None:
    assert acts(text, home(batch("heron", "bucket 1", "degas", "fine"))) == (Step(of="heron", step="degas"),)


@pytest.mark.parametrize(
    "text",
    [
        "syrup in, water in, stirred",
        "juice in, topped up to the mark, gave it a good stir",
        "mixed it with water, the full 23",
        "all the syrup is in and water up to the 23 mark, stirred like mad",
    ],
)
def test_a_kit_that_waits_is_mixed_once_however_that_is_told(text: str) -> None:
    told = acts(text, home(batch("heron", "bucket 1", "mix", "gravity", "pitch")))
    assert set(told) == {Step(of="heron", step="mix")}


def test_a_wine_that_ferments_is_stirred_and_not_mixed() -> None:
    assert acts("gave sloe a good stir", home(SLOE)) == (Step(of="sloe", step="stir"),)


@pytest.mark.parametrize("text", ["stir it slowly, dad", "bo degassed more than the wine"])
def test_orders_comparisons_and_tools_are_no_chores(text: str) -> None:
    assert acts(text, home(batch("heron", "bucket 1", "degas", "fine"))) == ()


# ---------------------------------------------------------------------- several batches, several things


THREE = (
    batch("heron", "bucket 1", "pitch"),
    batch("sloe", "bucket 2", "pitch"),
    batch("dew", "bucket 3", "pitch"),
)


@pytest.mark.parametrize(
    "text", ["yeast in all of em", "yeast is in all three", "pitched the yeast in every one"]
)
def test_all_of_them_is_each_batch(text: str) -> None:
    pitched = {act.of for act in acts(text, home(*THREE)) if isinstance(act, Step) and act.step == "pitch"}
    assert pitched == {"heron", "sloe", "dew"}


def test_both_of_more_than_two_are_the_two_that_wait_for_it() -> None:
    scene = home(batch("heron", "bucket 1", "degas"), SLOE, batch("dew", "bucket 2", "degas"))
    assert [act.of for act in acts("degassed the pair", scene)] == ["heron", "dew"]


def test_those_that_were_named_are_not_counted_again() -> None:
    told = acts("fined heron, dew and sloe, all three", home(*THREE, batch("fig", "demijohn 1", "rack")))
    assert sorted(str(act.of) for act in told) == ["dew", "heron", "sloe"]


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("packet 2 in and packet 3", ["sachet 2", "sachet 3"]),
        ("packets 2 and 3 are in", ["sachet 2", "sachet 3"]),
        ("both packets in: sulphite and sorbate", ["sulphite", "sorbate"]),
        ("the two packets are in, sorbate and sulphite", ["sorbate", "sulphite"]),
    ],
)
def test_packets_are_as_many_as_there_are(text: str, what: list[str]) -> None:
    told = acts(text, home(batch("heron", "bucket 2", "stabilise", "degas")))
    assert [act.what for act in told if isinstance(act, Addition)] == what


@pytest.mark.parametrize("text", ["same for sloe", "same with the other one"])
def test_the_same_for_another_is_the_chore_that_was_just_told(text: str) -> None:
    told = Step(of="heron", step="degas")
    scene = home(batch("heron", "bucket 1", "degas"), batch("sloe", "bucket 3", "degas"), told=told)
    assert acts(text, scene) == (Step(of="sloe", step="degas"),)


def test_colour_beside_facts_is_neither_a_note_nor_a_doubt() -> None:
    text = (
        "racked heron into bucket 2, sulphite in, sloe at 1.018, bo was faffing with the airlock, what a day"
    )
    heard = hear(Message(text, home(HERON, SLOE), NOW, by="ana", replying_to=None, addressed=True))
    assert heard.verdict is not None
    assert heard.verdict.acts == (
        Step(of="heron", step="rack", to="bucket 2"),
        Addition(of="heron", what="sulphite"),
        Gravity(of="sloe", sg=1.018),
    )
    assert heard.left is None


# ---------------------------------------------------------------------- beginnings


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("it is red, 23 litres, 14 days, in bucket 1 and he will call himself godwit", "godwit"),
        ("we have a red wine dunlin in bucket 2, 23 l, kit of 14 days, it ferments already", "dunlin"),
    ],
)
def test_the_name_of_a_beginning_stands_for_itself(text: str, name: str) -> None:
    begun = [act for act in acts(text, home()) if isinstance(act, Begin)]
    assert [act.name for act in begun] == [name]


def test_and_in_the_other_is_the_same_whoever_says_it() -> None:
    told = Addition(of="heron", what="finings")
    scene = home(batch("heron", "bucket 1", "fine"), batch("sloe", "bucket 3", "fine"), told=told, by="bo")
    assert acts("and in sloe", scene) == (Addition(of="sloe", what="finings"),)


def test_an_empty_bucket_is_washed_for_the_kit_that_waits_for_it() -> None:
    verdict = understand("washed bucket 1", home(batch("heron", "bucket 1", "sanitise", "mix")), NOW)
    assert verdict.acts == (Step(of="heron", step="sanitise"),)
