"""The edges of tests, preventives and deworming: the last day, the day after, one more, none at all."""

from dataclasses import replace
from datetime import timedelta

import pytest

from preventive.case import Case
from preventive.deworming import young_plan
from preventive.due import Action, Standing, standing
from preventive.facts import Answer, Supply, Treatment
from preventive.schedule import due_items
from preventive.supplies import Gap, protection
from tests.preventive.build import (
    cat,
    changes,
    dates,
    day,
    dog,
    due,
    history,
    own,
    result,
    said,
    supply,
    under,
)

ADULT = "2020-01-06"
HW = "dog_heartworm_test"
MONTHLY = "dog_heartworm_prevention"


def both(*days):
    return tuple(result(kind, on) for on in days for kind in ("heartworm_ag", "heartworm_mf"))


def treated(*days, kind="deworming"):
    return tuple(Treatment(kind, day(each)) for each in days)


# --- gaps in a preventive: late after more than 15 days, a lapse after a whole missed interval (ours) -------


def gaps(*supplies, on):
    case = Case(dog(ADULT), history(supplies=supplies), under(), day(on))
    return protection(case, "heartworm", timedelta(days=15))


def gap(kind, last_dose, noticed, resumed=None):
    return Gap(kind, day(last_dose), day(noticed), day(resumed))


@pytest.mark.parametrize(
    ("on", "kinds"),
    [
        ("2025-02-16", []),
        ("2025-02-17", ["late"]),
        ("2025-02-28", ["late"]),
        ("2025-03-01", ["lapse"]),
        ("2026-03-01", ["lapse"]),
    ],
)
def test_a_preventive_that_ran_out_is_late_and_then_a_lapse(on, kinds):
    """One dose on 1 January, monthly: due 1 February, late from the 16th day after, lapsed on 1 March."""
    found = gaps(supply("2025-01-01"), on=on)
    assert [each.kind for each in found.gaps] == kinds
    assert found.gaps == tuple(gap(kind, "2025-01-01", "2025-02-17") for kind in kinds)
    assert (found.started_on, found.late_on, found.lapse_on) == (
        day("2025-01-01"),
        day("2025-02-17"),
        day("2025-03-01"),
    )


def test_the_last_dose_before_a_gap_is_the_last_of_its_supply():
    found = gaps(supply("2025-01-01", count=3), on="2025-06-01")
    assert found.gaps == (gap("lapse", "2025-03-01", "2025-04-17"),)
    assert found.lapse_on == day("2025-05-01")


def test_at_a_month_s_end_doses_and_lapses_fall_on_its_last_day():
    """Due dates clamp down (ours)."""
    found = gaps(supply("2024-12-31"), on="2025-02-28")
    assert (found.late_on, found.lapse_on, found.gaps[0].kind) == (
        day("2025-02-16"),
        day("2025-02-28"),
        "lapse",
    )
    assert gaps(supply("2025-01-31", count=2), on="2025-06-01").gaps[0].last_dose_on == day("2025-02-28")


def test_an_interval_below_fifteen_days_lapses_before_it_is_late():
    found = gaps(supply("2025-01-01", "7 d"), on="2025-01-15")
    assert found.gaps == (gap("lapse", "2025-01-01", "2025-01-15"),)
    assert gaps(supply("2025-01-01", "7 d"), on="2025-01-14").gaps == ()


def test_a_gap_closes_with_the_next_supply_and_the_longest_one_counts():
    resumed = gaps(supply("2025-01-01"), supply("2025-02-17", count=12), on="2025-06-01")
    assert resumed.gaps == (gap("late", "2025-01-01", "2025-02-17", "2025-02-17"),)
    in_time = gaps(supply("2025-01-01"), supply("2025-02-16", count=12), on="2025-06-01")
    assert in_time.gaps == ()
    # a yearly injection goes on while a tablet comes and ends
    yearly = supply("2025-01-01", "12 mo")
    within = gaps(yearly, supply("2025-03-01"), on="2025-12-01")
    assert within.gaps == ()
    assert within.late_on == day("2026-01-17")
    again = gaps(yearly, supply("2025-03-01"), supply("2026-01-10"), on="2026-01-20")
    assert again.gaps == ()
    assert (again.late_on, again.started_on) == (day("2026-02-26"), day("2025-01-01"))
    twice = gaps(supply("2025-01-01"), supply("2025-04-01"), supply("2025-07-01"), on="2025-07-02")
    assert [each.resumed_on for each in twice.gaps] == [day("2025-04-01"), day("2025-07-01")]


def test_of_two_supplies_that_end_together_the_later_one_s_interval_counts():
    """Six monthly doses from January and one of three months from April: both due on 1 July."""
    months, quarter = supply("2025-01-01", count=6), supply("2025-04-01", "3 mo", product="Other")
    for entered in ((months, quarter), (quarter, months)):
        found = gaps(*entered, on="2025-09-01")
        assert found.lapse_on == day("2025-10-01")
        assert found.gaps == (gap("late", "2025-04-01", "2025-07-17"),)


def test_nothing_given_or_something_else_protects_from_nothing():
    assert gaps(on="2025-06-01") is None
    assert gaps(supply("2025-01-01", protects=("fleas_ticks",)), on="2025-06-01") is None
    assert gaps(supply("2025-06-02"), on="2025-06-01") is None
    assert gaps(supply("2025-06-01"), on="2025-06-01").started_on == day("2025-06-01")


