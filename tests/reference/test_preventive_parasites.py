"""Heartworm, faecal and tick-borne tests, deworming, and how long a preventive lasts."""

import pytest

from preventive.deworming import young_plan
from preventive.facts import Treatment
from tests.preventive.build import cat, dates, day, dog, due, history, result, supply, under

HW = "dog_heartworm_test"
AHS = "AHS 2018/2020 (B)"


def both_tests(*days):
    return tuple(result(kind, on) for on in days for kind in ("heartworm_ag", "heartworm_mf"))


PROTECTED = [
    # animal, start, tests, as of, target, source
    pytest.param(
        dog("2025-01-06"),
        "2025-03-03",
        [],
        "2025-03-03",
        "2025-09-03",
        "AHS public schedule (B)",
        id="prev-H01",
    ),
    pytest.param(
        dog("2025-01-06"),
        "2025-03-03",
        ["2025-09-03"],
        "2025-09-03",
        "2026-03-03",
        "AHS public schedule (B)",
        id="prev-H01-again",
    ),
    pytest.param(
        dog("2025-01-06"),
        "2025-03-03",
        ["2025-09-03", "2026-03-03"],
        "2026-03-03",
        "2027-03-03",
        "AHS public schedule (B)",
        id="prev-H01-yearly",
    ),
    pytest.param(dog("2024-05-31"), "2025-01-15", [], "2025-01-15", "2025-01-15", AHS, id="prev-H02"),
    pytest.param(
        dog("2024-05-31"),
        "2025-01-15",
        ["2025-01-15"],
        "2025-01-15",
        "2025-07-15",
        AHS,
        id="prev-H02-retest",
    ),
    pytest.param(
        dog("2024-05-31"),
        "2025-01-15",
        ["2025-01-15", "2025-07-15"],
        "2025-07-15",
        "2026-07-15",
        AHS,
        id="prev-H02-yearly",
    ),
    pytest.param(
        dog("2024-06-30"), "2025-01-29", [], "2025-01-29", "2025-07-29", AHS, id="prev-H03-no-pretest"
    ),
    pytest.param(dog("2024-06-30"), "2025-01-30", [], "2025-01-30", "2025-01-30", AHS, id="prev-H03-pretest"),
]


@pytest.mark.parametrize(("who", "start", "days", "on", "target", "source"), PROTECTED)
def test_heartworm_tests_follow_the_start(who, start, days, on, target, source):
    what = history(tests=both_tests(*days), supplies=(supply(start, count=36),))
    assert due(who, what, on, HW).target == day(target), source


@pytest.mark.parametrize("source", [pytest.param("AHS/CAPC annual (A)", id="prev-H06")])
def test_a_leap_day_test_is_due_on_the_last_of_february(source):
    item = due(dog("2020-05-01"), history(tests=both_tests("2024-02-29")), "2025-02-01", HW)
    assert item.target == day("2025-02-28"), source


@pytest.mark.parametrize(
    ("given", "interval", "following", "source"),
    [
        pytest.param("2025-01-31", "30 d", "2025-03-02", "label unit (C)", id="prev-H08-days"),
        pytest.param("2025-01-31", "1 mo", "2025-02-28", "label unit (C)", id="prev-H08-monthly"),
        pytest.param("2025-03-03", "12 wk", "2025-05-26", "label unit (C)", id="prev-H09"),
        pytest.param("2025-03-03", "3 mo", "2025-06-03", "label unit (C)", id="prev-H09-wrong-unit"),
        pytest.param("2025-08-31", "6 mo", "2026-02-28", "label unit (C)", id="prev-H10"),
        pytest.param("2025-08-31", "12 mo", "2026-08-31", "label unit (C)", id="prev-H10-year"),
    ],
)
def test_a_preventive_lasts_by_its_label_unit(given, interval, following, source):
    what = history(supplies=(supply(given, interval),))
    assert due(dog("2022-01-01"), what, given, "dog_heartworm_prevention").target == day(following), source


@pytest.mark.parametrize(
    ("option", "target", "source"),
    [
        pytest.param("yearly", "2026-03-10", "AHS 2024 feline (A)", id="prev-H11"),
        pytest.param("before_prevention", None, "CAPC (A)", id="prev-H11-capc"),
    ],
)
def test_a_cat_heartworm_test(option, target, source):
    what = history(tests=(result("heartworm_ag", "2025-03-10"), result("heartworm_ab", "2025-03-10")))
    item = due(cat("2020-01-01"), what, "2025-03-10", "cat_heartworm_test", under(cat_heartworm_test=option))
    assert item.target == day(target), source


