"""The database's file is deleted while the bot runs: what comes in is not acknowledged, and health says why."""

import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from bot.edges.telegram.webhook import Webhook
from bot.house.desk import Desk
from bot.store.database import open_engine, sqlite_url
from bot.store.unit import Units
from tests.botapi.double import BotApi
from tests.edges.bench import Bench, wait_until
from tests.edges.test_webhook import SECRET, free_port

BEGIN = "new batch: plum, red, 23 l in bucket 2, 14 day kit"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "house.db"


@pytest.fixture
def desk(path: Path) -> Iterator[Desk]:
    desk = Desk(Units(open_engine(sqlite_url(path))), timezone="UTC")
    yield desk
    desk.close()


def test_polling_does_not_acknowledge_and_says_so(
    api: BotApi, desk: Desk, path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with Bench(api, desk) as bench:
        world, group = bench.world, bench.world.group()
        bench.start()
        world.say("ana", BEGIN, group)
        wait_until(lambda: world.said(group), "begun")
        wait_until(lambda: world.confirmed_below > world.newest_update, "confirmed")
        path.unlink()
        world.say("ana", "sg 1.080 plum", group)
        wait_until(lambda: "was deleted" in caplog.text, "it says so")
        well, line = bench.call(bench.edge._health.report())
        assert not well
        assert "deleted" in line
        assert world.confirmed_below == world.newest_update, "the last one is not confirmed"
    assert len(world.said(group)) == 1
    assert [update["update_id"] for update in world.updates] == [world.newest_update]


def test_the_webhook_does_not_acknowledge_and_health_says_so(api: BotApi, desk: Desk, path: Path) -> None:
    place = f"127.0.0.1:{free_port()}"
    doorway = Webhook(f"http://{place}/updates", SECRET, place)
    with Bench(api, desk, doorway=doorway) as bench:
        world, group = bench.world, bench.world.group()
        bench.start()
        world.say("ana", BEGIN, group)
        wait_until(lambda: world.said(group), "begun")
        path.unlink()
        world.say("ana", "sg 1.080 plum", group)
        wait_until(lambda: world.calls_of("(webhook)")[-1].status == 500, "not taken")
        opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
        with pytest.raises(urllib.error.HTTPError) as caught:
            opener.open(f"http://{place}/health", timeout=10)
        with caught.value as answer:
            assert answer.code == 503
            assert b"deleted" in answer.read()
    assert 200 not in [call.status for call in world.calls_of("(webhook)")[1:]]
