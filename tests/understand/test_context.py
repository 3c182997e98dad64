"""What surrounds a message: replies, mentions, slash forms, forwards, and the entries before it."""

from datetime import UTC, datetime, timedelta
from typing import Any

import msgspec
import pytest

from bot.cellar.log.acts import (
    Act,
    Addition,
    Done,
    Gravity,
    Nickname,
    PutOff,
    Question,
    Remind,
    Rota,
    Step,
    TakeOn,
    Temperature,
    Undo,
)
from bot.cellar.log.subjects import Matter
from bot.understand import understand
from bot.understand.judge.reminders import people_of, reminder_words
from bot.understand.scene import Recent, ReplyTo, Scene, SceneBatch, SceneVessel
from bot.understand.verdict import Doubt, Verdict
from tests.understand.labelled import house

NOW = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)
HARBOUR = house("harbour")
DEGAS = ReplyTo(of="plum", step="degas")


def after(*acts: Act, by: str = "ana", minutes: int = 5) -> Scene:
    """The house after somebody said something."""
    recent = tuple(Recent(act=act, by=by, said_at=NOW - timedelta(minutes=minutes)) for act in acts)
    return msgspec.structs.replace(HARBOUR, recent=recent)


def read(text: str, scene: Scene = HARBOUR, **more: Any) -> Verdict:
    return understand(text, scene, NOW, **more)


@pytest.mark.parametrize(
    ("text", "new"),
    [
        ("no make that 1.014", Gravity(of="plum", sg=1.014)),
        ("sorry 1.014", Gravity(of="plum", sg=1.014)),
        ("*1.014", Gravity(of="plum", sg=1.014)),
        ("sorry, bucket 1", Gravity(of="harbour white", sg=1.061)),
        ("i meant 1.014, not 1.041", Gravity(of="plum", sg=1.014)),
    ],
)
def test_correction_replaces_the_last_entry(text: str, new: Gravity) -> None:
    said = Gravity(of="plum", sg=1.061) if new.of != "plum" else Gravity(of="plum", sg=1.012)
    verdict = read(text, after(said), by="ana")
    assert (verdict.verdict, verdict.acts) == ("act", (Undo(), new))


def test_correction_keeps_what_it_does_not_mention() -> None:
    scene = after(Gravity(of="plum", sg=1.012, temp_c=21.0))
    assert read("make that 1.014", scene, by="ana").acts == (
        Undo(),
        Gravity(of="plum", sg=1.014, temp_c=21.0),
    )


def test_correction_of_another_kind_is_asked_about() -> None:
    verdict = read("no make that 1.014", after(Step(of="plum", step="stir")), by="ana")
    assert (verdict.verdict, verdict.doubt) == ("ask", Doubt.NOTHING_TO_CORRECT)


@pytest.mark.parametrize(("by", "minutes"), [("bo", 45), ("ana", 180)])
def test_correction_needs_an_entry_that_is_near(by: str, minutes: int) -> None:
    verdict = read(
        "no make that 1.014", after(Gravity(of="plum", sg=1.012), by=by, minutes=minutes), by="ana"
    )
    assert (verdict.verdict, verdict.doubt) == ("ask", Doubt.NOTHING_TO_CORRECT)


def test_somebody_else_may_put_a_fresh_entry_right() -> None:
    scene = after(Gravity(of="plum", sg=1.012), by="bo")
    assert read("no make that 1.014", scene, by="ana").acts == (Undo(), Gravity(of="plum", sg=1.014))


def test_implausible_correction_is_asked_about() -> None:
    verdict = read("no make that 1.114", after(Gravity(of="plum", sg=1.012)), by="ana")
    assert verdict.verdict == "ask"
    assert verdict.acts == (Undo(), Gravity(of="plum", sg=1.114))


@pytest.mark.parametrize(
    ("text", "act"),
    [
        ("done", Done(of="plum", step="degas")),
        ("did it ✅", Done(of="plum", step="degas")),
        ("degassed", Done(of="plum", step="degas")),
        ("not now", PutOff(of="plum", step="degas")),
        ("I'll do it", TakeOn(of="plum", step="degas")),
        ("in an hour", PutOff(of="plum", step="degas", until=NOW + timedelta(hours=1))),
    ],
)
def test_answers_to_a_reminder(text: str, act: Act) -> None:
    verdict = read(text, replying_to=DEGAS)
    assert (verdict.verdict, verdict.acts) == ("act", (act,))


