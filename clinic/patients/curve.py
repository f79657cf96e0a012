"""The picture of what is measured again and again (weight, a lump), as lengths and words. Pure.

760 × 300 units; the template draws it with classes, so that it follows the theme.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

LEFT, RIGHT, TOP, BOTTOM = 56.0, 716.0, 40.0, 236.0
LABEL_GAP = 44.0
STEPS = (0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200)


@dataclass(frozen=True)
class Point:
    on: date
    value: float
    bcs: float | None = None


@dataclass(frozen=True)
class Dot:
    x: float
    y: float
    label: str
    bcs: str
    last: bool

    @property
    def label_at(self) -> float:
        """Where the weight stands in words: above the dot."""
        return round(self.y - 18, 1)


@dataclass(frozen=True)
class Tick:
    at: float
    label: str

    @property
    def text_at(self) -> float:
        """The base line of words beside a level."""
        return round(self.at + 5, 1)


@dataclass(frozen=True)
class Curve:
    """`levels`: heights of round values in `unit`."""

    path: str
    dots: tuple[Dot, ...]
    levels: tuple[Tick, ...]
    times: tuple[Tick, ...]
    unit: str
    alt: str
    band: "Band | None" = None

    @property
    def has_scores(self) -> bool:
        """Whether body condition stands under it."""
        return any(dot.bcs for dot in self.dots)


@dataclass(frozen=True)
class Band:
    """What is usual, behind the curve: from `top` down by `height`."""

    top: float
    height: float


def curve(
    points: Sequence[Point],
    *,
    what: str = "Weight",
    unit: str = "kg",
    usual: tuple[float | None, float | None] = (None, None),
) -> Curve | None:
    """The drawing of values, oldest first; None for fewer than two. `usual`: both ends belong to it."""
    shown = sorted(points, key=lambda point: point.on)
    if len(shown) < 2:
        return None
    ends = [each for each in usual if each is not None]
    low, high = min(*(p.value for p in shown), *ends), max(*(p.value for p in shown), *ends)
    spare = max((high - low) * 0.12, high * 0.04)
    low, high = low - spare, high + spare
    first, span = shown[0].on, max((shown[-1].on - shown[0].on).days, 1)

    def x(on: date) -> float:
        return round(LEFT + (on - first).days / span * (RIGHT - LEFT), 1)

    def y(value: float) -> float:
        return round(BOTTOM - (value - low) / (high - low) * (BOTTOM - TOP), 1)

    dots = tuple(
        Dot(x(p.on), y(p.value), f"{p.value:g}", f"{p.bcs:g}" if p.bcs else "", p is shown[-1]) for p in shown
    )
    return Curve(
        path="M" + "L".join(f"{dot.x} {dot.y}" for dot in dots),
        dots=_spaced(dots),
        levels=_levels(low, high, y),
        times=_times(shown[0].on, shown[-1].on, x),
        unit=unit,
        alt=_alt(shown, what, unit) + _usual(usual, unit),
        band=_band(usual, y) if ends else None,
    )


def _band(usual: tuple[float | None, float | None], y: Callable[[float], float]) -> Band:
    low, high = usual
    top = TOP if high is None else y(high)
    return Band(top, round((BOTTOM if low is None else y(low)) - top, 1))


def _usual(usual: tuple[float | None, float | None], unit: str) -> str:
    low, high = usual
    if low is not None and high is not None:
        return f" Usual there: {low:g} to {high:g} {unit}."
    if high is not None:
        return f" Usual there: up to {high:g} {unit}."
    return f" Usual there: from {low:g} {unit}." if low is not None else ""


def _spaced(dots: tuple[Dot, ...]) -> tuple[Dot, ...]:
    """Condition words only where they do not run into each other; the last one always."""
    kept, taken = [], -LABEL_GAP
    for dot in dots:
        free = dot.last or (dot.x - taken >= LABEL_GAP and dots[-1].x - dot.x >= LABEL_GAP)
        taken = dot.x if free and dot.bcs else taken
        kept.append(dot if free else Dot(dot.x, dot.y, "", "", dot.last))
    return tuple(kept)


def _levels(low: float, high: float, y: Callable[[float], float]) -> tuple[Tick, ...]:
    step = next((step for step in STEPS if (high - low) / step <= 4.5), STEPS[-1])
    first = -(-low // step) * step
    values = [first + number * step for number in range(6) if first + number * step <= high]
    return tuple(Tick(y(value), f"{round(value, 2):g}") for value in values)


def _times(first: date, last: date, x: Callable[[date], float]) -> tuple[Tick, ...]:
    """Turns of the year, or of the month in a young life."""
    if (last - first).days > 500:
        turns = [date(year, 1, 1) for year in range(first.year + 1, last.year + 1)]
        ticks = [Tick(x(turn), str(turn.year)) for turn in turns]
    else:
        months = [
            (first.year + (first.month + n - 1) // 12, (first.month + n - 1) % 12 + 1) for n in range(1, 20)
        ]
        turns = [date(year, month, 1) for year, month in months]
        ticks = [Tick(x(turn), f"{turn:%b}") for turn in turns if turn <= last]
    return tuple(
        tick for before, tick in pairwise([Tick(-99, ""), *ticks]) if tick.at - before.at >= LABEL_GAP
    )


def _alt(points: list[Point], what: str, unit: str) -> str:
    first, last = points[0], points[-1]
    most = max(points, key=lambda point: point.value)
    text = f"{what} from {first.on:%B %Y} to {last.on:%B %Y}: {first.value:g} {unit} at first"
    if most not in (first, last):
        text += f", at most {most.value:g} {unit} in {most.on:%B %Y}"
    return f"{text}, now {last.value:g} {unit}."
