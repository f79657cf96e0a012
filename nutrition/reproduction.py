"""Energy in gestation and lactation, in kcal a day. The weight is the mother's own before breeding."""

from nutrition.energy import by_size_kcal, resting
from nutrition.explain import Estimate, Line, estimate, line, shown, with_note
from nutrition.factors import Factors, Species, Table
from nutrition.growth import step_at
from nutrition.reasons import refuse


def gestation(species: Species, weight_before_kg: float, week: int, factors: Factors) -> Estimate:
    """Week 1–9. Bitch: as maintenance for four weeks, then + 26 kcal a kg; queen: 140 × BW^0.67."""
    last = int(factors.value("gestation.weeks"))
    if not 1 <= week <= last:
        raise refuse("week_out_of_range", week=week, first=1, last=last)
    keep = _upkeep("Gestation", species, "gestation", weight_before_kg, factors)
    late = species == "dog" and week >= factors.value("gestation.dog.late_from_week")
    if not late:
        return estimate(f"gestation.{species}", "gestation", f"Gestation, week {week}", keep)
    more = factors.factor("gestation.dog.per_kg")
    how = f"{shown(keep.value, 0)} + {shown(more.value)} × {shown(weight_before_kg)}"
    step = line("Last five weeks", how, keep.value + more.value * weight_before_kg, more)
    return estimate("gestation.dog.late", "gestation", f"Gestation, week {week}", keep, step)


def lactation(species: Species, weight_before_kg: float, young: int, week: int, factors: Factors) -> Estimate:
    """By litter and week of nursing: bitch weeks 1–4, queen weeks 1–7 (NRC)."""
    if young < 1:
        raise refuse("litter_missing")
    by_week = factors.table(f"lactation.{species}.week")
    factor = _week_factor(by_week, week)
    keep = _upkeep("Nursing, herself", species, "lactation", weight_before_kg, factors)
    milk = _bitch_milk(young, factors) if species == "dog" else _queen_milk(young, factors)
    how = f"{shown(keep.value, 0)} + {shown(weight_before_kg)} × {shown(milk.value)} × {shown(factor)}"
    step = line("With her milk", how, keep.value + weight_before_kg * milk.value * factor, by_week)
    says = f"Nursing {young}, week {week}"
    return estimate(f"lactation.{species}", "lactation", says, keep, milk, step)


def bitch_by_rest(weight_before_kg: float, young: int, factors: Factors) -> Estimate:
    """1.9 × RER and a quarter of that more for each puppy (SACN5 p. 294)."""
    if young < 1:
        raise refuse("litter_missing")
    rule, more = factors.factor("lactation.dog.rest_multiple"), factors.factor("lactation.dog.share_a_pup")
    rest = resting(weight_before_kg, factors)
    own = rule.value * rest.value
    herself = line("Nursing, herself", f"{shown(rule.value)} × {shown(rest.value, 0)}", own, rule)
    how = f"{shown(own, 0)} + {young} × {shown(more.value)} × {shown(own, 0)}"
    step = line("With her milk", how, own * (1 + young * more.value), more)
    return estimate(
        "lactation.dog.rest", "lactation", f"Nursing {young}, by resting energy", rest, herself, step
    )


def _upkeep(what: str, species: Species, stage: str, weight_kg: float, factors: Factors) -> Line:
    rule = factors.factor(f"{stage}.{species}.coefficient")
    exponent = factors.value(f"size.{species}.exponent")
    how = f"{shown(rule.value)} × {shown(weight_kg)}^{shown(exponent)}"
    return line(what, how, by_size_kcal(weight_kg, rule.value, exponent), rule)


def _week_factor(table: Table, week: int) -> float:
    last = int(table.rows[-1][0])
    if not 1 <= week <= last:
        raise refuse("week_out_of_range", week=week, first=1, last=last)
    return step_at(table, week)


def _bitch_milk(young: int, factors: Factors) -> Line:
    first, later = factors.factor("lactation.dog.first_pups"), factors.factor("lactation.dog.later_pups")
    n, m = min(young, 4), min(max(young - 4, 0), 4)
    value = first.value * n + later.value * m
    how = f"{shown(first.value)} × {n} + {shown(later.value)} × {m}"
    step = line("Milk, a kg of her weight", how, value, first, unit="kcal/kg")
    # The published formula ends at eight; more puppies need more, which no formula here says.
    return (
        with_note(step, "the rule ends at eight puppies; a larger litter needs more") if young > 8 else step
    )


def _queen_milk(young: int, factors: Factors) -> Line:
    table = factors.table("lactation.cat.litter")
    return line("Milk, a kg of her weight", f"{young} kittens", step_at(table, young), table, unit="kcal/kg")
