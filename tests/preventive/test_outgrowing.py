"""A growing animal gets no more of a size than it will fit. Label bands; the young gain weight (C)."""

from datetime import date, timedelta

import pytest
from hypothesis import given, strategies

from preventive.dates import Calendar, Span
from preventive.errors import QuestionsOpen
from preventive.outgrowing import outgrown, week_gain_kg
from tests import people
from tests.preventive.build import under
from tests.preventive.room import TODAY, room

CAL: Calendar = under().calendar
# 9.1 kg, ten weeks later 14.6 kg; a weight four weeks before the last
WEIGHTS = [(date(2026, 9, 14), 9.1), (date(2026, 10, 28), 12.4), (date(2026, 11, 25), 14.6)]


def first_too_heavy(weights, count=6, **facts):
    facts = {"max_kg": 20.0, "first_on": date(2026, 12, 14), "interval": Span.parse("1 mo")} | facts
    return outgrown(weights, count=count, cal=CAL, **facts)


def test_the_gain_is_by_the_last_two_weights_that_lie_a_week_to_eight_apart():
    assert week_gain_kg(WEIGHTS) == pytest.approx(0.55)
    assert week_gain_kg(WEIGHTS[:1]) is None
    assert week_gain_kg([(date(2026, 11, 20), 14.0), WEIGHTS[2]]) is None  # five days
    assert week_gain_kg([(date(2026, 9, 29), 9.1), WEIGHTS[2]]) is None  # 57 days
    assert week_gain_kg([(date(2026, 9, 30), 9.0), WEIGHTS[2]]) == pytest.approx(0.7)  # 56 days
    assert week_gain_kg([(date(2026, 11, 18), 14.0), WEIGHTS[2]]) == pytest.approx(0.6)  # 7 days
    assert week_gain_kg([]) is None


def test_the_third_dose_no_longer_fits():
    found = first_too_heavy(WEIGHTS)
    assert (found.number, found.on.isoformat()) == (3, "2027-02-14")
    assert found.weight_kg == pytest.approx(14.6 + 0.55 * 81 / 7)
    assert first_too_heavy(WEIGHTS, count=2) is None


def test_a_weight_on_the_edge_of_the_size_still_fits():
    # both ends belong to a band
    weights = [(date(2026, 11, 11), 18.0), (date(2026, 11, 25), 19.0)]
    on_edge = {"first_on": date(2026, 12, 9), "count": 1}
    assert first_too_heavy(weights, **on_edge) is None
    assert first_too_heavy(weights, **on_edge, max_kg=19.9).number == 1


def test_nobody_outgrows_who_does_not_grow_or_has_no_upper_end():
    assert first_too_heavy([(date(2026, 11, 1), 15.0), (date(2026, 11, 25), 14.6)]) is None
    assert first_too_heavy(WEIGHTS, max_kg=None) is None


def test_growth_ends_at_the_expected_adult_weight():
    assert first_too_heavy(WEIGHTS, adult_kg=19.0) is None
    assert first_too_heavy(WEIGHTS, adult_kg=21.0).number == 3


@given(strategies.floats(0.05, 2), strategies.floats(5, 40), strategies.integers(1, 12))
def test_one_dose_less_than_the_first_that_does_not_fit_always_fits(gain, most, count):
    weights = [(date(2026, 11, 11), 5.0), (date(2026, 11, 25), 5.0 + 2 * gain)]
    found = first_too_heavy(weights, count=count, max_kg=most)
    if found and found.number > 1:
        assert first_too_heavy(weights, count=found.number - 1, max_kg=most) is None


@pytest.mark.django_db
def test_it_is_asked_before_it_goes_home_and_a_reason_passes():
    puppy = room()
    earlier = puppy.patient.measurements.get()
    earlier.pk, earlier.value = None, 4
    earlier.measured_at -= timedelta(weeks=4)
    earlier.save()
    label = next(
        each
        for each in puppy.stock["wormbane-chew-dog"].facts["bands"]
        if each["min_kg"] <= 8.4 <= each["max_kg"]
    )
    with pytest.raises(QuestionsOpen) as asked:
        puppy.hand_out(count=6)
    (question,) = [each for each in asked.value.questions if each.code == "outgrows"]
    assert f"this size ends at {label['max_kg']:g} kg" in question.text
    reasons = {each.code: "comes for the next size in time" for each in asked.value.questions}
    assert puppy.hand_out(count=6, answers=reasons).count == 6
    assert people.TODAY == TODAY
