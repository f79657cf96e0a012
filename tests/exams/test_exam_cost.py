"""What one saved tap costs the database: a few statements, as few late in an exam as early."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from clinic.models import Visit
from exams.models import Finding, Operation
from exams.versions import composed
from tests import people
from tests.exams.test_exam_endpoints import operation, send

MOST = 6  # session, whoever works, begin, the exam read and held, everything written, commit


@pytest.fixture
def visit() -> Visit:
    people.clinic_details()
    return people.visit_here(clinician=people.staff("Dr Maren Oduya", "clinician"))


@pytest.fixture
def clinician(client: Client, visit) -> Client:
    client.force_login(visit.clinician)
    return client


def statements(client: Client, visit: Visit, *operations: dict, refuses: bool = False) -> list[str]:
    with CaptureQueriesContext(connection) as seen:
        answers = send(client, visit, *operations).json()["answers"]
    assert {a["result"] for a in answers} <= {"accepted", *(["refused"] if refuses else [])}
    return [each["sql"] for each in seen.captured_queries]


@pytest.mark.django_db(transaction=True)
def test_one_saved_tap_costs_six_statements_with_its_transaction(clinician, visit) -> None:
    send(clinician, visit, operation(clinician))
    told = statements(clinician, visit, operation(clinician, "EAR.canal|right"))
    assert len(told) <= MOST, told
    assert [told[2], told[-1]] == ["BEGIN", "COMMIT"]
    assert Operation.objects.count() == Finding.objects.count() == 2


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("what", "payload"),
    [
        ("set_abnormal", {"findings": [{"code": "EAR-02", "severity": "mild"}]}),
        ("set_not_examined", {"reason": "no-time"}),
        ("note", {"text": "sour"}),
        ("clear", {}),
    ],
)
def test_whatever_the_tap_says(clinician, visit, what, payload) -> None:
    first = operation(clinician)
    send(clinician, visit, first)
    told = statements(
        clinician, visit, operation(clinician, what=what, payload=payload, follows=first["key"])
    )
    assert len(told) <= MOST, told


@pytest.mark.django_db
def test_many_taps_at_once_cost_as_many_statements_as_one(clinician, visit) -> None:
    send(clinician, visit, operation(clinician))
    few = statements(clinician, visit, operation(clinician, "EAR.canal|right"))
    lines = [s.code for s in composed().structure.values() if s.sided == "none" and s.depth == "routine"]
    many = statements(clinician, visit, *(operation(clinician, f"{code}|-") for code in lines), refuses=True)
    assert Finding.objects.count() > 20
    assert len(many) == len(few)


@pytest.mark.django_db
def test_a_resend_and_a_refusal_cost_no_more(clinician, visit) -> None:
    first = operation(clinician)
    send(clinician, visit, first)
    for again in (first, operation(clinician, what="paint")):
        with CaptureQueriesContext(connection) as seen:
            send(clinician, visit, again)
        assert len(seen) <= MOST