# --- what is due of a preventive ----------------------------------------------------------------------------


def test_a_preventive_starts_with_eight_weeks_at_the_latest():
    """AHS 2018/2020; AAHA 2019 (A): no later than eight weeks, year-round for life."""
    item = due(dog("2025-01-06"), history(), "2025-01-06", MONTHLY)
    assert dates(item, "earliest", "target", "latest") == (None, "2025-03-03", "2025-03-03")
    assert (item.then, item.kind) == (Action.START, "prevention")
    assert "Start as early as the label allows, by 8 weeks of age." in said(item)
    assert "Year-round for life" in said(item)
    assert due(dog(None), history(), "2025-01-06", MONTHLY).action is Action.ASK


def test_the_next_dose_is_due_the_day_the_longest_supply_runs_out():
    """The last dose and when the next is due; heartworm preventives act backwards (AHS 2018/2020, A)."""
    short, long = supply("2025-03-01"), supply("2025-02-01", count=6)
    item = due(dog(ADULT), history(supplies=(long, short)), "2025-03-01", MONTHLY)
    assert dates(item, "target", "latest", "last_on") == ("2025-08-01", "2025-08-01", "2025-02-01")
    assert item.then is Action.TREAT
    assert "6 of Invented, every 1 month from 1 February 2025: the next is due 1 August 2025." in said(item)
    assert "Year-round for life" in said(item)
    assert due(dog(ADULT), history(supplies=(short, long)), "2025-03-01", MONTHLY) == item


def test_a_supply_to_come_counts_from_its_first_day():
    later = supply("2025-03-20")
    item = due(dog(ADULT), history(supplies=(later,)), "2025-03-01", MONTHLY)
    assert (item.last_on, item.recheck_on) == (None, day("2025-03-20"))
    fleas = history(supplies=(supply("2025-03-20", protects=("fleas_ticks",)),))
    assert due(dog(ADULT), fleas, "2025-03-01", MONTHLY).recheck_on is None
    begun = due(dog(ADULT), history(supplies=(later,)), "2025-03-20", MONTHLY)
    assert (begun.last_on, begun.target) == (day("2025-03-20"), day("2025-04-20"))


# --- the dog's heartworm tests ------------------------------------------------------------------------------


def test_below_seven_months_of_age_no_test_is_asked_for_before_the_start():
    """AHS 2018/2020 (B): too early to detect; six months later, again six months later, then yearly."""
    item = due(dog("2025-01-06"), history(supplies=(supply("2025-03-03", count=36),)), "2025-03-03", HW)
    text = "Prevention began 3 March 2025, below 7 months of age: no test needed before it."
    assert text in said(item)
    assert "Test 6 months after 3 March 2025." in said(item)
    assert (item.then, item.kind, item.last_on, item.needs) == (Action.TEST, "test", None, ())
    again = history(supplies=(supply("2025-03-03", count=36),), tests=both("2025-09-03"))
    assert "Again 6 months after the first test." in said(due(dog("2025-01-06"), again, "2025-09-03", HW))


def test_from_seven_months_a_test_belongs_before_the_start():
    """AHS 2018/2020 (B)."""
    item = due(dog(ADULT), history(supplies=(supply("2025-03-03", count=36),)), "2025-03-03", HW)
    text = "Prevention began 3 March 2025, at 7 months of age or older: test before the first dose."
    assert text in said(item)
    assert item.target == day("2025-03-03")
    assert "Test 6 months after" not in said(item)


# A test up to 30 days before the start is the one before it (ours)
@pytest.mark.parametrize(
    ("tested", "target"), [("2025-02-01", "2025-09-03"), ("2025-01-31", "2025-03-03"), (None, "2025-03-03")]
)
def test_a_test_shortly_before_the_start_counts_for_it(tested, target):
    what = history(supplies=(supply("2025-03-03", count=36),), tests=both(*filter(None, [tested])))
    assert due(dog(ADULT), what, "2025-03-03", HW).target == day(target)


# The retest may be two weeks early (ours)
@pytest.mark.parametrize(("tested", "target"), [("2025-08-20", "2026-08-20"), ("2025-08-19", "2025-09-03")])
def test_a_retest_two_weeks_early_still_counts(tested, target):
    what = history(supplies=(supply("2025-03-03", count=36),), tests=both("2025-03-03", tested))
    assert due(dog(ADULT), what, tested, HW).target == day(target)


def test_the_retest_is_never_pushed_beyond_six_months():
    """AHS Fig. 5 (C): at a month's end it clamps down; so does the puppy's second."""
    what = history(supplies=(supply("2024-08-31", count=36),), tests=both("2024-08-31"))
    assert due(dog(ADULT), what, "2024-09-01", HW).target == day("2025-02-28")
    what = history(supplies=(supply("2025-03-01", count=36),), tests=both("2025-08-31"))
    assert due(dog("2025-01-06"), what, "2025-09-01", HW).target == day("2026-02-28")


