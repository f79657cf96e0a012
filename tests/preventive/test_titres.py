"""What an antibody test means for the next dose: by the protocol's setting, and never for rabies."""

from dataclasses import replace
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from clinic.care.models import Test, TestResult
from preventive.case import Case, Plan
from preventive.dates import Span, Unit, day_words
from preventive.due import Action, Sequence, Step
from preventive.in_house import on_wish
from preventive.knowing import history_of
from preventive.rules import Certainty, TitreRule, TitreUse
from preventive.safety import safety_questions
from preventive.series import Phase, Progress
from preventive.titres import is_titre, titre_kind, titre_known, with_titre
from tests.preventive.build import core, day, dog, due, history, rabies, result, under
from tests.preventive.room import room
from tests.preventive.test_safety import product

ADULT = "2020-01-06"
BOOSTED = core("2020-03-03", "2020-03-31", "2020-04-28", "2021-04-28", "2024-04-28")
IN_PLACE = {"dog_core_titre": "in_place"}


def item(doses, *tests, on="2027-05-10", code="dog_core:CPV", birth=ADULT, **settings):
    return due(dog(birth), history(*doses, tests=tests), on, code, under(**settings))


def found(on, antigen="CPV"):
    return result(titre_kind(antigen), on, positive=False)


def none(on, antigen="CPV"):
    return result(titre_kind(antigen), on, positive=True)


# AAHA 2022 (C, from memory): an antibody test may stand in for an adult booster of CDV, CAV-2 and CPV
def test_antibody_found_moves_an_adult_booster_where_the_protocol_says_so():
    assert item(BOOSTED).target == day("2027-04-28")
    moved = item(BOOSTED, found("2027-04-20"), **IN_PLACE)
    assert moved.target == day("2030-04-20")
    (step,) = [step for step in moved.why if "stands in for a booster" in step.text]
    assert step.source.startswith("AAHA 2022")


def test_it_is_a_note_where_the_protocol_does_not():
    kept = item(BOOSTED, found("2027-04-20"))
    assert kept.target == day("2027-04-28")
    assert any("leaves the dates as they are" in step.text for step in kept.why)


def test_none_found_wants_a_dose_now():
    assert item(BOOSTED, none("2026-01-10"), on="2026-01-10", **IN_PLACE).target == day("2026-01-10")


# AAHA 2022 (C, from memory): too little antibody is no stand-in for a booster
def test_too_little_wants_a_dose_now_and_says_so():
    low = result(titre_kind("CPV"), "2026-01-10", positive=True, low=True)
    due_now = item(BOOSTED, low, on="2026-01-10", **IN_PLACE)
    assert due_now.target == day("2026-01-10")
    assert any(
        "Less antibody was found than the laboratory calls enough" in each.text for each in due_now.why
    )


def test_where_dates_stay_too_little_or_none_is_put_to_the_veterinarian():
    for low in (True, False):
        kept = item(BOOSTED, result(titre_kind("CPV"), "2026-01-10", positive=True, low=low), on="2026-01-10")
        assert kept.target == day("2027-04-28")
        assert any("a veterinarian decides whether a dose" in each.text for each in kept.needs)
    assert item(BOOSTED, found("2027-04-20")).needs == ()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("kind", "meaning", "read"),
    [
        ("antibody-parvovirus", "low", (True, True)),
        ("antibody-parvovirus", "high", (False, False)),
        ("antibody-parvovirus", "inside", (False, False)),
        ("antibody-parvovirus", "unclear", None),
        ("heartworm-antigen", "low", None),
    ],
)
def test_a_laboratory_s_low_or_high_is_read_for_antibodies_alone(kind, meaning, read):
    puppy = room()
    test = Test.objects.create(
        record=puppy.visit.record, patient=puppy.patient, kind=kind, title="Antibody",
        ordered_by=puppy.people.clinician, ordered_at=timezone.now(), taken_at=timezone.now(),
    )  # fmt: skip
    TestResult.objects.create(
        test=test, analyte=kind, value="1:20", meaning=meaning, resulted_at=timezone.now(),
        entered_by=puppy.people.clinician,
    )  # fmt: skip
    tests = history_of(puppy.patient, today=timezone.localdate()).history.tests
    assert [(each.positive, each.low) for each in tests] == ([read] if read else [])


