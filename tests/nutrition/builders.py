"""The same few animals and foods in all nutrition tests."""

from dataclasses import replace
from pathlib import Path
from typing import Any

from nutrition import energy, weight_loss
from nutrition.factors import load
from nutrition.foods import Food, read
from nutrition.label import Serving
from nutrition.refusals import Inputs, check, open_items

FACTORS = load()
FOODS = {food.code: food for food in read(Path(__file__).parents[2] / "fixtures" / "foods.toml")}


def bowl(*codes: str) -> tuple[Serving, ...]:
    return tuple(Serving(FOODS[code], 100 / len(codes)) for code in codes)


def serving_of(food: Food, **changes: Any) -> tuple[Serving, ...]:
    return (Serving(replace(food, **changes), 100),)


def grown_dog(**changes: Any) -> Inputs:
    """A 20 kg neutered dog at 5 of 9, to keep its weight; nothing stands against its plan."""
    plain = Inputs(
        species="dog",
        weight_kg=20,
        bcs=5,
        muscle="normal",
        estimate=energy.need(20, FACTORS.need("dog.inactive"), FACTORS),
        servings=bowl("tarrock-adult-dry"),
        household=frozenset(),
    )
    return replace(plain, **changes)


def heavy_dog(**changes: Any) -> Inputs:
    """A 40 kg dog at 7 of 9 on its way to 33.3 kg by the published start."""
    plain = Inputs(
        species="dog",
        weight_kg=40,
        bcs=7,
        aim="lose",
        target_weight_kg=33.3,
        estimate=weight_loss.start_by_rest("dog", 33.3, FACTORS),
        maintenance_kcal=energy.need(40, FACTORS.need("dog.inactive"), FACTORS).energy_kcal,
        servings=bowl("tarrock-light-dry"),
        household=frozenset(),
    )
    return replace(plain, **changes)


def heavy_cat(**changes: Any) -> Inputs:
    """A 5.9 kg cat at 8 of 9 on its way to 4.5 kg by the published start."""
    plain = Inputs(
        species="cat",
        weight_kg=5.9,
        bcs=8,
        aim="lose",
        target_weight_kg=4.5,
        estimate=weight_loss.start_by_rest("cat", 4.5, FACTORS),
        servings=bowl("mirrelwick-slim-dry"),
        household=frozenset(),
    )
    return replace(plain, **changes)


def codes(inputs: Inputs) -> list[str]:
    return [item.code for item in check(inputs, FACTORS)]


def standing(inputs: Inputs) -> list[str]:
    return [item.code for item in open_items(check(inputs, FACTORS), inputs)]
