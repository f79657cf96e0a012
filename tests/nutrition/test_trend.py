"""The pace through weigh-ins: against numpy on clean series, and its band on noisy ones, counted."""

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nutrition.trend import by_day, pace

DAYS = (0, 14, 28, 42, 56)
days = st.lists(st.integers(0, 200), min_size=2, max_size=12, unique=True)


def through(points, percent=4.0):
    return pace(points, doubtful_percent=percent)


@given(days, st.floats(-0.5, 0.5), st.floats(3, 60))
def test_on_a_straight_line_it_is_numpys_slope(on, a_week, kg):
    points = [(day, kg + a_week * day / 7) for day in on]
    found = through(points)
    slope, level = np.polyfit([day for day, _ in points], [kg for _, kg in points], 1)
    assert found.kg_a_week == pytest.approx(slope * 7, abs=1e-6)
    assert found.kg == pytest.approx(level + slope * max(on), abs=1e-5)


@given(days, st.floats(-0.5, 0.5), st.floats(1.5, 4))
def test_units_do_not_change_it(on, a_week, times):
    points = [(day, 30 + a_week * day / 7 + (day % 3) / 10) for day in on]
    small, big = through(points), through([(day, kg * times) for day, kg in points])
    assert big.kg_a_week == pytest.approx(small.kg_a_week * times, abs=1e-9)


@pytest.mark.parametrize("points", [[], [(3, 20.0)], [(3, 20.0), (3, 20.4)]])
def test_one_day_has_no_pace(points):
    assert through(points) is None


def test_several_weights_of_a_day_are_one():
    assert by_day([(7, 20.0), (0, 21.0), (7, 20.4), (7, 29.0)]) == [(0, 21.0), (7, 20.4)]


@pytest.mark.parametrize(("count", "has_band"), [(2, False), (3, False), (4, True), (5, True)])
def test_a_band_needs_four_days(count, has_band):
    found = through([(day, 30 - day / 100) for day in DAYS[:count]])
    assert (found.low is not None, found.high is not None) == (has_band, has_band)


def test_one_wrong_weight_moves_a_mean_and_not_this():
    true = [(day, 40 - 0.4 * day / 7) for day in (0, 14, 28, 42, 56, 70)]
    wrong = [*true[:-1], (70, 63.0)]  # typed without its decimal point, or another dog
    found = through(wrong)
    assert found.kg_a_week == pytest.approx(-0.4, abs=0.02)
    assert found.doubtful == (70,)
    assert np.polyfit(*zip(*wrong, strict=True), 1)[0] * 7 > 0  # least squares says that it gains


def test_a_weight_that_fits_is_not_doubtful_and_three_prove_nothing():
    assert through([(0, 40), (14, 39.1), (28, 38.5), (42, 37.6)]).doubtful == ()
    assert through([(0, 40), (14, 39.2), (28, 60)]).doubtful == ()


def series(chance, on, a_week, spread, wrong):
    points = [(day, 40 + a_week * day / 7 + chance.gauss(0, spread)) for day in on]
    if wrong:
        at = chance.randrange(len(points))
        points[at] = (points[at][0], points[at][1] * 1.15)
    return points


def covered(count, wrong, runs, seed):
    """How often the stated band held the true slope, on series with noise and gaps."""
    chance, held = random.Random(seed), 0
    for _ in range(runs):
        on = sorted(chance.sample(range(85), count))
        found = through(series(chance, on, -0.4, 0.15, wrong))
        held += found.low <= -0.4 <= found.high
    return held / runs


@pytest.mark.parametrize("count", [4, 5, 6, 8, 12])
def test_the_band_holds_as_often_as_it_says(count, long_run):
    runs = 20_000 if long_run else 2_000
    assert covered(count, wrong=False, runs=runs, seed=count) >= 0.90 - 0.02


@pytest.mark.parametrize("count", [6, 8, 12])
def test_with_one_wrong_weight_of_fifteen_percent_it_holds_nearly_as_often(count, long_run):
    runs = 20_000 if long_run else 2_000
    assert covered(count, wrong=True, runs=runs, seed=count) >= 0.85
