"""Resting energy and the daily need of adults, by both published families of rules, in kcal a day."""

from dataclasses import dataclass

from nutrition.explain import Estimate, Line, estimate, line, shown
from nutrition.factors import Factors, Family, NeedRule, Sentence, Species
from nutrition.reasons import require_weight

KG_PER_LB = 0.45359237


@dataclass(frozen=True, slots=True)
class AdultNeed:
    """Both families side by side: `low_kcal`–`high_kcal` spans them, `spread_*` is half to half again."""

    weight_kg: float
    resting: Line
    multiples: Estimate
    body_size: Estimate
    family: Family
    low_kcal: float
    high_kcal: float
    spread_low_kcal: float
    spread_high_kcal: float

    @property
    def chosen(self) -> Estimate:
        return self.multiples if self.family == "multiples" else self.body_size


def by_size_kcal(weight_kg: float, coefficient: float, exponent: float) -> float:
    """coefficient × weight^exponent; `Refused` for a weight that is no weight."""
    return coefficient * float(require_weight(weight_kg) ** exponent)


def resting_kcal(weight_kg: float, factors: Factors) -> float:
    """RER = 70 × BW^0.75 at every weight, both species (SACN5 Table 5-2)."""
    return by_size_kcal(weight_kg, factors.value("rest.coefficient"), factors.value("rest.exponent"))


def resting(weight_kg: float, factors: Factors, what: str = "At rest") -> Line:
    """The resting energy as a line of the sum."""
    rule, exponent = factors.factor("rest.coefficient"), factors.value("rest.exponent")
    how = f"{shown(rule.value)} × {shown(weight_kg)}^{shown(exponent)}"
    return line(what, how, resting_kcal(weight_kg, factors), rule)


def kilojoules(energy_kcal: float, factors: Factors) -> float:
    return energy_kcal * factors.value("energy.kj_per_kcal")


def floor_kcal(species: Species, target_weight_kg: float, factors: Factors) -> float:
    """The least energy a plan may have without a clinician's reason (common practice, a setting)."""
    return factors.value(f"floor.{species}") * resting_kcal(target_weight_kg, factors)


def spread_kcal(low_kcal: float, high_kcal: float, factors: Factors) -> tuple[float, float]:
    """How far one animal may lie from the rules: half of the lowest to half again of the highest."""
    share = factors.value("spread.share")
    return low_kcal * (1 - share), high_kcal * (1 + share)


def rules_for(species: Species, family: Family, factors: Factors) -> tuple[NeedRule, ...]:
    """The rules a clinician can choose from."""
    return tuple(rule for rule in factors.needs if rule.species == species and rule.family == family)


def usual_rules(
    species: Species, *, neutered: bool | None, bcs: float | None = None, obese_prone: bool = False
) -> tuple[str, str]:
    """Codes to begin with, (multiples, body size); an unknown neuter status takes the lower rule."""
    overweight = species == "cat" and bcs is not None and bcs > 5
    by_size_when_fat = "cat.overweight" if overweight else "cat.indoor"
    if obese_prone:
        return f"{species}.obese_prone", "dog.fat_prone" if species == "dog" else by_size_when_fat
    by_rest = f"{species}.intact" if neutered is False else f"{species}.neutered"
    if species == "dog":
        return by_rest, "dog.inactive"
    return by_rest, "cat.lean" if neutered is False and not overweight else by_size_when_fat


def need(weight_kg: float, rule: NeedRule, factors: Factors) -> Estimate:
    """An adult's need by one rule."""
    before: tuple[Line, ...] = ()
    if rule.exponent is None:
        rest = resting(weight_kg, factors)
        unit, how = rest.value, f"{shown(rule.value)} × {shown(rest.value, 0)}"
        before = (rest,)
    else:
        unit = by_size_kcal(weight_kg, 1, rule.exponent)
        how = f"{shown(rule.value)} × {shown(weight_kg)}^{shown(rule.exponent)}"
    step = line(rule.says, how, rule.value * unit, rule)
    return estimate(
        rule.code,
        "adult",
        rule.says,
        *before,
        step,
        low_kcal=None if rule.low is None else rule.low * unit,
        high_kcal=None if rule.high is None else rule.high * unit,
    )


def adult_need(
    *, weight_kg: float, multiples_code: str, body_size_code: str, family: Family, factors: Factors
) -> AdultNeed:
    """The need by one rule of each family; `family` is the one this clinic uses."""
    by_rest = need(weight_kg, factors.need(multiples_code), factors)
    by_size = need(weight_kg, factors.need(body_size_code), factors)
    low, high = min(by_rest.low_kcal, by_size.low_kcal), max(by_rest.high_kcal, by_size.high_kcal)
    spread_low, spread_high = spread_kcal(low, high, factors)
    return AdultNeed(
        weight_kg=weight_kg,
        resting=resting(weight_kg, factors),
        multiples=by_rest,
        body_size=by_size,
        family=family,
        low_kcal=low,
        high_kcal=high,
        spread_low_kcal=spread_low,
        spread_high_kcal=spread_high,
    )


def breed_note(breed: str, factors: Factors) -> Sentence | None:
    """What is published about the need of that breed, if anything (SACN5 p. 259)."""
    code = "breed." + breed.strip().casefold().replace(" ", "_").replace("-", "_")
    return next((sentence for sentence in factors.sentences if sentence.code == code), None)
