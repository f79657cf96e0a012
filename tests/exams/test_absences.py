"""A part that is gone for good: noted once, asked for no more, struck out with a reason."""

import pytest
from django.test import Client

from clinic.models import LastingFact, Record, Visit
from clinic.patients.actions import add_lasting_fact, change_patient, strike_lasting_fact
from clinic.patients.errors import NameMissing
from clinic.people.actor import NotAllowed
from exams.absence_actions import there_is_one
from exams.actions import confirm_and_keep, note_absence
from exams.digest import missing_to_sign
from exams.errors import NoneStruck
from exams.models import Exam
from exams.pages import last_json
from exams.plugs import KeepExam
from exams.queries import last_exams, standing
from exams.state import why_absent
from tests import people
from tests.exams.house import exam_here

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    return people.people()


@pytest.fixture
def tablet(house):
    return exam_here(house.actor("clinician"))


def test_a_sex_that_is_corrected_counts_in_the_exam_that_is_open(tablet, house) -> None:
    patient = tablet.exam.record.visit.patient
    assert "GUM.vulva|-" in {line.key for line in told(tablet.exam).lines if line.hidden}
    before = told(tablet.exam).exam.revision
    change_patient(actor=tablet.actor, now=people.NOW, patient=patient, sex="female", neutered="no")
    now = told(tablet.exam)
    assert now.lines["GUM.vulva|-"].applies
    assert now.lines["GUM.prepuce|-"].hidden
    assert now.exam.revision > before, "the page of another tablet learns it"


def told(exam):
    return standing(Exam.objects.select_related("record__visit__patient").get(pk=exam.pk))


def gone(tablet, house, line="HLB.hip|left", **more):
    clinician = house.actor("clinician")
    facts = {"whole_limb": True, "why": "amputated"} | more
    return note_absence(record=tablet.exam.record, line=line, actor=clinician, now=people.NOW, **facts)


def back(tablet, house, line="HLB.hip|left", reason="the other leg"):
    clinician = house.actor("clinician")
    there_is_one(record=tablet.exam.record, line=line, reason=reason, actor=clinician, now=people.NOW)


@pytest.mark.parametrize(
    ("line", "whole", "what", "words"),
    [
        ("HLB.hip|left", True, "limb:LH", "left hind leg"),
        ("HLB.hip|left", False, "line:HLB.hip|left", "hip, left"),
        ("EYE.globe|right", False, "line:EYE.globe|right", "globe size and position, right"),
        ("MTH.teeth|409", False, "tooth:409", "tooth 409"),
        ("SPN.tail|-", False, "line:SPN.tail|-", "tail"),
    ],
)
def test_it_is_kept_with_the_patient_in_words(tablet, house, line, whole, what, words) -> None:
    gone(tablet, house, line, whole_limb=whole)
    fact = LastingFact.objects.get()
    assert (fact.structure, fact.words, fact.entered_by) == (what, words, house.clinician)
    assert told(tablet.exam).lines[line].why == "amputated"


def test_it_is_struck_out_with_a_reason_and_the_open_exam_asks_again(tablet, house) -> None:
    gone(tablet, house)
    before = told(tablet.exam).exam.revision
    back(tablet, house)
    fact = LastingFact.objects.get()
    assert (fact.struck_by, fact.struck_reason) == (house.clinician, "the other leg")
    now = told(tablet.exam)
    assert now.lines["HLB.hip|left"].applies
    assert now.exam.revision > before


def test_it_can_be_noted_again_after_it_was_struck(tablet, house) -> None:
    gone(tablet, house)
    back(tablet, house)
    gone(tablet, house)
    assert LastingFact.objects.count() == 2
    assert LastingFact.objects.filter(struck_at=None).count() == 1


@pytest.mark.parametrize(("line", "reason"), [("HLB.hip|left", " "), ("HLB.hip|right", "other")])
def test_nothing_is_struck_without_a_reason_or_where_nothing_was_noted(tablet, house, line, reason) -> None:
    gone(tablet, house)
    with pytest.raises(NoneStruck):
        back(tablet, house, line, reason)
    assert LastingFact.objects.get().struck_at is None


def test_a_technician_neither_notes_nor_strikes(tablet, house) -> None:
    technician = house.actor("technician")
    with pytest.raises(NotAllowed):
        note_absence(
            record=tablet.exam.record, line="HLB.hip|left", why="gone", actor=technician, now=people.NOW
        )
    gone(tablet, house)
    with pytest.raises(NotAllowed):
        there_is_one(
            record=tablet.exam.record, line="HLB.hip|left", reason="x", actor=technician, now=people.NOW
        )


def test_a_reason_that_does_not_fit_is_refused_and_never_cut(tablet, house) -> None:
    with pytest.raises(NameMissing):
        gone(tablet, house, why="x" * 121)
    gone(tablet, house)
    with pytest.raises(NameMissing):
        strike_lasting_fact(
            fact=LastingFact.objects.get(), reason="x" * 201, actor=house.actor("clinician"), now=people.NOW
        )


