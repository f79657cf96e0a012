"""Loading with authorisation: one `access_*` for each thing of a patient or owner. Raise Http404."""

from django.shortcuts import get_object_or_404

from clinic.patients.models import Alert, Condition, LastingFact, Measurement, Patient
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right


def access_patient(patient_id: int, *, actor: Actor, right: Right = Right.SEE) -> Patient:
    actor.require(right)
    return get_object_or_404(Patient.objects.select_related("merged_into"), pk=patient_id)


def access_owner(owner_id: int, *, actor: Actor, right: Right = Right.SEE) -> Owner:
    actor.require(right)
    return get_object_or_404(Owner, pk=owner_id)


def access_owner_of(patient: Patient, owner_id: int, *, actor: Actor) -> Owner:
    """Somebody who owns this patient now."""
    actor.require(Right.EDIT_PEOPLE)
    return get_object_or_404(Owner, pk=owner_id, ownerships__patient=patient, ownerships__until=None)


def access_alert(patient: Patient, alert_id: int, *, actor: Actor) -> Alert:
    actor.require(Right.EDIT_PEOPLE)
    return get_object_or_404(Alert, pk=alert_id, patient=patient)


def access_condition(patient: Patient, condition_id: int, *, actor: Actor) -> Condition:
    actor.require(Right.TAKE_HISTORY)
    return get_object_or_404(Condition, pk=condition_id, patient=patient)


def access_lasting_fact(patient: Patient, fact_id: int, *, actor: Actor) -> LastingFact:
    actor.require(Right.ASSESS)
    return get_object_or_404(LastingFact, pk=fact_id, patient=patient, struck_at=None)


def access_measurement(
    measurement_id: int, *, patient_id: int, actor: Actor, right: Right = Right.SEE
) -> Measurement:
    """One measurement of this patient, struck or not, with its patient, visit and people."""
    actor.require(right)
    rows = Measurement.objects.select_related("patient", "visit__record", "observed_by", "entered_by")
    return get_object_or_404(rows, pk=measurement_id, patient_id=patient_id)
