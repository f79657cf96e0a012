"""What an antibody test means for the next dose: by the protocol's setting, and never for rabies."""

from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from clinic.care.models import Test, TestResult
from preventive.dates import day_words
from preventive.in_house import on_wish
from preventive.knowing import history_of
from preventive.safety import safety_questions
from preventive.titres import titre_kind
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
