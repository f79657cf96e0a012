"""The invented catalogue is whole and believable, and a broken one is refused."""

import pytest

from nutrition import label
from nutrition.foods import FoodError, food_from, read
from tests.nutrition.builders import FACTORS, FOODS


@pytest.mark.parametrize("food", FOODS.values(), ids=lambda food: food.code)
def test_a_demo_food_states_energy_near_what_its_analysis_gives(food) -> None:
    parts = label.proximate(food.analysis, food.form, FACTORS)
    assert label.atwater_kcal_per_kg(parts, FACTORS) == pytest.approx(food.kcal_per_kg, rel=0.12)
    assert food.unit
    assert food.kcal_per_unit > 0
    assert food.species


def test_the_catalogue_has_one_of_each_kind_a_page_must_show() -> None:
    foods = FOODS.values()
    for species in ("dog", "cat"):
        own = [food for food in foods if species in food.species]
        assert {"dry", "canned"} <= {food.form for food in own}
        assert any("growth" in food.life_stages for food in own)
        assert any("senior" in food.life_stages for food in own)
        assert any(food.weight_control for food in own)
        assert any(food.therapeutic for food in own)
        assert any(food.completeness == "complementary" for food in own)
    assert any("large_breed_growth" in food.life_stages for food in foods)
    assert any(food.raw for food in foods)
    assert any(food.meat_free for food in foods)
    assert any(food.treat for food in foods)


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ({"code": "x", "species": ["rabbit"]}, "rabbit"),
        ({"code": "x", "species": ["dog"], "form": "powder"}, "powder"),
        ({"code": "x", "colour": "red"}, "unknown field colour"),
        ({"code": "x", "species": ["dog"], "life_stages": ["adult"], "form": "dry"}, "name"),
    ],
)
def test_a_row_that_is_no_food_is_refused(row, says: str) -> None:
    with pytest.raises(FoodError, match=says):
        food_from(row)


def test_a_code_that_stands_twice_is_refused(tmp_path) -> None:
    one = '[[food]]\ncode="x"\nname="X"\nspecies=["dog"]\nform="dry"\nlife_stages=["adult"]\n'
    (tmp_path / "foods.toml").write_text(one * 2)
    with pytest.raises(FoodError, match="twice"):
        read(tmp_path / "foods.toml")


def test_the_labels_statement_goes_before_the_sum() -> None:
    food = FOODS["tarrock-adult-dry"]
    found = label.density(food, FACTORS)
    assert (found.kcal_per_kg, found.stated) == (3720, True)


def test_protein_per_1000_kcal() -> None:
    assert label.grams_per_1000_kcal(25, 4000) == pytest.approx(62.5)
