"""How an item stands: pauses, lifestyle answers, until when an answer holds; exams, teeth and life stages."""

from dataclasses import replace

import pytest

from preventive.case import Case
from preventive.dates import PartialDate, Precision, Span, days_before
from preventive.due import (
    Action,
    Due,
    Pause,
    Standing,
    grouped,
    overdue_days,
    paused_on,
    standing,
)
from preventive.facts import Animal, Answer, Birth, Decline, Deferral, Hold, Species, Treatment
from preventive.lifestages import life_stage
from preventive.schedule import due_item
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

PUP = "2025-01-06"
ADULT = "2020-01-06"
CPV = "dog_core:CPV"
LEPTO = "dog_leptospira"


def case(who, on, what=None, rules=None):
    return Case(who, what or history(), rules or under(), day(on))


# --- age ----------------------------------------------------------------------------------------------------


def born_in(value, precision):
    return Animal(species=Species.DOG, birth=Birth(PartialDate(day(value), Precision(precision))))


def test_the_youngest_possible_age_decides_but_never_one_after_a_recorded_event():
    """Unknown birth dates: rules that need an age use the youngest possible one (ours)."""
    june = born_in("2025-06-10", "month")
    assert case(june, "2025-12-01").youngest_birth == day("2025-06-30")
    assert case(june, "2025-12-01").oldest_birth == day("2025-06-01")
    assert case(june, "2025-12-01").turns(Span.parse("1 yr")) == day("2026-06-30")
    for event in (
        history(dose("2025-06-12", "CPV")),
        history(tests=(result("faecal", "2025-06-12"),)),
        history(exams=(day("2025-06-12"), day("2025-08-01"))),
    ):
        assert case(june, "2025-12-01", event).youngest_birth == day("2025-06-12")
    # what is dated before every possible birth says nothing of it
    assert case(june, "2025-12-01", history(exams=(day("2025-05-31"),))).youngest_birth == day("2025-06-30")
    assert case(june, "2025-12-01", history(exams=(day("2025-06-01"),))).youngest_birth == day("2025-06-01")
    month_only = history(dose("2025-06-12", "CPV", precision="month"))
    assert case(june, "2025-12-01", month_only).youngest_birth == day("2025-06-30")
    assert case(june, "2025-06-20").youngest_birth == day("2025-06-20")
    unknown = case(dog(None), "2025-06-20", history(exams=(day("2025-06-12"),)))
    assert (unknown.youngest_birth, unknown.oldest_birth) == (None, None)


def test_an_age_is_reached_on_its_day_and_a_minimum_rolls_up_at_a_month_s_end():
    """Age limits clamp down, minimum ages roll up (ours; so the day of 29 February, date rules)."""
    leap, span = case(dog("2024-02-29"), "2025-06-01"), Span.parse("1 yr")
    assert (leap.turns(span), leap.old_enough_on(span)) == (day("2025-02-28"), day("2025-03-01"))
    assert not leap.is_old_enough(span, day("2025-02-28"))
    assert leap.is_old_enough(span, day("2025-03-01"))
    assert leap.is_old_enough(span, day("2025-03-02"))
    unknown = case(dog(None), "2025-06-01")
    assert (unknown.turns(span), unknown.old_enough_on(span)) == (None, None)
    assert not unknown.is_old_enough(span, day("2025-06-01"))


def test_while_a_month_only_birth_goes_on_the_answer_holds_for_a_day():
    """The youngest possible age changes every day until the month is over."""
    june = born_in("2025-06-10", "month")
    for on, recheck in (("2025-06-12", "2025-06-13"), ("2025-06-29", "2025-06-30")):
        assert due_item(june, history(), under(), day(on), CPV).recheck_on == day(recheck)
    last = due_item(june, history(), under(), day("2025-06-30"), CPV)
    assert last.recheck_on == last.earliest == day("2025-08-11")


# --- until when an answer holds, and what to do today -------------------------------------------------------