@pytest.mark.parametrize(
    ("who", "code", "given", "option", "target", "source"),
    [
        pytest.param(
            dog("2025-01-06"),
            "dog_faecal_test",
            "2025-03-03",
            "twice_a_year",
            "2025-06-03",
            "CAPC general (derived)",
            id="prev-P01",
        ),
        pytest.param(
            dog("2020-01-06"),
            "dog_faecal_test",
            "2025-04-15",
            "twice_a_year",
            "2025-10-15",
            "CAPC (derived)",
            id="prev-P03-dog",
        ),
        pytest.param(
            dog("2020-01-06"),
            "dog_faecal_test",
            "2025-04-15",
            "yearly",
            "2026-04-15",
            "AAHA 2019; AAHA-AVMA (derived)",
            id="prev-P03-dog-yearly",
        ),
        pytest.param(
            cat("2020-01-06"),
            "cat_faecal_test",
            "2025-04-15",
            "twice_a_year",
            "2025-10-15",
            "CAPC (derived)",
            id="prev-P03-cat",
        ),
        pytest.param(
            cat("2020-01-06"),
            "cat_faecal_test",
            "2025-04-15",
            "yearly",
            "2026-04-15",
            "AAHA-AVMA (derived)",
            id="prev-P03-cat-yearly",
        ),
    ],
)
def test_faecal_tests(who, code, given, option, target, source):
    what = history(tests=(result("faecal", given),))
    assert due(who, what, given, code, under(faecal_adult=option)).target == day(target), source


@pytest.mark.parametrize("source", [pytest.param("CAPC general (A)", id="prev-P08")])
def test_the_tick_borne_test_is_yearly(source):
    what = history(tests=(result("tickborne", "2025-06-01"),))
    item = due(dog("2020-01-01"), what, "2025-06-01", "dog_tickborne_test")
    assert item.target == day("2026-06-01"), source


PUP_DAYS = ["2025-02-28", "2025-03-14", "2025-03-28", "2025-04-11", "2025-05-11"]


@pytest.mark.parametrize(
    ("option", "weaned", "days", "source"),
    [
        pytest.param("capc", None, PUP_DAYS, "CAPC; AAHA 2019 (A)", id="prev-P04"),
        pytest.param(
            "esccap",
            "2025-04-04",
            [*PUP_DAYS, "2025-06-11", "2025-07-11", "2025-08-11"],
            "ESCCAP GL1 6th ed. 2021 (A)",
            id="prev-P06",
        ),
    ],
)
def test_pups_are_dewormed_by_plan(option, weaned, days, source):
    rules = under(deworming=option)
    young = rules.rules.deworming["dog_deworming"].young
    planned = young_plan(rules.calendar, day("2025-02-14"), young, day(weaned))
    assert [each.isoformat() for each in planned][: len(days)] == days, source
    assert option == "capc" or len(planned) == len(days), source


@pytest.mark.parametrize("option", ["capc", "esccap"])
@pytest.mark.parametrize("source", [pytest.param("CAPC; ESCCAP GL1 (A)", id="prev-P04-kept")])
def test_treatments_on_time_follow_the_plan(option, source):
    who = dog("2025-02-14", weaned_on="2025-04-04")
    for n, following in enumerate(PUP_DAYS):
        treated = tuple(Treatment("deworming", day(each)) for each in PUP_DAYS[:n])
        on = PUP_DAYS[n - 1] if n else "2025-02-14"
        item = due(who, history(treatments=treated), on, "dog_deworming", under(deworming=option))
        assert item.target == day(following), source


@pytest.mark.parametrize(
    ("yes", "target", "source"),
    [
        pytest.param((), "2025-06-30", "ESCCAP GL1: at least 4 per year (B)", id="prev-P07"),
        pytest.param(("small_children",), "2025-04-30", "ESCCAP GL1: monthly (B)", id="prev-P07-children"),
    ],
)
def test_adults_are_dewormed_by_risk(yes, target, source):
    what = history(treatments=(Treatment("deworming", day("2025-03-31")),))
    item = due(dog("2020-01-01", *yes), what, "2025-03-31", "dog_deworming", under(deworming="esccap"))
    assert dates(item, "target") == (target,), source
