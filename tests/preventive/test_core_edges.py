"""The edges of the schedule's rules: the last day and the day after, one dose more, one word of proof."""

import re
from datetime import date, timedelta

import pytest

from preventive.dates import PartialDate, Precision, Span, day_after, days_before
from preventive.due import Action, Standing, overdue_days, standing
from preventive.facts import DoseSource
from preventive.schedule import due_items
from tests.preventive.build import (
    CAT_CORE,
    DOG_CORE,
    cat,
    core,
    dates,
    day,
    dog,
    dose,
    due,
    history,
    rabies,
    under,
)

GROWN = "2020-01-06"
LEPTO = {"kind": "inactivated"}


def lepto(*days, **facts):
    return tuple(dose(on, "Leptospira", **LEPTO, **facts) for on in days)


def uncounted(item):
    return [(each.given.value.isoformat(), each.code) for each in item.uncounted]


# --- days and words -----------------------------------------------------------------------------------------


def test_the_day_before_and_the_day_after():
    assert days_before(date(2024, 3, 1), 1) == date(2024, 2, 29)
    assert days_before(date(2025, 3, 31), 30) == date(2025, 3, 1)
    assert day_after(date(2024, 2, 29)) == date(2024, 3, 1)


@pytest.mark.parametrize(("span", "words"), [("1 mo", "1 month"), ("2 mo", "2 months"), ("0 d", "0 days")])
def test_one_is_said_as_one(span, words):
    assert Span.parse(span).words == words


def test_thirty_days_before_it_is_due_soon_and_may_be_done():
    """Status bands (ours): due soon from 30 days before, due on the day, overdue the day after."""
    given = history(*core("2022-03-10", "2022-04-07", "2023-04-07"))
    target = date(2026, 4, 7)
    found = {}
    for ahead in (31, 30, 1, 0, -1):
        on = target - timedelta(days=ahead)
        item = due(dog(GROWN), given, on.isoformat(), "dog_core:CPV")
        found[ahead] = (standing(item, on), item.action, overdue_days(item, on))
    assert found == {
        31: (Standing.UPCOMING, Action.WAIT, 0),
        30: (Standing.DUE_SOON, Action.ONE_DOSE, 0),
        1: (Standing.DUE_SOON, Action.ONE_DOSE, 0),
        0: (Standing.DUE, Action.ONE_DOSE, 0),
        -1: (Standing.OVERDUE, Action.ONE_DOSE, 1),
    }


# --- which doses count --------------------------------------------------------------------------------------


def test_a_word_or_a_paper_is_enough_for_what_no_law_asks():
    """Unproven rabies doses do not count legally (C); the owner's word alone counts nowhere (ours)."""
    ways = {
        "outside, no paper": {"source": DoseSource.OUTSIDE, "proof": False, "lot": ""},
        "owner with a paper": {"source": DoseSource.OWNER, "proof": True, "lot": ""},
        "owner's word": {"source": DoseSource.OWNER, "proof": False, "lot": ""},
    }
    codes = {}
    for name, facts in ways.items():
        what = history(*core("2025-03-10", **facts), rabies("2025-03-10", **facts))
        codes[name] = tuple(
            [code for _, code in uncounted(due(dog(GROWN), what, "2025-04-01", item))]
            for item in ("dog_core:CPV", "rabies")
        )
    assert codes == {
        "outside, no paper": ([], ["unproven"]),
        "owner with a paper": ([], []),
        "owner's word": (["hearsay"], ["unproven"]),
    }


def test_a_veterinarian_who_refuses_a_dose_says_why_beside_it():
    refused = core("2025-03-10", decision=False, decision_reason="The vial was warm.")
    (each,) = due(dog(GROWN), history(*refused), "2025-04-01", "dog_core:CPV").uncounted
    assert each.code == "vet_refused"
    assert each.text.endswith("The vial was warm.")
    early = core("2025-03-10", "2025-03-15", decision=None, decision_reason="never said")
    (each,) = due(dog(GROWN), history(*early), "2025-04-01", "dog_core:CPV").uncounted
    assert "never said" not in each.text


