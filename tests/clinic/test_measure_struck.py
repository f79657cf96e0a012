"""What striking out means after a signature, and for a value that stood at the wrong animal."""

from decimal import Decimal

import pytest

from clinic.models import Letter, Measurement
from clinic.patients import actions
from clinic.people.actor import Actor, NotAllowed
from clinic.visits.actions import sign
from tests import people

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> people.People:
    people.clinic_details()
    return people.people()


def kept(visit, house: people.People) -> Measurement:
    return actions.measure(
        patient=visit.patient, visit=visit, kind="weight", typed=Decimal("27.4"), unit="kg",
        actor=Actor.of(house.technician), now=people.NOW,
    )  # fmt: skip


@pytest.fixture
def signed(house: people.People):
    visit = people.visit_here(clinician=house.clinician, kind="telephone")
    row = kept(visit, house)
    record = visit.record
    record.no_bcs_reason = "by telephone"
    record.save()
    sign(record=record, actor=Actor.of(house.clinician), now=people.NOW)
    return row


def test_a_struck_value_of_a_signed_visit_makes_an_addendum_and_the_next_letter(signed, house):
    record = signed.visit.record
    strike = {"measurement": signed, "reason": "scale not at zero", "now": people.NOW}
    before = Letter.objects.filter(record=record).count()
    actions.strike_measurement(actor=Actor.of(house.clinician), **strike)
    assert record.addenda.get().text == "Weight struck out: scale not at zero"
    assert Letter.objects.filter(record=record).count() == before + 1


def test_after_the_signature_striking_is_a_clinicians(signed, house):
    with pytest.raises(NotAllowed):
        actions.strike_measurement(
            measurement=signed, reason="no", actor=Actor.of(house.technician), now=people.NOW
        )
    assert not Measurement.objects.exclude(struck_at=None).exists()


def test_a_value_of_the_wrong_animal_moves_to_the_right_one_in_one_step(house):
    visit = people.visit_here(clinician=house.clinician)
    right = people.patient("Grit", of=visit.patient.owners.get())
    wrong = kept(visit, house)
    moved = actions.put_on_right_patient(
        measurement=wrong, patient=right, visit=None, actor=Actor.of(house.technician), now=people.NOW
    )
    wrong.refresh_from_db()
    assert wrong.struck_reason == "wrong patient: belongs to Grit"
    assert (moved.patient, moved.value) == (right, wrong.value)
