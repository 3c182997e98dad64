"""Nothing that is said of the wine is met by silence: short questions and remarks known by their words, and what is
offered where nothing was understood."""

from datetime import datetime

import pytest

from bot.cellar.log.acts import Note, Question
from bot.cellar.log.subjects import FermentRange, Subject
from bot.cellar.log.topics import subject_of, topic_of
from bot.understand.forms.asked import called, known_question, of_wine
from bot.understand.judge.judge import meaning
from bot.understand.scene import JustSaid, ReplyTo, Scene, SceneBatch, SceneVessel
from bot.understand.verdict import Doubt, Verdict

NOW = datetime.fromisoformat("2026-03-04T19:30:00+00:00")
WREN = SceneBatch(
    name="Wren",
    colour="red",
    vessel="bucket 1",
    litres=23.0,
    started=datetime.fromisoformat("2026-02-25T19:00:00+00:00"),
    readings=(
        (datetime.fromisoformat("2026-02-25T19:00:00+00:00"), 1.082),
        (datetime.fromisoformat("2026-03-02T19:00:00+00:00"), 1.040),
    ),
    next=("gravity", "degas", "stabilise", "rack", "bottle"),
)
ROOK = SceneBatch(
    name="Rook",
    colour="white",
    vessel="bucket 2",
    litres=23.0,
    started=datetime.fromisoformat("2026-02-28T19:00:00+00:00"),
    readings=((datetime.fromisoformat("2026-02-28T19:00:00+00:00"), 1.079),),
    next=("gravity", "degas", "rack", "bottle"),
)
KEPT = SceneBatch(
    name="Finch",
    bottled=datetime.fromisoformat("2026-02-01T12:00:00+00:00").date(),
    bottles_left=22,
    bottles_made=28,
)
VESSELS = (SceneVessel(name="bucket 1"), SceneVessel(name="bucket 2"))


def scene(*batches: SceneBatch) -> Scene:
    return Scene(members=("ana", "bo"), vessels=VESSELS, batches=batches)


def heard(text: str, *batches: SceneBatch, for_wine: bool = True) -> Verdict:
    return meaning(text, scene(*(batches or (WREN,))), NOW, by="ana", for_wine=for_wine)


def asked(verdict: Verdict) -> Subject | None:
    first = verdict.acts[0] if verdict.verdict == "act" and len(verdict.acts) == 1 else None
    return first.subject if isinstance(first, Question) else None


@pytest.mark.parametrize(
    ("text", "topic"),
    [
        ("not one blip this morning", "no_bubbles"),
        ("gone very quiet", "no_bubbles"),
        ("nothing much going on", "no_bubbles"),
        ("crawling", "stuck"),
        ("it's going blop blop", "still_bubbling"),
        ("well then, what do we do next", "next"),
        ("whit noo", "next"),
        ("is it over or not", "finished"),
        ("how will we be sure that it's stopped?", "finished"),
        ("is it almost there", "finish_time"),
        ("which day is best? when shall we check it next", "next_reading"),
        ("what did bo get it down as yesterday", "readings"),
        ("has anybody done the reading yet", "readings"),
        ("how tipsy does it make us", "abv"),
        ("must the bottles be sterilised first", "bottle_clean"),
        ("why do you need to knock the gas out of it", "what_is_degassing"),
        ("why would we wash a brand new bucket", "clean_why"),
        ("what means racking", "what_is_racking"),
        ("lees means what?", "what_is_lees"),
        ("what's in which vessel, i forget", "vessels"),
        ("should we chuck it all away", "all_right"),
        ("shall we draw it off the sludge", "ready_to_rack"),
    ],
)
def test_a_short_question_is_known_by_its_words(text: str, topic: str) -> None:
    subject = asked(heard(text))
    assert subject is not None
    assert topic_of(subject) == topic


@pytest.mark.parametrize(
    ("text", "celsius"),
    [
        ("is 27 all right", 27.0),
        ("would 15 harm it", 15.0),
        ("is 68f ok for it", 20.0),
        ("is 23.5 degrees too warm for wren?", 23.5),
        ("baking up in the attic", None),
    ],
)
def test_a_temperature_is_asked_about_with_its_figure(text: str, celsius: float | None) -> None:
    assert asked(heard(text)) == FermentRange(at_c=celsius)


@pytest.mark.parametrize(
    "text",
    [
        "how many does this leave for the party",
        "how many bottles stay",
        "what have we got left in the cellar",
    ],
)
def test_bottles_left_are_asked_of_what_is_bottled(text: str) -> None:
    assert asked(heard(text, KEPT)) == subject_of("stock")


