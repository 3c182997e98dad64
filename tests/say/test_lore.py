"""What is said of the craft: every topic has its answer at every moment, short, filled in, and with its source."""

import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from string import Formatter
from typing import get_args
from zoneinfo import ZoneInfo

import msgspec
import pytest

from bot.cellar.answers import LifeStage, LoreAnswer, Surroundings, answer
from bot.cellar.log.acts import Question
from bot.cellar.log.fold import HouseView, fold
from bot.cellar.log.subjects import Lore
from bot.cellar.log.topics import CRAFT
from bot.cellar.plans.model import Plan, PlanStep
from bot.say import lore
from bot.say.manner import Manner, plain
from bot.science import practice
from bot.understand import understand
from bot.understand.forms.readings import clearness
from bot.understand.scene import Scene, SceneBatch, SceneVessel
from tests.cellar.batches import START, Story, fermented_out, hours

TOPICS = lore.taught()
LONGEST, LONGEST_WITH_PLAN = 280, 420
"""Readable at arm's length, and with what the plan itself says of the chore."""


def story_at(moment: LifeStage) -> tuple[Story, datetime]:
    """A batch at that moment of its life, and the time."""
    if moment in ("setting_up", "ready_for_yeast", "just_pitched", "fermenting"):
        story = Story()
        story.begin()
        if moment != "setting_up":
            story.step("sanitise", 0)
            story.step("mix", 0)
            story.sg(1.080, 1)
        if moment in ("just_pitched", "fermenting"):
            story.step("pitch", 2)
        if moment == "fermenting":
            story.sg(1.040, 60)
            story.temp(26, 62)
        return story, hours({"just_pitched": 20, "fermenting": 80}.get(moment, 2))
    story = fermented_out()
    if moment != "fermented_out":
        story.step("rack", 151)
        story.step("stabilise", 152)
        for at in (153, 157, 161):
            story.step("degas", at)
        story.step("fine", 162)
    if moment == "bottled":
        story.step("bottle", 400, bottles=29)
    return story, hours({"fermented_out": 160, "clearing": 200, "bottled": 800}.get(moment, 400))


@pytest.fixture(params=get_args(LifeStage))
def at(request: pytest.FixtureRequest) -> tuple[LifeStage, HouseView, datetime]:
    moment: LifeStage = request.param
    if moment == "any":
        return moment, HouseView(), START
    story, now = story_at(moment)
    return moment, fold(story.entries), now


def ask(topic: str, house: HouseView, now: datetime) -> LoreAnswer:
    found = answer(Question(subject=Lore(topic=topic)), house, now)
    assert isinstance(found, LoreAnswer)
    return found if not house.batches or found.view else ask_of(topic, house, now)


def ask_of(topic: str, house: HouseView, now: datetime) -> LoreAnswer:
    found = answer(Question(subject=Lore(topic=topic), of="plum"), house, now)
    assert isinstance(found, LoreAnswer)
    return found


def manner(now: datetime, **changes: str) -> Manner:
    return msgspec.structs.replace(Manner(zone=ZoneInfo("Europe/London"), now=now), **changes)


def texts() -> Iterator[tuple[str, str]]:
    for topic, told in TOPICS.items():
        for text in (told.says, told.why, told.beside, *told.at.values()):
            yield topic, text


def test_every_topic_has_its_answer() -> None:
    assert TOPICS.keys() == CRAFT


def test_every_answer_has_a_source() -> None:
    for topic, told in TOPICS.items():
        known = ("common practice, no source", "comes from memory", "bot/science/")
        assert any(word in told.source for word in known), topic


