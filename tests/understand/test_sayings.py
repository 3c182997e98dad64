"""Sayings: where a message is cut, what its parts are taken for, and what they come to."""

import json
import zlib
from collections.abc import Sequence
from datetime import datetime
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.cellar.log.acts import Begin, Step
from bot.cellar.log.plain import to_plain
from bot.understand import understand
from bot.understand.claims.labels import decode, encode, labelled, model_of
from bot.understand.claims.slips import mended
from bot.understand.judge.sayings import hear
from bot.understand.scene import Scene, SceneBatch, SceneVessel
from bot.understand.text.message import Message
from bot.understand.text.sayings import sayings
from tests.understand.labelled import SENT_AT

NOW = datetime.fromisoformat(SENT_AT)
EMPTY = Scene(vessels=tuple(SceneVessel(name=name) for name in ("bucket 1", "bucket 2", "demijohn 1")))


def house(*batches: SceneBatch) -> Scene:
    return msgspec.structs.replace(EMPTY, batches=batches)


PLUM = SceneBatch(
    name="Plum", colour="red", vessel="bucket 1", litres=23, started=NOW, next=("pitch", "rack"), by="ana"
)
PEAR = SceneBatch(
    name="Pear", colour="white", vessel="bucket 2", litres=23, started=NOW, next=("rack", "degas"), by="bo"
)


def message(text: str, scene: Scene) -> Message:
    return Message(text, scene, NOW, by="ana", replying_to=None, addressed=True)


def cut(text: str, scene: Scene = EMPTY) -> list[str]:
    whole = message(text, scene)
    parts = sayings(whole)
    return [whole.words_of(part.spans) for part in parts]


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("washed bucket 1, racked into it", ["washed bucket 1", "racked into it"]),
        ("mixed. yeast in", ["mixed", "yeast in"]),
        ("bucket 1 1.062 bucket 2 1.011", ["bucket 1 1.062", "bucket 2 1.011"]),
        ("stirred and fined", ["stirred", "fined"]),
        ("1.012 at 21c", ["1.012 at 21c"]),
    ],
)
def test_a_message_is_cut_where_something_new_is_said(text: str, parts: Sequence[str]) -> None:
    assert cut(text) == parts


@given(st.text(max_size=200))
def test_every_word_is_in_one_saying_at_most(text: str) -> None:
    whole = message(text, house(PLUM))
    places = [place for part in sayings(whole) for span in part.spans for place in range(span.lo, span.hi)]
    assert len(places) == len(set(places))
    assert places == sorted(places)


BEGUN = Begin(name="Forge", litres=23.0, days=14, colour="red", vessel="bucket 1")


@pytest.mark.parametrize(
    "text",
    [
        "Forge, red, 23 l, bucket 1, 14 day kit",
        "14 day kit, 23 l of red in bucket 1, calling it Forge",
        "It is a red, 23 litres, and the box says two weeks. We should like to call it Forge, and it goes in bucket 1.",
        "batch=Forge type=red vol=23l vessel=bucket1 kit=14d",
        "new one: Forge. red. bucket 1. 23 l. 14 days",
    ],
)
def test_a_batch_is_begun_in_any_order(text: str) -> None:
    verdict = understand(text, EMPTY, NOW, by="ana", for_wine=True)
    assert verdict.verdict == "act", verdict
    assert [to_plain(act) for act in verdict.acts] == [to_plain(BEGUN)]


def test_two_batches_share_what_is_said_of_both() -> None:
    text = "starting two whites. Chaff in bucket 1, Nib in bucket 2, 23 litres each, both 14 day kits"
    verdict = understand(text, EMPTY, NOW, by="ana", for_wine=True)
    told = [
        (act.name, act.vessel, act.litres, act.days, act.colour)
        for act in verdict.acts
        if isinstance(act, Begin)
    ]
    assert told == [("Chaff", "bucket 1", 23.0, 14, "white"), ("Nib", "bucket 2", 23.0, 14, "white")]


def test_what_no_batch_is_named_for_is_of_the_one_that_waits_for_it() -> None:
    verdict = hear(message("yeast in", house(PLUM, PEAR))).verdict
    assert verdict is not None
    assert verdict.acts == (Step(of="Plum", step="pitch"),)
    verdict = hear(message("racked it into demijohn 1", house(PLUM, PEAR))).verdict
    assert verdict is not None
    assert verdict.acts[0].of in ("Plum", "Pear")  # both can be racked next


