"""What is counted of bottles, whatever the words: read of the sayings alone, so that nothing here hangs on learned weights."""

from datetime import UTC, datetime, timedelta

import pytest

from bot.cellar.log.acts import Bottles, Reason, Step
from bot.ids import EntryId
from bot.understand import understand
from bot.understand.claims.bottling import count_told, told_of_bottles
from bot.understand.claims.shelf import of_a_shop, of_the_house, remaining
from bot.understand.scene import NumberWanted, Recent, Scene, SceneBatch
from bot.understand.text.message import Message
from bot.understand.text.sayings import sayings

NOW = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)


def _kept(name: str, colour: str, left: int) -> SceneBatch:
    long_ago = NOW - timedelta(days=200)
    bottled = NOW.date() - timedelta(days=90)
    return SceneBatch(
        name=name,
        colour="red" if colour == "red" else "white",
        started=long_ago,
        litres=23.0,
        bottled=bottled,
        bottles_left=left,
        bottles_made=29,
    )


WAITS = SceneBatch(
    name="heather",
    colour="rosé",
    vessel="bucket 1",
    litres=23.0,
    started=NOW - timedelta(days=50),
    readings=((NOW - timedelta(days=50), 1.08), (NOW - timedelta(days=20), 0.995)),
    next=("bottle",),
)
ONE = Scene(members=("ana", "bo"), batches=(_kept("marigold", "red", 26),), recent=())
TWO = Scene(
    members=("ana", "bo"), batches=(_kept("marigold", "red", 26), _kept("otter", "white", 18)), recent=()
)
BOTTLING = Scene(members=("ana", "bo"), batches=(_kept("marigold", "red", 26), WAITS), recent=())


def _message(text: str, scene: Scene, *, addressed: bool = True) -> Message:
    return Message(text, scene, NOW, by="ana", replying_to=None, addressed=addressed)


def _drafts(text: str, scene: Scene, *, addressed: bool = True) -> list[Bottles | Step]:
    message = _message(text, scene, addressed=addressed)
    told = told_of_bottles(message, sayings(message))
    return [
        draft.act
        for place in sorted(told.drafts)
        for draft in told.drafts[place]
        if isinstance(draft.act, Bottles | Step)
    ]


def _of(text: str, scene: Scene) -> list[tuple[int, str]]:
    message = _message(text, scene)
    told = told_of_bottles(message, sayings(message))
    return [
        (draft.act.change, draft.refs[0].name)
        for place in sorted(told.drafts)
        for draft in told.drafts[place]
        if isinstance(draft.act, Bottles)
    ]


@pytest.mark.parametrize(
    ("text", "change", "reason"),
    [
        ("opened the first with the goulash", -1, "drank"),
        ("uncorked the third on Monday", -1, "drank"),
        ("drank another of ours in the bath", -1, "drank"),
        ("we emptied two of our own wine at the regatta", -2, "drank"),
        ("one more turned up under the coats", 1, "found"),
        ("bo brought two back", 2, "found"),
        ("one popped its cork in the heat", -1, "broke"),
        ("knocked a brand new one off the sill", -1, "broke"),
        ("one I knocked off the ledge", -1, "broke"),
        ("took home three, did granny", -3, "gave"),
        ("I've taken 2 marigold", -2, None),
        ("found one of his behind the coal", 1, "found"),
        ("opened one, it was corked", -1, "drank"),
        ("would have been his 70th, so we opened one", -1, "drank"),
    ],
)
def test_what_became_of_bottles_is_counted_in_any_words(
    text: str, change: int, reason: Reason | None
) -> None:
    assert _drafts(text, ONE) == [Bottles(change=change, reason=reason)]


@pytest.mark.parametrize(
    "text",
    [
        "opened the first of my presents",
        "had one of those weeks",
        "saving two for the christening",
        "bringing two to yours on Friday",
        "two, not three, she said",
        "opened number three",
        "three portions left",
        "two left gloves",
    ],
)
def test_what_counts_no_bottle_of_the_house_writes_none(text: str) -> None:
    assert not _drafts(text, ONE)


def test_wine_of_a_shop_is_none_of_the_house_in_a_familys_talk() -> None:
    bought = _message("got two reds and a white from the corner shop", TWO, addressed=False)
    assert of_a_shop(bought)
    assert not of_the_house(bought, sayings(bought))
    named = _message("sold two marigold at the farm shop", TWO, addressed=False)
    assert not of_a_shop(named)
    assert of_the_house(named, sayings(named))
    ours = _message("gave the neighbours two of ours", TWO, addressed=False)
    assert of_the_house(ours, sayings(ours))


