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


OPTIONS = {
    "kind": "options",
    "options": [
        [{"do": "gravity", "of": "plum", "sg": 1.012}],
        [{"do": "gravity", "of": "harbour white", "sg": 1.012}],
    ],
}
PLUM, WHITE = OPTIONS["options"]
LETTER = {
    "kind": "letter",
    "things": [{"of": "plum", "step": "degas"}, {"of": "harbour white", "measure": "gravity"}],
}
ONE = {"kind": "letter", "things": [{"of": "plum", "step": "degas"}]}
ROOMS = {
    "kind": "letter",
    "things": [{"of": "plum", "measure": "temperature"}, {"of": "harbour white", "measure": "temperature"}],
}
BOTTLES = {"kind": "number", "what": "bottles", "of": "plum"}
DEGREES = {"kind": "number", "what": "temperature", "of": "plum"}
DONE = [{"do": "reminder", "of": "plum", "action": "done", "step": "degas"}]
TOMORROW = "2026-03-05T10:00:00+00:00"


@pytest.mark.parametrize("chat", ["wine", "family"])
@pytest.mark.parametrize(
    ("text", "open_", "acts"),
    [
        ("done", ONE, DONE),
        ("degassed", ONE, DONE),
        ("not yet, tomorrow", ONE, [{**DONE[0], "action": "later", "until": TOMORROW}]),
        ("plum done", LETTER, DONE),
        ("1.012", LETTER, [{"do": "gravity", "of": "harbour white", "sg": 1.012}]),
        (
            "both at 21",
            ROOMS,
            [{"do": "temperature", "of": of, "temp_c": 21.0} for of in ("plum", "harbour white")],
        ),
        ("28", BOTTLES, [{"do": "step", "of": "plum", "step": "bottle", "bottles": 28}]),
        ("got 28", BOTTLES, [{"do": "step", "of": "plum", "step": "bottle", "bottles": 28}]),
        ("28 bottles!", BOTTLES, [{"do": "step", "of": "plum", "step": "bottle", "bottles": 28}]),
        ("21", DEGREES, [{"do": "temperature", "of": "plum", "temp_c": 21.0}]),
        ("it's 70f", DEGREES, [{"do": "temperature", "of": "plum", "temp_c": 21.1}]),
        ("the second one", OPTIONS, WHITE),
        ("2nd", OPTIONS, WHITE),
        ("option 2", OPTIONS, WHITE),
        ("the other one", OPTIONS, WHITE),
        ("no, the other", OPTIONS, WHITE),
        ("harbour", OPTIONS, WHITE),
        ("the one in bucket 1", OPTIONS, WHITE),
        ("the red", OPTIONS, PLUM),
        ("the former", OPTIONS, PLUM),
        ("no, none of those", OPTIONS, []),
        (
            "tomorrow at 9",
            {"kind": "time", "wish": "remind me to rack the plum"},
            [
                {
                    "do": "reminder",
                    "of": "plum",
                    "action": "later",
                    "until": "2026-03-05T09:00:00+00:00",
                    "step": "rack",
                    "about": "rack the plum",
                    "whom": "ana",
                }
            ],
        ),
        ("still cloudy", {"kind": "look", "of": "plum"}, None),
        (
            "3.4",
            {"kind": "figures", "reckon": "sulphite", "keys": ["ph"], "given": {"litres": 23}},
            [
                {
                    "do": "question",
                    "of": None,
                    "about": "reckon",
                    "reckon": "sulphite",
                    "given": {"litres": 23.0, "ph": 3.4},
                }
            ],
        ),
        ("why?", {"kind": "working"}, []),
    ],
)
def test_what_is_open_is_answered(
    text: str, open_: dict[str, object], acts: list[dict[str, object]] | None, chat: str
) -> None:
    said = answer(json.dumps({**LINE, "text": text, "open": open_, "chat": chat}))
    assert said["verdict"] == "act"
    assert acts is None or said["acts"] == acts