def test_a_dose_keeps_its_distance_from_the_last_one_not_from_the_first():
    """Minimum gap 2 weeks between doses (C)."""
    item = due(
        dog(GROWN), history(*core("2025-03-03", "2025-03-23", "2025-03-28")), "2025-04-01", "dog_core:CPV"
    )
    assert uncounted(item) == [("2025-03-28", "too_soon")]


@pytest.mark.parametrize(("second", "counts"), [("2025-03-16", False), ("2025-03-17", True)])
def test_fourteen_days_are_enough_and_thirteen_are_not(second, counts):
    item = due(dog(GROWN), history(*core("2025-03-03", second)), "2025-04-01", "dog_core:CPV")
    assert (uncounted(item) == []) is counts


# --- the initial series -------------------------------------------------------------------------------------


# prev-L02 (A): outside limit six weeks after the first dose, 2025-05-12
@pytest.mark.parametrize(("second", "then"), [("2025-05-12", Action.ONE_DOSE), ("2025-05-13", Action.GO_ON)])
def test_on_the_last_day_the_series_goes_on_and_the_day_after_it_begins_again(second, then):
    item = due(dog(GROWN), history(*lepto("2025-03-31", second)), second, "dog_leptospira")
    assert item.then is then


# AAHA 2017 (B): up to 18 months since the last dose one dose; more than 18 months two
@pytest.mark.parametrize(("on", "action"), [("2025-07-15", Action.ONE_DOSE), ("2025-07-16", Action.RESTART)])
def test_a_lapsed_booster_is_one_dose_up_to_the_limit(on, action):
    what = history(*lepto("2022-12-15", "2023-01-15", "2024-01-15"))
    assert due(dog(GROWN), what, on, "dog_leptospira").action is action


# prev-D03 (A): a dose before 2025-04-28 (16 weeks) cannot finish the series
@pytest.mark.parametrize(
    ("last", "sequence"), [("2025-04-27", "initial 4"), ("2025-04-28", "booster"), ("2025-04-29", "booster")]
)
def test_a_dose_on_the_day_of_sixteen_weeks_ends_the_series_and_the_day_before_does_not(last, sequence):
    what = history(*core("2025-03-03", "2025-03-31", last))
    assert str(due(dog("2025-01-06"), what, last, "dog_core:CPV").sequence) == sequence


def test_two_of_three_doses_end_nothing_but_from_sixteen_weeks_two_do():
    young = due(dog("2025-01-06"), history(*core("2025-03-03", "2025-03-31")), "2025-04-01", "dog_core:CPV")
    assert str(young.sequence) == "initial 3"
    late = due(dog(GROWN), history(*core("2025-03-03", "2025-03-31")), "2025-04-01", "dog_core:CPV")
    assert str(late.sequence) == "booster"


# prev-D08 (C): high risk, one more last dose from 18 to 20 weeks, 2025-05-12 to 2025-05-26
@pytest.mark.parametrize(("last", "sequence"), [("2025-05-11", "initial 4"), ("2025-05-12", "booster")])
def test_the_extra_dose_ends_the_series_from_its_first_day_on(last, sequence):
    what = history(*core("2025-03-03", "2025-03-31", last))
    who = dog("2025-01-06", "high_risk_place")
    assert str(due(who, what, last, "dog_core:CPV").sequence) == sequence


def test_a_booster_too_soon_after_the_series_is_one_more_dose_of_it():
    """The first booster counts from the last dose of the series; one given early moves it."""
    series = ("2025-03-03", "2025-03-31", "2025-04-28")
    soon = due(dog("2025-01-06"), history(*core(*series, "2025-05-26")), "2025-05-26", "dog_core:CPV")
    assert dates(soon, "target") == ("2026-05-26",)
    yearly = due(dog("2025-01-06"), history(*core(*series, "2026-04-28")), "2026-04-28", "dog_core:CPV")
    assert dates(yearly, "target") == ("2029-04-28",)


