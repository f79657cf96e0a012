"""Next visits as a calendar file for the owner (RFC 5545)."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

from icalendar import Calendar, Event

MAKER = "-//Tailward//Tailward//EN"


@dataclass(frozen=True)
class Entry:
    """`start` aware, or None: all day on `on`; `week`: the seven days of the week of `on`."""

    uid: UUID
    sequence: int
    on: date
    start: datetime | None
    minutes: int
    week: bool
    summary: str
    place: str
    changed_at: datetime
    cancelled: bool = False


def calendar_file(entries: Iterable[Entry], *, domain: str) -> bytes:
    """One calendar; the same UID and a higher SEQUENCE tell a calendar that a day was moved (3.8.7.4).

    Times are written in UTC (3.3.5, form 2), so that no reader needs our time zone's rules.
    """
    calendar = Calendar()
    calendar.add("prodid", MAKER)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    for entry in entries:
        calendar.add_component(_event(entry, domain))
    content: bytes = calendar.to_ical()
    return content


def _event(entry: Entry, domain: str) -> Event:
    event = Event()
    event.add("uid", f"{entry.uid}@{domain}")
    event.add("sequence", entry.sequence)
    event.add("dtstamp", entry.changed_at.astimezone(UTC))
    event.add("summary", entry.summary)
    event.add("location", entry.place)
    event.add("status", "CANCELLED" if entry.cancelled else "CONFIRMED")
    if entry.start is not None and not entry.week:
        event.add("dtstart", entry.start.astimezone(UTC))
        event.add("dtend", entry.start.astimezone(UTC) + timedelta(minutes=entry.minutes))
        return event
    first = entry.on - timedelta(days=entry.on.weekday()) if entry.week else entry.on
    event.add("dtstart", first)
    event.add("dtend", first + timedelta(days=7 if entry.week else 1))  # the first day that is not of it
    event.add("transp", "TRANSPARENT")
    return event
