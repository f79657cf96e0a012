"""Which published energies a clinician can choose from for this animal, the usual one first."""

from dataclasses import dataclass

from nutrition import conditions as condition
from nutrition import growth, reproduction, weight_loss
from nutrition.energy import need, usual_rules
from nutrition.explain import Estimate
from nutrition.factors import Factors, Family
from nutrition.reasons import Refused, require_weight
from nutrition.refusals import Inputs


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """What the choice needs beside `Inputs`. `week` of gestation or nursing, `young` nursed; the weight of
    `Inputs` is today's, `weight_before_kg` hers before breeding. Rule codes None: the usual ones."""

    neutered: bool | None = None
    family: Family = "body_size"
    multiples_code: str | None = None
    body_size_code: str | None = None
    week: int | None = None
    young: int | None = None
    weight_before_kg: float | None = None
    measured_intake_kcal: float | None = None
    seems_to_need_kcal: float | None = None


def energies(inputs: Inputs, around: Circumstances, factors: Factors) -> tuple[Estimate, ...]:
    """Estimates side by side; empty where no formula may be used or something it needs is not known.

    Raises `Refused` where a number given cannot be (weight, adult weight, target, week, litter).
    """
    if inputs.conditions & set(condition.NO_FORMULA):
        return ()
    weight = require_weight(inputs.weight_kg)
    if inputs.aim == "gain":
        return ()
    if inputs.aim == "lose":
        target = weight_loss.require_target(weight, inputs.target_weight_kg)
        intake = around.measured_intake_kcal
        found = weight_loss.starts(inputs.species, target, factors, measured_intake_kcal=intake)
        return (*found, *_by_deficit(inputs, around, weight, factors))
    if inputs.stage == "growth":
        return _growing(inputs, weight, factors)
    if inputs.conditions & {condition.PREGNANT, condition.NURSING}:
        return _bearing(inputs, around, factors)
    return _adult(inputs, around, weight, factors)


def _by_deficit(
    inputs: Inputs, around: Circumstances, weight_kg: float, factors: Factors
) -> tuple[Estimate, ...]:
    """At the wanted rate, else at the species' usual one; none where that leaves nothing to eat."""
    usual = factors.value(f"loss.rate.{inputs.species}")
    rate = usual if inputs.wanted_percent_a_week is None else inputs.wanted_percent_a_week
    upkeep = around.seems_to_need_kcal or _adult(inputs, around, weight_kg, factors)[0].energy_kcal
    try:
        return (weight_loss.start_by_deficit(upkeep, weight_kg, rate, factors),)
    except Refused:
        return ()


def _growing(inputs: Inputs, weight_kg: float, factors: Factors) -> tuple[Estimate, ...]:
    """On milk alone that comes first; while it is being weaned it stands beside the others."""
    age, found = inputs.age_months, _weaned(inputs, weight_kg, factors)
    if age is None or age >= factors.value("growth.weaned_at_months"):
        return found
    milk = growth.unweaned(weight_kg, factors)
    if age < factors.value("growth.milk_alone_until_months"):
        return (milk, *found)
    # never alone: it would be taken for the need of one that eats already
    return (*found, milk) if found else ()


def _weaned(inputs: Inputs, weight_kg: float, factors: Factors) -> tuple[Estimate, ...]:
    if inputs.expected_adult_kg is None:
        if inputs.species == "cat" or inputs.age_months is None:
            return ()
        return (growth.rest_steps("dog", weight_kg, factors, age_months=inputs.age_months),)
    return growth.estimates(
        species=inputs.species,
        weight_kg=weight_kg,
        expected_adult_kg=inputs.expected_adult_kg,
        age_months=inputs.age_months,
        factors=factors,
    )


def _bearing(inputs: Inputs, around: Circumstances, factors: Factors) -> tuple[Estimate, ...]:
    before, week, young = around.weight_before_kg, around.week, around.young
    if before is None or week is None:
        return ()
    if condition.NURSING not in inputs.conditions:
        return (reproduction.gestation(inputs.species, before, week, factors),)
    if young is None:
        return ()
    nursing = reproduction.lactation(inputs.species, before, young, week, factors)
    if inputs.species == "cat":
        return (nursing,)
    return nursing, reproduction.bitch_by_rest(before, young, factors)


def _adult(inputs: Inputs, around: Circumstances, weight_kg: float, factors: Factors) -> tuple[Estimate, ...]:
    prone = condition.OBESE_PRONE in inputs.conditions
    usual = usual_rules(inputs.species, neutered=around.neutered, bcs=inputs.bcs, obese_prone=prone)
    by_rest = need(weight_kg, factors.need(around.multiples_code or usual[0]), factors)
    by_size = need(weight_kg, factors.need(around.body_size_code or usual[1]), factors)
    return (by_size, by_rest) if around.family == "body_size" else (by_rest, by_size)