# WSAVA 2016 T1 (A): one live dose is considered protective from 16 weeks; another kind needs two
def test_one_live_dose_is_enough_where_the_clinic_says_so_and_another_kind_is_not():

    rules = under(dog_core_late_start="one_live")
    given = {kind: history(*core("2025-03-15", kind=kind)) for kind in ("live", "inactivated")}
    sequences = {
        kind: str(due(dog(GROWN), what, "2025-03-15", "dog_core:CPV", rules).sequence)
        for kind, what in given.items()
    }
    assert sequences == {"live": "booster", "inactivated": "initial 2"}


def test_the_order_of_a_day_known_only_to_the_month_is_its_first_day():
    """A month-only dose may lie late enough: it is not refused at once (ours)."""
    what = history(dose("2025-03-05", *DOG_CORE), dose("2025-03-05", *DOG_CORE, precision="month"))
    item = due(dog(GROWN), what, "2025-04-01", "dog_core:CPV")
    assert len(item.uncounted) <= 1
    assert item.last_on in {day("2025-03-01"), day("2025-03-05")}


def test_every_item_of_the_species_and_none_of_the_other_once_and_in_order():

    for who, mine, other in ((dog(GROWN), "dog_", "cat_"), (cat(GROWN), "cat_", "dog_")):
        codes = [each.code for each in due_items(who, history(), under(), date(2025, 4, 1))]
        assert codes[0] == "rabies"
        assert len(codes) == len(set(codes)) > 12
        assert all(code.startswith(mine) for code in codes[1:]), codes
        assert not any(code.startswith(other) for code in codes)
    assert due(cat(GROWN), history(*core("2025-03-10", antigens=CAT_CORE)), "2025-03-10", "rabies")


# AAHA 2022 (C): the extra dose belongs to the first year
@pytest.mark.parametrize(("on", "sequence"), [("2026-01-05", "initial 4"), ("2026-01-06", "booster")])
def test_from_its_first_birthday_a_missed_extra_dose_is_no_longer_asked_for(on, sequence):
    what = history(*core("2025-03-03", "2025-03-31", "2025-04-28"))
    assert str(due(dog("2025-01-06", "high_risk_place"), what, on, "dog_core:CPV").sequence) == sequence


def test_old_enough_alone_makes_no_first_booster_of_a_dose_too_soon_after_the_series():
    what = history(*core("2025-03-03", "2025-03-31", "2025-04-28"))
    assert dates(due(dog(GROWN), what, "2025-04-28", "dog_core:CPV"), "target") == ("2026-04-28",)


def test_a_second_dose_known_to_the_month_is_late_where_it_may_have_been():
    """The cautious reading: 31 May lies past the outside limit of 2025-05-12."""
    what = history(*lepto("2025-03-31"), *lepto("2025-05-20", precision="month"))
    assert due(dog(GROWN), what, "2025-06-01", "dog_leptospira").then is Action.GO_ON


# --- days are said as people say them -----------------------------------------------------------------------


@pytest.mark.parametrize("animal", [dog("2018-01-06"), dog("2025-01-06"), cat("2025-01-06")])
@pytest.mark.parametrize("on", ["2025-04-10", "2025-06-30", "2029-06-30"])
def test_no_reason_shows_a_day_as_a_machine_writes_it(animal, on):
    given = core("2025-03-03", "2025-03-31", antigens=CAT_CORE if animal.species == "cat" else DOG_CORE)
    said = []
    for item in due_items(animal, history(*given, *lepto("2025-03-31")), under(), day(on)):
        said += [each.text for each in (*item.why, *item.needs, *item.changes)]
    assert said
    assert not [each for each in said if re.search(r"\d{4}-\d\d", each)]


@pytest.mark.parametrize(("precision", "words"), [("day", "9 February 2024"), ("month", "February 2024")])
def test_a_half_known_day_is_said_as_exactly_as_it_is_known(precision, words):
    assert PartialDate(date(2024, 2, 9), Precision(precision)).words == words
    assert PartialDate(date(2024, 2, 9), Precision.YEAR).words == "2024"
