"""A plan is whole: amounts add up, cautions stand in it, and it can be kept and read back."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nutrition import conditions as condition
from nutrition import energy, growth, plan, reproduction
from nutrition.label import Serving
from tests.nutrition.builders import FACTORS, FOODS, bowl, grown_dog, heavy_cat, heavy_dog, serving_of


def cautions(made: plan.FeedingPlan) -> set[str]:
    return {sentence.code.removeprefix("caution.") for sentence in made.cautions}


@given(st.floats(2, 80), st.floats(0, 0.1), st.floats(0, 100))
def test_food_and_treats_make_the_days_energy(kg: float, treats: float, share: float) -> None:
    estimate = energy.need(kg, FACTORS.need("dog.inactive"), FACTORS)
    servings = (
        Serving(FOODS["tarrock-adult-dry"], share),
        Serving(FOODS["tarrock-greymuzzle-dry"], 100 - share),
    )
    made = plan.compose(
        grown_dog(
            weight_kg=kg, estimate=estimate, servings=servings, treats_kcal=treats * estimate.energy_kcal
        ),
        FACTORS,
    )
    total = made.treats_kcal + sum(portion.energy_kcal for portion in made.portions)
    assert total == pytest.approx(made.energy_kcal)
    for portion, serving in zip(made.portions, servings, strict=True):
        assert portion.grams * serving.food.kcal_per_kg / 1000 == pytest.approx(portion.energy_kcal)
        assert portion.units * serving.food.kcal_per_unit == pytest.approx(portion.energy_kcal)


def test_shares_are_of_energy_not_of_weight() -> None:
    made = plan.compose(heavy_dog(servings=bowl("tarrock-light-dry", "tarrock-light-wet")), FACTORS)
    dry, wet = made.portions
    assert dry.energy_kcal == pytest.approx(wet.energy_kcal)
    assert wet.grams == pytest.approx(dry.grams * 3510 / 820)


@pytest.mark.parametrize("inputs", [grown_dog(), heavy_dog(), heavy_cat()])
def test_every_plan_says_what_it_is(inputs) -> None:
    made = plan.compose(inputs, FACTORS)
    assert {"estimate", "clinician", "water"} <= cautions(made)
    assert made.weigh_in.days > 0
    assert made.factors_sha256 == FACTORS.sha256
    assert made.spread_low_kcal == pytest.approx(made.low_kcal / 2)
    assert made.spread_high_kcal == pytest.approx(made.high_kcal * 1.5)


@pytest.mark.parametrize("inputs", [grown_dog(treats_kcal=50), heavy_dog(), heavy_cat()])
def test_the_sum_is_told_line_by_line_with_its_source(inputs) -> None:
    made = plan.compose(inputs, FACTORS)
    assert made.lines[: len(inputs.estimate.lines)] == inputs.estimate.lines
    assert [step.what for step in made.lines[-3:-1]] == ["Treats, inside the day", "Left for food"]
    assert made.lines[-1].value == pytest.approx(made.portions[-1].grams)
    for step in made.lines:
        assert step.source or step.certainty in {"practice", "clinic"}


def test_a_cat_losing_weight_is_never_fasted() -> None:
    made = plan.compose(heavy_cat(), FACTORS)
    assert {"cat_never_fast", "loss_food", "loss_adjust"} <= cautions(made)
    assert (made.weigh_in.days, made.weigh_in.then_days) == (14, 28)
    assert made.weeks_fewest == pytest.approx(1.4 / 0.059)
    assert made.weeks_most == pytest.approx(2 * made.weeks_fewest)


def test_the_expected_loss_is_told_where_the_need_is_known() -> None:
    made = plan.compose(heavy_dog(), FACTORS)
    deficit = 95 * 40**0.75 - 70 * 33.3**0.75
    assert made.expected_percent_a_week == pytest.approx(deficit * 7 / 7920 / 40 * 100)
    assert plan.compose(heavy_dog(maintenance_kcal=None), FACTORS).expected_percent_a_week is None


def test_at_nine_the_excess_is_open_ended() -> None:
    assert "open_ended" in cautions(plan.compose(heavy_dog(bcs=9), FACTORS))
    assert "open_ended" not in cautions(plan.compose(heavy_dog(), FACTORS))


def test_muscle_loss_is_said() -> None:
    assert "muscle" in cautions(
        plan.compose(heavy_dog(muscle="moderate", answered=frozenset({"muscle_asked"})), FACTORS)
    )
    assert "muscle" not in cautions(plan.compose(heavy_dog(muscle="normal"), FACTORS))


def young(species, kg: float, adult_kg: float, age: float, food: str):
    return grown_dog(
        species=species,
        weight_kg=kg,
        stage="growth",
        age_months=age,
        expected_adult_kg=adult_kg,
        estimate=growth.nrc(species, kg, adult_kg, FACTORS),
        servings=bowl(food),
    )


def test_a_large_puppy_is_kept_lean_and_seen_every_two_weeks() -> None:
    made = plan.compose(young("dog", 12, 40, 4, "tarrock-longshanks-dry"), FACTORS)
    assert {"large_puppy", "growth_score"} <= cautions(made)
    assert made.weigh_in.days == 14
    assert made.meals.count == 3


def test_a_small_puppy_has_no_large_puppys_caution() -> None:
    assert "large_puppy" not in cautions(plan.compose(young("dog", 3, 8, 4, "tarrock-young-dry"), FACTORS))


@pytest.mark.parametrize(("age", "count"), [(3, 4), (5.9, 4), (6, 2), (9, 2)])
def test_a_kitten_eats_twice_a_day_from_six_months(age: float, count: int) -> None:
    made = plan.compose(young("cat", 2, 4, age, "mirrelwick-kitten-dry"), FACTORS)
    assert made.meals.count == count
    assert made.grams_a_meal(made.portions[0]) == pytest.approx(made.portions[0].grams / count)


@pytest.mark.parametrize(
    ("estimate", "code", "free"),
    [
        (reproduction.gestation("dog", 20, 3, FACTORS), condition.PREGNANT, False),
        (reproduction.gestation("dog", 20, 7, FACTORS), condition.PREGNANT, True),
        (reproduction.lactation("dog", 20, 5, 2, FACTORS), condition.NURSING, True),
    ],
)
def test_food_stands_free_late_in_gestation_and_while_nursing(estimate, code: str, free: bool) -> None:
    made = plan.compose(
        grown_dog(estimate=estimate, conditions=frozenset({code}), servings=bowl("tarrock-young-dry")),
        FACTORS,
    )
    assert (made.meals.count is None) == free
    assert ("free_choice" in cautions(made)) == free
    assert made.weigh_in.days == 7


def test_a_refused_plan_tells_all_that_stands() -> None:
    with pytest.raises(plan.PlanRefused) as refused:
        plan.compose(grown_dog(weight_kg=None, treats_kcal=900), FACTORS)
    assert {"weight_missing", "treats_above_tenth"} == {item.code for item in refused.value.items}
    assert refused.value.code == refused.value.items[0].code


def test_what_was_lifted_stands_in_the_plan_with_its_reason() -> None:
    made = plan.compose(
        grown_dog(
            estimate=plan.own_number(700),
            conditions=frozenset({condition.KIDNEY_DISEASE}),
            reason=" as agreed with the internist ",
        ),
        FACTORS,
    )
    assert [(lifted.code, "kidney disease" in lifted.sentence) for lifted in made.lifted] == [
        ("no_formula", True)
    ]
    assert plan.FeedingPlan.from_json(made.to_json()) == made
    assert made.reason == "as agreed with the internist"
    assert made.basis == "own"


def test_energy_reckoned_from_a_label_without_ash_says_so() -> None:
    unstated = serving_of(FOODS["bramblefold-chew"], kcal_per_kg=None, completeness="complete")
    made = plan.compose(grown_dog(servings=unstated), FACTORS)
    assert "5 % assumed" in made.portions[0].line.note
    assert made.portions[0].line.source == "AAFCO Model Regulation PF9"


def test_keep_feeding_as_now_has_no_sum_and_no_food() -> None:
    sick = grown_dog(conditions=frozenset({condition.INSULIN_DIABETES}), reported_intake_kcal=800)
    made = plan.keep_feeding(sick, "Tarrock adult dry, 215 g", FACTORS)
    assert (made.kind, made.energy_kcal, made.portions) == ("keep", None, ())
    assert made.diet_as_told == "Tarrock adult dry, 215 g"
    assert {"keep", "keep_call", "insulin"} <= cautions(made)


@pytest.mark.parametrize("code", [condition.NOT_EATING, condition.STARVATION])
def test_an_animal_that_does_not_eat_is_not_told_to_go_on_so(code: str) -> None:
    made = plan.keep_feeding(heavy_cat(aim="keep", conditions=frozenset({code})), "hardly anything", FACTORS)
    assert "keep" not in cautions(made)
    assert "keep_not_eating" in cautions(made)


def test_keeping_needs_no_weight() -> None:
    assert plan.keep_feeding(grown_dog(weight_kg=None), "as told", FACTORS).weight_kg is None


@pytest.mark.parametrize(
    "made",
    [
        plan.compose(grown_dog(treats_kcal=40), FACTORS),
        plan.compose(heavy_cat(), FACTORS),
        plan.keep_feeding(grown_dog(reported_intake_kcal=500), "bread", FACTORS),
    ],
)
def test_a_plan_read_back_is_the_same_plan(made: plan.FeedingPlan) -> None:
    assert plan.FeedingPlan.from_json(made.to_json()) == made


def test_water_is_told_by_weight() -> None:
    made = plan.compose(grown_dog(), FACTORS)
    assert (made.water_low_ml, made.water_high_ml) == pytest.approx((880, 1320))


def test_the_same_choices_make_the_same_plan() -> None:
    assert plan.compose(heavy_dog(), FACTORS) == plan.compose(replace(heavy_dog()), FACTORS)
