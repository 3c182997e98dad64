"""Whole talks of households, played through a desk and judged message by message.

A talk is a conversation script whose messages each have a judgement under them: `= answer`, `answer /regex/`, `ask`,
`silent`, `any`, `free`, or acts (`= gravity sg=1.040 & temperature temp_c=21`), alternatives apart by ` | `; `!` says the
same in plain words, for when the message was not taken.
"""

import re
import shlex
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bot.cellar.log.fold import Entry
from bot.cellar.log.plain import to_plain
from bot.edges import script
from bot.edges.console import ConsoleChat
from bot.house.desk import Desk
from bot.store.database import open_engine, sqlite_url
from bot.store.unit import Units

MESSAGE = re.compile(
    r"(?P<who>[^\s:@+#>=!][^:]{0,40}?)(?P<how> replies bot| privately)?: (?P<text>.*)", re.DOTALL
)
ANSWERS = frozenset({"answer", "ask", "silent", "any", "free"})
LOST = re.compile(r"I did not get that|Did you mean: asked\?")
"""Words that neither answer nor ask anything of use."""

CLASSES = ("right", "harmful", "partial", "silent", "asked", "answered", "noisy")

Act = Mapping[str, Any]


@dataclass
class Line:
    """A line of a talk: a moment, or a message with its judgement and the same in plain words."""

    text: str
    who: str | None = None
    want: str = "free"
    plainly: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Judged:
    """A message, what was wanted of it, what was written and said, and the class that this is of."""

    talk: str
    chat: str
    line: str
    want: str
    wrote: Sequence[Act]
    said: str
    verdict: str

    @property
    def for_talk(self) -> bool:
        """It was said between people alone."""
        return {kind for kind, _ in wants(self.want)} == {"silent"}

    @property
    def for_bot(self) -> bool:
        return not {kind for kind, _ in wants(self.want)} & {"silent", "any", "free"}


def read(path: Path) -> tuple[str, str, list[Line]]:
    """The `house:` line, the kind of chat, and the lines. Raises ValueError at a line of no known form."""
    house, chat, lines = "house: The Mill, Europe/London, imperial gallon, C", "family", []
    for raw in path.read_text(encoding="utf-8").splitlines():
        line = raw.rstrip()
        if not line or line.startswith("#"):
            continue
        if line.startswith("house:"):
            house = line
        elif line.startswith("chat:"):
            chat = line[5:].strip()
        elif line[0] == "=":
            lines[-1].want = line[1:].strip()
        elif line[0] == "!":
            lines[-1].plainly.append(line[1:].strip())
        elif line[0] in "@+" or line == "restart":
            lines.append(Line(line))
        elif found := MESSAGE.fullmatch(line):
            lines.append(Line(line, who=found["who"]))
        else:
            raise ValueError(f"{path.name}: cannot read line: {line}")
    return house, chat, lines


def wants(judgement: str) -> Iterator[tuple[str, Any]]:
    """The alternatives: ("acts", acts) or (a word, its regex or None)."""
    for alternative in judgement.split(" | "):
        alternative = alternative.strip()
        word = alternative.split()[0]
        if word in ANSWERS:
            wanted = re.search(r"/(.*)/\s*$", alternative)
            yield word, wanted and re.compile(wanted[1], re.IGNORECASE | re.DOTALL)
        else:
            yield "acts", [_act(words) for words in alternative.split(" & ")]


def _act(words: str) -> dict[str, str]:
    does, *fields = shlex.split(words)
    return {"do": does, **dict(part.split("=", 1) for part in fields)}


def same(want: Mapping[str, str], got: Act) -> bool:
    """Whether the act has what is wanted; only the keys named are compared, numbers within rounding."""
    for key, value in want.items():
        found = got.get(key)
        if value in ("null", "None"):
            fits = found is None
        elif found is None:
            fits = False
        elif isinstance(found, int | float) and not isinstance(found, bool):
            fits = _near(value, found, key)
        elif key in ("at", "until"):
            fits = str(found).startswith(value)
        elif key == "text":
            fits = re.search(value, str(found), re.IGNORECASE) is not None
        else:
            fits = str(found).casefold() == value.casefold()
        if not fits:
            return False
    return True


def _near(value: str, found: float, key: str) -> bool:
    try:
        wanted = float(value)
    except ValueError:
        return False
    return abs(wanted - found) <= max(1e-9, 0.0006 if key == "sg" else 0.006 * abs(wanted))


def _covers(wanted: Sequence[Mapping[str, str]], entries: Sequence[Act]) -> tuple[bool, list[Act]]:
    left = list(entries)
    for want in wanted:
        hit = next((entry for entry in left if same(want, entry)), None)
        if hit is None:
            return False, left
        left.remove(hit)
    return True, left


