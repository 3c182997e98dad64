"""The command: one line out for each line in, and never a crash."""

import json

import pytest

from bot.understand import command
from tests.understand.labelled import house

HARBOUR = house("harbour")
LINE = {"text": "b2 1012", "sent_at": "2026-03-04T19:30:00+00:00", "from": "ana"}


def answer(line: str) -> dict[str, object]:
    (said,) = command([line], HARBOUR)
    plain: dict[str, object] = json.loads(said)
    return plain


def test_a_message() -> None:
    said = answer(json.dumps(LINE))
    assert said["verdict"] == "act"
    assert said["acts"] == [{"do": "gravity", "of": "plum", "sg": 1.012}]
    assert said["why"]


@pytest.mark.parametrize("reply", ["plum", "bucket 2", {"of": "plum"}, {"of": "plum", "step": "degas"}])
def test_replying_to(reply: object) -> None:
    said = answer(json.dumps({**LINE, "text": "1.013", "replying_to": reply}))
    assert said["acts"] == [{"do": "gravity", "of": "plum", "sg": 1.013}]


def test_replying_to_the_bot_is_addressing_it() -> None:
    assert answer(json.dumps({**LINE, "text": "wibble", "replying_to": "bot"}))["verdict"] == "ask"
    assert answer(json.dumps({**LINE, "text": "wibble", "addressed": True}))["verdict"] == "ask"


def test_a_time_without_offset_is_taken_as_utc() -> None:
    assert answer(json.dumps({**LINE, "sent_at": "2026-03-04T19:30:00"}))["verdict"] == "act"


@pytest.mark.parametrize(
    "line", ["{", "[]", "null", "7", '{"text": 5}', '{"text": "b2 1.012"}', "\udcff", '"b2 1.012"']
)
def test_a_bad_line_is_ignored_and_says_so(line: str) -> None:
    said = answer(line)
    assert (said["verdict"], said["acts"]) == ("ignore", [])
    assert str(said["why"]).startswith("not a message line")


def test_blank_lines_are_passed_over() -> None:
    assert list(command(["", "\n", "  "], HARBOUR)) == []