@pytest.mark.parametrize(
    "text",
    [
        "is the white a slow one",
        "why is rook behind",
        "are they supposed to be so far apart",
        "which one is further along",
    ],
)
def test_two_are_compared(text: str) -> None:
    assert asked(heard(text, WREN, ROOK)) == subject_of("compare")


def test_where_to_begin_is_told_of_the_craft_until_the_yeast_is_at_work() -> None:
    must = SceneBatch(name="Wren", vessel="bucket 1", next=("sanitise", "mix", "gravity", "pitch"))
    for batches in ((), (must,)):
        verdict = meaning("right, where do we begin then", scene(*batches), NOW, for_wine=True)
        assert asked(verdict) == subject_of("first_steps")
    assert asked(heard("what do we do first")) == subject_of("next")


def test_a_figure_told_with_its_question_is_still_written_down() -> None:
    verdict = heard("27 on the strip, is that too warm")
    assert any(not isinstance(act, Question) for act in verdict.acts)


@pytest.mark.parametrize("text", ["bubbling again", "clear", "smells of bread", "foam up to the lid"])
def test_a_remark_in_a_chat_for_the_wine_is_kept_or_offered(text: str) -> None:
    for batch in (WREN, KEPT):
        verdict = heard(text, batch)
        assert verdict.verdict != "ignore"
        assert verdict.doubt is not Doubt.NOT_UNDERSTOOD
        assert any(isinstance(act, Note | Question) for act in verdict.acts)


def test_a_remark_on_both_is_offered_as_a_note_on_each() -> None:
    verdict = heard("clear. both", WREN, ROOK)
    assert verdict.doubt is Doubt.KEEP_NOTE
    assert [[act.of for act in option] for option in verdict.options] == [["Wren", "Rook"]]


@pytest.mark.parametrize("text", ["can it play chess?", "does it like my jumper?"])
def test_a_question_that_is_none_of_ours_gets_what_can_be_told(text: str) -> None:
    verdict = heard(text)
    assert verdict.verdict == "ask"
    assert verdict.doubt in (Doubt.WHICH_QUESTION, Doubt.NO_ANSWER)
    assert verdict.options
    assert all(isinstance(act, Question) for option in verdict.options for act in option)


def test_what_can_be_told_is_of_the_stage() -> None:
    text = "does it like my jumper?"
    fermenting, kept = heard(text, WREN), heard(text, KEPT)
    assert fermenting.options != kept.options


def test_thanks_get_a_short_word_while_the_bot_has_just_spoken() -> None:
    said = Scene(members=("ana", "bo"), vessels=VESSELS, batches=(WREN,), open=(JustSaid(of="Wren"),))
    thanks = "brilliant, thank you so much for all that"
    assert meaning(thanks, said, NOW, for_wine=True, spoke=lambda: ReplyTo(of="Wren")).doubt is Doubt.THANKED
    for text in ("are you coming over tonight", "mum says dinner is ready", "see you at six"):
        assert heard(text, for_wine=False).verdict == "ignore"


@pytest.mark.parametrize(
    "text",
    [
        "bot when do we have to check it next",
        "what do we do now, bot",
        "is wren a slow one",
        "so when do we look at the wine again",
    ],
)
def test_among_family_talk_the_wine_a_name_or_the_bot_is_enough(text: str) -> None:
    assert asked(heard(text, WREN, ROOK, for_wine=False)) is not None


@pytest.mark.parametrize(
    "text",
    [
        "is it over or not",
        "how many are there",
        "nothing going on",
        "i told the bot what now",
    ],
)
def test_among_family_talk_the_same_without_them_is_left_alone(text: str) -> None:
    assert heard(text, WREN, for_wine=False).verdict == "ignore"


def test_what_the_bot_just_said_makes_a_question_one_for_it() -> None:
    said = Scene(members=("ana", "bo"), vessels=VESSELS, batches=(WREN,), open=(JustSaid(of="Wren"),))
    question = known_question("what do we do now", said, NOW, addressed=True)
    assert question == Question(subject=subject_of("next") or FermentRange(), of="Wren")
    assert known_question("what do we do now", said, NOW, addressed=False) is None


def test_the_bot_is_called_or_only_spoken_of() -> None:
    assert called("what now, bot?", "en")
    assert called("bot how long", "en")
    assert not called("the bot says so", "en")
    assert not called("robotics club", "en")
    assert of_wine("is the wine ok", "en")
    assert not of_wine("wine gums", "en")


def test_a_name_that_is_none_of_the_houses_asks_nothing() -> None:
    assert known_question("is magpie a slow one", scene(WREN), NOW, addressed=True) is None
