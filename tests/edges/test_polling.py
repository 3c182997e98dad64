"""Updates in, over real HTTP: nothing lost, nothing twice, nothing held up."""

import json
import logging
import socket
import threading
from datetime import datetime
from typing import Any

import pytest

from bot.edges.telegram.service import TelegramEdge, TokenRefusedError
from bot.house.talk import Incoming
from tests.botapi.double import BotApi
from tests.edges.bench import Bench, buttons, wait_until


def settled(bench: Bench) -> bool:
    """Everything that was said has been taken in, confirmed and dealt with."""
    desk = bench.recording
    return not bench.world.updates and desk.inbox.keys() == desk.done.keys()


def _with_button(incoming: Incoming) -> list[dict[str, object]]:
    asked = incoming.text == "sg 1.050"
    return [{"html": "<b>Which</b> bucket?", "buttons": buttons("Bucket 1", "Bucket 2")}] if asked else []


def test_updates_are_handled_in_the_order_in_which_they_were_sent(bench: Bench) -> None:
    group = bench.world.group()
    for number in range(250):  # more than two batches
        bench.world.say(("ana", "bert")[number % 2], f"sg {number}", group)
    bench.start()
    wait_until(lambda: len(bench.recording.handled) == 250, "all handled")
    assert bench.recording.texts == [f"sg {number}" for number in range(250)]
    wait_until(lambda: settled(bench), "all confirmed")


def test_an_update_is_in_the_inbox_before_the_platform_may_forget_it(bench: Bench) -> None:
    bench.recording.failing["take_in"] = 5
    bench.world.say("ana", "sg 1.050", bench.world.group())
    bench.start()
    wait_until(lambda: bench.recording.log.count("take_in") >= 3, "three attempts to take it in")
    assert bench.world.confirmed_below == 0
    assert len(bench.world.updates) == 1
    wait_until(lambda: bench.recording.texts == ["sg 1.050"], "handled once the database works")
    wait_until(lambda: not bench.world.updates, "confirmed")


def test_a_batch_that_comes_again_is_handled_once(bench: Bench) -> None:
    group = bench.world.group()
    bench.world.say("ana", "sg 1.050", group)
    bench.world.fail("getUpdates", drop=True)  # the batch goes out, but the answer is lost
    bench.start()
    wait_until(lambda: settled(bench) and bench.recording.handled, "handled")
    bench.kill()
    bench.world.updates.extend(
        {"update_id": i, **json.loads(raw)} for i, raw in bench.recording.inbox.items()
    )
    bench.world.say("ana", "temp 21", group)
    bench.start()
    wait_until(lambda: len(bench.recording.handled) == 2, "the new one handled")
    assert bench.recording.texts == ["sg 1.050", "temp 21"]


def test_what_was_taken_in_before_a_crash_is_handled_at_the_next_start(bench: Bench) -> None:
    bench.recording.failing["handle"] = 10**6
    bench.recording.failing["failed"] = 10**6
    bench.world.say("ana", "sg 1.050", bench.world.group())
    bench.start()
    wait_until(lambda: not bench.world.updates, "confirmed, not handled")
    bench.kill()
    bench.recording.failing.clear()
    bench.start()
    wait_until(lambda: bench.recording.texts == ["sg 1.050"], "handled after the start")


def test_an_update_that_cannot_be_read_holds_nothing_up(bench: Bench) -> None:
    group = bench.world.group()
    bench.world.say("ana", "sg 1.050", group)
    odd: list[dict[str, Any]] = [
        {"message": "not an object"},
        {"message": {"message_id": 5, "date": 10**30, "chat": {"id": group}, "text": "x"}},
        {"message": {"chat": {"id": [1]}, "from": {"id": "7", "is_bot": False}, "text": {"a": 1}}},
        {"something_new": {}},
        {},
    ]
    for update in odd:
        bench.world.inject(update)
    bench.world.say("bert", "sg 1.040", group)
    bench.start()
    wait_until(lambda: settled(bench) and len(bench.recording.handled) == 2, "both readings handled")
    assert bench.recording.texts == ["sg 1.050", "sg 1.040"]
    reasons = [why for why in bench.recording.done.values() if why]
    assert len(reasons) == len(odd)


def test_updates_without_a_usable_id_do_not_hide_the_good_ones(bench: Bench) -> None:
    bench.world.say("ana", "sg 1.050", bench.world.group())
    bench.world.updates.insert(0, {"update_id": -7, "message": {}})
    bench.start()
    wait_until(lambda: bench.recording.texts == ["sg 1.050"], "handled")
    wait_until(lambda: not bench.world.updates, "confirmed with the good one")