def test_a_gap_asks_for_a_test_when_it_is_noticed_and_again_after_six_months():
    """AHS Fig. 5 (C): test when recognised, start again, test six months later, then yearly."""
    one = supply("2025-01-01")
    open_gap = due(dog(ADULT), history(supplies=(one,), tests=both("2025-01-01")), "2025-02-20", HW)
    assert open_gap.target == day("2025-02-17")
    assert "Last dose before the gap: 1 January 2025 (late)." in said(open_gap)
    assert {step.source for step in open_gap.why if "before the gap" in step.text} == {"AHS Fig. 5"}
    # the same gap is a lapse from 1 March on: the answer says until when it holds
    assert open_gap.recheck_on == day("2025-03-01")
    assert "(lapse)" in said(due(dog(ADULT), history(supplies=(one,)), "2025-03-01", HW))
    again = (one, supply("2025-03-10", count=12))
    resumed = due(dog(ADULT), history(supplies=again, tests=both("2025-01-01")), "2025-03-20", HW)
    assert resumed.target == day("2025-03-10")
    tested = both("2025-01-01", "2025-03-10")
    resumed = due(dog(ADULT), history(supplies=again, tests=tested), "2025-03-20", HW)
    assert (resumed.target, resumed.last_on) == (day("2025-09-10"), day("2025-03-10"))
    done = (*tested, *both("2025-09-10"))
    item = due(dog(ADULT), history(supplies=again, tests=done), "2025-09-10", HW)
    assert item.target == day("2026-09-10")
    # even the puppy that began early: after a gap there is no second test after six more months
    item = due(dog("2024-11-06"), history(supplies=again, tests=done), "2025-09-10", HW)
    assert item.target == day("2026-09-10")


def test_the_last_of_two_gaps_counts():
    what = history(
        supplies=(supply("2025-01-01"), supply("2025-04-01"), supply("2025-07-01", count=12)),
        tests=both("2025-01-01", "2025-04-01"),
    )
    assert due(dog(ADULT), what, "2025-07-01", HW).target == day("2025-07-01")


def test_while_it_goes_on_the_day_is_told_from_which_it_would_be_late():
    what = history(supplies=(supply("2025-01-01"),), tests=both("2025-01-01"))
    text = "No further dose by then: late, and the test schedule begins again."
    before, after = (due(dog(ADULT), what, on, HW) for on in ("2025-02-16", "2025-02-17"))
    assert changes(before) == {text: day("2025-02-17")}
    assert before.recheck_on == day("2025-02-17")
    assert changes(after) == {}
    assert changes(due(dog(ADULT), history(tests=both("2025-01-01")), "2025-02-16", HW)) == {}


def test_a_dog_on_no_preventive_is_tested_yearly_by_its_last_test():
    """AHS 2018/2020; CAPC (A): every year; from seven months of age before the first dose (B)."""
    item = due(dog(ADULT), history(tests=both("2023-03-01", "2024-03-01")), "2024-06-01", HW)
    assert dates(item, "target", "last_on") == ("2025-03-01", "2024-03-01")
    assert "Every 12 months after the last test, also on year-round prevention." in said(item)
    pup = due(dog("2025-01-31"), history(), "2025-02-01", HW)
    assert dates(pup, "earliest", "target", "last_on") == ("2025-08-31", "2025-08-31", None)
    assert (pup.then, pup.needs) == (Action.TEST, ())
    younger = "Prevention started before 31 August 2025: no test before it, one 6 months after."
    assert changes(pup) == {younger: None}
    assert "From 7 months of age: test before the first dose." in said(pup)


def test_without_a_birth_date_the_start_cannot_be_judged():
    """The birth date is asked for; what was tested before is repeated yearly (AHS 2018/2020, A)."""
    given = (supply("2025-01-01", count=12),)
    assert due(dog(None), history(supplies=given), "2025-02-01", HW).action is Action.ASK
    what = history(supplies=given, tests=both("2025-01-01"))
    assert due(dog(None), what, "2025-02-01", HW).target == day("2026-01-01")


def test_where_heartworm_is_common_the_test_is_twice_a_year():
    """CAPC (A): consider twice a year in high-risk areas."""
    what = history(tests=both("2024-03-01"))
    assert due(dog(ADULT, "heartworm_high_risk"), what, "2024-06-01", HW).target == day("2024-09-01")
    assert due(dog(ADULT), what, "2024-06-01", HW).target == day("2025-03-01")


def test_a_practice_that_tests_only_where_it_is_common_has_no_date_elsewhere():
    path = f"heartworm.{HW}.repeats"
    rules = own(
        (path, [{"any_of": ["heartworm_high_risk"], "every": "6 mo", "source": "x", "certainty": "A"}])
    )
    item = due(dog(ADULT), history(tests=both("2024-03-01")), "2024-06-01", HW, rules)
    assert (item.target, item.then, item.action) == (None, Action.NONE, Action.NONE)


def test_the_newest_result_decides_whether_a_case_is_open():
    """AHS 2018/2020 (C): a positive antigen test ends the dates and opens a case."""
    found, clear = result("heartworm_ag", "2024-03-01", True), result("heartworm_ag", "2024-09-01")
    item = due(dog(ADULT), history(tests=(found,)), "2024-06-01", HW)
    assert (item.last_on, item.target, item.then) == (day("2024-03-01"), None, Action.NONE)
    assert "opens a case" in said(item)
    later = due(dog(ADULT), history(tests=(clear, found)), "2024-10-01", HW)
    assert later.target == day("2025-09-01")
    again = history(tests=(clear, result("heartworm_ag", "2024-10-01", True)))
    assert due(dog(ADULT), again, "2024-10-01", HW).last_on == day("2024-10-01")
    # a result of a later day is not known yet
    assert due(dog(ADULT), history(tests=(found,)), "2024-02-29", HW).target is not None
    # two results of one sample: the positive one decides, in whatever order (ours)
    clear = result("heartworm_ag", "2024-03-01")
    for tests in ((found, clear), (clear, found)):
        assert due(dog(ADULT), history(tests=tests), "2024-06-01", HW).then is Action.NONE