def test_what_is_noted_on_the_patients_page_is_known_in_the_exam_that_is_open(tablet, house) -> None:
    patient = tablet.exam.record.visit.patient
    add_lasting_fact(
        patient=patient,
        structure="station:EYE|left",
        why="removed",
        actor=house.actor("clinician"),
        now=people.NOW,
    )
    lines = told(tablet.exam).lines
    assert lines["EYE.cornea|left"].why == "removed"
    assert lines["EYE.cornea|right"].applies


def test_an_exam_of_another_day_keeps_the_leg_that_was_there(tablet, house) -> None:
    go_home(tablet)
    visit = tablet.exam.record.visit
    add_lasting_fact(
        patient=visit.patient,
        structure="limb:LH",
        why="amputated",
        actor=house.actor("clinician"),
        now=people.NOW,
    )
    assert told(tablet.exam).lines["HLB.hip|left"].applies


def go_home(tablet) -> None:
    visit = Visit.objects.filter(pk=tablet.exam.record.visit_id)
    visit.update(gone_at=people.NOW, place="gone-home", outcome="home")


def sign(exam, house):
    record = Record.objects.select_related("visit__patient").get(pk=exam.record_id)
    confirm_and_keep(
        exam=Exam.objects.get(pk=exam.pk), record=record, actor=house.actor("clinician"), now=people.NOW
    )
    Record.objects.filter(pk=record.pk).update(
        signed_at=people.NOW, signed_by=house.clinician, signed_name="Dr Maren Oduya"
    )


def test_a_signed_exam_keeps_what_it_said_when_the_fact_is_struck(tablet, house) -> None:
    gone(tablet, house)
    sign(tablet.exam, house)
    fact = LastingFact.objects.get()
    strike_lasting_fact(fact=fact, reason="the other leg", actor=house.actor("clinician"), now=people.NOW)
    assert told(tablet.exam).lines["HLB.hip|left"].why == "amputated"


def test_exam_r18_an_amputated_leg_is_found_once_and_never_warned_of_again(tablet, house) -> None:
    """Source: common practice (exam-R18)."""
    said = {"findings": [{"code": "HLB-28"}]}
    assert tablet.tap("HLB.*|left", "set_abnormal", said)["result"] == "accepted"
    now = told(tablet.exam)
    assert why_absent(now.state, now.lines["HLB.hip|left"]) == "limb absent"
    assert not why_absent(now.state, now.lines["HLB.hip|right"])
    patient = tablet.exam.record.visit.patient
    keep_absences(tablet, house)
    sign(tablet.exam, house)
    go_home(tablet)
    visit = people.visit_here(patient)
    Record.objects.filter(visit=visit).update(opened_at=people.NOW.replace(day=20))
    visit.record.refresh_from_db()
    after = exam_here(house.actor("clinician"), visit)
    next_time = told(after.exam)
    assert next_time.lines["HLB.hip|left"].absent == "absent"
    assert next_time.lines["HLB.hip|right"].applies
    missing = missing_to_sign(next_time.state, next_time.walk, next_time.lines, facts=next_time.facts)
    asked = {key for each in missing for key in each.where}
    assert not any(key.startswith("HLB") and key.endswith("|left") for key in asked)
    assert "HLB.*|left" not in last_json(last_exams(visit.record))


def keep_absences(tablet, house) -> None:
    record = Record.objects.select_related("visit__patient").get(pk=tablet.exam.record_id)
    KeepExam().run(record, actor=house.actor("clinician"), now=people.NOW)


# ---- Over the wire, and on the patient's page


def client_of(staff) -> Client:
    client = Client()
    client.force_login(staff)
    return client


def test_the_page_strikes_it_out_and_is_told_what_is_missing(tablet, house) -> None:
    visit = tablet.exam.record.visit_id
    client = client_of(house.clinician)
    gone(tablet, house)
    url = f"/visits/{visit}/exam/there-is-one/"
    refused = client.post(url, {"line": "HLB.hip|left", "reason": ""})
    assert (refused.status_code, refused.content.decode()[:8]) == (422, "Say why:")
    assert client.post(url, {"line": "HLB.hip|left", "reason": "the other leg"}).status_code == 204
    assert told(tablet.exam).lines["HLB.hip|left"].applies


def test_the_patients_page_names_the_part_and_takes_it_back(tablet, house) -> None:
    people.clinic_details()
    patient = tablet.exam.record.visit.patient
    client = client_of(house.clinician)
    gone(tablet, house, "EYE.globe|right", whole_limb=False)
    assert "No globe size and position, right" in client.get(f"/patients/{patient.pk}/").content.decode()
    fact = LastingFact.objects.get()
    url = f"/patients/{patient.pk}/gone/back/"
    assert "Nothing was changed" in client.post(url, {"id": fact.pk}, follow=True).content.decode()
    client.post(url, {"id": fact.pk, "reason": "the left one"})
    assert "No globe size" not in client.get(f"/patients/{patient.pk}/").content.decode()
    assert "the left one" in client.get(f"/patients/{patient.pk}/changes/").content.decode()
