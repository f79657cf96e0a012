"""What a station asks to be looked at again. Sources: heart rate of healthy cats by telemetry, J Feline Med
Surg 2005 (187 a minute while held, 132 at home); sex confirmed until two visits agreed: common practice."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clinic.models import Measurement, Record
from clinic.patients.actions import change_patient
from exams.live import live_json
from exams.models import Exam
from exams.prompts import prompts_json, repeat_later
from exams.queries import standing, standing_of
from exams.sex_guards import NEUTER_LINE
from tests import people
from tests.exams.house import exam_here

pytestmark = pytest.mark.django_db
HEART = "VIT.heart-rate|-"


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def tablet(house):
    return exam_here(house.actor("clinician"))


def beats(tablet, value: str, **more):
    payload = {"value": value, "unit": "per-min", "looked_twice": True, **more}
    return tablet.tap(HEART, "measure", payload)


def asked(tablet) -> list[dict]:
    exam = Exam.objects.select_related("record__visit__patient").get(pk=tablet.exam.pk)
    return live_json(standing(exam))["repeat"]


@pytest.mark.parametrize(
    ("state", "words"),
    [("held", "while held"), ("excited", "while excited"), ("", "nobody said how the animal was")],
)
def test_a_high_rate_of_an_upset_animal_is_to_be_repeated_later(tablet, state, words) -> None:
    more = {"state": state} if state else {}
    assert beats(tablet, "230", **more)["result"] == "accepted"
    assert Measurement.objects.get().state == state
    [prompt] = asked(tablet)
    assert prompt["line"] == HEART
    assert words in prompt["words"]
    assert "later" in prompt["words"]


def test_a_calm_count_later_or_a_rate_that_is_inside_asks_nothing(tablet) -> None:
    assert beats(tablet, "90")["result"] == "accepted"
    assert asked(tablet) == []
    beats(tablet, "230", state="held")
    assert asked(tablet)
    tablet.tap(HEART, "measure", {"value": "231", "unit": "per-min", "looked_twice": True, "state": "calm"})
    assert asked(tablet) == [], "calm and still high: believed"


def test_a_state_that_the_page_does_not_know_is_refused(tablet) -> None:
    assert beats(tablet, "230", state="cross")["reason"] == "bad-payload"
    assert not Measurement.objects.exists()


def test_only_what_fear_raises_is_repeated(tablet) -> None:
    rows = [Measurement(kind="weight", flag="high", typed=Decimal(40), state="held")]
    assert repeat_later(rows) == []


def prompts(house, visit) -> dict:
    record = Record.objects.select_related("visit__patient").get(visit=visit)
    told = standing_of(record, today=people.NOW.date())
    with CaptureQueriesContext(connection) as queries:
        found = prompts_json(record.visit, told, actor=house.actor("clinician"))
    assert len(queries) == 3
    json.dumps(found)
    return found


def gone_home(visit) -> None:
    visit.gone_at, visit.place = people.NOW, "home"
    visit.save()


def signed_with_neuter_seen(house, patient):
    """A signed visit at which the neuter evidence was looked at and matched."""
    visit = people.visit_here(patient, clinician=house.clinician)
    tablet = exam_here(house.actor("clinician"), visit)
    assert tablet.tap(NEUTER_LINE, "set_normal")["result"] == "accepted"
    record = visit.record
    gone_home(visit)
    record.signed_at, record.signed_by, record.signed_name = people.NOW, house.clinician, "Dr Maren Oduya"
    record.save()


def test_the_sex_is_asked_for_until_two_signed_visits_agreed(house) -> None:
    patient = people.patient("Grit")
    seen = []
    for _ in range(2):
        signed_with_neuter_seen(house, patient)
        visit = people.visit_here(patient)
        seen.append(prompts(house, visit)["sex"]["confirmed"])
        gone_home(visit)
    assert seen == [1, 2]


def test_what_was_confirmed_of_another_sex_is_no_confirmation(house) -> None:
    patient = people.patient("Grit")
    signed_with_neuter_seen(house, patient)
    sex = "male" if patient.sex == "female" else "female"
    change_patient(actor=house.actor("clinician"), now=people.NOW, patient=patient, sex=sex)
    found = prompts(house, people.visit_here(patient))["sex"]
    assert found["confirmed"] == 0
    assert sex in found["kept_as"]
    assert found["url"].endswith(f"/patients/{patient.pk}/edit/")
