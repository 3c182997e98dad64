"""How long it takes to fold a batch of 500 entries: `sh ops/bench fold`."""

import timeit
from datetime import UTC, datetime, timedelta

import msgspec

from bot.cellar.batch.place import stage
from bot.cellar.log.acts import (
    Act,
    Addition,
    Begin,
    Gravity,
    Note,
    Share,
    Split,
    Step,
    Temperature,
    Undo,
    Volume,
)
from bot.cellar.log.fold import Entry, fold

START = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
ENTRIES = 500


def entries() -> list[Entry]:
    """One batch of that many entries: readings, temperatures, notes, chores, additions, a split, struck-out ones."""
    found = [_entry(1, Begin(name="plum", of="plum", litres=23.0, days=30, vessel="bucket 1"), None)]
    found.append(_entry(2, Step(of="plum", step="pitch"), 1))
    for number in range(3, ENTRIES + 1):
        found.append(_entry(number, _act(number), 1, strikes=number - 1 if number % 29 == 0 else None))
    return found


def _act(number: int) -> Act:
    if number % 29 == 0:
        return Undo()
    if number % 97 == 0:
        to = "demijohn 1" if number % 2 else "demijohn 2"
        return Split(of="plum", into=(Share(vessel="bucket 1", litres=18.0), Share(vessel=to, litres=5.0)))
    kinds: tuple[Act, ...] = (
        Gravity(of="plum", sg=round(max(0.994, 1.085 - 0.0004 * number), 4), temp_c=20.5),
        Temperature(of="plum", temp_c=20.0 + number % 3),
        Note(of="plum", text="smells of pears"),
        Step(of="plum", step="degas" if number % 2 else "top_up"),
        Addition(of="plum", what="sulphite", amount=1.0, unit="tablet"),
        Volume(of="plum", litres=22.5),
    )
    return kinds[number % len(kinds)]


def _entry(number: int, act: Act, batch: int | None, strikes: int | None = None) -> Entry:
    at = START + timedelta(hours=1.5 * number)
    return Entry(entry=number, act=act, by="ana", said_at=at, at=at, batch=batch, strikes=strikes)


def main() -> None:
    """Prints the best of seven runs, in ms: the fold alone, and with the batch's stage."""
    log = entries()
    now = log[-1].at + timedelta(hours=1)
    (view,) = fold(log).batches
    print(f"{len(log)} entries, {len(view.readings)} readings, {len(view.chores)} chores")
    for name, work in (
        ("fold", lambda: fold(log)),
        ("stage", lambda: stage(msgspec.structs.replace(view), now)),  # a view remembers: each time a new one
    ):
        best = min(timeit.repeat(work, number=20, repeat=7)) / 20
        print(f"{name:<8}{1000 * best:8.3f} ms")


if __name__ == "__main__":
    main()