def test_it_may_be_done_from_its_earliest_day_or_from_thirty_days_before_and_the_answer_holds_so_long():
    """Status bands (ours): due soon from 30 days before."""
    what = history(*core("2025-03-03"))
    before, on = (due(dog(PUP), what, each, CPV) for each in ("2025-03-16", "2025-03-17"))
    assert (before.action, before.then, before.recheck_on) == (Action.WAIT, Action.GO_ON, day("2025-03-17"))
    assert (on.action, on.recheck_on) == (Action.GO_ON, None)
    boosters = history(*core("2020-03-03", "2020-03-31", "2020-04-28", "2021-04-28"))
    target = day("2024-04-28")
    before = due(dog(ADULT), boosters, str(days_before(target, 31)), CPV)
    assert (before.action, before.recheck_on) == (Action.WAIT, days_before(target, 30))
    on = due(dog(ADULT), boosters, str(days_before(target, 30)), CPV)
    assert (on.action, on.recheck_on) == (Action.ONE_DOSE, None)


def test_the_first_of_several_days_is_the_one_to_look_again():
    """Declined until May: the pause ends before the booster's day."""
    refused = Decline(CPV, day("2025-03-03"), day("2025-05-10"), "later")
    what = history(*core("2020-03-03", "2020-03-31", "2020-04-28", "2021-04-28"), declines=(refused,))
    item = due(dog(ADULT), what, "2025-03-04", CPV)
    assert item.recheck_on == day("2025-05-10")
    soon = Decline(LEPTO, day("2025-03-31"), day("2025-06-30"), "later")
    what = history(dose("2025-03-30", "Leptospira"), declines=(soon,))
    # the six weeks of its series are over on 11 May, before the owner is asked again
    assert due(dog(ADULT), what, "2025-04-20", LEPTO).recheck_on == day("2025-05-12")


# --- pauses -------------------------------------------------------------------------------------------------


def test_a_hold_has_its_day_its_end_and_its_reason_and_comes_before_a_refusal():
    """An adverse event holds the antigen until a veterinarian has looked (common practice)."""
    held = Hold("CPV", day("2025-03-31"), "Swollen face.", day("2025-05-20"))
    refused = Decline("dog_core", day("2025-04-01"), day("2026-04-01"), "The owner fears a reaction.")
    what = history(holds=(held,), declines=(refused,))
    item = due(dog(ADULT), what, "2025-05-19", CPV)
    assert item.pause == Pause(Standing.HOLD, day("2025-03-31"), day("2025-05-20"), "Swollen face.")
    assert (item.action, item.recheck_on) == (Action.WAIT, day("2025-05-20"))
    assert due(dog(ADULT), what, "2025-05-20", CPV).pause.kind is Standing.DECLINED
    assert due(dog(ADULT), what, "2025-03-31", CPV).pause.kind is Standing.HOLD
    assert due(dog(ADULT), what, "2025-03-30", CPV).pause is None
    # its own antigen alone
    assert due(dog(ADULT), what, "2025-05-19", "dog_core:CDV").pause.kind is Standing.DECLINED
    assert due(dog(ADULT), what, "2025-05-19", LEPTO).pause is None


@pytest.mark.parametrize("code", [CPV, "dog_core", "CPV"])
@pytest.mark.parametrize(("kind", "shown"), [(Decline, Standing.DECLINED), (Deferral, Standing.DEFERRED)])
def test_a_refusal_or_a_deferral_runs_from_its_day_to_the_day_before_it_ends(code, kind, shown):
    """Declined is not overdue (ours); it may name the item, its group or the antigen."""
    put = kind(code, day("2025-05-10"), day("2025-08-10"), "why")
    name = "declines" if kind is Decline else "deferrals"

    def item(on):
        return due(dog(ADULT), history(**{name: (put,)}), on, CPV)

    assert item("2025-05-09").pause is None
    assert item("2025-05-10").pause == Pause(shown, day("2025-05-10"), day("2025-08-10"), "why")
    assert item("2025-08-09").action is Action.WAIT
    assert item("2025-08-10").pause is None
    assert item("2025-08-10").action is Action.START


def test_a_refusal_comes_before_a_deferral_and_the_longest_of_several_counts():
    short, long = (Decline(CPV, day("2025-05-10"), day(end), end) for end in ("2025-08-10", "2025-09-10"))
    put_off = Deferral(CPV, day("2025-05-11"), day("2026-05-10"), "ill")
    for declines in ((short, long), (long, short)):
        item = due(dog(ADULT), history(declines=declines, deferrals=(put_off,)), "2025-06-01", CPV)
        assert (item.pause.kind, item.pause.until) == (Standing.DECLINED, day("2025-09-10"))
    earlier = Decline(CPV, day("2025-05-09"), day("2025-09-10"), "before")
    for declines in ((earlier, long), (long, earlier)):
        item = due(dog(ADULT), history(declines=declines), "2025-06-01", CPV)
        assert item.pause.since == day("2025-05-10")