@pytest.mark.parametrize(
    ("text", "open_"),
    [
        ("done", {**ONE, "minutes_ago": 300}),
        ("plum or white", OPTIONS),
        ("no it's in bucket 2", {**OPTIONS, "options": [PLUM]}),
        ("no, plum", {**OPTIONS, "options": [PLUM]}),
        ("plum", {**OPTIONS, "others": True}),
        ("see you at 7", ROOMS),
        ("7", {"kind": "letter", "things": [{"of": "plum", "measure": "temperature"}]}),
        ("21 people coming", DEGREES),
        ("7?", BOTTLES),
        ("28 degrees", BOTTLES),
        ("tomorrow at 9", {"kind": "time", "wish": "remind me to rack the plum", "others": True}),
    ],
)
def test_what_says_something_else_writes_nothing_of_what_is_open(text: str, open_: dict[str, object]) -> None:
    said = answer(json.dumps({**LINE, "text": text, "open": open_}))
    assert said["acts"] == [] or said["verdict"] == "ask"


@pytest.mark.parametrize("text", ["no not yet", "no need", "nope, bucket 1", "no that was yesterday"])
def test_a_no_with_more_behind_it_is_a_no(text: str) -> None:
    said = answer(json.dumps({**LINE, "text": text, "open": {**OPTIONS, "options": [PLUM]}, "chat": "wine"}))
    assert (said["verdict"], said["acts"]) == ("act", [])


def test_what_is_so_instead_is_read() -> None:
    asked = {**OPTIONS, "options": [[{"do": "step", "of": "plum", "step": "degas"}]]}
    said = answer(json.dumps({**LINE, "text": "no, degassed the white", "open": asked}))
    assert said["acts"] == [{"do": "step", "of": "harbour white", "step": "degas"}]
    said = answer(json.dumps({**LINE, "text": "wrong, it was 1.010", "open": {**OPTIONS, "options": [PLUM]}}))
    assert said["acts"] == [{"do": "gravity", "of": "plum", "sg": 1.01}]


def test_which_of_several_is_asked() -> None:
    said = answer(json.dumps({**LINE, "text": "done", "open": LETTER}))
    assert said["verdict"] == "ask"
    assert [act["of"] for act in said["acts"]] == ["plum", "harbour white"]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "open_", [7, {"kind": "wibble"}, {"kind": "letter"}, {"kind": "options", "options": [[7]]}]
)
def test_what_cannot_be_open_is_said(open_: object) -> None:
    said = answer(json.dumps({**LINE, "open": open_}))
    assert str(said["why"]).startswith("not a message line")


@pytest.mark.parametrize("text", ["racked plum to bukket 3, 1.012 yesterday", "dinner at 7?", "", "what now"])
def test_a_message_is_explained(text: str) -> None:
    line = json.dumps({**LINE, "text": text, "open": ONE})
    (said,) = (json.loads(one) for one in command([line], HARBOUR, explain=True))
    how = said.pop("explain")
    assert said == answer(line)
    assert {"tokens", "slips", "spans", "clauses", "claims", "rules", "sayings", "thresholds"} <= how.keys()
    assert how["open"] == ["letter", "said"]
    assert how["followed"] in ("open", "rules", "sayings", "both", "neither")


def test_an_explanation_tells_slips_scores_and_what_was_followed() -> None:
    line = json.dumps({**LINE, "text": "racked plum to bukket 3", "chat": "wine"})
    (said,) = (json.loads(one) for one in command([line], HARBOUR, explain=True))
    how = said["explain"]
    assert how["slips"] == [{"said": "bukket", "read_as": "bucket"}]
    assert [claim["act"]["do"] for claim in how["claims"]] == ["step"]
    assert how["claims"][0]["score"] > how["thresholds"]["claim_sure"]
    assert next(iter(how["sayings"][0]["likeliest"])) == "step:rack"
    assert how["followed"] in ("rules", "both")
    assert said["acts"] == how["rules"]["acts"]
    weighed = how["weighed"]
    assert set(weighed["likely"]) == set(weighed["signs"]) == {"rules", "told", "meant"}
    assert all(0 <= share <= 1 for share in weighed["likely"].values())
    assert [way["cost"] for way in weighed["costs"]] == sorted(way["cost"] for way in weighed["costs"])
    assert weighed["costs"][0]["verdict"] == "act"
