"""Published schedules for dogs: core, leptospirosis, Lyme disease, kennel cough."""

import pytest

from preventive.due import Action, Standing, overdue_days, standing
from tests.preventive.build import DOG_CORE, core, dates, day, dog, dose, due, history, under

PUP = "2025-01-06"
SERIES = core("2025-03-03", "2025-03-31", "2025-04-28")
WSAVA_26 = {"dog_core_first_booster": "wsava_26_weeks"}
AAHA_T1 = "AAHA 2022; WSAVA 2016 T1"
LEPTO = "dog_leptospira"

CORE_DATES = [
    # birth, core doses, as of, chosen, earliest, target, latest, source
    pytest.param(
        PUP, (), "2025-02-10", {}, "2025-02-17", "2025-03-03", "2025-03-03", f"{AAHA_T1} (A)", id="prev-D01"
    ),
    pytest.param(
        PUP,
        core("2025-03-03"),
        "2025-03-03",
        {},
        "2025-03-17",
        "2025-03-31",
        "2025-03-31",
        f"{AAHA_T1} (A)",
        id="prev-D02",
    ),
    pytest.param(
        PUP,
        core("2025-03-03", "2025-03-31"),
        "2025-03-31",
        {},
        "2025-04-14",
        "2025-04-28",
        "2025-04-28",
        f"{AAHA_T1} (A)",
        id="prev-D03",
    ),
    pytest.param(
        PUP, SERIES, "2025-04-28", {}, None, "2026-04-28", "2026-04-28", "AAHA 2022 (A, C)", id="prev-D04"
    ),
    pytest.param(
        PUP,
        (*SERIES, *core("2026-04-28")),
        "2026-04-28",
        {},
        None,
        "2029-04-28",
        "2029-04-28",
        f"{AAHA_T1} (A)",
        id="prev-D07",
    ),
    pytest.param(
        PUP, SERIES, "2025-04-28", WSAVA_26, None, "2025-07-07", "2025-07-07", "WSAVA 2024 (B)", id="prev-D12"
    ),
    pytest.param(
        PUP,
        (*SERIES, *core("2025-07-07")),
        "2025-07-07",
        WSAVA_26,
        None,
        "2028-07-07",
        "2028-07-07",
        "WSAVA 2024 (B)",
        id="prev-D12-given",
    ),
    pytest.param(
        PUP,
        core("2025-03-03", "2025-03-10"),
        "2025-03-10",
        {},
        "2025-03-24",
        "2025-04-07",
        "2025-04-07",
        "minimum interval of 2 weeks (ours)",
        id="prev-D15",
    ),
]


@pytest.mark.parametrize("antigen", DOG_CORE)
@pytest.mark.parametrize(
    ("birth", "doses", "on", "chosen", "earliest", "target", "latest", "source"), CORE_DATES
)
def test_core_dates(antigen, birth, doses, on, chosen, earliest, target, latest, source):
    item = due(dog(birth), history(*doses), on, f"dog_core:{antigen}", under(**chosen))
    assert dates(item, "earliest", "target", "latest") == (earliest, target, latest), source


CORE_LATE = [
    # birth, doses, as of, chosen, due, days overdue, action, given that day: next, source
    pytest.param(
        PUP,
        core("2025-02-17", "2025-03-17", "2025-04-14"),
        "2025-07-07",
        {},
        "2025-05-12",
        56,
        Action.GO_ON,
        "2026-07-07",
        "AAHA 2022; MLV not restarted (ours)",
        id="prev-D06",
    ),
    pytest.param(
        "2018-11-05",
        core("2019-01-07", "2019-02-04", "2019-03-04", "2020-03-04", "2020-05-10"),
        "2025-06-01",
        {},
        "2023-05-10",
        753,
        Action.ONE_DOSE,
        "2028-06-01",
        "WSAVA 2016/2024 adult rule; AAHA (C, from memory)",
        id="prev-D11",
    ),
    pytest.param(
        PUP,
        SERIES,
        "2026-01-06",
        WSAVA_26,
        "2025-07-07",
        183,
        Action.ONE_DOSE,
        "2029-01-06",
        "WSAVA 2024 (C, from memory)",
        id="prev-D13",
    ),
]


@pytest.mark.parametrize(
    ("birth", "doses", "on", "chosen", "target", "late", "action", "following", "source"), CORE_LATE
)
def test_a_late_core_dose_is_one_dose(birth, doses, on, chosen, target, late, action, following, source):
    rules, who = under(**chosen), dog(birth)
    item = due(who, history(*doses), on, "dog_core:CPV", rules)
    assert (item.target, overdue_days(item, day(on)), item.action) == (day(target), late, action), source
    given = due(who, history(*doses, *core(on)), on, "dog_core:CPV", rules)
    assert given.target == day(following), source


