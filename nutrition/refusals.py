"""Everything that stands against a plan, found in one pass: `check(inputs, factors)`.

A refusal is lifted by nothing, by the clinician's own number, or by a written reason together with its
code in `Inputs.answered`, so that one reason never lifts what was not seen; a question by its code there.
`open_items` leaves what still stands.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from nutrition import conditions as condition
from nutrition.changeover import change_over
from nutrition.energy import floor_kcal
from nutrition.explain import Estimate, shown
from nutrition.factors import Factors, Species
from nutrition.foods import Food
from nutrition.growth import UNWEANED, is_large
from nutrition.ideal_weight import methods
from nutrition.label import Serving, density
from nutrition.reasons import (
    Lift,
    Question,
    Refusal,
    Refused,
    is_positive,
    question,
    refusal,
    refuse,
)
from nutrition.weight_loss import percent_a_week, start_by_rest

__all__ = [
    "Aim",
    "Inputs",
    "Lift",
    "Muscle",
    "Question",
    "Refusal",
    "Refused",
    "Stage",
    "check",
    "open_items",
    "refuse",
    "start_kcal",
]

Stage = Literal["adult", "growth"]
Aim = Literal["keep", "lose", "gain"]
Muscle = Literal["normal", "mild", "moderate", "severe"]
Item = Refusal | Question


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """All a plan is made from. kg, kcal a day; None where it is not known.

    `stage` is the clinician's answer (`growth.is_growing` proposes); pregnancy and nursing are conditions.
    `household` None means that nobody asked. `maintenance_kcal` is what would keep the present weight;
    `maintenance_measured` when it comes from a measured intake and weigh-ins rather than from a rule.
    `change_days` is how long the change from the present food takes, 0 where none is made, None where nobody
    knows from what.
    `lost_percent` is a loss that no plan wanted, where it is worth a question; `lost_since` says since when.
    """

    species: Species
    weight_kg: float | None
    stage: Stage = "adult"
    aim: Aim = "keep"
    bcs: float | None = None
    muscle: Muscle | None = None
    age_months: float | None = None
    expected_adult_kg: float | None = None
    target_weight_kg: float | None = None
    estimate: Estimate | None = None
    servings: tuple[Serving, ...] = ()
    treats_kcal: float = 0.0
    change_days: int | None = None
    reported_intake_kcal: float | None = None
    maintenance_kcal: float | None = None
    maintenance_measured: bool = False
    wanted_percent_a_week: float | None = None
    lost_percent: float | None = None
    lost_since: str = ""
    conditions: frozenset[str] = frozenset()
    household: frozenset[str] | None = None
    reason: str = ""
    answered: frozenset[str] = frozenset()

    @property
    def foods(self) -> tuple[Food, ...]:
        return tuple(serving.food for serving in self.servings)

    @property
    def aimed_weight_kg(self) -> float | None:
        """The weight the plan leads to: the target where one is set, else today's."""
        return self.weight_kg if self.target_weight_kg is None else self.target_weight_kg


def check(inputs: Inputs, factors: Factors) -> list[Refusal | Question]:
    """All refusals and questions, the unliftable ones first; empty when nothing stands against a plan."""
    found = [item for part in _PARTS for item in part(inputs, factors)]
    return sorted(found, key=_gravity)


def open_items(items: Iterable[Item], inputs: Inputs) -> list[Refusal | Question]:
    """What still stands after the clinician's own number, reason and answers."""
    return [item for item in items if not _lifted(item, inputs)]


def start_kcal(inputs: Inputs, factors: Factors) -> float | None:
    """Where the published plan for losing weight would start, whatever energy was chosen."""
    if inputs.aim != "lose" or not _usable(inputs.target_weight_kg):
        return None
    assert inputs.target_weight_kg is not None
    return start_by_rest(inputs.species, inputs.target_weight_kg, factors).energy_kcal


def _gravity(item: Item) -> int:
    if isinstance(item, Question):
        return 3
    return {"never": 0, "own_plan": 1, "reason": 2}[item.lifts]