@pytest.mark.parametrize("text", ["not done yet", "who's done it?", "haven't done it"])
def test_no_answer_to_a_reminder_says_done(text: str) -> None:
    assert not any(isinstance(act, Done) for act in read(text, replying_to=DEGAS).acts)


def test_a_reply_names_the_batch() -> None:
    assert read("1.013", replying_to=ReplyTo(of="plum")).acts == (Gravity(of="plum", sg=1.013),)
    assert read("temp 20", replying_to=ReplyTo(of="bucket 1")).acts == (
        Temperature(of="harbour white", temp_c=20.0),
    )


@pytest.mark.parametrize(
    "text", ["/sg 1.012 b2", "/sg@anybot 1.012 b2", "/sg@any_bot 1.012 b2", "@anybot sg 1.012 b2"]
)
def test_slash_forms_and_mentions(text: str) -> None:
    assert read(text, addressed=text.startswith("@")).acts == (Gravity(of="plum", sg=1.012),)


def test_slash_words_are_questions() -> None:
    assert read("/next").acts == (Question(subject=Matter(about="next")),)
    assert read("/help").acts == (Question(subject=Matter(about="help")),)
    assert read("/chart b2").acts == (Question(subject=Matter(about="chart"), of="plum"),)


def test_addressed_and_not_understood() -> None:
    verdict = read("blah wibble", addressed=True)
    assert verdict.verdict == "ask"
    assert verdict.doubt in (Doubt.NOT_UNDERSTOOD, Doubt.KEEP_NOTE)
    assert read("thanks!", addressed=True).verdict == "ignore"


def test_forwarded_messages_are_no_readings() -> None:
    assert read("b2 1.012", forwarded=True).verdict == "ignore"
    assert read("b2 1.012", forwarded=True, addressed=True).verdict == "ask"


def test_buttons_of_an_open_batch() -> None:
    verdict = read("sg 1.012, 21c")
    assert verdict.doubt is Doubt.WHICH_BATCH
    assert verdict.options == (
        (Gravity(of="plum", sg=1.012, temp_c=21.0),),
        (Gravity(of="harbour white", sg=1.012, temp_c=21.0),),
    )


def test_buttons_of_a_slipped_digit() -> None:
    verdict = read("bucket 2 1.112")
    assert (verdict.doubt, verdict.about) == (Doubt.SLIPPED_DIGIT, "1.112")
    assert verdict.acts == (Gravity(of="plum", sg=1.112),)
    assert verdict.options == ((Gravity(of="plum", sg=1.112),), (Gravity(of="plum", sg=1.012),))


def test_buttons_of_another_curve_and_of_other_degrees() -> None:
    assert read("b1 1.012").options[1] == (Gravity(of="plum", sg=1.012),)
    assert read("plum 68 degrees").options[1] == (Temperature(of="plum", temp_c=20.0),)


@pytest.mark.parametrize(
    ("text", "doubt"),
    [
        ("plum 1.064", Doubt.RISING),
        ("b1 0.999", Doubt.FALLING_FAST),
        ("b1 1.012", Doubt.OTHER_CURVE),
        ("plum temp 50", Doubt.ODD_TEMPERATURE),
        ("put 60 campden tablets in b2", Doubt.ODD_DOSE),
        ("drank 18 rosé", Doubt.TOO_MANY_BOTTLES),
        ("racked plum into bucket 1", Doubt.VESSEL_BUSY),
        ("stirred plum at 11pm tonight", Doubt.FUTURE),
        ("bucket 9 1.012", Doubt.UNKNOWN_VESSEL),
        ("plum sg 1.300", Doubt.OUT_OF_RANGE),
        ("call plum rack", Doubt.NAME_REFUSED),
        ("plum 1.012 and I added three whatsits", Doubt.HALF_UNDERSTOOD),
    ],
)
def test_doubts(text: str, doubt: Doubt) -> None:
    verdict = read(text)
    assert (verdict.verdict, verdict.doubt) == ("ask", doubt)


def test_sugar_in_the_same_message_lets_gravity_rise() -> None:
    assert read("added 500g sugar to bucket 2, now 1.023").verdict == "act"
    batch = msgspec.structs.replace(HARBOUR.batches[0], sugar_added=(NOW - timedelta(hours=2),))
    sweetened = msgspec.structs.replace(HARBOUR, batches=(batch, *HARBOUR.batches[1:]))
    assert read("plum 1.023", sweetened).verdict == "act"


