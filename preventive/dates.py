"""Calendar arithmetic for what is due: spans that keep their unit, clamps, gates, half-known dates.

Weeks are seven days exactly, months and years follow the calendar, and a span keeps the unit of its
source (12 weeks is not 3 months). Due dates clamp down at a month's end, waiting times and minimum
ages roll up to the next day.
"""

import calendar
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Self


class Unit(StrEnum):
    DAY = "d"
    WEEK = "wk"
    MONTH = "mo"
    YEAR = "yr"


class Precision(StrEnum):
    DAY = "day"
    MONTH = "month"
    YEAR = "year"


class LeapDay(StrEnum):
    """Where the anniversary of 29 February falls in a common year."""

    FEBRUARY_28 = "28 February"
    MARCH_1 = "1 March"


_MONTHS = tuple(calendar.month_name)  # January is 1
_WORDS = {Unit.DAY: "day", Unit.WEEK: "week", Unit.MONTH: "month", Unit.YEAR: "year"}


@dataclass(frozen=True, slots=True)
class Span:
    """A length of time in the unit its source uses, e.g. ``Span(12, Unit.WEEK)``."""

    value: int
    unit: Unit

    def __post_init__(self) -> None:
        if self.value < 0:
            raise ValueError(f"a span cannot be negative: {self.value}")

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read ``"12 wk"``, ``"3 mo"``, ``"1 yr"`` or ``"28 d"``. Raises ValueError on anything else."""
        value, _, unit = text.strip().partition(" ")
        return cls(int(value), Unit(unit))

    def __str__(self) -> str:
        return f"{self.value} {self.unit.value}"

    @property
    def words(self) -> str:
        """The span in plain words: ``12 weeks``, ``1 month``."""
        return f"{self.value} {_WORDS[self.unit]}{'' if self.value == 1 else 's'}"

    def times(self, count: int) -> "Span":
        return Span(self.value * count, self.unit)


def day_words(on: date) -> str:
    """A day as people say it: 25 November 2026."""
    return f"{on.day} {_MONTHS[on.month]} {on.year}"


@dataclass(frozen=True, slots=True)
class PartialDate:
    """A date known to the day, the month or the year; ``value`` is any day inside that time."""

    value: date
    precision: Precision = Precision.DAY

    @property
    def earliest(self) -> date:
        if self.precision is Precision.DAY:
            return self.value
        if self.precision is Precision.MONTH:
            return self.value.replace(day=1)
        return self.value.replace(month=1, day=1)

    @property
    def latest(self) -> date:
        if self.precision is Precision.DAY:
            return self.value
        if self.precision is Precision.MONTH:
            return self.value.replace(day=calendar.monthrange(self.value.year, self.value.month)[1])
        return self.value.replace(month=12, day=31)

    @property
    def is_exact(self) -> bool:
        return self.precision is Precision.DAY

    @property
    def words(self) -> str:
        """As exactly as it is known: 25 November 2026, November 2026, 2026."""
        said = {Precision.DAY: 0, Precision.MONTH: 1, Precision.YEAR: 2}[self.precision]
        return " ".join(day_words(self.value).split()[said:])

    def __str__(self) -> str:
        shape = {Precision.DAY: "%Y-%m-%d", Precision.MONTH: "%Y-%m", Precision.YEAR: "%Y"}
        return self.value.strftime(shape[self.precision])


def _moved(anchor: date, span: Span) -> date:
    """The day that much later; where its month is too short, that month's last day.

    By hand, because a schedule does it a hundred times: the tests hold it to python-dateutil.
    """
    if span.unit is Unit.DAY:
        return anchor + timedelta(days=span.value)
    if span.unit is Unit.WEEK:
        return anchor + timedelta(weeks=span.value)
    months = span.value if span.unit is Unit.MONTH else 12 * span.value
    years, month = divmod(anchor.month - 1 + months, 12)
    year, month = anchor.year + years, month + 1
    # every month has 28 days: only a later one has to ask
    day = anchor.day if anchor.day <= 28 else min(anchor.day, calendar.monthrange(year, month)[1])
    return date(year, month, day)


def _is_clamped(anchor: date, moved: date, span: Span) -> bool:
    return span.unit in {Unit.MONTH, Unit.YEAR} and moved.day != anchor.day


@dataclass(frozen=True, slots=True)
class Calendar:
    """Adds spans to dates by the practice's choice for 29 February."""

    leap_day: LeapDay = LeapDay.FEBRUARY_28

    def due(self, anchor: date, span: Span) -> date:
        """The due, expiry or age-limit date: clamps down to the month's last day."""
        moved = _moved(anchor, span)
        leap = (anchor.month, anchor.day) == (2, 29) and moved.month == 2
        if leap and self.leap_day is LeapDay.MARCH_1 and _is_clamped(anchor, moved, span):
            return moved + timedelta(days=1)
        return moved

    def gate(self, anchor: date, span: Span) -> date:
        """The first day a minimum age or a waiting time is over: rolls up where the day is missing."""
        moved = _moved(anchor, span)
        return moved + timedelta(days=1) if _is_clamped(anchor, moved, span) else moved


def days_before(day: date, count: int) -> date:
    return day - timedelta(days=count)


def day_after(day: date) -> date:
    return day + timedelta(days=1)
