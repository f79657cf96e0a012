"""What a reader or a keyboard may give for a microchip."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clinic.patients.microchip import LARGEST_IDENTITY, ChipKind, check, normalise, shown


@pytest.mark.parametrize(
    "typed", ["985-112-345-678-903", " 985 112 345 678 903 ", "985.112.345.678.903", "985–112345678903"]
)
def test_separators_do_not_matter(typed):
    assert check(typed).normalised == "985112345678903"


def test_leading_zeros_are_kept():
    assert normalise("040 098 100 111 917") == "040098100111917"


@pytest.mark.parametrize("typed", ["", "   ", "9851", "٩٨٥١١٢٣٤٥٦٧٨٩٠٣", "4A1B2C3D4É"])
def test_what_is_no_chip_is_refused_with_a_reason(typed):
    verdict = check(typed)
    assert verdict.kind is ChipKind.REJECTED
    assert verdict.reason


def test_letters_are_read_in_either_case():
    assert check("4a1b2c3d4e").normalised == "4A1B2C3D4E"


def test_an_iso_number_is_shown_in_threes():
    assert shown("985112345678903") == "985 112 345 678 903"
    assert shown("4A1B2C3D4E") == "4A1B2C3D4E"


@given(st.text(max_size=40))
def test_whatever_is_typed_gets_a_verdict(text):
    verdict = check(text)
    assert verdict.accepted or verdict.reason


@given(st.integers(901, 998), st.integers(0, 999_999_999_999))
def test_only_38_bits_fit(code, identity):
    assert check(f"{code}{identity:012d}").accepted is (identity <= LARGEST_IDENTITY)
