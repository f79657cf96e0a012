"""Who saw it, who entered it, who confirmed it: all of them stand on the signed page and in the letter."""

from __future__ import annotations

import pytest
from django.test import Client

from clinic.letters.composition import compose
from clinic.models import Record
from clinic.visits import actions
from exams.credit import credited, entered_for
from exams.state import LineAnswer
from tests import people
from tests.exams.house import Tablet, exam_here

NAMES = {"1": "Dr Oduya", "2": "Inés Varga"}


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (LineAnswer("normal", person="1"), "Dr Oduya"),
        (LineAnswer("normal", person="2", observed_by="1"), "seen by Dr Oduya, entered by Inés Varga"),
        (LineAnswer("normal", person="2", confirmed_by="1"), "Inés Varga, confirmed by Dr Oduya"),
        (LineAnswer("normal", person="1", observed_by="1", confirmed_by="1"), "Dr Oduya"),
    ],
)
def test_everybody_behind_an_answer_is_named(answer, said) -> None:
    assert credited(answer, NAMES) == said


def test_each_pair_of_people_is_told_once() -> None:
    lines = [LineAnswer("normal", person="2", observed_by="1")] * 3 + [LineAnswer("normal", person="1")]
    assert entered_for(lines, NAMES) == (("Inés Varga", "Dr Oduya"),)


@pytest.fixture
def house(db) -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def exam(house) -> Tablet:
    """A technician's tablet; the clinician's eyes."""
    tablet = exam_here(house.actor("technician"), people.visit_here(clinician=house.clinician))
    wax = {"findings": [{"code": "EAR-02", "severity": "moderate"}]}
    observed = {"observed_by": str(house.clinician.pk)}
    assert tablet.tap("EAR.canal|left", "set_abnormal", wax, **observed)["result"] == "accepted"
    return tablet


def page_of(house, visit_id: int) -> str:
    client = Client()
    client.force_login(house.clinician)
    return client.get(f"/visits/{visit_id}/exam/").content.decode()


def signed(tablet: Tablet, house) -> Record:
    """A focused visit, so that nothing but the ear is asked for."""
    record = Record.objects.select_related("visit__patient").get(pk=tablet.exam.record_id)
    clinician = house.actor("clinician")
    actions.set_kind(
        visit=record.visit, kind="focused", reason="only the ear", actor=clinician, now=people.NOW
    )
    for excuse in (actions.excuse_weight, actions.excuse_bcs):
        excuse(record=record, reason="no scale", actor=clinician, now=people.NOW)
    return actions.sign(record=record, actor=clinician, now=people.NOW)


def test_the_grade_waits_and_the_signature_confirms_it(exam, house) -> None:
    record = exam.exam.record
    assert exam.exam.findings.get().findings[0]["unconfirmed"] is True
    signed(exam, house)
    row = exam.exam.findings.get(line="EAR.canal|left")
    assert not row.findings[0].get("unconfirmed")
    assert row.confirmed_by == house.clinician
    assert "seen by Dr Maren Oduya, entered by Inés Varga" in page_of(house, record.visit_id)


def test_the_letter_credits_both(exam, house) -> None:
    record = signed(exam, house)
    letter = compose(record, today=people.TODAY)
    told = [line.text for line in letter.signed.lines]
    assert "Inés Varga wrote down what Dr Maren Oduya found." in told
