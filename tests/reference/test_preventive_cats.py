"""Published schedules for cats: core, leukaemia, injection-site lumps, retrovirus tests."""

import pytest

from preventive.due import Action, Standing, standing
from preventive.sites import lump_checks, lump_wants_biopsy
from tests.preventive.build import CAT_CORE, cat, core, dates, day, dose, due, history, result, under

KITTEN = "2025-04-07"
CODES = {"FPV": "cat_panleukopenia", "FHV-1": "cat_respiratory:FHV-1", "FCV": "cat_respiratory:FCV"}
SERIES = core("2025-06-02", "2025-06-30", "2025-07-28", antigens=CAT_CORE)
INDOOR = ("outdoor", "meets_felv", "boards_or_multicat")


@pytest.mark.parametrize("antigen", CAT_CORE)
@pytest.mark.parametrize(
    ("option", "target", "source"),
    [
        pytest.param("wsava_26_weeks", "2025-10-06", "WSAVA 2016/2024 (A, C)", id="prev-F01-26-weeks"),
        pytest.param("six_months", "2025-10-07", "AAHA/AAFP 2020 (A, C)", id="prev-F01-6-months"),
        pytest.param("one_year", "2026-07-28", "AAHA/AAFP 2020 (A, C)", id="prev-F01-1-year"),
    ],
)
def test_the_first_core_booster(antigen, option, target, source):
    rules = under(cat_core_first_booster=option)
    item = due(cat(KITTEN), history(*SERIES), "2025-07-28", CODES[antigen], rules)
    assert item.target == day(target), source


@pytest.mark.parametrize("antigen", CAT_CORE)
@pytest.mark.parametrize(
    ("days", "earliest", "target", "source"),
    [
        pytest.param(["2025-03-01"], "2025-03-22", "2025-03-29", "AAHA/AAFP 2020; WSAVA (A)", id="prev-F03"),
        pytest.param(
            ["2025-03-01", "2025-03-29"], None, "2026-03-29", "AAHA/AAFP 2020; WSAVA (A)", id="prev-F03-two"
        ),
        pytest.param(
            ["2025-03-01", "2025-03-29", "2026-03-29"],
            None,
            "2029-03-29",
            "AAHA/AAFP 2020; WSAVA (A)",
            id="prev-F03-booster",
        ),
    ],
)
def test_an_adult_never_vaccinated(antigen, days, earliest, target, source):
    doses = core(*days, antigens=CAT_CORE)
    item = due(cat("2020-02-01", no=INDOOR), history(*doses), days[-1], CODES[antigen])
    assert dates(item, "earliest", "target") == (earliest, target), source


@pytest.mark.parametrize("antigen", CAT_CORE)
@pytest.mark.parametrize("source", [pytest.param("WSAVA 2016 T3; AAHA/AAFP 2020 (A)", id="prev-F05")])
def test_low_risk_is_due_every_three_years(antigen, source):
    doses = core("2021-03-01", "2021-03-29", "2022-05-20", "2025-05-20", antigens=CAT_CORE)
    item = due(cat("2020-10-05", no=INDOOR), history(*doses), "2025-05-20", CODES[antigen])
    assert item.target == day("2028-05-20"), source


@pytest.mark.parametrize("source", [pytest.param("WSAVA 2016 T3 (A)", id="prev-F05-risk")])
def test_higher_risk_is_due_yearly_for_respiratory_viruses(source):
    doses = core("2021-03-01", "2021-03-29", "2022-05-20", "2025-05-20", antigens=CAT_CORE)
    who = cat("2020-10-05", "boards_or_multicat")
    targets = {a: due(who, history(*doses), "2025-05-20", CODES[a]).target for a in CAT_CORE}
    assert targets == {
        "FPV": day("2028-05-20"),
        "FHV-1": day("2026-05-20"),
        "FCV": day("2026-05-20"),
    }, source


FELV = [dose(on, "FeLV", kind="recombinant") for on in ("2025-06-02", "2025-06-30", "2026-06-30")]


