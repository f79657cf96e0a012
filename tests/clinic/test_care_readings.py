"""Values and intervals as laboratories print them. Arithmetic; the forms seen are common practice."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.care.readings import Interval, Reading, interval, place, reading


@pytest.mark.parametrize(
    ("words", "number", "relation"),
    [
        ("248", "248", ""),
        (" 5,4 ", "5.4", ""),
        ("<0.5", "0.5", "<"),
        ("> 1000", "1000", ">"),
        ("≥ 40", "40", ">"),
        ("≤2", "2", "<"),
        ("1.016", "1.016", ""),
    ],
)
def test_a_value_with_a_number(words, number, relation):
    assert reading(words) == Reading(Decimal(number), relation)


@pytest.mark.parametrize(
    "words", ["", "no growth", "1:160", "3+", "1,234.5", "1.2.3", "-4", "12345678901", "0.1234567", "٣"]
)
def test_a_value_that_is_no_number_stays_words(words):
    assert reading(words) is None


@pytest.mark.parametrize(
    ("words", "low", "high"),
    [
        ("70-165", "70", "165"),
        ("3,5 – 5,8", "3.5", "5.8"),
        ("(0.8 to 2.4)", "0.8", "2.4"),
        ("< 2.6", None, "2.6"),
        ("≥10", "10", None),
    ],
)
def test_an_interval(words, low, high):
    ends = [None if each is None else Decimal(each) for each in (low, high)]
    assert interval(words) == Interval(*ends)


@pytest.mark.parametrize("words", ["", "negative", "165-70", "see comment", "1:20-1:40"])
def test_what_is_no_interval(words):
    assert interval(words) is None


@pytest.mark.parametrize(
    ("value", "of", "told"),
    [
        ("248", "70-165", "high"),
        ("165", "70-165", "inside"),
        ("70", "70-165", "inside"),
        ("69.9", "70-165", "low"),
        ("<0.5", "0.8-2.4", "low"),
        ("<0.8", "0.8-2.4", "low"),
        ("<1.0", "0.8-2.4", ""),
        ("<0.5", "<2.6", "inside"),
        ("<3", "<2.6", ""),
        (">50", "10-40", "high"),
        (">30", "10-40", ""),
        (">50", ">10", "inside"),
        ("no growth", "10-40", ""),
        ("12", "see comment", ""),
    ],
)
def test_where_a_value_lies(value, of, told):
    assert place(reading(value), interval(of)) == told


numbers = st.decimals(min_value=0, max_value=10**6, places=3)


@given(numbers, numbers, numbers)
def test_inside_means_between_the_ends(value, one, other):
    low, high = sorted((one, other))
    told = place(Reading(value), Interval(low, high))
    assert (told == "inside") == (low <= value <= high)
    assert (told == "low") == (value < low)