# A dose on the day of the refusal or later ends it (ours)
@pytest.mark.parametrize(
    ("given", "paused"), [("2025-05-09", True), ("2025-05-10", False), ("2025-05-11", False)]
)
def test_a_dose_ends_a_refusal(given, paused):
    refused = Decline(CPV, day("2025-05-10"), day("2026-05-10"), "no")
    what = history(*core(given), declines=(refused,))
    assert (due(dog(ADULT), what, "2025-06-01", CPV).pause is not None) is paused


# --- lifestyle ----------------------------------------------------------------------------------------------


def ticks(value, on=None):
    return replace(dog(ADULT), lifestyle=(Answer("tick_exposure", value, day(on)),))


def test_a_yes_a_no_and_an_open_answer():
    """AAHA 2022 (A): noncore vaccines by the dog's own exposure."""
    given = history(dose("2025-03-03", "Borrelia"))
    yes = due(dog(ADULT, "tick_exposure"), given, "2025-03-03", "dog_borrelia")
    assert (yes.applies, yes.target, yes.needs) == (True, day("2025-03-31"), ())
    no = due(dog(ADULT, no=["tick_exposure"]), given, "2025-03-03", "dog_borrelia")
    assert (no.applies, no.target, no.then, no.last_on) == (False, None, Action.NONE, day("2025-03-03"))
    assert "By the lifestyle answers this animal does not need it." in said(no)
    assert "Next dose 2 to 4 weeks" in said(no)
    unknown = due(dog(ADULT), given, "2025-03-03", "dog_borrelia")
    assert (unknown.applies, unknown.then, unknown.action, unknown.last_on) == (
        True,
        Action.ASK,
        Action.ASK,
        day("2025-03-03"),
    )
    (need,) = unknown.needs
    assert (need.text, need.source) == (under().rules.lifestyle["tick_exposure"], "AAHA 2022")
    assert "Next dose 2 to 4 weeks" in said(unknown)
    assert need.text in said(unknown)
    # the reason changes when the series lapses, though the item is not asked for: the answer says when
    assert no.recheck_on == unknown.recheck_on == day("2025-04-15")


def test_of_two_questions_only_the_open_one_is_asked():
    """AAHA/AAFP 2020 (A): FeLV in adult cats by risk."""
    item = due(cat(ADULT, no=["outdoor"]), history(), "2025-03-03", "cat_leukaemia")
    assert [need.text for need in item.needs if "Test for" not in need.text] == [
        under().rules.lifestyle["meets_felv"]
    ]


def test_an_answer_is_trusted_for_a_year_and_then_asked_again():
    """AAHA 2022 (A): lifestyle is reviewed at least once a year."""
    text = "The lifestyle answer is due to be asked again."
    fresh = due(ticks(True, "2025-03-03"), history(), "2026-03-02", "dog_borrelia")
    assert changes(fresh)[text] == fresh.recheck_on == day("2026-03-03")
    assert fresh.needs == ()
    old = due(ticks(True, "2025-03-03"), history(), "2026-03-03", "dog_borrelia")
    (need,) = old.needs
    assert need.text == "Ask about the lifestyle again."
    assert need.source.startswith("AAHA 2022")
    assert text not in changes(old)
    assert old.then is Action.START
    undated = due(ticks(True), history(), "2026-03-03", "dog_borrelia")
    assert (undated.needs, text in changes(undated)) == ((), False)
    # a review date that falls on a missing day is the last of its month
    leap = due(ticks(True, "2024-02-29"), history(), "2024-06-01", "dog_borrelia")
    assert changes(leap)[text] == day("2025-02-28")


def test_the_newest_yes_counts_for_the_review_and_a_no_does_not():
    answers = (
        Answer("outdoor", True, day("2025-01-10")),
        Answer("meets_felv", True, day("2024-06-01")),
    )
    who = replace(cat(ADULT), lifestyle=answers)
    text = "The lifestyle answer is due to be asked again."
    assert changes(due(who, history(), "2025-02-01", "cat_leukaemia"))[text] == day("2026-01-10")
    who = replace(cat(ADULT), lifestyle=(answers[1], Answer("outdoor", False, day("2025-01-10"))))
    assert changes(due(who, history(), "2025-02-01", "cat_leukaemia"))[text] == day("2025-06-01")


