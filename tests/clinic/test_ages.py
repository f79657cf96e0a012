"""Ages in words and by calendar; birth dates that are only estimates."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.patients.ages import (
    AgeNotUnderstood,
    BornLater,
    Precision,
    age_days,
    birth_from_age,
    birth_known_to,
    completed_months,
    in_words,
    reaches,
    stated_age,
    youngest_days,
)

DATES = st.dates(date(2000, 1, 1), date(2035, 12, 31))


@pytest.mark.parametrize(
    ("birth", "on", "words"),
    [
        (date(2026, 3, 1), date(2026, 3, 1), "0 days"),
        (date(2026, 3, 1), date(2026, 3, 2), "1 day"),
        (date(2026, 3, 1), date(2026, 3, 4), "3 days"),
        (date(2026, 3, 1), date(2026, 3, 15), "2 weeks"),
        (date(2026, 3, 1), date(2026, 6, 7), "14 weeks"),
        (date(2026, 3, 1), date(2026, 9, 1), "6 months"),
        (date(2025, 3, 1), date(2026, 3, 1), "1 y"),
        (date(2018, 3, 10), date(2026, 7, 10), "8 y 4 m"),
        (date(2018, 3, 10), date(2026, 7, 9), "8 y 3 m"),
    ],
)
def test_an_age_reads_as_people_say_it(birth, on, words):
    assert in_words(birth, on) == words


def test_an_estimate_says_about():
    assert in_words(date(2023, 1, 1), date(2026, 1, 1), estimated=True) == "about 3 y"


def test_nobody_is_older_than_their_birth():
    with pytest.raises(BornLater):
        age_days(date(2026, 3, 2), date(2026, 3, 1))


@pytest.mark.parametrize(
    ("birth", "years", "months", "weeks", "reached"),
    [
        (date(2024, 2, 29), 1, 0, 0, date(2025, 3, 1)),
        (date(2024, 2, 29), 4, 0, 0, date(2028, 2, 29)),
        (date(2025, 1, 31), 0, 1, 0, date(2025, 3, 1)),
        (date(2024, 6, 30), 0, 7, 0, date(2025, 1, 30)),
        (date(2025, 1, 31), 0, 3, 0, date(2025, 5, 1)),
        (date(2025, 1, 31), 0, 0, 12, date(2025, 4, 25)),
        (date(2025, 1, 6), 0, 0, 16, date(2025, 4, 28)),
        (date(2025, 1, 6), 0, 4, 0, date(2025, 5, 6)),
    ],
)
def test_a_minimum_age_is_reached_on_the_careful_side(birth, years, months, weeks, reached):
    assert reaches(birth, years=years, months=months, weeks=weeks) == reached


@given(DATES, st.integers(0, 240))
def test_months_are_complete_from_the_day_they_are_reached(birth, months):
    day = reaches(birth, months=months)
    assert completed_months(birth, day) >= months
    if months:
        assert completed_months(birth, day - timedelta(days=1)) < months


@given(DATES, st.integers(0, 9000))
def test_every_age_has_words(birth, days):
    assert in_words(birth, birth + timedelta(days=days))


@pytest.mark.parametrize(
    ("text", "days", "months"),
    [
        ("about 3 years", 0, 36),
        ("14 weeks", 98, 0),
        ("2.5 y", 0, 30),
        ("8 y 4 m", 0, 100),
        ("approx. 18 months old", 0, 18),
        ("10wk", 70, 0),
        ("3 days", 3, 0),
        ("1 year and 2 months", 0, 14),
    ],
)
def test_an_age_is_read_as_people_say_it(text, days, months):
    age = stated_age(text)
    assert (age.days, age.months) == (days, months)


@pytest.mark.parametrize(
    "text", ["", "old", "3", "three years", "3 lightyears", "90 years", "3 years?!", "-2 years"]
)
def test_what_is_no_age_is_refused(text):
    with pytest.raises(AgeNotUnderstood):
        stated_age(text)


def test_about_three_years_is_half_a_year_either_way():
    found = birth_from_age(stated_age("about 3 years"), date(2026, 3, 1))
    assert (found.earliest, found.on, found.latest) == (date(2022, 9, 1), date(2023, 3, 1), date(2023, 9, 1))
    assert found.precision is Precision.ESTIMATE


def test_a_rule_reckons_with_the_youngest_it_can_be():
    on = date(2026, 3, 1)
    assert youngest_days(birth_from_age(stated_age("16 weeks"), on), on) == 105


def test_nobody_is_born_tomorrow():
    on = date(2026, 3, 1)
    assert birth_from_age(stated_age("3 days"), on).latest <= on
    assert birth_from_age(stated_age("0 days"), on).latest == on


@pytest.mark.parametrize(
    ("precision", "earliest", "latest"),
    [
        (Precision.DAY, date(2024, 2, 10), date(2024, 2, 10)),
        (Precision.MONTH, date(2024, 2, 1), date(2024, 2, 29)),
        (Precision.YEAR, date(2024, 1, 1), date(2024, 12, 31)),
        (Precision.ESTIMATE, date(2023, 8, 10), date(2024, 8, 10)),
    ],
)
def test_a_stored_date_stands_for_a_span(precision, earliest, latest):
    found = birth_known_to(date(2024, 2, 10), precision)
    assert (found.earliest, found.latest) == (earliest, latest)
