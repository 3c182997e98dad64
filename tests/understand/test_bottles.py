"""Bottles: filled on bottling day, and what became of them, in whatever words."""

from datetime import UTC, datetime, timedelta

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.cellar.log.acts import Act, Bottles, Note, Step
from bot.ids import EntryId
from bot.understand import understand
from bot.understand.judge.sayings import hear
from bot.understand.scene import JustSaid, Recent, Scene, SceneBatch, SceneVessel
from bot.understand.text.message import Message
from bot.understand.verdict import Doubt

NOW = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)
BEGUN = NOW - timedelta(days=45)


def _bottled(name: str, left: int = 26) -> SceneBatch:
    return SceneBatch(
        name=name, started=BEGUN, litres=23.0, bottled=NOW.date() - timedelta(days=20), bottles_left=left
    )


def _waiting(name: str, vessel: str, *following: str) -> SceneBatch:
    readings = ((BEGUN, 1.082), (NOW - timedelta(days=2), 0.994))
    return SceneBatch(
        name=name,
        started=BEGUN,
        litres=23.0,
        vessel=vessel,
        readings=readings,
        next=following,
        colour="white",
    )


def _house(*batches: SceneBatch) -> Scene:
    vessels = tuple(SceneVessel(name=name) for name in ("bucket 1", "bucket 2", "demijohn 1"))
    return Scene(members=("ana", "bo"), vessels=vessels, batches=batches, recent=())


ONE = _house(_bottled("marigold"), _waiting("heather", "bucket 1", "fine", "clear"))
TWO = _house(_bottled("marigold"), _bottled("otter", 18))
NONE = _house(_waiting("heather", "bucket 1", "gravity", "rack"))
BOTTLING = _house(_waiting("heather", "bucket 1", "bottle", "label"))


def _acts(text: str, house: Scene, *, for_wine: bool = True) -> list[Act]:
    verdict = understand(text, house, NOW, by="ana", for_wine=for_wine)
    return list(verdict.acts) if verdict.verdict == "act" else []


def _changes(text: str, house: Scene = ONE, *, for_wine: bool = True) -> list[tuple[int, str | None]]:
    acts = _acts(text, house, for_wine=for_wine)
    assert all(isinstance(act, Bottles) and act.of == "marigold" for act in acts), acts
    return [(act.change, act.reason) for act in acts if isinstance(act, Bottles)]


@pytest.mark.parametrize(
    ("text", "changes"),
    [
        ("had three yesterdy on the terrace", [(-3, "drank")]),
        ("uncorked one, smells of pears", [(-1, "drank")]),
        ("we finished the last one of them, shame", [(-1, "drank")]),
        ("took 5 over for the choir", [(-5, "gave")]),
        ("gave the dentist two for his trouble", [(-2, "gave")]),
        pytest.param("grandad made off with three", [(-3, "gave")], marks=pytest.mark.xfail(strict=True, reason="asked about")),
        ("left two with the caretaker", [(-2, "gave")]),
        ("slid off the bench: one in bits", [(-1, "broke")]),
        ("one slipped out of my hands. smashed", [(-1, "broke")]),
        ("put one aside for bo and then drank it", [(-1, "drank")]),
        ("gave 2 to my sister and 1 to the lady downstairs", [(-2, "gave"), (-1, "gave")]),
        pytest.param("poured one down the sink", [(-1, None)], marks=pytest.mark.xfail(strict=True, reason="asked about")),
        pytest.param("he dropped two, so that's two less", [(-2, "broke")], marks=pytest.mark.xfail(strict=True, reason="asked about")),
        ("drank two, sorry three", [(-3, "drank")]),
        ("-2", [(-2, None)]),
        ("turned up two behind the freezer", [(2, "found")]),
    ],
)  # fmt: skip
def test_what_became_of_bottles_is_written_of_the_one_wine_that_is_in_bottles(
    text: str, changes: list[tuple[int, str | None]]
) -> None:
    assert _changes(text) == changes


@pytest.mark.parametrize(
    "text",
    [
        "took 4 up to the loft",
        "took 2 readings",
        "had 2 glasses of it",
        "opened 3 jars",
        "one of the lads cracked a joke",
        "if we open one tonight",
        "keeping two for the wedding",
        "need six for saturday",
        "washed 6",
        "only ever had four",
        "didnt open one",
        "how many did bo drink",
        "gave it 2 stirs",
    ],
)
def test_what_is_still_in_the_house_or_no_bottle_is_not_taken_off(text: str) -> None:
    assert not any(isinstance(act, Bottles) for act in _acts(text, ONE))


