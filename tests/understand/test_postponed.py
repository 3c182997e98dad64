"""What puts a letter's chore off or takes it on, in any words, and what people say to each other just after it."""

from datetime import UTC, datetime, timedelta

import msgspec
import pytest

from bot.cellar.log.acts import Act, PutOff, TakeOn
from bot.understand import reading
from bot.understand.scene import LetterSaid, Scene, SceneBatch, SceneVessel, Thing

NOW = datetime(2026, 3, 4, 18, 10, tzinfo=UTC)
HOUSE = Scene(
    members=("ana", "bo"),
    batches=(
        SceneBatch(
            name="plum",
            vessel="bucket 1",
            colour="red",
            readings=((NOW - timedelta(days=2), 1.080),),
            next=("gravity", "rack"),
        ),
    ),
    vessels=(SceneVessel(name="bucket 1"), SceneVessel(name="bucket 2")),
)
WAITS = Thing(id=1, of="plum", measure="gravity", what="reading")


def told(text: str, minutes: int, *, for_wine: bool = False, earlier: bool = False) -> tuple[Act, ...]:
    letter = LetterSaid(things=(WAITS,), ago=timedelta(minutes=minutes), earlier=earlier)
    scene = msgspec.structs.replace(HOUSE, open=(letter,))
    verdict = reading(text, scene, NOW, by="bo", for_wine=for_wine)
    return verdict.acts if verdict.verdict == "act" else ()


@pytest.mark.parametrize(
    ("text", "hour"),
    [
        ("not now, bathing the baby. ask us again at nine", 21),
        ("can't right now, hoover's out. nudge me at eight", 20),
        ("can it wait till half seven", None),
    ],
)
@pytest.mark.parametrize("earlier", [False, True])
def test_it_is_put_off(text: str, hour: int | None, *, earlier: bool) -> None:
    (act,) = told(text, 5, earlier=earlier)
    assert isinstance(act, PutOff)
    assert act.of == "plum"
    assert hour is None or (act.until is not None and act.until.hour == hour)


def test_what_cannot_be_tonight_is_for_tomorrow() -> None:
    (act,) = told("can't do it tonight, I've got choir", 5)
    assert isinstance(act, PutOff)
    assert act.until is not None
    assert act.until.date() == NOW.date() + timedelta(days=1)


def test_it_is_taken_on() -> None:
    (act,) = told("fine, mine, i'll do the hydrometer", 5)
    assert isinstance(act, TakeOn)
    assert act.what == "reading"


@pytest.mark.parametrize(
    "text",
    [
        "parents evening tomorrow",
        "ill do tea tomorrow",
        "can't come thursday, dentist",
        "dad will fetch you at six",
        "ask me again tomorrow about the car",
        "not home till 9, save me some dinner",
        "no wait was that monday",
        "who's doing the bins",
    ],
)
def test_people_are_left_to_their_talk(text: str) -> None:
    assert told(text, 2) == ()


@pytest.mark.parametrize("text", ["can't do it tonight, I've got choir", "can it wait till half seven"])
def test_hours_later_it_may_be_about_anything(text: str) -> None:
    assert told(text, 300) == ()