def test_a_chore_said_twice_is_one() -> None:
    verdict = understand(
        "bottled the plum, 29 bottles, all corked", house(PLUM), NOW, by="ana", for_wine=True
    )
    chores = [act for act in verdict.acts if isinstance(act, Step)]
    assert chores == [Step(of="Plum", step="bottle", bottles=29)]


@pytest.fixture(scope="module")
def training() -> ModuleType:
    """The program that learns the labels."""
    spec = spec_from_file_location("train_labels", Path(__file__).parents[2] / "ops" / "train_labels.py")
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_labels_are_learned_from_what_lies_in_the_fixtures(training: ModuleType) -> None:
    trained_on = training.digest(list(training.labelled()))
    assert model_of("en").trained_on == trained_on, "run sh ops/train"


def test_a_model_is_the_same_after_it_was_written_and_read() -> None:
    model = model_of("en")
    again = decode(encode(model))
    assert (again.labels, again.trained_on) == (model.labels, model.trained_on)
    assert (again.weights == model.weights).all()


def test_shares_sum_to_one() -> None:
    whole = message("racked the plum into demijohn 1, smells lovely, what now?", house(PLUM))
    found, all_of_it = labelled(sayings(whole), whole, model_of("en"))
    for one in (*found, all_of_it):
        assert sum(one.shares) == pytest.approx(1)
    assert found[0].best()[0] == "step:rack"


def test_lines_set_aside_are_not_learned_from(training: ModuleType) -> None:
    folder = Path(training.LINES)
    aside = set((folder / "aside.jsonl").read_text(encoding="utf-8").splitlines())
    seen = set((folder / "seen.jsonl").read_text(encoding="utf-8").splitlines())
    assert aside.isdisjoint(seen)
    assert len(aside) > 0.4 * len(seen)
    for line in aside:
        assert zlib.crc32(json.loads(line)["text"].encode()) % 3 == 0


DAMSON = SceneBatch(
    name="Damson",
    colour="red",
    vessel="bucket 1",
    litres=23,
    started=NOW,
    next=("stabilise", "degas", "fine"),
)


def heard(text: str, *batches: SceneBatch) -> list[dict[str, object]]:
    """What the sayings of a message tell, without a question; nothing where they tell nothing."""
    verdict = hear(message(text, house(*batches))).verdict
    acts = verdict.acts if verdict is not None and verdict.verdict == "act" else ()
    return [{key: value for key, value in to_plain(act).items() if value is not None} for act in acts]


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("pouch a is in", ["sachet A"]),
        ("sachet d dissolved in 150 ml of warm water and added", ["sachet D"]),
        ("packet b, stirred in", ["sachet B"]),
        ("s3 went in as well", ["sachet 3"]),
        ("sachet e in, that's the clearing one", ["sachet E"]),
        ("sachets 2 and 3 are in", ["sachet 2", "sachet 3"]),
    ],
)
def test_a_packet_is_called_by_its_number_or_letter(text: str, what: Sequence[str]) -> None:
    assert [act["what"] for act in heard(text, DAMSON)] == what


def test_what_a_thing_was_dissolved_in_is_no_part_of_it() -> None:
    told = heard("250 g sugar added, melted in 300 ml of the must first", DAMSON)
    assert [(act["what"], act["amount"], act["unit"]) for act in told] == [("sugar", 250.0, "g")]


def test_a_sentence_is_no_name_of_what_went_in() -> None:
    assert not any(" " in act.get("what", "") for act in heard("that went in along with it", DAMSON))


@pytest.mark.parametrize(
    "text",
    [
        "now stir. gently, Bo",
        "It'll taste of pear drops. Put it in the bath, wet blanket round it.",
        "26 washed",
        "17 so far",
    ],
)
def test_orders_what_is_at_hand_and_counts_on_the_way_tell_nothing_done(text: str) -> None:
    bottling = msgspec.structs.replace(DAMSON, next=("bottle", "label"))
    assert not heard(text, DAMSON)
    assert not heard(text, bottling)


def test_stirring_that_drives_the_gas_out_is_one_action() -> None:
    told = heard("ten mins with the big spoon, arms like jelly, flat now", DAMSON)
    assert [act["step"] for act in told if act["do"] == "step"] == ["degas"]
    both = heard("stirred it and degassed it", DAMSON)
    assert [act["step"] for act in both] == ["stir", "degas"]


