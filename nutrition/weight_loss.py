"""Losing weight: where to start, how fast, when the target is reached, what to change. kcal a day, kg."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from nutrition.energy import resting
from nutrition.explain import KCAL_A_DAY, Estimate, Line, estimate, line, shown
from nutrition.factors import Factors, Species
from nutrition.reasons import is_positive, refuse, require_rate, require_weight


@dataclass(frozen=True, slots=True)
class Adjustment:
    """What to do about the pace seen: `less`, `more` or `keep`, and between which energies."""

    direction: Literal["less", "more", "keep"]
    low_kcal: float
    high_kcal: float
    line: Line


def require_target(weight_kg: float, target_weight_kg: float | None) -> float:
    """The target in kg; `Refused` when missing, not above zero, or not below the present weight."""
    require_weight(weight_kg)
    if target_weight_kg is None or not is_positive(target_weight_kg):
        raise refuse("target_missing")
    if target_weight_kg >= weight_kg:
        raise refuse("target_not_below", target=shown(target_weight_kg, 1), weight=shown(weight_kg, 1))
    return target_weight_kg


def start_by_rest(species: Species, target_weight_kg: float, factors: Factors, code: str = "") -> Estimate:
    """The published multiple of resting energy of the **target** weight."""
    rule = factors.factor(code or f"loss.start.{species}")
    rest = resting(target_weight_kg, factors, "At rest, at the target weight")
    step = line(
        "To start with", f"{shown(rule.value)} × {shown(rest.value, 0)}", rule.value * rest.value, rule
    )
    return estimate(rule.code, "loss", rule.says, rest, step)


def start_by_intake(measured_intake_kcal: float, factors: Factors) -> Estimate:
    """80 % of an intake that was measured, not told (SACN5 p. 540)."""
    if not is_positive(measured_intake_kcal):
        raise refuse("energy_not_positive")
    rule = factors.factor("loss.share_of_intake")
    how = f"{shown(rule.value * 100)} % of {shown(measured_intake_kcal, 0)}"
    step = line("From what it eats, measured", how, rule.value * measured_intake_kcal, rule)
    return estimate("loss.intake", "loss", "A fifth less than now", step)


def start_by_deficit(
    maintenance_kcal: float, weight_kg: float, percent_a_week: float, factors: Factors
) -> Estimate:
    """Maintenance less the energy of the fat to be lost (7,920 kcal a kg). `Refused` above 2 % a week."""
    rate = require_rate(percent_a_week, factors)
    rule = factors.factor("loss.fat_energy")
    fat_kg = require_weight(weight_kg) * rate / 100
    deficit = fat_kg * rule.value / 7
    if deficit >= maintenance_kcal:
        raise refuse("energy_not_positive")
    gap = line("Less a day", f"{shown(fat_kg, 3)} kg × {shown(rule.value)} / 7", deficit, rule)
    step = line(
        "To start with",
        f"{shown(maintenance_kcal, 0)} − {shown(deficit, 0)}",
        maintenance_kcal - deficit,
        rule,
    )
    return estimate("loss.deficit", "loss", f"{shown(rate)} % a week", gap, step)


def starts(
    species: Species, target_weight_kg: float, factors: Factors, *, measured_intake_kcal: float | None = None
) -> tuple[Estimate, ...]:
    """The published ways to start, the usual one first."""
    found = [start_by_rest(species, target_weight_kg, factors)]
    if species == "cat":
        found.append(start_by_rest(species, target_weight_kg, factors, "loss.start.cat_rest"))
    if measured_intake_kcal is not None:
        found.append(start_by_intake(measured_intake_kcal, factors))
    return tuple(found)


def percent_a_week(maintenance_kcal: float, energy_kcal: float, weight_kg: float, factors: Factors) -> float:
    """The loss that a deficit makes, in % of the present weight a week; negative is gain."""
    fat_kg = (maintenance_kcal - energy_kcal) * 7 / factors.value("loss.fat_energy")
    return fat_kg / require_weight(weight_kg) * 100


def weeks_to_target(
    weight_kg: float, target_weight_kg: float, rate_percent: float, factors: Factors
) -> float:
    """Weeks at a rate in % of starting weight a week. `Refused` as `require_target`, `require_rate`."""
    target = require_target(weight_kg, target_weight_kg)
    return (weight_kg - target) / (weight_kg * require_rate(rate_percent, factors) / 100)


def band_kg(weight_kg: float, target_weight_kg: float, week: float, factors: Factors) -> tuple[float, float]:
    """Lowest and highest weight hoped for in that week, at the fastest and slowest rate."""
    target = require_target(weight_kg, target_weight_kg)
    fast, slow = factors.value("loss.most") / 100, factors.value("loss.least") / 100
    return max(target, weight_kg * (1 - fast * week)), max(target, weight_kg * (1 - slow * week))


def pace_kg_per_week(weighed: Sequence[tuple[float, float]]) -> float | None:
    """Slope through (day, kg) by least squares; negative is loss. None with no two different days."""
    if len({day for day, _ in weighed}) < 2:
        return None
    mean_day = sum(day for day, _ in weighed) / len(weighed)
    mean_kg = sum(kg for _, kg in weighed) / len(weighed)
    across = sum((day - mean_day) ** 2 for day, _ in weighed)
    return 7 * sum((day - mean_day) * (kg - mean_kg) for day, kg in weighed) / across


def own_need(intake_kcal: float, pace: float, factors: Factors) -> Line:
    """What it seems to burn: intake and the fat its pace (kg a week) says. As good as what was told."""
    rule = factors.factor("loss.fat_energy")
    value = intake_kcal - pace * rule.value / 7
    how = f"{shown(intake_kcal, 0)} eaten, {shown(-pace * 1000 / 7, 1)} g of body fat burnt a day"
    return line("What it seems to need itself", how, value, rule, note="as good as what was told")


def adjust(energy_kcal: float, lost_percent_a_week: float, species: Species, factors: Factors) -> Adjustment:
    """Above 2 % a week 5–20 % more; below the species' usual rate 5–20 % less; else keep."""
    step, usual = factors.factor("loss.step"), factors.factor(f"loss.rate.{species}")
    few, many = step.low or step.value, step.high or step.value
    if lost_percent_a_week > factors.value("loss.most"):
        low, high = energy_kcal * (1 + few), energy_kcal * (1 + many)
        return Adjustment("more", low, high, _change(energy_kcal, 1 + step.value, "Feed more", factors))
    if lost_percent_a_week < (usual.low or usual.value):
        low, high = energy_kcal * (1 - many), energy_kcal * (1 - few)
        return Adjustment("less", low, high, _change(energy_kcal, 1 - step.value, "Feed less", factors))
    keep = Line(
        "Keep the amount", "the pace is right", energy_kcal, KCAL_A_DAY, usual.source, usual.certainty
    )
    return Adjustment("keep", energy_kcal, energy_kcal, keep)


def _change(energy_kcal: float, by: float, what: str, factors: Factors) -> Line:
    rule = factors.factor("loss.step")
    few, many = (shown(100 * (step or rule.value), 0) for step in (rule.low, rule.high))
    how = f"{shown(by)} × {shown(energy_kcal, 0)}"
    return line(what, how, energy_kcal * by, rule, note=f"{few} to {many} %")
