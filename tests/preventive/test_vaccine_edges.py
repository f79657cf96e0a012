"""The edges of a vaccine's series and boosters: how many doses, from which day on, and what is said of it."""

from dataclasses import replace

import pytest

from preventive.dates import Precision, Span
from preventive.due import Action, Standing, standing
from preventive.facts import born
from tests.preventive.build import (
    cat,
    changes,
    core,
    dates,
    day,
    dog,
    dose,
    due,
    history,
    own,
    result,
    said,
    under,
)

PUP = "2025-01-06"  # 16 weeks: 2025-04-28; 26 weeks: 2025-07-07
GROWN = "2020-01-06"
CPV = "dog_core:CPV"
SERIES = ("2025-03-03", "2025-03-31", "2025-04-28")


# --- a late start -------------------------------------------------------------------------------------------


def test_a_first_dose_at_exactly_sixteen_weeks_is_followed_by_a_second():
    """AAHA 2022 says "older than 16 weeks" and "16 weeks and older": plan a second (derived)."""
    item = due(dog(PUP), history(*core("2025-04-28")), "2025-04-28", CPV)
    assert (str(item.sequence), item.then) == ("initial 2", Action.GO_ON)
    both = due(dog(PUP), history(*core("2025-04-28", "2025-05-26")), "2025-05-26", CPV)
    assert str(both.sequence) == "booster"


# Only early doses were given (ours): an early one and one grown are two of three
@pytest.mark.parametrize(("days", "sequence"), [(1, "initial 3"), (2, "booster")])
def test_after_early_doses_alone_the_count_of_three_goes_on(days, sequence):
    early = ("2025-03-03", "2025-03-31")[:days]
    item = due(dog(PUP), history(*core(*early, "2025-08-04")), "2025-08-04", CPV)
    assert str(item.sequence) == sequence


# WSAVA 2024 (C, from memory): one live dose is enough from 26 weeks on, before it two
@pytest.mark.parametrize(
    ("first", "kind", "sequence"),
    [
        ("2025-07-06", "live", "initial 2"),
        ("2025-07-07", "live", "booster"),
        ("2025-07-08", "live", "booster"),
        ("2025-07-08", "inactivated", "initial 2"),
    ],
)
def test_one_live_dose_is_enough_from_the_day_of_26_weeks(first, kind, sequence):
    rules = under(dog_core_late_start="one_live_26_weeks")
    item = due(dog(PUP), history(*core(first, kind=kind)), first, CPV, rules)
    assert str(item.sequence) == sequence


def test_a_late_start_is_said_from_its_first_day_with_the_number_of_doses():
    """AAHA 2022 (A): two doses from 16 weeks; WSAVA 2016 T1 (A): one live dose."""
    before, at = (due(dog(PUP), history(), on, CPV) for on in ("2025-04-27", "2025-04-28"))
    assert "Starts at" not in said(before)
    assert changes(before)["From 28 April 2025 (16 weeks of age) it is a late start."] == day("2025-04-28")
    assert before.recheck_on == day("2025-04-28")
    assert "Starts at 16 weeks or older: 2 doses." in said(at)
    assert changes(at) == {}
    one = due(dog(PUP), history(), "2025-04-28", CPV, under(dog_core_late_start="one_live"))
    assert "Starts late: one live dose from 16 weeks is enough, else 2." in said(one)
    assert "Starts late" not in said(due(dog(PUP), history(), "2025-04-28", "dog_leptospira"))


# --- the first dose -----------------------------------------------------------------------------------------


def test_the_first_dose_is_the_first_of_the_series_from_its_earliest_day():
    """AAHA 2022; WSAVA 2016 T1 (A): from 6 weeks, usually at 8."""
    item = due(dog(PUP), history(), "2025-02-16", CPV)
    assert (str(item.sequence), item.then, item.action) == ("initial 1", Action.START, Action.WAIT)
    assert "From 6 weeks, usually at 8 weeks." in said(item)
    assert due(dog(PUP), history(), "2025-02-17", CPV).action is Action.START


