"""How many doses of one size a growing animal should get before it is too heavy for it. Pure.

A band change voids the next tablet: bands come from each label, and the young gain weight (common practice,
from memory: C). The rate of growth is ours: the last two weights, one to eight weeks apart.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from preventive.dates import Calendar, Span

LEAST_APART, MOST_APART = timedelta(days=7), timedelta(days=56)


@dataclass(frozen=True, slots=True)
class Outgrown:
    """The first dose that would no longer fit. `number` 1: none should go home in this size."""

    number: int
    on: date
    weight_kg: float
    week_kg: float


def week_gain_kg(weights: Sequence[tuple[date, float]]) -> float | None:
    """Kilograms a week by the newest weight and one before it; None where none lies at a fit distance."""
    ordered = sorted(weights)
    if not ordered:
        return None
    last_on, last_kg = ordered[-1]
    before = [(on, kg) for on, kg in ordered if LEAST_APART <= last_on - on <= MOST_APART]
    if not before:
        return None
    on, kg = before[-1]
    return (last_kg - kg) * 7 / (last_on - on).days


def outgrown(
    weights: Sequence[tuple[date, float]],
    *,
    max_kg: float | None,
    first_on: date,
    interval: Span,
    count: int,
    cal: Calendar,
    adult_kg: float | None = None,
) -> Outgrown | None:
    """The first of ``count`` doses on whose day the animal is heavier than the size; None where all fit.

    Growth goes on in a straight line from the last weight, never beyond ``adult_kg``.
    """
    gain = week_gain_kg(weights)
    if max_kg is None or gain is None or gain <= 0:
        return None
    last_on, last_kg = max(weights)
    for number in range(count):
        on = cal.due(first_on, interval.times(number))
        heavy = last_kg + gain * (on - last_on).days / 7
        if adult_kg is not None:
            heavy = max(last_kg, min(heavy, adult_kg))
        if heavy > max_kg:
            return Outgrown(number + 1, on, heavy, gain)
    return None
