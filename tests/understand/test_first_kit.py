"""A household's first kit: what is told of it in passing, when a batch is begun of that, and what begins none."""

from datetime import datetime, timedelta
from typing import Any

import msgspec
import pytest

from bot.cellar.log.acts import Act, Begin, Gravity, Question, Step, Undo
from bot.ids import EntryId
from bot.understand import reading
from bot.understand.claims.kit_told import kit_told
from bot.understand.scene import KitWanted, Recent, Scene, SceneBatch, SceneVessel
from bot.understand.text.message import Message
from bot.understand.verdict import Doubt, KitSpokenOf, Verdict

NOW = datetime.fromisoformat("2026-03-04T19:30:00+00:00")
EMPTY = Scene(
    members=("Ana", "Bo"), vessels=tuple(SceneVessel(name=f"bucket {number}") for number in (1, 2, 3))
)


def begun(**told: Any) -> Scene:
    """The house with one batch begun with so little, at the beginning of its plan."""
    act = Begin(of=told.get("name") or told.get("colour"), **told)
    batch = SceneBatch(
        name=act.name or act.colour or "batch",
        colour=act.colour,
        vessel=act.vessel,
        litres=act.litres,
        started=NOW,
        next=("sanitise", "mix", "gravity", "pitch"),
        begun=Recent(entry=EntryId(4), act=act, by="Ana", said_at=NOW - timedelta(minutes=5)),
    )
    return msgspec.structs.replace(EMPTY, batches=(batch,))


def said(text: str, scene: Scene = EMPTY, *open_: KitWanted) -> Verdict:
    return reading(text, msgspec.structs.replace(scene, open=open_), NOW, by="Ana", for_wine=True)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("it's a red", Begin(colour="red")),
        ("the wine is white and makes 5 gallons", Begin(colour="white", litres=22.73)),
        ("three weeks it says on the carton", Begin(days=21)),
        ("we are doing a rosé", Begin(colour="rosé")),
        ("Colour: white. Duration: 28 days. Volume: 4.5 L.", Begin(colour="white", days=28, litres=4.5)),
        ("makes 6 bottles", Begin(litres=4.5)),
        ("it's in bucket 2, call it Thimble", Begin(vessel="bucket 2", name="Thimble")),
        ("is it a red?", Begin()),
        ("red or white, not sure yet", Begin()),
        ("it isn't a white", Begin()),
        ("the white powder is in the bucket", Begin()),
        ("put 3 litres of hot water in", Begin()),
        ("got it 10 days ago", Begin()),
        ("2 gallons of syrup", Begin()),
        ("called the shop about corks", Begin()),
        ("let's call it quits", Begin()),
        ("bucket 2 is leaking", Begin()),
    ],
)
def test_what_is_told_of_a_kit_is_taken_and_nothing_else(text: str, told: Begin) -> None:
    message = Message(text, EMPTY, NOW, by="Ana", replying_to=None, addressed=True)
    assert kit_told(message).begin() == told


def test_a_bare_number_is_what_was_asked_for() -> None:
    def bare(text: str, scene: Scene, what: Any) -> Begin:
        message = Message(text, scene, NOW, by="Ana", replying_to=None, addressed=True)
        return kit_told(message, what).begin()

    assert bare("14", EMPTY, "days") == Begin(days=14)
    assert bare("23", EMPTY, "litres") == Begin(litres=23)
    assert bare("5", msgspec.structs.replace(EMPTY, volume_unit="gal"), "litres") == Begin(litres=22.73)
    assert bare("2", EMPTY, "vessel") == Begin(vessel="bucket 2")
    assert bare("9", EMPTY, "vessel") == Begin()
    assert bare("1080", EMPTY, "days") == Begin()
    assert bare("14", EMPTY, None) == Begin()


@pytest.mark.parametrize(
    "text",
    ["our kit has come at last", "hello, we were given a wine kit", "new kit", "we'd like to make some wine"],
)
def test_a_kit_that_is_only_spoken_of_is_asked_about(text: str) -> None:
    verdict = said(text)
    assert verdict.answers == KitSpokenOf(told=Begin())
    assert not any(isinstance(act, Begin) for act in verdict.acts)


def test_one_thing_told_is_remembered_and_the_second_begins_the_batch() -> None:
    first = said("it's a red kit")
    assert first.answers == KitSpokenOf(told=Begin(colour="red"))
    then = said("10 days", EMPTY, KitWanted(what="days", told=Begin(colour="red")))
    assert then.acts == (Begin(colour="red", days=10),)


def test_one_thing_and_something_done_to_it_begin_the_batch() -> None:
    kept = Recent(entry=EntryId(1), act=Gravity(of="bucket 1", sg=1.08), by="Bo", said_at=NOW)
    verdict = said("it's a white one", msgspec.structs.replace(EMPTY, recent=(kept,)))
    assert verdict.acts == (Begin(colour="white", vessel="bucket 1"),)