def test_the_first_dose_keeps_its_distance_from_one_that_does_not_count():
    """AAHA 2022 (C): at least two weeks between doses, whether the one before counts or not."""
    early = history(*core("2025-02-10"))  # five weeks of age
    item = due(dog(PUP), early, "2025-02-10", CPV)
    assert dates(item, "earliest", "target", "last_on") == ("2025-02-24", "2025-03-03", None)
    assert "2 weeks after the dose that does not count." in said(item)
    assert "does not count" not in said(due(dog(PUP), history(), "2025-02-10", CPV))
    long_before = history(*core("2025-01-27"))  # three weeks of age: six weeks are later than its distance
    assert due(dog(PUP), long_before, "2025-01-27", CPV).earliest == day("2025-02-17")
    spoilt = history(*core("2025-03-01", decision=False))
    item = due(dog(PUP), spoilt, "2025-03-01", CPV)
    assert dates(item, "earliest", "target", "latest") == ("2025-03-15", "2025-03-15", "2025-03-15")


def test_without_a_birth_date_no_dose_ends_a_series_that_ends_by_age():
    """The youngest possible age decides (ours); a series without an age ends by its count."""
    grown = history(*core("2025-03-03", "2025-03-31", "2025-04-28", "2025-05-26"))
    item = due(dog(None), grown, "2025-06-01", CPV)
    assert str(item.sequence) == "initial 5"
    text = "The birth date is not known, so no dose can be said to end the series."
    assert [(step.source, step.certainty) for step in item.why if step.text == text] == [("ours", "ours")]
    late = history(*core("2025-03-03", "2025-03-31"))
    one_live = under(dog_core_late_start="one_live")
    assert str(due(dog(None), late, "2025-06-01", CPV, one_live).sequence) == "initial 3"
    yearly = tuple(dose(on, "Leptospira") for on in ("2024-03-03", "2024-03-31", "2025-03-31"))
    item = due(dog(None), history(*yearly), "2025-04-01", "dog_leptospira")
    assert (str(item.sequence), item.target) == ("booster", day("2026-03-31"))
    assert "Every 12 months after the last dose." in said(item)
    assert "birth date" not in said(due(dog(None), history(*yearly[:1]), "2024-03-04", "dog_leptospira"))


def test_the_extra_window_is_that_of_the_youngest_possible_age():
    """Born some day of January 2025: 18 weeks on 6 June, 20 weeks on 20 June at the latest (ours)."""
    who = replace(dog(None, "high_risk_place"), birth=born(day(PUP), Precision.MONTH))
    what = history(*core("2025-03-17", "2025-04-14", "2025-05-26"))
    item = due(who, what, "2025-05-26", CPV)
    assert dates(item, "earliest", "target") == ("2025-06-09", "2025-06-20")


# An age limit that falls on 29 February is reached on 28 February (date rule, ours)
@pytest.mark.parametrize(("on", "sequence"), [("2025-02-27", "initial 4"), ("2025-02-28", "booster")])
def test_a_leap_day_puppy_is_a_year_old_on_the_last_of_february(on, sequence):
    what = history(*core("2024-04-25", "2024-05-23", "2024-06-20"))
    assert str(due(dog("2024-02-29", "high_risk_place"), what, on, CPV).sequence) == sequence


def test_without_a_birth_date_nothing_is_said_of_an_extra_dose():
    item = due(dog(None, "high_risk_place"), history(*core(*SERIES)), "2025-06-01", CPV)
    assert "High risk" not in said(item)


# --- within the series --------------------------------------------------------------------------------------


