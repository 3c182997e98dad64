"""Things that people tell in few words, one or several a line, each with its wine, vessel or thing bought named: written by
different hands for one house (`fixtures/pieces`), and put together two by two, so that whatever is told is heard beside
anything else. A line without acts tells nothing that has happened, in nearly the words of the line before, which does:
planned, wished, supposed, not done, another's, kept for later. What was set aside (`aside-*`) teaches nothing.
"""

import json
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
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
WHATS = (
    "sulphite", "sorbate", "bentonite", "finings", "nutrient", "acid", "tannin", "oak", "sugar", "water", "yeast",
)  # fmt: skip
REMARKS = frozenset({"note", "question", "reminder"})
"""What may be heard of what has not happened."""


@dataclass(frozen=True)
class Piece(Labelled):
    """One line of these files, or two together. `untold`: so many of its parts tell nothing that has happened."""

    untold: int = 0

    @property
    def addressed(self) -> bool:
        return False

    @property
    def for_wine(self) -> bool:
        return bool(self.message["chat"] == "wine")

    @property
    def meant(self) -> bool | None:
        return super().meant if self.message["acts"] else None

    @property
    def begins(self) -> bool:
        """Whether it begins a batch."""
        return any(act["do"] == "begin" for act in self.message["acts"])

    def is_right(self, acts: Sequence[Mapping[str, Any]]) -> bool:
        return super().is_right([act for act in acts if act["do"] not in REMARKS] if self.untold else acts)

    def fault(self, said: Mapping[str, Any]) -> str | None:
        if self.untold and said["verdict"] == "act":
            return None if self.is_right(said["acts"]) else "wrong act"
        if self.untold and not self.message["acts"]:
            return "needless ask" if said["verdict"] == "ask" else None
        return super().fault(said)


def pieces(pattern: str = "seen-*.jsonl") -> Iterator[Piece]:
    """What is told by the hands whose files match the pattern, a line each."""
    for path in sorted(PIECES.glob(pattern)):
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            told = json.loads(line)
            acts = list(map(_bare, told["acts"]))
            yield _labelled(path.stem, number, told["text"], acts, 0 if acts else 1)


def pairs(told: Sequence[Piece], each: int) -> Iterator[Piece]:
    """Every piece of one fact with so many others of its file after it, of another kind or another wine or vessel, or that
    tell nothing."""
    single = [one for one in told if len(one.message["acts"]) == 1 and not one.begins]
    untold = [one for one in told if one.untold]
    for one in single:
        chance = random.Random(one.message["text"])
        others = [two for two in single if two.file == one.file and _kind(two) != _kind(one)]
        others += [two for two in untold if two.file == one.file and two.line != one.line + 1]
        for two in chance.sample(others, min(each, len(others))):
            text = chance.choice(JOINTS).join((one.message["text"].rstrip(".!"), two.message["text"]))
            yield _labelled(
                one.file, one.line, text, [*one.message["acts"], *two.message["acts"]], two.untold
            )


def _bare(act: Mapping[str, Any]) -> Mapping[str, Any]:
    """The act without what was bought or put in, unless that is the kit or known by one name: one calls it a corker, the
    other a hand corker. Litres to what a gallon is told by, weights in grams; of a beginning what is not told is nothing."""
    found = dict(act)
    what = found.get("what")
    if found["do"] == "cost" and what != "kit":
        found.pop("what", None)
    if found["do"] == "addition" and not what.startswith("sachet"):
        known = next((each for each in WHATS if each in what), None)
        found = {**found, "what": known} if known else {k: v for k, v in found.items() if k != "what"}
    if found.get("unit") == "kg":
        found |= {"amount": found["amount"] * 1000, "unit": "g"}
    if found["do"] == "begin":
        found = dict.fromkeys(("name", "litres", "days", "colour", "vessel")) | found
        found["litres"] = found["litres"] and round(found["litres"], 2)
    return found


def _labelled(file: str, line: int, text: str, acts: Sequence[Mapping[str, Any]], untold: int) -> Piece:
    message = {"text": text, "verdict": "act", "acts": list(acts), "chat": "wine"}
    ways = [{"verdict": "act", "acts": way} for way in _ways(acts)]
    return Piece(file, line, {**message, "or": ways}, untold)


def _ways(acts: Sequence[Mapping[str, Any]]) -> Iterator[list[Mapping[str, Any]]]:
    """The same with one of them told the other way."""
    for at, act in enumerate(acts):
        for one, other in _BOTH_WAYS:
            if one.items() <= act.items():
                yield [*acts[:at], {**other, "of": act.get("of")}, *acts[at + 1 :]]


def _kind(told: Piece) -> tuple[Any, ...]:
    act = told.message["acts"][0]
    return act["do"], act.get("step"), act.get("of")
