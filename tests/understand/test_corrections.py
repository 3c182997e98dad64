"""What puts right or takes back what was written down: whose words, how soon, and about what."""

from datetime import UTC, datetime, timedelta
from typing import Any

import msgspec
import pytest

from bot.cellar.log.acts import Act, Addition, Amend, Bottles, GiveUp, Gravity, Question, Skip, Step, Undo
from bot.cellar.log.subjects import Matter
from bot.understand import understand
from bot.understand.scene import JustSaid, Recent, ReplyTo, Scene
from bot.understand.verdict import Doubt, Verdict
from tests.understand.labelled import house

NOW = datetime(2026, 3, 4, 19, 30, tzinfo=UTC)
LONG_AGO = NOW - timedelta(days=1)
READ = Recent(
    entry=9,
    act=Gravity(of="plum", sg=1.066),
    by="ana",
    said_at=NOW - timedelta(minutes=1),
    at=NOW - timedelta(minutes=1),
)


def told(*acts: Act) -> tuple[Recent, ...]:
    return tuple(Recent(entry=n, act=act, by="bo", said_at=LONG_AGO) for n, act in enumerate(acts, 3))


def scene(*recent: Recent, of_white: tuple[Recent, ...] = (), of_plum: tuple[Recent, ...] = ()) -> Scene:
    """The harbour house, in which it is known what was said."""
    harbour = house("harbour")
    plum, white, *rest = harbour.batches
    plum = msgspec.structs.replace(plum, told=of_plum, begun_in="bucket 2")
    white = msgspec.structs.replace(white, told=of_white)
    return msgspec.structs.replace(harbour, batches=(plum, white, *rest), recent=recent)


def read(text: str, where: Scene, *, spoke: str | None = None, **more: Any) -> Verdict:
    more.setdefault("by", "ana")
    if spoke is not None:
        where = msgspec.structs.replace(where, open=(JustSaid(of=spoke),))
    return understand(text, where, NOW, **more)


LOOSE = ["scrap that", "forget it", "ignore that", "no, that's wrong", "never mind that", "cancel that, typo"]


@pytest.mark.parametrize("text", LOOSE)
def test_words_of_people_count_at_once_from_whoever_wrote_last(text: str) -> None:
    assert read(text, scene(READ)).acts == (Undo(),)
    for other in (
        read(text, scene(READ), by="bo"),
        read(text, scene(msgspec.structs.replace(READ, said_at=NOW - timedelta(minutes=3)))),
        read(text, scene()),
        read(text, scene(READ), replying_to=ReplyTo()),
    ):
        assert other.verdict == "ignore"


@pytest.mark.parametrize("text", LOOSE)
def test_words_of_people_count_in_reply_to_an_entry(text: str) -> None:
    old = msgspec.structs.replace(READ, said_at=LONG_AGO)
    verdict = read(text, scene(READ), by="bo", replying_to=ReplyTo(of="plum", told=(old,)))
    assert verdict.acts == (Undo(),)


@pytest.mark.parametrize(
    "text", ["undo", "delete the last entry", "please undo that", "scratch my last reading"]
)
def test_what_names_the_log_is_an_undo_from_anybody_at_any_time(text: str) -> None:
    old = msgspec.structs.replace(READ, said_at=LONG_AGO)
    assert read(text, scene(old), by="bo").acts == (Undo(),)


@pytest.mark.parametrize("start", ["scrap that", "forget it", "no thats wrong", "ignore that", "cancel that"])
@pytest.mark.parametrize(
    "more", ["we eat at home", "its on tuesday", "nan is coming", "let's go to the beach"]
)
def test_words_that_go_on_about_something_else_are_talk(start: str, more: str) -> None:
    for text in (f"{start}, {more}", f"{start} - {more}", f"{more}, {start}"):
        assert read(text, scene(READ)).verdict == "ignore", text


@pytest.mark.parametrize(
    "text", ["that was the white", "that was for bucket 1", "it was the white, not the plum"]
)
def test_the_last_reading_goes_to_the_batch_that_is_named(text: str) -> None:
    moved = (Undo(entry=9), Gravity(of="harbour white", sg=1.066))
    assert (read(text, scene(READ)).verdict, read(text, scene(READ)).acts) == ("act", moved)
    later = msgspec.structs.replace(READ, said_at=NOW - timedelta(minutes=25))
    assert (read(text, scene(later)).verdict, read(text, scene(later)).acts) == ("ask", moved)
    assert read(text, scene(msgspec.structs.replace(READ, said_at=LONG_AGO))).verdict == "ignore"