def judge(judgement: str, got: Sequence[Act], said: str) -> str:
    """The class of one message."""
    options = list(wants(judgement))
    if options[0][0] == "free":
        return "free"
    written = [entry for entry in got if entry["do"] != "question"]
    spoke = said and not LOST.match(said)
    for kind, wanted in options:
        if kind == "acts":
            whole, left = _covers([act for act in wanted if act["do"] != "question"], written)
            if whole and not left:
                return "right"
        elif not written and (
            kind == "any"
            or (kind == "silent" and not said)
            or (kind == "ask" and spoke)
            or (kind == "answer" and spoke and (wanted is None or wanted.search(said)))
        ):
            return "right"
    acts = [wanted for kind, wanted in options if kind == "acts"]
    if written:
        part = any(all(any(same(act, entry) for act in wanted) for entry in written) for wanted in acts)
        return "partial" if part else "harmful"
    if not said:
        return "silent"
    if all(kind == "silent" for kind, _ in options):
        return "noisy"
    return "asked" if acts else "answered"


class _Table:
    """A household at a desk of its own, with a clock."""

    def __init__(self, folder: Path, house: str, chat: str) -> None:
        self.units = Units(open_engine(sqlite_url(folder / "talk.db")))
        self.chat = ConsoleChat(
            lambda: Desk(Units(open_engine(sqlite_url(folder / "talk.db"))), timezone="UTC")
        )
        self.player = script._Player(self.chat, lambda line: None)
        self.do(f"{house}, {chat}")

    def do(self, line: str) -> None:
        script._one(self.player, 0, line)

    def say(self, line: str) -> tuple[list[dict[str, Any]], str]:
        """What a message wrote, and what was said to it, a minute after the one before."""
        self.do("+ 1m")
        before = self._entries(0)
        self.do(line)
        said = [_seen(message) for message in self.player.heard if not message.edited]
        return [to_plain(entry.act) for entry in self._entries(len(before))], "\n".join(said)

    def _entries(self, after: int) -> list[Entry]:
        with self.units.read() as unit:
            return [row.entry for row in unit.log.all_entries()][after:]

    def close(self) -> None:
        self.units.close()
        self.chat.close()


def _seen(message: script.Heard) -> str:
    lines = [message.text]
    if message.buttons:
        lines.append(" ".join(f"[{label}]" for label in message.buttons))
    return "\n".join([*lines, *map(str, message.files)])


def play(path: Path, folder: Path) -> list[Judged]:
    """Plays a talk on a fresh database in the folder. A message that was not taken is said again in plain words."""
    chat = read(path)[1]
    return [
        Judged(path.stem, chat, line.text, line.want, wrote, said, judge(line.want, wrote, said))
        for line, wrote, said in lines_played(path, folder)
    ]


def lines_played(
    path: Path, folder: Path, before: Callable[[Line], None] = lambda line: None
) -> Iterator[tuple[Line, Sequence[Act], str]]:
    """Each message of a talk as it is played, with what it wrote and what was said to it; `before` is told of each
    before it is said."""
    house, chat, lines = read(path)
    table = _Table(folder, house, chat)
    for line in lines:
        if line.who is None:
            table.do(line.text)
            continue
        before(line)
        wrote, said = table.say(line.text)
        yield line, wrote, said
        for text in _again(line, judge(line.want, wrote, said), wrote):
            table.say(f"{line.who}: {text}")
    table.close()


def _again(line: Line, verdict: str, wrote: Sequence[Act]) -> list[str]:
    asked_rightly = {kind for kind, _ in wants(line.want)} == {"acts", "ask"} and not any(
        act["do"] != "question" for act in wrote
    )
    wrong = verdict == "harmful" or (verdict == "partial" and bool(line.plainly))
    missed = verdict in ("silent", "asked", "answered") or (verdict == "right" and asked_rightly)
    return [*(["undo"] if wrong else []), *(line.plainly if wrong or missed else [])]


@dataclass(frozen=True)
class Score:
    """How a set of messages was heard, in hundredths; what the shares are of."""

    counts: Counter[str]
    heard: float
    silent: float
    wrong: float
    noise: float
    meant: int
    talk: int

    def __str__(self) -> str:
        return (
            f"heard {self.heard:.1f} % of {self.meant}, silent on {self.silent:.1f} %; wrong or half entries "
            f"{self.wrong:.2f} % of {sum(self.counts.values())} ({self.counts['harmful']} + {self.counts['partial']}); "
            f"asked {self.counts['asked']}, beside the point {self.counts['answered']}; a word into {self.noise:.1f} % "
            f"of {self.talk} lines of talk"
        )


def score(judged: Sequence[Judged]) -> Score:
    """The figures of the messages judged."""
    told = [one for one in judged if one.verdict != "free"]
    counts = Counter(one.verdict for one in told)
    meant = Counter(one.verdict for one in told if one.for_bot)
    talk = Counter(one.verdict for one in told if one.for_talk)

    def share(part: int, whole: int) -> float:
        return 100 * part / (whole or 1)

    bot, people = sum(meant.values()), sum(talk.values())
    return Score(
        counts=counts,
        heard=share(meant["right"], bot),
        silent=share(meant["silent"], bot),
        wrong=share(counts["harmful"] + counts["partial"], len(told)),
        noise=share(talk["noisy"], people),
        meant=bot,
        talk=people,
    )