@pytest.mark.parametrize("source", [pytest.param(f"{AAHA_T1} (A)", id="prev-D03-early")])
def test_a_dose_before_16_weeks_ends_no_series(source):
    doses = core("2025-03-03", "2025-03-31", "2025-04-27")
    item = due(dog(PUP), history(*doses), "2025-04-27", "dog_core:CPV")
    assert str(item.sequence) == "initial 4", source


@pytest.mark.parametrize("source", [pytest.param("AAHA 2022 (C, from memory)", id="prev-D08")])
def test_high_risk_asks_for_one_more_last_dose(source):
    who = dog(PUP, "high_risk_place")
    item = due(who, history(*SERIES), "2025-04-28", "dog_core:CPV")
    assert dates(item, "earliest", "latest") == ("2025-05-12", "2025-05-26"), source
    given = due(who, history(*SERIES, *core("2025-05-20")), "2025-05-20", "dog_core:CPV")
    assert given.target == day("2026-05-20"), source


@pytest.mark.parametrize(
    ("birth", "chosen", "kind", "sequence", "source"),
    [
        pytest.param(
            "2024-10-07",
            {"dog_core_late_start": "one_live"},
            "live",
            "booster",
            "WSAVA 2016 T1 (A)",
            id="prev-D10",
        ),
        pytest.param(
            "2024-10-07",
            {"dog_core_late_start": "one_live"},
            "inactivated",
            "initial 2",
            "WSAVA 2016 T1 (A): modified-live only",
            id="prev-D10-inactivated",
        ),
        pytest.param("2024-10-07", {}, "live", "initial 2", "AAHA 2022 (A)", id="prev-D10-aaha"),
    ],
)
def test_a_late_start(birth, chosen, kind, sequence, source):
    doses = core("2025-03-15", kind=kind)
    item = due(dog(birth), history(*doses), "2025-03-15", "dog_core:CDV", under(**chosen))
    assert str(item.sequence) == sequence, source


@pytest.mark.parametrize("source", [pytest.param("minimum interval of 2 weeks (ours)", id="prev-D15-flag")])
def test_a_dose_too_soon_is_flagged(source):
    item = due(dog(PUP), history(*core("2025-03-03", "2025-03-10")), "2025-03-10", "dog_core:CPV")
    assert [(u.code, str(u.given)) for u in item.uncounted] == [("too_soon", "2025-03-10")], source


OTHERS = [
    # code, animal, doses, as of, chosen, earliest, target, source
    pytest.param(
        LEPTO, dog(PUP), (), PUP, {}, "2025-03-31", "2025-03-31", "ACVIM 2023; AAHA (A)", id="prev-L01"
    ),
    pytest.param(
        LEPTO,
        dog(PUP),
        (),
        PUP,
        {"leptospira_first_age": "eight_weeks"},
        "2025-03-03",
        "2025-03-03",
        "WSAVA (A)",
        id="prev-L01-wsava",
    ),
    pytest.param(
        LEPTO,
        dog(PUP),
        ["2025-03-31"],
        "2025-03-31",
        {},
        "2025-04-14",
        "2025-04-28",
        "AAHA overdue FAQ (A)",
        id="prev-L02",
    ),
    pytest.param(
        LEPTO,
        dog(PUP),
        ["2025-03-31", "2025-05-20"],
        "2025-05-20",
        {},
        "2025-06-03",
        "2025-06-17",
        "AAHA overdue FAQ (A)",
        id="prev-L04",
    ),
    pytest.param(
        "dog_borrelia",
        dog("2024-12-02", "tick_exposure"),
        ["2025-02-10"],
        "2025-02-10",
        {},
        "2025-02-24",
        "2025-03-10",
        "AAHA 2022 (A, C)",
        id="prev-B01",
    ),
    pytest.param(
        "dog_borrelia",
        dog("2024-12-02", "tick_exposure"),
        ["2025-02-10", "2025-03-10"],
        "2025-03-10",
        {},
        None,
        "2026-03-10",
        "AAHA 2022 (A, C)",
        id="prev-B01-given",
    ),
]
ANTIGEN = {LEPTO: "Leptospira", "dog_borrelia": "Borrelia", "dog_bordetella": "Bordetella"}


