"""One structure over all visits: each look against the look before it, at a fixed number of queries."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from clinic.models import Measurement, Patient, Record
from exams.history import structure_page
from tests import people
from tests.exams.house import exam_here

pytestmark = pytest.mark.django_db
CANAL, HEART = "EAR.canal|left", "VIT.heart-rate|-"


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def patient() -> Patient:
    return people.patient("Grit")


def looked(house, patient: Patient, number: int, *taps: tuple) -> None:
    """The signed exam of one visit; the visits lie a month apart."""
    visit = people.visit_here(patient, clinician=house.clinician)
    tablet = exam_here(house.actor("clinician"), visit)
    for tap in taps:
        answer = tablet.tap(*tap)
        assert answer["result"] == "accepted", answer
    visit.gone_at, visit.place = people.NOW, "home"
    visit.save()
    Record.objects.filter(visit=visit).update(
        opened_at=people.NOW + timedelta(days=30 * number),
        signed_at=people.NOW + timedelta(days=30 * number),
        signed_by=house.clinician,
        signed_name="Dr Maren Oduya",
    )


def wax(severity: str, line: str = CANAL) -> tuple:
    return line, "set_abnormal", {"findings": [{"code": "EAR-02", "severity": severity}]}


def marks(patient: Patient, structure: str) -> list[list[str]]:
    """By visit, the newest first."""
    page = structure_page(patient, structure)
    return [[m.how for said in look.said for m in said.marks] for look in page.looks]


def test_each_look_says_what_became_of_it_since_the_look_before(house, patient) -> None:
    unseen = (CANAL, "set_not_examined", {"reason": "too-painful", "words": ""})
    looked(house, patient, 0, (CANAL, "set_normal"))
    looked(house, patient, 1, wax("mild"))
    looked(house, patient, 2, wax("severe"))
    looked(house, patient, 3, unseen)
    looked(house, patient, 4)
    looked(house, patient, 5, wax("moderate"))
    looked(house, patient, 6, wax("moderate"))
    looked(house, patient, 7, (CANAL, "set_normal"))
    assert marks(patient, "EAR.canal") == [["gone"], ["same"], ["better"], [], [], ["worse"], ["new"], []]
    page = structure_page(patient, "EAR.canal")
    assert page.summed == "Looked at in 6 of 8 signed exams; abnormal in 4."
    assert page.looks[0].said[0].marks[0].of == "excess wax, moderate"
    assert "excess wax, severe" in page.looks[5].said[0].words
    assert next(look.said[0].words for look in page.looks if not look.looked) == "not looked at"


def test_a_finding_at_the_first_look_is_not_called_new(house, patient) -> None:
    looked(house, patient, 0, wax("mild"))
    assert marks(patient, "EAR.canal") == [["first look"]]


def test_sides_are_compared_with_themselves(house, patient) -> None:
    looked(house, patient, 0, wax("mild"), wax("severe", "EAR.canal|right"))
    looked(house, patient, 1, wax("severe"), wax("mild", "EAR.canal|right"))
    assert marks(patient, "EAR.canal")[0] == ["worse", "better"]


def test_a_value_stands_with_its_unit_and_flag(house, patient) -> None:
    for number, value in enumerate(("96", "230")):
        looked(
            house,
            patient,
            number,
            (HEART, "measure", {"value": value, "unit": "per-min", "looked_twice": True}),
        )
    assert Measurement.objects.count() == 2
    newest = structure_page(patient, "VIT.heart-rate").looks[0].said[0]
    assert "230" in newest.words
    assert newest.shape == "abnormal"
    assert [m.how for m in newest.marks] == ["new"]


def test_twenty_visits_cost_no_more_queries_than_two(house, patient) -> None:
    client = Client()
    client.force_login(house.clinician)
    counts = []
    for visits in (2, 20):
        for number in range(visits if not counts else visits - 2):
            looked(house, patient, number + 3 * len(counts), wax("mild"))
        with CaptureQueriesContext(connection) as queries:
            page = client.get(f"/patients/{patient.pk}/walk/EAR.canal/")
        assert page.content.decode().count('class="look"') == visits
        counts.append(len(queries))
    assert counts[0] == counts[1]
