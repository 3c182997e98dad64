"""What may hurt somebody is heard in words that nobody foresaw, and talk of other things is left alone."""

import json
import time
from datetime import datetime
from functools import cache
from importlib.util import module_from_spec, spec_from_file_location
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.say.dangers import aids
from bot.understand import dangers_beside, meaning
from bot.understand.claims.dangers import LONGEST, dangers
from bot.understand.claims.likeness import model_of
from bot.understand.judge.reading import understand
from bot.understand.text.language import tables_of
from bot.understand.verdict import Doubt
from tests.understand.labelled import FIXTURES, SENT_AT, house

NEAR = {"cut": "glass", "allergy": "asthma", "fumes": "asthma", "sulphite": "fumes", "drunk": "children"}
"""Topics whose advice serves the other as well."""

AT_LEAST = {"seen": (0.985, 0.90), "aside": (0.85, 0.70), "aside twins": (0.9, 0.8)}
"""Of what was learned from and of what was set aside: how much of the danger is heard, and as its own topic. The twins are
lines of danger with others of nearly the same words that tell of none."""

AT_MOST = {
    "seen": {"family": 0.01, "wine": 0.03},
    "aside": {"family": 0.035, "wine": 0.06},
    "aside twins": {"family": 0.25, "wine": 0.35},
}
"""How much of the rest is taken for a danger: in a chat for the wine a short line too many costs little."""

SAFETY = tables_of("en", "dangers")


def lines() -> dict[str, list[dict[str, Any]]]:
    """By whether they were learned from ("seen") or set aside."""
    found: dict[str, list[dict[str, Any]]] = {"seen": [], "aside": [], "aside twins": []}
    for path in sorted((FIXTURES / "messages").glob("*danger.jsonl")):
        twins = " twins" if "twins" in path.name else ""
        kind = f"aside{twins}" if path.name.startswith("aside") else "seen"
        found[kind] += map(json.loads, path.read_text(encoding="utf-8").splitlines())
    return found


BY_KIND = lines()
LINES = [line for kind in BY_KIND.values() for line in kind]
KINDS = [kind for kind, told in BY_KIND.items() if told]


def heard(text: str, name: str, *, wine: bool) -> list[str]:
    scene = house(name)
    verdict = meaning(text, scene, datetime.fromisoformat(SENT_AT), addressed=wine)
    return [one.topic for one in dangers_beside(text, scene, verdict, None, spoken=wine)]


@cache
def as_heard(kind: str) -> list[tuple[dict[str, Any], list[str]]]:
    return [
        (line, heard(line["text"], line.get("house", "harbour"), wine=line["chat"] == "wine"))
        for line in BY_KIND[kind]
    ]


@pytest.mark.parametrize("kind", KINDS)
def test_a_danger_is_heard(kind: str) -> None:
    told = [(line, found) for line, found in as_heard(kind) if line["topic"] != "none"]
    missed = [line["text"] for line, found in told if not found]
    heard_at_least, right_at_least = AT_LEAST[kind]
    assert 1 - len(missed) / len(told) >= heard_at_least, missed
    right = sum(any(line["topic"] in (topic, NEAR.get(topic)) for topic in found) for line, found in told)
    assert right / len(told) >= right_at_least


@pytest.mark.parametrize("chat", ["family", "wine"])
@pytest.mark.parametrize("kind", KINDS)
def test_talk_of_other_things_is_left_alone(kind: str, chat: str) -> None:
    quiet = [
        (line, found) for line, found in as_heard(kind) if (line["topic"], line["chat"]) == ("none", chat)
    ]
    alarms = [line["text"] for line, found in quiet if found]
    assert len(alarms) / len(quiet) <= AT_MOST[kind][chat], alarms


def test_half_of_the_messages_must_stay_silent() -> None:
    silent = sum(line["topic"] == "none" for line in LINES)
    assert len(LINES) >= 2000
    assert 0.35 <= silent / len(LINES) <= 0.65


def test_the_weights_are_those_that_the_messages_make() -> None:
    """Where this fails, `sh ops/train` learns them anew."""
    source = FIXTURES.parent / "ops" / "train_dangers.py"
    spec = spec_from_file_location("train_dangers", source)
    assert spec is not None
    assert spec.loader is not None
    training = module_from_spec(spec)
    spec.loader.exec_module(training)
    model = model_of("en")
    assert model.trained_on == training.digest()
    assert set(model.topics) == {topic["name"] for topic in SAFETY["topics"]}


def test_what_is_likely_but_not_sure_is_told_in_short() -> None:
    """How far a message is from the weights' bound decides, never what it is about."""
    scene = house("harbour")
    unsure = [
        one
        for line in BY_KIND["seen"]
        for one in dangers(line["text"], scene, spoken=line["chat"] == "wine", fact=False)
        if not one.sure
    ]
    assert unsure
    assert all(
        len(aids()[one.topic].short) < len(aids()[one.topic].first + aids()[one.topic].then) for one in unsure
    )


