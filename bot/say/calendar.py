"""Dates as a calendar file: RFC 5545, with the calendar's name of RFC 7986.

Published (RFC 5546), but without the ORGANIZER that it asks for: the house has no address to answer to, and with
one calendars would take a date for an invitation. Slow to load: to be imported where it is used.
"""

from datetime import UTC, datetime, timedelta

import icalendar

from bot.say.dates import DateFile, Event

PRODID = "-//Bucketside//The dates of a house's wine//EN"
EVE = timedelta(days=-1)


def calendar(file: DateFile) -> bytes:
    """The file. Times are in UTC, so that it needs no table of time zones and shows right in any of them. The library
    takes about a millisecond for each date: not for a thread on which others wait."""
    whole = icalendar.Calendar()
    whole.add("PRODID", PRODID)
    whole.add("VERSION", "2.0")
    whole.add("METHOD", "PUBLISH")
    whole.add("NAME", icalendar.vText(file.title))  # as text: the library does not know its type
    for event in file.events:
        whole.add_component(_event(event, file.made_at))
    found: bytes = whole.to_ical(sorted=False)
    return found


def _event(event: Event, now: datetime) -> icalendar.Event:
    dated = event.dated
    found = icalendar.Event()
    found.add("UID", event.uid)
    found.add("SEQUENCE", event.sequence)
    found.add("DTSTAMP", _utc(now))
    found.add("LAST-MODIFIED", _utc(event.changed_at))
    found.add("DTSTART", dated.start)
    found.add("DTEND", dated.end)
    found.add("SUMMARY", dated.summary)
    if event.cancelled:
        found.add("STATUS", "CANCELLED")
        return found
    if dated.description:
        found.add("DESCRIPTION", dated.description)
    found.add("STATUS", "TENTATIVE" if dated.estimate else "CONFIRMED")
    found.add("TRANSP", "TRANSPARENT")
    for before in (timedelta(0), EVE) if dated.eve else (timedelta(0),):
        found.add_component(_alarm(before, dated.summary))
    return found


def _alarm(before: timedelta, words: str) -> icalendar.Alarm:
    found = icalendar.Alarm()
    found.add("ACTION", "DISPLAY")
    found.add("DESCRIPTION", words)
    found.add("TRIGGER", before)
    return found


def _utc(moment: datetime) -> datetime:
    """In UTC, to the second: a calendar knows nothing finer."""
    return moment.astimezone(UTC).replace(microsecond=0)
