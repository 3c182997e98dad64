"""Reminders: rows kept in step with what is due, and said once, at a decent hour."""

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from bot.cellar.due import Due, due_for, due_for_house
from bot.house import mail
from bot.house.home import Home
from bot.say import ringing
from bot.store.postbox import Outgoing
from bot.store.reminders import ReminderRow
from bot.store.unit import Unit

QUIET_FROM, QUIET_UNTIL = time(21, 30), time(8, 0)
_STALE_TIMER = timedelta(hours=12)


def decent(moment: datetime, zone: ZoneInfo) -> datetime:
    """The moment itself, or the next morning when it falls into the quiet hours of that zone."""
    there = moment.astimezone(zone)
    if QUIET_UNTIL <= there.time() < QUIET_FROM:
        return moment
    day = there.date() + timedelta(days=1 if there.time() >= QUIET_FROM else 0)
    return datetime.combine(day, QUIET_UNTIL, tzinfo=zone).astimezone(moment.tzinfo)


def dues(home: Home) -> list[Due]:
    """Everything to come in this house by what is known now."""
    found = due_for_house(home.view)
    for view in home.view.batches:
        found += due_for(view, home.plan(view))
    return found


def replan(home: Home) -> None:
    """Adds, moves and withdraws the household's reminders so that they are what is due.

    What was said stays said; what has been said is never planned again, since (household, batch, step, due)
    is unique. A due time that passed before its cause was told (a late report) is said at the next decent
    hour, except for timers: those only matter while they run.
    """
    wanted = {(due.batch, due.step, due.at): due for due in dues(home)}
    rows = home.unit.reminders.of_household(home.id)
    known = {(row.batch, row.step, row.due): row for row in rows}
    home.unit.reminders.forget(
        home.id, [row.id for key, row in known.items() if row.state == "planned" and key not in wanted]
    )
    for key, due in wanted.items():
        row = known.get(key)
        # A due time that has passed rings from now on: but not at night.
        ring_at = due.at if due.exact else decent(max(due.at, home.now), home.zone)
        if row is None:
            gone = due.exact and due.at <= home.now
            home.unit.reminders.plan(home.id, *key, ring_at, "withdrawn" if gone else "planned")
        elif row.state == "planned" and row.ring_at != ring_at and due.at > home.now:
            home.unit.reminders.ring_at(home.id, row.id, ring_at)  # the household's clock has changed


def ring(unit: Unit, household_id: int, now: datetime) -> None:
    """Puts what is due in the household by now in the outbox, one letter a reminder, and marks it said."""
    home = Home(unit, unit.households.lock(household_id), now)
    chat_id = unit.households.main_chat(household_id)
    wanted = {(due.batch, due.step, due.at): due for due in dues(home)}
    rows = unit.reminders.ringing(household_id, now)  # under the lock: another process may have rung
    asked = {row.batch for row in rows if row.step == "reading"}
    for row in rows:
        due = wanted.get((row.batch, row.step, row.due))
        if due is not None and due.kind == "watch" and row.batch in asked:
            unit.reminders.mark(household_id, row.id, "withdrawn")  # the reading itself is asked for just now
            continue
        stale = due is not None and due.exact and home.now - due.at > _STALE_TIMER
        if chat_id is None or due is None or stale:
            unit.reminders.mark(household_id, row.id, "withdrawn")
            continue
        if not due.exact and (morning := decent(home.now, home.zone)) > home.now:
            unit.reminders.ring_at(household_id, row.id, morning)  # back from being off, in the night
            continue
        letter = Outgoing(
            chat_id=chat_id,
            html=words(home, due),
            buttons=buttons(row, due),
            refers=refers(home, due),
            is_reminder=True,
        )
        unit.reminders.mark(household_id, row.id, "said", mail.post(unit, household_id, letter, now))


def words(home: Home, due: Due) -> str:
    view = home.view.batch(due.batch)
    return ringing.reminder(due, view, home.plan(view) if view else None, home.manner)


def buttons(row: ReminderRow, due: Due) -> tuple[tuple[str, dict[str, object]], ...]:
    """Done, Later, I'll do it; a timer only needs to be heard."""
    if due.kind in ("contact", "watch"):
        return ()
    labels = (("Done", "done"), ("Later", "later"), ("I'll do it", "mine"))
    return tuple((label, {"press": "reminder", "id": row.id, "action": action}) for label, action in labels)


def refers(home: Home, due: Due) -> dict[str, object]:
    """What a reply to the reminder is about."""
    view = home.view.batch(due.batch)
    of = view.name if view is not None else due.of
    told = (("of", of), ("step", due.chore), ("adds", list(due.adds) or None))
    return {key: value for key, value in told if value is not None}
