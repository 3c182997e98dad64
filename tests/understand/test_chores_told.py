"""Chores and additions in anybody's words: where a wine went, told once; what went in and of which wine; what was left
behind, how long it took, and what was not done."""

from datetime import datetime, timedelta

import pytest

from bot.cellar.log.acts import Act, Addition, Step
from bot.understand.judge.sayings import hear
from bot.understand.scene import Recent, Scene, SceneBatch, SceneVessel
from bot.understand.text.message import Message
from bot.understand.verdict import Verdict

NOW = datetime.fromisoformat("2026-04-11T19:30:00+00:00")
VESSELS = tuple(SceneVessel(name=name) for name in ("bucket 1", "bucket 2", "bucket 3", "demijohn 1"))
DRY = ((NOW - timedelta(days=12), 1.084), (NOW - timedelta(days=4), 0.996), (NOW - timedelta(days=1), 0.996))


def wine(name: str, vessel: str, colour: str, *awaited: str) -> SceneBatch:
    """A wine that has fermented out, unless its kit is still to be mixed."""
    return SceneBatch(
        name=name,
        vessel=vessel,
        colour=colour,  # type: ignore[arg-type]
        litres=23,
        started=NOW - timedelta(days=12),
        next=awaited,
        readings=() if "mix" in awaited else DRY,
    )


def house(*batches: SceneBatch, told: Act | None = None) -> Scene:
    said = (Recent(act=told, by="ana", said_at=NOW - timedelta(minutes=4)),) if told is not None else ()
    return Scene(members=("ana", "bo"), vessels=VESSELS, batches=batches, recent=said)


TERN = wine("tern", "bucket 1", "red", "rack", "stabilise", "degas", "fine")
KNOT = wine("knot", "bucket 2", "white", "rack", "stabilise", "degas", "fine")
CLEARING = wine("tern", "bucket 1", "red", "fine", "bottle")
FLAT = wine("tern", "bucket 1", "red", "degas", "fine", "bottle")
STABLE = wine("tern", "bucket 1", "red", "stabilise", "degas", "fine")
NEW = wine("tern", "bucket 1", "red", "sanitise", "mix", "gravity", "pitch")


def read(text: str, scene: Scene) -> Verdict | None:
    return hear(Message(text, scene, NOW, by="ana", replying_to=None, addressed=True)).verdict


def acts(text: str, scene: Scene) -> tuple[Act, ...]:
    verdict = read(text, scene)
    return verdict.acts if verdict is not None and verdict.verdict == "act" else ()


def racked(to: str, of: str = "tern") -> Step:
    return Step(of=of, step="rack", to=to)


# ---------------------------------------------------------------------- where it went


@pytest.mark.parametrize(
    "text",
    [
        "racked it into 2 before the kids were up",
        "siphoned, 2 now",
        "racking done, it went in 2",
        "did the racking, went into 2",
        "tern's been moved, bucket 2",
        "racked into bucket 2, about half a litre of sludge stayed behind",
        "siphoned into bucket 2, spilled a pint on the lino",
        "tern is now in bucket 2 and bucket 1 is the empty one",
    ],
)
def test_a_racking_is_told_once_and_goes_where_it_went(text: str) -> None:
    assert acts(text, house(TERN)) == (racked("bucket 2"),)


@pytest.mark.parametrize(
    "text",
    [
        "scrubbed out bucket 3 and it's in there now",
        "bucket 3 cleaned, then siphoned it over",
        "cleaned bucket 3 then racked tern into that",
    ],
)
def test_what_was_cleaned_is_where_it_then_went(text: str) -> None:
    cleaned, moved = acts(text, house(TERN))
    assert isinstance(cleaned, Step)
    assert cleaned.step == "sanitise"
    assert moved == racked("bucket 3")


def test_into_it_is_into_what_was_sanitised_just_before() -> None:
    told = Step(of="bucket 3", step="sanitise")
    assert acts("racked into it, an inch of muck left", house(TERN, told=told)) == (racked("bucket 3"),)


