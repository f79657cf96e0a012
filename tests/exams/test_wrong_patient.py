"""Entered on the wrong patient: struck out there, entered on the right one, both records saying so."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from clinic.models import HeadsUp, Measurement, PutRight, Record
from clinic.people.actor import Actor
from clinic.platform.registries import wrong_patient_parts
from clinic.visits import actions
from clinic.visits.errors import NotOpen, SamePatient, SentBefore, ShownOtherwise
from exams.models import Exam, Finding, Operation
from tests import people
from tests.exams.house import Tablet, exam_here, state_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def dog(house) -> Tablet:
    """The exam that was tapped on by mistake."""
    return exam_here(house.actor("clinician"))


@pytest.fixture
def right(house, dog) -> Record:
    """A neutered male cat of the same owner, in the next room."""
    owner = dog.exam.record.visit.patient.owners.get()
    cat = people.patient("Sorrel", of=owner, species="cat", breed="house cat")
    return people.visit_here(cat, clinician=house.colleague).record


def rows_of(record: Record, to: Record, actor: Actor) -> dict[str, object]:
    return {
        f"{row.where}: {row.words}": row
        for part in wrong_patient_parts
        for row in part.rows(record, to=to, actor=actor, now=people.NOW)
    }


def move(record: Record, to: Record, actor: Actor, *places: str, **more: object) -> list[object]:
    rows = rows_of(record, to, actor)
    tokens = [row.token for name, row in rows.items() if name.startswith(places)]
    return actions.put_on_right_patient(
        record=record, to=to, tokens=tokens, actor=actor, now=people.NOW, **more
    )


def ear(tablet: Tablet, **more: object) -> None:
    finding = {"code": "EAR-02", "severity": "moderate"}
    assert (
        tablet.tap("EAR.canal|left", "set_abnormal", {"findings": [finding]}, **more)["result"] == "accepted"
    )


def test_a_finding_moves_with_all_it_says_and_both_records_say_so(dog, right, house) -> None:
    ear(dog)
    dog.tap("EAR.canal|left", "note", {"text": "smells of yeast"})
    move(dog.exam.record, right, dog.actor, "Ears")
    assert "EAR.canal|left" not in state_of(dog.exam).answers
    assert state_of(dog.exam).notes == {}
    row = Finding.objects.get(record=right)
    assert (row.line, row.status, row.findings[0]["severity"]) == ("EAR.canal|left", "abnormal", "moderate")
    assert Exam.objects.get(record=right).notes == {"EAR.canal|left": "smells of yeast"}
    said = [(r.record, r.other, r.came, r.words) for r in PutRight.objects.order_by("came")]
    words = "excess wax, moderate; note: smells of yeast"
    wrong = dog.exam.record
    assert said == [(wrong, right, False, words), (right, wrong, True, words)]


def test_both_logs_keep_the_change(dog, right) -> None:
    ear(dog)
    move(dog.exam.record, right, dog.actor, "Ears")
    struck = Operation.objects.get(record=dog.exam.record, what="clear")
    entered = Operation.objects.get(record=right)
    assert struck.payload == {"wrong_patient": right.visit.patient_id}
    assert entered.payload["first_entered_on"] == dog.exam.record.visit.patient_id
    assert entered.what == "set_abnormal"


def test_who_saw_it_stays_named_and_their_grade_waits_for_a_clinician(dog, right, house) -> None:
    ear(Tablet(dog.exam, house.actor("technician")))
    move(dog.exam.record, right, dog.actor, "Ears")
    row = Finding.objects.get(record=right)
    assert (row.person, row.observed_by) == (house.clinician, house.technician)
    assert row.findings[0]["unconfirmed"] is True


def test_what_the_other_animal_does_not_have_stays_with_its_reason(dog, right) -> None:
    assert dog.tap("ABD.prostate|-", "set_normal")["result"] == "accepted"
    row = next(r for n, r in rows_of(dog.exam.record, right, dog.actor).items() if "rostate" in n)
    assert row.hinder
    with pytest.raises(ShownOtherwise):
        actions.put_on_right_patient(
            record=dog.exam.record, to=right, tokens=[row.token], actor=dog.actor, now=people.NOW
        )
    assert state_of(dog.exam).answers
    assert not PutRight.objects.exists()


def test_a_line_answered_there_is_not_overwritten(dog, right, house) -> None:
    ear(dog)
    there = exam_here(house.actor("colleague"), right.visit)
    there.tap("EAR.canal|left", "set_normal")
    row = next(r for n, r in rows_of(dog.exam.record, right, dog.actor).items() if n.startswith("Ears"))
    assert row.hinder == "Answered there already: left: normal."


def test_what_changed_since_it_was_looked_at_refuses_all_of_it(dog, right) -> None:
    ear(dog)
    dog.tap("EYE.lids|left", "set_normal")
    shown = [r.token for r in rows_of(dog.exam.record, right, dog.actor).values()]
    dog.tap("EYE.lids|left", "set_not_examined", {"reason": "too-painful"})
    with pytest.raises(ShownOtherwise):
        actions.put_on_right_patient(
            record=dog.exam.record, to=right, tokens=shown, actor=dog.actor, now=people.NOW
        )
    assert not Finding.objects.filter(record=right).exists()
    assert not PutRight.objects.exists()


def test_nothing_moves_out_of_or_into_a_signed_record(dog, right) -> None:
    ear(dog)
    tokens = [r.token for r in rows_of(dog.exam.record, right, dog.actor).values()]
    for signed in (right, dog.exam.record):
        before = Record.objects.get(pk=signed.pk)
        Record.objects.filter(pk=signed.pk).update(
            signed_at=people.NOW, signed_by=dog.actor.staff, signed_name="Dr Maren Oduya"
        )
        with pytest.raises(NotOpen):
            actions.put_on_right_patient(
                record=dog.exam.record, to=right, tokens=tokens, actor=dog.actor, now=people.NOW
            )
        if signed == right:
            # a signed record stays signed: the other way is looked at with a fresh one
            right = people.visit_here(people.patient("Third", of=before.visit.patient.owners.get())).record
            tokens = [r.token for r in rows_of(dog.exam.record, right, dog.actor).values()]
    assert not PutRight.objects.exists()


def test_a_value_moves_judged_anew_and_its_line_is_open_again(dog, right, house) -> None:
    line = {"value": "38.9", "unit": "C"}
    assert dog.tap("VIT.temperature|-", "measure", line)["result"] == "accepted"
    move(dog.exam.record, right, dog.actor, "Temperature")
    struck, kept = Measurement.objects.order_by("pk")
    assert struck.struck_reason == "wrong patient: belongs to Sorrel"
    assert (kept.patient, kept.value) == (right.visit.patient, Decimal("38.9"))
    assert kept.details["first_entered_on"] == "Pomfret"
    assert "VIT.temperature|-" not in state_of(dog.exam).answers


def test_a_value_that_cannot_be_there_stays(dog, right, house) -> None:
    people.weigh(dog.exam.record.visit, "61.5", by=house.technician)
    row = rows_of(dog.exam.record, right, dog.actor)["Weight: 61.50 kg (135.6 lb)"]
    assert row.hinder


def test_a_rare_value_is_asked_about(dog, right, house) -> None:
    people.weigh(dog.exam.record.visit, "12", by=house.technician)
    assert rows_of(dog.exam.record, right, dog.actor)["Weight: 12.00 kg (26.5 lb)"].asks


def test_a_heads_up_is_pinned_there_in_the_same_words(dog, right, house) -> None:
    pinned = HeadsUp.objects.create(
        record=dog.exam.record, station="EAR", side="left", words="sour", by=house.technician, at=people.NOW
    )
    move(dog.exam.record, right, dog.actor, "Heads-up")
    pinned.refresh_from_db()
    moved = HeadsUp.objects.get(record=right)
    assert (pinned.answer, pinned.answer_reason) == ("elsewhere", "belongs to Sorrel")
    assert (moved.station, moved.side, moved.words, moved.by) == ("EAR", "left", "sour", house.technician)


def test_a_technician_moves_their_own_entries_only(dog, right, house) -> None:
    ear(dog)
    rows = rows_of(dog.exam.record, right, house.actor("technician"))
    hinders = [r.hinder for n, r in rows.items() if n.startswith("Ears")]
    assert hinders == ["Only Dr Maren Oduya or a clinician takes this out."]


def test_the_whole_exam_moves_in_one_step(dog, right) -> None:
    dog.all_normal("EYE")
    ear(dog)
    moved = move(dog.exam.record, right, dog.actor, "")
    assert len(moved) > 8
    assert not Finding.objects.filter(record=dog.exam.record).exists()
    assert Finding.objects.filter(record=right).count() == len(moved)


def test_the_same_patient_and_a_second_sending_are_refused(dog, right, house) -> None:
    ear(dog)
    once = "7e0f9f3c-2b61-4d0e-8d65-0d1a3b8f5f10"
    move(dog.exam.record, right, dog.actor, "Ears", once=once)
    with pytest.raises(SentBefore):
        move(dog.exam.record, right, dog.actor, "Ears", once=once)
    with pytest.raises(SamePatient):
        actions.put_on_right_patient(record=right, to=right, tokens=["x"], actor=dog.actor, now=people.NOW)


# ---- The page


@pytest.fixture
def client(house) -> Client:
    made = Client()
    made.force_login(house.clinician)
    return made


def test_the_page_names_patients_with_an_open_record(client, dog, right) -> None:
    page = client.get(f"/visits/{dog.exam.record.visit_id}/wrong-patient/").content.decode()
    assert f"?to={right.visit_id}" in page
    assert "Sorrel" in page


def test_both_animals_stand_side_by_side_with_what_differs(client, dog, right) -> None:
    ear(dog)
    page = client.get(
        f"/visits/{dog.exam.record.visit_id}/wrong-patient/?to={right.visit_id}"
    ).content.decode()
    assert "Pomfret is a dog, Sorrel a cat" in page
    assert "excess wax, moderate" in page


def test_the_form_moves_what_is_chosen_once_somebody_is_sure(client, dog, right) -> None:
    ear(dog)
    url = f"/visits/{dog.exam.record.visit_id}/wrong-patient/"
    token = next(iter(rows_of(dog.exam.record, right, dog.actor).values())).token
    sent = {"to": right.visit_id, "rows": [token], "once": "7e0f9f3c-2b61-4d0e-8d65-0d1a3b8f5f11"}
    unsure = client.post(url, sent)
    assert unsure.status_code == 422
    assert "Say that you are sure" in unsure.content.decode()
    assert client.post(url, {**sent, "sure": "on"}).status_code == 302
    for visit in (dog.exam.record.visit_id, right.visit_id):
        assert "Ears: " in client.get(f"/visits/{visit}/wrong-patient/").content.decode()


def test_a_signed_record_points_to_an_addendum(client, dog, right) -> None:
    Record.objects.filter(pk=dog.exam.record_id).update(
        signed_at=people.NOW, signed_by=dog.actor.staff, signed_name="Dr Maren Oduya"
    )
    page = client.get(
        f"/visits/{dog.exam.record.visit_id}/wrong-patient/?to={right.visit_id}"
    ).content.decode()
    assert "Say in an addendum" in page
    assert "Look at both" not in page


def test_the_page_asks_as_much_for_few_lines_as_for_many(client, dog, right, house) -> None:
    url = f"/visits/{dog.exam.record.visit_id}/wrong-patient/?to={right.visit_id}"
    ear(dog)
    people.weigh(dog.exam.record.visit, "4.4", by=house.technician)
    client.get(url)
    with CaptureQueriesContext(connection) as few:
        client.get(url)
    dog.all_normal("EYE")
    dog.all_normal("NOS")
    with CaptureQueriesContext(connection) as many:
        client.get(url)
    assert len(many) == len(few)