@pytest.mark.parametrize("before", [0, 5, 40])
def test_a_long_message_drowns_no_danger(before: int) -> None:
    chatter = "we went for a walk by the river and then had tea with everybody. "
    heard_alone = [
        line["text"]
        for line in BY_KIND["seen"]
        if line["topic"] != "none" and heard(line["text"], "harbour", wine=True)
    ][:60]
    still = sum(bool(heard(chatter * before + text, "harbour", wine=True)) for text in heard_alone)
    assert still / len(heard_alone) > 0.95


def test_every_topic_has_its_answer_and_every_class_of_a_rule_is_there() -> None:
    topics = {topic["name"] for topic in SAFETY["topics"]}
    assert topics == set(aids())
    assert all(aid.source for aid in aids().values())
    given_by_the_house = {"asked", "bottled", "working"}
    classes = {*SAFETY["classes"], *SAFETY["joined"], *SAFETY["wider"], *given_by_the_house}
    rules = [rule for topic in SAFETY["topics"] for rule in topic["rules"]]
    rules += [rule for texts in SAFETY["joined"].values() for rule in texts]
    named = {
        name
        for rule in rules
        for part in rule.split()
        if part[0] not in "~@"
        for name in part.lstrip("-").split("|")
    }
    assert named <= classes
    settled = {*SAFETY["settings"]["deniable"].split(), *SAFETY["settings"]["mended"].split()}
    assert settled <= classes
    assert {name for topic in SAFETY["topics"] for name in topic.get("covers", "").split()} <= topics


@pytest.mark.parametrize(
    "text",
    [
        "i feel dizy in the celar",
        "bleech in the demijon",
        "the sulphtie made me cough",
        "he has astma, can he do the campdn",
    ],
)
def test_a_slip_of_one_letter_is_mended(text: str) -> None:
    assert heard(text, "harbour", wine=False)


@pytest.mark.parametrize(
    "text",
    ["nobody is dizzy in the cellar", "no cracks in the demijohn", "we never use bleach on the bucket"],
)
def test_what_is_denied_is_not_heard(text: str) -> None:
    assert heard(text, "harbour", wine=False) == []


@pytest.mark.parametrize(
    ("told", "written"),
    [
        pytest.param(
            "racked plum into demijohn 1, and the hydrometer broke in the wine",
            False,
            marks=pytest.mark.xfail(
                strict=True, reason="asked about for another reason, the danger beside it"
            ),
        ),
        ("racked plum into demijohn 1. mum dropped a tumbler in the hall, broken glass everywhere.", True),
    ],
)
def test_what_is_told_apart_from_the_wine_puts_no_fact_in_doubt(told: str, written: bool) -> None:
    scene = house("harbour")
    verdict = understand(told, scene, datetime.fromisoformat(SENT_AT), for_wine=True)
    assert (verdict.doubt is not Doubt.DANGER) == written, verdict


@given(st.text(alphabet=st.characters(codec="utf-8"), max_size=300), st.booleans())
def test_any_text_is_listened_to(text: str, near: bool) -> None:
    dangers(text, house("harbour"), spoken=near, fact=near)


_ANOTHER_CAUSE = ("running",)
"""Who faints while running has not fainted of the wine."""


@given(
    st.lists(
        st.sampled_from(
            [word for line in LINES for word in line["text"].split() if word not in _ANOTHER_CAUSE]
        ),
        max_size=40,
    )
)
def test_what_is_heard_by_itself_is_heard_before_more_words(words: list[str]) -> None:
    """No chatter after it switches a danger off."""
    text = "ana fainted in the cellar. "
    assert "unwell" in [
        one.topic for one in dangers(text + " ".join(words), house("harbour"), spoken=False, fact=False)
    ] or {
        one.topic for one in dangers(text + " ".join(words), house("harbour"), spoken=False, fact=False)
    } & {"drunk", "swallowed"}


def test_a_text_ten_times_as_long_takes_about_ten_times_as_long() -> None:
    """Every step is linear, whatever the words are."""
    words = "bleach vinegar toilet bucket dizzy with work cork pop hair cellar 1.012 not no cannot breathe, "
    scene = house("harbour")

    def taken(size: int) -> float:
        text = (words * (size // len(words) + 1))[:size]
        best = float("inf")
        for _ in range(5):
            begun = time.perf_counter()
            dangers(text, scene, spoken=True, fact=True)
            best = min(best, time.perf_counter() - begun)
        return best

    assert taken(LONGEST) < 30 * taken(LONGEST // 10)