def test_nothing_but_updates_without_a_usable_id_is_no_hot_loop(
    bench: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    bench.options["first_pause"] = 20.0
    bench.world.updates.append({"update_id": -7, "message": {}})
    bench.start()
    wait_until(lambda: "updates cannot be fetched (DecodeError)" in caplog.text, "it pauses")
    bench.stop()
    assert len(bench.world.calls_of("getUpdates")) == 1


def test_an_update_that_the_house_cannot_handle_is_set_aside_after_three_attempts(
    bench: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    group = bench.world.group()

    def answer(incoming: Incoming) -> list[dict[str, object]]:
        if incoming.text == "poison":
            raise ValueError("poison")
        return []

    bench.recording.answer = answer
    for text in ("sg 1.050", "poison", "sg 1.040"):
        bench.world.say("ana", text, group)
    with caplog.at_level(logging.DEBUG):
        bench.start()
        wait_until(lambda: settled(bench) and len(bench.recording.handled) == 2, "the others handled")
    assert bench.recording.texts == ["sg 1.050", "sg 1.040"]
    assert bench.recording.log.count("handle") == 5
    (why,) = [why for why in bench.recording.done.values() if why]
    assert why.startswith("failed 3 times: ValueError at test_polling.py")
    assert "poison" not in caplog.text


def test_a_failing_database_is_waited_for_and_costs_no_update(
    bench: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    group = bench.world.group()
    bench.world.say("ana", "sg 1.050", group)
    bench.start()
    wait_until(lambda: settled(bench) and bench.recording.handled, "the first one handled")
    bench.recording.answer = lambda incoming: [{"html": "noted"}]
    with caplog.at_level(logging.INFO):
        for stage in ("take_in", "claim", "handle", "unsent", "sent"):
            began = bench.recording.log.count(stage)
            bench.recording.fails_from = stage
            bench.world.say("ana", f"sg 1.0{stage}", group)
            wait_until(lambda: bench.recording.down, f"down at {stage}")
            bench.recording.wait_for_more_calls(3)
            bench.recording.down = False
            wait_until(lambda: settled(bench) and not bench.recording.open_letters, f"all done after {stage}")
            assert bench.recording.log.count(stage) > began
    assert len(bench.recording.handled) == 6
    assert not any(bench.recording.done.values())
    assert bench.world.said(group) == ["noted"] * 5, "each answer went out once"
    assert "the database fails (BrokenDatabaseError" in caplog.text
    assert "the database works again" in caplog.text
    assert "1.0" not in caplog.text


def test_a_full_disk_is_no_fault_of_the_update(bench: Bench) -> None:
    bench.recording.failing["handle"] = 4
    bench.recording.failing["failed"] = 2
    bench.world.say("ana", "sg 1.040", bench.world.group())
    bench.start()
    wait_until(lambda: settled(bench), "dealt with")
    assert bench.recording.log.count("handle") == 5
    assert bench.recording.texts == ["sg 1.040"]


@pytest.mark.parametrize(
    ("status", "parameters"), [(500, {}), (502, {}), (409, {}), (429, {"retry_after": 1}), (0, {})]
)
def test_a_platform_that_fails_is_tried_again(
    bench: Bench, caplog: pytest.LogCaptureFixture, status: int, parameters: dict[str, int]
) -> None:
    times = 1 if parameters else 4
    bench.world.fail("getUpdates", status or 500, "No", times=times, drop=not status, **parameters)
    bench.world.say("ana", "sg 1.050", bench.world.group())
    with caplog.at_level(logging.INFO):
        bench.start()
        wait_until(lambda: bench.recording.texts == ["sg 1.050"], "handled")
    assert caplog.text.count("updates cannot be fetched") == 1
    assert "updates are fetched again" in caplog.text


def test_it_starts_when_the_platform_cannot_be_reached_yet(bench: Bench) -> None:
    bench.world.fail("getMe", 502, "Bad Gateway", times=3)
    bench.world.fail("deleteWebhook", times=2)
    bench.world.say("ana", "sg 1.050", bench.world.group())
    bench.start()
    wait_until(lambda: bench.recording.texts == ["sg 1.050"], "handled")


def test_a_wrong_token_ends_it_with_a_clear_error(bench: Bench, caplog: pytest.LogCaptureFixture) -> None:
    for name in ("httpx", "httpcore", "telegram"):  # as in a process that has not quieted them yet
        caplog.set_level(logging.NOTSET, name)
    with caplog.at_level(logging.DEBUG):
        bench.start(token="123456:wrong_one").join()
    assert isinstance(bench.error, TokenRefusedError)
    assert "wrong_one" not in str(bench.error) + caplog.text
    assert bench.error.__cause__ is None
    assert bench.error.__suppress_context__


def test_a_token_that_is_withdrawn_ends_it(bench: Bench) -> None:
    bench.start()
    wait_until(lambda: bench.world.calls_of("deleteWebhook"), "started")
    bench.world.token = "2:NEW"
    bench.world.say("ana", "hello", bench.world.group())
    bench.join()
    assert isinstance(bench.error, TokenRefusedError)


@pytest.mark.parametrize("token", ["", "1:a b", "1:a\n", "../getMe"])
def test_what_cannot_be_a_token_is_refused_before_anything_is_sent(bench: Bench, token: str) -> None:
    with pytest.raises(TokenRefusedError):
        bench.start(token=token)
    assert not bench.world.calls


def test_what_cannot_be_an_address_is_refused(bench: Bench) -> None:
    with pytest.raises(ValueError, match="http"):
        TelegramEdge(bench.desk, "1:TEST", "localhost:80", lambda: bench.world.moment, lambda: None)


def test_only_the_kinds_that_we_read_are_asked_for(bench: Bench) -> None:
    bench.start()
    wait_until(lambda: bench.world.allowed, "asked")
    assert bench.world.allowed == ["message", "edited_message", "callback_query", "my_chat_member"]


def test_an_old_webhook_does_not_stop_polling(bench: Bench) -> None:
    bench.world.webhook = {"url": "https://example.org/hook"}
    bench.world.say("ana", "sg 1.050", bench.world.group())
    bench.start()
    wait_until(lambda: bench.recording.texts == ["sg 1.050"], "handled")


@pytest.mark.parametrize("reads", [True, False])
def test_whether_it_reads_whole_groups_is_known(bench: Bench, reads: bool) -> None:
    bench.world.bot["can_read_all_group_messages"] = reads
    told: list[tuple[str, bool]] = []
    bench.options["on_introduced"] = lambda username, reads: told.append((username, reads))
    bench.start()
    wait_until(lambda: told, "introduced")
    assert told == [(bench.world.bot["username"], reads)]
    assert bench.edge.reads_groups is reads


def test_a_tap_an_edit_a_reply_and_a_new_group_reach_the_house(bench: Bench) -> None:
    bench.recording.answer = _with_button
    group = bench.world.add_bot("ana", "Harbour Street")
    bench.start()
    reading = bench.world.say("ana", "sg 1.050", group)
    wait_until(lambda: bench.world.said(group), "asked back")
    question = bench.world.tap("bert", "Bucket 1", group)
    bench.world.edit("ana", reading, "sg 1.051", group)
    bench.world.say("bert", "that was at 24c", group, reply_to=reading)
    wait_until(lambda: settled(bench) and len(bench.recording.handled) == 5, "all handled")
    joined, first, tap, edit, reply = bench.recording.handled
    assert (joined.joined, joined.chat_id, joined.chat_title) == (True, group, "Harbour Street")
    assert (first.text, first.sender_name, first.message_id) == ("sg 1.050", "Ana", reading)
    assert (tap.press, tap.message_id, tap.sender_name, tap.text) == ("b:0", question, "Bert", None)
    assert (edit.text, edit.edited, edit.message_id) == ("sg 1.051", True, reading)
    assert (reply.text, reply.reply_to) == ("that was at 24c", reading)
    wait_until(lambda: bench.world.calls_of("answerCallbackQuery"), "the tap acknowledged")
    assert bench.changes >= 1


def test_a_tap_is_acknowledged_even_when_that_fails_or_the_house_does(bench: Bench) -> None:
    bench.recording.answer = _with_button
    group = bench.world.group()
    bench.start()
    bench.world.say("ana", "sg 1.050", group)
    wait_until(lambda: bench.world.said(group), "asked back")
    bench.world.fail("answerCallbackQuery", 400, "Bad Request: query is too old")
    bench.world.tap("ana", "Bucket 1", group)
    wait_until(lambda: bench.world.calls_of("answerCallbackQuery"), "the first tap acknowledged")

    def fail(incoming: Incoming) -> list[dict[str, object]]:
        raise ValueError("odd")

    bench.recording.answer = fail
    bench.world.tap("ana", "Bucket 1", group)
    wait_until(lambda: len(bench.world.calls_of("answerCallbackQuery")) == 2, "the second one too")
    assert len([why for why in bench.recording.done.values() if why]) == 1


def test_a_group_that_becomes_a_supergroup_is_told_to_the_house_from_both_sides(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    new = bench.world.migrate("ana", group)
    bench.world.say("ana", "sg 1.050", new)
    wait_until(lambda: settled(bench) and len(bench.recording.handled) == 3, "handled")
    before, after, reading = bench.recording.handled
    assert [(move.chat_id, move.moved_to) for move in (before, after)] == [(group, new)] * 2
    assert reading.chat_id == new


def test_in_a_group_the_mention_is_cut_out(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    bench.world.say("ana", "@bucket_test_bot sg 1.050", group)
    bench.world.say("ana", "/sg@bucket_test_bot 1.040 b2", group)
    bench.world.say("ana", "/sg@another_bot 1.030 b2", group)
    bench.world.say("ana", "sg 1.020", group)
    wait_until(lambda: settled(bench) and len(bench.recording.handled) == 3, "handled")
    said = [(incoming.text, incoming.addressed) for incoming in bench.recording.handled]
    assert said == [("sg 1.050", True), ("/sg 1.040 b2", True), ("sg 1.020", False)]


def test_a_stop_ends_a_long_poll_at_once(bench: Bench) -> None:
    bench.start()
    wait_until(lambda: bench.world.calls_of("deleteWebhook"), "started")
    assert bench.stop() < 5
    assert bench.error is None


def test_a_stop_before_the_platform_answers_ends_it(bench: Bench) -> None:
    bench.world.fail("getMe", times=10**4)
    bench.start()
    wait_until(lambda: bench.world.calls_of("getMe"), "tried")
    assert bench.stop() < 5
    assert bench.error is None


def test_a_stop_finishes_what_was_taken_in_and_its_answers(bench: Bench) -> None:
    group = bench.world.group()
    bench.recording.answer = lambda incoming: [{"html": f"noted {incoming.text}"}]
    gate = bench.world.hold("sendMessage")
    for number in range(20):
        bench.world.say("ana", f"sg {number}", group)
    bench.start()
    wait_until(lambda: gate.held, "the first answer is on its way")
    bench.tell_to_stop()
    gate.open()
    bench.join()
    assert bench.error is None
    assert bench.recording.texts == [f"sg {number}" for number in range(20)]
    assert bench.world.said(group) == [f"noted sg {number}" for number in range(20)]
    assert len(bench.recording.fates) == 20


def test_a_stop_waits_for_what_is_being_handled(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    inside, go_on = threading.Event(), threading.Event()
    set_aside = bench.recording.set_aside

    def slowly(update_id: int, why: str, now: datetime) -> None:
        inside.set()
        assert go_on.wait(10)
        set_aside(update_id, why, now)

    monkeypatch.setattr(bench.recording, "set_aside", slowly)
    group = bench.world.group()
    for _ in range(5):
        bench.world.say("ana", None, group, caption="")
        bench.world.updates[-1]["message"].pop("caption")  # a picture without words
    bench.start()
    assert inside.wait(10)
    bench.tell_to_stop()
    go_on.set()
    bench.join()
    assert len(bench.recording.done) == 5


def test_the_desk_is_asked_one_thing_at_a_time(bench: Bench) -> None:
    inside, go_on = threading.Event(), threading.Event()

    def slowly(incoming: Incoming) -> list[dict[str, object]]:
        inside.set()
        assert go_on.wait(10)
        return []

    bench.recording.answer = slowly
    bench.world.say("ana", "sg 1.050", bench.world.group())
    bench.start()
    assert inside.wait(10)
    waking = [bench.begin(bench.edge.wake()) for _ in range(3)]
    wait_until(lambda: bench.edge._clerk._thread._work_queue.qsize() >= 3, "three more are waiting")
    go_on.set()
    assert [wake.result(10) for wake in waking] == [None] * 3  # the bench finds out if they overlapped


def test_a_stop_does_not_wait_for_ever(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bot.edges.telegram.service.GRACE_SECONDS", 0.3)
    gate = bench.world.hold("sendMessage")
    bench.start()
    bench.post(chat_id=bench.world.group(), html="time to rack")
    wait_until(lambda: gate.held, "on its way")
    assert bench.stop() < 5
    gate.open()
    assert not bench.recording.fates, "not marked: it goes out at the next start"


def test_the_guard_lets_nothing_out(api: BotApi) -> None:
    with pytest.raises(AssertionError, match="tried to reach"):
        socket.create_connection(("192.0.2.1", 80), timeout=0.1)
    with pytest.raises(AssertionError, match="tried to reach"):
        socket.getaddrinfo("example.org", 443)
