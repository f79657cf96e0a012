"""Life stages, exams, birthdays on 29 February, refusals, and doses with impossible dates."""

import pytest

from preventive.case import Case
from preventive.dates import Calendar, Span
from preventive.due import Action, Standing, standing
from preventive.facts import Decline
from preventive.lifestages import life_stage
from tests.preventive.build import cat, core, dates, day, dog, dose, due, history, under

FELINE = "AAHA/AAFP 2021 (A)"


@pytest.mark.parametrize(
    ("birth", "on", "option", "stage", "source"),
    [
        pytest.param("2018-03-15", "2025-03-14", "ten_and_older", "young_adult", FELINE, id="prev-V01-six"),
        pytest.param(
            "2018-03-15", "2025-03-15", "ten_and_older", "mature_adult", FELINE, id="prev-V01-seven"
        ),
        pytest.param("2015-03-15", "2025-03-15", "ten_and_older", "senior", FELINE, id="prev-V02-cautious"),
        pytest.param("2015-03-15", "2025-03-15", "over_ten", "mature_adult", FELINE, id="prev-V02-text"),
        pytest.param("2015-03-15", "2026-03-15", "over_ten", "senior", FELINE, id="prev-V02-eleven"),
        pytest.param("2015-03-15", "2026-03-15", "ten_and_older", "senior", FELINE, id="prev-V02-eleven-too"),
        pytest.param(
            "2024-02-29", "2025-02-27", "over_ten", "kitten", "date rule (ours)", id="prev-V04-kitten"
        ),
        pytest.param(
            "2024-02-29", "2025-02-28", "over_ten", "young_adult", "date rule (ours)", id="prev-V04-adult"
        ),
    ],
)
def test_cat_life_stages(birth, on, option, stage, source):
    found = life_stage(Case(cat(birth), history(), under(senior_cat=option), day(on)))
    assert found.code == stage, source


@pytest.mark.parametrize(
    ("years", "age_limit", "gate", "source"),
    [
        pytest.param(1, "2025-02-28", "2025-03-01", "date rule (ours)", id="prev-V04"),
        pytest.param(4, "2028-02-29", "2028-02-29", "date rule (ours)", id="prev-V04-true-birthday"),
    ],
)
def test_a_leap_day_birthday(years, age_limit, gate, source):
    span = Span.parse(f"{years} yr")
    assert Calendar().due(day("2024-02-29"), span) == day(age_limit), source
    assert Calendar().gate(day("2024-02-29"), span) == day(gate), source


@pytest.mark.parametrize(
    ("birth", "exam", "window", "source"),
    [
        pytest.param(
            "2023-04-10",
            "2025-05-10",
            ("2025-11-10", "2026-05-10"),
            "AAHA 2019 checklist (A)",
            id="prev-V05",
        ),
        pytest.param(
            "2025-01-06",
            "2025-03-03",
            ("2025-03-24", "2025-03-31"),
            "AAHA 2019 checklist (A)",
            id="prev-V06",
        ),
    ],
)
def test_the_next_exam(birth, exam, window, source):
    item = due(dog(birth), history(exams=(day(exam),)), exam, "dog_exam")
    assert dates(item, "earliest", "latest") == window, source


@pytest.mark.parametrize("source", [pytest.param("record rule (ours)", id="prev-M04")])
def test_a_refusal_is_declined_and_not_overdue(source):
    refused = Decline("dog_leptospira", day("2025-05-10"), day("2026-05-10"), "The owner fears a reaction.")
    item = due(dog("2022-01-01"), history(declines=(refused,)), "2025-05-10", "dog_leptospira")
    assert standing(item, day("2026-05-09")) is Standing.DECLINED, source
    assert standing(item, day("2026-05-10")) is Standing.OVERDUE, source
    assert (item.action, item.recheck_on) == (Action.WAIT, day("2026-05-10")), source
    assert (item.pause.reason, item.pause.since) == (refused.reason, refused.on), source


@pytest.mark.parametrize(
    ("given", "code", "source"),
    [
        pytest.param("2025-01-05", "before_birth", "date rule (ours)", id="prev-M05-before-birth"),
        pytest.param("2025-03-04", "future", "date rule (ours)", id="prev-M05-tomorrow"),
    ],
)
def test_impossible_dates_are_rejected(given, code, source):
    what = history(*core("2025-03-03"), dose(given, "CPV"))
    item = due(dog("2025-01-06"), what, "2025-03-03", "dog_core:CPV")
    assert [entry.code for entry in item.uncounted] == [code], source
    assert item.last_on == day("2025-03-03"), source