@pytest.mark.parametrize(
    ("who", "target", "stands", "source"),
    [
        pytest.param(
            cat(KITTEN, "outdoor", no=["meets_felv"]),
            "2027-06-30",
            Standing.UPCOMING,
            "AAHA/AAFP 2020 FAQ (A)",
            id="prev-F07-risk",
        ),
        pytest.param(
            cat(KITTEN, no=INDOOR),
            None,
            Standing.NOT_APPLICABLE,
            "AAHA/AAFP 2020 FAQ (A)",
            id="prev-F07-indoor",
        ),
    ],
)
def test_leukaemia_after_the_first_booster(who, target, stands, source):
    item = due(who, history(*FELV), "2026-06-30", "cat_leukaemia")
    assert (item.target, standing(item, day("2026-06-30"))) == (day(target), stands), source


@pytest.mark.parametrize("source", [pytest.param("AAHA/AAFP 2020 (A)", id="prev-F08")])
def test_leukaemia_is_not_listed_for_an_indoor_adult(source):
    item = due(cat("2023-06-01", no=INDOOR), history(), "2026-06-30", "cat_leukaemia")
    assert (item.applies, item.target, item.action) == (False, None, Action.NONE), source


@pytest.mark.parametrize(
    ("code", "antigen", "source"),
    [
        pytest.param("cat_leukaemia", "FeLV", "AAFP 2013 table; AAHA/AAFP 2020 (A)", id="prev-F11-leukaemia"),
        pytest.param("cat_chlamydia", "Chlamydia", "AAFP 2013 table; AAHA/AAFP 2020 (A)", id="prev-F11"),
    ],
)
def test_a_risk_series_of_two(code, antigen, source):
    who = cat("2022-01-10", "meets_felv", "multicat_disease", "outdoor")
    first = dose("2025-07-14", antigen, kind="inactivated")
    item = due(who, history(first), "2025-07-14", code)
    assert dates(item, "earliest", "latest") == ("2025-08-04", "2025-08-11"), source
    both = history(first, dose("2025-08-11", antigen, kind="inactivated"))
    assert due(who, both, "2025-08-11", code).target == day("2026-08-11"), source


@pytest.mark.parametrize(
    ("on", "size", "growing", "biopsy", "source"),
    [
        pytest.param("2025-04-30", 1.0, True, True, "VAFSTF/AAFP 3-2-1 rule (A)", id="prev-F12-growing"),
        pytest.param("2025-04-29", 1.0, True, False, "VAFSTF/AAFP 3-2-1 rule (A)", id="prev-F12-before"),
        pytest.param("2025-06-30", 1.0, False, True, "VAFSTF/AAFP 3-2-1 rule (A)", id="prev-F12-present"),
        pytest.param("2025-06-29", 2.0, False, False, "VAFSTF/AAFP 3-2-1 rule (A)", id="prev-F12-two"),
        pytest.param("2025-04-02", 2.1, False, True, "VAFSTF/AAFP 3-2-1 rule (A)", id="prev-F12-large"),
    ],
)
def test_an_injection_site_lump(on, size, growing, biopsy, source):
    checks = lump_checks(under(), day("2025-03-31"))
    assert (checks.growing_on, checks.present_on) == (day("2025-04-30"), day("2025-06-30")), source
    assert lump_wants_biopsy(checks, day(on), largest_cm=size, growing=growing) is biopsy, source


@pytest.mark.parametrize(
    ("code", "kind", "repeat", "source"),
    [
        pytest.param("cat_felv_test", "felv_ag", "2025-05-31", "AAFP 2010/2020 (A)", id="prev-F13-felv"),
        pytest.param("cat_fiv_test", "fiv_ab", "2025-06-30", "AAFP 2010/2020 (A)", id="prev-F13-fiv"),
    ],
)
def test_a_negative_test_is_repeated_after_the_last_possible_exposure(code, kind, repeat, source):
    item = due(cat("2022-01-10"), history(tests=(result(kind, "2025-05-01"),)), "2025-05-01", code)
    assert dates(item, "earliest") == (repeat,), source


@pytest.mark.parametrize("source", [pytest.param("AAFP 2020 (A; this case C, from memory)", id="prev-F14")])
def test_a_positive_kitten_is_tested_again_at_six_months(source):
    what = history(tests=(result("fiv_ab", "2025-06-16", True),))
    item = due(cat(KITTEN), what, "2025-06-16", "cat_fiv_test")
    assert (item.earliest, item.then) == (day("2025-10-07"), Action.TEST), source
    assert item.why[0].certainty == "A", source
