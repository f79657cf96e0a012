"""One item drawn along the time: what was given, windows and limits, today, what comes next. Pure.

Every number in the drawing stands in a list beside it, so that nothing is told by the drawing alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from preventive.due import Due
from preventive.wording import day

WIDE, NARROW = 680, 350  # as large as it stands on a tablet and on a phone, so that its words can be read
EDGE = 26
APART = 28
BACK = timedelta(days=800)
LEAST = timedelta(days=120)
_MONTH_STEPS = (1, 2, 3, 6, 12, 24, 60, 120)
_MONTH_DAYS, _TICK_WIDTH = 30.4, 76


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
    """`axis`: how low the line of the months lies; `named`: what the day asked about is called."""

    width: int
    height: int
    axis: int
    marks: tuple[Mark, ...]
    bands: tuple[Band, ...]
    ticks: tuple[Tick, ...]
    today_x: int
    named: str

    @property
    def anchor(self) -> str:
        """On which side of its line the day's name has room."""
        third = self.width // 3
        return "start" if self.today_x < third else "end" if self.today_x > 2 * third else "middle"


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
    width: int = WIDE,
) -> Timeline:
    """The line of one item on `today`; `if_given`: a day, and the item after a dose on that day.

    `named`: what that day is called where another one than today is asked about.
    """
    told = [*_past(given, today), *_now(due, today, named), *_then(if_given)]
    days = [on for _, on, _ in told]
    first, last = min(days), max(days)
    if last - first < LEAST:
        last = first + LEAST
    scale = _Scale(first, last, width)
    marks, lower = _marks(told, scale)
    axis = max(mark.y for mark in marks) + _STEP
    return Timeline(
        width=width,
        height=axis + _FOOT,
        axis=axis,
        marks=marks,
        bands=tuple(_bands(due, if_given, scale, lower)),
        ticks=tuple(_ticks(scale)),
        today_x=scale.x(today),
        named=named,
    )


_Told = tuple[str, date, str]


def _past(given: Sequence[Given], today: date) -> list[_Told]:
    """What was given in the last two years; and the last one that counts, however long ago it was."""
    last = max((each.on for each in given if not each.why_not), default=today)
    return [
        (
            "uncounted" if each.why_not else "dose",
            each.on,
            f"given{', not counted: ' + each.why_not if each.why_not else ''}",
        )
        for each in sorted(given, key=lambda each: each.on)
        if today - each.on <= BACK or each.on == last
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
    def __init__(self, first: date, last: date, width: int) -> None:
        self.first, self.last, self.width = first, last, width
        self.days = (last - first).days

    def x(self, on: date) -> int:
        share = (on - self.first).days / self.days
        return round(EDGE + min(max(share, 0.0), 1.0) * (self.width - 2 * EDGE))


_UPPER, _STEP, _FOOT = 44, 28, 28
_SECOND_ROW = frozenset({"given", "next"})


def _marks(told: Sequence[_Told], scale: _Scale) -> tuple[tuple[Mark, ...], int]:
    """Numbered in the order of the days, and how high the second row begins: under all of the first.

    A mark too near to one before it stands a step lower.
    """
    numbered = list(enumerate(sorted(told, key=lambda each: (each[1], each[0])), start=1))
    marks: list[Mark] = []
    lower = _UPPER
    for rows in (False, True):
        for number, (kind, on, words) in numbered:
            if (kind in _SECOND_ROW) is rows:
                x, y = scale.x(on), lower
                taken = {mark.y for mark in marks if abs(mark.x - x) < APART}
                while y in taken:
                    y += _STEP
                marks.append(Mark(number, kind, x, y, on, f"{day(on)}: {words}"))
        if not rows:
            lower = max(mark.y for mark in marks) + _STEP + _STEP // 2
    return tuple(sorted(marks, key=lambda mark: mark.number)), lower


def _bands(due: Due, if_given: tuple[date, Due] | None, scale: _Scale, lower: int) -> list[Band]:
    found = []
    for one, y in ((due, _UPPER), (if_given[1] if if_given else None, lower)):
        if one is None or one.target is None or one.target < scale.first:
            continue
        start, end = one.earliest or one.target, one.latest or one.target
        left, right = scale.x(max(start, scale.first)), scale.x(end)
        if right > left:
            found.append(Band(left, y, right - left))
    return found


def _ticks(scale: _Scale) -> list[Tick]:
    """First days of months, as many as can be read; of January the year alone on a long line."""
    room = max(1, (scale.width - 2 * EDGE) // _TICK_WIDTH)
    months = scale.days / _MONTH_DAYS
    step = next((each for each in _MONTH_STEPS if months / each <= room), _MONTH_STEPS[-1])
    ticks, year, month = [], scale.first.year, 1
    while (on := date(year, month, 1)) <= scale.last:
        if on >= scale.first:
            ticks.append(Tick(scale.x(on), f"{on:%Y}" if step >= 12 else f"{on:%b %Y}"))
        month += step
        year, month = year + (month - 1) // 12, (month - 1) % 12 + 1
    return ticks
