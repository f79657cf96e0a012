"""The rules refuse what they must not answer, with a named code."""

import pytest

from nutrition import conditions, energy, growth, ideal_weight, label, plan, reproduction, weight_loss
from nutrition.foods import Analysis
from nutrition.reasons import Refused
from tests.nutrition.builders import FACTORS


@pytest.mark.parametrize(
    ("ask", "code"),
    [
        (lambda: energy.resting_kcal(0, FACTORS), "weight_not_positive"),
        (lambda: energy.resting_kcal(float("inf"), FACTORS), "weight_not_positive"),
        (lambda: growth.nrc("dog", 31, 30, FACTORS), "heavier_than_adult"),
        (lambda: growth.large_puppy(31, 30, FACTORS), "heavier_than_adult"),
        (lambda: growth.fediaf_steps("cat", 5, 4, FACTORS), "heavier_than_adult"),
        (lambda: growth.nrc("cat", 2, None, FACTORS), "adult_weight_missing"),
        (lambda: growth.rest_steps("dog", 3, FACTORS), "age_missing"),
        (lambda: reproduction.gestation("dog", 20, 10, FACTORS), "week_out_of_range"),
        (lambda: reproduction.lactation("dog", 20, 4, 5, FACTORS), "week_out_of_range"),
        (lambda: reproduction.lactation("cat", 4, 4, 8, FACTORS), "week_out_of_range"),
        (lambda: reproduction.lactation("cat", 4, 0, 1, FACTORS), "litter_missing"),
        (lambda: weight_loss.require_target(20, 20), "target_not_below"),
        (lambda: weight_loss.start_by_deficit(1000, 20, 2.01, FACTORS), "loss_too_fast"),
        (lambda: weight_loss.start_by_deficit(100, 40, 2, FACTORS), "energy_not_positive"),
        (lambda: weight_loss.weeks_to_target(20, 18, 3, FACTORS), "loss_too_fast"),
        (lambda: label.proximate(Analysis(60, 20, 10, 10, 5), "dry", FACTORS), "nfe_negative"),
        (lambda: label.proximate(Analysis(-1, 20, 10, 10, 5), "dry", FACTORS), "analysis_impossible"),
        (lambda: label.dry_matter_percent(100), "analysis_impossible"),
        (lambda: label.grams_a_day(100, 0), "no_energy_density"),
        (lambda: plan.own_number(0), "energy_not_positive"),
    ],
)
def test_refused_with_a_named_reason(ask, code: str) -> None:
    with pytest.raises(Refused) as refused:
        ask()
    assert refused.value.code == code
    assert str(refused.value) == refused.value.sentence


def test_a_label_whose_assumed_ash_makes_it_overflow_is_refused() -> None:
    with pytest.raises(Refused, match="more than 100"):
        label.proximate(Analysis(60, 20, 6, 10), "dry", FACTORS)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ({"bcs": 5}, "no_sum_at_ideal"),
        ({"bcs": 3}, "no_sum_at_ideal"),
        ({"bcs": 10}, "bcs_out_of_range"),
        ({"bcs": 7, "growing": True}, "no_sum_in_growth"),
        ({"bcs": 7, "conditions": {conditions.PREGNANT}}, "no_sum_in_pregnancy"),
        ({"bcs": 7, "conditions": {conditions.NURSING}}, "no_sum_in_nursing"),
    ],
)
def test_no_ideal_weight_by_a_sum(words, code: str) -> None:
    with pytest.raises(Refused) as refused:
        ideal_weight.methods(weight_kg=10, factors=FACTORS, **words)
    assert refused.value.code == code


def test_more_than_eight_puppies_are_said_to_need_more() -> None:
    ten, eight = (reproduction.lactation("dog", 30, n, 3, FACTORS) for n in (10, 8))
    assert ten.energy_kcal == eight.energy_kcal
    assert "larger litter needs more" in ten.lines[1].note
    assert eight.lines[1].note == ""


def test_the_first_four_weeks_of_gestation_are_as_maintenance() -> None:
    assert reproduction.gestation("dog", 20, 4, FACTORS).energy_kcal == pytest.approx(130 * 20**0.75)
