"""The double itself keeps the platform's rules, or tests against it would prove nothing."""

import json
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.botapi.double import BotApi
from tests.botapi.markup import MarkupError, plain_text, utf16_length

PLAIN = urllib.request.build_opener(urllib.request.ProxyHandler({}))


@pytest.fixture
def api() -> Iterator[BotApi]:
    with BotApi() as api:
        yield api


def post(url: str, body: dict[str, Any]) -> tuple[int, Any]:
    request = urllib.request.Request(url, json.dumps(body).encode(), {"Content-Type": "application/json"})
    try:
        with PLAIN.open(request, timeout=10) as response:
            return response.status, json.load(response)
    except urllib.error.HTTPError as error:
        with error:
            return error.code, json.load(error)


def call(api: BotApi, method: str, /, **params: Any) -> tuple[int, Any]:
    status, body = post(f"{api.url}/bot{api.world.token}/{method}", params)
    return status, body["result"] if body["ok"] else body


def ids(api: BotApi, **params: Any) -> list[int]:
    status, updates = call(api, "getUpdates", **params)
    assert status == 200, updates
    return [update["update_id"] for update in updates]


def test_updates_come_again_until_a_higher_offset_confirms_them(api: BotApi) -> None:
    for text in "abc":
        api.world.say("ana", text)
    first = ids(api)
    assert len(first) == 3
    assert ids(api) == first
    assert ids(api, offset=first[0]) == first
    assert ids(api, offset=first[1]) == first[1:]
    assert ids(api) == first[1:], "the first one is confirmed and gone"
    assert ids(api, limit=1) == first[1:2]
    assert ids(api, offset=-1) == first[2:]
    assert ids(api) == first[2:]
    assert ids(api, offset=first[2] + 1) == []


def test_a_hundred_at_a_time(api: BotApi) -> None:
    for number in range(130):
        api.world.say("ana", str(number))
    assert len(ids(api)) == len(ids(api, limit=500)) == 100


def test_a_long_poll_ends_when_something_comes(api: BotApi) -> None:
    got: list[int] = []
    waiting = threading.Thread(target=lambda: got.extend(ids(api, timeout=30)))
    waiting.start()
    while api._poller is None:
        time.sleep(0.002)
    api.world.say("ana", "hello")
    waiting.join(10)
    assert len(got) == 1


def test_a_second_long_poll_ends_the_first(api: BotApi) -> None:
    outcomes: list[int] = []
    first = threading.Thread(target=lambda: outcomes.append(call(api, "getUpdates", timeout=30)[0]))
    first.start()
    while api._poller is None:
        time.sleep(0.002)
    assert ids(api, timeout=0) == []
    first.join(10)
    assert outcomes == [409]


def test_kinds_that_were_not_asked_for_are_not_kept(api: BotApi) -> None:
    ids(api, allowed_updates=["message"])
    group = api.world.group()
    number = api.world.say("ana", "a", group)
    api.world.edit("ana", number, "b", group)
    assert len(ids(api)) == 1


def test_wrong_tokens_and_unknown_methods(api: BotApi) -> None:
    assert post(f"{api.url}/bot9:NO/getMe", {})[0] == 401
    assert call(api, "bakeCake")[0] == 404
    assert call(api, "GETME")[1]["username"] == "bucket_test_bot"


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"text": ""}, "message text is empty"),
        ({"text": "<b> </b>", "parse_mode": "HTML"}, "message text is empty"),
        ({"text": "x" * 4097}, "message is too long"),
        ({"text": "😀" * 2049}, "message is too long"),
        ({"text": "1 < 2", "parse_mode": "HTML"}, "can't parse entities"),
        ({"text": "<b>1", "parse_mode": "HTML"}, "can't parse entities"),
        ({"text": "<b><i>1</b></i>", "parse_mode": "HTML"}, "can't parse entities"),
        ({"text": "<table>", "parse_mode": "HTML"}, "can't parse entities"),
        ({"text": "x", "reply_parameters": {"message_id": 999}}, "message to be replied not found"),
        ({"text": "x", "message_thread_id": 4}, "message thread not found"),
        ({"text": "x", "chat_id": 404}, "chat not found"),
        *(
            (
                {"text": "x", "reply_markup": {"inline_keyboard": [[{"text": "a", "callback_data": d}]]}},
                "DATA",
            )
            for d in ("", "x" * 65, "ы" * 33)
        ),
    ],
)
def test_what_cannot_be_sent(api: BotApi, fields: dict[str, Any], said: str) -> None:
    status, body = call(api, "sendMessage", **{"chat_id": api.world.group()} | fields)
    assert status == 400
    assert said in body["description"]
    assert not api.world.sent


