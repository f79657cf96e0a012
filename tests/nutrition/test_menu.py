"""The catalogue grouped by whom a food suits."""

from dataclasses import replace

import pytest

from nutrition import conditions as condition
from nutrition.menu import food_groups
from tests.nutrition.builders import FOODS, grown_dog, heavy_cat


def title_of(code: str, inputs) -> str:
    return next(
        group.title
        for group in food_groups(FOODS.values(), inputs)
        if code in {food.code for food in group.foods}
    )


@pytest.mark.parametrize(
    ("code", "inputs", "title"),
    [
        ("tarrock-adult-dry", grown_dog(), "For this animal as it is"),
        ("tarrock-young-dry", grown_dog(), "For another age or state"),
        ("tarrock-young-dry", grown_dog(stage="growth"), "For this animal as it is"),
        (
            "tarrock-adult-dry",
            grown_dog(conditions=frozenset({condition.NURSING})),
            "For another age or state",
        ),
        ("mirrelwick-adult-dry", grown_dog(), "For another species"),
        ("mirrelwick-slim-dry", heavy_cat(), "Made for losing weight"),
        ("oddlestone-urinary-cat-wet", heavy_cat(), "Therapeutic, for one illness"),
        ("bramblefold-chew", grown_dog(), "Beside a complete food"),
    ],
)
def test_every_food_stands_in_the_group_that_fits(code, inputs, title):
    assert title_of(code, inputs) == title


def test_a_food_says_its_form_energy_and_what_is_asked_about():
    food = replace(FOODS["thornapple-raw-dog"], kcal_per_kg=None)
    (group,) = food_groups([food, FOODS["hedgerow-plant-dry"]], grown_dog())
    words = [each.words for each in group.foods]
    assert words[0] == "Hedgerow plant bowl dry (dry, 3,480 kcal/kg, without meat)"
    assert words[1].endswith(", raw)")
    assert "kcal" not in words[1]
