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
from tests.nutrition.builders import FACTORS, FOODS, bowl, codes, grown_dog, heavy_dog
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


@pytest.mark.parametrize("shares", [(50, 20), (150, -50)])
def test_shares_that_are_no_whole_are_refused(shares):
    servings = tuple(label.Serving(DRY, share) for share in shares)
    with pytest.raises(Refused) as refused:
        label.mix(300, servings, FACTORS)
    assert refused.value.code == "shares_not_whole"


@pytest.mark.parametrize("target", [None, 0, -3])
def test_no_loss_without_a_weight_and_a_target(target):
    with pytest.raises(Refused) as refused:
        weight_loss.require_target(20, target)
    assert refused.value.code == "target_missing"
    with pytest.raises(Refused) as refused:
        weight_loss.require_target(None, 18)
    assert refused.value.code == "weight_missing"


def test_a_queen_is_offered_her_own_rule_alone():
    queen = grown_dog(species="cat", weight_kg=3.5, conditions=frozenset({condition.NURSING}))
    around = options.Circumstances(weight_before_kg=3.4, week=3, young=4)
    assert [each.code for each in options.energies(queen, around, FACTORS)] == ["lactation.cat"]


def young(months, **facts):
    kitten = {"species": "cat", "weight_kg": 0.35, "stage": "growth", "age_months": months}
    return grown_dog(**kitten | facts)


@pytest.mark.parametrize(
    ("months", "adult_kg", "first", "milk"),
    [
        (0, None, "growth.unweaned", True),
        (0, 4, "growth.unweaned", True),
        (1, 4, "growth.cat.nrc", True),
        (1, None, "", False),
        (2, 4, "growth.cat.nrc", False),
        (None, 4, "growth.cat.nrc", False),
    ],
)
def test_milk_alone_then_beside_then_no_more(months, adult_kg, first, milk):
    found = options.energies(young(months, expected_adult_kg=adult_kg), options.Circumstances(), FACTORS)
    codes_of = [each.code for each in found]
    assert (codes_of[0] if codes_of else "") == first
    assert ("growth.unweaned" in codes_of) is milk


def test_each_plan_says_which_state_it_is_for():
    own = plan.own_number(900)
    milk = growth.unweaned(0.35, FACTORS)
    kept = plan.keep_feeding(grown_dog(), "", FACTORS)
    ill = plan.keep_feeding(grown_dog(conditions=frozenset({condition.KIDNEY_DISEASE})), "", FACTORS)
    bowls = bowl("nettlebrook-nursing-milk")
    made = [
        plan.compose(grown_dog(), FACTORS),
        plan.compose(grown_dog(estimate=own, reason="as before"), FACTORS),
        plan.compose(heavy_dog(), FACTORS),
        plan.compose(young(0, estimate=milk, servings=bowls, change_days=7), FACTORS),
        kept,
        ill,
    ]
    assert [plan.state_of(each) for each in made] == ["adult", "own", "loss", "unweaned", "keep", "refused"]
    assert ill.because == ("kidney disease",)
    assert made[3].weigh_in.days == 1
    assert (made[3].change, made[3].water_low_ml) == ((), None)
    for each in made:
        assert FACTORS.sentence(f"state.{plan.state_of(each)}").says


@pytest.mark.parametrize(("days", "said"), [(None, True), (7, True), (0, False)])
def test_a_change_of_food_is_spoken_of_where_there_may_be_one(days, said):
    made = plan.compose(grown_dog(change_days=days), FACTORS)
    assert ("caution.change" in {each.code for each in made.cautions}) is said


def test_a_plan_with_a_question_left_is_refused_with_the_question():
    with pytest.raises(plan.PlanRefused) as refused:
        plan.compose(grown_dog(muscle="mild"), FACTORS)
    assert (refused.value.code, len(refused.value.items)) == ("muscle_asked", 1)
    answered = frozenset({"muscle_asked", "thin_asked"})
    made = plan.compose(grown_dog(muscle="mild", bcs=3, answered=answered), FACTORS)
    assert {"caution.muscle", "caution.thin"} <= {each.code for each in made.cautions}


@pytest.mark.parametrize("kg", [0, -1, float("inf")])
def test_a_weight_that_is_none_gets_no_sum(kg):
    with pytest.raises(Refused) as refused:
        growth.unweaned(kg, FACTORS)
    assert refused.value.code == "weight_not_positive"
