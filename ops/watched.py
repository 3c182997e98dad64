"""Plays the talks that are learned from, each message understood as it was wanted, so that they go on as they should have
whatever the weights of now would make of them; and tells what was seen of each message."""

import tempfile
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path

from bot.cellar.log.plain import to_plain
from bot.understand.claims import labels
from bot.understand.judge import judge as judging
from bot.understand.judge import postponed
from bot.understand.judge import sayings as heard_by
from bot.understand.judge.choice import Choice, said_once, writable
from bot.understand.judge.signs import signs
from bot.understand.verdict import Verdict
from tests import talks

TALKS = Path(__file__).parents[1] / "fixtures" / "talks"
_IGNORE = Verdict(verdict="ignore")


def talks_learned() -> list[Path]:
    """The talks that weights are learned from: those that were read, and those that nobody reads."""
    return sorted([*TALKS.glob("seen*.txt"), *TALKS.glob("learn*.txt")])


class Watched:
    """Stands where the choice is made: sees the signs of what is read first, and chooses by what is `wanted`."""

    def __init__(self) -> None:
        self.wanted: Callable[[Verdict], bool] = lambda verdict: False
        self.by_sayings = False
        self.first = None

    def choose(self, rules, heard, message, *, to_bot, for_wine, spoke):
        rules, heard = said_once(rules, heard, message)
        told = heard.verdict
        if self.first is not None:
            return Choice(rules)  # what was not taken, in plain words
        spoken = not for_wine and spoke() is not None
        chosen = self._best(rules, told)
        found = signs(rules, heard, message, to_bot=to_bot, for_wine=for_wine, spoke=spoken)
        self.first = (found, rules, told, chosen, message)
        return Choice(chosen)

    def _best(self, rules, told):
        """The reading that is right; of questions now the one and now the other, for only what is said shows which."""
        done = [each and writable(each) for each in (rules, told)]
        right = [each for each in done if each and self.wanted(each)]
        if self.by_sayings:
            right.reverse()
        if right:
            return right[0]
        return rules if rules.verdict == "ask" else _IGNORE

    def expect(self, line: talks.Line) -> None:
        """Before a line is said: what is wanted of it."""
        self.first = None
        self.by_sayings = zlib.crc32(line.text.encode()) % 2 == 0

        def wanted(verdict: Verdict) -> bool:
            return talks.judge(line.want, [to_plain(act) for act in verdict.acts], "something") in (
                "right",
                "free",
            )

        self.wanted = wanted


def watch(model: labels.Weights) -> Watched:
    """Watches every choice from now on, with these labels."""
    watched = Watched()
    judging.choice = watched.choose
    heard_by.model_of = postponed.model_of = lambda language: model
    return watched


def lines_watched(path: Path, watched: Watched) -> Iterator[tuple[int, talks.Line, str]]:
    """The messages of a talk of which something was seen: each with its number in the talk and what was said to it."""
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as folder:
        played = talks.lines_played(path, Path(folder), watched.expect)
        for number, (line, _, said) in enumerate(played):
            if watched.first is not None:
                yield number, line, said