def test_the_newest_answer_to_a_question_counts_and_an_undated_one_is_the_oldest():
    def says(*pairs):
        answers = tuple(Answer("tick_exposure", value, day(on)) for value, on in pairs)
        return replace(dog(ADULT), lifestyle=answers).says("tick_exposure")

    assert says((True, "2025-01-01"), (False, "2024-01-01")) is True
    assert says((True, "2024-01-01"), (False, "2025-01-01")) is False
    assert says((True, None), (False, "2025-01-01")) is False
    assert says() is None
    several = replace(dog(ADULT), lifestyle=(Answer("a", False), Answer("b", None), Answer("c", True)))
    assert several.says_any(("a", "c")) is True
    assert several.says_any(("a", "b")) is None
    assert several.says_any(("a",)) is False


# AAHA/AAFP 2020 (A): FeLV is core up to and including one year of age
@pytest.mark.parametrize(
    ("on", "applies"), [("2025-04-06", True), ("2025-04-07", True), ("2025-04-08", False)]
)
def test_leukaemia_is_for_every_cat_up_to_its_first_birthday(on, applies):
    item = due(cat("2024-04-07", no=["outdoor", "meets_felv"]), history(), on, "cat_leukaemia")
    assert item.applies is applies
    text = "After 7 April 2025 it depends on the lifestyle."
    assert changes(item).get(text) == (day("2025-04-08") if applies else None)


def test_the_first_booster_of_leukaemia_is_for_every_cat_that_had_its_series():
    """AAHA/AAFP 2020 (A): 12 months after the last dose of the series; later ones by risk."""
    who = cat("2024-04-07", no=["outdoor", "meets_felv"])
    series = tuple(dose(on, "FeLV", kind="recombinant") for on in ("2024-06-03", "2024-07-01"))
    item = due(who, history(*series), "2025-06-15", "cat_leukaemia")
    assert (item.applies, item.target) == (True, day("2025-07-01"))
    begun = due(who, history(series[0]), "2025-06-15", "cat_leukaemia")
    assert begun.applies is False


def test_what_was_told_already_stands_beside_what_the_lifestyle_adds():
    """The six weeks of a series (AAHA overdue FAQ, A), the test before FeLV vaccine (AAFP 2020, A)."""
    lapse, review = "After 14 April 2025 the series starts", "The lifestyle answer is due"
    begun = history(dose("2025-03-03", "Borrelia"))
    told = changes(due(ticks(True, "2025-03-03"), begun, "2025-03-10", "dog_borrelia"))
    assert [any(each.startswith(text) for each in told) for text in (lapse, review)] == [True, True]
    kitten = history(dose("2025-03-03", "FeLV", kind="recombinant"))
    told = changes(due(cat("2024-12-02"), kitten, "2025-03-10", "cat_leukaemia"))
    assert [any(each.startswith(text) for each in told) for text in (lapse, "After 2 December 2025 it")] == [
        True,
        True,
    ]
    who = replace(cat(ADULT), lifestyle=(Answer("outdoor", True, day("2024-01-01")),))
    assert len(due(who, history(), "2025-03-10", "cat_leukaemia").needs) == 2


def test_a_first_booster_without_the_risk_is_asked_of_leukaemia_alone():
    """AAHA 2022 (A): noncore by the dog's exposure, its boosters too."""
    both = history(dose("2025-03-03", "Borrelia"), dose("2025-03-31", "Borrelia"))
    assert due(dog(ADULT, no=["tick_exposure"]), both, "2025-04-01", "dog_borrelia").applies is False


def test_nothing_to_do_is_nothing_even_while_it_is_declined():
    refused = Decline("dog_borrelia", day("2025-03-01"), day("2026-03-01"), "no")
    item = due(dog(ADULT, no=["tick_exposure"]), history(declines=(refused,)), "2025-04-01", "dog_borrelia")
    assert item.action is Action.NONE


def test_an_unknown_birth_date_is_asked_for_in_words():
    (step,) = due(dog(None), history(), "2025-04-01", "dog_exam").why
    assert step.text == "The birth date is not known: enter it or an estimate."
    assert (step.source, step.certainty) == ("ours", "ours")


# --- how it stands ------------------------------------------------------------------------------------------