@pytest.mark.parametrize("text", ["drank one", "gave two to the postman", "dropped one on the patio", "-1"])
def test_of_several_wines_in_bottles_it_is_asked_which_and_of_none_nothing_is_written(text: str) -> None:
    asked = understand(text, TWO, NOW, by="ana", for_wine=True)
    assert asked.doubt is Doubt.WHICH_BATCH
    assert {act.of for option in asked.options for act in option} == {"marigold", "otter"}
    assert not _acts(text, NONE)


def test_one_of_each_is_of_every_wine_in_bottles() -> None:
    acts = _acts("took one of each to the neighbours", TWO)
    assert acts == [Bottles(of=of, change=-1, reason="gave") for of in ("marigold", "otter")]


@pytest.mark.parametrize(
    ("text", "changes"),
    [
        ("drank 7 at the christening, broke 2", [(-7, "drank"), (-2, "broke")]),
        ("gave six away: 4 to the band, 2 to the sound man", [(-6, "gave")]),
    ],
)
def test_how_several_went_is_written_or_asked_about(text: str, changes: list[tuple[int, str]]) -> None:
    verdict = understand(text, ONE, NOW, by="ana", for_wine=True)
    assert [(act.change, act.reason) for act in verdict.acts if isinstance(act, Bottles)] == changes


def test_more_told_by_the_same_person_is_of_the_same_wine() -> None:
    told = Recent(
        entry=EntryId(7),
        act=Bottles(of="otter", change=-1, reason="drank"),
        by="ana",
        said_at=NOW - timedelta(minutes=3),
    )
    house = msgspec.structs.replace(TWO, recent=(told,))
    verdict = understand("and gave two to the postman", house, NOW, by="ana", for_wine=True)
    assert verdict.acts == (Bottles(of="otter", change=-2, reason="gave"),)  # written, or asked about


def test_among_family_talk_bottles_are_of_the_wine_only_where_it_is_spoken_of() -> None:
    text = "opened two with the stew"
    assert understand(text, ONE, NOW, by="ana").verdict != "act"
    assert _changes("opened two marigold with the stew", for_wine=False) == [(-2, "drank")]
    told = Recent(
        entry=EntryId(3), act=Note(of="marigold", text="dry"), by="bo", said_at=NOW - timedelta(minutes=4)
    )
    noted = msgspec.structs.replace(ONE, recent=(told,))
    assert len(understand(text, noted, NOW, by="ana").options) <= 1
    answered = msgspec.structs.replace(ONE, open=(JustSaid(of="marigold", ago=timedelta(minutes=2)),))
    assert _changes(text, answered, for_wine=False) == [(-2, "drank")]


@pytest.mark.parametrize(
    ("text", "bottles"),
    [
        ("bottled her 28 and a half one for us", 28),
        ("it's in glass! thirty", 30),
        ("done and dusted, 29 bottles, every last one corked", 29),
        ("corkd. 27", 27),
        ("that's heather done as well, 28", 28),
        ("bottled, you may all stop asking, it came to 29", 29),
    ],
)
def test_bottling_day_is_heard_in_whatever_words(text: str, bottles: int) -> None:
    assert _acts(text, BOTTLING) == [Step(of="heather", step="bottle", bottles=bottles)]


@pytest.mark.parametrize(
    "text",
    [
        "bottles rinsed, 28 of them",
        "thirty caps, yep",
        "got 30 bottles from the recycling",
        "30 empties waiting",
        "need 28 bottles",
        "washed 29 bottles and boiled the corks",
        "reckon we'll get 28 bottles",
    ],
)
def test_bottles_that_are_only_ready_are_no_bottling(text: str) -> None:
    assert not any(isinstance(act, Step) and act.step == "bottle" for act in _acts(text, BOTTLING))


def test_more_bottles_than_the_litres_fill_are_asked_about() -> None:
    assert understand("bottled 41", BOTTLING, NOW, by="ana", for_wine=True).doubt is Doubt.TOO_MANY_BOTTLES
    assert _acts("bottled 31", BOTTLING) == [Step(of="heather", step="bottle", bottles=31)]


def test_what_is_drunk_of_a_bottling_told_with_it_is_of_that_wine() -> None:
    text = "bottled 29, all labelled, gave two to bo's mum and one fell off the trolley"
    verdict = understand(text, BOTTLING, NOW, by="ana", for_wine=True)  # written, or asked about
    assert verdict.acts == (
        Step(of="heather", step="bottle", bottles=29),
        Step(of="heather", step="label"),
        Bottles(of="heather", change=-2, reason="gave"),
        Bottles(of="heather", change=-1, reason="broke"),
    )


