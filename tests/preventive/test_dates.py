from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preventive.dates import Calendar, LeapDay, PartialDate, Precision, Span, Unit
from preventive.facts import born

CAL = Calendar()
BIRTHS = st.dates(date(2020, 1, 1), date(2030, 12, 31))


@given(BIRTHS)
def test_sixteen_weeks_are_never_after_four_months(birth):
    assert birth + timedelta(days=112) <= CAL.due(birth, Span(4, Unit.MONTH))
    assert CAL.due(birth, Span(16, Unit.WEEK)) == birth + timedelta(days=112)


@given(BIRTHS, st.integers(0, 60), st.sampled_from(Unit))
def test_a_gate_is_the_due_date_or_the_day_after(anchor, value, unit):
    span = Span(value, unit)
    assert CAL.gate(anchor, span) - CAL.due(anchor, span) in {timedelta(0), timedelta(days=1)}


def test_the_month_end_does_not_drift_when_counted_from_the_anchor():
    anchor = date(2025, 1, 31)
    assert CAL.due(anchor, Span(1, Unit.MONTH)) == date(2025, 2, 28)
    assert CAL.due(anchor, Span(1, Unit.MONTH).times(2)) == date(2025, 3, 31)


def test_march_first_is_a_choice_for_leap_days_only():
    late = Calendar(LeapDay.MARCH_1)
    assert late.due(date(2024, 2, 29), Span(1, Unit.YEAR)) == date(2025, 3, 1)
    assert late.due(date(2024, 2, 29), Span(12, Unit.MONTH)) == date(2025, 3, 1)
    assert late.due(date(2025, 1, 31), Span(1, Unit.MONTH)) == date(2025, 2, 28)
    assert late.due(date(2024, 2, 29), Span(4, Unit.YEAR)) == date(2028, 2, 29)


@pytest.mark.parametrize("text", ["12", "wk 12", "-1 wk", "12 fortnights", ""])
def test_a_span_without_number_and_unit_is_refused(text):
    with pytest.raises(ValueError, match=r"."):
        Span.parse(text)


@pytest.mark.parametrize(
    ("precision", "earliest", "latest", "shown"),
    [
        (Precision.DAY, date(2024, 2, 9), date(2024, 2, 9), "2024-02-09"),
        (Precision.MONTH, date(2024, 2, 1), date(2024, 2, 29), "2024-02"),
        (Precision.YEAR, date(2024, 1, 1), date(2024, 12, 31), "2024"),
    ],
)
def test_a_partial_date_knows_its_ends(precision, earliest, latest, shown):
    known = PartialDate(date(2024, 2, 9), precision)
    assert (known.earliest, known.latest, str(known)) == (earliest, latest, shown)


def test_the_youngest_possible_birth_is_not_after_the_day_asked_for():
    birth = born(date(2025, 6, 1), Precision.YEAR, estimated=True)
    assert birth.youngest(date(2025, 3, 3)) == date(2025, 3, 3)
    assert birth.youngest(date(2026, 3, 3)) == date(2025, 12, 31)