def test_how_the_yeast_went_in_leaves_no_chore_out() -> None:
    must = msgspec.structs.replace(DAMSON, next=("pitch", "gravity"))
    assert [act["step"] for act in heard("yeast is in. sprinkled, no stirring", must)] == ["pitch"]


@pytest.mark.parametrize(
    ("text", "name", "colour", "vessel"),
    [
        ("it's pink, bucket 2, we're calling it Heron", "Heron", "rosé", "bucket 2"),
        ("the white one goes in demijohn 1, named Pip", "Pip", "white", "demijohn 1"),
        ("and the red is Otter, bucket 1, 28 day kit", "Otter", "red", "bucket 1"),
    ],
)
def test_a_name_with_a_colour_and_a_free_vessel_begins_a_batch(
    text: str, name: str, colour: str, vessel: str
) -> None:
    (begun,) = heard(text)
    assert (begun["do"], begun["name"], begun["colour"], begun["vessel"]) == ("begin", name, colour, vessel)


def test_nothing_begins_in_a_vessel_that_holds_wine() -> None:
    assert not heard("it's pink, bucket 1, we're calling it Heron", DAMSON)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("new batch: white Heron, 23 l in bucket 2, 14 day kit", "Heron"),
        ("new batch: red velvet, 23 l in bucket 2, 14 day kit", "red velvet"),
    ],
)
def test_a_colour_before_a_name_is_no_part_of_it(text: str, name: str) -> None:
    verdict = understand(text, EMPTY, NOW, by="ana", for_wine=True)
    assert [act.name for act in verdict.acts if isinstance(act, Begin)] == [name]


@pytest.mark.parametrize("text", ["got a kit"])
def test_who_has_a_kit_and_no_batch_hears_how_it_begins(text: str) -> None:
    verdict = understand(text, EMPTY, NOW, by="ana", for_wine=True)
    assert verdict.verdict == "act"
    assert [to_plain(act)["about"] for act in verdict.acts] == ["craft"]


@pytest.mark.parametrize(
    "text",
    [
        "Damson, first glass: cherry stones, thin. Five out of ten.",
        "Tasting, week three: rounder, the edge is gone",
        "tasted damson at two months: fine with cheese",
    ],
)
def test_how_a_wine_tastes_is_one_note(text: str) -> None:
    verdict = understand(text, house(DAMSON), NOW, by="ana", for_wine=True)
    told = [to_plain(act) for act in verdict.acts]
    assert [act["text"] for act in told if act["do"] == "note"] == [text]
    assert all(act["do"] in ("note", "question") for act in told)


def test_a_fact_before_a_colon_is_no_note() -> None:
    verdict = understand("tasting: damson at 1.012", house(DAMSON), NOW, by="ana", for_wine=True)
    assert all(to_plain(act)["do"] == "gravity" for act in verdict.acts)


@pytest.mark.parametrize(
    ("text", "steps"),
    [
        ("degassed, ten minutes of it", ["degas"]),
        ("there is wine on the curtains. degassed, half an hour", ["degas"]),
        ("swilled bucket 2 out with sanitiser, racked damson across into it", ["sanitise", "rack"]),
        ("degassed, and bo sang something sad to the bucket", ["degas"]),
    ],
)
def test_a_chore_is_told_whatever_stands_around_it(text: str, steps: Sequence[str]) -> None:
    assert [act["step"] for act in heard(text, DAMSON) if act["do"] != "note"] == steps


def test_what_each_of_two_got_is_of_those_two() -> None:
    third = msgspec.structs.replace(DAMSON, name="Elder", vessel="demijohn 1", next=("pitch",))
    first = msgspec.structs.replace(DAMSON, next=("pitch",))
    told = heard("pear and damson, a stir each", PEAR, first, third)
    assert {act["of"] for act in told} == {"Pear", "Damson"}


def test_greetings_before_a_beginning_are_not_lost_parts_of_it() -> None:
    text = "right ladies, the wine. new one called Heron, rosé, 23 litres, 10 day kit, it's in bucket 1"
    (begun,) = heard(text)
    assert (begun["name"], begun["days"], begun["vessel"]) == ("Heron", 10, "bucket 1")


@pytest.mark.parametrize("word", ["swilled", "dropd"])
def test_small_words_that_are_read_are_no_slips(word: str) -> None:
    assert mended(f"{word} one", EMPTY) == f"{word} one"
