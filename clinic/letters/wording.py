"""The letter's fixed words, by language. A sentence that names a finding comes from the finding itself."""

from dataclasses import dataclass
from datetime import date, time


@dataclass(frozen=True)
class Words:
    """What the sheet itself says; everything else is somebody's recorded fact."""

    language: str
    visit_of: str
    in_short: str
    when_to_call: str
    call_now: str
    call_within_a_day: str
    day_or_night: str
    comes_next: str
    signed: str
    page: str
    of: str
    for_owner: str
    seen_by: str
    reason: str
    corrected_copy: str
    months: tuple[str, ...]
    weekdays: tuple[str, ...]


EN = Words(
    language="en",
    visit_of="{patient}’s visit",
    in_short="In short",
    when_to_call="When to call us",
    call_now="Call now: {phone}",
    call_within_a_day="Call within a day: {phone}",
    day_or_night="day or night",
    comes_next="What comes next",
    signed="Signed",
    page="page",
    of="of",
    for_owner="For {owner}.",
    seen_by="Seen by {names}.",
    reason="You came because: {reason}",
    corrected_copy="Corrected copy, {day}: {why}",
    months=(
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ),
    weekdays=("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"),
)

_ALL = {"en": EN}


def words(language: str) -> Words:
    """The language's words; English where the clinic has none for it."""
    return _ALL.get(language, EN)


def long_day(day: date, w: Words = EN) -> str:
    """25 November 2026, with spaces that do not break."""
    return f"{day.day} {w.months[day.month - 1]} {day.year}"


def weekday(day: date, w: Words = EN) -> str:
    return w.weekdays[day.weekday()]


def clock(at: time) -> str:
    """2:20 pm; noon and midnight as 12."""
    hour = at.hour % 12 or 12
    return f"{hour}:{at.minute:02d} {'am' if at.hour < 12 else 'pm'}"


def listed(names: list[str], last: str = "and") -> str:
    """a, b and c."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {last} {names[-1]}" if names else ""
