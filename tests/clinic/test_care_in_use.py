"""What is in use now, what ended, and the label: word for word as directed; stopped once, with a reason."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.urls import reverse

from clinic.care import actions
from clinic.care.directions import Directions
from clinic.care.in_use import medicines_of
from clinic.care.models import Medicine, MedicineStop
from clinic.care.patient_case import medicines_in_use, medicines_lately
from clinic.models import Record
from clinic.people.actor import NotAllowed
from tests import people
from tests.people import NOW, TODAY

pytestmark = pytest.mark.django_db

CHEWS = Directions(
    "Oakwhistle chews 50", ("carprofen",), "50 mg in a chew", "half a chew", "by mouth", "once a day", "", "",
    quantity="10 chews",
)  # fmt: skip


@pytest.fixture
def staff() -> people.People:
    people.clinic_details()
    return people.people()


@pytest.fixture
def me(staff) -> dict:
    return {"actor": staff.actor("clinician"), "now": NOW}


@pytest.fixture
def record(staff) -> Record:
    visit = people.visit_here(clinician=staff.clinician)
    people.weigh(visit, "12.5", by=staff.technician)
    return visit.record


@pytest.fixture
def medicine(record, me) -> Medicine:
    problem = actions.open_problem(patient=record.visit.patient, visit=record.visit, title="Sore hip", **me)
    return actions.prescribe(
        record=record, problem=problem, how="dispensed", directions=CHEWS, reason="pain of the hip", **me
    )


@pytest.fixture
def client(staff) -> Client:
    signed_in = Client()
    signed_in.force_login(staff.clinician)
    return signed_in


def test_the_amount_is_shown_from_a_dated_weight(medicine, record):
    """All drug details: RCVS 13.1, Texas 22 TAC 573.52. Slips of weight: common practice."""
    (row,) = medicines_of(record.visit.patient, today=TODAY).now
    assert row.amount == "One dose: carprofen 25 mg, 2 mg/kg by 12.5 kg of 11 March 2026"
    assert row.directions == medicine.directions


def test_stopped_it_is_in_use_no_more_but_stands_as_signed(medicine, record, me):
    patient = record.visit.patient
    before = medicine.directions
    actions.stop_medicine(medicine=medicine, why="vomited", on=TODAY, owner_told=True, **me)
    assert medicines_in_use(patient, today=TODAY) == ()
    medicine.refresh_from_db()
    assert medicine.directions == before
    (row,) = medicines_of(patient, today=TODAY).over
    assert row.stopped == "stopped 11 March 2026, Dr Maren Oduya: vomited; the owner knows"


def test_until_its_day_it_is_in_use(medicine, record, me):
    actions.stop_medicine(medicine=medicine, why="healed", on=TODAY + timedelta(2), **me)
    patient = record.visit.patient
    assert len(medicines_in_use(patient, today=TODAY + timedelta(1))) == 1
    assert medicines_in_use(patient, today=TODAY + timedelta(2)) == ()
    assert [each.ended for each in medicines_lately(patient, today=TODAY + timedelta(3))] == [
        TODAY + timedelta(2)
    ]


def test_a_stopped_medicine_is_asked_about_before_the_next_of_its_kind(medicine, record, me):
    actions.stop_medicine(medicine=medicine, why="vomited", on=TODAY, **me)
    steroid = replace(
        CHEWS, name="Lantern tablets 5", ingredients=("prednisolone",), strength="5 mg in a tablet"
    )
    with pytest.raises(actions.QuestionsOpen) as refused:
        actions.prescribe(
            record=record, problem=medicine.problem, how="dispensed", directions=steroid, reason="itch", **me
        )
    assert [each.code for each in refused.value.questions] == ["lately"]


def test_it_is_stopped_once_with_a_reason_and_not_before_it_began(medicine, me):
    with pytest.raises(actions.TextMissing):
        actions.stop_medicine(medicine=medicine, why="  ", on=TODAY, **me)
    with pytest.raises(actions.StoppedTooEarly):
        actions.stop_medicine(medicine=medicine, why="x", on=TODAY - timedelta(1), **me)
    actions.stop_medicine(medicine=medicine, why="vomited", on=TODAY, **me)
    with pytest.raises(actions.StoppedBefore):
        actions.stop_medicine(medicine=medicine, why="again", on=TODAY, **me)
    with pytest.raises(actions.StoppedBefore):
        actions.withdraw_medicine(medicine=medicine, **me)
    assert MedicineStop.objects.count() == 1


def test_the_database_keeps_a_stop_as_it_was_said(medicine, me):
    actions.stop_medicine(medicine=medicine, why="vomited", on=TODAY, **me)
    with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE clinic_medicinestop SET why = 'healed'")


@pytest.mark.parametrize("role", ["technician", "assistant", "manager"])
def test_only_a_clinician_stops_one(role, medicine, staff):
    """Maryland COMAR 15.14.13.13: diagnosis, prognosis, prescription are the veterinarian's."""
    with pytest.raises(NotAllowed):
        actions.stop_medicine(medicine=medicine, why="x", on=TODAY, actor=staff.actor(role), now=NOW)


