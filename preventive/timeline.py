"""One item drawn along the time: what was given, windows and limits, today, what comes next. Pure.

Every number in the drawing stands in a list beside it, so that nothing is told by the drawing alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from preventive.due import Due
from preventive.wording import day

WIDTH, EDGE = 1000, 30
APART = 34
BACK = timedelta(days=800)
LEAST = timedelta(days=120)
_MONTHS_BETWEEN = ((200, 1), (500, 2), (1100, 6))


@dataclass(frozen=True, slots=True)
class Mark:
    """A numbered place: `kind` dose, uncounted, earliest, target, latest, legal, today, given, next."""

    number: int
    kind: str
    x: int
    y: int
    on: date
    words: str


@dataclass(frozen=True, slots=True)
class Band:
    """A window between two days."""

    x: int
    y: int
    width: int


@dataclass(frozen=True, slots=True)
class Tick:
    x: int
    words: str


@dataclass(frozen=True, slots=True)
class Timeline:
    marks: tuple[Mark, ...]
    bands: tuple[Band, ...]
    ticks: tuple[Tick, ...]
    today_x: int


@dataclass(frozen=True, slots=True)
class Given:
    """A dose on the line; `why_not` empty where it counts."""

    on: date
    why_not: str = ""


def timeline(
    due: Due,
    given: Sequence[Given],
    today: date,
    *,
    if_given: tuple[date, Due] | None = None,
    named: str = "today",
) -> Timeline:
    """The line of one item on `today`; `if_given`: a day, and the item after a dose on that day.

    `named`: what that day is called where another one than today is asked about.
    """
    told = [*_past(given, today), *_now(due, today, named), *_then(if_given)]
    days = [on for _, on, _ in told]
    first, last = min(days), max(days)
    if last - first < LEAST:
        last = first + LEAST
    scale = _Scale(first, last)
    return Timeline(
        marks=_marks(told, scale),
        bands=tuple(_bands(due, if_given, scale)),
        ticks=tuple(_ticks(scale)),
        today_x=scale.x(today),
    )


_Told = tuple[str, date, str]


def _past(given: Sequence[Given], today: date) -> list[_Told]:
    return [
        (
            "uncounted" if each.why_not else "dose",
            each.on,
            f"given{', not counted: ' + each.why_not if each.why_not else ''}",
        )
        for each in sorted(given, key=lambda each: each.on)
        if today - each.on <= BACK
    ]


def _now(due: Due, today: date, named: str) -> list[_Told]:
    """Today, and the item's own days; what fell long before the line begins is left to the words."""
    days: list[_Told] = [("today", today, named)]
    if due.earliest and due.earliest != due.target:
        days.append(("earliest", due.earliest, "earliest"))
    if due.target:
        days.append(("target", due.target, "due"))
    if due.latest and due.latest != due.target:
        days.append(("latest", due.latest, "latest; overdue the day after"))
    if due.legal and due.legal not in {due.target, due.latest}:
        days.append(("legal", due.legal, "by law"))
    return [each for each in days if today - each[1] <= BACK]


def _then(if_given: tuple[date, Due] | None) -> list[_Told]:
    if if_given is None:
        return []
    on, after = if_given
    days: list[_Told] = [("given", on, "if given on this day")]
    if after.target:
        days.append(("next", after.target, f"then due{_until(after)}"))
    return days


def _until(due: Due) -> str:
    return f", at the latest {day(due.latest)}" if due.latest and due.latest != due.target else ""


class _Scale:
    def __init__(self, first: date, last: date) -> None:
        self.first, self.last = first, last
        self.days = (last - first).days

    def x(self, on: date) -> int:
        share = (on - self.first).days / self.days
        return round(EDGE + min(max(share, 0.0), 1.0) * (WIDTH - 2 * EDGE))


_UPPER, _LOWER, _STEP = 60, 150, 26
_SECOND_ROW = frozenset({"given", "next"})


def _marks(told: Sequence[_Told], scale: _Scale) -> tuple[Mark, ...]:
    """In the order of the days; a mark too near to the one before stands a step higher or lower."""
    marks: list[Mark] = []
    for number, (kind, on, words) in enumerate(sorted(told, key=lambda each: (each[1], each[0])), start=1):
        x, y = scale.x(on), _LOWER if kind in _SECOND_ROW else _UPPER
        taken = {mark.y for mark in marks if abs(mark.x - x) < APART}
        while y in taken:
            y += _STEP
        marks.append(Mark(number, kind, x, y, on, f"{day(on)}: {words}"))
    return tuple(marks)


def _bands(due: Due, if_given: tuple[date, Due] | None, scale: _Scale) -> list[Band]:
    found = []
    for one, y in ((due, _UPPER), (if_given[1] if if_given else None, _LOWER)):
        if one is None or one.target is None or one.target < scale.first:
            continue
        start, end = one.earliest or one.target, one.latest or one.target
        left, right = scale.x(max(start, scale.first)), scale.x(end)
        if right > left:
            found.append(Band(left, y, right - left))
    return found


def _ticks(scale: _Scale) -> list[Tick]:
    """First days of months, as many as can be read; of January the year alone on a long line."""
    step = next((months for most, months in _MONTHS_BETWEEN if scale.days <= most), 12)
    ticks, year, month = [], scale.first.year, 1
    while (on := date(year, month, 1)) <= scale.last:
        if on >= scale.first:
            ticks.append(Tick(scale.x(on), f"{on:%Y}" if step == 12 else f"{on:%b %Y}"))
        month += step
        year, month = year + (month - 1) // 12, (month - 1) % 12 + 1
    return ticks
