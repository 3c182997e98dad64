"""Reminders: rows kept in step with what is due, gathered, and said once, at a decent hour."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta

import msgspec

from bot.cellar.home.due import LATE_TIMER, Due, due_for, due_for_house
from bot.cellar.log.due_key import AskedKey, ContactKey, DueKey, TimerKey
from bot.house.home import Home
from bot.house.hours import Hours, hours_of
from bot.house.letters import letter
from bot.house.letters.letter import Occurrence, occurrence
from bot.ids import BatchId, ChatId, HouseholdId, LetterId
from bot.store.queries.reminders import ReminderRow
from bot.store.unit import Unit

MOST_THINGS = 8
"""In one message; what is over waits for the next."""

_STALE_TIMER = timedelta(hours=12)
_STALE_ASKED = timedelta(days=1)
"""Somebody asked for it: it is said as long as it may still be of use."""
_ASKED_FOR = (ContactKey, TimerKey, AskedKey)


def wanted_in(home: Home, batches: Collection[BatchId] | None = None) -> dict[Occurrence, Due]:
    """Everything to come in this house by what is known now, by what makes each unique; of the batches, only
    these. What nobody would be told of any more is left out."""
    found = due_for_house(home.view, home.contact, since=home.now - _STALE_TIMER)
    for view in home.view.batches:
        if batches is None or view.batch in batches:
            found += due_for(view, home.view)
    here = {member.name for member in home.members}
    return {
        (due.batch, due.key, due.at): due if due.whose in here else _without_them(due)
        for due in found
        if due.until is None or home.now < due.until
    }


def _without_them(due: Due) -> Due:
    """Of somebody who has left, or of nobody: what was asked for them is for the one who asked."""
    whose = due.asked_by if due.whose is not None and due.claim is None else None
    return msgspec.structs.replace(due, whose=whose) if due.whose is not None else due


def replan(home: Home) -> None:
    """Adds, moves and withdraws the household's reminders so that they are what is due.

    What was said is never planned again, since (household, batch, step, due) is unique; its message is
    changed when it has been done, moved or is no longer needed. A due time that passed before its cause was
    told (a late report) is said at the next decent hour, except for timers: those only matter while they run.
    """
    wanted = wanted_in(home)
    hours = hours_of(home.row)
    rows = home.unit.reminders.standing(home.id, [moment for _, _, moment in wanted])
    known = {occurrence(row): row for row in rows}
    home.unit.reminders.forget(
        home.id, [row.id for place, row in known.items() if row.state == "planned" and place not in wanted]
    )
    for place, due in wanted.items():
        row = known.get(place)
        rings = ring_at(due, hours, home.now)
        if row is None:
            gone = due.exact and due.at <= home.now and (due.kind != "asked" or _pointless(due, home.now))
            home.unit.reminders.plan(home.id, *place, rings, "withdrawn" if gone else "planned")
        elif row.state == "planned" and row.ring_at != rings and due.at > home.now:
            home.unit.reminders.ring_at(home.id, row.id, rings)  # the household's clock or hours have changed
    _bring_up_to_date(home, [row for row in rows if row.outbox_id is not None], wanted)


def ring_at(due: Due, hours: Hours, now: datetime) -> datetime:
    """When something due is said, at a decent hour. A due time that has passed rings from now on: but not at
    night. What is done over and over is waited for, so it keeps its moment too."""
    if due.exact:
        return due.at
    return hours.decent(max(due.at, now)) if due.timed or due.did else hours.asking(due.at, now)


def _bring_up_to_date(home: Home, rows: Sequence[ReminderRow], wanted: Mapping[Occurrence, Due]) -> None:
    """Changes the letters of what was said where it is no longer so."""
    changed: dict[LetterId, None] = {}
    for row in rows:
        if isinstance(row.key, ContactKey) or row.outbox_id is None:
            continue
        if row.state in ("answered", "withdrawn") and occurrence(row) not in wanted:
            continue
        now_so = letter.stands(home, row, wanted)
        if now_so != (row.state, row.mark):
            home.unit.reminders.mark(home.id, row.id, *now_so)
            changed[row.outbox_id] = None
    for outbox_id in changed:
        letter.amend(home, outbox_id, wanted)


def ring(unit: Unit, household_id: HouseholdId, now: datetime) -> None:
    """Says what is due by now in one household, and closes what is thereby asked again."""
    home = Home(unit, unit.households.lock(household_id), now)
    standing = unit.reminders.standing(household_id)
    again = {(row.batch, row.key.base) for row in _say(home, standing)}
    older = [row for row in standing if row.state == "moved" and (row.batch, row.key.base) in again]
    if older:
        letter.close(home, older, wanted_in(home))


def _say(home: Home, standing: Sequence[ReminderRow]) -> list[ReminderRow]:
    """Says it, timers by themselves, the rest in one letter; returns what was said."""
    unit, household_id, now = home.unit, home.id, home.now
    hours = hours_of(home.row)
    chat_id = unit.households.main_chat(household_id)
    if chat_id is None:  # it is kept until somebody can be told
        return []
    planned = [row for row in standing if row.state == "planned" and row.ring_at < hours.ends(now)]
    wanted = wanted_in(home, {row.batch for row in planned})
    ringing = [(row, wanted.get(occurrence(row))) for row in planned if row.ring_at <= now]
    due_now: list[tuple[ReminderRow, Due]] = []
    for row, due in ringing:
        if due is None or _pointless(due, now):
            unit.reminders.mark(household_id, row.id, "withdrawn")
        elif hours.quiet(now) and not _to_the_minute(due, now):
            unit.reminders.ring_at(
                household_id, row.id, hours.decent(now)
            )  # back from being off, in the night
        else:
            due_now.append((row, due))
    said: list[ReminderRow] = []
    together: list[tuple[ReminderRow, Due]] = []
    for row, due in due_now:
        where = said_in(home, due, chat_id)
        if due.exact or where != chat_id:
            letter.tell(home, where, [(row, due)])
            said.append(row)
        else:
            together.append((row, due))
    waiting = _without_overtaken(home, together)
    if not waiting:
        return said
    if not any(due.timed for _, due in waiting) and _said_today(home, hours) >= home.row.most_a_day:
        for row, _ in waiting:
            unit.reminders.ring_at(household_id, row.id, hours.tomorrow(now))
        return said
    if not all(due.timed for _, due in waiting):
        waiting += _later_today(planned, wanted, hours, now)
    waiting.sort(key=lambda pair: _urgency(pair[1]))
    for row, _ in waiting[MOST_THINGS:]:
        unit.reminders.ring_at(household_id, row.id, max(row.ring_at, hours.tomorrow(now)))
    letter.tell(home, chat_id, waiting[:MOST_THINGS])
    return said + [row for row, _ in waiting[:MOST_THINGS]]


def said_in(home: Home, due: Due, main: ChatId) -> ChatId:
    """Where it is said: what somebody asked for in private for themselves stays there."""
    if not isinstance(due.key, AskedKey) or due.whose is None or due.whose != due.asked_by:
        return main
    if due.claim is not None:
        return main
    entry = due.key.entry
    source = home.unit.log.sources(home.id, [entry]).get(entry)
    here = source is not None and home.unit.households.talks_in(home.id, source.chat_id)
    return source.chat_id if source is not None and here else main


def _to_the_minute(due: Due, now: datetime) -> bool:
    """A timer rings at night too; one of somebody's own that it is too late for waits for the morning."""
    return due.exact and (due.kind != "asked" or now - due.at <= LATE_TIMER)


