"""A patient's prevention on one page: what stands there, what is ruled on, what comes back when wrong."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clinic.models import CallBack
from preventive import actions
from preventive.models import Decline, Dose, Supply
from tests import people
from tests.preventive.room import Room, room

pytestmark = pytest.mark.django_db


@pytest.fixture
def puppy() -> Room:
    """Thirteen weeks old on the day the pages ask the clock."""
    return room(birth_date=timezone.localdate() - timedelta(weeks=13))


def client(puppy: Room, role: str = "clinician") -> Client:
    made = Client()
    made.force_login(getattr(puppy.people, role))
    return made


def look(puppy: Room, role: str = "clinician") -> str:
    answer = client(puppy, role).get(reverse("patient-prevention", args=[puppy.patient.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def send(puppy: Room, name: str, role: str = "clinician", *more: int, **facts):
    url = reverse(name, args=[puppy.patient.pk, *more])
    return client(puppy, role).post(url, {"once": uuid4()} | facts)


def ago(**span) -> object:
    return timezone.localdate() - timedelta(**span)


def elsewhere(puppy: Room, antigens=("CDV", "CAV-2", "CPV"), days: int = 30, **facts) -> Dose:
    facts = {"proof": True, "proof_words": "booklet"} | facts
    return actions.record_outside_dose(
        actor=puppy.actor(),
        now=timezone.now(),
        patient=puppy.patient,
        antigens=list(antigens),
        given_on=ago(days=days),
        **facts,
    )


def test_what_went_home_is_worded_backwards(puppy):
    product = puppy.stock["wormbane-chew-dog"]
    supply = actions.record_supply(
        actor=puppy.actor(),
        now=timezone.now(),
        patient=puppy.patient,
        visit=puppy.visit,
        product=product,
        band="over 5 to 10 kg",
        count=1,
        source="owner",
    )
    shown = look(puppy)
    assert f"Last chew on {supply.first_on.day} {supply.first_on:%B %Y}; the next is due" in shown
    assert "protected until" not in shown
    assert "owner says" in shown


def test_a_no_stays_on_the_page_with_its_reason_and_the_risks_explained(puppy):
    url = reverse("prevention-put-off", args=[puppy.visit.pk])
    sent = {"once": uuid4(), "code": "dog_leptospira", "how": "no", "why": "cost", "risks": "kidney failure"}
    client(puppy, "technician").post(url, sent)
    no = Decline.objects.get()
    assert (no.risks_explained, no.explained_by) == ("kidney failure", puppy.people.technician)
    shown = look(puppy)
    assert "declined until" in shown
    assert f"cost; {puppy.people.technician.full_name} explained: kidney failure" in shown


def test_two_doses_a_week_apart_say_that_one_is_not_counted_and_a_clinician_may_rule(puppy):
    """prev-D15 (ours): an interval under 14 days is not counted."""
    elsewhere(puppy, days=30)
    doubtful = elsewhere(puppy, days=23)
    shown = look(puppy)
    assert shown.count("<b>Not counted.</b>") == 1
    assert "does it count?" in shown
    assert "does it count?" not in look(puppy, "technician")
    answer = send(puppy, "dose-ruling", dose=doubtful.pk, counted="yes", reason="the label allows a week")
    assert answer.status_code == 302
    doubtful.refresh_from_db()
    assert (doubtful.counted, doubtful.counted_by) == (True, puppy.people.clinician)
    shown = look(puppy)
    assert "<b>Not counted.</b>" not in shown
    assert "Counts, decided Dr Maren Oduya: the label allows a week" in shown


def test_a_ruling_without_a_reason_comes_back_as_it_was_sent(puppy):
    dose = elsewhere(puppy, days=23)
    elsewhere(puppy, days=30)
    answer = send(puppy, "dose-ruling", dose=dose.pk, counted="no", reason="")
    shown = answer.content.decode()
    assert answer.status_code == 422
    assert "Say why it counts, or why not. Nothing was recorded." in shown
    assert f'id="rule-{dose.pk}" open' in shown
    assert 'name="counted" value="no" checked' in shown


@pytest.mark.parametrize(
    ("name", "key", "facts", "keeps"),
    [
        ("site-look", "place", {"there": "yes", "growing": "yes"}, 'value="yes" required checked'),
        ("certificate-issue", "certify", {"control_licence": "Dovale 12, one year"}, "Dovale 12, one year"),
    ],
)
def test_what_is_refused_is_said_beside_its_form_and_nothing_typed_is_lost(puppy, name, key, facts, keeps):
    """Of a dose given here: no size of a lump; a breed that nobody wrote down for a certificate."""
    puppy.patient.breed = ""
    puppy.patient.save()
    dose = puppy.give("rabisal-3", site="RH-D", now=timezone.now(), lot=running(puppy, "rabisal-3"))
    answer = send(puppy, name, dose=dose.pk, **facts)
    shown = answer.content.decode()
    assert answer.status_code == 422
    assert f'id="{key}-{dose.pk}" open' in shown
    form = shown.split(f'id="{key}-{dose.pk}" open')[1].split("</form>")[0]
    assert 'role="alert"' in form
    assert keeps in form


def running(puppy: Room, code: str):
    lot = puppy.lot(code)
    lot.expires_on = timezone.localdate() + timedelta(days=300)
    lot.save()
    return lot


def test_what_was_entered_without_a_visit_is_struck_out_here(puppy):
    dose = elsewhere(puppy)
    row = f"dose:{dose.pk}"
    answer = send(puppy, "prevention-strike-out", row=row, reason="")
    assert answer.status_code == 422
    assert f'id="strike-{row}" open' in answer.content.decode()
    assert send(puppy, "prevention-strike-out", row=row, reason="another animal’s").status_code == 302
    assert "Struck out by Dr Maren Oduya: another animal’s" in look(puppy)


def test_a_technician_strikes_out_only_what_is_hers(puppy):
    dose = elsewhere(puppy)
    row = f"dose:{dose.pk}"
    assert f'id="strike-{row}"' not in look(puppy, "technician")
    assert send(puppy, "prevention-strike-out", "technician", row=row, reason="mine").status_code == 403


def test_another_patient_s_dose_is_not_found_here(puppy):
    dose = elsewhere(puppy)
    puppy.patient = people.patient("Grit", of=people.owner("Ana Brook", "ana@example.com"))
    assert send(puppy, "prevention-strike-out", row=f"dose:{dose.pk}", reason="mine").status_code == 404
    assert send(puppy, "dose-ruling", dose=dose.pk, counted="yes", reason="mine").status_code == 422


def test_what_was_recorded_for_a_merged_duplicate_is_struck_out_for_the_record_in_force(puppy):
    """The stored dues of the record in force follow, as its history reads the duplicate's doses."""
    double = people.patient("Tarn twice", of=puppy.patient.owners.get(), birth_date=puppy.patient.birth_date)
    puppy.patient, kept = double, puppy.patient
    dose = elsewhere(puppy)
    double.merged_into = kept
    double.save()
    puppy.patient = kept
    today = timezone.localdate()
    actions.refresh_call_backs(patient=kept, today=today, now=timezone.now())
    before = due_on(kept)
    assert send(puppy, "prevention-strike-out", row=f"dose:{dose.pk}", reason="not his").status_code == 302
    assert due_on(kept) != before