def test_every_answer_at_every_moment(at: tuple[LifeStage, HouseView, datetime]) -> None:
    moment, house, now = at
    for topic, told in TOPICS.items():
        found = ask(topic, house, now)
        assert found.moment == moment
        said, why = plain(lore.lore(found, manner(now))), lore.why_so(found, manner(now))
        own = told.chore is not None and found.view is not None and moment not in told.at
        assert 20 < len(said) <= (LONGEST_WITH_PLAN if own else LONGEST), (topic, said)
        assert 20 < len(why) <= 200, (topic, why)
        assert not re.search(r"[{}]|\s\s| [.,;:]|\.\.", said + why), (topic, said, why)
        assert said[-1] in ".?>" or "<code>" in lore.lore(found, manner(now))
        assert said != why


def test_what_is_said_of_a_moment_is_said_then(at: tuple[LifeStage, HouseView, datetime]) -> None:
    moment, house, now = at
    for topic, told in TOPICS.items():
        text = told.at.get(moment)
        if text is not None:
            first = re.split(r"[{<]", text)[0].strip()
            assert first in plain(lore.lore(ask(topic, house, now), manner(now))), topic


ALWAYS = (
    "no_bubbles",
    "still_bubbling",
    "foam",
    "stir_when",
    "open_lid",
    "lid",
    "taste_now",
    "topup",
    "haze",
)


@pytest.mark.parametrize("topic", ALWAYS)
def test_what_hangs_on_the_moment_has_a_text_for_each(topic: str) -> None:
    """But for the first days after the yeast, which may be as the days after."""
    assert {*get_args(LifeStage)} - {"any", "just_pitched"} <= TOPICS[topic].at.keys()


def test_braces_hold_only_what_is_known() -> None:
    known = {*lore.FIGURES, *lore.SENTENCES, "celsius", "litres", "brix"}
    used = {name for _, text in texts() for _, name, _, _ in Formatter().parse(text) if name}
    assert used == known


def test_units_are_the_houses() -> None:
    story, now = story_at("fermenting")
    house = fold(story.entries)
    odd = manner(now, temperature_unit="F", volume_unit="gallons")
    for topic, told in TOPICS.items():
        if told.chore is None or "fermenting" in told.at:
            said = re.sub(r"<code>.*?</code>", "", lore.lore(ask(topic, house, now), odd))
            assert not re.search(r"°C|\d l\b", said + lore.why_so(ask(topic, house, now), odd)), topic


def _written(value: object, unit: str) -> Iterator[str]:
    """How a figure of the table would stand in a text."""
    if isinstance(value, tuple):
        for one in value:
            yield from _written(one, unit)
    elif isinstance(value, timedelta):
        for name, span in (("hour", 1), ("day", 24), ("week", 168)):
            if value % timedelta(hours=span) == timedelta(0):
                yield rf"{value // timedelta(hours=span)} {name}"
        yield rf"{value // timedelta(minutes=1)} minutes"
    elif isinstance(value, float | int):
        yield f"{value:.3f}" if unit == "SG" else f"{value:g} {'% vol' if unit == '% vol' else unit}"
        if unit == "share":
            yield f"{value * 100:g} %"


def test_no_figure_of_the_table_is_repeated() -> None:
    figures = [w for row in practice.TABLE.values() for w in _written(row.value, row.unit)]
    for topic, text in texts():
        bare = re.sub(r"<code>.*?</code>|\{.*?\}", "", text)
        for figure in figures:
            assert not re.search(rf"(?<![\d.]){re.escape(figure)}(?![\d.])", bare), (topic, figure)


def test_the_batch_is_in_the_answer() -> None:
    story, now = story_at("fermenting")
    said = plain(lore.lore(ask("no_bubbles", fold(story.entries), now), manner(now)))
    assert "1.040" in said
    assert "Next reading" in said
    warm = plain(lore.lore(ask("too_warm", fold(story.entries), now), manner(now)))
    assert "26 °C" in warm


def test_the_houses_own_contact_time_counts() -> None:
    around = Surroundings(known=(), today=START.date(), contact=timedelta(minutes=5))
    found = answer(Question(subject=Lore(topic="sanitise_how")), HouseView(), START, around)
    assert isinstance(found, LoreAnswer)
    assert "5 minutes" in lore.lore(found, manner(START))


