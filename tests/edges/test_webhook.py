"""The webhook, called by the double as the platform calls it."""

import itertools
import json
import os
import socket
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import suppress

import pytest

from bot.edges.telegram import health as telegram_health
from bot.edges.telegram.webhook import LARGEST_UPDATE, SECRET_HEADER, Webhook
from tests.botapi.double import BotApi
from tests.edges.bench import Bench, wait_until

SECRET = "Plum_and-elder1"
PLAIN = urllib.request.build_opener(urllib.request.ProxyHandler({}))


PORTS = itertools.count(12_000 + os.getpid() % 1_500 * 10)
"""Below the ports that the system gives to outgoing connections: a free one stays free until it is bound."""


def free_port() -> int:
    """A port that nobody listens on."""
    while True:
        port = next(PORTS)
        with socket.socket() as probe, suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port


@pytest.fixture
def hooked(api: BotApi) -> Iterator[Bench]:
    place = f"127.0.0.1:{free_port()}"
    with Bench(api, doorway=Webhook(f"http://{place}/updates", SECRET, place)) as bench:
        yield bench


def knock(bench: Bench, body: bytes, secret: str | None = SECRET, path: str = "/updates") -> int:
    headers = {} if secret is None else {SECRET_HEADER: secret}
    url = bench.options["doorway"].url.replace("/updates", path)
    try:
        with PLAIN.open(urllib.request.Request(url, body, headers), timeout=10) as response:
            return int(response.status)
    except urllib.error.HTTPError as error:
        with error:
            return error.code


def start(bench: Bench) -> None:
    bench.start()
    wait_until(lambda: bench.world.webhook["url"], "the webhook is registered")


def test_updates_come_in_order_and_are_answered(hooked: Bench) -> None:
    group = hooked.world.group()
    hooked.recording.answer = lambda incoming: [{"html": f"noted {incoming.text}"}]
    for number in range(20):
        hooked.world.say("ana", f"sg {number}", group)
    start(hooked)
    wait_until(lambda: len(hooked.world.said(group)) == 20, "all answered")
    assert hooked.recording.texts == [f"sg {number}" for number in range(20)]
    (call,) = hooked.world.calls_of("setWebhook")
    assert call.params["secret_token"] == SECRET
    assert call.params["max_connections"] == 1
    assert call.params["allowed_updates"] == ["message", "edited_message", "callback_query", "my_chat_member"]
    assert not hooked.world.calls_of("getUpdates")


def test_an_update_that_cannot_be_committed_comes_again(hooked: Bench) -> None:
    group = hooked.world.group()
    start(hooked)
    hooked.recording.failing["take_in"] = 2
    hooked.world.say("ana", "sg 1.050", group)
    hooked.world.say("ana", "sg 1.040", group)
    wait_until(lambda: len(hooked.recording.handled) == 2, "handled")
    assert hooked.recording.texts == ["sg 1.050", "sg 1.040"]
    assert [call.status for call in hooked.world.calls_of("(webhook)")][:3] == [500, 500, 200]


def test_the_same_update_again_changes_nothing(hooked: Bench) -> None:
    start(hooked)
    update = {
        "update_id": 9,
        "message": {
            "message_id": 1,
            "date": 1_772_000_000,
            "chat": {"id": -5, "type": "group"},
            "from": {"id": 11, "is_bot": False, "first_name": "Ana"},
            "text": "sg 1.050",
        },
    }
    body = json.dumps(update).encode()
    assert [knock(hooked, body) for _ in range(3)] == [200, 200, 200]
    wait_until(lambda: hooked.recording.handled, "handled")
    assert knock(hooked, body) == 200
    hooked.stop()
    assert hooked.recording.texts == ["sg 1.050"]


def test_who_does_not_know_the_secret_is_turned_away(hooked: Bench) -> None:
    start(hooked)
    body = b'{"update_id": 1, "message": {}}'
    for secret in (None, "", "wrong", SECRET + "x", SECRET[:-1]):
        assert knock(hooked, body, secret) == 403
    assert not hooked.recording.inbox


def test_what_is_no_update_is_turned_away(hooked: Bench) -> None:
    start(hooked)
    for body in (b"", b"hello", b"[]", b"{}", b'{"update_id": "1"}', b'{"update_id": -1}', b"\xff" * 10):
        assert knock(hooked, body) == 400
    assert knock(hooked, b'{"update_id": 1, "x": "' + b"x" * LARGEST_UPDATE + b'"}') == 413
    assert knock(hooked, b"{}", path="/elsewhere") == 404
    assert not hooked.recording.inbox


def health(bench: Bench) -> tuple[int, str]:
    url = bench.options["doorway"].url.replace("/updates", "/health")
    try:
        with PLAIN.open(url, timeout=20) as response:
            return int(response.status), response.read().decode()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.read().decode()


