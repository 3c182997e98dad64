"""The house's dates as a file for people's own calendars: each is known there by a name of its own, so that a
later file moves or takes out what an earlier one put in."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from hashlib import sha256
from uuid import uuid4

import msgspec

from bot.cellar.batch.ahead import coming
from bot.cellar.batch.place import place_in_plan
from bot.cellar.home.due import Due, due_for, due_for_house
from bot.cellar.log.due_key import DueKey, StepKey
from bot.cellar.log.fold import Batch
from bot.house.home import Home
from bot.house.hours import hours_of
from bot.house.letters import letter
from bot.house.letters.plan import ring_at
from bot.ids import BatchId
from bot.say import dates
from bot.say.dates import Dated, DateFile, Event
from bot.store.queries.calendar import DateRow
from bot.store.queries.postbox import File

NAME, MEDIA_TYPE, KIND = "calendar.ics", "text/calendar", "calendar"

_ROUND = timedelta(minutes=15)
"""What should have been done by now is put at the next full quarter of an hour, not at this very second."""

DateKey = tuple[BatchId, DueKey]
"""What a date is known by in its house: the batch and the thing."""


class _Page(msgspec.Struct, frozen=True):
    """A date as it goes into the file."""

    row: DateRow
    dated: Dated


def export(home: Home, of: str | None) -> tuple[str, File | None]:
    """The letter, and the file with all that is to come for that batch, or for the whole house. What is given out
    is noted, so this belongs to a letter that leaves."""
    view = home.view.named(of)
    wanted = wanted_in(home, view)
    pages = _pages(home, wanted, view)
    if not pages:
        return dates.nothing(view.name if view else None, begun=bool(home.view.batches)), None
    batches = {batch for batch, _ in wanted if batch}
    words = dates.letter(list(wanted.values()), len(batches), len(pages) - len(wanted))
    return words, File(name=NAME, media_type=MEDIA_TYPE, kind=KIND, content=_file(home, pages))


def _file(home: Home, pages: Sequence[_Page]) -> bytes:
    """What the file says, as it is kept until it leaves; `written_out` makes the file of it."""
    events = tuple(
        Event(
            uid=page.row.uid,
            sequence=page.row.sequence,
            changed_at=page.row.changed_at,
            dated=page.dated,
            cancelled=page.row.cancelled,
        )
        for page in pages
    )
    return msgspec.json.encode(DateFile(title=dates.title_of(home.row.name), events=events, made_at=home.now))


def written_out(kept: bytes) -> bytes:
    """The file as calendars read it. What was kept before files were written out so late is one already."""
    if not kept.startswith(b"{"):
        return kept
    from bot.say.calendar import calendar  # slow to load, and seldom wanted

    return calendar(msgspec.json.decode(kept, type=DateFile))


def wanted_in(home: Home, only: Batch | None = None) -> dict[DateKey, Dated]:
    """All that is to come, by its key, which stays the same when its day moves; in order of time, else of the plan."""
    planned = {
        letter.occurrence(row): row.ring_at
        for row in home.unit.reminders.standing(home.id)
        if row.state == "planned" and row.ring_at > home.now
    }
    found: dict[DateKey, Dated] = {}
    for view in home.view.batches if only is None else (only,):
        found |= _of_batch(home, view, planned)
    for due in due_for_house(home.view, home.contact) if only is None else ():
        at = _said_at(home, due, None, planned)
        if at is not None:
            found[due.batch, due.key] = dates.of_due(due, at, None)
    return dict(sorted(found.items(), key=lambda item: item[1].start))


def _of_batch(home: Home, view: Batch, planned: Mapping[letter.Occurrence, datetime]) -> dict[DateKey, Dated]:
    hours = hours_of(home.row)
    due_now = [due for due in due_for(view, home.view) if due.level == "first"]
    chore = place_in_plan(view).chore
    first = next((due.at for due in due_now if chore is not None and due.key == StepKey(step=chore.id)), None)
    found: dict[DateKey, Dated] = {}
    for step in coming(view, _soon(home.now), first):
        found[view.batch, StepKey(step=step.step.id)] = dates.of_coming(
            step, hours.asking(step.at, home.now), view
        )
    for due in due_now:
        found.pop((view.batch, due.key), None)
        at = _said_at(home, due, view, planned)
        if at is not None:
            found[view.batch, due.key] = dates.of_due(due, at, view)
    return found


def _said_at(
    home: Home, due: Due, view: Batch | None, planned: Mapping[letter.Occurrence, datetime]
) -> datetime | None:
    """When something due is said; None where it has no place in a calendar: timers are over in minutes, and what
    was said of a batch at its end, or of a plan that somebody made, is over too. Anything else that is late
    stands at the next good moment."""
    if due.exact or due.kind == "watch" or due.level != "first":
        return None
    if (ringing := planned.get((due.batch, due.key, due.at))) is not None:
        return ringing
    if due.at > home.now:
        return ring_at(due, hours_of(home.row), home.now)
    if view is None or view.ended_at is not None or due.kind == "asked":
        return None
    return ring_at(due, hours_of(home.row), _soon(home.now))


def _soon(now: datetime) -> datetime:
    past = (now - datetime.min.replace(tzinfo=now.tzinfo)) % _ROUND
    return now if not past else now - past + _ROUND


def _pages(home: Home, wanted: dict[DateKey, Dated], only: Batch | None) -> list[_Page]:
    """What is wanted now, under the names that were given out before, and what is to be taken out."""
    given = {(row.batch, row.step): row for row in home.unit.calendar.given(home.id)}
    pages = [_Page(_given_now(home, key, dated, given.get(key)), dated) for key, dated in wanted.items()]
    for key, row in given.items():
        outside = only is not None and row.batch != only.batch
        if key in wanted or outside or row.start <= home.now:
            continue
        if not row.cancelled:
            row = msgspec.structs.replace(
                row, sequence=row.sequence + 1, changed_at=home.now, fingerprint="", cancelled=True
            )
            home.unit.calendar.change(home.id, row)
        pages.append(_Page(row, _cancelled(row)))
    return pages


def _given_now(home: Home, key: DateKey, dated: Dated, row: DateRow | None) -> DateRow:
    content = sha256(msgspec.json.encode(dated)).hexdigest()
    fresh = DateRow(
        batch=key[0],
        step=key[1],
        uid=str(uuid4()) if row is None else row.uid,
        sequence=0 if row is None else row.sequence + 1,
        fingerprint=content,
        summary=dated.summary,
        start=dated.start,
        changed_at=home.now,
    )
    if row is None:
        home.unit.calendar.add(home.id, fresh)
        return fresh
    if row.fingerprint == content:
        return row
    home.unit.calendar.change(home.id, fresh)
    return fresh


def _cancelled(row: DateRow) -> Dated:
    return Dated(summary=row.summary, description="", start=row.start, end=row.start + dates.LENGTH)
