"""The clinic's foods, and the labels kept of each, as plain values."""

from dataclasses import dataclass

from django.utils import timezone

from nutrition.foods import Food
from nutrition.forms import MARKS
from nutrition.models import FoodVersion
from nutrition.queries import catalogue


@dataclass(frozen=True)
class FoodShown:
    """One food of the catalogue's list."""

    code: str
    name: str
    words: str
    species: str
    kcal: str
    measure: str


def food_rows() -> tuple[FoodShown, ...]:
    """The clinic's foods by name. One query."""
    return tuple(_food_shown(food) for food in sorted(catalogue().values(), key=lambda food: food.name))


@dataclass(frozen=True)
class VersionShown:
    number: int
    kcal: str
    when: str
    by: str


def food_versions(code: str) -> tuple[VersionShown, ...]:
    """The labels that were kept of a food, the newest first. One query."""
    rows = FoodVersion.objects.filter(food__code=code).select_related("by")
    return tuple(
        VersionShown(
            number=row.number,
            kcal=f"{row.body['kcal_per_kg']:,.0f} kcal/kg"
            if row.body["kcal_per_kg"]
            else "energy not stated",
            when=f"{timezone.localtime(row.at):%-d %B %Y, %H:%M}",
            by=row.by.full_name,
        )
        for row in rows
    )


def _food_shown(food: Food) -> FoodShown:
    stages = ", ".join(sorted(stage.replace("_", " ") for stage in food.life_stages))
    marks = [food.form.replace("_", " "), *(says for name, says in MARKS.items() if getattr(food, name))]
    if food.completeness == "complementary":
        marks.append("complementary")
    return FoodShown(
        code=food.code,
        name=food.name,
        words=f"{', '.join(marks)}; {stages}" if stages else ", ".join(marks),
        species=" and ".join(f"{each}s" for each in sorted(food.species)),
        kcal=f"{food.kcal_per_kg:,.0f}" if food.kcal_per_kg else "not stated",
        measure=f"{food.kcal_per_unit:g} a {food.unit}" if food.unit and food.kcal_per_unit else "",
    )
