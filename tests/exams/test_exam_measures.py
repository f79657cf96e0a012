"""A value typed in the exam is the patient's measurement, once, judged by clinic's limits."""

from decimal import Decimal

import pytest

from clinic.models import Measurement, Record
from clinic.patients.actions import measure
from exams.models import Finding
from exams.plugs import ExamAnswered
from exams.queries import standing
from tests import people
from tests.exams.house import Tablet, exam_here, state_of

pytestmark = pytest.mark.django_db

WARM = "VIT.temperature|-"


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def tablet(house) -> Tablet:
    return exam_here(house.actor("clinician"))


def temperature(value: str, **more: object) -> dict[str, object]:
    return {"value": value, "unit": "C", "method": "rectal", **more}


def test_a_typed_value_becomes_the_patients_measurement(tablet, house) -> None:
    assert tablet.tap(WARM, "measure", temperature("38.6"))["result"] == "accepted"
    row = Measurement.objects.get()
    assert (row.kind, str(row.typed.normalize()), row.flag, row.entered_by) == (
        "temperature",
        "38.6",
        "inside",
        house.clinician,
    )
    answer = state_of(tablet.exam).answers[WARM]
    assert (answer.value, answer.flag, answer.is_abnormal) == ("38.6", "inside", False)


def test_a_fever_is_flagged_and_named(tablet) -> None:
    tablet.tap(WARM, "measure", temperature("40.4"))
    answer = state_of(tablet.exam).answers[WARM]
    assert (answer.flag, [f.code for f in answer.findings]) == ("high", ["VIT-01"])
    assert standing(tablet.exam).urgency in ("R", "T", "E")


def test_what_cannot_be_is_refused_with_its_reason(tablet) -> None:
    answer = tablet.tap(WARM, "measure", temperature("386"))
    assert (answer["result"], answer["reason"]) == ("refused", "impossible")
    assert answer["words"]
    assert not Measurement.objects.exists()
    assert not Finding.objects.exists()


def test_what_is_rare_is_asked_once(tablet) -> None:
    asked = tablet.tap(WARM, "measure", temperature("42.9"))
    assert asked["reason"] == "ask-once"
    assert tablet.tap(WARM, "measure", temperature("42.9", looked_twice=True))["result"] == "accepted"
    assert Measurement.objects.get().looked_twice


def test_a_value_taken_back_is_struck_out_and_the_intakes_stands_again(tablet, house) -> None:
    visit = tablet.exam.record.visit
    people.weigh(visit, "27.4", by=house.technician)
    typed = tablet.tap("VIT.weight|-", "measure", {"value": "28.1", "unit": "kg"})
    assert state_of(tablet.exam).answers["VIT.weight|-"].value == "28.1"
    tablet.tap("VIT.weight|-", "take_back", {"operation": typed["key"]})
    assert state_of(tablet.exam).answers["VIT.weight|-"].value == "27.4"
    assert Measurement.objects.exclude(struck_at=None).get().struck_reason


def test_a_score_brings_its_finding(tablet) -> None:
    tablet.tap("BCM.score|-", "measure", {"value": "8", "unit": "bcs-9"})
    answer = state_of(tablet.exam).answers["BCM.score|-"]
    assert (answer.value, [f.grade for f in answer.findings]) == ("8", ["8"])


def test_an_assistant_measures(tablet, house) -> None:
    theirs = Tablet(tablet.exam, house.actor("assistant"))
    assert theirs.tap(WARM, "measure", temperature("38.6"))["result"] == "accepted"


@pytest.mark.parametrize(
    ("points", "codes"), [("4.5", []), ("5", []), ("6.5", ["BCM-04"]), ("7", ["BCM-05"])]
)
def test_a_half_point_of_condition_asks_for_no_grade(tablet, points, codes) -> None:
    visit = record_of(tablet).visit
    measure(
        actor=tablet.actor,
        now=people.NOW,
        patient=visit.patient,
        visit=visit,
        kind="bcs",
        typed=Decimal(points),
        unit="bcs-9",
    )
    answer = state_of(tablet.exam).answers["BCM.score|-"]
    assert (answer.value, [f.code for f in answer.findings]) == (points, codes)
    asked = ExamAnswered().missing(record_of(tablet), actor=tablet.actor)
    assert "exam-grade" not in {each.code.partition(":")[0] for each in asked}


def record_of(tablet: Tablet) -> Record:
    return Record.objects.select_related("visit__patient").get(pk=tablet.exam.record_id)
