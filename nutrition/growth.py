"""Energy of puppies and kittens: the published equations and steps side by side, in kcal a day.

No centile chart: no openly readable table is known to us, so the patient's own weights are shown as
percent of the expected adult weight.
"""

import math
from itertools import pairwise

from nutrition.energy import by_size_kcal, resting
from nutrition.explain import Estimate, estimate, line, shown
from nutrition.factors import Factors, Species, Table
from nutrition.reasons import is_positive, refuse, require_weight

UNWEANED = "growth.unweaned"


def share_of_adult(weight_kg: float, expected_adult_kg: float | None) -> float:
    """p = weight / expected adult weight; `Refused` without one, or above 1 (treat as adult)."""
    require_weight(weight_kg)
    if expected_adult_kg is None or not is_positive(expected_adult_kg):
        raise refuse("adult_weight_missing")
    share = weight_kg / expected_adult_kg
    if share > 1:
        raise refuse("heavier_than_adult")
    return share


def is_large(species: Species, expected_adult_kg: float | None, factors: Factors) -> bool:
    """A puppy that will weigh more than 25 kg (SACN5 Tables 17-1, 17-3)."""
    if species != "dog" or expected_adult_kg is None:
        return False
    return expected_adult_kg > factors.value("growth.large_from_kg")


def is_growing(
    species: Species, age_months: float | None, expected_adult_kg: float | None, factors: Factors
) -> bool | None:
    """A proposal by age (common practice): the clinician decides. None where the age is unknown."""
    if age_months is None:
        return None
    large = is_large(species, expected_adult_kg, factors)
    return age_months < factors.value("growth.large_until_months" if large else "growth.until_months")


def nrc_factor(species: Species, share: float, factors: Factors) -> float:
    """The multiple of maintenance at a share of adult weight: scale × (e^(−decay p) − offset)."""
    scale, decay, offset = (
        factors.value(f"growth.{species}.nrc.{part}") for part in ("scale", "decay", "offset")
    )
    return scale * (math.exp(-decay * share) - offset)


def nrc(species: Species, weight_kg: float, expected_adult_kg: float | None, factors: Factors) -> Estimate:
    """The NRC equation of the species."""
    share = share_of_adult(weight_kg, expected_adult_kg)
    rule = factors.factor(f"growth.{species}.nrc.coefficient")
    exponent = factors.value(f"size.{species}.exponent")
    upkeep = by_size_kcal(weight_kg, rule.value, exponent)
    factor = nrc_factor(species, share, factors)
    keep = line("Maintenance", f"{shown(rule.value)} × {shown(weight_kg)}^{shown(exponent)}", upkeep, rule)
    how = f"{shown(factor)} × {shown(upkeep, 0)} at {shown(share * 100, 0)} % of adult weight"
    grow = line("Growth, by equation", how, factor * upkeep, rule)
    return estimate(f"growth.{species}.nrc", "growth", "Growth equation", keep, grow)


def rest_steps(
    species: Species,
    weight_kg: float,
    factors: Factors,
    *,
    expected_adult_kg: float | None = None,
    age_months: float | None = None,
) -> Estimate:
    """Multiples of resting energy: puppies by age, kittens by percent of adult weight (SACN5)."""
    table = factors.table(f"growth.{species}.rest_steps")
    if species == "cat":
        at = share_of_adult(weight_kg, expected_adult_kg) * 100
    elif age_months is None:
        raise refuse("age_missing")
    else:
        at = age_months
    factor, rest = step_at(table, at), resting(weight_kg, factors)
    grow = line(
        "Growth, simple steps", f"{shown(factor)} × {shown(rest.value, 0)}", factor * rest.value, table
    )
    return estimate(table.code, "growth", "Simple steps", rest, grow)


