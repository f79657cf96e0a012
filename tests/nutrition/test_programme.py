"""A programme from its weigh-ins: its state, what follows, and the days of the target."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nutrition.energy import floor_kcal
from nutrition.programme import Programme, course, expected, expected_on
from tests.nutrition.builders import FACTORS

START = date(2026, 3, 2)


def programme(a_week_percent: float = 1.3, *, weeks=(0, 2, 4, 6), species="dog", **changes) -> Programme:
    """A 40 kg dog (6 kg cat) on its way to 33 kg (4.6 kg)."""
    kg, target, kcal = (40.0, 33.0, 960.0) if species == "dog" else (6.0, 4.6, 185.0)
    weighed = tuple(
        (START + timedelta(weeks=week), round(kg * (1 - a_week_percent / 100 * week), 3)) for week in weeks
    )
    return replace(Programme(species, START, kg, target, kcal, weighed), **changes)


def gone(made: Programme, today: date | None = None):
    return course(made, today or made.weighed[-1][0], FACTORS)


@pytest.mark.parametrize(
    ("species", "a_week", "state"),
    [
        ("dog", 2.3, "too_fast"), ("dog", 1.9, "on_course"), ("dog", 1.0, "on_course"), ("dog", 0.6, "slow"),
        ("dog", 0.1, "plateau"), ("dog", -0.1, "plateau"), ("dog", -0.4, "gaining"),
        ("cat", 2.2, "too_fast"), ("cat", 1.4, "fast"), ("cat", 0.8, "on_course"), ("cat", 0.4, "slow"),
        ("cat", 0.0, "plateau"), ("cat", -0.5, "gaining"),
    ],
)  # fmt: skip
def test_the_state_by_the_pace(species, a_week, state):
    found = gone(programme(a_week, species=species))
    assert found.state == state
    assert found.percent_a_week == pytest.approx(a_week, abs=0.05)
    assert found.says.code == f"programme.{state}"


def test_one_weigh_in_tells_no_pace():
    found = gone(programme(weeks=(0,)))
    assert (found.state, found.pace, found.adjustment, found.latest) == ("too_few", None, None, None)


@pytest.mark.parametrize(
    ("species", "a_week", "direction"),
    [
        ("dog", 2.3, "more"), ("dog", 1.3, "keep"), ("dog", 0.5, "less"),
        ("cat", 1.4, "keep"), ("cat", 2.3, "more"),
    ],
)  # fmt: skip
def test_what_the_published_steps_say(species, a_week, direction):
    made = programme(a_week, species=species)
    found = gone(made).adjustment
    assert found.direction == direction
    shares = (found.low_kcal / made.energy_kcal, found.high_kcal / made.energy_kcal)
    wanted = {"more": (1.05, 1.2), "keep": (1, 1), "less": (0.8, 0.95)}[direction]
    assert shares == pytest.approx(wanted, abs=0.03)


def test_a_cut_ends_at_the_floor_and_says_so():
    floor = floor_kcal("dog", 33, FACTORS)
    near = gone(programme(0.5, energy_kcal=floor * 1.1))
    assert (near.adjustment.low_kcal, near.held_by_floor) == (pytest.approx(floor), True)
    at = gone(programme(0.5, energy_kcal=floor))
    assert (at.adjustment, at.held_by_floor) == (None, True)


@given(st.floats(-1, 3), st.floats(0.7, 2), st.sampled_from(["dog", "cat"]))
def test_no_advice_leads_below_the_floor(a_week, times, species):
    made = programme(a_week, species=species)
    floor = floor_kcal(species, made.target_kg, FACTORS)
    found = gone(replace(made, energy_kcal=floor * times)).adjustment
    if found is not None and found.direction == "less":
        assert floor - 1e-6 <= found.low_kcal <= found.high_kcal


def test_the_target_lies_between_two_days():
    exact = gone(programme(1.0))
    wobble = (0.2, -0.1, 0.15, -0.2)
    off = [(on, kg + more) for (on, kg), more in zip(programme(1.0).weighed, wobble, strict=True)]
    wobbling = gone(replace(programme(1.0), weighed=tuple(off)))
    assert exact.earliest == exact.latest == START + timedelta(weeks=17, days=3)
    assert wobbling.earliest < exact.latest < wobbling.latest


def test_no_day_is_named_without_a_band_or_an_end():
    assert gone(programme(1.0, weeks=(0, 2, 4))).latest is None
    assert gone(programme(-0.5)).earliest is None
    uneven = replace(programme(), weighed=tuple(zip(
        [START + timedelta(weeks=week) for week in (0, 2, 4, 6)], (40.0, 39.0, 39.5, 39.4), strict=True
    )))  # fmt: skip
    found = gone(uneven)
    assert found.earliest is not None
    assert found.latest is None
    crawling = replace(uneven, weighed=tuple(
        (START + timedelta(weeks=week), 40 - week / 1000) for week in (0, 2, 4, 6)
    ))  # fmt: skip
    assert gone(crawling).latest is None


def test_at_the_target_the_loss_ends_and_what_it_needs_is_reckoned():
    found = gone(programme(1.75, weeks=(0, 2, 4, 6, 8, 10)))
    assert (found.state, found.to_go_kg, found.adjustment, found.earliest) == ("reached", 0, None, None)
    assert found.upkeep.value == pytest.approx(960 + 0.7 * 7920 / 7, rel=0.01)
    assert not course(programme(1.75, weeks=(0, 10)), START + timedelta(weeks=40), FACTORS).is_late


def test_a_target_reached_by_one_doubtful_weight_is_not_reached():
    made = programme(1.0)
    slipped = replace(made, weighed=(*made.weighed, (START + timedelta(weeks=10), 30.6)))
    found = gone(slipped)
    assert found.state == "on_course"
    assert found.doubtful == (START + timedelta(weeks=10),)


def test_a_standstill_shows_although_it_lost_well_before():
    weeks = (0, 2, 4, 6, 8, 10, 12, 14, 16)
    kgs = (40, 39.2, 38.4, 37.6, 36.8, 36.8, 36.7, 36.8, 36.8)
    weighed = tuple((START + timedelta(weeks=week), kg) for week, kg in zip(weeks, kgs, strict=True))
    assert gone(programme(weighed=weighed)).state == "plateau"


@pytest.mark.parametrize(
    ("a_week", "code"), [(2.4, "programme.cat_too_fast"), (0.8, "caution.cat_never_fast")]
)
def test_a_cat_is_guarded_against_fasting(a_week, code):
    assert [each.code for each in gone(programme(a_week, species="cat")).also] == [code]
    assert gone(programme(a_week)).also == ()
    assert gone(programme(2.4, species="cat", weeks=(0, 10))).also == ()


def test_five_weeks_without_a_weight_are_late():
    made = programme()
    last = made.weighed[-1][0]
    assert not gone(made, last + timedelta(days=35)).is_late
    assert gone(made, last + timedelta(days=40)).days_since == 5


def test_the_band_begins_at_the_start_and_ends_at_the_target():
    band = expected(programme(), FACTORS)
    assert (band[0].low_kg, band[0].high_kg) == (40, 40)
    assert (band[-1].low_kg, band[-1].high_kg) == (33, 33)
    assert (band[10].low_kg, band[10].high_kg) == (33, pytest.approx(38))
    assert expected_on(programme(), START + timedelta(days=14), FACTORS).low_kg == pytest.approx(38.4)