@pytest.mark.parametrize(("code", "who", "days", "on", "chosen", "earliest", "target", "source"), OTHERS)
def test_inactivated_series(code, who, days, on, chosen, earliest, target, source):
    doses = [dose(given, ANTIGEN[code], kind="inactivated") for given in days]
    item = due(who, history(*doses), on, code, under(**chosen))
    assert dates(item, "earliest", "target") == (earliest, target), source


@pytest.mark.parametrize(
    ("on", "action", "source"),
    [
        pytest.param("2025-05-12", Action.GO_ON, "AAHA overdue FAQ (A)", id="prev-L02-limit"),
        pytest.param("2025-05-13", Action.RESTART, "AAHA overdue FAQ (A)", id="prev-L04-limit"),
        pytest.param("2025-05-20", Action.RESTART, "AAHA overdue FAQ (A)", id="prev-L04-action"),
    ],
)
def test_the_outside_limit_of_six_weeks(on, action, source):
    item = due(dog(PUP), history(dose("2025-03-31", "Leptospira")), on, LEPTO)
    assert item.action is action, source


YEARLY = [dose(on, "Leptospira") for on in ("2022-01-15", "2022-02-12", "2023-01-15", "2024-01-15")]
FIFTEEN = {"leptospira_lapse": "fifteen_months"}


@pytest.mark.parametrize(
    ("on", "chosen", "action", "source"),
    [
        pytest.param("2025-03-20", {}, Action.ONE_DOSE, "AAHA 2017 (A)", id="prev-L05"),
        pytest.param(
            "2025-05-01",
            FIFTEEN,
            Action.RESTART,
            "UK practice convention (C, from memory)",
            id="prev-L07-15-months",
        ),
        pytest.param(
            "2025-05-01", {}, Action.ONE_DOSE, "AAHA 2017 (C, from memory)", id="prev-L07-18-months"
        ),
        pytest.param(
            "2025-04-15", FIFTEEN, Action.ONE_DOSE, "UK practice convention (C)", id="prev-L07-15-end"
        ),
        pytest.param("2025-07-15", {}, Action.ONE_DOSE, "AAHA 2017 (C)", id="prev-L07-18-end"),
        pytest.param("2025-07-16", {}, Action.RESTART, "AAHA 2017 (C)", id="prev-L07-18-past"),
    ],
)
def test_a_lapsed_yearly_booster(on, chosen, action, source):
    item = due(dog("2021-10-01"), history(*YEARLY), on, LEPTO, under(**chosen))
    assert (item.target, item.action) == (day("2025-01-15"), action), source


@pytest.mark.parametrize("source", [pytest.param("AAHA 2017 (A)", id="prev-L05-given")])
def test_one_late_dose_carries_a_year(source):
    who = dog("2021-10-01")
    late = due(who, history(*YEARLY), "2025-03-20", LEPTO)
    assert overdue_days(late, day("2025-03-20")) == 64, source
    given = due(who, history(*YEARLY, dose("2025-03-20", "Leptospira")), "2025-03-20", LEPTO)
    assert given.target == day("2026-03-20"), source


@pytest.mark.parametrize(
    ("route", "earliest", "target", "source"),
    [
        pytest.param("IN", None, "2026-03-03", "AAHA 2022; WSAVA (A, C)", id="prev-B03"),
        pytest.param("SC", "2025-03-17", "2025-03-31", "AAHA 2022 (C, from memory)", id="prev-B04"),
        pytest.param("PO", None, "2026-03-03", "AAHA 2022 (C, from memory)", id="prev-B03-oral"),
    ],
)
def test_kennel_cough_by_route(route, earliest, target, source):
    given = dose("2025-03-03", "Bordetella", route=route)
    item = due(dog(PUP, "boarding"), history(given), "2025-03-03", "dog_bordetella")
    assert dates(item, "earliest", "target") == (earliest, target), source


@pytest.mark.parametrize("source", [pytest.param("AAHA 2022 (C, from memory)", id="prev-B05")])
def test_a_late_intranasal_dose_is_one_dose(source):
    who, first = dog("2020-02-03", "boarding"), dose("2023-09-12", "Bordetella", route="IN")
    late = due(who, history(first), "2025-05-12", "dog_bordetella")
    assert (late.target, late.action) == (day("2024-09-12"), Action.ONE_DOSE), source
    again = history(first, dose("2025-05-12", "Bordetella", route="IN"))
    assert due(who, again, "2025-05-12", "dog_bordetella").target == day("2026-05-12"), source
    assert standing(late, day("2025-05-12")) is Standing.OVERDUE