def test_antigen_and_microfilariae_belong_together():
    """AHS 2018/2020 (A): both every year. Within 30 days they are one test (ours)."""
    alone = due(dog(ADULT), history(tests=(result("heartworm_ag", "2024-03-01"),)), "2024-06-01", HW)
    (need,) = alone.needs
    assert (need.text, need.source, need.certainty) == (
        "Not tested with it: heartworm mf.",
        "AHS 2018/2020",
        "A",
    )
    for other, needed in (
        ("2024-03-31", False),
        ("2024-01-31", False),
        ("2024-04-01", True),
        ("2024-01-30", True),
    ):
        tests = (result("heartworm_ag", "2024-03-01"), result("heartworm_mf", other))
        assert bool(due(dog(ADULT), history(tests=tests), "2024-06-01", HW).needs) is needed, other
    assert "Antigen and microfilaria test together" in said(alone)


def test_a_preventive_that_begins_later_changes_the_tests_from_its_first_day():
    what = history(supplies=(supply("2025-03-20"),), tests=both("2025-01-01"))
    assert due(dog(ADULT), what, "2025-03-01", HW).recheck_on == day("2025-03-20")
    running = history(supplies=(supply("2025-01-01"), supply("2025-01-20")), tests=both("2025-01-01"))
    assert due(dog(ADULT), running, "2025-01-10", HW).recheck_on == day("2025-01-20")


# --- tests by the calendar ----------------------------------------------------------------------------------


def faecal(*days, positive=False):
    return tuple(result("faecal", on, positive) for on in days)


FAECAL = "dog_faecal_test"


def test_the_first_test_by_the_calendar_is_due_at_its_age():
    item = due(dog("2025-01-06"), history(), "2025-01-10", FAECAL)
    assert dates(item, "earliest", "target", "latest") == ("2025-03-03", "2025-03-03", "2025-03-03")
    assert (item.then, item.action) == (Action.TEST, Action.WAIT)
    assert "First at 8 weeks of age." in said(item)
    assert "passive flotation is not recommended" in said(item)
    unknown = due(dog(None), history(), "2025-01-10", FAECAL)
    assert (unknown.action, unknown.target) == (Action.ASK, None)


def test_a_later_test_counts_from_the_newest_one():
    """CAPC (derived): at least two a year."""
    item = due(dog(ADULT), history(tests=faecal("2025-04-15", "2024-10-15")), "2025-05-01", FAECAL)
    assert dates(item, "target", "last_on") == ("2025-10-15", "2025-04-15")
    assert item.then is Action.TEST
    assert "Every 6 months after the last test." in said(item)
    assert "passive flotation is not recommended" in said(item)
    # six months after 31 August: the last of February
    item = due(dog(ADULT), history(tests=faecal("2025-08-31")), "2025-09-01", FAECAL)
    assert item.target == day("2026-02-28")


# CAPC (derived): at least four in the first year; the quarterly step that still falls inside it counts
@pytest.mark.parametrize(
    ("tested", "target"),
    [("2025-10-06", "2026-01-06"), ("2025-10-07", "2026-04-07"), ("2025-11-30", "2026-05-30")],
)
def test_the_quarterly_rhythm_ends_with_the_first_birthday(tested, target):
    what = history(tests=faecal(tested))
    assert due(dog("2025-01-06"), what, tested, FAECAL).target == day(target)


def test_at_a_month_s_end_the_quarterly_step_clamps_down_into_the_first_year():
    # born 28 February: three months after 30 November are its first birthday
    what = history(tests=faecal("2025-11-30"))
    assert due(dog("2025-02-28"), what, "2025-12-01", FAECAL).target == day("2026-02-28")


def test_without_a_birth_date_the_rhythm_is_the_adult_s():
    assert due(dog(None), history(tests=faecal("2025-04-15")), "2025-05-01", FAECAL).target == day(
        "2025-10-15"
    )


def test_eggs_found_ask_for_a_treatment_and_a_test_at_the_next_step():
    """Common practice (ours): treat what was found; then the usual step from that test."""
    found = faecal("2025-04-15", positive=True)
    item = due(dog(ADULT), history(tests=found), "2025-05-01", FAECAL)
    assert dates(item, "target", "latest", "last_on") == ("2025-04-15", "2025-04-15", "2025-04-15")
    assert (item.then, item.action) == (Action.TREAT, Action.TREAT)
    assert "Eggs or antigen found: treat" in said(item)
    for on in ("2025-04-15", "2025-05-01"):
        item = due(dog(ADULT), history(tests=found, treatments=treated(on)), "2025-05-01", FAECAL)
        assert dates(item, "target", "last_on") == ("2025-10-15", "2025-04-15"), on
        assert item.then is Action.TEST
        assert "Eggs or antigen found" in said(item)
    for none in (treated("2025-04-14"), treated("2025-05-02"), treated("2025-04-20", kind="dental")):
        item = due(dog(ADULT), history(tests=found, treatments=none), "2025-05-01", FAECAL)
        assert item.then is Action.TREAT
    end = history(tests=faecal("2025-08-31", positive=True), treatments=treated("2025-09-01"))
    assert due(dog(ADULT), end, "2025-09-01", FAECAL).target == day("2026-02-28")
    # one sample read for several worms: one of them found is enough, whichever was entered last
    for tests in ((*found, *faecal("2025-04-15")), (*faecal("2025-04-15"), *found)):
        assert due(dog(ADULT), history(tests=tests), "2025-05-01", FAECAL).then is Action.TREAT


