"""Whole talks of households, judged message by message: every line is of the form, every judgement of the vocabulary;
and played, they are heard at least as well as they were (`sh ops/talks` prints how well).

What a talk is: a conversation script whose messages each have a judgement under them. `= answer`, `ask`, `silent`, `any`,
`free`, or acts (`= gravity sg=1.040 & temperature temp_c=21`), alternatives apart by ` | `; `!` says the same in plain words.
One in three is set aside by the CRC-32 of its name: nothing is tuned to `aside-*`.
"""

import re
import shlex
import tempfile
import zlib
from pathlib import Path

import pytest

from tests.talks import Judged, play, score

TALKS = sorted((Path(__file__).parent.parent / "fixtures" / "talks").glob("*.txt"))
MESSAGE = re.compile(r"(?P<who>[^\s:@+#>=!][^:]{0,40}?)(?: replies bot| privately)?: (?P<text>.*)")
ANSWERS = frozenset({"answer", "ask", "silent", "any", "free"})
ACTS = frozenset(
    {
        "claim",  # of a chore, as of a reminder: nobody asks which
        "gravity",
        "temperature",
        "ph",
        "acidity",
        "volume",
        "addition",
        "step",
        "begin",
        "bottles",
        "draw",
        "note",
        "question",
        "undo",
        "cost",
        "reminder",
    }
)


@pytest.mark.parametrize("path", TALKS, ids=lambda path: path.stem)
def test_a_talk_is_of_the_form_and_every_message_is_judged(path: Path) -> None:
    unjudged, messages, begun = (
        "",
        0,
        False,
    )  # a talk from mid-way is told its start first, without judgements
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        place = f"{path.name}:{number}: {line}"
        if not line.strip() or line.startswith(("#", "house:", "@", "+", "!")) or line == "restart":
            continue
        if line.startswith("chat:"):
            assert line.removeprefix("chat:").strip() in ("wine", "family"), place
        elif line.startswith("="):
            assert unjudged, place
            _judged(line[1:].strip(), place)
            unjudged, begun = "", True
        else:
            assert not (unjudged and begun), f"not judged: {unjudged}"
            assert MESSAGE.fullmatch(line), place
            unjudged, messages = place, messages + 1
    assert not unjudged, f"not judged: {unjudged}"
    assert messages >= 25


def _judged(judgement: str, place: str) -> None:
    for alternative in judgement.split(" | "):
        first = alternative.split()[0]
        if first in ANSWERS:
            continue
        for act in alternative.split(" & "):
            does, *fields = shlex.split(act)
            assert does in ACTS, place
            assert all("=" in field for field in fields), place


def test_one_talk_in_three_is_set_aside_by_its_name() -> None:
    assert len(TALKS) >= 40
    for path in TALKS:
        kind, _, name = path.stem.partition("-")
        assert (zlib.crc32(name.encode()) % 3 == 0) == (kind == "aside"), path.name


EVERY = 32
"""One talk in so many is played here: all of them take minutes (`sh ops/talks`)."""


@pytest.fixture(scope="module")
def played() -> list[Judged]:
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as folder:
        return [one for path in TALKS[::EVERY] for one in _play(path, Path(folder) / path.stem)]


def _play(path: Path, folder: Path) -> list[Judged]:
    folder.mkdir()
    return play(path, folder)


@pytest.mark.parametrize(
    ("kept", "chat", "heard", "wrong", "silent"),
    [
        ("seen", "wine", 83, 5, 4),
        ("seen", "family", 78, 3, 16),
        ("aside", "wine", 74, 7, 7),
        ("aside", "family", 64, 6, 22),
    ],
)
def test_talks_are_heard_as_well_as_they_were(
    played: list[Judged], kept: str, chat: str, heard: float, wrong: float, silent: float
) -> None:
    found = score([one for one in played if one.talk.startswith(kept) and one.chat == chat])
    assert found.heard >= heard, found
    assert found.wrong <= wrong, found
    assert found.silent <= silent, found
    assert found.noise <= 7 or chat == "wine", found
