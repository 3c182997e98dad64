"""Dates to come in words: what each says in a calendar, and the letter that goes with the file."""

import re
from datetime import UTC, datetime, timedelta

import msgspec

from bot.cellar.batch.ahead import Coming
from bot.cellar.home.due import Due
from bot.cellar.log.fold import Batch
from bot.say.manner import name, sg
from bot.say.reminders import caution, title

LENGTH = timedelta(minutes=30)
"""How long a chore is taken to last where its plan does not say."""

_ESTIMATE = (
    "About this day: an estimate by the kit's days and the readings so far. Only the hydrometer decides. "
    "Ask for the calendar again after the next reading."
)
_LEAFLET = "The leaflet in your kit goes first."
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029]+")


class Dated(msgspec.Struct, frozen=True, kw_only=True):
    """What a date says. Times are in UTC and whole minutes, so that the same date is the same always. `eve` is whether it rings the day before too, `estimate` whether it may well move."""

    summary: str
    description: str
    start: datetime
    end: datetime
    eve: bool = False
    estimate: bool = False


class Event(msgspec.Struct, frozen=True, kw_only=True):
    """A date by the name under which calendars know it. A later version has a higher `sequence`; one that is
    `cancelled` is to be taken out, and of it only the name and the start count."""

    uid: str
    sequence: int
    changed_at: datetime
    dated: Dated
    cancelled: bool = False


class DateFile(msgspec.Struct, frozen=True, kw_only=True):
    """What a calendar file says (`bot.say.calendar` writes it)."""

    title: str
    events: tuple[Event, ...]
    made_at: datetime


def of_due(due: Due, at: datetime, view: Batch | None) -> Dated:
    """Something due, at the moment when it will be said."""
    steps = view.follows.steps if view is not None and due.kind in ("chore", "reading") else ()
    step = next((s for s in steps if s.id == due.base), None)
    whose = (
        f"{due.whose} has it in hand."
        if due.whose and due.claim
        else f"For {due.whose}."
        if due.whose
        else ""
    )
    of = view.name if view is not None else due.of
    what = title(due, view)
    if step is not None:
        lines = [whose, step.how, step.caution, _LEAFLET]
    elif due.kind == "reading" and view is not None:
        lines = [
            whose,
            f"Send it like: sg {sg(view.latest.sg) if view.latest else '1.012'} {view.vessel or of}",
        ]
    else:
        lines = [whose, caution(due, view)]
    return Dated(
        summary=_line(f"{of}: {what}" if of else what),
        description=_text(lines),
        start=_minute(at),
        end=_minute(at) + _length(step.minutes if step is not None else None),
        eve=due.chore == "bottle" and due.kind == "chore",
    )


def of_coming(coming: Coming, at: datetime, view: Batch) -> Dated:
    """A chore that the plan still has."""
    step = coming.step
    about = ", about this day" if coming.estimate else ""
    return Dated(
        summary=_line(f"{view.name}: {step.title}{about}"),
        description=_text([_ESTIMATE if coming.estimate else "", step.how, step.caution, _LEAFLET]),
        start=_minute(at),
        end=_minute(at) + _length(step.minutes),
        eve=step.does == "bottle",
        estimate=coming.estimate,
    )


def _length(minutes: float | None) -> timedelta:
    return timedelta(minutes=round(minutes)) if minutes and minutes >= 1 else LENGTH


def _minute(moment: datetime) -> datetime:
    return moment.astimezone(UTC).replace(second=0, microsecond=0)


def _line(text: str) -> str:
    return _CONTROL.sub(" ", text).replace("\n", " ").replace("\t", " ")


def _text(lines: list[str]) -> str:
    return "\n".join(_CONTROL.sub(" ", line) for line in lines if line)


def letter(dates: list[Dated], batches: int, gone: int) -> str:
    """The line that goes with the file: how many dates it has, and how many it takes out."""
    if not dates:
        return (
            f"Nothing is coming up. {_number(gone, 'date')} no longer {'holds' if gone == 1 else 'hold'}: "
            "open this to take them out of your calendar."
        )
    of = f" for {_number(batches, 'batch', 'batches')}" if batches else ""
    lines = [
        f"Your calendar: {_number(len(dates), 'date')}{of}. Open it to add them; after a change ask again and open "
        "the new one.",
        "Those that say “about” are estimates: the hydrometer decides."
        if any(d.estimate for d in dates)
        else "",
    ]
    return "\n".join(filter(None, lines))


def nothing(of: str | None, *, begun: bool) -> str:
    """There is nothing to put into a calendar."""
    if of is not None:
        return f"Nothing is coming up for {name(of)}, so there is nothing to put in a calendar."
    if begun:
        return "Nothing is coming up, so there is nothing to put in a calendar."
    return (
        "Nothing to put in a calendar yet. Begin a batch, then ask again:\n"
        "<code>new batch: plum, red, 23 l in bucket 2, 14 day kit</code>"
    )


def _number(count: int, one: str, many: str | None = None) -> str:
    return f"{count} {one if count == 1 else many or one + 's'}"


def title_of(house: str) -> str:
    """What the calendar is called."""
    return _line(f"Wine, {house}")
