"""What may hurt somebody is heard in words that nobody foresaw, and talk of other things is left alone."""

import json
import time
from datetime import datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.say.dangers import aids
from bot.understand import dangers_beside, meaning
from bot.understand.claims.dangers import LONGEST, dangers
from bot.understand.text.language import tables_of
from tests.understand.labelled import FIXTURES, SENT_AT, house

NEAR = {"cut": "glass", "allergy": "asthma", "fumes": "asthma", "sulphite": "fumes", "drunk": "children"}
"""Topics whose advice serves the other as well."""

KNOWN = {
    # No word of it says what it is about; a household would have to be known for that.
    "why is bertie walking sideways",
    "When I knock with the nail one jar says ding, other says dup. Both are full, both I carried upstairs by me",
}
SAFETY = tables_of("en", "dangers")


def lines() -> list[dict[str, Any]]:
    return [
        json.loads(line)
        for path in sorted((FIXTURES / "messages").glob("*danger.jsonl"))
        for line in path.read_text(encoding="utf-8").splitlines()
    ]


LINES = lines()


def heard(text: str, name: str, *, wine: bool) -> list[str]:
    scene = house(name)
    verdict = meaning(text, scene, datetime.fromisoformat(SENT_AT), addressed=wine)
    return [one.topic for one in dangers_beside(text, scene, verdict, None, spoken=wine)]


@pytest.mark.parametrize("line", LINES, ids=lambda line: line["text"][:60])
def test_heard_as_labelled(line: dict[str, Any]) -> None:
    found = heard(line["text"], line.get("house", "harbour"), wine=line["chat"] == "wine")
    if line["topic"] == "none":
        assert found == []
    elif line["text"] in KNOWN:
        assert found == [], "it is heard now: delete its line from KNOWN"
    else:
        assert found, "nothing was heard"


def test_half_of_the_messages_must_stay_silent() -> None:
    silent = sum(line["topic"] == "none" for line in LINES)
    assert len(LINES) >= 150
    assert 0.35 <= silent / len(LINES) <= 0.65


def test_nearly_every_message_is_heard_as_its_own_topic() -> None:
    told = [line for line in LINES if line["topic"] != "none" and line["text"] not in KNOWN]
    right = 0
    for line in told:
        found = heard(line["text"], line.get("house", "harbour"), wine=line["chat"] == "wine")
        right += any(line["topic"] in (topic, NEAR.get(topic)) for topic in found)
    assert right / len(told) > 0.9


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


@given(st.text(alphabet=st.characters(codec="utf-8"), max_size=300), st.booleans())
def test_any_text_is_listened_to(text: str, near: bool) -> None:
    dangers(text, house("harbour"), spoken=near, fact=near)


@given(st.lists(st.sampled_from([word for line in LINES for word in line["text"].split()]), max_size=40))
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