def test_the_next_dose_says_its_window_and_what_cannot_end_the_series():
    """AAHA 2022 (A): a dose before 16 weeks never ends the series."""
    item = due(dog(PUP), history(*core("2025-03-03")), "2025-03-03", CPV)
    assert (str(item.sequence), item.then) == ("initial 2", Action.GO_ON)
    assert "Next dose 2 to 4 weeks after 3 March 2025." in said(item)
    assert "A dose before 28 April 2025 (16 weeks of age) cannot end the series." in said(item)
    assert "doses at 16 weeks or older" not in said(item)
    grown = due(dog(PUP), history(*core("2025-04-28")), "2025-04-28", CPV)
    assert "2 doses at 16 weeks or older." in said(grown)
    free = due(dog(PUP), history(dose("2025-03-31", "Leptospira")), "2025-03-31", "dog_leptospira")
    assert "cannot end the series" not in said(free)


def test_the_next_dose_keeps_its_distance_from_a_later_one_that_does_not_count():
    """AAHA 2022 (C): at least two weeks after any dose of the vaccine."""
    spoilt = core("2025-04-07", decision=False)
    item = due(dog(PUP), history(*core("2025-03-03"), *spoilt), "2025-04-07", CPV)
    assert dates(item, "earliest", "target", "last_on") == ("2025-04-21", "2025-05-05", "2025-03-03")
    assert str(item.sequence) == "initial 2"


def test_a_dose_by_another_route_goes_on_as_that_route_s_vaccine():
    """AAHA 2022 (C, from memory): one intranasal dose is a series, and later one dose however late."""
    first = dose("2025-03-03", "Bordetella", route="SC")
    nasal, again = (dose("2025-03-20", "Bordetella", route=route) for route in ("IN", "SC"))
    actions = {
        route: due(dog(PUP, "boarding"), history(first, second), "2027-06-01", "dog_bordetella").action
        for route, second in (("IN", nasal), ("SC", again))
    }
    assert actions == {"IN": Action.ONE_DOSE, "SC": Action.RESTART}


# --- one more last dose where the risk is high (AAHA 2022, C, from memory) ----------------------------------


EXTRA = "vaccines.dog_core.courses.any.extra"
GAP_MAX = "vaccines.dog_core.courses.any.series.gap_max"


def at_risk(*days, on=None, rules=None, **facts):
    what = history(*core(*days, **facts))
    return due(dog(PUP, "high_risk_place"), what, on or days[-1], CPV, rules)


def test_the_extra_dose_is_the_next_of_the_series_with_its_reason_and_its_end():
    item = at_risk(*SERIES)
    assert (str(item.sequence), item.then) == ("initial 4", Action.GO_ON)
    assert dates(item, "earliest", "target", "latest") == ("2025-05-12", "2025-05-26", "2025-05-26")
    assert "High risk: one more last dose at 18 to 20 weeks." in said(item)
    text = "From 1 year of age the extra dose is no longer asked for."
    assert changes(item) == {text: day("2026-01-06")}
    assert (item.last_on, item.recheck_on) == (day("2025-04-28"), day("2025-05-12"))


def test_before_sixteen_weeks_the_series_is_not_moved_to_the_extra_window():
    item = at_risk("2025-03-03", "2025-03-31")
    assert dates(item, "earliest", "target") == ("2025-04-14", "2025-04-28")
    assert "High risk" not in said(item)


@pytest.mark.parametrize(
    ("last", "window"),
    [
        # 17 weeks: two weeks later is past 18 weeks, the window still closes at 20
        ("2025-05-05", ("2025-05-19", "2025-05-26")),
        # a day before 18 weeks: two weeks later is a day before 20 weeks
        ("2025-05-11", ("2025-05-25", "2025-05-26")),
    ],
)
def test_the_extra_dose_keeps_its_distance_and_its_window(last, window):
    item = at_risk("2025-03-03", "2025-04-05", last)
    assert dates(item, "earliest", "target") == window


def test_where_the_window_is_over_the_extra_dose_is_due_as_soon_as_it_may_be():
    """A dose that does not count was given at 20 weeks: two weeks after it, 22 weeks."""
    spoilt = core("2025-05-26", decision=False)
    what = history(*core(*SERIES), *spoilt)
    item = due(dog(PUP, "high_risk_place"), what, "2025-05-26", CPV)
    assert dates(item, "earliest", "target", "latest") == ("2025-06-09", "2025-06-09", "2025-06-09")