def _lifted(item: Item, inputs: Inputs) -> bool:
    if isinstance(item, Question):
        return item.code in inputs.answered
    if item.lifts == "own_plan":
        return inputs.estimate is not None and inputs.estimate.basis == "own"
    if item.lifts == "never" or not inputs.reason.strip():
        return False
    return item.code in inputs.answered


def _usable(number: float | None) -> bool:
    return number is not None and is_positive(number)


def _weight(inputs: Inputs, factors: Factors) -> Iterator[Item]:
    if inputs.weight_kg is None:
        yield refusal("weight_missing")
    elif not is_positive(inputs.weight_kg):
        yield refusal("weight_not_positive")
    if inputs.bcs is not None and not 1 <= inputs.bcs <= 9:
        yield refusal("bcs_out_of_range")


def _conditions(inputs: Inputs, factors: Factors) -> Iterator[Item]:
    for code in condition.NO_FORMULA:
        if code not in inputs.conditions:
            continue
        if code == condition.STARVATION:
            yield refusal("no_formula_starvation")
        else:
            yield refusal("no_formula", condition=condition.SAYS[code])


def _stage(inputs: Inputs, factors: Factors) -> Iterator[Item]:
    basis = inputs.estimate.basis if inputs.estimate else None
    if inputs.stage == "growth" and basis in {"adult", "loss"}:
        yield refusal("adult_rule_in_growth")
    if inputs.stage == "growth":
        yield from _grown_weight(inputs)
    bearing = inputs.conditions & {condition.PREGNANT, condition.NURSING}
    if bearing and basis == "adult":
        yield question("adult_rule_in_reproduction")


def _grown_weight(inputs: Inputs) -> Iterator[Item]:
    """Also where no energy could be offered: the page must say why."""
    if _usable(inputs.expected_adult_kg):
        if _usable(inputs.weight_kg) and (inputs.weight_kg or 0) > (inputs.expected_adult_kg or 0):
            yield refusal("heavier_than_adult")
    # Simple steps by age and the unweaned rule stand on no adult weight.
    elif inputs.estimate is None or (
        inputs.estimate.basis == "growth" and inputs.estimate.code not in _WITHOUT_ADULT_WEIGHT
    ):
        yield refusal("adult_weight_missing")


_WITHOUT_ADULT_WEIGHT = frozenset({"growth.dog.rest_steps", UNWEANED})


def _aim(inputs: Inputs, factors: Factors) -> Iterator[Item]:
    if inputs.aim == "gain" and (inputs.bcs is None or inputs.bcs < 5):
        yield refusal("no_sum_below_five")
    if inputs.aim != "lose":
        return
    if inputs.bcs is None:
        yield refusal("bcs_missing")
    elif 1 <= inputs.bcs <= 5:
        yield refusal("loss_at_ideal", bcs=shown(inputs.bcs))
    if inputs.stage == "growth":
        yield refusal("loss_in_growth")
    if condition.PREGNANT in inputs.conditions:
        yield refusal("loss_in_pregnancy")
    if condition.NURSING in inputs.conditions:
        yield refusal("loss_in_nursing")
    if not _usable(inputs.target_weight_kg):
        yield refusal("target_missing")
    elif _usable(inputs.weight_kg) and (inputs.target_weight_kg or 0) >= (inputs.weight_kg or 0):
        target, weight = shown(inputs.target_weight_kg or 0, 1), shown(inputs.weight_kg or 0, 1)
        yield refusal("target_not_below", target=target, weight=weight)
    else:
        yield from _target_by_methods(inputs, factors)


def _target_by_methods(inputs: Inputs, factors: Factors) -> Iterator[Item]:
    # A slipped decimal in the target would also pull the floor down with it.
    if not _usable(inputs.weight_kg) or inputs.bcs is None or not 5 < inputs.bcs <= 9:
        return
    answers = methods(weight_kg=inputs.weight_kg or 0, bcs=inputs.bcs, factors=factors)
    lowest, target = min(answer.weight_kg for answer in answers), inputs.target_weight_kg or 0
    if target < lowest * 0.98:
        yield question("target_below_every_method", target=shown(target, 1), lowest=shown(lowest, 1))


