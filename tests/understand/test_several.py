"""Messages that tell several things at once, told by different people: how many are heard whole.

`several.txt` holds one a line, `text -> all that it tells`; `# house NAME` chooses the house of the lines below, `\\n` is
a new line in the message. What is told is written short and in any order, `;` between two, ` | ` between ways that are
as right: `g plum 1.010` (gravity), `t plum 21` (°C), `ph plum 3.4`, `v plum 22` (litres), `d plum 1` (drawn off),
`s plum rack >bucket 3`, `s plum bottle 28`, `a plum sulphite 2 tablet`, `b rosé -2 drank`, `b rosé left 12`, `ves bucket 3
clean`, `split plum`, `skip plum stir`, `r` (anything of reminders), `q next` (a question). `?` at the end may be told or
not; `*` is any batch; `@03-03` its day, where that is not today. What is kept as a note is as good as left away.

A third of the lines is set apart (those whose text has a CRC-32 that three divides): of these only the total is looked at.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any
from zlib import crc32

import msgspec
import pytest

from bot.cellar.log.plain import to_plain
from bot.understand import meaning
from bot.understand.scene import Scene
from bot.understand.verdict import Verdict
from tests.understand.labelled import house
from tests.understand.tables import SENT, SENT_AT

TABLE = Path(__file__).with_name("several.txt")
FERMENTS = ("gravity", "rack", "degas", "stabilise", "fine", "bottle")
WAITS = {
    "plum": FERMENTS,
    "harbour white": FERMENTS,
    "porch red": FERMENTS,
    "sunny white": ("stabilise", "degas", "fine", "rack", "bottle"),
    "damson": ("gravity", "rack", "degas", "stabilise", "fine", "bottle"),
    "beet": ("sanitise", "mix", "gravity", "pitch", "rack", "degas", "stabilise", "fine", "bottle"),
    "quince": ("bottle",),
}
"""What the plan of each batch waits for."""


def told(act: dict[str, Any], sent: datetime) -> list[str]:
    """An act written as in the table; [] for what is as good as left away."""
    kind, of = act["do"], act.get("of") or "*"
    at = act.get("at")
    day = f" @{at[5:10]}" if at and at[:10] != sent.isoformat()[:10] else ""
    match kind:
        case "note":
            return []
        case "gravity":
            warm = act.get("temp_c")
            sample = [f"t {of} {warm:.4g}{day}"] if warm is not None else []
            return [f"g {of} {act['sg']:.3f}{day}", *sample]
        case "temperature":
            return [f"t {of} {act['temp_c']:.4g}{day}"]
        case "ph":
            return [f"ph {of} {act['ph']:g}{day}"]
        case "volume":
            return [f"v {of} {act['litres']:g}{day}"]
        case "draw":
            return [f"d {of} {act['litres']:g}{day}"]
        case "addition":
            amount = f" {act['amount']:g}" if act.get("amount") else ""
            return [f"a {of} {act['what']}{amount}{' ' + act['unit'] if act.get('unit') else ''}{day}"]
        case "step":
            more = f" >{act['to']}" if act.get("to") else ""
            more += f" {act['bottles']}" if act.get("bottles") else ""
            return [f"s {of} {act['step']}{more}{day}"]
        case "bottles":
            count = f"left {act['left']}" if act.get("left") is not None else f"{act['change']:+d}"
            return [f"b {of} {count} {act.get('reason') or ''}".strip()]
        case "vessel":
            return [f"ves {of} {act.get('state')}"]
        case "question":
            return [f"q {act['about']} {act.get('of') or ''}".strip()]
        case "reminder":
            return ["r"]
        case _:
            return [f"{kind} {of}"]


def right(way: str, found: Sequence[str]) -> bool:
    """Whether all that a way wants was found, and nothing else."""
    left = list(found)
    for wanted in (each.strip() for each in way.split(";")):
        may, want = wanted.endswith("?"), wanted.removesuffix("?").strip()
        hit = next((each for each in left if _same(want, each)), None)
        if hit is not None:
            left.remove(hit)
        elif not may:
            return False
    return not left


def _same(want: str, found: str) -> bool:
    if want.startswith("q"):
        return found.startswith(want)
    if want.startswith("g "):
        return (
            found.startswith("g ")
            and want.split(" @")[1:] == found.split(" @")[1:]
            and _number(want) == _number(found)
        )
    yeast = want.endswith(" pitch") and found.startswith(f"a {want.split()[1]} yeast")
    if want.startswith("s * "):
        return found.startswith("s ") and want.split()[2] in found.split()
    fined = want.endswith(" fine") and found == f"a {want[2:-5]} finings"
    return found == want or yeast or fined or (want.startswith("skip") and found.startswith("skip"))


def _number(reading: str) -> tuple[str, float]:
    name, _, figure = reading.split(" @")[0].rpartition(" ")
    return name, float(figure)


@cache
def _lines() -> list[tuple[str, str, str]]:
    found = []
    name = "harbour"
    for line in TABLE.read_text(encoding="utf-8").splitlines():
        if line.startswith("# house "):
            name = line.removeprefix("# house ")
        elif line and not line.startswith("#"):
            text, _, expected = line.rpartition(" -> ")
            if text:
                found.append((name, text.replace("\\n", "\n"), expected))
    return found


def apart(text: str) -> bool:
    """Whether a line is set apart."""
    return crc32(text.encode()) % 3 == 0


def scene_of(name: str) -> Scene:
    """The house, with what the plans of its batches wait for."""
    scene = house(name)
    batches = tuple(
        msgspec.structs.replace(batch, next=batch.next or WAITS.get(batch.name, ()))
        for batch in scene.batches
    )
    return msgspec.structs.replace(scene, batches=batches)


def read(name: str, text: str, **more: Any) -> tuple[Verdict, list[str]]:
    """The verdict on a message in a chat for the wine, and what it tells."""
    sent = datetime.fromisoformat(SENT.get(name, SENT_AT))
    scene = scene_of(name)
    verdict = meaning(text, scene, sent, by=scene.members[0], for_wine=True, **more)
    return verdict, [each for act in verdict.acts for each in told(to_plain(act), sent)]


def heard(lines: Iterable[tuple[str, str, str]]) -> list[tuple[str, str, str, Verdict, list[str]]]:
    """The lines that are not heard whole, and what was made of them."""
    missed = []
    for name, text, expected in lines:
        verdict, found = read(name, text)
        ways = expected.split(" | ")
        if verdict.verdict != "act" or not any(right(way, found) for way in ways):
            missed.append((name, text, expected, verdict, found))
    return missed


@pytest.mark.parametrize(("set_apart", "least"), [(False, 0.5), (True, 0.4)])
def test_so_many_are_heard_whole(set_apart: bool, least: float) -> None:
    lines = [line for line in _lines() if apart(line[1]) == set_apart]
    missed = heard(lines)
    assert 1 - len(missed) / len(lines) >= least