def test_where_stool_is_tested_by_risk_a_finding_is_treated_all_the_same():
    """ESCCAP GL1 (B): no regular date after the first test."""
    rules = under(faecal_adult="by_risk")
    clear = due(dog(ADULT), history(tests=faecal("2025-04-15")), "2025-05-01", FAECAL, rules)
    assert (clear.target, clear.then, clear.last_on) == (None, Action.NONE, day("2025-04-15"))
    assert "Tested once; further tests as the veterinarian sees a reason." in said(clear)
    assert "passive flotation is not recommended" in said(clear)
    found = faecal("2025-04-15", positive=True)
    item = due(dog(ADULT), history(tests=found), "2025-05-01", FAECAL, rules)
    assert (item.then, item.target) == (Action.TREAT, day("2025-04-15"))
    done = history(tests=found, treatments=treated("2025-04-16"))
    item = due(dog(ADULT), done, "2025-05-01", FAECAL, rules)
    assert (item.then, item.target, item.last_on) == (Action.NONE, None, day("2025-04-15"))


def test_another_positive_test_opens_a_case_whatever_was_given():
    """CAPC (C): a positive tick-borne test opens a case; the veterinarian decides."""
    what = history(tests=(result("tickborne", "2025-04-15", True),), treatments=treated("2025-04-16"))
    item = due(dog(ADULT), what, "2025-05-01", "dog_tickborne_test")
    assert (item.then, item.target, item.last_on) == (Action.NONE, None, day("2025-04-15"))
    assert "opens a case" in said(item)


def test_a_cat_s_antigen_and_antibody_belong_together():
    """AHS 2024 feline (B): antigen on heat-treated, antibody on untreated serum, yearly."""
    item = due(
        cat(ADULT), history(tests=(result("heartworm_ag", "2025-03-10"),)), "2025-04-01", "cat_heartworm_test"
    )
    (need,) = item.needs
    assert (need.text, need.source) == ("Not tested with it: heartworm ab.", "AHS 2024 feline")
    bare = own(("tests.cat_heartworm_test.notes", []))
    alone = history(tests=(result("heartworm_ag", "2025-03-10"),))
    (need,) = due(cat(ADULT), alone, "2025-04-01", "cat_heartworm_test", bare).needs
    assert (need.source, need.certainty) == ("ours", "ours")  # where no note of the protocol says why
    both = history(tests=(result("heartworm_ag", "2025-03-10"), result("heartworm_ab", "2025-03-10")))
    assert due(cat(ADULT), both, "2025-04-01", "cat_heartworm_test").needs == ()


# --- retrovirus (AAFP 2020) ---------------------------------------------------------------------------------

FELV, FIV = "cat_felv_test", "cat_fiv_test"


def test_a_cat_is_tested_as_soon_as_it_is_acquired():
    """AAFP 2020 retrovirus (A); where that day is not known, at eight weeks of age (ours)."""
    here = due(cat(ADULT, acquired_on="2025-05-01"), history(), "2025-05-01", FELV)
    assert dates(here, "target", "latest") == ("2025-05-01", "2025-05-01")
    assert (here.then, here.kind) == (Action.TEST, "test")
    assert "Not tested yet: as soon as acquired." in said(here)
    assert "before FeLV vaccination, and when ill" in said(here)
    assert due(cat("2025-04-07"), history(), "2025-05-01", FELV).target == day("2025-06-02")
    assert due(cat(None), history(), "2025-05-01", FELV).action is Action.ASK
    assert due(cat(None, acquired_on="2025-05-01"), history(), "2025-05-01", FELV).target == day("2025-05-01")


# AAFP 2020 retrovirus (A): at least 30 days after the last possible exposure, 60 for FIV
@pytest.mark.parametrize(
    ("code", "kind", "tested", "repeat"),
    [
        (FELV, "felv_ag", "2025-05-30", "2025-05-31"),
        (FELV, "felv_ag", "2025-05-31", None),
        (FIV, "fiv_ab", "2025-06-29", "2025-06-30"),
        (FIV, "fiv_ab", "2025-06-30", None),
    ],
)
def test_a_negative_test_inside_the_window_is_repeated_at_its_end(code, kind, tested, repeat):
    who = cat(ADULT, last_exposure_on="2025-05-01", acquired_on="2025-03-01")
    item = due(who, history(tests=(result(kind, tested),)), tested, code)
    assert dates(item, "earliest", "target", "last_on") == (repeat, repeat, tested)
    assert item.then is (Action.TEST if repeat else Action.NONE)
    if repeat:
        assert "after the last possible exposure (1 May 2025)" in said(item)
        assert any(text.startswith("No exposure at all: no repeat.") for text in changes(item))
    else:
        assert "Negative. Test again after exposure or when ill." in said(item)