def test_a_practice_s_own_window_or_interval_is_kept():
    """Three weeks apart: due at 19 weeks. A window from 22 to 24 weeks: its end, not the four weeks."""
    item = at_risk(*SERIES, rules=own((GAP_MAX, "3 wk")))
    assert dates(item, "earliest", "target") == ("2025-05-12", "2025-05-19")
    rules = own((f"{EXTRA}.from_age", "22 wk"), (f"{EXTRA}.to_age", "24 wk"))
    assert dates(at_risk(*SERIES, rules=rules), "earliest", "target") == ("2025-06-09", "2025-06-23")
    # four weeks after the last dose is the window's first day: both are that day
    rules = own((f"{EXTRA}.from_age", "20 wk"), (f"{EXTRA}.to_age", "22 wk"))
    assert dates(at_risk(*SERIES, rules=rules), "earliest", "target") == ("2025-05-26", "2025-05-26")


def test_one_live_dose_is_said_to_be_one_dose():
    """WSAVA 2016 T1 (A): one live dose from 16 weeks; the extra dose is asked for all the same (C)."""
    item = at_risk("2025-04-28", rules=under(dog_core_late_start="one_live"))
    assert "1 dose at 16 weeks or older." in said(item)
    assert str(item.sequence) == "initial 2"


# --- the first booster --------------------------------------------------------------------------------------


def test_the_first_booster_counts_from_the_last_dose_and_says_so():
    """AAHA 2022 (C): within a year of the last dose of the series."""
    item = due(dog(PUP), history(*core(*SERIES)), "2025-04-28", CPV)
    assert dates(item, "earliest", "target", "latest") == (None, "2026-04-28", "2026-04-28")
    assert (str(item.sequence), item.then) == ("booster", Action.ONE_DOSE)
    assert "First booster 12 months after the last dose of the series." in said(item)


# WSAVA 2024 (A): at 26 weeks or soon after
@pytest.mark.parametrize(
    ("last", "target", "text"),
    [
        # four weeks after the last dose (ours) is later than 26 weeks
        ("2025-06-30", "2025-07-28", "First booster at 26 weeks of age."),
        ("2025-07-06", "2025-08-03", "First booster at 26 weeks of age."),
        ("2025-07-07", "2026-07-07", "The series ended past 26 weeks of age: booster 12 months later."),
        ("2025-05-12", "2025-07-07", "First booster at 26 weeks of age."),
    ],
)
def test_the_booster_of_26_weeks_is_a_year_later_where_the_series_ended_after_them(last, target, text):
    what = history(*core("2025-03-03", "2025-03-31", last))
    item = due(dog(PUP), what, last, CPV, under(dog_core_first_booster="wsava_26_weeks"))
    assert item.target == day(target)
    assert text in said(item)


def test_a_dose_below_26_weeks_is_no_first_booster_however_long_after_the_series():
    """WSAVA 2024 (A): the booster is at 26 weeks or later; at 22 it is one more of the series (ours)."""
    rules = under(dog_core_first_booster="wsava_26_weeks")
    what = history(*core(*SERIES, "2025-06-09"))
    assert due(dog(PUP), what, "2025-06-09", CPV, rules).target == day("2025-07-07")
    aaha = history(*core(*SERIES, "2025-07-06"))  # ten weeks after the series, a day below 26 weeks
    assert due(dog(PUP), aaha, "2025-07-06", CPV).target == day("2026-07-06")


# Eight weeks after the series a dose is a booster, a day before it one more of the series (ours)
@pytest.mark.parametrize(("last", "target"), [("2025-05-25", "2026-05-25"), ("2025-05-26", "2028-05-26")])
def test_eight_weeks_after_the_series_a_dose_is_its_booster(last, target):
    what = history(*core("2025-03-03", "2025-03-31", last))
    assert due(dog(GROWN), what, last, CPV).target == day(target)