def fediaf_steps(
    species: Species, weight_kg: float, expected_adult_kg: float | None, factors: Factors
) -> Estimate:
    """Steps by percent of adult weight; kittens have a range and its middle is taken."""
    at = share_of_adult(weight_kg, expected_adult_kg) * 100
    if species == "dog":
        table = factors.table("growth.dog.fediaf_steps")
        low = high = step_at(table, at)
    else:
        table = factors.table("growth.cat.fediaf_steps_low")
        low, high = step_at(table, at), step_at(factors.table("growth.cat.fediaf_steps_high"), at)
    exponent = factors.value(f"size.{species}.exponent")
    unit, middle = by_size_kcal(weight_kg, 1, exponent), (low + high) / 2
    how = f"{shown(middle)} × {shown(weight_kg)}^{shown(exponent)}"
    note = "" if low == high else f"{shown(low)} to {shown(high)}, the middle taken"
    grow = line("Growth, by steps of adult weight", how, middle * unit, table, note=note)
    code, says = f"growth.{species}.fediaf", "Steps of adult weight"
    return estimate(code, "growth", says, grow, low_kcal=low * unit, high_kcal=high * unit)


def large_puppy(weight_kg: float, expected_adult_kg: float | None, factors: Factors) -> Estimate:
    """Large and giant puppies: the table's factor on 130 × BW^0.75, read between its rows."""
    at = share_of_adult(weight_kg, expected_adult_kg) * 100
    table, rule = factors.table("growth.dog.large"), factors.factor("growth.dog.nrc.coefficient")
    exponent = factors.value("size.dog.exponent")
    factor, upkeep = between(table, at), by_size_kcal(weight_kg, rule.value, exponent)
    note = "below the table's first row, which is used" if at < table.rows[0][0] else ""
    keep = line("Maintenance", f"{shown(rule.value)} × {shown(weight_kg)}^{shown(exponent)}", upkeep, rule)
    how = f"{shown(factor)} × {shown(upkeep, 0)} at {shown(at, 0)} % of adult weight"
    grow = line("Growth, large breeds", how, factor * upkeep, table, note=note)
    return estimate(table.code, "growth", "Large and giant breeds", keep, grow)


def unweaned(weight_kg: float, factors: Factors) -> Estimate:
    """20–25 kcal per 100 g of body weight (NRC, Your Cat's Nutritional Needs)."""
    rule = factors.factor(UNWEANED)
    hundreds = require_weight(weight_kg) * 10
    step = line(
        "Unweaned", f"{shown(rule.value)} × {shown(weight_kg * 1000, 0)} g / 100", rule.value * hundreds, rule
    )
    low, high = rule.low or rule.value, rule.high or rule.value
    return estimate(rule.code, "growth", "Unweaned", step, low_kcal=low * hundreds, high_kcal=high * hundreds)


def estimates(
    *,
    species: Species,
    weight_kg: float,
    expected_adult_kg: float | None,
    age_months: float | None,
    factors: Factors,
) -> tuple[Estimate, ...]:
    """Every rule that applies, side by side; large puppies' own table first."""
    found = [nrc(species, weight_kg, expected_adult_kg, factors)]
    found.append(fediaf_steps(species, weight_kg, expected_adult_kg, factors))
    if species == "cat" or age_months is not None:
        found.append(
            rest_steps(
                species, weight_kg, factors, expected_adult_kg=expected_adult_kg, age_months=age_months
            )
        )
    if is_large(species, expected_adult_kg, factors):
        found.insert(0, large_puppy(weight_kg, expected_adult_kg, factors))
    return tuple(found)


def step_at(table: Table, at: float) -> float:
    """The value of the first row whose bound reaches `at`; the last row's beyond all bounds."""
    return next((value for upto, value in table.rows if at <= upto), table.rows[-1][1])


def between(table: Table, at: float) -> float:
    """Straight line between the rows; the end rows' values outside them."""
    rows = table.rows
    if at <= rows[0][0]:
        return rows[0][1]
    for (x0, y0), (x1, y1) in pairwise(rows):
        if at <= x1:
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    return rows[-1][1]