def plain(**facts) -> Due:
    """A booster due on 7 April 2026, with one thing or another about it."""
    item = due(dog(ADULT), history(*core("2022-03-10", "2022-04-07", "2023-04-07")), "2026-01-01", CPV)
    assert item.target == day("2026-04-07")
    return replace(item, **facts)


def test_what_has_no_date_is_complete_and_what_must_be_asked_is_due():
    on = day("2026-01-01")
    assert standing(plain(target=None, latest=None), on) is Standing.COMPLETE
    assert standing(plain(target=None, latest=None, then=Action.ASK), on) is Standing.DUE
    assert standing(plain(applies=False), day("2026-05-01")) is Standing.NOT_APPLICABLE


def test_it_is_overdue_after_the_latest_day_or_the_target_where_there_is_none():
    """Due on the day, overdue the day after (date rule; NASPHV 2016: no tolerance, B)."""
    window, alone = plain(latest=day("2026-04-20")), plain(latest=None)
    assert (window.due_by, alone.due_by) == (day("2026-04-20"), day("2026-04-07"))
    assert standing(window, day("2026-04-20")) is Standing.DUE
    assert standing(window, day("2026-04-21")) is Standing.OVERDUE
    assert standing(alone, day("2026-04-08")) is Standing.OVERDUE
    assert (overdue_days(window, day("2026-04-20")), overdue_days(window, day("2026-04-22"))) == (0, 2)
    assert overdue_days(plain(target=None, latest=None), day("2027-01-01")) == 0


def test_a_pause_stands_to_the_day_before_it_ends_and_one_without_an_end_for_good():
    ends = Pause(Standing.DEFERRED, day("2026-03-01"), day("2026-06-01"), "ill")
    assert paused_on(ends, day("2026-05-31")) is Standing.DEFERRED
    assert paused_on(ends, day("2026-06-01")) is None
    assert paused_on(replace(ends, until=None), day("2036-06-01")) is Standing.DEFERRED
    assert paused_on(None, day("2026-05-31")) is None
    assert standing(plain(pause=ends), day("2026-05-31")) is Standing.DEFERRED
    assert standing(plain(pause=ends), day("2026-06-01")) is Standing.OVERDUE


def test_one_line_holds_what_is_due_alike_and_keeps_its_order():
    what = history(*core("2025-03-03"), dose("2025-03-17", "CPV"))
    dues = [due(dog(PUP), what, "2025-03-17", f"dog_core:{each}") for each in ("CDV", "CPV", "CAV-2")]
    dues.append(due(dog(PUP), what, "2025-03-17", LEPTO))
    lines = grouped(tuple(dues))
    assert [(line.label, len(line.dues)) for line in lines] == [
        ("Distemper, adenovirus, parvovirus", 2),
        ("Parvovirus", 1),
        ("Leptospirosis", 1),
    ]
    assert [line.first.code for line in lines] == ["dog_core:CDV", CPV, LEPTO]


# --- exams, teeth, life stages ------------------------------------------------------------------------------


def exam(who, on, *days, code="dog_exam", rules=None, what=None):
    given = what or history(exams=tuple(day(each) for each in days))
    return due(who, given, on, code, rules)


def test_the_first_exam_comes_with_the_first_vaccination():
    """At eight weeks (ours); dental, pain and body condition each time (AAHA-AVMA, A)."""
    item = exam(dog(PUP), PUP)
    assert dates(item, "earliest", "target", "latest", "last_on") == (None, "2025-03-03", "2025-03-03", None)
    assert (item.then, item.kind) == (Action.EXAMINE, "visit")
    assert "First at 8 weeks of age." in said(item)
    assert "dental, pain and body-condition" in said(item)
    assert exam(dog(None), PUP).action is Action.ASK


def test_the_next_exam_counts_from_the_newest_one_up_to_the_day():
    """AAHA 2019 (A): adults every six to twelve months."""
    item = exam(dog("2022-04-10"), "2025-05-20", "2025-05-10", "2024-02-01", "2025-05-21")
    assert dates(item, "earliest", "target", "latest", "last_on") == (
        *("2025-11-10", "2026-05-10", "2026-05-10"),
        "2025-05-10",
    )
    assert item.then is Action.EXAMINE
    assert "6 months to 12 months after the last exam." in said(item)
    assert "dental, pain and body-condition" in said(item)
    # six months after 31 August: the last day of February
    item = exam(dog("2022-04-10"), "2025-08-31", "2025-08-31")
    assert item.earliest == day("2026-02-28")
    leap = exam(dog("2020-04-10"), "2024-02-29", "2024-02-29")
    assert leap.latest == day("2025-02-28")


