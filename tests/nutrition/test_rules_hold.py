"""Properties of the arithmetic over the whole range of weights."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nutrition import energy, growth, ideal_weight, label, weight_loss
from tests.nutrition.builders import FACTORS

weights = st.floats(0.3, 100)
species = st.sampled_from(["dog", "cat"])


@given(weights, st.floats(1.01, 3))
def test_more_weight_needs_more_but_less_a_kg(kg: float, times: float) -> None:
    small, big = energy.resting_kcal(kg, FACTORS), energy.resting_kcal(kg * times, FACTORS)
    assert small < big < small * times


@given(weights, species, st.data())
def test_the_spread_holds_the_range_and_the_range_both_families(kg: float, kind, data) -> None:
    chosen = [
        data.draw(st.sampled_from(energy.rules_for(kind, family, FACTORS))).code
        for family in ("multiples", "body_size")
    ]
    need = energy.adult_need(
        weight_kg=kg, multiples_code=chosen[0], body_size_code=chosen[1], family="body_size", factors=FACTORS
    )
    assert need.spread_low_kcal == pytest.approx(need.low_kcal / 2)
    assert need.spread_high_kcal == pytest.approx(need.high_kcal * 1.5)
    for one in (need.multiples, need.body_size):
        assert need.low_kcal <= one.low_kcal <= one.energy_kcal <= one.high_kcal <= need.high_kcal
    assert need.chosen is need.body_size


@given(weights, st.floats(5.5, 9))
def test_an_ideal_weight_lies_below_todays(kg: float, bcs: float) -> None:
    for method in ideal_weight.methods(weight_kg=kg, bcs=bcs, factors=FACTORS):
        assert 0 < method.weight_kg < kg
        assert method.open_ended == (bcs >= 9)


@given(species, weights, st.floats(0.05, 1))
def test_growth_never_falls_below_what_an_adult_keeps(kind, adult_kg: float, share: float) -> None:
    for one in growth.estimates(
        species=kind,
        weight_kg=adult_kg * share,
        expected_adult_kg=adult_kg,
        age_months=6,
        factors=FACTORS,
    ):
        assert one.basis == "growth"
        assert one.energy_kcal > energy.resting_kcal(adult_kg * share, FACTORS)


@given(st.floats(0, 100))
def test_between_the_rows_the_large_puppy_factor_only_falls(percent: float) -> None:
    table = FACTORS.table("growth.dog.large")
    assert 1.0 <= growth.between(table, percent) <= growth.between(table, max(0, percent - 1)) <= 2.5


@given(st.floats(5, 60), st.floats(0.6, 0.98), st.floats(0.1, 2.0))
def test_weeks_times_rate_is_the_way_to_go(kg: float, share: float, rate: float) -> None:
    weeks = weight_loss.weeks_to_target(kg, kg * share, rate, FACTORS)
    assert weeks * rate == pytest.approx((1 - share) * 100)


@given(st.floats(5, 60), st.floats(0.1, 2.0), st.floats(1.2, 2))
def test_a_deficit_start_loses_what_was_asked(kg: float, rate: float, times: float) -> None:
    keep = kg * 0.02 * 7920 / 7 * times
    start = weight_loss.start_by_deficit(keep, kg, rate, FACTORS)
    assert weight_loss.percent_a_week(keep, start.energy_kcal, kg, FACTORS) == pytest.approx(rate)


@given(st.floats(-0.5, 0.5), st.floats(3, 50))
def test_the_pace_of_a_straight_line_is_its_slope(slope: float, kg: float) -> None:
    weighed = [(day, kg + slope * day / 7) for day in (0, 14, 40, 90)]
    assert weight_loss.pace_kg_per_week(weighed) == pytest.approx(slope, abs=1e-9)


def test_one_weighing_has_no_pace() -> None:
    assert weight_loss.pace_kg_per_week([(0, 10.0)]) is None
    assert weight_loss.pace_kg_per_week([(0, 10.0), (0, 10.2)]) is None


def test_an_animal_that_loses_needs_more_than_it_eats() -> None:
    # 0.7 kg in 28 weeks is 25 g of fat a week.
    assert weight_loss.own_need(800, -0.7 / 28, FACTORS).value == pytest.approx(800 + 0.025 * 7920 / 7)


@pytest.mark.parametrize(
    ("kind", "lost", "direction"),
    [
        ("dog", 2.1, "more"),
        ("dog", 1.5, "keep"),
        ("dog", 0.8, "less"),
        ("cat", 0.8, "keep"),
        ("cat", 0.4, "less"),
    ],
)
def test_the_pace_decides_what_to_change(kind, lost: float, direction: str) -> None:
    found = weight_loss.adjust(1000, lost, kind, FACTORS)
    assert found.direction == direction
    bounds = {"more": (1050, 1200), "less": (800, 950), "keep": (1000, 1000)}[direction]
    assert (found.low_kcal, found.high_kcal) == pytest.approx(bounds)


def test_the_band_falls_from_today_to_the_target_and_stays_there() -> None:
    assert weight_loss.band_kg(40, 33, 0, FACTORS) == (40, 40)
    assert weight_loss.band_kg(40, 33, 5, FACTORS) == pytest.approx((36, 39))
    assert weight_loss.band_kg(40, 33, 100, FACTORS) == (33, 33)


@pytest.mark.parametrize(
    ("age", "adult_kg", "growing"),
    [(11, 10, True), (12, 10, False), (17, 40, True), (18, 40, False), (None, 40, None)],
)
def test_growing_is_proposed_by_age_and_size(age, adult_kg: float, growing) -> None:
    assert growth.is_growing("dog", age, adult_kg, FACTORS) is growing


@pytest.mark.parametrize(
    ("kind", "words", "expected"),
    [
        ("dog", {"neutered": True}, ("dog.neutered", "dog.inactive")),
        ("dog", {"neutered": False}, ("dog.intact", "dog.inactive")),
        ("dog", {"neutered": None}, ("dog.neutered", "dog.inactive")),
        ("dog", {"neutered": True, "obese_prone": True}, ("dog.obese_prone", "dog.fat_prone")),
        ("cat", {"neutered": True}, ("cat.neutered", "cat.indoor")),
        ("cat", {"neutered": False, "bcs": 5}, ("cat.intact", "cat.lean")),
        ("cat", {"neutered": True, "bcs": 7}, ("cat.neutered", "cat.overweight")),
    ],
)
def test_rules_to_begin_with(kind, words, expected) -> None:
    assert energy.usual_rules(kind, **words) == expected
    for code in expected:
        assert FACTORS.need(code).species == kind


def test_a_recorded_weight_at_ideal_condition_stands_first() -> None:
    kept = ideal_weight.RecordedWeight(26.2, 5, "November 2023")
    found = ideal_weight.methods(weight_kg=27.4, bcs=6, factors=FACTORS, recorded=kept)
    assert [m.code for m in found] == ["record", "ten", "fifteen", "fat"]
    assert found[0].preferred


def test_a_weight_recorded_when_it_was_heavy_is_no_ideal() -> None:
    heavy = ideal_weight.RecordedWeight(30, 7, "May 2025")
    found = ideal_weight.methods(weight_kg=27.4, bcs=6, factors=FACTORS, recorded=heavy)
    assert [m.code for m in found] == ["ten", "fifteen", "fat"]


def test_only_the_named_breeds_have_a_note() -> None:
    note = energy.breed_note("Great Dane", FACTORS)
    assert note is not None
    assert "60 %" in note.says
    assert energy.breed_note("lurcher cross", FACTORS) is None


@given(st.floats(0.01, 30))
def test_units_in_words_lie_within_an_eighth(units: float) -> None:
    words = label.units_in_words(units, "cup")
    if words.startswith("less"):
        assert units < 0.126
        return
    number = words.removeprefix("a little over ").removeprefix("a little under ").split()[0]
    quarters = {"¼": 0.25, "½": 0.5, "¾": 0.75}
    value = sum(quarters[c] for c in number if c in quarters) + float(number.rstrip("¼½¾") or 0)
    assert abs(value - units) <= 0.1251


@pytest.mark.parametrize(
    ("units", "unit", "words"),
    [
        (1.0, "cup", "1 cup"),
        (0.5, "can", "½ can"),
        (1.78, "cup", "1¾ cups"),
        (1.82, "cup", "a little over 1¾ cups"),
        (2.18, "pouch", "a little under 2¼ pouches"),
    ],
)
def test_units_are_said_as_people_scoop(units: float, unit, words: str) -> None:
    assert label.units_in_words(units, unit) == words


@pytest.mark.parametrize(
    ("percent", "factor"), [(5, 2.5), (22.5, 2.3), (41, 1.9 + 0.2 * 2 / 13), (90, 1.15), (100, 1.0)]
)
def test_the_large_puppy_factor_is_read_between_the_rows(percent: float, factor: float) -> None:
    assert growth.between(FACTORS.table("growth.dog.large"), percent) == pytest.approx(factor)