@pytest.mark.parametrize(
    ("text", "left"),
    [("nine left", 9), ("eleven of the white left", 11), ("down to our last four", 4), ("7 remaining", 7)],
)
def test_what_is_left_is_counted_and_is_no_bottle_gone(text: str, left: int) -> None:
    scene = TWO if "white" in text else ONE
    known = 18 if "white" in text else 26
    assert _drafts(text, scene) == [Bottles(change=left - known, left=left)]


def test_a_bottle_left_with_somebody_is_gone() -> None:
    message = _message("left two with the verger", ONE)
    assert not any(remaining(message, part) for part in sayings(message))
    assert _drafts("left two with the verger", ONE) == [Bottles(change=-2, reason="gave")]


def test_what_is_left_after_what_was_told_is_told_already() -> None:
    assert _drafts("gave three to the choir. twenty left", ONE) == [Bottles(change=-3, reason="gave")]


def test_each_of_two_wines_is_counted_by_its_name() -> None:
    assert _of("3 marigold 1 otter since Friday", TWO) == [(-3, "marigold"), (-1, "otter")]
    assert _of("another of the whites was drunk", TWO) == [(-1, "white")]


@pytest.mark.parametrize(
    ("text", "bottles"),
    [
        ("bottled, two dozen and five", 29),
        ("bottled: five sixes less one", 29),
        ("all corked, four crates of six and 4", 28),
        ("bottled 25 and two magnums, so 27", 27),
        ("bottled. 15 clear 13 green", 28),
        ("bottled, 28 and a half, call it 28", 28),
        ("ana siphoned, bo corked, thirty in the end", 30),
        ("bo was on the corker. 28 and a cup over", 28),
        ("we did it, 29 bottles", 29),
        ("bottled the heather and opened a marigold to toast it. 28.", 28),
    ],
)
def test_the_whole_of_a_bottling_is_what_was_meant(text: str, bottles: int) -> None:
    acts = [act for act in _drafts(text, BOTTLING) if isinstance(act, Step)]
    assert acts == [Step(step="bottle", bottles=bottles)]


@pytest.mark.parametrize(
    ("text", "bottles"),
    [
        ("came out at 28", 28),
        ("bo made it 29 altogether", 29),
        ("four boxes of six and 5", 29),
        ("27 and a half bottle", 27),
        ("20 green and 8 clear", 28),
        ("28 corks left", None),
        ("21 degrees", None),
        ("gave 3 to bo", None),
        ("still at it, 12 so far", None),
        ("was it 28?", None),
    ],
)
def test_the_count_that_was_asked_for_is_told_in_any_words(text: str, bottles: int | None) -> None:
    assert count_told(_message(text, BOTTLING), "heather") == bottles


def test_the_count_that_was_asked_for_completes_the_bottling() -> None:
    told = Step(of="heather", step="bottle")
    wanted = NumberWanted(what="bottles", of="heather", told=told, entry=EntryId(3), ago=timedelta(minutes=1))
    done = SceneBatch(name="heather", litres=23.0, bottled=NOW.date())
    scene = Scene(members=("ana",), batches=(done,), recent=(), open=(wanted,))
    verdict = understand("four boxes of six and 5", scene, NOW, by="ana", for_wine=True)
    assert verdict.acts == (Step(of="heather", step="bottle", bottles=29),)


def _after(act: Bottles | Step) -> Scene:
    recent = (Recent(entry=EntryId(4), act=act, by="ana", said_at=NOW - timedelta(minutes=2)),)
    return Scene(members=("ana", "bo"), batches=TWO.batches, recent=recent)


def test_a_count_goes_on_from_the_bottles_that_the_same_person_just_told_of() -> None:
    scene = _after(Bottles(of="otter", change=-2, reason="gave"))
    assert _drafts("and one for the organist", scene) == [Bottles(change=-1, reason="gave")]
    assert _of("and one for the organist", scene) == [(-1, "otter")]
    assert not _drafts("and one for the organist", TWO)


def test_a_figure_that_is_denied_is_put_right() -> None:
    told = Step(of="otter", step="bottle", bottles=29)
    verdict = understand("28 not 29", _after(told), NOW, by="ana", for_wine=True)
    assert Step(of="otter", step="bottle", bottles=28) in verdict.acts
    assert verdict.verdict == "act"
