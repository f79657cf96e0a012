"""The catalogue's foods grouped by whom they suit, for the choice on the feeding page. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass

from nutrition import conditions as condition
from nutrition.foods import Food
from nutrition.refusals import Inputs

TITLES = (
    "Made for losing weight",
    "For this animal as it is",
    "For another age or state",
    "Therapeutic, for one illness",
    "Beside a complete food",
    "For another species",
)


@dataclass(frozen=True)
class FoodChoice:
    code: str
    words: str


@dataclass(frozen=True)
class FoodGroup:
    title: str
    foods: tuple[FoodChoice, ...]


def food_groups(foods: Iterable[Food], inputs: Inputs) -> tuple[FoodGroup, ...]:
    """Every food stands in one group; one that does not fit is refused with its reason when chosen."""
    grouped: dict[str, list[Food]] = {title: [] for title in TITLES}
    for food in sorted(foods, key=lambda each: each.name):
        grouped[_title(food, inputs)].append(food)
    return tuple(
        FoodGroup(title, tuple(FoodChoice(food.code, _words(food)) for food in found))
        for title, found in grouped.items()
        if found
    )


def _title(food: Food, inputs: Inputs) -> str:
    losing, suits, other_state, therapeutic, beside, other_species = TITLES
    if inputs.species not in food.species:
        return other_species
    if food.treat or food.completeness == "complementary":
        return beside
    if food.therapeutic:
        return therapeutic
    if not food.life_stages & _stages(inputs):
        return other_state
    return losing if inputs.aim == "lose" and food.weight_control else suits


def _stages(inputs: Inputs) -> frozenset[str]:
    if inputs.conditions & {condition.PREGNANT, condition.NURSING}:
        return frozenset({"reproduction"})
    return frozenset({"growth", "large_breed_growth"} if inputs.stage == "growth" else {"adult", "senior"})


def _words(food: Food) -> str:
    energy = f", {food.kcal_per_kg:,.0f} kcal/kg" if food.kcal_per_kg else ""
    kind = ", raw" if food.raw else ", without meat" if food.meat_free else ""
    return f"{food.name} ({food.form.replace('_', ' ')}{energy}{kind})"