def test_a_booster_known_to_the_month_counts_from_its_first_day():
    """The cautious reading of a half-known day (ours): the earliest it can have been."""
    july = dose("2025-07-20", "CPV", precision="month")
    what = history(*core(*SERIES), july)
    item = due(dog(PUP), what, "2025-08-01", CPV)  # 1 July is below 26 weeks: no booster yet
    assert dates(item, "target", "last_on") == ("2026-07-01", "2025-07-01")
    later = dose("2026-07-20", "CPV", precision="month")
    item = due(dog(PUP), history(*core(*SERIES), later), "2026-08-01", CPV)
    assert dates(item, "target", "last_on") == ("2029-07-01", "2026-07-01")


# --- later boosters -----------------------------------------------------------------------------------------


def test_a_later_booster_says_its_interval_and_what_an_open_answer_would_change():
    """WSAVA 2016 T3 (A): a cat at higher risk yearly for the respiratory viruses, else every 3 years."""
    doses = core("2021-03-01", "2021-03-29", "2022-05-20", antigens=("FPV", "FHV-1", "FCV"))
    code = "cat_respiratory:FCV"
    item = due(cat("2020-10-05"), history(*doses), "2022-05-20", code)
    question = under().rules.lifestyle["boards_or_multicat"]
    assert item.target == day("2025-05-20")
    assert "Every 36 months after the last dose." in said(item)
    assert changes(item) == {f"If yes, every 12 months: {question}": None}
    assert (
        changes(due(cat("2020-10-05", no=["boards_or_multicat"]), history(*doses), "2022-05-20", code)) == {}
    )
    # a panleukopenia booster depends on no answer
    assert changes(due(cat("2020-10-05"), history(*doses), "2022-05-20", "cat_panleukopenia")) == {}


# AAHA/AAFP 2020 (C, from memory): inactivated FeLV every two years where the risk is lower
@pytest.mark.parametrize(("kind", "target"), [("inactivated", "2025-06-30"), ("recombinant", "2024-06-30")])
def test_a_leukaemia_booster_depends_on_the_vaccine_where_a_risk_is_not_answered(kind, target):
    """Where the risk is yes it is yearly whatever the vaccine (A)."""
    doses = tuple(dose(on, "FeLV", kind=kind) for on in ("2022-06-02", "2022-06-30", "2023-06-30"))
    # the risk is open: what is on the page is a question, so the interval is read off the plan's reason
    asked = due(cat("2022-04-04"), history(*doses), "2023-07-01", "cat_leukaemia")
    words = {"2025-06-30": "Every 24 months", "2024-06-30": "Every 12 months"}[target]
    assert words in said(asked)
    risky = due(cat("2022-04-04", "outdoor"), history(*doses), "2023-07-01", "cat_leukaemia")
    assert risky.target == day("2024-06-30")


BOOSTERS = "vaccines.dog_leptospira.courses.any.boosters"
OWN = {"source": "x", "certainty": "clinic"}
WILD = {"any_of": ["wildlife_water"], **OWN}
THREE = tuple(dose(on, "Leptospira") for on in ("2024-03-03", "2024-03-31", "2025-03-31"))


def test_a_booster_for_a_risk_alone_is_for_that_risk_alone():
    rules = own((BOOSTERS, [{"every": "12 mo", **WILD}]))
    targets = [
        due(who, history(*THREE), "2025-04-01", "dog_leptospira", rules).target
        for who in (dog(GROWN, "wildlife_water"), dog(GROWN, no=["wildlife_water"]), dog(GROWN))
    ]
    assert targets == [day("2026-03-31"), None, None]


