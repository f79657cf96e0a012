"""Changing foods, by days and shares: from a quarter of the new food to all of it. Pure.

The number of days is published (3 to 7 or longer, SACN5 p. 279); quarters are common practice. Shares are of
the bowl: of the old food's usual amount, and of the new food's.
"""

from dataclasses import dataclass

from nutrition.factors import Factors
from nutrition.reasons import refuse

QUARTERS = (25, 50, 75, 100)


@dataclass(frozen=True, slots=True)
class ChangeStep:
    """From the first to the last day of it, counted from 1, both included; `new_percent` of the new food."""

    first_day: int
    last_day: int
    new_percent: int

    @property
    def old_percent(self) -> int:
        return 100 - self.new_percent


def change_over(days: int, factors: Factors) -> tuple[ChangeStep, ...]:
    """The steps of a change over so many days; none for 0. `Refused` below the published least."""
    if days == 0:
        return ()
    rule = factors.factor("change.days")
    least = int(rule.low or rule.value)
    if days < least:
        raise refuse("change_too_quick", least=least)
    shares = [QUARTERS[(day * 3) // (days - 1)] for day in range(days)]
    return tuple(
        ChangeStep(shares.index(share) + 1, days - shares[::-1].index(share), share)
        for share in dict.fromkeys(shares)
    )