def _overweight_kept(inputs: Inputs, factors: Factors) -> Iterator[Item]:
    """A page that opens with "keep this weight" must not feed an obese animal so without being asked."""
    bearing = inputs.conditions & {condition.PREGNANT, condition.NURSING}
    if inputs.aim == "lose" or inputs.stage == "growth" or bearing or inputs.estimate is None:
        return
    if inputs.bcs is None or not factors.value("overweight.from") <= inputs.bcs <= 9:
        return
    energy, eats = inputs.estimate.energy_kcal, inputs.reported_intake_kcal
    says = "" if eats is None or eats >= energy else f"; by report it eats {shown(eats, 0)} now"
    yield question("overweight_kept", bcs=shown(inputs.bcs), energy=shown(energy, 0), intake=says)


def _condition_asked(inputs: Inputs, factors: Factors) -> Iterator[Item]:
    """Thin, wasted, or losing unplanned: the reason comes before the food."""
    bearing = inputs.conditions & {condition.PREGNANT, condition.NURSING}
    thin = inputs.bcs is not None and 1 <= inputs.bcs < factors.value("thin.below")
    # a plan to gain is refused in the same words and takes the clinician's own number
    if thin and inputs.bcs is not None and inputs.aim != "gain" and not bearing:
        yield question("thin_asked", bcs=shown(inputs.bcs))
    if inputs.muscle not in {None, "normal"}:
        yield question("muscle_asked", muscle=inputs.muscle)
    if inputs.lost_percent is not None and not bearing:
        yield question("unplanned_loss", percent=shown(inputs.lost_percent, 0), when=inputs.lost_since)


def _rate(inputs: Inputs, factors: Factors) -> Iterator[Item]:
    most, wanted = factors.value("loss.most"), inputs.wanted_percent_a_week
    if inputs.aim != "lose":
        return
    if wanted is not None and not is_positive(wanted):
        yield refusal("rate_not_positive")
        return
    percents = [each for each in (wanted, _reckoned_percent(inputs, factors)) if each is not None]
    fastest = max(percents, default=0.0)
    # what the deficit method gives back of the wanted rate is not above it by the noise of a float
    if fastest > most + 1e-9:
        yield refusal("loss_too_fast", percent=f"{fastest:.1f}", most=f"{most:g}")
    elif inputs.species == "cat":
        usual = factors.factor("loss.rate.cat")
        most_usual = usual.high or usual.value
        if fastest > most_usual + 1e-9:
            yield question("cat_above_one", percent=f"{fastest:.1f}", usual=f"{most_usual:g}")


def _reckoned_percent(inputs: Inputs, factors: Factors) -> float | None:
    """The loss the chosen energy makes, where it counts against the plan.

    A need by rule may lie half too high, and at the published start small animals pass 2 % on paper
    alone: there the plan gets a caution instead. Below the published start, or from a
    measured need, the limit holds.
    """
    if inputs.estimate is None or not _usable(inputs.maintenance_kcal) or not _usable(inputs.weight_kg):
        return None
    start = start_kcal(inputs, factors)
    at_start = start is not None and inputs.estimate.energy_kcal >= start - 0.5
    if at_start and not inputs.maintenance_measured:
        return None
    return percent_a_week(
        inputs.maintenance_kcal or 0, inputs.estimate.energy_kcal, inputs.weight_kg or 0, factors
    )


def _energy(inputs: Inputs, factors: Factors) -> Iterator[Item]:
    if inputs.estimate is None:
        yield refusal("energy_missing")
        return
    energy = inputs.estimate.energy_kcal
    if not is_positive(energy):
        yield refusal("energy_not_positive")
        return
    if inputs.estimate.basis == "own" and not inputs.reason.strip():
        yield refusal("own_plan_without_reason")
    if _usable(inputs.aimed_weight_kg):
        floor = floor_kcal(inputs.species, inputs.aimed_weight_kg or 0, factors)
        if energy < floor:
            share = shown(factors.value(f"floor.{inputs.species}"))
            yield refusal("below_floor", energy=shown(energy, 0), floor=shown(floor, 0), share=share)
    yield from _low_intake(inputs, energy, factors)


