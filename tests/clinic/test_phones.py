"""Telephone numbers as people write them, found by digits and shown in groups."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.people.phones import NotAPhone, normalise, search_digits


@pytest.mark.parametrize(
    ("typed", "digits", "display"),
    [
        ("206-555-0143", "2065550143", "206-555-0143"),
        ("(206) 555 0143", "2065550143", "206-555-0143"),
        ("+1 206.555.0143", "2065550143", "206-555-0143"),
        ("1-206-555-0143", "2065550143", "206-555-0143"),
        ("206 555 0143 ext. 12", "2065550143", "206-555-0143 ext. 12"),
        ("2065550143x7", "2065550143", "206-555-0143 ext. 7"),
        ("555-0143", "5550143", "555-0143"),
        ("+44 7700 900123", "447700900123", "+44 770 090 0123"),
        ("011 44 7700 900123", "447700900123", "+44 770 090 0123"),
        ("+353 20 910 1234", "353209101234", "+353 209 101 234"),
    ],
)
def test_one_number_has_one_form(typed, digits, display):
    found = normalise(typed)
    assert (found.digits, found.display) == (digits, display)


def test_another_country_may_be_home():
    found = normalise("01632 960 123", home="44")
    assert (found.digits, found.display) == ("1632960123", "0163 296 0123")
    assert normalise("+44 1632 960123", home="44").digits == found.digits
    assert normalise("0044 1632 960123", home="44").digits == found.digits


@pytest.mark.parametrize("typed", ["", "12", "555-PETS-NOW", "ask next door", "1234567890123456", "+"])
def test_what_is_no_number_is_refused(typed):
    with pytest.raises(NotAPhone):
        normalise(typed)


def test_a_part_of_a_number_finds_it():
    assert search_digits("(206) 555-01") in normalise("+1 206 555 0143").digits


@given(st.from_regex(r"[2-9][0-9]{2}[2-9][0-9]{6}", fullmatch=True))
def test_what_is_shown_reads_back_the_same(digits):
    shown = normalise(digits).display
    assert normalise(shown) == normalise(digits)
    assert search_digits(shown) == digits
