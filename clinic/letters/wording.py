"""The letter's fixed words, by language. A sentence that names a finding comes from the finding itself."""

import re
from dataclasses import dataclass
from datetime import date, time


@dataclass(frozen=True)
class Words:
    """What the sheet itself says; everything else is somebody's recorded fact."""

    language: str
    visit_of: str
    result_of: str
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
    seen: str
    died: str
    put_to_sleep: str
    months: tuple[str, ...]
    weekdays: tuple[str, ...]


EN = Words(
    language="en",
    visit_of="{patient}’s visit",
    result_of="{patient}’s test result",
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
    seen="{patient} was seen by us. What we did is written below.",
    died="{patient} died. We are very sorry.",
    put_to_sleep="{patient} was put to sleep. We are very sorry.",
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
    """25 November 2026."""
    return f"{day.day} {w.months[day.month - 1]} {day.year}"


def weekday(day: date, w: Words = EN) -> str:
    return w.weekdays[day.weekday()]


def near_day(day: date, w: Words = EN) -> str:
    """Friday 13 March 2026: a day that is near is known by its weekday."""
    return f"{weekday(day, w)} {long_day(day, w)}"


def clock(at: time) -> str:
    """2:20 pm; noon and midnight as 12."""
    hour = at.hour % 12 or 12
    return f"{hour}:{at.minute:02d} {'am' if at.hour < 12 else 'pm'}"


def listed(names: list[str], last: str = "and") -> str:
    """a, b and c."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {last} {names[-1]}" if names else ""


_UNITS = "kg|lb|g|mg|ml|mL|kcal|cm|mm|°C|°F|am|pm"


def together(language: str = "en") -> re.Pattern[str]:
    """What is not broken over two lines: a date, and a number or a size with its unit."""
    return _TOGETHER.get(language, _TOGETHER["en"])


def _pattern(w: Words) -> re.Pattern[str]:
    months = "|".join(month[:3] for month in w.months)
    day, number = rf"\b\d{{1,2}} (?:{months})\w* \d{{4}}\b", r"\d[\d.,:]*"
    return re.compile(rf"{day}|\b{number}(?: × {number})* (?:{_UNITS})\b")


_TOGETHER = {language: _pattern(w) for language, w in _ALL.items()}


def ended(text: str) -> str:
    """Somebody's words as a sentence of their own: trimmed, with a full stop where none ends them."""
    text = text.strip()
    return text if not text or text.endswith((".", "!", "?", "…")) else f"{text}."
