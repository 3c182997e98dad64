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
from bot.understand.judge.sayings import hear
from bot.understand.scene import Scene
from bot.understand.text.message import Message
from bot.understand.text.sayings import sayings
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


def message(text: str, name: str = "harbour") -> Message:
    sent = datetime.fromisoformat(SENT.get(name, SENT_AT))
    return Message(text, scene_of(name), sent, by="ana", replying_to=None, addressed=True)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        (
            "scrubbed the bucket sanitised it mixed the plum",
            ["scrubbed the bucket", "sanitised it", "mixed the plum"],
        ),
        ("cleo stirred the white i stirred the plum", ["cleo stirred the white", "i stirred the plum"]),
        ("degassed the white the plum is 1.009", ["degassed the white", "the plum is 1.009"]),
        ("put campden in the plum after racking it", ["put campden in the plum", "after racking it"]),
        ("plum 1.006 can we rack it", ["plum 1.006", "can we rack it"]),
        ("the racked wine was stirred", ["the racked wine was stirred"]),
        ("racked the plum into the rinsed bucket 3", ["racked the plum into the rinsed bucket 3"]),
        ("did we rack the plum", ["did we rack the plum"]),
    ],
)
def test_a_saying_ends_where_something_else_begins_without_a_word_that_joins(
    text: str, parts: Sequence[str]
) -> None:
    whole = message(text)
    assert [whole.words_of(part.spans) for part in sayings(whole)] == parts


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # a piece that only names says what the pieces after it are about
        ("had a peek at the plum too: it shows 1.007", "g plum 1.007"),
        ("Plum. Stirred. 1.011. White. Stirred. 1.061.", "s plum stir; g plum 1.011; s harbour white stir; g harbour white 1.061"),
        ("dev did the white (1.059, stirred), bo did the plum (1.008, stirred)", "g harbour white 1.059; s harbour white stir; g plum 1.008; s plum stir"),
        ("White | 1.062 | 18.5 | stirred\nPlum | 1.010 | 20.5 | stirred", "g harbour white 1.062; t harbour white 18.5; s harbour white stir; g plum 1.010; t plum 20.5; s plum stir"),
        # a time that leads holds for what goes on after it
        ("Yesterday: racked the plum, 1.003. Today: white 1.052.", "s plum rack @03-03; g plum 1.003 @03-03; g harbour white 1.052"),
        # numbers in a row
        ("White and plum: 1.060 and 1.009.", "g harbour white 1.060; g plum 1.009"),
        ("white 1.060, plum 1.009, 18, 20", "g harbour white 1.060; g plum 1.009; t harbour white 18; t plum 20"),
        # what is not done, put off or only wanted
        ("plum 1.007, white 1.054, stirred neither", "g plum 1.007; g harbour white 1.054"),
        ("plum 1.007, finings later", "g plum 1.007"),
        ("wanted to fine the plum but the packet was empty, 1.001", "g plum 1.001"),
        # what is told with a value in one breath
        ("plum racked to bucket 3 added 3 campden 1.002", "s plum rack >bucket 3; a plum sulphite 3 tablet; g plum 1.002"),
        ("plum fell from 1.016 to 1.012", "g plum 1.012"),
        ("plum racked into bucket 3, two tablets in", "s plum rack >bucket 3; a plum sulphite 2 tablet"),
        # what is told of several is of each
        ("plum and white stirred too", "s plum stir; s harbour white stir"),
        ("campden, 3 crushed into each", "a plum sulphite 3 tablet; a harbour white sulphite 3 tablet"),
        ("stirred. both", "s plum stir; s harbour white stir"),
        ("degassed, 8 minutes each", "s plum degas; s harbour white degas"),
        ("20 all", "t plum 20; t harbour white 20"),
        ("yeast into each of them. oak into the plum only", "s plum pitch; s harbour white pitch; a plum oak"),
        ("packets b + c in the plum", "a plum sachet B; a plum sachet C"),
        ("k-meta and the sorbate are in the plum", "a plum sulphite; a plum sorbate"),
        ("second lot of finings in the plum, 10 ml", "a plum finings 10 ml"),
        # what is no fact of its own
        ("plum: one campden per gallon, so five tablets in", "a plum sulphite 5 tablet"),
        ("had a bottle of the rosé with pie, 8 out of 10", "b last year's rosé -1 drank"),
        ("dropped one rosé on the step. 16", "b last year's rosé -1 broke"),
        ("plum 1.009, must be about 30 blips a minute", "g plum 1.009"),
        # what is put right in the message
        ("plum: first I thought 1.019, then 1.009, but it's 1.012", "g plum 1.012"),
        ("white 1.061 (prev. 1.072)", "g harbour white 1.061"),
        ("plum was 1.012 this morning and 1.012 again now", "g plum 1.012; g plum 1.012"),
        ("plum, for 1.121 read 1.012", "g plum 1.012"),
        # colour
        ("Evening, all. Plum 1.010, radio on, airlocks topped up, both times it said so.", "g plum 1.010"),
        ("had a bottle of the rosé with the stew, gave another to aunt flo", "b last year's rosé -1 drank; b last year's rosé -1 gave"),
    ],
)  # fmt: skip
def test_what_the_sayings_of_a_message_come_to(text: str, expected: str) -> None:
    whole = message(text)
    verdict = hear(whole).verdict
    assert verdict is not None
    found = [each for act in verdict.acts for each in told(to_plain(act), whole.sent_at)]
    assert right(expected, found), found


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("0.995, 18 degrees. shall we rack it?", "g damson 0.995; t damson 18; q"),
        ("remind me to stabilise the damson on friday. it is 0.994 now", "r; g damson 0.994"),
    ],
)
def test_facts_beside_a_question_or_a_wish_are_kept(text: str, expected: str) -> None:
    verdict, found = read("solo", text)
    assert verdict.verdict == "act"
    assert right(expected, found), found


def test_heats_told_in_turn_take_no_bottles_off_the_shelf() -> None:
    _, found = read("harbour", "Took the temperatures of the two, 20 and 18.")
    assert not any(each.startswith("b ") for each in found)
