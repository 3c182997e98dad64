"""Things that people tell in few words, one or several a line, each with its wine, vessel or thing bought named: written by
different hands for one house (`fixtures/pieces`), and put together two by two, so that whatever is told is heard beside
anything else. What was set aside (`aside-*`) teaches nothing.
"""

import json
import random
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from tests.understand.labelled import Labelled

PIECES = Path(__file__).parents[2] / "fixtures" / "pieces"
JOINTS = (" and ", ", ", ". ", "; ", "\n", " - ")
_BOTH_WAYS: tuple[tuple[dict[str, str], dict[str, str]], ...] = (
    ({"do": "vessel", "state": "clean"}, {"do": "step", "step": "sanitise"}),
    ({"do": "step", "step": "sanitise"}, {"do": "vessel", "state": "clean"}),
    ({"do": "step", "step": "fine"}, {"do": "addition", "what": "finings"}),
    ({"do": "step", "step": "pitch"}, {"do": "addition", "what": "yeast"}),
)
"""What people say the one for the other of."""


def pieces(pattern: str = "seen-*.jsonl") -> Iterator[Labelled]:
    """What is told by the hands whose files match the pattern, a line each."""
    for path in sorted(PIECES.glob(pattern)):
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            told = json.loads(line)
            yield _labelled(path.stem, number, told["text"], list(map(_bare, told["acts"])))


def pairs(told: Sequence[Labelled], each: int) -> Iterator[Labelled]:
    """Every piece of one fact with so many others of its file after it, of another kind or another wine or vessel."""
    single = [one for one in told if len(one.message["acts"]) == 1]
    for one in single:
        chance = random.Random(one.message["text"])
        others = [two for two in single if two.file == one.file and _kind(two) != _kind(one)]
        for two in chance.sample(others, min(each, len(others))):
            text = chance.choice(JOINTS).join((one.message["text"].rstrip(".!"), two.message["text"]))
            yield _labelled(one.file, one.line, text, [*one.message["acts"], *two.message["acts"]])


def _bare(act: Mapping[str, Any]) -> Mapping[str, Any]:
    """The act without what was bought, unless that is the kit: one calls it a corker, the other a hand corker."""
    named = act["do"] == "cost" and act.get("what") != "kit"
    return {key: value for key, value in act.items() if not (named and key == "what")}


def _labelled(file: str, line: int, text: str, acts: Sequence[Mapping[str, Any]]) -> Labelled:
    message = {"text": text, "verdict": "act", "acts": list(acts), "chat": "wine"}
    ways = [{"verdict": "act", "acts": way} for way in _ways(acts)]
    return Labelled(file, line, {**message, "or": ways})


def _ways(acts: Sequence[Mapping[str, Any]]) -> Iterator[list[Mapping[str, Any]]]:
    """The same with one of them told the other way."""
    for at, act in enumerate(acts):
        for one, other in _BOTH_WAYS:
            if one.items() <= act.items():
                yield [*acts[:at], {**other, "of": act["of"]}, *acts[at + 1 :]]


def _kind(told: Labelled) -> tuple[Any, ...]:
    act = told.message["acts"][0]
    return act["do"], act.get("step"), act.get("of")