def test_of_a_chore_the_plans_own_how_is_said_and_nothing_twice() -> None:
    """Also where it is a leaflet's: its words go first, and what it does not tell is told."""
    for moment in ("setting_up", "clearing"):
        story, now = story_at(moment)
        house = fold(story.entries)
        for topic, told in TOPICS.items():
            found = ask(topic, house, now)
            assert found.view is not None
            if told.chore is None or moment in told.at:
                continue
            said = plain(lore.lore(found, manner(now)))
            how = next(step.how for step in found.view.follows.steps if step.does == told.chore)
            assert said.startswith(how), topic
            assert told.beside.split("{")[0] in said
            sentences = [one.strip().casefold() for one in re.split(r"[.:!?\n]", said) if one.strip()]
            assert len(sentences) == len(set(sentences)), (topic, said)


def test_a_leaflet_without_a_how_gets_the_general_one() -> None:
    story, now = story_at("clearing")
    (view,) = fold(story.entries).batches
    own = Plan(
        key="house/elder@1", title="elder", days=14, steps=(PlanStep(id="b", title="bottle", does="bottle"),)
    )
    found = ask("bottle_how", HouseView(batches=(msgspec.structs.replace(view, own_plan=own),)), now)
    assert plain(lore.lore(found, manner(now))).startswith(TOPICS["bottle_how"].says[:40])


def test_of_several_batches_none_is_meant() -> None:
    story, now = story_at("fermenting")
    (view,) = fold(story.entries).batches
    two = HouseView(batches=(view, msgspec.structs.replace(view, batch=2, name="pear")))
    found = answer(Question(subject=Lore(topic="haze")), two, now)
    assert isinstance(found, LoreAnswer)
    assert (found.view, found.moment) == (None, "any")
    assert ask_of("haze", two, now).moment == "fermenting"


def test_what_can_hurt_is_said() -> None:
    cautions = {
        "rack_how": "never",
        "still_bubbling": "burst",
        "sweeter": "burst",
        "bottle_how": "burst",
        "clean_how": "never mix",
        "where_keep": "carbon dioxide",
        "campden": "asthma",
        "sulphite_health": "doctor",
        "heavy": "two people",
        "what_is_demijohn": "glass",
        "dropped_in": "do not drink",
        "children": "pregnancy",
        "drive": "None, if you drive",
        "film": "do not taste",
        "mix_how": "where it will stand",
        "clean_or_sanitise": "scalds",
        "degas_how": "air the room",
        "vegan": "allerg",
        "label_law": "Local law goes first",
        "lid": "burst",
    }
    for topic, word in cautions.items():
        assert word.casefold() in TOPICS[topic].says.casefold(), topic


EXAMPLES = sorted({code for _, text in texts() for code in re.findall(r"<code>(.*?)</code>", text)})


@pytest.mark.parametrize("example", EXAMPLES)
def test_what_it_says_to_write_is_understood(example: str) -> None:
    """The words in its answers are words that it takes."""
    scene = Scene(
        name="home",
        timezone="Europe/London",
        members=("ana",),
        vessels=tuple(SceneVessel(name=f"bucket {number}", litres=30.0) for number in (1, 2, 3)),
        batches=(
            SceneBatch(
                name="plum", colour="red", vessel="bucket 1", litres=23.0, started=START, ferments_from=1.080,
                readings=((hours(1), 1.080), (hours(60), 1.052)),
            ),
            SceneBatch(name="sloe", colour="red", vessel="bucket 3", litres=10.0, started=START),
        ),
    )  # fmt: skip
    if example.startswith("new batch"):
        scene = msgspec.structs.replace(scene, batches=())
    text = example.format(plain_name="plum")
    if clearness(text, scene, hours(62)) is not None:
        return
    verdict = understand(text, scene, hours(62), by="ana", addressed=True)
    assert verdict.verdict in ("act", "ask")
    assert verdict.doubt is None or verdict.options, (example, verdict)