def test_what_is_wrong_stands_beside_its_field_and_nothing_typed_is_lost(client, medicine):
    patient = medicine.record.visit.patient
    url = reverse("patient-medicine-stop", args=[patient.pk, medicine.pk])
    once = "0b3f6f0c-6a7e-4a9e-9d5c-2f1f3b1c9a11"
    answer = client.post(url, {"why": "vomited at night", "on": "2020-01-01", "once": once})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "That day lies before it was directed." in text
    assert "vomited at night" in text
    assert not MedicineStop.objects.exists()


def test_a_double_tap_stops_once(client, medicine):
    patient = medicine.record.visit.patient
    url = reverse("patient-medicine-stop", args=[patient.pk, medicine.pk])
    sent = {"why": "healed", "on": "2027-01-01", "once": "0b3f6f0c-6a7e-4a9e-9d5c-2f1f3b1c9a12"}
    assert [client.post(url, sent).status_code for _ in range(2)] == [302, 302]
    assert MedicineStop.objects.count() == 1


def test_another_patients_medicine_is_not_found_here(client, medicine, staff):
    other = people.patient("Bramble")
    for name in ("patient-medicine-stop", "patient-medicine-label"):
        url = reverse(name, args=[other.pk, medicine.pk])
        assert (client.post(url, {}) if "stop" in name else client.get(url)).status_code == 404


def test_the_label_is_word_for_word_and_names_who_prescribed_it(client, medicine):
    patient = medicine.record.visit.patient
    text = client.get(reverse("patient-medicine-label", args=[patient.pk, medicine.pk])).content.decode()
    for words in (
        medicine.directions, "Oakwhistle chews 50", "carprofen, 50 mg in a chew", "10 chews", "Pomfret",
        "Henrike Dovale", medicine.prescriber.printed_name, "For animal use only", "11 March 2026",
    ):  # fmt: skip
        assert words in text, words


def test_twenty_need_no_more_queries_than_two(client, medicine, django_assert_num_queries):
    patient = medicine.record.visit.patient
    url = reverse("patient-medicines", args=[patient.pk])

    def more(count: int) -> None:
        for _ in range(count):
            copy = Medicine.objects.get(pk=medicine.pk)
            copy.pk = None
            copy.save(force_insert=True)

    from django.test.utils import CaptureQueriesContext

    more(1)
    client.get(url)
    with CaptureQueriesContext(connection) as two:
        client.get(url)
    many = len(two)
    more(18)
    with django_assert_num_queries(many):
        assert client.get(url).status_code == 200


def test_the_patients_page_says_what_is_in_use(client, medicine, record, staff):
    record.given_at_home.create(name="fish oil", entered_by=staff.technician, entered_at=NOW)
    text = client.get(reverse("patient", args=[record.visit.patient_id])).content.decode()
    assert "Oakwhistle chews 50" in text
    assert "fish oil" in text
    assert "All medicines, stop one" in text
