"""The picture of weight and condition on the patient's page, as lengths and words. Pure.

760 × 300 units; the template draws it with classes, so that it follows the theme.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

LEFT, RIGHT, TOP, BOTTOM = 56.0, 716.0, 40.0, 236.0
LABEL_GAP = 44.0
STEPS = (0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50)


@dataclass(frozen=True)
class Point:
    on: date
    weight_kg: float
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
    path: str
    dots: tuple[Dot, ...]
    weights: tuple[Tick, ...]
    times: tuple[Tick, ...]
    alt: str


def curve(points: Sequence[Point]) -> Curve | None:
    """The drawing of weights, oldest first; None for fewer than two."""
    shown = sorted(points, key=lambda point: point.on)
    if len(shown) < 2:
        return None
    low, high = min(p.weight_kg for p in shown), max(p.weight_kg for p in shown)
    spare = max((high - low) * 0.12, high * 0.04)
    low, high = low - spare, high + spare
    first, span = shown[0].on, max((shown[-1].on - shown[0].on).days, 1)

    def x(on: date) -> float:
        return round(LEFT + (on - first).days / span * (RIGHT - LEFT), 1)

    def y(weight: float) -> float:
        return round(BOTTOM - (weight - low) / (high - low) * (BOTTOM - TOP), 1)

    dots = tuple(
        Dot(x(p.on), y(p.weight_kg), f"{p.weight_kg:g}", f"{p.bcs:g}" if p.bcs else "", p is shown[-1])
        for p in shown
    )
    return Curve(
        path="M" + "L".join(f"{dot.x} {dot.y}" for dot in dots),
        dots=_spaced(dots),
        weights=_weights(low, high, y),
        times=_times(shown[0].on, shown[-1].on, x),
        alt=_alt(shown),
    )


def _spaced(dots: tuple[Dot, ...]) -> tuple[Dot, ...]:
    """Condition words only where they do not run into each other; the last one always."""
    kept, taken = [], -LABEL_GAP
    for dot in dots:
        free = dot.last or (dot.x - taken >= LABEL_GAP and dots[-1].x - dot.x >= LABEL_GAP)
        taken = dot.x if free and dot.bcs else taken
        kept.append(dot if free else Dot(dot.x, dot.y, "", "", dot.last))
    return tuple(kept)


def _weights(low: float, high: float, y: Callable[[float], float]) -> tuple[Tick, ...]:
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


def _alt(points: list[Point]) -> str:
    first, last = points[0], points[-1]
    heaviest = max(points, key=lambda point: point.weight_kg)
    text = f"Weight from {first.on:%B %Y} to {last.on:%B %Y}: {first.weight_kg:g} kg at first"
    if heaviest not in (first, last):
        text += f", at most {heaviest.weight_kg:g} kg in {heaviest.on:%B %Y}"
    return f"{text}, now {last.weight_kg:g} kg."
