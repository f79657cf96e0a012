"""Rabies: label, compendium and law of several places."""

import pytest

from preventive.case import Case
from preventive.certificate import certificate_dates
from preventive.dates import Calendar, Span
from preventive.due import Standing, overdue_days, standing
from preventive.rabies import count_rabies, rabies_state
from tests.preventive.build import cat, dates, day, dog, due, history, rabies, under

NASPHV = "NASPHV 2016 / CDC (A)"
EU = "Reg. (EU) 576/2013 Annex III (A)"
BORN = "2025-01-31"


@pytest.mark.parametrize(
    ("chosen", "opens", "source"),
    [
        pytest.param({}, "2025-04-25", "AAHA/EU: 12 weeks (A)", id="prev-R01-weeks"),
        pytest.param(
            {"rabies_first_age": "three_months"}, "2025-05-01", "CDC page: 3 months (A)", id="prev-R01-months"
        ),
    ],
)
def test_the_first_day_keeps_the_source_unit(chosen, opens, source):
    item = due(dog(BORN), history(), BORN, "rabies", under(**chosen))
    assert dates(item, "earliest") == (opens,), source


@pytest.mark.parametrize(
    ("label", "counts", "source"),
    [
        pytest.param("12 wk", True, "the label's unit: 12 weeks (A)", id="prev-R01-label-weeks"),
        pytest.param("3 mo", False, "the label's unit: 3 months (A)", id="prev-R01-label-months"),
    ],
)
def test_the_label_decides_whether_a_dose_counts(label, counts, source):
    item = due(dog(BORN), history(rabies("2025-04-25", min_age=label)), "2025-04-25", "rabies")
    assert (item.last_on is not None) is counts, source


NEXT = [
    # animal, doses, as of, place, valid from, legal due, source
    pytest.param(
        dog(BORN),
        [rabies("2025-05-05", 36)],
        "2025-05-05",
        "",
        "2025-06-02",
        "2026-05-05",
        NASPHV,
        id="prev-R02",
    ),
    pytest.param(
        dog(BORN),
        [rabies("2025-05-05", 36), rabies("2026-05-05", 36)],
        "2026-05-05",
        "",
        "2026-05-05",
        "2029-05-05",
        NASPHV,
        id="prev-R03",
    ),
    pytest.param(
        dog(BORN),
        [rabies("2025-05-05", 36), rabies("2026-05-05", 12)],
        "2026-05-05",
        "",
        "2026-05-05",
        "2027-05-05",
        NASPHV,
        id="prev-R04",
    ),
    pytest.param(
        dog("2023-11-06"),
        [rabies("2024-03-10", 36), rabies("2025-09-01", 36)],
        "2025-09-01",
        "",
        "2025-09-01",
        "2028-09-01",
        NASPHV,
        id="prev-R06-label-for-contrast",
    ),
    pytest.param(
        dog("2023-11-06"),
        [rabies("2024-03-10", 36), rabies("2025-09-01", 36)],
        "2025-09-01",
        "ca-strict",
        "2025-09-01",
        "2026-09-01",
        "strict label reading, Canada (A)",
        id="prev-R06",
    ),
    pytest.param(
        dog("2023-11-06", chipped_on="2024-01-15"),
        [rabies("2024-03-10", 12), rabies("2025-09-01", 36)],
        "2025-09-01",
        "eu-travel",
        "2025-09-22",
        "2028-09-01",
        EU,
        id="prev-R07",
    ),
    pytest.param(
        dog("2023-01-10"),
        [rabies("2025-02-10", 36)],
        "2025-02-10",
        "",
        "2025-03-10",
        "2026-02-10",
        NASPHV,
        id="prev-R12-nasphv",
    ),
    pytest.param(
        dog("2023-01-10"),
        [rabies("2025-02-10", 36)],
        "2025-02-10",
        "us-pa",
        "2025-03-10",
        "2028-02-10",
        "7 Pa. Code 16.43 as quoted (B)",
        id="prev-R12-pennsylvania",
    ),
    pytest.param(
        dog("2024-11-04", chipped_on="2025-05-01"),
        [rabies("2025-04-10"), rabies("2025-05-20")],
        "2025-05-20",
        "eu-travel",
        "2025-06-10",
        "2026-05-20",
        EU,
        id="prev-R15",
    ),
    pytest.param(
        cat("2025-04-07"),
        [rabies("2025-07-28"), rabies("2026-07-28")],
        "2026-07-28",
        "",
        "2026-07-28",
        "2027-07-28",
        "NASPHV 2016; AAHA/AAFP 2020 (A)",
        id="prev-F09",
    ),
]


