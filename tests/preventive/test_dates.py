from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import example, given
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


DELTAS = {Unit.DAY: "days", Unit.WEEK: "weeks", Unit.MONTH: "months", Unit.YEAR: "years"}


@given(st.dates(date(1995, 1, 1), date(2060, 12, 31)), st.integers(0, 240), st.sampled_from(Unit))
@example(date(2025, 1, 31), 1, Unit.MONTH)  # 28 February
@example(date(2023, 8, 31), 6, Unit.MONTH)  # 29 February of a leap year
@example(date(2024, 2, 29), 1, Unit.YEAR)
@example(date(2024, 2, 29), 12, Unit.MONTH)
@example(date(2024, 2, 29), 4, Unit.YEAR)
@example(date(2025, 11, 30), 1, Unit.MONTH)  # December: the month that is number twelve
@example(date(2025, 12, 31), 2, Unit.MONTH)
def test_a_due_date_is_what_dateutil_reckons_and_a_gate_the_day_after_where_it_clamps(anchor, value, unit):
    """Date rules: months and years by the calendar, clamped at a month's end; gates roll up."""
    expected = anchor + relativedelta(**{DELTAS[unit]: value})
    assert CAL.due(anchor, Span(value, unit)) == expected
    clamped = unit in {Unit.MONTH, Unit.YEAR} and expected.day != anchor.day
    assert CAL.gate(anchor, Span(value, unit)) == expected + timedelta(days=clamped)


def test_every_day_of_nine_years_by_every_span_of_the_protocols_agrees_with_dateutil():
    """2024 to 2032 hold three leap days; the spans are those that the files use."""
    spans = [(value, Unit.MONTH) for value in (1, 3, 4, 6, 7, 12, 18, 36)] + [(1, Unit.YEAR), (3, Unit.YEAR)]
    for back in range(9 * 365 + 3):
        anchor = date(2024, 1, 1) + timedelta(days=back)
        for value, unit in spans:
            assert CAL.due(anchor, Span(value, unit)) == anchor + relativedelta(**{DELTAS[unit]: value})


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