# AAHA 2019 (A): puppies every 3 to 4 weeks, with the vaccine series (to 20 weeks, 2025-05-26: ours)
@pytest.mark.parametrize(
    ("last", "window"),
    [("2025-05-25", ("2025-06-15", "2025-06-22")), ("2025-05-26", ("2025-11-26", "2026-05-26"))],
)
def test_the_puppy_s_rhythm_ends_with_twenty_weeks(last, window):
    assert dates(exam(dog(PUP), last, last), "earliest", "latest") == window


def test_without_a_birth_date_the_rhythm_of_exams_is_the_adult_s():
    item = exam(dog(None), "2025-05-25", "2025-05-25")
    assert dates(item, "earliest", "latest") == ("2025-11-25", "2026-05-25")


# AAHA 2019 (C): senior dogs about every six months; AAHA/AAFP 2021 (A): senior cats at least so
@pytest.mark.parametrize("make", [dog, cat])
def test_seniors_are_examined_every_six_months(make):
    code = f"{make.__name__}_exam"
    who = make("2012-03-15", stage="senior")
    item = exam(who, "2025-05-10", "2025-05-10", code=code)
    assert dates(item, "earliest", "latest") == ("2025-11-10", "2025-11-10")
    assert item.why[0].text == "6 months after the last exam."
    younger = exam(make("2022-03-15"), "2025-05-10", "2025-05-10", code=code)
    assert younger.latest == day("2026-05-10")


def test_a_dog_of_unknown_lifespan_is_not_taken_for_a_senior():
    """AAHA 2019 (A): no fixed years; the staff set the stage."""
    old = exam(dog("2010-03-15"), "2025-05-10", "2025-05-10")
    assert old.latest == day("2026-05-10")
    known = exam(dog("2010-03-15", lifespan_years=12.0), "2025-05-10", "2025-05-10")
    assert known.latest == day("2025-11-10")


def test_a_stage_that_is_not_certain_chooses_no_rhythm():
    """A dog past its young years without a lifespan may be senior already (ours)."""
    cited = {"source": "x", "certainty": "clinic"}
    mature = {"stages": ["mature_adult"], "earliest": "3 mo", "latest": "3 mo", **cited}
    rules = own(("visits.dog_exam.bands", [mature, {"earliest": "6 mo", "latest": "12 mo", **cited}]))
    old = exam(dog("2010-03-15"), "2025-05-10", "2025-05-10", rules=rules)
    assert old.latest == day("2026-05-10")
    known = exam(dog("2017-03-15", lifespan_years=12.0), "2025-05-10", "2025-05-10", rules=rules)
    assert known.latest == day("2025-08-10")


def test_a_stage_goes_by_the_youngest_possible_age():
    """AAHA/AAFP 2021 (A): mature from seven years; born some day of March 2018 (ours)."""
    march = Animal(species=Species.CAT, birth=Birth(PartialDate(day("2018-03-10"), Precision.MONTH)))
    assert [stage(march, on).code for on in ("2025-03-30", "2025-03-31")] == ["young_adult", "mature_adult"]


def test_the_next_stage_changes_the_rhythm_on_its_day():
    """AAHA/AAFP 2021 (A, press release): senior from the tenth birthday."""
    who = cat("2015-06-15")
    before, on = (exam(who, each, "2025-05-10", code="cat_exam") for each in ("2025-06-14", "2025-06-15"))
    assert (before.latest, before.recheck_on) == (day("2026-05-10"), day("2025-06-15"))
    assert on.latest == day("2025-11-10")
    assert exam(cat(None), "2025-06-15", "2025-05-10", code="cat_exam").latest == day("2026-05-10")


def stage(who, on):
    return life_stage(case(who, on))