def _pointless(due: Due, now: datetime) -> bool:
    """A timer that ran out some time ago only matters while its step is open."""
    late = now - due.at
    if due.kind == "asked":
        return due.exact and late > _STALE_ASKED
    return due.exact and (late > _STALE_TIMER or (late > LATE_TIMER and not due.still_open))


def _without_overtaken(home: Home, pairs: Sequence[tuple[ReminderRow, Due]]) -> list[tuple[ReminderRow, Due]]:
    """Of the same thing said several times over at once, as after being off, only one is said: the first, or
    the one with why."""
    kept: dict[tuple[int, DueKey], tuple[ReminderRow, Due]] = {}
    for pair in sorted(pairs, key=lambda pair: _LEVEL[pair[1].level]):
        due = pair[1]
        place = (due.batch, due.key.base)
        if place in kept and due.level == "matters":
            home.unit.reminders.mark(home.id, kept[place][0].id, "withdrawn")
            kept[place] = pair
        elif place in kept:
            home.unit.reminders.mark(home.id, pair[0].id, "withdrawn")
        else:
            kept[place] = pair
    return list(kept.values())


_LEVEL = {"first": 0, "watch": 1, "claimer": 2, "all": 3, "matters": 4}


def _later_today(
    planned: Sequence[ReminderRow], wanted: Mapping[Occurrence, Due], hours: Hours, now: datetime
) -> list[tuple[ReminderRow, Due]]:
    """What would be said for the first time later on the same day."""
    found = [(row, wanted.get(occurrence(row))) for row in planned if row.ring_at > now]
    return [
        (row, due)
        for row, due in found
        if due is not None
        and not (due.exact or due.timed or due.did or due.kind == "watch" or due.level != "first")
        and hours.same_day(row.ring_at, now)
    ]


def _said_today(home: Home, hours: Hours) -> int:
    """How many messages nobody had asked for were sent on the household's day."""
    said = home.unit.reminders.said_since(home.id, hours.begins(home.now))
    return len({number for key, number in said if key.level != "first" or not isinstance(key, _ASKED_FOR)})


def _urgency(due: Due) -> tuple[int, datetime]:
    """What matters for the wine first, then what somebody asked for, then chores, readings and the rest."""
    if due.level == "matters" or due.kind == "watch":
        return 0, due.at
    return {"asked": 1, "chore": 2, "reading": 3, "temperature": 4}.get(due.kind, 5), due.at
