"""A bare gravity or temperature is read once: its sayings would tell nothing else."""

from datetime import datetime
from itertools import permutations, product

import pytest

from bot.understand.judge.choice import choice
from bot.understand.judge.judge import meaning
from bot.understand.judge.sayings import SayingsRead, hear
from bot.understand.text.message import Message
from bot.understand.verdict import Verdict
from tests.understand.labelled import FIXTURES, SENT_AT, house

NOW = datetime.fromisoformat(SENT_AT)
FIGURES = (
    *product(("sg", "gravity", "hydrometer"), ("1.012", "1.062", "0.996", "1012")),
    *product(("temp", "temperature", "thermometer"), ("21", "18.5", "70")),
    *product(("",), ("21c", "18.5 °C", "70 f")),
)
HOUSES = sorted(path.stem for path in (FIXTURES / "houses").glob("*.json"))


def _read(text: str, name: str, *, for_wine: bool) -> tuple[Verdict, SayingsRead | None]:
    weighed: list[SayingsRead | None] = []
    verdict = meaning(
        text, house(name), NOW, for_wine=for_wine, weighed=lambda _, __, heard, ___: weighed.append(heard)
    )
    return verdict, weighed[0]


@pytest.mark.parametrize("name", HOUSES)
def test_of_a_bare_figure_the_sayings_tell_the_same(name: str) -> None:
    scene = house(name)
    names = [*(vessel.name for vessel in scene.vessels), *(batch.name for batch in scene.batches)]
    names = [
        each for each in names if each != "demijohn"
    ]  # a wine called so is asked about: it may be any of these
    bare = 0
    for number, (figure, of) in enumerate(product(FIGURES, names)):
        for words in permutations([word for word in (*figure, of) if word]):
            text, for_wine = " ".join(words), number % 2 == 0
            verdict, heard = _read(text, name, for_wine=for_wine)
            if heard is not None:
                continue
            bare += 1
            message = Message(text, scene, NOW, by=None, replying_to=None, addressed=for_wine)
            told = choice(
                verdict, hear(message), message, to_bot=False, for_wine=for_wine, spoke=lambda: None
            )
            assert told.verdict == verdict, text
    assert bare or not scene.batches


@pytest.mark.parametrize(
    "text", ["final gravity 1.012 plum", "sg 1.012", "sg 1.012 plum, racked", "plum 1.012 21c", "sg plum?"]
)
def test_whatever_says_more_or_less_is_read_twice(text: str) -> None:
    assert _read(text, "harbour", for_wine=True)[1] is not None
