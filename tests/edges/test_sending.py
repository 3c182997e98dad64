"""Letters out, over real HTTP: in order, marked once, refused kindly, one chat's trouble its own."""

import logging
import math
from datetime import datetime

import pytest

from bot.edges.telegram.pace import Pace
from bot.edges.telegram.sending import button_rows
from bot.house.talk import Button, Letter
from bot.say import manner
from tests.botapi.markup import plain_text
from tests.edges.bench import Bench, buttons, wait_until


def test_a_letter_goes_out_as_it_is_meant(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    asked = bench.world.say("ana", "sg 1.012", group)
    number = bench.post(
        chat_id=group, html="<b>1.012</b> &lt; 1.050", buttons=buttons("Yes", "No"), reply_to=asked
    )
    wait_until(lambda: number in bench.recording.fates, "marked")
    (sent,) = bench.world.sent
    assert (sent.text, sent.labels, sent.reply_to) == ("1.012 < 1.050", ("Yes", "No"), asked)
    assert bench.recording.fates[number] == sent.message_id


def test_letters_keep_their_order_in_a_chat(bench: Bench) -> None:
    group = bench.world.group()
    for number in range(30):
        bench.recording.put({"chat_id": group, "html": f"letter {number}"})
    bench.start()
    wait_until(lambda: not bench.recording.open_letters, "all sent")
    assert bench.world.said(group) == [f"letter {number}" for number in range(30)]


def test_an_outbox_from_before_is_sent_at_the_start(bench: Bench) -> None:
    group = bench.world.group()
    bench.recording.put({"chat_id": group, "html": "from before"})
    bench.start()
    wait_until(lambda: bench.world.said(group) == ["from before"], "sent")


def test_an_answer_goes_to_its_topic(bench: Bench) -> None:
    forum = bench.world.group(forum=True)
    bench.recording.answer = lambda incoming: [{"html": "noted"}]
    bench.start()
    bench.world.say("ana", "sg 1.012", forum, thread_id=9)
    wait_until(lambda: not bench.recording.open_letters and bench.world.sent, "answered")
    assert bench.world.sent[0].thread_id == 9
    assert bench.recording.handled[0].reply_to is None


def test_a_topic_that_is_gone_gets_the_answer_in_the_general_one(bench: Bench) -> None:
    group = bench.world.group()  # no forum any more: the double says "message thread not found"
    bench.start()
    bench.post(chat_id=group, html="noted", thread_id=9)
    wait_until(lambda: bench.world.said(group) == ["noted"], "sent without the topic")


def test_an_edit_changes_the_message(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    first = bench.post(chat_id=group, html="Which bucket?", buttons=buttons("Bucket 1"))
    wait_until(lambda: first in bench.recording.fates, "sent")
    message_id = bench.recording.fates[first]
    second = bench.post(chat_id=group, html="Bucket 1, noted.", edits=message_id)
    wait_until(lambda: second in bench.recording.fates, "changed")
    changed = bench.world.sent[-1]
    assert (changed.text, changed.edited, changed.message_id, changed.labels) == (
        "Bucket 1, noted.",
        True,
        message_id,
        (),
    )
    again = bench.post(chat_id=group, html="Bucket 1, noted.", edits=message_id)
    wait_until(lambda: again in bench.recording.fates, "an edit that changes nothing counts as sent")
    assert bench.recording.fates[again] == bench.recording.fates[second] == message_id


def test_an_answer_to_a_message_that_cannot_be_changed_is_sent_anew(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    bench.post(chat_id=group, html="Bucket 1, noted.", edits=12345)
    wait_until(lambda: bench.world.said(group) == ["Bucket 1, noted."], "sent as a message of its own")


def test_a_reply_to_a_message_that_is_gone_is_sent_all_the_same(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    bench.post(chat_id=group, html="noted", reply_to=12345)
    wait_until(lambda: bench.world.said(group) == ["noted"], "sent")


def test_one_chat_that_must_wait_does_not_hold_up_the_others(bench: Bench) -> None:
    busy, free = bench.world.group("busy"), bench.world.group("free")
    bench.world.fail("sendMessage", 429, "Too Many Requests", retry_after=1, chat_id=busy)
    bench.start()
    bench.recording.put({"chat_id": busy, "html": "one"})
    bench.recording.put({"chat_id": busy, "html": "two"})
    for number in range(5):
        bench.recording.put({"chat_id": free, "html": f"{number}"})
    bench.call(bench.edge.wake())
    wait_until(lambda: len(bench.world.said(free)) == 5, "the free chat has all of its letters")
    assert bench.world.said(busy) == []
    wait_until(lambda: bench.world.said(busy) == ["one", "two"], "the busy chat has its letters, in order")


@pytest.mark.parametrize("status", [500, 502, 503, 0])
def test_a_platform_that_fails_is_tried_again(
    bench: Bench, caplog: pytest.LogCaptureFixture, status: int
) -> None:
    group = bench.world.group()
    bench.start()
    if status:
        bench.world.fail("sendMessage", status, "Oh dear", times=4)
    else:
        bench.world.fail("sendMessage", drop=True)
    with caplog.at_level(logging.INFO):
        first = bench.post(chat_id=group, html="one")
        second = bench.post(chat_id=group, html="two")
        wait_until(lambda: not bench.recording.open_letters, "sent")
    expected = ["one", "two"] if status else ["one", "one", "two"]  # nobody can tell: rather twice than never
    assert bench.world.said(group) == expected
    assert all(isinstance(bench.recording.fates[number], int) for number in (first, second))
    assert caplog.text.count("could not be delivered yet") == 1
    assert "is done with after all" in caplog.text


def test_a_chat_that_threw_the_bot_out_refuses_its_letters(bench: Bench) -> None:
    group, private = bench.world.group(), bench.world.member("ana")["id"]
    bench.world.remove_bot("ana", group)
    bench.world.blocked.add(private)
    bench.start()
    numbers = [bench.post(chat_id=chat_id, html="time to rack") for chat_id in (group, private, -999)]
    wait_until(lambda: not bench.recording.open_letters, "marked")
    assert [bench.recording.fates[number] for number in numbers] == [
        "Forbidden: bot was kicked from the group chat",
        "Forbidden: bot was blocked by the user",
        "Chat not found",
    ]
    assert len(bench.world.calls_of("sendMessage")) == 3


def test_bad_markup_goes_out_as_plain_text(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    number = bench.post(chat_id=group, html="<b>SG 1.012 &amp; <i>21 °C</b> < 25", buttons=buttons("Fine"))
    wait_until(lambda: number in bench.recording.fates, "marked")
    (sent,) = bench.world.sent
    assert sent.text == "SG 1.012 & 21 °C < 25"
    assert sent.labels == ("Fine",)


def test_what_the_platform_will_never_take_is_refused_with_its_reason(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    long = bench.post(chat_id=group, html="x" * 4097)
    empty = bench.post(chat_id=group, html=" ")
    data = bench.post(chat_id=group, html="?", buttons=(Button(label="Да", data="ы" * 33),))
    fine = bench.post(chat_id=group, html="fine")
    wait_until(lambda: not bench.recording.open_letters, "marked")
    assert bench.recording.fates[long] == "Message is too long"
    assert bench.recording.fates[empty] == "Message text is empty"
    assert "button_data_invalid" in str(bench.recording.fates[data]).lower()
    assert isinstance(bench.recording.fates[fine], int)


def test_a_group_that_moved_gets_its_letters_at_its_new_place(bench: Bench) -> None:
    group = bench.world.group()
    new = bench.world.move_silently(group)
    bench.start()
    for number in range(3):
        bench.recording.put({"chat_id": group, "html": f"{number}"})
    bench.call(bench.edge.wake())
    wait_until(lambda: bench.world.said(new) == ["0", "1", "2"], "sent to the new chat, in order")
    wait_until(lambda: not bench.recording.open_letters, "marked")
    assert bench.recording.moves == [(group, new)]


def test_a_delivered_letter_is_marked_once_the_database_works_and_not_sent_twice(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    bench.recording.failing["sent"] = 5
    bench.post(chat_id=group, html="one")
    bench.post(chat_id=group, html="two")
    wait_until(lambda: not bench.recording.open_letters, "marked")
    assert bench.world.said(group) == ["one", "two"]


def test_a_letter_that_was_marked_while_the_outbox_was_read_is_not_sent_again(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    group = bench.world.group()
    read = bench.recording.unsent
    stale: list[Letter] = []

    def unsent(now: datetime, after: int = 0) -> list[Letter]:
        before, stale[:] = list(stale), read(now, after)
        return [*(letter for letter in before if letter not in stale), *stale]

    monkeypatch.setattr(bench.recording, "unsent", unsent)
    bench.start()
    for number in range(5):
        bench.post(chat_id=group, html=f"{number}")
        wait_until(lambda: not bench.recording.open_letters, "marked")
    bench.stop()
    assert bench.world.said(group) == ["0", "1", "2", "3", "4"]


def test_a_kill_between_sending_and_marking_repeats_that_message_only(bench: Bench) -> None:
    group = bench.world.group()
    bench.recording.failing["sent"] = 10**6
    bench.recording.put({"chat_id": group, "html": "one"})
    bench.recording.put({"chat_id": group, "html": "two"})
    bench.start()
    wait_until(lambda: bench.world.said(group) == ["one"], "the first one sent, not marked")
    bench.kill()
    bench.recording.failing.clear()
    bench.start()
    wait_until(lambda: not bench.recording.open_letters, "marked")
    assert bench.world.said(group) == ["one", "one", "two"]


def test_a_chat_that_is_not_ready_is_passed_over(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    slow, quick = bench.world.group("slow"), bench.world.group("quick")
    monkeypatch.setattr(Pace, "ready_at", lambda self, chat_id: math.inf if chat_id == slow else -math.inf)
    bench.options["paced"] = True
    for number in range(5):
        bench.recording.put({"chat_id": slow, "html": f"{number}"})
        bench.recording.put({"chat_id": quick, "html": f"{number}"})
    bench.start()
    wait_until(lambda: len(bench.world.said(quick)) == 5, "the other chat has its letters")
    assert bench.stop() < 5, "what must wait is left for the next start"
    assert bench.world.said(slow) == []
    assert len(bench.recording.open_letters) == 5


def test_every_message_counts_for_the_pace(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    noted: list[int] = []
    monkeypatch.setattr(Pace, "note", lambda self, chat_id, now: noted.append(chat_id))
    group = bench.world.group()
    bench.options["paced"] = True
    bench.start()
    for number in range(3):
        bench.post(chat_id=group, html=f"{number}")
    wait_until(lambda: not bench.recording.open_letters, "sent")
    assert noted == [group] * 3


def test_at_most_eight_chats_at_once(bench: Bench) -> None:
    gate = bench.world.hold("sendMessage")
    groups = [bench.world.group(str(number)) for number in range(20)]
    for group in groups:
        bench.recording.put({"chat_id": group, "html": "one"})
        bench.recording.put({"chat_id": group, "html": "two"})
    bench.start()
    wait_until(lambda: gate.held == 8, "eight on their way")
    bench.call(bench.edge.wake())
    bench.world.say("ana", "sg 1.012", groups[0])
    wait_until(lambda: bench.recording.handled, "messages are handled meanwhile")
    assert gate.held == 8
    gate.open()
    wait_until(lambda: not bench.recording.open_letters, "all sent")
    assert all(bench.world.said(group) == ["one", "two"] for group in groups)


def test_who_waits_for_an_answer_comes_before_the_reminders_of_others(bench: Bench) -> None:
    gate = bench.world.hold("sendMessage")
    bench.recording.answer = lambda incoming: [{"html": "noted"}]
    others = [bench.world.group(str(number)) for number in range(40)]
    asking = bench.world.group("asking")
    for group in others:
        bench.recording.put({"chat_id": group, "html": "time to rack"})
    bench.start()
    wait_until(lambda: gate.held == 8, "reminders on their way")
    bench.world.say("ana", "sg 1.012", asking)
    wait_until(lambda: bench.recording.handled, "handled")
    bench.call(bench.edge.wake())
    gate.open()
    wait_until(lambda: not bench.recording.open_letters, "all sent")
    place = [sent.text for sent in bench.world.sent].index("noted")
    assert place <= 16, "right after those that were on their way (and one more round at most)"


def test_a_withdrawn_token_is_noticed_when_sending(bench: Bench) -> None:
    bench.start()
    wait_until(lambda: bench.world.calls_of("deleteWebhook"), "started")
    bench.world.fail("sendMessage", 401, "Unauthorized")
    bench.post(chat_id=bench.world.group(), html="noted")
    bench.join()
    assert type(bench.error).__name__ == "TokenRefusedError"
    assert not bench.recording.fates


@pytest.mark.parametrize(
    ("labels", "rows"),
    [
        ("Yes", [1]),
        ("Yes No", [2]),
        ("1 2 3 4 5 6 7", [3, 3, 1]),
        ("Done Later Something_much_longer", [1, 1, 1]),
    ],
)
def test_long_labels_stand_alone(labels: str, rows: list[int]) -> None:
    keys = tuple(Button(label=label.replace("_", " "), data="x") for label in labels.split())
    assert [len(row) for row in button_rows(keys)] == rows
    assert [key.text for row in button_rows(keys) for key in row] == [button.label for button in keys]


@pytest.mark.parametrize(
    ("marked", "plain"),
    [
        ("<b>1.012</b> &amp; more", "1.012 & more"),
        ("1.010 < 1.020 > 1.000", "1.010 < 1.020 > 1.000"),
        ("&lt;b&gt;", "<b>"),
    ],
)
def test_without_markup(marked: str, plain: str) -> None:
    assert manner.plain(marked) == plain
    if "< " not in marked:
        assert plain_text(marked) == plain


def test_a_withdrawn_letter_is_not_sent_even_when_it_was_read(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    bench.world.fail("sendMessage", 429, "Too Many Requests", retry_after=2)
    first = bench.post(chat_id=group, html="first")
    wait_until(lambda: bench.world.calls_of("sendMessage"), "it must wait")
    second = bench.post(chat_id=group, html="second")
    bench.recording.fates[first] = "withdrawn"
    wait_until(lambda: second in bench.recording.fates, "the other one sent")
    assert bench.world.said(group) == ["second"]


def test_a_reply_overtakes_a_reminder_that_waits(bench: Bench) -> None:
    group = bench.world.group()
    bench.start()
    gate = bench.world.hold("sendMessage", group)
    bench.post(chat_id=group, html="a")
    wait_until(lambda: gate.held, "under way")
    bench.post(chat_id=group, html="reminder", reminder=True)
    bench.post(chat_id=group, html="reply")
    gate.open()
    wait_until(lambda: len(bench.world.said(group)) == 3, "all sent")
    assert bench.world.said(group) == ["a", "reply", "reminder"]


def test_letters_delivered_during_a_commit_share_the_next(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    mark = bench.recording.sent
    commits: list[int] = []

    def sent(letters: list[tuple[int, int]], now: datetime) -> None:
        commits.append(len(letters))
        # What the chat service has is delivered once the sender knows of it.
        wait_until(
            lambda: len(letters) + len(bench.edge._postman._unmarked) == 6 or len(commits) > 1,
            "all delivered",
        )
        mark(letters, now)

    monkeypatch.setattr(bench.recording, "sent", sent)
    groups = [bench.world.group() for _ in range(6)]
    for group in groups:
        bench.recording.put({"chat_id": group, "html": "x"})
    bench.start()
    wait_until(lambda: not bench.recording.open_letters, "marked")
    assert sum(commits) == 6
    assert len(commits) < 6


@pytest.mark.parametrize(
    ("status", "says"),
    [
        (403, "Forbidden: bot has no rights to send a message"),
        (400, "Bad Request: not enough rights to send text messages to the chat"),
        (400, "Bad Request: CHAT_WRITE_FORBIDDEN"),
        (403, "Forbidden: TOPIC_CLOSED"),
    ],
)
def test_a_chat_that_is_muted_for_a_while_loses_nothing(bench: Bench, status: int, says: str) -> None:
    group, other = bench.world.group("muted"), bench.world.group("other")
    bench.world.fail("sendMessage", status, says, times=3, chat_id=group)
    bench.start()
    letters = [bench.post(chat_id=chat, html=f"{number}") for number in range(3) for chat in (group, other)]
    wait_until(lambda: not bench.recording.open_letters, "all sent in the end")
    assert bench.world.said(group) == bench.world.said(other) == ["0", "1", "2"]
    assert list(bench.recording.kept) == letters[:1], "kept, and said to the house once"
    assert not bench.recording.gone
    assert bench.changes >= 1, "what was kept meanwhile may be said"


def test_only_a_chat_that_is_gone_is_marked(bench: Bench) -> None:
    groups = {says: bench.world.group(says) for says in ("the group chat was deleted", "BUTTON_DATA_INVALID")}
    bench.start()
    for says, group in groups.items():
        bench.world.fail("sendMessage", 400, f"Bad Request: {says}", chat_id=group)
        bench.post(chat_id=group, html="time to rack")
    wait_until(lambda: not bench.recording.open_letters, "marked")
    assert bench.recording.gone == {groups["the group chat was deleted"]}


@pytest.mark.parametrize("says", ["TOPIC_CLOSED", "TOPIC_DELETED", "message thread not found"])
def test_a_topic_that_is_closed_or_deleted_gets_it_in_the_group(bench: Bench, says: str) -> None:
    forum = bench.world.group(forum=True)
    bench.start()
    bench.world.fail("sendMessage", 400, f"Bad Request: {says}", chat_id=forum)
    bench.post(chat_id=forum, html="noted", thread_id=9)
    wait_until(lambda: bench.world.said(forum) == ["noted"], "sent without the topic")
    assert bench.world.sent[0].thread_id is None


def test_when_rights_come_back_it_is_said_at_once(bench: Bench) -> None:
    group = bench.world.group()
    bench.options["first_pause"] = 60.0
    bench.start()
    wait_until(lambda: bench.world.calls_of("deleteWebhook"), "started")
    bench.world.fail("sendMessage", 403, "Forbidden: bot has no rights to send a message", chat_id=group)
    bench.post(chat_id=group, html="time to rack")
    wait_until(lambda: bench.recording.kept, "kept")
    user = bench.world.bot
    change = {
        "chat": bench.world.chats[group],
        "from": bench.world.member("ana"),
        "date": int(bench.world.moment.timestamp()),
        "old_chat_member": {"user": user, "status": "restricted", "is_member": True},
        "new_chat_member": {"user": user, "status": "member"},
    }
    change["old_chat_member"]["can_send_messages"] = False
    bench.world.inject({"my_chat_member": change})
    wait_until(lambda: bench.world.said(group) == ["time to rack"], "said at once", 10)


def test_strangers_take_no_place_from_a_household(bench: Bench) -> None:
    strangers = [bench.world.group(str(number)) for number in range(300)]
    group = bench.world.group("house")
    for stranger in strangers:
        bench.recording.put({"chat_id": stranger, "html": "hello", "household": None})
    bench.recording.put({"chat_id": group, "html": "noted"})
    bench.recording.put({"chat_id": group, "html": "noted too"})
    bench.start()
    wait_until(lambda: not bench.recording.open_letters, "all sent", 60)
    assert [sent.chat_id for sent in bench.world.sent].index(group) < 9
    assert [sent.text for sent in bench.world.sent].index("noted too") < 20


def test_households_are_written_to_in_turn(bench: Bench) -> None:
    gate = bench.world.hold("sendMessage")
    chats = [bench.world.group(str(number)) for number in range(30)]
    other = bench.world.group("other")
    for chat in chats:
        for number in range(3):
            bench.recording.put({"chat_id": chat, "html": f"{number}", "household": 1})
    for number in range(3):
        bench.recording.put({"chat_id": other, "html": f"{number}", "household": 2})
    bench.start()
    wait_until(lambda: gate.held, "under way")
    gate.open()
    wait_until(lambda: not bench.recording.open_letters, "all sent", 30)
    assert [sent.chat_id for sent in bench.world.sent].index(other) < 17


def test_a_call_that_takes_long_is_held_for_longer(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bot.edges.telegram.sending.RENEW", 0.05)
    gate = bench.world.hold("sendMessage")
    bench.start()
    bench.post(chat_id=bench.world.group(), html="slow")
    wait_until(lambda: gate.held, "on its way")
    wait_until(lambda: bench.recording.log.count("hold") >= 2, "held again and again")
    gate.open()
    wait_until(lambda: not bench.recording.open_letters, "sent")