def due_on(patient):
    return {row.key: row.due_on for row in CallBack.objects.filter(patient=patient, source="dues")}


def test_two_rows_and_twenty_ask_the_database_as_often(puppy):
    signed_in = client(puppy)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            signed_in.get(reverse("patient-prevention", args=[puppy.patient.pk]))
        return len(seen)

    def add(many: int, first: int) -> None:
        for number in range(first, first + many):
            elsewhere(puppy, days=20 + number, refresh=False)
            dose = Dose.objects.latest("pk")
            dose.struck_at, dose.struck_by = timezone.now(), puppy.people.clinician
            dose.struck_reason = "twice"
            elsewhere(puppy, antigens=("CPV",), days=60 + number, refresh=False)
            dose.save()
            Supply.objects.create(
                patient=puppy.patient,
                product_name="Wormbane",
                form="chew",
                protects=["heartworm"],
                count=1,
                first_on=ago(days=number),
                interval="1 mo",
                entered_by=puppy.people.clinician,
                entered_at=timezone.now(),
            )
            actions.decline(
                actor=puppy.actor(),
                now=timezone.now(),
                patient=puppy.patient,
                visit=None,
                code="dog_leptospira",
                reason="no",
                refresh=False,
            )
            actions.record_treatment(
                actor=puppy.actor(),
                now=timezone.now(),
                patient=puppy.patient,
                visit=None,
                kind="deworming",
                refresh=False,
            )

    add(2, 0)
    few = queries()
    add(9, 2)
    assert queries() == few
    assert few <= 16