def test_what_became_of_some_and_of_others_is_written_or_asked_about() -> None:
    text = "sent 4 up to Wick with the driver, and we drank two ourselves, one hot and one cold"
    acts = understand(text, ONE, NOW, by="ana", for_wine=True).acts
    changes = [(act.change, act.reason) for act in acts if isinstance(act, Bottles)]
    assert changes == [(-4, "gave"), (-2, "drank")]


def test_several_wines_bottled_in_turn() -> None:
    house = _house(_waiting("heather", "bucket 1", "bottle"), _waiting("otter", "bucket 2", "bottle"))
    assert _acts("heather 28 bottles, otter 27, bit of a mess", house) == [
        Step(of="heather", step="bottle", bottles=28),
        Step(of="otter", step="bottle", bottles=27),
    ]


@given(
    st.integers(min_value=1, max_value=12),
    st.sampled_from(["drank", "had", "opened", "gave", "smashed", "handed out", "polished off"]),
    st.sampled_from(["", " with the neighbours", " on the terrace", " yesterday"]),
)
def test_whatever_became_of_them_as_many_as_were_told_are_gone(many: int, verb: str, tail: str) -> None:
    """Written, or asked about."""
    assert [change for _, change, _ in _heard(f"{verb} {many}{tail}", ONE)] == [-many]


def test_a_remark_after_bottles_leaves_them_gone() -> None:
    assert [change for change, _ in _changes("gave 7, it was sunny")] == [-7]


def test_a_bottle_told_beside_another_wine_is_of_the_one_that_is_in_bottles() -> None:
    assert _heard("drank one and the finings went in heather", ONE) == [("marigold", -1, "drank")]


def _heard(text: str, house: Scene) -> list[tuple[str | None, int, str | None]]:
    """What the sayings of a message tell of bottles, whether or not it is asked about."""
    message = Message(text, house, NOW, by="ana", replying_to=None, addressed=True)
    verdict = hear(message).verdict
    acts = verdict.acts if verdict is not None else ()
    return [(act.of, act.change, act.reason) for act in acts if isinstance(act, Bottles)]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("posted 3 marigold to gran, signed for, $31.20", [("marigold", -3, "gave")]),
        ("2 marigold off home with the priest", [("marigold", -2, "gave")]),
        (
            "to our lodger went 2 marigold and 1 otter",
            [("marigold", -2, "gave"), ("otter", -1, "gave")],
        ),
        ("opened a marigold already, couldnt wait", [("marigold", -1, "drank")]),
        ("3 otter drunk and it's not half past four", [("otter", -3, "drank")]),
        ("an otter's gone. smashed on the patio by somebody under six", [("otter", -1, "broke")]),
        ("one otter turned up behind the boots, it was counted already", []),
        ("found a marigold in the hall, its in the count already", []),
        ("one otter drunk, lovely, that's the same one", []),
        ("opened an otter with the pie, honestly? lovely", [("otter", -1, "drank")]),
        ("dropd one. otter", [("otter", -1, "broke")]),
    ],
)
def test_what_became_of_bottles_beside_other_words(
    text: str, told: list[tuple[str | None, int, str | None]]
) -> None:
    assert _heard(text, TWO) == told


@pytest.mark.parametrize(
    ("text", "bottles"),
    [
        ("heather bottled: 28 x 750 ml, 180 ml left over", 28),
        ("28 bottles and a mug, and my back is gone", 28),
        ("two hours of it, that's the lot, 29 bottles", 29),
        ("bottled. 28 full ones and a half one, which Bo has already emptied", 28),
        ("29 bottles so far", None),
        ("29 rinsed and upside down", None),
    ],
)
def test_what_is_left_over_ends_a_bottling(text: str, bottles: int | None) -> None:
    message = Message(text, BOTTLING, NOW, by="ana", replying_to=None, addressed=True)
    verdict = hear(message).verdict
    acts = verdict.acts if verdict is not None and verdict.verdict == "act" else ()
    told = [act.bottles for act in acts if isinstance(act, Step)]
    assert told == ([] if bottles is None else [bottles])
    assert len(acts) == len(told)


def test_another_wine_bottled_the_same_day() -> None:
    filled = Recent(
        entry=EntryId(1),
        act=Step(of="otter", step="bottle", bottles=27),
        by="ana",
        said_at=NOW - timedelta(hours=1),
    )
    house = msgspec.structs.replace(
        _house(
            _bottled("otter"),
            _waiting("heather", "bucket 1", "stabilise", "degas", "fine", "clear", "bottle"),
        ),
        recent=(filled,),
    )
    assert [
        act.bottles for act in _acts("heather is done too, 28 bottles", house) if isinstance(act, Step)
    ] == [28]