def test_health_needs_no_secret(hooked: Bench) -> None:
    start(hooked)
    assert health(hooked) == (200, "database ok (0 waiting), platform ok\n")


def test_health_says_when_the_database_fails(hooked: Bench) -> None:
    start(hooked)
    hooked.recording.down = True
    status, line = health(hooked)
    assert status == 503
    assert line.startswith("database fails (BrokenDatabaseError at ")
    assert "sg 1.012" not in line
    hooked.recording.down = False
    # Whatever else met the failure meanwhile, such as sending, has to work again too.
    wait_until(lambda: health(hooked)[0] == 200, "health is well again")


def test_health_asks_the_platform_when_it_was_quiet(hooked: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    start(hooked)
    asked = len(hooked.world.calls_of("getMe"))
    health(hooked)
    assert len(hooked.world.calls_of("getMe")) == asked, "it was heard of just now"
    monkeypatch.setattr(telegram_health, "LATELY", 0.0)
    assert health(hooked)[0] == 200
    assert len(hooked.world.calls_of("getMe")) == asked + 1
    hooked.world.fail("getMe", 502, "Bad Gateway")
    status, line = health(hooked)
    assert (status, "platform fails" in line) == (503, True)


def test_polling_writes_its_health_into_the_log(
    api: BotApi, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(telegram_health, "EVERY", 0.05)
    with caplog.at_level("INFO"), Bench(api) as bench:
        bench.start()
        wait_until(lambda: "health: database ok (0 waiting), platform ok" in caplog.text, "told")
        bench.recording.down = True
        wait_until(lambda: "health: database fails" in caplog.text, "told of trouble")


def test_a_stop_ends_it_and_lets_the_port_go(hooked: Bench) -> None:
    start(hooked)
    hooked.stop()
    assert hooked.error is None
    hooked.world.webhook = {"url": ""}
    start(hooked)
    assert hooked.stop() < 5


def test_a_port_that_is_taken_ends_it_with_an_error(hooked: Bench) -> None:
    webhook = hooked.options["doorway"]
    with socket.socket() as taken:
        taken.bind((webhook._host, webhook._port))
        taken.listen()
        hooked.start()
        hooked.join()
    assert isinstance(hooked.error, OSError)


@pytest.mark.parametrize(
    ("url", "secret", "listen", "said"),
    [
        ("https://wine.example.org/updates", "", "127.0.0.1:8080", "secret"),
        ("https://wine.example.org/updates", "a b", "127.0.0.1:8080", "secret"),
        ("wine.example.org", "s", "127.0.0.1:8080", "address"),
        ("https://wine.example.org/health", "s", "127.0.0.1:8080", "health"),
        ("https://wine.example.org/", "s", "8080", "listen"),
        ("https://wine.example.org/", "s", "127.0.0.1:http", "listen"),
        ("https://wine.example.org/", "s", "127.0.0.1:99999", "listen"),
    ],
)
def test_settings_that_cannot_work_say_what_to_write(url: str, secret: str, listen: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        Webhook(url, secret, listen)


def test_broken_gzip_without_the_secret_is_refused_before_it_is_read(hooked: Bench) -> None:
    start(hooked)
    place = hooked.options["doorway"].url.split("/")[2]
    host, port = place.split(":")
    for secret, status in ((None, 403), ("wrong", 403), (SECRET, 400)):
        shown = "" if secret is None else f"{SECRET_HEADER}: {secret}\r\n"
        head = f"POST /updates HTTP/1.1\r\nHost: {place}\r\nContent-Encoding: gzip\r\n{shown}"
        body = b"\x1f\x8bthis is no gzip" * 100
        with socket.create_connection((host, int(port)), timeout=10) as caller:
            caller.sendall(f"{head}Content-Length: {len(body)}\r\nConnection: close\r\n\r\n".encode() + body)
            assert caller.recv(4096).split(b"\r\n")[0].split()[1] == str(status).encode()
    assert not hooked.recording.inbox


@pytest.mark.parametrize("what", ["prove", "handle", "take_in"])
def test_health_says_when_a_write_fails_though_reading_works(hooked: Bench, what: str) -> None:
    start(hooked)
    group = hooked.world.group()
    hooked.recording.failing[what] = 10**6
    hooked.world.say("ana", "sg 1.050", group)
    wait_until(lambda: health(hooked)[0] == 503, "it says so")
    hooked.recording.failing.clear()
    hooked.world.say("ana", "sg 1.040", group)
    wait_until(lambda: health(hooked)[0] == 200, "it says so too")
    assert not any(hooked.recording.done.values())