def test_the_day_of_acquisition_is_the_last_possible_exposure_where_none_is_known():
    item = due(
        cat(ADULT, acquired_on="2025-05-10"),
        history(tests=(result("felv_ag", "2025-05-12"),)),
        "2025-05-12",
        FELV,
    )
    assert item.target == day("2025-06-09")


def test_where_no_day_of_exposure_is_known_one_repeat_after_the_first_test_is_enough():
    """AAFP 2020 retrovirus (A): 30 days after the last possible exposure; here the first test (ours)."""
    for who in (cat(ADULT), cat(ADULT, "retrovirus_exposure")):
        early = history(tests=(result("felv_ag", "2025-05-01"), result("felv_ag", "2025-05-30")))
        assert due(who, early, "2025-05-30", FELV).target == day("2025-05-31")
        done = history(tests=(result("felv_ag", "2025-05-01"), result("felv_ag", "2025-05-31")))
        item = due(who, done, "2025-05-31", FELV)
        assert (item.target, item.then, item.last_on) == (None, Action.NONE, day("2025-05-31"))
    # a negative one from before a positive one that was not confirmed says nothing
    doubted = (result("felv_ag", "2024-05-01"), result("felv_ag", "2025-04-20", True))
    what = history(tests=(*doubted, result("felv_ag", "2025-05-01")))
    assert due(cat(ADULT), what, "2025-05-01", FELV).target == day("2025-05-31")


# A yes later than the tests: exposed since, to be tested 30 days after it (AAFP 2020 retrovirus, A)
@pytest.mark.parametrize(
    ("value", "answered", "target"),
    [
        (True, "2025-09-01", "2025-10-01"),
        (True, "2025-05-01", None),
        (True, "2025-04-01", None),
        (True, None, None),
        (None, "2025-09-01", None),
        (False, "2025-09-01", None),
    ],
)
def test_an_exposure_that_is_told_later_asks_for_a_test_after_it(value, answered, target):
    who = replace(cat(ADULT), lifestyle=(Answer("retrovirus_exposure", value, day(answered)),))
    tests = (result("felv_ag", "2025-05-01"), result("felv_ag", "2025-05-31"))
    assert due(who, history(tests=tests), "2025-09-01", FELV).target == day(target)
    # exposed since an earlier answer too: from the first test on
    once = due(who, history(tests=tests[:1]), "2025-09-01", FELV)
    assert once.target == (day(target or "2025-05-31") if value is not False else None)
    # where the day itself is on record the answer adds nothing
    known = replace(who, last_exposure_on=day("2025-04-30"))
    assert due(known, history(tests=tests), "2025-09-01", FELV).target is None


def test_no_exposure_means_no_repeat_and_an_infected_housemate_every_year():
    """AAFP 2020 retrovirus (A): cats that live with infected ones yearly."""
    tests = history(tests=(result("felv_ag", "2025-05-01"),))
    free = due(cat(ADULT, no=["retrovirus_exposure"]), tests, "2025-05-01", FELV)
    assert (free.target, free.then) == (None, Action.NONE)
    lives = cat(ADULT, "lives_with_infected", no=["retrovirus_exposure"])
    item = due(lives, tests, "2025-05-01", FELV)
    assert dates(item, "target", "last_on") == ("2026-05-01", "2025-05-01")
    assert item.then is Action.TEST
    assert "Lives with an infected cat: every 12 months." in said(item)
    leap = history(tests=(result("felv_ag", "2024-02-29"),))
    assert due(lives, leap, "2024-03-01", FELV).target == day("2025-02-28")


# AAFP 2020 retrovirus (C): antibodies below six months may be the mother's
@pytest.mark.parametrize(("tested", "retest"), [("2025-10-06", "2025-10-07"), ("2025-10-07", None)])
def test_a_kitten_s_positive_fiv_test_is_final_from_six_months_on(tested, retest):
    item = due(cat("2025-04-07"), history(tests=(result("fiv_ab", tested, True),)), tested, FIV)
    assert dates(item, "earliest", "target", "last_on") == (retest, retest, tested)
    assert ("is not final: retest at or after that age" in said(item)) is bool(retest)
    assert item.then is (Action.TEST if retest else Action.NONE)


def test_a_positive_test_is_final_where_no_age_makes_it_doubtful_or_none_is_known():
    """AAFP 2020 retrovirus (C): FeLV antigen is not the mother's; confirm and open a case."""
    felv = due(cat("2025-04-07"), history(tests=(result("felv_ag", "2025-06-02", True),)), "2025-06-02", FELV)
    assert (felv.target, felv.then, felv.last_on) == (None, Action.NONE, day("2025-06-02"))
    unknown = due(cat(None), history(tests=(result("fiv_ab", "2025-06-02", True),)), "2025-06-02", FIV)
    assert (unknown.target, unknown.then) == (None, Action.NONE)
    assert "open a case" in said(unknown)