def test_an_open_answer_and_a_lapse_are_both_told():
    """AAHA 2017 (B): 18 months; a shorter interval at risk is the practice's own."""
    rules = own((BOOSTERS, [{"every": "6 mo", **WILD}, {"every": "12 mo", **OWN}]))
    item = due(dog(GROWN), history(*THREE), "2025-04-01", "dog_leptospira", rules)
    assert changes(item) == {
        f"If yes, every 6 months: {rules.rules.lifestyle['wildlife_water']}": None,
        "After 30 September 2026 the series starts again: 2 doses 2 to 4 weeks apart.": day("2026-10-01"),
    }
    # no further dose at risk is no shorter interval
    rules = own((BOOSTERS, [WILD, {"every": "12 mo", **OWN}]))
    item = due(dog(GROWN), history(*THREE), "2025-04-01", "dog_leptospira", rules)
    assert not any("If yes" in text for text in changes(item))


def test_boosters_clamp_down_at_a_month_s_end():
    """Due dates fall on the last day of a short month (date rule, ours)."""
    series = ("2024-01-01", "2024-02-29")
    assert due(dog(GROWN), history(*core(*series)), "2024-03-01", CPV).target == day("2025-02-28")
    aged = under(dog_core_first_booster="wsava_26_weeks")
    assert due(dog(GROWN), history(*core(*series)), "2024-03-01", CPV, aged).target == day("2025-02-28")
    boosted = history(*core("2022-01-01", "2022-02-01", "2024-02-29"))
    assert due(dog(GROWN), boosted, "2024-03-01", CPV).target == day("2027-02-28")


def test_a_protocol_without_a_further_booster_has_none():
    rules = own(("vaccines.dog_leptospira.courses.any.boosters", [{"source": "x", "certainty": "clinic"}]))
    doses = tuple(dose(on, "Leptospira") for on in ("2024-03-03", "2024-03-31", "2025-03-31"))
    item = due(dog(GROWN), history(*doses), "2025-04-01", "dog_leptospira", rules)
    assert (item.target, item.then, item.last_on) == (None, Action.NONE, day("2025-03-31"))


# --- a lapse ------------------------------------------------------------------------------------------------


def lepto(*days):
    return history(*(dose(on, "Leptospira") for on in days))


def test_within_the_series_the_six_weeks_are_told_before_and_after():
    """AAHA overdue FAQ (A): more than six weeks after the first dose, both again."""
    before, after = (
        due(dog(GROWN), lepto("2025-03-31"), on, "dog_leptospira") for on in ("2025-05-12", "2025-05-13")
    )
    text = "After 12 May 2025 the series starts again: 2 doses 2 to 4 weeks apart."
    assert changes(before)[text] == before.recheck_on == day("2025-05-13")
    assert "Up to 12 May 2025 one dose goes on from the last one." in said(before)
    assert (str(before.sequence), str(after.sequence)) == ("initial 2", "initial 1")
    assert "Later than 12 May 2025: start the series again, 2 doses 2 to 4 weeks apart." in said(after)
    assert {step.source for step in after.why if "Later than" in step.text} == {"AAHA overdue FAQ"}
    assert "Next dose 2 to 4 weeks after 31 March 2025." in said(after)
    assert changes(after) == {}
    assert (after.then, after.last_on) == (Action.RESTART, day("2025-03-31"))


def test_a_lapsed_booster_starts_with_the_first_of_two():
    """AAHA 2017 (B): more than 18 months since the last dose."""
    given = ("2022-12-15", "2023-01-15", "2024-01-15")
    before, after = (
        due(dog(GROWN), lepto(*given), on, "dog_leptospira") for on in ("2025-07-15", "2025-07-16")
    )
    assert changes(before)["After 15 July 2025 the series starts again: 2 doses 2 to 4 weeks apart."]
    assert {step.source for step in before.why if "Up to" in step.text} == {"AAHA 2017"}
    assert str(after.sequence) == "initial 1"
    assert {step.source for step in after.why if "Later than" in step.text} == {"AAHA 2017"}
    again = due(dog(GROWN), lepto(*given, "2025-07-16"), "2025-07-16", "dog_leptospira")
    assert (str(again.sequence), again.then) == ("initial 2", Action.GO_ON)