def test_a_vessel_that_was_cleaned_is_no_wine() -> None:
    told = acts("knot is .996 still so I sterilised bucket 3 and racked it into that", house(TERN, KNOT))
    assert told[-1] == racked("bucket 3", "knot")


def test_moved_across_is_racked_while_that_is_awaited() -> None:
    assert acts("moved it all across", house(TERN)) == (Step(of="tern", step="rack"),)
    assert acts("moved it all across", house(CLEARING)) == ()


# ---------------------------------------------------------------------- what went in


@pytest.mark.parametrize(
    ("text", "acts_"),
    [
        ("both packets of clearing stuff went in the white", (Addition(of="knot", what="finings"),)),
        (
            "half a sachet of finings each",
            tuple(Addition(of=of, what="finings", amount=0.5, unit="sachet") for of in ("tern", "knot")),
        ),
        (
            "sulphite and sorbate both in the red",
            (Addition(of="tern", what="sulphite"), Addition(of="tern", what="sorbate")),
        ),
        (
            "A and B both in the white",
            (Addition(of="knot", what="sachet A"), Addition(of="knot", what="sachet B")),
        ),
    ],
)
def test_both_of_what_went_in_are_not_both_wines(text: str, acts_: tuple[Act, ...]) -> None:
    assert acts(text, house(TERN, KNOT)) == acts_


@pytest.mark.parametrize(
    ("text", "packets"),
    [("E in", "E"), ("F went in half an hour ago", "F"), ("C and D done", "CD"), ("A is in detention", "")],
)
def test_a_packet_is_known_by_its_letter_while_one_is_awaited(text: str, packets: str) -> None:
    def sachets(scene: Scene) -> str:
        told = (act.what for act in acts(text, scene) if isinstance(act, Addition))
        return "".join(what[-1] for what in told if what.startswith("sachet "))

    assert sachets(house(CLEARING)) == packets
    assert sachets(house(NEW)) == ""


@pytest.mark.parametrize(
    ("text", "amount", "unit"),
    [
        ("campden tablets crushed in, all five", 5.0, "tablet"),
        ("half a teaspoon of sulphite in", 0.5, "tsp"),
        ("sulphite in", None, None),
    ],
)
def test_amounts_are_as_they_were_said(text: str, amount: float | None, unit: str | None) -> None:
    (act,) = acts(text, house(STABLE))
    assert isinstance(act, Addition)
    assert (act.what, act.amount, act.unit) == ("sulphite", amount, unit)


def test_what_went_in_is_told_beside_a_gravity() -> None:
    told = acts("1.084, yeast's in", house(NEW))
    assert told[-1] == Step(of="tern", step="pitch")


# ---------------------------------------------------------------------- how, and what was not done


def test_for_as_long_of_another_wine() -> None:
    told = acts("whisked the red for ten minutes and the white for five", house(TERN, KNOT))
    assert told == tuple(Step(of=of, step="degas") for of in ("tern", "knot"))


def test_till_the_gas_was_gone_is_no_condition() -> None:
    assert acts("whipped it with the paddle till the gas was gone", house(FLAT)) == (
        Step(of="tern", step="degas"),
    )


def test_what_was_not_done_is_not_told_by_why() -> None:
    assert acts("haven't degassed it yet, drill's flat", house(FLAT)) == ()


def test_what_was_cleaned_before_the_kit_was_mixed_was_sanitised() -> None:
    told = acts("bucket washed with the powder, mixed", house(NEW))
    assert [act.step for act in told if isinstance(act, Step)] == ["sanitise", "mix"]


@pytest.mark.parametrize(
    ("text", "hour", "minute"),
    [
        ("finings in last night at a quarter to nine", 20, 45),
        ("finings in last night at five past nine", 21, 5),
        ("finings in last night, meant to tell you", 20, 0),
    ],
)
def test_a_late_report_has_its_own_time(text: str, hour: int, minute: int) -> None:
    (act,) = acts(text, house(CLEARING))
    assert isinstance(act, Addition)
    assert act.at is not None
    assert act.at.date() == NOW.date() - timedelta(days=1)
    if "meant" not in text:
        assert (act.at.hour, act.at.minute) == (hour, minute)
