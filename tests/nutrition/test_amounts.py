"""Amounts as they are read: a kitchen scale's steps, meals that add up to the day, kilograms and pounds."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nutrition.amounts import both, each_meal, on_scale, scale_steps, to_kg, weight, weight_number

GRAMS = st.floats(min_value=0.01, max_value=5000)


@pytest.mark.parametrize(
    ("grams", "unit", "says"),
    [
        (144.49, "g", "144 g"),
        (144.5, "g", "145 g"),
        (0.2, "g", "1 g"),
        (0, "g", "0 g"),
        (1234.5, "g", "1,235 g"),
        (145, "oz", "5.1 oz (145 g)"),
        (28.349523125, "oz", "1.0 oz (28 g)"),
        (0.5, "oz", "0.1 oz (1 g)"),
    ],
)
def test_food_is_said_as_a_kitchen_scale_reads_it(grams, unit, says):
    assert on_scale(grams, unit) == says


@pytest.mark.parametrize(
    ("grams", "meals", "unit", "says"),
    [
        (144, 2, "g", "72 g"),
        (145, 2, "g", "72 to 73 g"),
        (145, 2, "oz", "2.5 to 2.6 oz"),
        (3, 4, "g", "0 to 1 g"),
    ],
)
def test_a_meal_is_a_part_of_the_day(grams, meals, unit, says):
    assert each_meal(grams, meals, unit) == says


@given(GRAMS, st.integers(min_value=1, max_value=8), st.sampled_from(["g", "oz"]))
def test_meals_add_up_to_the_day_on_the_scale(grams, meals, unit):
    numbers = [float(each) for each in re.findall(r"[\d.]+", each_meal(grams, meals, unit).replace(",", ""))]
    least, over = divmod(scale_steps(grams, unit), meals)
    step = 1 if unit == "g" else 0.1
    assert numbers[0] == pytest.approx(least * step)
    assert len(numbers) == (2 if over else 1)
    assert least * (meals - over) + (least + 1) * over == scale_steps(grams, unit)


@given(GRAMS)
def test_the_scale_is_never_off_by_more_than_half_a_step_once_there_is_a_step(grams):
    assert abs(scale_steps(grams) - grams) <= 0.5 or grams < 0.5


@pytest.mark.parametrize(
    ("kg", "unit", "says"),
    [
        (27.4, "kg", "27.4 kg"),
        (27.4, "lb", "60.4 lb"),
        (0.32, "kg", "320 g"),
        (0.32, "lb", "11.3 oz"),
        (0.5, "lb", "1.1 lb"),
    ],
)
def test_a_weight_in_the_unit_of_whoever_reads_it(kg, unit, says):
    assert weight(kg, unit) == says


def test_both_units_the_readers_own_first():
    assert both(33.3) == "33.3 kg (73.4 lb)"
    assert both(33.3, "lb") == "73.4 lb (33.3 kg)"


@given(st.floats(min_value=0.1, max_value=260))
def test_pounds_typed_are_read_as_pounds_again(pounds):
    assert float(weight_number(to_kg(pounds, "lb"), "lb")) == pytest.approx(pounds, abs=0.051)