def test_a_lapse_counted_in_months_ends_on_the_last_day_of_a_short_one():
    """Limits clamp down (ours): 18 months after 31 August 2024 is 28 February 2026."""
    given = ("2022-09-30", "2022-10-31", "2023-09-30", "2024-08-31")
    actions = [
        due(dog(GROWN), lepto(*given), on, "dog_leptospira").action for on in ("2026-02-28", "2026-03-01")
    ]
    assert actions == [Action.ONE_DOSE, Action.RESTART]


def test_live_core_vaccine_never_starts_again():
    """AAHA; WSAVA (C): one dose, however late."""
    item = due(dog(PUP), history(*core("2025-03-03")), "2030-03-03", CPV)
    assert (str(item.sequence), item.action) == ("initial 2", Action.GO_ON)
    assert "start the series again" not in said(item)
    assert not any("starts again" in text for text in changes(item))


# --- whom it is for -----------------------------------------------------------------------------------------


def test_parainfluenza_is_listed_once_it_was_given():
    """AAHA 2022 (A): often in the combination; listed by itself only where it was given."""
    item = due(dog(PUP), history(), "2025-03-03", "dog_parainfluenza")
    assert (item.applies, item.target, item.action) == (False, None, Action.NONE)
    assert item.then is Action.NONE
    assert "Listed only once it was given." in said(item)
    given = due(dog(PUP), history(dose("2025-03-03", "CPiV")), "2025-03-03", "dog_parainfluenza")
    assert (given.applies, given.target) == (True, day("2025-03-31"))


def test_rattlesnake_toxoid_is_a_question_of_the_label():
    """AAHA 2022 (A): noncore; no interval is published."""
    item = due(dog(GROWN, "rattlesnakes"), history(), "2025-03-03", "dog_rattlesnake")
    assert (item.applies, item.action, item.then, item.target) == (True, Action.ASK, Action.ASK, None)
    assert "the veterinarian decides by the product's label" in said(item)
    none = due(dog(GROWN, no=["rattlesnakes"]), history(), "2025-03-03", "dog_rattlesnake")
    assert (none.applies, none.action) == (False, Action.NONE)
    assert none.label == "Rattlesnake toxoid"


def test_the_notes_of_a_vaccine_stand_among_its_reasons():
    """European ABCD (C): more than three years, consider two doses."""
    assert "consider two doses" in said(due(cat(GROWN), history(), "2025-03-03", "cat_respiratory:FHV-1"))
    assert "An antibody test may stand in" in said(due(dog(GROWN), history(), "2025-03-03", CPV))


def test_each_antigen_has_its_own_line_with_its_name_and_the_newest_category():
    item = due(dog(GROWN), history(), "2025-03-03", CPV)
    assert (item.label, item.group, item.group_label) == (
        "Parvovirus",
        "dog_core",
        "Distemper, adenovirus, parvovirus",
    )
    assert (item.kind, item.category) == ("vaccine", "core")
    single = due(dog(GROWN), history(), "2025-03-03", "dog_leptospira")
    assert (single.code, single.label, single.group) == ("dog_leptospira", "Leptospirosis", "dog_leptospira")
    newest = under().rules.vaccines["dog_leptospira"].categories[-1]
    assert (single.category, newest.guideline) == (newest.value, "ACVIM 2023")
    assert due(cat(GROWN), history(), "2025-03-03", "rabies").category == "core"
    cough = due(dog(GROWN, "boarding"), history(), "2025-03-03", "dog_bordetella")
    assert cough.label == cough.group_label == "Bordetella (kennel cough)"
    bare = own(("vaccines.dog_leptospira.categories", []))
    assert due(dog(GROWN), history(), "2025-03-03", "dog_leptospira", bare).category == ""


# --- what stops it ------------------------------------------------------------------------------------------


