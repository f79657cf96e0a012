"""Beats or breaths counted over some seconds, as a rate."""

from dataclasses import dataclass
from decimal import Decimal

from clinic.patients.units import rounded


@dataclass(frozen=True)
class CountedRate:
    """A rate from a count: whole beats or breaths a minute, kept with how long was counted."""

    count: int
    seconds: int
    per_minute: Decimal
    step: Decimal
    """The rate can only be a multiple of this: 6 for a 10 s count."""


def rate_from_count(count: int, seconds: int) -> CountedRate:
    """count x 60 / seconds, rounded half up. Raises ValueError unless count >= 0 and 5 <= seconds <= 120."""
    if count < 0 or not 5 <= seconds <= 120:
        raise ValueError("count 0 or more, over 5 to 120 seconds")
    return CountedRate(
        count, seconds, rounded(Decimal(count * 60) / seconds, 0), rounded(Decimal(60) / seconds, 1)
    )
