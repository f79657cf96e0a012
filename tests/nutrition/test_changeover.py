"""A change of food: by days and shares, from a quarter of the new one to all of it."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nutrition.change_table import change_rows
from nutrition.changeover import change_over
from nutrition.plan import FeedingPlan, compose
from nutrition.reasons import Refused
from tests.nutrition.builders import FACTORS, bowl, codes, grown_dog


def test_a_week_goes_by_quarters():
    steps = [
        (step.first_day, step.last_day, step.old_percent, step.new_percent)
        for step in change_over(7, FACTORS)
    ]
    assert steps == [(1, 2, 75, 25), (3, 4, 50, 50), (5, 6, 25, 75), (7, 7, 0, 100)]


@given(st.integers(min_value=3, max_value=60))
def test_every_day_has_one_share_which_rises_to_all_of_it(days):
    steps = change_over(days, FACTORS)
    assert [day for step in steps for day in range(step.first_day, step.last_day + 1)] == list(
        range(1, days + 1)
    )
    shares = [step.new_percent for step in steps]
    assert shares == sorted(set(shares))
    assert (shares[0], shares[-1]) == (25, 100)
    assert all(step.old_percent + step.new_percent == 100 for step in steps)


def test_no_days_are_no_change():
    assert change_over(0, FACTORS) == ()


@pytest.mark.parametrize("days", [-1, 1, 2])
def test_faster_than_published_is_refused_with_its_source(days):
    with pytest.raises(Refused) as refused:
        change_over(days, FACTORS)
    assert "takes 3 days at the least" in refused.value.sentence
    assert refused.value.source == "SACN5 p. 279"
    assert codes(grown_dog(change_days=days)) == ["change_too_quick"]


def test_the_table_says_days_the_old_share_and_the_new_grams():
    plan = compose(grown_dog(change_days=7), FACTORS)
    grams = plan.portions[0].grams
    assert change_rows(plan) == (
        ("1 and 2", "three quarters", f"a quarter, {grams / 4:.0f} g a day"),
        ("3 and 4", "half", f"half, {grams / 2:.0f} g a day"),
        ("5 and 6", "a quarter", f"three quarters, {grams * 0.75:.0f} g a day"),
        ("from 7 on", "none", f"all of it, {grams:.0f} g a day"),
    )
    mixed = compose(
        grown_dog(change_days=3, servings=bowl("tarrock-adult-dry", "tarrock-light-dry")), FACTORS
    )
    assert [row[0] for row in change_rows(mixed, "oz")] == ["1", "2", "from 3 on"]
    assert change_rows(mixed, "oz")[0][2].count(" oz (") == 2
    longer = compose(grown_dog(change_days=10), FACTORS)
    assert [row[0] for row in change_rows(longer)] == ["1 to 3", "4 to 6", "7 to 9", "from 10 on"]


def test_a_plan_of_an_earlier_release_has_no_table():
    plan = compose(grown_dog(change_days=7), FACTORS)
    assert FeedingPlan.from_json(plan.to_json()) == plan
    old = replace(plan, change=()).to_json().replace('"change": [], ', "").replace('"because": [], ', "")
    assert '"change"' not in old
    assert FeedingPlan.from_json(old).change == ()