def felv(*results, on="2025-06-02", doses=(), **animal):
    return due(cat("2025-04-07", **animal), history(*doses, tests=results), on, "cat_leukaemia")


def test_leukaemia_vaccine_asks_for_a_test_before_the_first_dose_alone():
    """AAFP 2020 retrovirus (A): test before vaccination; only negative cats are vaccinated."""
    (need,) = felv().needs
    assert need.text == "Test for FeLV before the first dose; only negative cats are vaccinated."
    assert need.source == "AAFP 2020 retrovirus"
    begun = felv(doses=(dose("2025-06-02", "FeLV", kind="recombinant"),))
    assert begun.needs == ()
    assert due(cat("2025-04-07"), history(), "2025-06-02", "cat_panleukopenia").needs == ()
    # a note of another vaccine is no test that is missing
    assert due(dog(GROWN), history(), "2025-06-02", "dog_leptospira").needs == ()
    assert due(cat(GROWN), history(), "2025-06-02", "cat_respiratory:FCV").needs == ()


def test_the_newest_clear_result_counts_and_none_of_another_day_or_kind():
    """AAFP 2020 retrovirus (A). Unclear results and those to come say nothing (ours)."""
    positive, negative = (result("felv_ag", "2025-05-20", each) for each in (True, False))
    assert standing(felv(positive), day("2025-06-02")) is Standing.HOLD
    assert felv(positive).pause.since == day("2025-05-20")
    assert "a veterinarian decides" in felv(positive).pause.reason
    later = result("felv_ag", "2025-06-01", False)
    assert felv(positive, later).pause is None
    assert felv(result("felv_ag", "2025-06-01", True), negative).pause.since == day("2025-06-01")
    assert felv(result("felv_ag", "2025-06-02", True)).pause  # on the day asked for
    assert felv(result("felv_ag", "2025-06-03", True)).pause is None
    assert felv(result("felv_ag", "2025-06-03", False)).needs
    assert felv(result("felv_ag", "2025-06-01", None)).needs
    assert felv(result("fiv_ab", "2025-06-01", True)).pause is None
    assert felv(result("fiv_ab", "2025-06-01", False)).needs
    # positive and negative on one day: the cautious reading (ours)
    assert felv(positive, negative).pause
    assert felv(negative, positive).pause


def test_an_unneeded_test_holds_no_vaccine():
    tests = (result("felv_ag", "2025-06-01", True),)
    item = due(cat("2025-04-07"), history(tests=tests), "2025-06-02", "cat_panleukopenia")
    assert item.pause is None


def test_a_condition_holds_until_somebody_looks_at_it():
    """WSAVA 2016 T3 (A): no modified-live vaccine in a pregnant queen."""
    who = cat("2022-01-01", conditions=frozenset({"pregnant"}))
    pause = due(who, history(), "2025-03-03", "cat_panleukopenia").pause
    assert (pause.kind, pause.since, pause.until) == (Standing.HOLD, None, None)
    assert pause.reason == "Pregnant: no modified-live vaccine; a veterinarian decides."
    assert due(who, history(), "2025-03-03", "cat_leukaemia").pause is None
    assert due(cat("2022-01-01"), history(), "2025-03-03", "cat_panleukopenia").pause is None
    both = cat("2022-01-01", conditions=frozenset({"felv_infected", "pregnant"}))
    assert due(both, history(), "2025-03-03", "cat_panleukopenia").pause.reason.startswith("Pregnant")


def test_a_label_s_own_minimum_interval_is_kept():
    """The label decides where it asks for more than two weeks (AAHA 2022, C)."""
    first, second = core("2025-03-03", "2025-03-24")
    label = replace(second.product, min_interval=Span.parse("4 wk"))
    assert due(dog(PUP), history(first, second), "2025-03-24", CPV).uncounted == ()
    (refused,) = due(dog(PUP), history(first, replace(second, product=label)), "2025-03-24", CPV).uncounted
    assert refused.code == "too_soon"