def test_the_newest_clear_retrovirus_result_counts():
    who = cat(ADULT, no=["retrovirus_exposure"])
    positive, negative = result("felv_ag", "2025-05-01", True), result("felv_ag", "2025-06-01")
    assert "open a case" not in said(due(who, history(tests=(negative, positive)), "2025-06-01", FELV))
    assert "open a case" in said(due(who, history(tests=(negative, positive)), "2025-05-31", FELV))
    unclear = result("felv_ag", "2025-07-01", None)
    item = due(who, history(tests=(negative, unclear)), "2025-07-01", FELV)
    assert (item.last_on, item.then) == (day("2025-06-01"), Action.NONE)
    assert due(who, history(tests=(unclear,)), "2025-07-01", FELV).then is Action.TEST


# --- deworming ----------------------------------------------------------------------------------------------

WORMS = "dog_deworming"


def plan_of(code, birth, weaned=None, **chosen):
    rules = under(**chosen)
    young = rules.rules.deworming[code].young
    return [str(each) for each in young_plan(rules.calendar, day(birth), young, day(weaned))]


def test_the_whole_plan_of_a_puppy_and_of_a_kitten():
    """CAPC; AAHA 2019 (A): pups at 2, 4, 6, 8 weeks, kittens at 3, 5, 7, 9, then monthly."""
    assert plan_of(WORMS, "2025-02-14") == [
        *("2025-02-28", "2025-03-14", "2025-03-28", "2025-04-11"),
        *("2025-05-11", "2025-06-11", "2025-07-11", "2025-08-11"),
    ]
    assert plan_of("cat_deworming", "2025-02-14")[:5] == [
        *("2025-03-07", "2025-03-21", "2025-04-04", "2025-04-18"),
        "2025-05-18",
    ]
    # a step that falls on the last day still belongs to the rhythm; month ends do not drift
    assert plan_of(WORMS, "2025-02-11", "2025-04-08", deworming="esccap")[3:] == [
        *("2025-04-08", "2025-04-22", "2025-05-22", "2025-06-22", "2025-07-22"),
    ]
    # six months from 30 August end on the last of February, so the first of March is past them
    assert plan_of("cat_deworming", "2025-08-30")[-1] == "2026-02-01"
    # a month that ends on the day of six months still belongs to them (a litter weaned very early)
    assert plan_of(WORMS, "2025-02-14", "2025-03-01", deworming="esccap")[-1] == "2025-08-14"
    assert plan_of(WORMS, "2025-02-28")[-4:] == ["2025-05-25", "2025-06-25", "2025-07-25", "2025-08-25"]
    assert plan_of(WORMS, "2025-04-05")[-4:] == ["2025-06-30", "2025-07-31", "2025-08-31", "2025-09-30"]


def test_the_first_deworming_is_due_at_two_weeks():
    """CAPC; AAHA 2019 (A)."""
    item = due(dog("2025-02-14"), history(), "2025-02-14", WORMS)
    assert dates(item, "earliest", "target", "latest", "last_on") == (None, "2025-02-28", "2025-02-28", None)
    assert (item.then, item.kind) == (Action.TREAT, "treatment")
    assert [step.text for step in item.why] == ["From 2 weeks of age."]
    assert "Treat the mother at the same time." in said(item)
    assert due(dog(None), history(), "2025-02-14", WORMS).action is Action.ASK


# CAPC; AAHA 2019 (A): every two weeks to eight weeks of age (2025-04-11), then monthly
@pytest.mark.parametrize(
    ("given", "target", "words"),
    [
        ("2025-03-28", "2025-04-11", "Every 14 days while so young."),
        ("2025-03-29", "2025-04-29", "Every 1 month until 6 months of age."),
        ("2025-07-14", "2025-08-14", "Every 1 month until 6 months of age."),
        ("2025-07-15", "2025-10-15", "Every 3 months."),
    ],
)
def test_the_rhythm_changes_with_the_age_at_the_next_step(given, target, words):
    """After six months by risk: ESCCAP GL1 (B), at least four a year."""
    what = history(treatments=treated(given))
    item = due(dog("2025-02-14"), what, given, WORMS, under(deworming="esccap"))
    assert dates(item, "target", "last_on") == (target, given)
    assert words in [step.text for step in item.why]
    assert item.then is Action.TREAT


def test_the_short_rhythm_ends_two_weeks_after_weaning_where_that_is_known():
    """ESCCAP GL1 (A): every 14 days to two weeks after weaning."""
    rules = under(deworming="esccap")
    for weaned, target in (("2025-04-04", "2025-05-11"), ("2025-04-11", "2025-04-25"), (None, "2025-05-11")):
        who = dog("2025-02-14", weaned_on=weaned)
        item = due(who, history(treatments=treated("2025-04-11")), "2025-04-11", WORMS, rules)
        assert item.target == day(target), weaned
    # without such a rule the weaning plays no part (CAPC)
    who = dog("2025-02-14", weaned_on="2025-04-11")
    assert due(who, history(treatments=treated("2025-04-11")), "2025-04-11", WORMS).target == day(
        "2025-05-11"
    )


def test_an_adult_s_deworming_counts_from_the_newest_treatment_of_its_kind():
    """CAPC (A): monthly, year-round. A negative faecal test does not move the date (ours)."""
    given = (*treated("2025-03-31", "2025-01-05"), *treated("2025-04-02", kind="dental"))
    item = due(dog(ADULT), history(treatments=given, tests=faecal("2025-04-03")), "2025-04-05", WORMS)
    assert dates(item, "target", "latest", "last_on") == ("2025-04-30", "2025-04-30", "2025-03-31")
    assert "Every 1 month." in said(item)
    assert "A negative faecal test does not move the date." in said(item)
    assert due(dog(None), history(treatments=given), "2025-04-05", WORMS).target == day("2025-04-30")