def test_what_can_just_be_sent(api: BotApi) -> None:
    group = api.world.group()
    keyboard = {"inline_keyboard": [[{"text": "a", "callback_data": "ы" * 32}]]}
    for fields in (
        {"text": "<b>" + "x" * 4096 + "</b>", "parse_mode": "HTML"},
        {"text": "😀" * 2048},
        {"text": "1 &lt; 2 &amp; 3", "parse_mode": "HTML"},
        {"text": "x", "reply_markup": keyboard},
        {"text": "x", "reply_parameters": {"message_id": 999, "allow_sending_without_reply": True}},
    ):
        assert call(api, "sendMessage", chat_id=group, **fields)[0] == 200
    assert api.world.said(group)[2] == "1 < 2 & 3"


def test_faults_strike_the_next_calls_of_their_chat_only(api: BotApi) -> None:
    one, two = api.world.group("one"), api.world.group("two")
    api.world.fail("sendMessage", 429, "Too Many Requests", retry_after=7, chat_id=one, times=2)
    assert call(api, "sendMessage", chat_id=two, text="x")[0] == 200
    status, body = call(api, "sendMessage", chat_id=one, text="x")
    assert (status, body["parameters"]) == (429, {"retry_after": 7})
    assert call(api, "sendMessage", chat_id=one, text="x")[0] == 429
    assert call(api, "sendMessage", chat_id=one, text="x")[0] == 200


def test_a_dropped_connection_comes_after_the_deed(api: BotApi) -> None:
    group = api.world.group()
    api.world.fail("sendMessage", drop=True)
    with pytest.raises(OSError, match=r"closed|reset"):
        call(api, "sendMessage", chat_id=group, text="x")
    assert api.world.said(group) == ["x"]


def test_moved_blocked_and_left_chats(api: BotApi) -> None:
    group = api.world.group()
    new = api.world.migrate("ana", group)
    status, body = call(api, "sendMessage", chat_id=group, text="x")
    assert (status, body["parameters"]) == (400, {"migrate_to_chat_id": new})
    assert call(api, "sendMessage", chat_id=new, text="x")[0] == 200
    assert call(api, "leaveChat", chat_id=new)[0] == 200
    assert call(api, "sendMessage", chat_id=new, text="x")[0] == 403
    old_half, new_half = [update["message"] for update in call(api, "getUpdates")[1]]
    assert (old_half["chat"]["id"], old_half["migrate_to_chat_id"]) == (group, new)
    assert (new_half["chat"]["id"], new_half["migrate_from_chat_id"]) == (new, group)


def test_edits_of_the_bots_own_messages(api: BotApi) -> None:
    group = api.world.group()
    number = call(api, "sendMessage", chat_id=group, text="x")[1]["message_id"]
    assert call(api, "editMessageText", chat_id=group, message_id=number, text="y")[0] == 200
    status, body = call(api, "editMessageText", chat_id=group, message_id=number, text="y")
    assert (status, "not modified" in body["description"]) == (400, True)
    theirs = api.world.say("ana", "mine", group)
    assert call(api, "editMessageText", chat_id=group, message_id=theirs, text="y")[0] == 400
    assert call(api, "editMessageText", chat_id=group, message_id=999, text="y")[0] == 400


def test_files(api: BotApi) -> None:
    group = api.world.group()
    assert (
        call(api, "sendPhoto", chat_id=group, photo="chart.png", caption="<b>x</b>", parse_mode="HTML")[0]
        == 200
    )
    assert call(api, "sendDocument", chat_id=group, document="labels.pdf")[0] == 200
    assert call(api, "sendDocument", chat_id=group)[0] == 400
    assert call(api, "sendPhoto", chat_id=group, photo="a.png", caption="x" * 1025)[0] == 400
    assert [sent.file_name for sent in api.world.sent] == ["chart.png", "labels.pdf"]


def upload(api: BotApi, method: str, part: bytes, headers: str, **fields: object) -> tuple[int, Any]:
    """A call in parts (RFC 7578), written by hand: the other clients would hide what goes over the wire."""
    body = b"".join(
        f'--edge\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in fields.items()
    )
    body += b"--edge\r\nContent-Disposition: form-data; " + headers.encode() + b"\r\n\r\n" + part
    request = urllib.request.Request(
        f"{api.url}/bot{api.world.token}/{method}",
        body + b"\r\n--edge--\r\n",
        {"Content-Type": "multipart/form-data; boundary=edge"},
    )
    try:
        with PLAIN.open(request, timeout=10) as response:
            return response.status, json.load(response)["result"]
    except urllib.error.HTTPError as error:
        with error:
            return error.code, json.load(error)


FILE = 'name="document"; filename="calendar.ics"\r\nContent-Type: text/calendar'


def test_a_document_in_parts(api: BotApi) -> None:
    group = api.world.group()
    status, message = upload(
        api,
        "sendDocument",
        b"BEGIN:VCALENDAR",
        FILE,
        chat_id=group,
        caption="<b>Yours</b>",
        parse_mode="HTML",
        reply_markup=json.dumps({"inline_keyboard": [[{"text": "a", "callback_data": "b"}]]}),
    )
    assert status == 200, message
    document = message["document"]
    assert (document["file_name"], document["file_size"], document["mime_type"]) == (
        "calendar.ics",
        15,
        "text/calendar",
    )
    assert message["caption"] == "Yours"
    assert api.world.files[document["file_id"]] == b"BEGIN:VCALENDAR"
    (sent,) = api.world.sent
    assert (sent.file_name, sent.media_type, sent.labels) == ("calendar.ics", "text/calendar", ("a",))
    with PLAIN.open(f"{api.url}/control/calls", timeout=10) as response:
        (told,) = [one for one in json.load(response) if one["method"] == "sendDocument"]
    assert told["params"]["document"]["content"] == 15