def _low_intake(inputs: Inputs, energy: float, factors: Factors) -> Iterator[Item]:
    intake, start = inputs.reported_intake_kcal, start_kcal(inputs, factors)
    if intake is None or start is None or intake >= start:
        return
    words = {"intake": shown(intake, 0), "start": shown(start, 0)}
    yield question("intake_below_plan", **words)
    if energy < intake:
        yield refusal("cut_of_low_intake", **words)


def _bowl(inputs: Inputs, factors: Factors) -> Iterator[Item]:
    if not inputs.servings:
        yield refusal("no_food")
        return
    whole = sum(serving.share_percent for serving in inputs.servings)
    if abs(whole - 100) > 0.01 or any(serving.share_percent < 0 for serving in inputs.servings):
        yield refusal("shares_not_whole", whole=shown(whole))
    for food in inputs.foods:
        try:
            density(food, factors)
        except Refused as refused:
            yield refused.refusal
    try:
        change_over(inputs.change_days or 0, factors)
    except Refused as refused:
        yield refused.refusal
    if inputs.foods and all(food.completeness == "complementary" for food in inputs.foods):
        yield refusal("only_complementary", food=inputs.foods[0].name)


def _treats(inputs: Inputs, factors: Factors) -> Iterator[Item]:
    share = factors.value("treats.share")
    if inputs.treats_kcal < 0:
        yield refusal("treats_negative")
    if inputs.estimate is None or not is_positive(inputs.estimate.energy_kcal):
        return
    energy = inputs.estimate.energy_kcal
    if inputs.treats_kcal > energy * share + 1e-9:
        most = shown(energy * share, 0)
        yield refusal("treats_above_tenth", treats=shown(inputs.treats_kcal, 0), most=most)
        return
    beside = sum(s.share_percent for s in inputs.servings if s.food.completeness == "complementary")
    extra = inputs.treats_kcal + (energy - inputs.treats_kcal) * beside / 100
    if beside and extra > energy * share + 1e-9:
        yield question("complementary_above_tenth", percent=shown(extra / energy * 100, 0))


def _foods(inputs: Inputs, factors: Factors) -> Iterator[Item]:
    for food in inputs.foods:
        yield from _for_species(food, inputs)
        if food.completeness == "complete":
            yield from _for_stage(food, inputs, factors)
        if food.raw:
            yield from _raw(food, inputs.household)
        if food.therapeutic:
            yield question("therapeutic_food", food=food.name)


def _for_species(food: Food, inputs: Inputs) -> Iterator[Item]:
    if inputs.species not in food.species:
        if inputs.species == "cat":
            yield refusal("food_not_for_cats", food=food.name)
        else:
            yield question("cat_food_for_dog", food=food.name)
    if food.meat_free and inputs.species == "cat":
        yield refusal("meat_free_for_cat", food=food.name)


def _for_stage(food: Food, inputs: Inputs, factors: Factors) -> Iterator[Item]:
    grows = food.life_stages & {"growth", "large_breed_growth"}
    if inputs.stage == "growth" and not grows:
        yield refusal("adult_food_in_growth", food=food.name)
    large = inputs.stage == "growth" and is_large(inputs.species, inputs.expected_adult_kg, factors)
    if large and grows and "large_breed_growth" not in food.life_stages:
        yield question("not_for_large_puppies", food=food.name)
    bearing = inputs.conditions & {condition.PREGNANT, condition.NURSING}
    if bearing and "reproduction" not in food.life_stages:
        yield refusal("adult_food_in_reproduction", food=food.name)
    if inputs.aim == "lose" and not food.weight_control:
        yield question("maintenance_food_for_loss", food=food.name)


def _raw(food: Food, household: frozenset[str] | None) -> Iterator[Item]:
    if household is None:
        yield question("raw_who_is_home", food=food.name)
        return
    people = [says for code, says in condition.HOUSEHOLD.items() if code in household]
    if people:
        yield question("raw_with_people", food=food.name, people=" and ".join(people))


_PARTS: Sequence[Callable[[Inputs, Factors], Iterator[Item]]] = (
    _weight,
    _conditions,
    _stage,
    _aim,
    _overweight_kept,
    _condition_asked,
    _rate,
    _energy,
    _bowl,
    _treats,
    _foods,
)
