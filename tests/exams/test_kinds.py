"""Kinds of visit: what each leaves out, who may choose it, and the one sentence the letter says of it."""

from __future__ import annotations

import json
import re

import pytest
from django.test import Client

from clinic.letters.composition import compose
from clinic.letters.document import to_json
from clinic.models import Measurement, Record, Visit
from clinic.people.actor import NotAllowed
from clinic.visits import actions
from clinic.visits.actions.signing import missing_of
from exams.models import Exam
from exams.queries import standing_of
from nutrition.actions import keep_feeding
from tests import people
from tests.exams.house import Tablet, exam_here

pytestmark = pytest.mark.django_db

LEFT_OUT = {
    "focused": "it was not part of this visit",
    "emergency": "needed urgent care first",
    "technician": "it was not part of this visit",
}


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


def visit_of(kind: str, house, *, reason: str = "asked for") -> Record:
    visit = people.visit_here(clinician=house.clinician, kind=kind, kind_reason=reason)
    record = Record.objects.select_related("visit__patient").get(visit=visit)
    for excuse in (actions.excuse_weight, actions.excuse_bcs):
        excuse(record=record, reason="no scale", actor=house.actor("clinician"), now=people.NOW)
    keep_feeding(record=record, until="until we call", actor=house.actor("clinician"), now=people.NOW)
    return Record.objects.select_related("visit__patient").get(visit=visit)


def ear_of(record: Record, house) -> Tablet:
    tablet = exam_here(house.actor("clinician"), record.visit)
    assert tablet.tap("EAR.canal|left", "set_normal")["result"] == "accepted"
    return tablet


def letter_of(record: Record) -> str:
    return json.dumps(to_json(compose(record, today=people.TODAY)), ensure_ascii=False)


@pytest.mark.parametrize("kind", ["focused", "emergency", "technician"])
def test_what_was_not_opened_is_not_examined_with_one_reason_and_the_letter_says_so(kind, house) -> None:
    record = visit_of(kind, house)
    ear_of(record, house)
    signed = actions.sign(record=record, actor=house.actor("clinician"), now=people.NOW)
    told = standing_of(signed, today=people.TODAY).state
    assert {a.status for a in told.answers.values()} == {"normal", "not-examined"}
    assert [k for k, a in told.answers.items() if a.status == "normal"] == ["EAR.canal|left"]
    letter = letter_of(signed)
    assert LEFT_OUT[kind] in letter.lower().replace("pomfret", "your pet").replace("It", "it")
    # one line of the ears is not the ears, signed or not
    for written in (letter, letter_of(record)):
        assert "Left ear, inside of the canal: normal." in written
        assert "Ears: normal" not in written


def test_a_technicians_appointment_without_an_exam_is_signed_by_a_clinician_and_says_so(house) -> None:
    record = visit_of("technician", house)
    people.weigh(record.visit, "22.4", by=house.technician)
    with pytest.raises(NotAllowed):
        actions.sign(record=record, actor=house.actor("technician"), now=people.NOW)
    signed = actions.sign(record=record, actor=house.actor("clinician"), now=people.NOW)
    told = standing_of(signed, today=people.TODAY).state
    assert {a.status for a in told.answers.values()} == {"measured", "not-examined"}
    assert LEFT_OUT["technician"] in letter_of(signed).lower()
    assert not re.search(r"\bnormal\b", letter_of(signed)), "nobody examined"


def test_by_telephone_nobody_examined_and_the_letter_says_so(house) -> None:
    record = visit_of("telephone", house)
    signed = actions.sign(record=record, actor=house.actor("clinician"), now=people.NOW)
    assert "We spoke by telephone. Pomfret was not examined." in letter_of(signed)
    assert not Exam.objects.exists()


def test_a_booking_alone_does_not_leave_the_full_walk(house) -> None:
    record = visit_of("focused", house, reason="")
    ear_of(record, house)
    codes = [each.code for each in missing_of(record, actor=house.actor("clinician")) if each.blocks]
    assert codes == ["kind"]
    actions.set_kind(
        visit=record.visit, kind="focused", reason="recheck", actor=house.actor("clinician"), now=people.NOW
    )
    assert not [e for e in missing_of(record, actor=house.actor("clinician")) if e.blocks]


@pytest.mark.parametrize("role", ["technician", "assistant", "manager"])
def test_leaving_the_full_walk_is_a_clinicians_choice(role, house) -> None:
    record = visit_of("full", house)
    with pytest.raises(NotAllowed):
        actions.set_kind(
            visit=record.visit, kind="focused", reason="quick", actor=house.actor(role), now=people.NOW
        )


def test_a_technician_does_not_choose_the_kind_on_the_exam_page_either(house) -> None:
    tablet = exam_here(house.actor("technician"), people.visit_here(clinician=house.clinician))
    answer = tablet.tap("exam", "set_kind", {"kind": "focused", "stations": ["EAR"], "reason": "quick"})
    assert (answer["result"], answer["reason"]) == ("refused", "role")


@pytest.mark.parametrize("kind", Visit.Kind.values)
def test_the_exam_page_opens_for_each_kind(kind, house) -> None:
    record = visit_of(kind, house)
    client = Client()
    client.force_login(house.clinician)
    page = client.get(f"/visits/{record.visit_id}/exam/")
    assert page.status_code == 200
    assert f'"visit_kind": "{kind}"' in page.content.decode()


def test_a_value_of_the_intake_is_kept_with_the_exam_of_a_technicians_appointment(house) -> None:
    record = visit_of("technician", house)
    people.weigh(record.visit, "22.4", by=house.technician)
    signed = actions.sign(record=record, actor=house.actor("clinician"), now=people.NOW)
    Measurement.objects.update(struck_at=people.NOW, struck_by=house.clinician, struck_reason="slip")
    assert standing_of(signed, today=people.TODAY).state.answers["VIT.weight|-"].value == "22.4"
