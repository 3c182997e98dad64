"""The labelled messages under fixtures/messages: how they are read, and what counts as the same."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from bot.cellar.log.plain import to_plain
from bot.understand import understand
from bot.understand.scene import ReplyTo, Scene, scene_from_json

FIXTURES = Path(__file__).parents[2] / "fixtures"
SENT_AT = "2026-03-04T19:30:00+00:00"
VAGUE = (
    "yesterday", "arvo", "tomorrow", "today", "tonight", "morning", "afternoon", "evening", "night", "lunch", "noon",
    "mon", "tue", "wed", "thu", "fri", "sat", "sun", "ago", "week", "later", "earlier", "jan", "feb", "mar", "apr",
)  # fmt: skip
TIMES = ("at", "until")


@dataclass(frozen=True)
class Labelled:
    """One line of a fixture file."""

    file: str
    line: int
    message: Mapping[str, Any]

    @property
    def key(self) -> str:
        return f"{self.message.get('house', 'harbour')}: {self.message['text']}"

    @property
    def answers(self) -> list[Mapping[str, Any]]:
        """Every answer that is right."""
        return [self.message, *self.message.get("or", ())]

    @property
    def addressed(self) -> bool:
        """Whether it is said to the bot."""
        return bool(self.message.get("addressed", False) or self.message.get("chat") == "wine")

    @property
    def for_wine(self) -> bool:
        """Whether it is said in a chat for the wine alone."""
        return False

    @property
    def meant(self) -> bool | None:
        """Whether it is meant for the bot, where that is known."""
        return not any(answer["verdict"] == "ignore" for answer in self.answers)

    def scene(self) -> Scene:
        return house(self.message.get("house", "harbour"))

    def read(self) -> dict[str, Any]:
        """What the bot makes of it, as the contract's output line."""
        replying = self.message.get("replying_to")
        if isinstance(replying, str):
            replying = {"of": replying}
        verdict = understand(
            self.message["text"],
            self.scene(),
            datetime.fromisoformat(self.message.get("sent_at", SENT_AT)),
            by=self.message.get("from"),
            replying_to=ReplyTo(**replying) if replying else None,
            addressed=self.addressed,
            for_wine=self.for_wine,
            forwarded=self.message.get("forwarded", False),
        )
        return {
            "verdict": verdict.verdict,
            "acts": [to_plain(act) for act in verdict.acts],
            "why": verdict.why,
        }

    def is_right(self, acts: Sequence[Mapping[str, Any]]) -> bool:
        """Whether these acts are what it tells."""
        return self._agrees({"verdict": "act", "acts": acts})

    def fault(self, said: Mapping[str, Any]) -> str | None:
        """None when right; else "wrong act", "needless ask", "silent miss" or "wrong ask"."""
        if self._agrees(said):
            return None
        if said["verdict"] == "act":
            return "wrong act"
        wanted = {answer["verdict"] for answer in self.answers}
        if said["verdict"] == "ignore":
            return "silent miss"
        return "wrong ask" if "ask" in wanted else "needless ask"

    def _agrees(self, said: Mapping[str, Any]) -> bool:
        return any(same(answer, said, self.message["text"]) for answer in self.answers)


_HOUSES: dict[str, Scene] = {}


def house(name: str) -> Scene:
    """A house of fixtures/houses."""
    if name not in _HOUSES:
        text = (FIXTURES / "houses" / f"{name}.json").read_text(encoding="utf-8")
        _HOUSES[name] = scene_from_json(json.loads(text))
    return _HOUSES[name]


def labelled() -> Iterator[Labelled]:
    """Every message of every file that says what is written down of it."""
    for path in sorted((FIXTURES / "messages").glob("*.jsonl")):
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            if line.strip() and "verdict" in (message := json.loads(line)):
                yield Labelled(path.name, number, message)


def same(answer: Mapping[str, Any], said: Mapping[str, Any], text: str) -> bool:
    """Whether two answers agree: verdict, and every act with every labelled field, in order. A label of a fact that
    tells of no danger leaves open whether one is heard beside it: `danger.jsonl` says where."""
    acts = said["acts"]
    if answer["acts"] and not any(_danger(act) for act in answer["acts"]):
        acts = [act for act in acts if not _danger(act)]
    if answer["verdict"] != said["verdict"] or len(answer["acts"]) != len(acts):
        return False
    return all(_same_act(want, have, text) for want, have in zip(answer["acts"], acts, strict=True))


def _danger(act: Mapping[str, Any]) -> bool:
    return bool(act["do"] == "question" and act.get("about") == "safety")


def _same_act(want: Mapping[str, Any], have: Mapping[str, Any], text: str) -> bool:
    if not all(_same_value(key, value, have.get(key)) for key, value in want.items()):
        return False
    vague = any(word in text.casefold() for word in VAGUE)
    return vague or not any(key in have and have[key] is not None and key not in want for key in TIMES)


def _same_value(key: str, want: object, have: object) -> bool:
    if key in TIMES and isinstance(want, str):
        return isinstance(have, str) and datetime.fromisoformat(want) == datetime.fromisoformat(have)
    if isinstance(want, float | int) and not isinstance(want, bool):
        return isinstance(have, float | int) and abs(want - have) <= 1e-6
    return want == have