def test_a_washed_bucket_begins_nothing() -> None:
    washed = Recent(entry=EntryId(1), act=Step(step="sanitise"), by="Bo", said_at=NOW)
    verdict = said("it's a white one", msgspec.structs.replace(EMPTY, recent=(washed,)))
    assert verdict.answers == KitSpokenOf(told=Begin(colour="white"))


@pytest.mark.parametrize(
    ("text", "whole"),
    [
        ("12 days the box says", Begin(of="red", name="red", colour="red", days=12)),
        ("it is called Thimble", Begin(of="Thimble", name="Thimble", colour="red")),
        (
            "new batch: Thimble, red, 23 l in bucket 3, 14 day kit",
            Begin(of="Thimble", name="Thimble", colour="red", litres=23, vessel="bucket 3", days=14),
        ),
    ],
)
def test_a_beginning_with_little_is_written_anew_with_more(text: str, whole: Begin) -> None:
    verdict = said(text, begun(colour="red", name="red"))
    assert verdict.acts == (Undo(entry=EntryId(4)), whole)


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("It's a pink one, makes 23 litres, the box reckons a fortnight, in bucket 1", 14),
        ("a white in bucket 1, 23 litres, week-long job", 7),
        ("the label says 23 litres in ten days, we have a red in bucket 1", 10),
        ("a red in bucket 1, 23 litres, bought a week ago", None),
    ],
)
def test_a_length_needs_no_number(text: str, days: int | None) -> None:
    (begin,) = (act for act in said(text, EMPTY).acts if isinstance(act, Begin))
    assert begin.days == days


def test_a_slip_of_the_finger_hides_no_colour() -> None:
    (begin,) = (
        act for act in said("wren, whtie, 23 l, 7 day, bucket 3", EMPTY).acts if isinstance(act, Begin)
    )
    assert begin.colour == "white"


def test_a_wine_begun_with_little_is_named_and_placed_without_another_beginning() -> None:
    verdict = said("lets call her Biscuit, she lives in bucket 1", begun(colour="white", name="white"))
    assert verdict.verdict == "act"
    assert verdict.acts[-1] == Begin(of="Biscuit", name="Biscuit", colour="white", vessel="bucket 1")


@pytest.mark.parametrize(
    "text",
    ["new batch: Thimble, white, 23 l in bucket 3, 14 day kit", "another red, 23 l in bucket 3, 14 day kit"],
)
def test_what_is_another_wine_completes_none(text: str) -> None:
    verdict = said(text, begun(colour="red", name="red"))
    assert not any(isinstance(act, Undo) for act in verdict.acts)


def steps(acts: tuple[Act, ...]) -> list[str]:
    return [act.step for act in acts if isinstance(act, Step)]


def test_the_bag_emptied_in_is_the_mixing_until_that_is_done() -> None:
    plum = begun(name="plum", colour="red", litres=23, vessel="bucket 1", days=14)
    assert steps(said("poured the juice in and filled it to the line with water", plum).acts) == ["mix"]


def test_whipping_before_the_yeast_is_stirring() -> None:
    plum = begun(name="plum", colour="red", litres=23, vessel="bucket 1", days=14)
    assert steps(said("whisked it with the drill", plum).acts) in (["stir"], ["mix"])
    assert steps(said("degassed it with the drill", plum).acts) != ["stir"]


@pytest.mark.parametrize("text", ["cleaned", "scrubbed the tub and the spoon", "rinsed it all out"])
def test_washing_is_asked_about_while_sanitising_is_next(text: str) -> None:
    plum = begun(name="plum", colour="red", litres=23, vessel="bucket 1", days=14)
    verdict = said(text, plum)
    assert verdict.verdict == "act" or verdict.doubt is Doubt.UNSURE
    assert steps(verdict.acts) == ["sanitise"]


def test_washing_of_other_things_is_none_of_the_wine() -> None:
    plum = begun(name="plum", colour="red", litres=23, vessel="bucket 1", days=14)
    assert said("cleaned the car and the windows", plum).verdict != "act"


def test_nothing_without_yeast_is_written_as_bottled() -> None:
    plum = begun(name="plum", colour="red", litres=23, vessel="bucket 1", days=14)
    verdict = said("poured the goo in, filled it up, 22 on the strip", plum)
    assert verdict.verdict != "act" or "bottle" not in steps(verdict.acts)


def test_a_question_of_small_words_beside_a_fact_is_answered() -> None:
    plum = begun(name="plum", colour="red", litres=23, vessel="bucket 1", days=14)
    acts = said("1.081 tonight. smells like bananas is that ok", plum).acts
    assert any(isinstance(act, Gravity) for act in acts)
    assert any(isinstance(act, Question) for act in acts)
