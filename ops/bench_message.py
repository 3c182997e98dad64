"""What one message costs, handled durably, against a bare echo bot.

Ours: taken in, understood, logged, its answer queued, sent and marked, in a household with a full log. The bare
one: the library's own polling, one row into an SQLite file that is as safe (synchronous=FULL), one reply. Both
are processes of their own on the same Bot API double in one run; what is compared is the CPU time of the bot's
process alone, between the first and the last of the messages. Run: sh ops/bench message
"""

import argparse
import asyncio
import signal
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from bot.edges.clock import now
from tests.botapi.double import BotApi
from tests.botapi.world import World

MESSAGES, WARMING, HOUSEHOLDS, LOGGED, ROUNDS = 1200, 200, 40, 80, 3


async def ours(url: str, token: str, folder: Path) -> None:
    """The whole bot as `bucketside serve` builds it, but for the pace: the double has no limits."""
    from bot.edges.telegram.service import TelegramEdge
    from bot.wiring import open_desk

    desk = open_desk(f"sqlite:///{folder / 'bucketside.db'}")
    edge = TelegramEdge(desk, token, url, now, lambda: None, paced=False)
    stop = asyncio.Event()
    asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, stop.set)
    await edge.run(stop)


def bare(url: str, token: str, folder: Path) -> None:
    """An echo bot with one durable commit a message, written the library's usual way."""
    from telegram import Update
    from telegram.ext import Application, ContextTypes, MessageHandler, filters

    store = sqlite3.connect(folder / "echo.db", isolation_level=None)
    for pragma in ("journal_mode=WAL", "synchronous=FULL"):
        store.execute(f"PRAGMA {pragma}")
    store.execute(
        "CREATE TABLE IF NOT EXISTS said (update_id INTEGER PRIMARY KEY, chat_id INTEGER, text TEXT)"
    )

    async def echo(update: Update, context: ContextTypes.DEFAULT_TYPE) -> None:
        message = update.message
        store.execute("INSERT INTO said VALUES (?, ?, ?)", (update.update_id, message.chat_id, message.text))
        await message.reply_text(message.text)

    app = Application.builder().token(token).base_url(f"{url}/bot").build()
    app.add_handler(MessageHandler(filters.TEXT & filters.UpdateType.MESSAGE, echo))
    app.run_polling(bootstrap_retries=-1)


BOTS = {"ours": lambda *given: asyncio.run(ours(*given)), "bare": bare}


def furnish(folder: Path, groups: list[int], world: World) -> None:
    """Households with a batch and a full log, all answered."""
    from bot.cellar.log.acts import Temperature
    from bot.house.talk import Incoming
    from bot.store.queries.logbook import Source
    from bot.wiring import open_desk

    desk = open_desk(f"sqlite:///{folder / 'bucketside.db'}")
    ana = world.member("ana")
    for number, group in enumerate(groups):
        begin = Incoming(
            update_id=number + 1,
            chat_id=group,
            private=False,
            sender_id=ana["id"],
            sender_name=ana["first_name"],
            message_id=0,
            sent_at=world.moment,
            text="begin plum in bucket 1",
        )
        desk.handle(begin, world.moment)
    with desk._units.begin() as unit:
        for group in groups:
            house = unit.households.of_chat(group)
            assert house is not None
            member = unit.people.members(house.id)[0]
            batch = unit.log.entries(house.id)[0].entry
            for earlier in range(LOGGED, 0, -1):
                at = world.moment - timedelta(hours=earlier)
                act = Temperature(of="plum", temp_c=20 + earlier % 9)
                source = Source(chat_id=group, message_id=0, update_id=None)
                unit.log.write(house.id, act, member, source, said_at=at, at=at, batch=batch)
        unit.post.mark_sent([(letter.letter_id, 0) for letter in desk.unsent(now())], now())
    desk.close()


class Trial:
    """One bot process, and messages for it."""

    def __init__(self, which: str, folder: Path) -> None:
        self.api = BotApi(World())
        self.which, self.folder = which, folder

    def run(self) -> tuple[float, float]:
        """CPU ms a message, and messages a second."""
        with self.api:
            world = self.api.world
            groups = [world.group(f"House {number}") for number in range(HOUSEHOLDS)]
            world.moment = now() - timedelta(days=1)
            command = [
                sys.executable,
                __file__,
                "--as",
                self.which,
                self.api.url,
                world.token,
                str(self.folder),
            ]
            if self.which == "ours":
                furnish(self.folder, groups, world)
            process = subprocess.Popen(command, stderr=subprocess.DEVNULL)
            try:
                self._talk(groups, WARMING)
                self._wait(process, WARMING)
                spent, began = _cpu(process.pid), time.monotonic()
                self._talk(groups, MESSAGES)
                self._wait(process, WARMING + MESSAGES)
                return (_cpu(process.pid) - spent) * 1000 / MESSAGES, MESSAGES / (time.monotonic() - began)
            finally:
                process.terminate()
                process.wait(15)

    def _talk(self, groups: list[int], count: int) -> None:
        """Readings, some seconds apart so that nobody is taken to flood."""
        world = self.api.world
        for number in range(count):
            world.moment += timedelta(seconds=1)
            warm = 18 + number * 7 % 90 / 10
            world.say(("ana", "bert")[number % 2], f"temp {warm:.1f} bucket 1", groups[number % len(groups)])

    def _wait(self, process: "subprocess.Popen[bytes]", answers: int) -> None:
        while len(self.api.world.sent) < answers:
            if process.poll() is not None:
                raise SystemExit(f"the {self.which} bot ended")
            time.sleep(0.01)


def _cpu(pid: int) -> float:
    """Seconds of CPU that a process has used in all its threads."""
    import psutil

    times = psutil.Process(pid).cpu_times()
    return times.user + times.system


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--as", dest="which", choices=BOTS)
    parser.add_argument("rest", nargs="*")
    options = parser.parse_args()
    if options.which:
        url, token, folder = options.rest
        BOTS[options.which](url, token, Path(folder))
        return
    found: dict[str, list[float]] = {"ours": [], "bare": []}
    for _ in range(ROUNDS):
        for which, costs in found.items():
            with tempfile.TemporaryDirectory(prefix="bucketside-bench-") as folder:
                cost, rate = Trial(which, Path(folder)).run()
            costs.append(cost)
            print(f"{which}: {cost:.2f} ms CPU a message, {rate:.0f} a second")
    mine, theirs = (statistics.median(costs) for costs in found.values())
    print(
        f"{MESSAGES} messages, {HOUSEHOLDS} households with {LOGGED} entries each, medians of {ROUNDS}: "
        f"ours {mine:.2f} ms, bare {theirs:.2f} ms, ratio {mine / theirs:.2f}"
    )


if __name__ == "__main__":
    main()
