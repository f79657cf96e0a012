"""What happens at the edges of the rules: nothing given, nothing left, beyond the last row of a table."""

from dataclasses import replace
from datetime import timedelta

import pytest

from nutrition import conditions as condition
from nutrition import growth, label, options, plan, reproduction, weight_loss
from nutrition.foods import Analysis
from nutrition.programme import expected
from nutrition.reasons import Refused
from nutrition.weeks_chart import weeks_chart
from tests.nutrition.builders import FACTORS, FOODS, bowl, codes, grown_dog
from tests.nutrition.test_programme import START, programme

DRY = FOODS["tarrock-adult-dry"]
WATER = Analysis(0, 0, 0, 100, 0)


def test_a_puppy_of_unknown_age_gets_no_rule_that_goes_by_age():
    facts = {"species": "dog", "weight_kg": 6, "expected_adult_kg": 14, "factors": FACTORS}
    assert "growth.dog.rest_steps" not in {e.code for e in growth.estimates(age_months=None, **facts)}
    assert "growth.dog.rest_steps" in {e.code for e in growth.estimates(age_months=4, **facts)}


@pytest.mark.parametrize(("percent", "factor"), [(1, 2.5), (15, 2.5), (100, 1.0), (130, 1.0)])
def test_outside_its_rows_a_table_gives_its_end_rows(percent, factor):
    assert growth.between(FACTORS.table("growth.dog.large"), percent) == pytest.approx(factor)


@pytest.mark.parametrize(
    "asked",
    [
        lambda: label.grams_per_1000_kcal(20, 0),
        lambda: label.grams_a_day(300, 0),
        lambda: label.density(replace(DRY, kcal_per_kg=0), FACTORS),
        lambda: label.density(replace(DRY, kcal_per_kg=None, analysis=None), FACTORS),
        lambda: label.density(replace(DRY, kcal_per_kg=None, analysis=WATER), FACTORS),
    ],
)
def test_a_food_without_energy_is_never_portioned(asked):
    with pytest.raises(Refused) as refused:
        asked()
    assert refused.value.code == "no_energy_density"


def test_an_empty_bowl_is_refused():
    with pytest.raises(Refused) as refused:
        label.mix(300, (), FACTORS)
    assert refused.value.code == "no_food"


@pytest.mark.parametrize(
    ("kcal", "says"), [(409, ", about 1 cup"), (430, ", a little over 1 cup"), (20, ", less than ¼ cup")]
)
def test_a_household_measure_reads_as_people_say_it(kcal, says):
    (portion,) = label.mix(kcal, bowl(DRY.code), FACTORS)
    assert label.in_measures(portion) == says
    assert label.in_measures(replace(portion, units=None, units_say="")) == ""


def test_a_nursing_mothers_need_waits_for_her_litter():
    nursing = grown_dog(conditions=frozenset({condition.NURSING}))
    assert options.energies(nursing, options.Circumstances(weight_before_kg=20, week=2), FACTORS) == ()
    with pytest.raises(Refused) as refused:
        reproduction.bitch_by_rest(20, 0, FACTORS)
    assert refused.value.code == "litter_missing"


@pytest.mark.parametrize("kcal", [0, -5, float("nan")])
def test_an_energy_that_is_none_starts_no_plan(kcal):
    with pytest.raises(Refused) as refused:
        weight_loss.start_by_intake(kcal, FACTORS)
    assert refused.value.code == "energy_not_positive"
    nothing = replace(grown_dog().estimate, energy_kcal=kcal)
    assert codes(grown_dog(estimate=nothing)) == ["energy_not_positive"]


@pytest.mark.parametrize(
    ("food", "asked", "caution"),
    [
        ("thornapple-raw-dog", "raw_who_is_home", "caution.raw"),
        ("oddlestone-urinary-cat-wet", "therapeutic_food", "caution.therapeutic"),
    ],
)
def test_raw_and_therapeutic_food_bring_their_caution(food, asked, caution):
    answered = frozenset({asked, "cat_food_for_dog"})
    made = plan.compose(grown_dog(servings=bowl(food), household=None, answered=answered), FACTORS)
    assert caution in {each.code for each in made.cautions}


def test_scores_stand_under_their_days_where_there_is_room():
    made = programme(weeks=(0, 8, 9, 20))
    scores = [
        (START + timedelta(weeks=week), bcs) for week, bcs in ((0, 8), (8, 7), (9, 7), (19, 6), (20, 5))
    ]
    chart = weeks_chart(
        name="Pomfret", weighed=made.weighed, band=expected(made, FACTORS), target_kg=made.target_kg,
        scores=scores, ideal_kg=(30.8, 35.0),
    )  # fmt: skip
    assert [chart.svg.count(f">{bcs} of 9</text>") for bcs in (8, 7, 6, 5)] == [1, 1, 0, 1]
    assert "Body condition of 9: 8 on 2 March, 7 on 27 April, 7 on 4 May" in chart.alt
    assert "Ideal by the methods: 30.8 to 35.0 kg." in chart.alt
    assert ">ideal 30.8 to 35.0</text>" in chart.svg
    crowded = weeks_chart(
        name="Pomfret", weighed=made.weighed, band=expected(made, FACTORS), target_kg=made.target_kg,
        scores=[(START, 8), (START + timedelta(days=2), 7)],
    )  # fmt: skip
    assert ">7 of 9</text>" not in crowded.svg


def test_the_chart_is_read_in_pounds_by_who_reads_pounds():
    made = programme(weeks=(0, 2))
    chart = weeks_chart(
        name="Pomfret", weighed=made.weighed, band=expected(made, FACTORS), target_kg=33, unit="lb"
    )
    assert "88.2 lb on 2 March" in chart.alt
    assert "The target is 72.8 lb." in chart.alt
    assert " kg" not in chart.svg
