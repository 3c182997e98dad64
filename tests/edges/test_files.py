"""Letters with files, over real HTTP."""

import threading
from pathlib import Path
from typing import Any

import pytest

from bot.house.desk import Desk
from bot.house.letters import calendar as dates_to_come
from bot.house.talk import Attached
from bot.say import calendar as calendars
from bot.store.database import open_engine, sqlite_url
from bot.store.unit import Units
from tests.botapi.double import BotApi
from tests.edges.bench import Bench, buttons, wait_until

CALENDAR = Attached(name="calendar.ics", media_type="text/calendar", kind="calendar")


def post_file(bench: Bench, content: bytes | None = b"BEGIN:VCALENDAR", **fields: Any) -> int:
    number = len(bench.recording.letters) + 1
    if content is not None:
        bench.recording.contents[number] = content
    assert bench.post(file=CALENDAR, **fields) == number
    return number


def test_a_file_goes_as_a_document_with_its_words(bench: Bench) -> None:
    forum = bench.world.group(forum=True)
    bench.start()
    asked = bench.world.say("ana", "calendar", forum, thread_id=9)
    number = post_file(
        bench,
        chat_id=forum,
        html="<b>Yours</b> &lt;",
        buttons=buttons("Fine"),
        reply_to=asked,
        thread_id=9,
    )
    wait_until(lambda: number in bench.recording.fates, "marked")
    (sent,) = bench.world.sent
    assert (sent.text, sent.labels, sent.reply_to, sent.thread_id) == ("Yours <", ("Fine",), asked, 9)
    assert (sent.file_name, sent.media_type) == ("calendar.ics", "text/calendar")
    assert list(bench.world.files.values()) == [b"BEGIN:VCALENDAR"]
    assert bench.recording.fates[number] == sent.message_id


def test_a_file_with_bad_markup_or_without_its_topic_goes_all_the_same(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    number = post_file(bench, chat_id=group, html="<b>Yours", thread_id=9, reply_to=12345)
    wait_until(lambda: number in bench.recording.fates, "marked")
    (sent,) = bench.world.sent
    assert (sent.text, sent.file_name, sent.thread_id) == ("Yours", "calendar.ics", None)


def test_a_file_is_tried_again_and_sent_once(bench: Bench) -> None:
    group = bench.world.group()
    bench.world.fail("sendDocument", 502, times=2)
    bench.recording.failing["file"] = 2
    bench.start()
    number = post_file(bench, chat_id=group, html="Yours")
    wait_until(lambda: number in bench.recording.fates, "marked")
    assert [sent.file_name for sent in bench.world.sent] == ["calendar.ics"]


def test_a_file_that_is_gone_does_not_hold_up_the_rest(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    number = post_file(bench, None, chat_id=group, html="Yours")
    after = bench.post(chat_id=group, html="after it")
    wait_until(lambda: after in bench.recording.fates, "sent")
    assert bench.world.said(group) == ["after it"]
    assert bench.recording.fates[number] == "its file is gone"


def test_the_words_of_a_file_are_changed_where_they_are(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    first = post_file(bench, chat_id=group, html="Yours")
    wait_until(lambda: first in bench.recording.fates, "sent")
    where = bench.recording.fates[first]
    second = bench.post(chat_id=group, html="<b>No longer so", edits=where, buttons=buttons("Fine"))
    wait_until(lambda: second in bench.recording.fates, "changed")
    again = bench.post(chat_id=group, html="<b>No longer so", edits=where, buttons=buttons("Fine"))
    wait_until(lambda: again in bench.recording.fates, "an edit that changes nothing counts as sent")
    assert bench.recording.fates[second] == bench.recording.fates[again] == where
    changed = bench.world.sent[-1]
    assert (changed.text, changed.edited, changed.labels) == ("No longer so", True, ("Fine",))
    assert len(bench.world.sent) == 2


def test_words_too_long_for_a_file_are_said_in_a_message_of_their_own(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    first = post_file(bench, chat_id=group, html="Yours")
    wait_until(lambda: first in bench.recording.fates, "sent")
    long = bench.post(chat_id=group, html="x" * 2000, edits=bench.recording.fates[first])
    wait_until(lambda: long in bench.recording.fates, "sent")
    assert bench.world.said(group) == ["Yours", "x" * 2000]
    assert bench.recording.fates[long] != bench.recording.fates[first]


def test_nobody_waits_while_another_house_gets_its_calendar(
    api: BotApi, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, answered = threading.Event(), threading.Event()
    written = calendars.calendar

    def slowly(*given: Any) -> bytes:
        begun.set()
        assert answered.wait(15), "the other house was not answered meanwhile"
        return written(*given)

    monkeypatch.setattr(calendars, "calendar", slowly)
    units = Units(open_engine(sqlite_url(tmp_path / "house.db")))
    world = api.world
    big, other = world.group("Big House"), world.group("Other House")
    with Bench(api, Desk(units, timezone="UTC")) as bench:
        bench.start()
        world.say("ana", "begin plum in bucket 1", big)
        wait_until(lambda: world.said(big), "begun")
        world.say("ana", "calendar", big)
        wait_until(begun.is_set, "the calendar is being written")
        world.say("bo", "begin pear in bucket 2", other)
        wait_until(lambda: world.said(other), "the other house is answered first")
        assert not world.files
        answered.set()
        wait_until(lambda: world.files, "sent")
    (content,) = world.files.values()
    assert content.startswith(b"BEGIN:VCALENDAR")
    assert b"plum" in content
    units.close()


def test_a_file_that_was_kept_written_out_is_sent_as_it_is() -> None:
    assert dates_to_come.written_out(b"BEGIN:VCALENDAR") == b"BEGIN:VCALENDAR"
