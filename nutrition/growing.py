"""A growing animal from weigh-in to weigh-in: how much of its grown weight it has, and what it gains. kg."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median
from typing import Literal

from nutrition.factors import Factors, Sentence, Species
from nutrition.growth import is_large
from nutrition.reasons import is_positive, refuse

How = Literal["asked", "parents", "breed"]
HOW_SAYS: dict[How, str] = {
    "asked": "as said by whoever knows the breed or the litter",
    "parents": "an estimate from its parents",
    "breed": "an estimate from the range of the breed",
}
GAIN_DAYS = 5  # a shorter time measures the scale and the last meal


@dataclass(frozen=True, slots=True)
class GrownWeight:
    """The adult weight expected: `low_kg` to `high_kg` where it is an estimate, the middle taken."""

    kg: float
    low_kg: float
    high_kg: float
    how: How

    @property
    def is_estimate(self) -> bool:
        return self.how != "asked"


def grown_weight(how: How, first_kg: float | None, second_kg: float | None = None) -> GrownWeight:
    """One number that was asked, both parents, or the two ends of a breed's range. `Refused` without them."""
    given = [kg for kg in (first_kg, second_kg) if kg is not None]
    if len(given) < (1 if how == "asked" else 2) or not all(is_positive(kg) for kg in given):
        raise refuse("adult_weight_missing")
    if how == "asked":
        return GrownWeight(given[0], given[0], given[0], how)
    return GrownWeight(sum(given) / 2, min(given), max(given), how)


@dataclass(frozen=True, slots=True)
class Grown:
    """One weight as a share of the grown weight, in %; None while that is not known."""

    on: date
    kg: float
    percent: float | None


@dataclass(frozen=True, slots=True)
class Growing:
    """The gain between the last two weigh-ins that lie far enough apart, also in % of the earlier of them.
    `review_on` None: nothing was weighed."""

    weighed: tuple[Grown, ...]
    gain_kg_a_week: float | None
    gain_percent: float | None
    is_large: bool
    says: tuple[Sentence, ...]
    review_on: date | None


def growing(
    species: Species, weighed: Sequence[tuple[date, float]], grown_kg: float | None, factors: Factors
) -> Growing:
    """From (day, kg), the earliest first; several of one day are their median."""
    days = _by_day(weighed)
    rows = tuple(Grown(on, kg, kg / grown_kg * 100 if grown_kg else None) for on, kg in days)
    before = next((row for row in reversed(rows) if (rows[-1].on - row.on).days >= GAIN_DAYS), None)
    gain = None if before is None else (rows[-1].kg - before.kg) / (rows[-1].on - before.on).days * 7
    large = is_large(species, grown_kg, factors)
    rule = factors.factor("weigh.large_puppy" if large else "weigh.growth")
    return Growing(
        weighed=rows,
        gain_kg_a_week=gain,
        gain_percent=None if gain is None or before is None else gain / before.kg * 100,
        is_large=large,
        says=tuple(factors.sentence(f"growing.{code}") for code in _codes(rows, gain, large)),
        review_on=rows[-1].on + timedelta(days=int(rule.value)) if rows else None,
    )


def _by_day(weighed: Sequence[tuple[date, float]]) -> list[tuple[date, float]]:
    days: dict[date, list[float]] = {}
    for on, kg in weighed:
        days.setdefault(on, []).append(kg)
    return [(on, median(days[on])) for on in sorted(days)]


def _codes(rows: tuple[Grown, ...], gain: float | None, large: bool) -> list[str]:
    reached = bool(rows) and (rows[-1].percent or 0) >= 100
    if reached:
        found = ["grown"]
    elif gain is None:
        found = ["first"]
    else:
        found = ["steady" if gain > 0 else "standstill"]
    return [*found, *(["large"] if large and not reached else []), "no_centiles"]