def test_only_its_own_antigen_and_only_since_the_last_dose():
    assert item(BOOSTED, found("2027-04-20", "CDV"), **IN_PLACE).target == day("2027-04-28")
    assert item(BOOSTED, found("2024-04-20"), **IN_PLACE).target == day("2027-04-28")


def test_a_test_to_come_or_unclear_says_nothing():
    unclear = result(titre_kind("CPV"), "2027-04-20", positive=None)
    assert item(BOOSTED, unclear, **IN_PLACE).target == day("2027-04-28")
    assert item(BOOSTED, found("2027-06-20"), **IN_PLACE).target == day("2027-04-28")


def test_a_series_is_never_shortened():
    begun = core("2027-03-03")
    item_ = item(begun, found("2027-03-31"), on="2027-03-31", birth="2027-01-06", **IN_PLACE)
    assert item_.target == day("2027-03-31")
    assert any("may be the mother" in step.text for step in item_.why)


def test_it_never_brings_a_booster_forward_by_being_found():
    early = item(BOOSTED, found("2024-04-28"), on="2024-05-01", **IN_PLACE)
    assert early.target == day("2027-04-28")


# --- the rule by itself: an interval of its own, shorter than the booster's (ours) --------------------------

BEFORE = Step("The step before.", "a source", "A")
BOOSTER = Plan(
    then=Action.GO_ON,
    earliest=day("2027-01-01"),
    target=day("2027-04-28"),
    latest=day("2027-05-28"),
    sequence=Sequence("initial", 2),
    why=(BEFORE,),
)


def ruled(*tests, phase=Phase.BOOSTED, last="2024-04-28", on="2028-01-01", mode=TitreUse.IN_PLACE):
    """The plan after the tests, and the words that were added to its steps."""
    rule = TitreRule(mode=mode, every=Span(12, Unit.MONTH), source="a source", certainty=Certainty.READ)
    course = under().rules.vaccines["dog_core"].courses["any"]
    case = Case(dog(ADULT), history(tests=tests), under(), day(on))
    plan = with_titre(case, rule, "CPV", Progress(phase, course, last=day(last)), BOOSTER)
    if plan is BOOSTER:
        return plan, None
    first, step = plan.why
    assert first == BEFORE
    return plan, step.text


def test_a_booster_set_anew_is_one_dose_on_its_day_and_no_window():
    for test, on, words in (
        (
            found("2026-09-10"),
            "2027-09-10",
            "Antibody was found on 10 September 2026: it stands in for a booster; the next 12 months later.",
        ),
        (none("2026-09-10"), "2026-09-10", "No antibody was found on 10 September 2026: one dose now."),
    ):
        plan, said = ruled(test)
        assert (plan.then, plan.sequence) == (Action.ONE_DOSE, Sequence("booster"))
        assert (plan.earliest, plan.target, plan.latest) == (None, day(on), day(on))
        assert said == words


@pytest.mark.parametrize("tested", ["2024-05-10", "2026-04-28"])
def test_antibody_found_long_before_the_booster_leaves_its_day_and_is_told(tested):
    plan, said = ruled(found(tested))
    assert replace(plan, why=BOOSTER.why) == BOOSTER
    assert said.startswith("Antibody was found")


def test_a_dose_that_was_due_before_the_test_stays_due_since_then():
    assert ruled(none("2027-06-01"))[0].target == day("2027-04-28")


def test_before_the_first_booster_only_too_little_moves_it():
    assert ruled(none("2026-09-10"), phase=Phase.BASED)[0].target == day("2026-09-10")
    plan, said = ruled(found("2026-09-10"), phase=Phase.BASED)
    assert plan.target == BOOSTER.target
    assert said.endswith("it changes nothing before the first booster.")


def test_in_a_series_nothing_moves_and_nobody_is_asked():
    for mode in TitreUse:
        for test in (none("2026-09-10"), found("2026-09-10")):
            plan, _ = ruled(test, phase=Phase.SERIES, mode=mode)
            assert replace(plan, why=BOOSTER.why) == BOOSTER