def test_a_corrected_figure_is_held_against_what_was_read_before_it() -> None:
    where = scene(msgspec.structs.replace(READ, act=Gravity(of="plum", sg=1.004, temp_c=25.0)))
    plum, *rest = where.batches
    plum = msgspec.structs.replace(plum, readings=(*plum.readings, (READ.said_at, 1.0052)))
    where = msgspec.structs.replace(where, batches=(plum, *rest))
    assert read("no make that 1.014", where).verdict == "act"
    assert read("no make that 1.114", where).verdict == "ask"


PITCHED = told(Step(of="harbour white", step="pitch"), Addition(of="harbour white", what="yeast"))
NEXT = Question(subject=Matter(about="next"), of="harbour white")


@pytest.mark.parametrize(
    "text",
    [
        "the yeast never went in",
        "we never pitched the white",
        "turns out nobody put the yeast in",
        "the white didn't get its yeast after all",
        "forgot to pitch the yeast, it never went in",
    ],
)
def test_what_was_never_done_is_struck_out_and_is_next(text: str) -> None:
    verdict = read(text, scene(of_white=PITCHED))
    assert (verdict.verdict, verdict.acts) == ("act", (Undo(entry=3), Undo(entry=4), NEXT))
    assert read(text, scene()).verdict == "ignore"


def test_no_yeast_is_doubted_once_it_has_fallen() -> None:
    where = scene(of_plum=told(Step(of="plum", step="pitch")))
    assert read("the yeast never went in the plum", where).doubt is Doubt.STRIKE_OUT


@pytest.mark.parametrize("text", ["don't rack the white", "no racking yesterday", "we never went to the sea"])
def test_other_denials_strike_nothing_out(text: str) -> None:
    assert read(text, scene(of_white=told(Step(of="harbour white", step="rack")))).verdict == "ignore"


@pytest.mark.parametrize(
    ("text", "act"),
    [
        ("it's a 14 day kit", Amend(of="plum", days=14)),
        ("14 day kit", Amend(of="plum", days=14)),
        ("skip the racking, the leaflet says leave it", Skip(of="plum", step="rack")),
        ("poured it all away", GiveUp(of="plum")),
        ("binned it", GiveUp(of="plum")),
    ],
)
def test_it_is_what_the_bot_spoke_of_last(text: str, act: Act) -> None:
    assert act in read(text, scene(), spoke="plum").acts
    assert act in read(text, scene(), replying_to=ReplyTo(of="plum")).acts
    if not isinstance(act, Skip):
        assert read(text, scene()).verdict == "ignore"


def test_a_reply_to_something_else_is_about_that() -> None:
    solo = msgspec.structs.replace(house("solo"), recent=())
    assert read("poured it away", solo).doubt is Doubt.GIVE_UP
    assert read("poured it away", solo, replying_to=ReplyTo()).verdict == "ignore"


def test_a_batch_is_never_thrown_away_without_a_yes() -> None:
    for text in ("threw the plum out", "poured the plum away", "gave up on the plum"):
        verdict = read(text, scene())
        assert (verdict.verdict, verdict.doubt, verdict.acts) == ("ask", Doubt.GIVE_UP, (GiveUp(of="plum"),))


def test_another_vessel_is_a_racking_or_where_it_began() -> None:
    verdict = read("plum is in bucket 3", scene())
    assert verdict.options == (
        (Step(of="plum", step="rack", to="bucket 3"),),
        (Amend(of="plum", vessel="bucket 3"),),
    )


def test_a_bare_count_is_of_bottles_where_bottles_were_spoken_of() -> None:
    def count(spoke: JustSaid | None) -> Verdict:
        where = msgspec.structs.replace(scene(), open=(spoke,) if spoke is not None else ())
        return understand("12 left", where, NOW, by="ana")

    assert count(JustSaid(asked="stock")).acts == (Bottles(of="last year's rosé", change=-5, left=12),)
    assert count(JustSaid(of="last year's rosé")).verdict in ("act", "ask")
    assert count(JustSaid(of="plum")).verdict == "ignore"
    assert count(None).verdict == "ask"