def test_names_that_are_everyday_words() -> None:
    scene = Scene(
        timezone="Europe/London",
        vessels=(SceneVessel(name="bucket 1"), SceneVessel(name="bucket 2", nicknames=("Big Blue",))),
        batches=(
            SceneBatch(name="fizz", vessel="bucket 1"),
            SceneBatch(name="Monday red", nicknames=("ume", "梅酒"), colour="red", vessel="bucket 2"),
        ),
    )
    assert read("fizz 1.012", scene).acts == (Gravity(of="fizz", sg=1.012),)
    assert read("monday red is 1.012", scene).acts == (Gravity(of="Monday red", sg=1.012),)
    assert read("梅酒 1.012", scene).acts == (Gravity(of="Monday red", sg=1.012),)
    assert read("梅酒は1.012", scene).acts == (Gravity(of="Monday red", sg=1.012),)
    assert read("big blue 1.012", scene).acts == (Gravity(of="Monday red", sg=1.012),)
    assert read("fizz in the fridge, help yourselves", scene).verdict == "ignore"
    assert read("call fizz Ďábel", scene).acts == (Nickname(of="fizz", name="Ďábel"),)


def test_amounts_are_in_the_contracts_units() -> None:
    acts = read("put 3 tbsp sugar in b2 and 0.5 kg sugar in b1").acts
    assert acts == (
        Addition(of="plum", what="sugar", amount=9.0, unit="tsp"),
        Addition(of="harbour white", what="sugar", amount=500.0, unit="g"),
    )


def test_turns_at_nothing_are_taken_only_where_the_bot_is_spoken_to() -> None:
    assert read("let's take turns").verdict == "ignore"
    assert read("let's take turns", addressed=True).acts == (Rota(all=True),)
    assert read("ana and bo take turns", addressed=True).acts == (Rota(people=("ana", "bo")),)
    assert read("no turns", addressed=True).acts == (Rota(),)


def test_a_house_makes_its_patterns_only_for_a_reminder() -> None:
    houses = [Scene(members=(f"ana{number}", f"bo{number}")) for number in range(100)]
    made = people_of.cache_info().misses
    for scene in houses:
        read("sg 1.012", scene, by="ana1")
    assert people_of.cache_info().misses == made
    for _ in range(2):
        for scene in houses:
            read("remind me tomorrow to buy corks", scene, by="ana1")
    assert people_of.cache_info().misses == made + len(houses)
    assert reminder_words.cache_info().misses == 1


@pytest.mark.parametrize(
    ("said", "whom"),
    [
        ("Strauß", "Strauß"),
        ("strauss", "Strauß"),
        ("STRAUSS", "Strauß"),
        ("STRAUẞ", "Strauß"),
        ("Ana 🍷", "Ana 🍷"),
        ("ana", "Ana 🍷"),
        ("Jo.", "Jo."),
        ("jo", "Jo."),
        ("anne marie", "Anne Marie"),
        ("anne", "Anne Marie"),
        ("lee ann", "Lee Ann"),
    ],
)
def test_a_member_is_reminded_by_the_name_people_use(said: str, whom: str) -> None:
    members = ("Strauß", "Ana 🍷", "Jo.", "Anne Marie", "Lee Ann", "Lee Bo", "The Boss")
    scene = msgspec.structs.replace(HARBOUR, members=members)
    for text in (f"remind {said} to rack the plum tomorrow", f"reminder for {said}: rack the plum tomorrow"):
        verdict = read(text, scene, by="Jo.")
        assert verdict.verdict == "act"
        (act,) = verdict.acts
        assert isinstance(act, Remind)
        assert (act.whom, act.about) == (whom, "rack the plum")


@pytest.mark.parametrize("said", ["lee", "anna", "ann"])
def test_a_name_that_fits_two_or_nobody_is_nobodys(said: str) -> None:
    scene = msgspec.structs.replace(HARBOUR, members=("Lee Ann", "Lee Bo", "Anne Marie"))
    verdict = read(f"remind {said} to rack the plum tomorrow", scene, by="Lee Bo")
    assert (verdict.doubt, verdict.about) == (Doubt.UNKNOWN_MEMBER, said)


def test_addressed_a_strange_name_is_said_so_whatever_it_is_about() -> None:
    verdict = read("remind mum to ring nan tomorrow", by="ana", addressed=True)
    assert (verdict.doubt, verdict.about) == (Doubt.UNKNOWN_MEMBER, "mum")