def test_a_dog_s_stages_go_by_age_and_then_by_the_expected_lifespan():
    """AAHA 2019 (A): to about 9 months, to 4 years, to the last 25 % of the expected lifespan."""
    who = dog("2015-01-06", lifespan_years=12.0)
    found = [
        stage(who, on).code
        for on in ("2015-10-05", "2015-10-06", "2019-01-05", "2019-01-06", "2024-01-05", "2024-01-06")
    ]
    assert found == [
        *("puppy", "young_adult", "young_adult", "mature_adult"),
        *("mature_adult", "senior"),
    ]
    young = stage(who, "2015-10-06")
    assert (young.label, young.until, young.certain) == ("Young adult", day("2019-01-06"), True)
    assert (young.certainty, young.source) == ("A", "AAHA 2019: to 3 or 4 years")
    mature = stage(who, "2019-01-06")
    assert (mature.until, mature.certain) == (day("2024-01-06"), True)
    senior = stage(who, "2024-01-06")
    assert (senior.until, senior.certain) == (None, True)


def test_without_a_lifespan_a_grown_dog_is_mature_but_not_for_certain():
    found = stage(dog("2010-01-06"), "2025-01-06")
    assert (found.code, found.until, found.certain) == ("mature_adult", None, False)
    assert stage(dog("2010-01-06", lifespan_years=12.0), "2025-01-06").certain
    assert stage(dog(None), "2025-01-06") is None


def test_a_stage_set_by_the_staff_wins_even_without_a_birth_date():
    """AAHA 2019 (A): needs breed and size; let the staff set it."""
    found = stage(dog(None, stage="senior"), "2025-01-06")
    assert (found.code, found.label, found.until) == ("senior", "Senior", None)
    assert (found.source, found.certainty, found.certain) == ("set by the staff", "clinic", True)
    assert stage(dog("2025-01-06", stage="no such"), "2025-02-06").code == "puppy"


def test_a_practice_whose_last_stage_ends_has_none_after_it():
    rules = own(("stages.cat.senior.until_age", "20 yr"))
    assert life_stage(case(cat("2000-01-06"), "2025-01-06", rules=rules)) is None


def dental(who, on, *days, code="dog_dental", kind="dental", rules=None):
    return due(who, history(treatments=tuple(Treatment(kind, day(each)) for each in days)), on, code, rules)


def test_the_first_cleaning_is_by_size():
    """AAHA 2019 dental (C): about one year in cats and small or medium dogs, two in large dogs."""
    small = dental(dog("2024-02-29", size="small"), "2024-06-01")
    assert dates(small, "target", "latest", "last_on") == ("2025-03-01", "2025-03-01", None)
    assert (small.then, small.kind, small.changes) == (Action.TREAT, "dental", ())
    assert "First at about 1 year of age." in said(small)
    assert dental(dog("2024-02-29", size="large"), "2024-06-01").target == day("2026-03-01")
    unknown = dental(dog("2024-03-01"), "2024-06-01")
    assert unknown.target == day("2025-03-01")
    assert changes(unknown) == {"Large dogs: first at about 2 years. Enter the adult size.": None}
    assert dental(cat("2024-03-01"), "2024-06-01", code="cat_dental").changes == ()
    assert dental(dog(None), "2024-06-01").action is Action.ASK


def test_a_later_cleaning_is_yearly_by_the_newest_one():
    """AAHA 2019 dental (C): then yearly or by the grade of the disease."""
    item = dental(dog(ADULT), "2025-03-01", "2024-02-29", "2022-05-01", "2025-03-02")
    assert dates(item, "target", "latest", "last_on") == ("2025-02-28", "2025-02-28", "2024-02-29")
    assert item.then is Action.TREAT
    assert "Every 12 months, or by the grade of the disease." in said(item)
    assert dental(dog(ADULT), "2025-03-02", "2025-03-02").last_on == day("2025-03-02")
    other = dental(dog(ADULT, size="small"), "2025-03-01", "2024-02-29", kind="deworming")
    assert other.last_on is None


def test_a_practice_s_own_rhythm_for_young_teeth_goes_by_the_newest_cleaning():
    cited = {"source": "x", "certainty": "clinic"}
    rules = own(
        (
            "dental.dog_dental.repeats",
            [{"until_age": "3 yr", "every": "6 mo", **cited}, {"every": "2 yr", **cited}],
        )
    )
    item = dental(dog("2020-01-06"), "2025-03-01", "2021-03-01", "2024-03-01", rules=rules)
    assert item.target == day("2026-03-01")


def test_a_practice_without_a_repeat_leaves_it_to_the_veterinarian():
    item = dental(dog(ADULT), "2025-03-01", "2024-02-29", rules=own(("dental.dog_dental.repeats", [])))
    assert (item.target, item.then) == (None, Action.NONE)