def test_the_newest_test_since_the_last_dose_speaks():
    older, newer = found("2026-09-10"), none("2026-10-10")
    assert ruled(older, newer) == ruled(newer, older) == ruled(newer)
    assert ruled(none("2024-04-28"))[0].target == day("2024-04-28")  # on the day of the dose
    assert ruled(none("2024-04-27")) == (BOOSTER, None)
    assert ruled(none("2024-04-27"), last=None, phase=Phase.NONE)[1].startswith("No antibody")


def test_without_a_rule_or_a_date_a_test_says_no_more_than_it_may():
    case = Case(dog(ADULT), history(tests=(found("2026-09-10"),)), under(), day("2027-01-01"))
    course = under().rules.vaccines["dog_core"].courses["any"]
    progress = Progress(Phase.BOOSTED, course, last=day("2024-04-28"))
    assert with_titre(case, None, "CPV", progress, BOOSTER) is BOOSTER
    rule = under(**IN_PLACE).rules.vaccines["dog_core"].titre
    none_planned = Plan(then=Action.NONE)
    assert with_titre(case, rule, "CPV", progress, none_planned).target == day("2029-09-10")
    lacking = replace(case, history=history(tests=(none("2026-09-10"),)))
    assert with_titre(lacking, rule, "CPV", progress, none_planned).target == day("2026-09-10")


def test_a_year_after_a_leap_day_is_the_last_of_february():
    """Due dates clamp down (ours)."""
    assert ruled(found("2028-02-29"), on="2028-03-05")[0].target == day("2029-02-28")


def test_each_antigen_is_known_by_its_own_test():
    other = result("heartworm_ag", "2027-04-01")
    assert item(BOOSTED, found("2027-04-20"), other, **IN_PLACE).target == day("2030-04-20")
    assert item(BOOSTED, found("2027-04-20"), other, code="dog_core:CDV", **IN_PLACE).target == day(
        "2027-04-28"
    )
    case = Case(dog(ADULT), history(tests=(found("2027-04-20"), other)), under(), day("2027-05-10"))
    assert titre_known(case, "CPV")
    assert not titre_known(Case(case.animal, history(tests=(other,)), under(), case.on), "CPV")
    assert is_titre(titre_kind("CPV"))
    assert not is_titre("heartworm_ag")


# NASPHV 2016 (C): a titre is no legal substitute for vaccination
def test_for_rabies_nothing_moves():
    doses = (rabies("2024-05-05", 36), rabies("2025-05-05", 36))
    tested = item(doses, found("2026-04-20", "Rabies"), on="2026-04-20", code="rabies", **IN_PLACE)
    plain = item(doses, on="2026-04-20", code="rabies")
    assert (tested.legal, tested.target) == (plain.legal, plain.target)
    assert any("no legal substitute" in step.text for step in tested.notes)


def test_a_gene_that_was_tested_answers_the_question_of_the_breed():
    collie, chew = dog(ADULT, abcb1_breed=True), product("moxidectin")

    def asked(*tests):
        found = safety_questions(collie, chew, history(tests=tests), under(), day("2025-06-01"))
        return [each.code for each in found]

    assert asked() == ["abcb1_unknown"]
    assert asked(result("abcb1", "2025-05-01", positive=False)) == []
    assert asked(result("abcb1", "2025-05-01", positive=True)) == ["abcb1"]


@pytest.mark.django_db
def test_it_is_taken_and_resulted_in_two_taps():
    puppy = room()
    client = Client()
    client.force_login(puppy.people.clinician)
    page = reverse("visit-prevention", args=[puppy.visit.pk])
    assert "Antibody against parvovirus" in client.get(page).content.decode()
    client.post(reverse("prevention-test", args=[puppy.visit.pk]), {"kind": "antibody-parvovirus"})
    test = puppy.visit.record.tests.get()
    client.post(
        reverse("prevention-result", args=[puppy.visit.pk, test.pk]), {"once": uuid4(), "outcome": "none"}
    )
    row = TestResult.objects.get()
    assert (row.value, row.meaning) == ("no antibody found", "positive")
    why = client.get(reverse("prevention-item", args=[puppy.patient.pk, "dog_core:CPV"])).content.decode()
    assert f"No antibody was found on {day_words(timezone.localdate())}" in why
    assert {each.kind for each in on_wish("dog")} >= {"antibody-distemper", "abcb1-gene"}
