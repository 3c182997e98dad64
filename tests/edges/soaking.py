"""A soak: the real process is killed at random moments while households talk to it, and in the end the log
is compared with what was said. `python -m tests.edges.soaking --kills 300` prints the summary line."""

import argparse
import random
import signal
import sqlite3
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

from bot.edges.clock import now
from bot.science import practice
from tests.botapi.double import BotApi
from tests.edges.bench import wait_until
from tests.edges.serving import House
from tests.edges.trials import TRIALS

GROUPS = 20
A_KILL = 10
"""Messages for each kill."""

TIMERS_IN = (20.0, 45.0)
"""Seconds after the start in which the sanitisers' timers run out, one a group."""

PATIENCE = 180.0


@dataclass
class Summary:
    """What came of it. `repeated` are messages that were sent again since a kill came before they were marked."""

    updates: int
    entries: int
    doubles: int
    losses: int
    reminders: int
    reminders_lost: int
    reminders_doubled: int
    letters: int
    repeated: int
    most_repeated: int
    kills: int

    @property
    def sound(self) -> bool:
        """Nothing lost, nothing doubled, and no chat got more than one message again for each kill."""
        wrong = self.doubles + self.losses + self.reminders_lost + self.reminders_doubled
        return wrong == 0 and self.most_repeated <= self.kills

    def __str__(self) -> str:
        return (
            f"updates in {self.updates}, entries {self.entries}, doubles {self.doubles}, losses {self.losses}; "
            f"reminders {self.reminders}, doubles {self.reminders_doubled}, losses {self.reminders_lost}; "
            f"letters {self.letters}, in flight at a kill and sent again {self.repeated}; kills {self.kills}"
        )


