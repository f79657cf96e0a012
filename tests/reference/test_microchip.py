"""Microchip numbers by ISO 11784 and ICAR's code rules."""

import pytest

from clinic.patients.microchip import ChipKind, check, countries

ISO = "ISO 11784; ICAR code rules"
OLD = "125 kHz chips (from memory, to be checked)"

CASES = [
    ("prev-8.01", "985112345678903", ChipKind.ISO_MANUFACTURER, "985112345678903", ISO),
    ("prev-8.02", "840003123456789", ChipKind.ISO_COUNTRY, "840003123456789", ISO),
    ("prev-8.03", "040098100111917", ChipKind.ISO_COUNTRY, "040098100111917", ISO),
    ("prev-8.04", "900215000000123", ChipKind.ISO_SHARED, "900215000000123", ISO),
    ("prev-8.05", "999000000000123", ChipKind.TEST, "999000000000123", ISO),
    ("prev-8.06", "000000000000123", ChipKind.REJECTED, "000000000000123", ISO),
    ("prev-8.07", "899000000000123", ChipKind.REJECTED, "899000000000123", ISO),
    ("prev-8.08", "985999999999999", ChipKind.REJECTED, "985999999999999", ISO),
    ("prev-8.09", "985274877906943", ChipKind.ISO_MANUFACTURER, "985274877906943", ISO),
    ("prev-8.10", "985274877906944", ChipKind.REJECTED, "985274877906944", ISO),
    ("prev-8.11", "98511234567890", ChipKind.REJECTED, "98511234567890", ISO),
    ("prev-8.12", "9851 1234 5678 903", ChipKind.ISO_MANUFACTURER, "985112345678903", ISO),
    ("prev-8.13", "123456789", ChipKind.LEGACY, "123456789", OLD),
    ("prev-8.14", "4A1B2C3D4E", ChipKind.LEGACY, "4A1B2C3D4E", OLD),
    ("prev-8.15", "98511234567890O", ChipKind.REJECTED, "98511234567890O", ISO),
]


@pytest.mark.parametrize(("case", "number", "kind", "normalised", "source"), CASES)
def test_a_number_gets_its_verdict(case, number, kind, normalised, source):
    verdict = check(number)
    assert (verdict.kind, verdict.normalised) == (kind, normalised)
    assert verdict.accepted is (kind not in (ChipKind.TEST, ChipKind.REJECTED))
    assert verdict.accepted or verdict.reason


@pytest.mark.parametrize(
    ("code", "country", "source"),
    [
        ("040", "Austria", "ISO 3166-1 numeric"),
        ("056", "Belgium", "ISO 3166-1 numeric"),
        ("840", "United States", "ISO 3166-1 numeric"),
        ("826", "United Kingdom", "ISO 3166-1 numeric"),
        ("528", "Netherlands", "ISO 3166-1 numeric"),
    ],
)
def test_country_codes_name_their_country(code, country, source):
    assert countries()[code] == country
    assert check(code + "000000000123").detail == country


def test_the_list_of_countries_is_whole():
    assert len(countries()) == 249
    assert all(len(code) == 3 and code.isdigit() and "001" <= code <= "899" for code in countries())


def test_a_shared_code_shows_its_sub_code():
    assert check("900215000000123").detail == "215"
