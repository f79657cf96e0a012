"""Growth from weigh-in to weigh-in: shares of the grown weight, gains, and what is said."""

from datetime import date, timedelta

import pytest

from nutrition.growing import growing, grown_weight
from nutrition.reasons import Refused
from tests.nutrition.builders import FACTORS

DAY = date(2026, 3, 2)


def grows(*kgs, species="dog", grown=40.0, every=14):
    weighed = [(DAY + timedelta(days=number * every), kg) for number, kg in enumerate(kgs)]
    return growing(species, weighed, grown, FACTORS)


def said(found):
    return [each.code.removeprefix("growing.") for each in found.says]


def test_the_share_of_the_grown_weight_and_the_weekly_gain():
    found = grows(10, 12, 14.6)
    assert [row.percent for row in found.weighed] == pytest.approx([25, 30, 36.5])
    assert found.gain_kg_a_week == pytest.approx(1.3)
    assert found.gain_percent == pytest.approx(1.3 / 12 * 100)


@pytest.mark.parametrize(
    ("kgs", "grown", "codes"),
    [
        ((), 40.0, ["first", "large", "no_centiles"]),
        ((10,), 12.0, ["first", "no_centiles"]),
        ((10, 11), 40.0, ["steady", "large", "no_centiles"]),
        ((10, 10), 40.0, ["standstill", "large", "no_centiles"]),
        ((10, 9.5), None, ["standstill", "no_centiles"]),
        ((38, 40.2), 40.0, ["grown", "no_centiles"]),
    ],
)
def test_what_is_said(kgs, grown, codes):
    assert said(grows(*kgs, grown=grown)) == codes


def test_a_large_puppy_is_reviewed_every_two_weeks_and_nothing_without_a_weight():
    assert grows(10, 12).review_on == DAY + timedelta(days=28)
    assert grows().review_on is None


def test_two_weights_of_near_days_tell_no_gain_and_several_of_a_day_are_one():
    assert grows(10, 10.2, every=2).gain_kg_a_week is None
    same_day = growing("cat", [(DAY, 1.0), (DAY, 1.2)], 4.0, FACTORS)
    assert [row.kg for row in same_day.weighed] == [1.1]
    assert same_day.weighed[0].percent == pytest.approx(27.5)


def test_a_cat_is_never_a_large_puppy():
    assert not grows(3, 4, species="cat", grown=30.0).is_large


@pytest.mark.parametrize(
    ("how", "first", "second", "expected"),
    [("asked", 30, None, (30, 30, 30, False)), ("parents", 34, 28, (31, 28, 34, True)),
     ("breed", 25, 32, (28.5, 25, 32, True))],
)  # fmt: skip
def test_a_grown_weight_is_asked_or_estimated_and_says_which(how, first, second, expected):
    found = grown_weight(how, first, second)
    assert (found.kg, found.low_kg, found.high_kg, found.is_estimate) == expected


@pytest.mark.parametrize(
    ("how", "first", "second"),
    [("asked", None, None), ("parents", 30, None), ("breed", 30, -1), ("asked", 0, None)],
)
def test_half_an_estimate_is_refused(how, first, second):
    with pytest.raises(Refused, match="expected adult weight"):
        grown_weight(how, first, second)