def test_documents_that_are_not_taken(api: BotApi) -> None:
    group = api.world.group()
    assert upload(api, "sendDocument", b"", FILE, chat_id=group)[0] == 400
    status, body = upload(api, "sendDocument", b"x", FILE, chat_id=group, caption="x" * 1025)
    assert (status, "caption is too long" in body["description"]) == (400, True)
    assert upload(api, "sendDocument", b"x", FILE, chat_id=404)[0] == 400
    assert upload(api, "sendDocument", b"x" * (50 * 2**20 + 1), FILE, chat_id=group)[0] == 413
    assert not api.world.sent
    assert not api.world.files


def test_a_caption_is_changed_as_a_caption(api: BotApi) -> None:
    group = api.world.group()
    _, sent = upload(api, "sendDocument", b"x", FILE, chat_id=group, caption="one")
    which = {"chat_id": group, "message_id": sent["message_id"]}
    status, body = call(api, "editMessageText", **which, text="two")
    assert (status, "no text in the message" in body["description"]) == (400, True)
    assert call(api, "editMessageCaption", **which, caption="two")[0] == 200
    assert call(api, "editMessageCaption", **which, caption="two")[0] == 400
    assert call(api, "editMessageCaption", **which, caption="x" * 1025)[0] == 400
    plain = call(api, "sendMessage", chat_id=group, text="x")[1]["message_id"]
    assert call(api, "editMessageCaption", chat_id=group, message_id=plain, caption="y")[0] == 400
    assert [sent.text for sent in api.world.sent] == ["one", "two", "x"]


def test_taps_find_the_latest_button(api: BotApi) -> None:
    group = api.world.group()
    keyboard = {"inline_keyboard": [[{"text": "Done", "callback_data": "d:1"}]]}
    call(api, "sendMessage", chat_id=group, text="one", reply_markup=keyboard)
    second = call(api, "sendMessage", chat_id=group, text="two", reply_markup=keyboard)[1]["message_id"]
    assert api.world.tap("ana", "done", group) == second
    query = call(api, "getUpdates")[1][0]["callback_query"]
    assert (query["data"], query["message"]["message_id"]) == ("d:1", second)
    assert call(api, "answerCallbackQuery", callback_query_id=query["id"])[0] == 200
    with pytest.raises(LookupError):
        api.world.tap("ana", "Later", group)


def test_polling_is_refused_while_a_webhook_is_set(api: BotApi) -> None:
    assert call(api, "setWebhook", url="http://hook.example")[0] == 400
    assert call(api, "setWebhook", url="https://192.0.2.1/hook")[0] == 200
    assert call(api, "getUpdates")[0] == 409
    assert call(api, "deleteWebhook")[0] == 200
    assert call(api, "getUpdates")[0] == 200


def test_it_runs_as_a_process_with_controls() -> None:
    command = [sys.executable, "-u", "-m", "tests.botapi.double", "--token", "5:FIVE"]
    root = Path(__file__).parents[2]
    with subprocess.Popen(command, cwd=root, stderr=subprocess.PIPE, text=True) as process:
        try:
            assert process.stderr is not None
            url = next(line for line in process.stderr if "listening on" in line).split()[-1]
            status, group = post(f"{url}/control/group", {"title": "The cellar"})
            assert status == 200
            assert (
                post(f"{url}/control/say", {"member": "ana", "text": "sg 1.050", "chat_id": group})[0] == 200
            )
            body = post(f"{url}/bot5:FIVE/getUpdates", {})[1]
            assert body["result"][0]["message"]["text"] == "sg 1.050"
            post(f"{url}/bot5:FIVE/sendMessage", {"chat_id": group, "text": "noted"})
            sent = post(f"{url}/control/sent", {})[1]
            assert [message["text"] for message in sent] == ["noted"]
        finally:
            process.terminate()


@pytest.mark.parametrize(
    ("marked", "plain"),
    [
        ("<b>a</b> &lt; b", "a < b"),
        ("&nbsp;&copy;", "&nbsp;&copy;"),
        ("<a href='x'>y</a>", "y"),
        ("&#65;", "A"),
    ],
)
def test_markup(marked: str, plain: str) -> None:
    assert plain_text(marked) == plain


@pytest.mark.parametrize("marked", ["<", "< b", "<b", "</b>", "<b></i>", "<x>y</x>"])
def test_bad_markup(marked: str) -> None:
    with pytest.raises(MarkupError):
        plain_text(marked)


def test_length_is_counted_in_utf16_units() -> None:
    assert utf16_length("a😀é") == 4