class Soak:
    """Households that talk to a bot which is killed again and again."""

    def __init__(self, house: House, *, kills: int, seed: int) -> None:
        self.house, self.world, self.kills = house, house.world, kills
        self.chance = random.Random(seed)
        self.database = Path(house.environment["BUCKETSIDE_DATA_DIR"]) / "bucketside.db"
        self.expected: dict[int, dict[str, Any]] = {}
        self.said: list[tuple[str, int, int]] = []
        self.groups: list[int] = []
        self.talked = 0
        self.odd: list[str] = []

    def run(self) -> Summary:
        """Kills, stops properly in the end, and compares."""
        with self.house.running() as process:
            self._begin()
            wait_until(lambda: self._settled("inbox", "done_at"), "the beginnings", PATIENCE)
            process.kill()
        for _ in range(self.kills - 1):
            self._live_and_die()
        starts = len(self.world.calls_of("getMe"))
        with self.house.running() as process:
            wait_until(lambda: len(self.world.calls_of("getMe")) > starts, "the last start", PATIENCE)
            wait_until(self._all_done, "all is done", PATIENCE)
            process.send_signal(signal.SIGTERM)
            status = process.wait(10)
        assert status == 0, f"status {status}\n{self.house.log.read_text()[-3000:]}"
        return self._compare()

    def _begin(self) -> None:
        for number in range(GROUPS):
            group = self.world.group(f"House {number}")
            self.groups.append(group)
            self._say("ana", "begin plum in bucket 1", group, {"do": "begin"})
            # Said so long ago that its timer runs out while the bot is being killed.
            self.world.moment = (
                now() - practice.CONTACT.value + timedelta(seconds=self.chance.uniform(*TIMERS_IN))
            )
            self._say("bert", "sanitised bucket 2", group, {"do": "step", "step": "sanitise"})
            self.world.moment = now()

    def _say(self, member: str, text: str, group: int, act: dict[str, Any]) -> None:
        message = self.world.say(member, text, group)
        self.expected[self.world.newest_update] = act
        if act["do"] == "temperature":
            self.said.append((member, message, group))

    def _talk(self) -> None:
        """A reading, or now and then a reading corrected by an edit."""
        self.world.moment = now()
        self.talked += 1
        warm = round(18 + self.talked % 100 / 10, 1)  # an edit that changes nothing would be no entry
        act = {"do": "temperature", "temp_c": warm}
        if self.said and self.chance.random() < 0.1:
            member, message, group = self.chance.choice(self.said[-50:])
            self.world.edit(member, message, f"temp {warm:.1f} bucket 1", group)
            self.expected[self.world.newest_update] = act
            return
        self._say(
            self.chance.choice(["ana", "bert"]),
            f"temp {warm:.1f} bucket 1",
            self.chance.choice(self.groups),
            act,
        )

    def _live_and_die(self) -> None:
        before = self.chance.randrange(A_KILL + 1)
        for _ in range(before):
            self._talk()
        with self.house.running() as process:
            moments = sorted(self.chance.uniform(0, 1.5) for _ in range(A_KILL - before))
            born = time.monotonic()
            calls, wanted = len(self.world.calls), self.chance.randrange(2, 40)
            until = born + self.chance.uniform(0.2, 3.0)
            while time.monotonic() < until:
                if moments and time.monotonic() - born > moments[0]:
                    moments.pop(0)
                    self._talk()
                if len(self.world.calls) - calls >= wanted:
                    time.sleep(self.chance.uniform(0, 0.01))
                    break
                time.sleep(0.001)
            assert process.poll() is None, self.house.log.read_text()[-2000:]
            process.kill()
        for _ in moments:
            self._talk()

    def _ask(self, query: str) -> list[Any]:
        with closing(sqlite3.connect(self.database, timeout=10)) as connection:
            return connection.execute(query).fetchall()

    def _settled(self, table: str, column: str) -> bool:
        """Whether all that the platform has was taken in, and every row of that table is done with."""
        if self.world.updates or not self.database.exists():
            return False
        (open_rows,) = self._ask(f"SELECT count(*) FROM {table} WHERE {column} IS NULL")[0]
        return not open_rows

    def _all_done(self) -> bool:
        waiting = "SELECT count(*) FROM reminders WHERE state = 'planned' AND step LIKE 'contact %'"
        return (
            self._settled("inbox", "done_at")
            and self._ask(waiting)[0][0] == 0
            and self._settled("outbox", "closed_at")
        )

    def _compare(self) -> Summary:
        entries = self.house.entries()
        found: dict[int, list[dict[str, Any]]] = {}
        for entry in entries:
            found.setdefault(entry["update_id"], []).append(entry["act"])
        doubles = losses = 0
        for update_id, act in self.expected.items():
            matching = [got for got in found.get(update_id, []) if act.items() <= _close(got).items()]
            losses += not matching
            doubles += max(len(found.get(update_id, [])) - 1, 0)
            if len(matching) != 1 or len(found[update_id]) != 1:
                self.odd.append(f"update {update_id} should be {act} and is {found.get(update_id)}")
        doubles += sum(len(acts) for update_id, acts in found.items() if update_id not in self.expected)
        timers = self._ask(
            "SELECT outbox.chat_id, outbox.sent_as FROM reminders "
            "LEFT JOIN outbox ON outbox.id = reminders.outbox_id WHERE step LIKE 'contact %'"
        )
        heard = Counter(chat for chat, sent_as in timers if sent_as is not None)
        letters = self._ask(
            "SELECT chat_id, count(*) FROM outbox WHERE sent_as IS NOT NULL AND edits IS NULL GROUP BY chat_id"
        )
        again = {chat: len(self.world.said(chat)) - count for chat, count in letters}
        return Summary(
            updates=len(self.expected),
            entries=len(entries),
            doubles=doubles,
            losses=losses,
            reminders=len(timers),
            reminders_lost=sum(heard[group] == 0 for group in self.groups),
            reminders_doubled=sum(heard[group] > 1 for group in self.groups),
            letters=sum(count for _, count in letters),
            repeated=sum(again.values()),
            most_repeated=max(again.values()),
            kills=self.kills,
        )


def _close(act: dict[str, Any]) -> dict[str, Any]:
    """The act with its numbers as written: sums of tenths are not quite tenths."""
    return {key: round(value, 1) if isinstance(value, float) else value for key, value in act.items()}


def main(argv: Sequence[str] | None = None) -> int:
    """Soaks, prints the summary, and returns 1 when anything was lost or doubled."""
    parser = argparse.ArgumentParser(prog="ops/soak", description=__doc__)
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--seed", type=int, default=random.SystemRandom().randrange(10**6))
    parser.add_argument("--only-kills", action="store_true", help="not the other trials")
    options = parser.parse_args(argv)
    with BotApi() as api, tempfile.TemporaryDirectory(prefix="bucketside-soak-") as folder:
        soak = Soak(House(api, Path(folder)), kills=options.kills, seed=options.seed)
        summary = soak.run()
    sys.stdout.write("\n".join([*soak.odd, f"{summary} (seed {options.seed})", ""]))
    for trial in () if options.only_kills else TRIALS:
        with BotApi() as api, tempfile.TemporaryDirectory(prefix="bucketside-trial-") as folder:
            sys.stdout.write(trial(House(api, Path(folder))) + "\n")
    return 0 if summary.sound else 1


if __name__ == "__main__":
    sys.exit(main())