def test_a_preventive_against_worms_is_a_deworming_on_each_of_its_days():
    chew = supply("2025-01-31", count=3, protects=("intestinal",))
    on_way = due(dog(ADULT), history(supplies=(chew,)), "2025-02-10", WORMS)
    assert dates(on_way, "target", "last_on") == ("2025-02-28", "2025-01-31")
    assert on_way.recheck_on == day("2025-02-28")
    same_day = due(dog(ADULT), history(supplies=(chew,)), "2025-02-28", WORMS)
    assert (same_day.last_on, same_day.recheck_on) == (day("2025-02-28"), day("2025-03-31"))
    assert same_day.target == day("2025-03-28")
    other = supply("2025-01-31", count=3, protects=("fleas_ticks",))
    assert due(dog(ADULT), history(supplies=(other,)), "2025-02-10", WORMS).last_on is None
    # of a tablet by itself and a chew before it the later one leads, and no other species' rule is listed
    once = history(
        supplies=(supply("2025-01-31", protects=("intestinal",)),), treatments=treated("2025-02-05")
    )
    assert due(dog(ADULT), once, "2025-02-10", WORMS).last_on == day("2025-02-05")
    worms = [
        each.code
        for each in due_items(dog(ADULT), once, under(), day("2025-02-10"))
        if "worming" in each.code
    ]
    assert worms == [WORMS]


def test_adults_by_risk_and_what_an_open_answer_would_change():
    """ESCCAP GL1 (A): monthly with small children or at work, every six weeks on raw meat."""
    rules, what = under(deworming="esccap"), history(treatments=treated("2025-03-31"))
    item = due(dog(ADULT, no=["working"]), what, "2025-03-31", WORMS, rules)
    ask = rules.rules.lifestyle
    assert changes(item) == {
        f"If yes, every 1 month: {ask['small_children']}": None,
        f"If yes, every 6 weeks: {ask['raw_meat']}": None,
    }
    assert due(dog(ADULT, "raw_meat"), what, "2025-03-31", WORMS, rules).target == day("2025-05-12")
    assert changes(due(dog(ADULT), what, "2025-03-31", WORMS)) == {}


def test_a_practice_that_deworms_only_at_risk_has_no_date_elsewhere():
    path = f"deworming.{WORMS}.repeats"
    rules = own((path, [{"any_of": ["raw_meat"], "every": "6 wk", "source": "x", "certainty": "A"}]))
    item = due(dog(ADULT), history(treatments=treated("2025-03-31")), "2025-04-01", WORMS, rules)
    assert (item.target, item.then, item.last_on) == (None, Action.NONE, day("2025-03-31"))


def test_supplies_say_the_days_of_their_doses():
    """Each reckoned from the first, so that month ends do not drift (date rule, ours)."""
    chew = supply("2025-01-31", count=3)
    cal = under().calendar
    assert isinstance(chew, Supply)
    assert [str(each) for each in chew.doses_on(cal)] == ["2025-01-31", "2025-02-28", "2025-03-31"]
    assert str(chew.covered_until(cal)) == "2025-04-30"
    assert (
        standing(due(dog(ADULT), history(supplies=(chew,)), "2025-05-01", MONTHLY), day("2025-05-01"))
        is Standing.OVERDUE
    )


# --- what the sources add -----------------------------------------------------------------------------------


def noted(notes):
    return {note.text: (note.source, note.certainty.value) for note in notes}


def test_what_a_source_says_beside_the_dates_stands_with_its_certainty():
    rules = under().rules
    weight = "From about 2 to 3 lb (0.9 to 1.4 kg) of body weight: see the label."
    assert noted(rules.prevention[MONTHLY].notes)[weight] == ("AAHA 2019", "A")
    later = (
        "A puppy started after 8 weeks of age: by the guideline's text tested 6 months later, then yearly."
    )
    assert noted(rules.heartworm[HW].notes)[later] == ("AHS 2018/2020", "C")
    lepto = {
        each.guideline: (each.value, each.certainty.value)
        for each in rules.vaccines["dog_leptospira"].categories
    }
    assert lepto["AAHA 2024"] == ("core for all dogs", "B")
    assert lepto["AAHA 2024 article"] == ("core for most dogs", "A")
    assert "1 to 2 a year" in rules.sources["CAPC"]


@pytest.mark.parametrize(
    ("code", "mother"), [(WORMS, ("ESCCAP GL1", "A")), ("cat_deworming", ("ESCCAP GL1", "C"))]
)
def test_by_risk_a_faecal_test_may_stand_in_for_a_treatment(code, mother):
    """ESCCAP GL1 (A): monthly or a monthly test; every 6 weeks or a test every 2 to 3 months. Kittens (C)."""
    notes = noted(under(deworming="esccap").rules.deworming[code].notes)
    (text,) = [each for each in notes if each.startswith("In place of treating monthly, a faecal test every")]
    assert notes[text] == ("ESCCAP GL1", "A")
    assert notes["Where heartworm occurs: monthly treatment against its larvae."] == ("ESCCAP GL1", "A")
    (nursing,) = [value for key, value in notes.items() if "nursing" in key]
    assert nursing == mother
    assert text not in noted(under().rules.deworming[code].notes)