@pytest.mark.parametrize(("who", "doses", "on", "place", "valid_from", "legal", "source"), NEXT)
def test_valid_from_and_legal_due(who, doses, on, place, valid_from, legal, source):
    item = due(who, history(*doses), on, "rabies", under(place))
    assert dates(item, "valid_from", "legal", "target") == (valid_from, legal, legal), source


@pytest.mark.parametrize(
    ("place", "valid_from", "source"),
    [
        pytest.param("", "2025-06-02", "NASPHV 2016: 28 days (A)", id="prev-R11-nasphv"),
        pytest.param("us-tx", "2025-06-04", "Texas: 30 days (A)", id="prev-R11-texas"),
        pytest.param("us-ny", "2025-05-19", "New York: 14 days (A)", id="prev-R11-new-york"),
        pytest.param("eu-travel", "2025-05-26", "EU: 21 days (A)", id="prev-R11-eu"),
    ],
)
def test_days_to_validity(place, valid_from, source):
    who = dog("2025-01-20", chipped_on="2025-04-01")
    item = due(who, history(rabies("2025-05-05")), "2025-05-05", "rabies", under(place))
    assert dates(item, "valid_from") == (valid_from,), source


@pytest.mark.parametrize("source", [pytest.param(EU, id="prev-R07-sequence")])
def test_a_late_dose_is_a_first_dose_again_for_travel(source):
    who = dog("2023-11-06", chipped_on="2024-01-15")
    what = history(rabies("2024-03-10", 12), rabies("2025-09-01", 36, id="late"))
    issued = certificate_dates(who, what, under("eu-travel"), "late", day("2025-09-01"))
    assert issued.sequence == "initial", source


@pytest.mark.parametrize(
    ("on", "expected", "late", "source"),
    [
        pytest.param("2025-08-20", Standing.DUE, 0, "NASPHV 2016; no tolerance (B)", id="prev-R09-day"),
        pytest.param("2025-08-21", Standing.OVERDUE, 1, "NASPHV 2016; no tolerance (B)", id="prev-R09-after"),
    ],
)
def test_overdue_begins_the_day_after(on, expected, late, source):
    what = history(rabies("2023-08-20"), rabies("2024-08-20"))
    item = due(dog("2023-04-01"), what, on, "rabies")
    assert (standing(item, day(on)), overdue_days(item, day(on))) == (expected, late), source


@pytest.mark.parametrize("source", [pytest.param("WSAVA 2016 T1; label (A)", id="prev-R13")])
def test_a_dose_below_the_label_age_does_not_count(source):
    item = due(dog("2025-01-06"), history(rabies("2025-03-17")), "2025-03-17", "rabies")
    assert [entry.code for entry in item.uncounted] == ["too_young"], source
    assert dates(item, "earliest", "last_on") == ("2025-03-31", None), source


@pytest.mark.parametrize("source", [pytest.param(EU, id="prev-R15-chip")])
def test_a_dose_before_the_chip_does_not_count_for_travel(source):
    who = dog("2024-11-04", chipped_on="2025-05-01")
    what = history(rabies("2025-04-10", id="before"), rabies("2025-05-20", id="after"))
    case = Case(who, what, under("eu-travel"), day("2025-05-20"))
    counted = count_rabies(case)
    assert [(u.dose_id, u.code) for u in counted.uncounted] == [("before", "no_chip")], source
    assert rabies_state(case, counted.doses).sequence == "primary", source


@pytest.mark.parametrize(
    ("age", "deadline", "source"),
    [
        pytest.param("16 wk", "2025-04-28", "25 TAC 169.29 (A)", id="prev-R16-weeks"),
        pytest.param("4 mo", "2025-05-06", "Tex. H&S 826.021 (A)", id="prev-R16-months"),
    ],
)
def test_weeks_and_months_give_different_deadlines(age, deadline, source):
    assert Calendar().due(day("2025-01-06"), Span.parse(age)) == day(deadline), source
    setting = {"16 wk": "sixteen_weeks", "4 mo": "four_months"}[age]
    rules = under("us-tx", rabies_deadline=setting)
    assert dates(due(dog("2025-01-06"), history(), "2025-01-06", "rabies", rules), "legal") == (deadline,)
