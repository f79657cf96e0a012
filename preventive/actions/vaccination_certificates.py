"""The certificate of all vaccines: issued from the record as it stands; and either kind replaced."""

from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending
from preventive.actions.certificates import issue_certificate, next_number, numbering, void_certificate
from preventive.certificate_code import new_code
from preventive.certificate_values import animal_values, house_address, owner_values
from preventive.errors import NoCertificate, StandsAlready
from preventive.models import Certificate
from preventive.tasks_queue import queue_certificate
from preventive.vaccination_rows import vaccination_rows
from preventive.versions import keep_version, protocol_in_force


@transaction.atomic
def issue_vaccination_certificate(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    replaces: Certificate | None = None,
    once: UUID | None = None,
) -> Certificate:
    """Every vaccine given here or proven from elsewhere, numbered and frozen as printed, its PDF queued.

    It says what was given, and of each antigen when it is due again by the protocol of this day. Raises
    NoCertificate with what is missing, StandsAlready for one that says the same, SentBefore.
    """
    actor.require(Right.SIGN)
    first_sending(once, actor=actor, now=now)
    clinic = numbering()
    today, protocol = timezone.localdate(now), protocol_in_force()
    told = vaccination_rows(patient, protocol, today=today)
    if told.last_on is None:
        raise NoCertificate("No vaccine is on record that was given here or that a paper proves.")
    vet = actor.staff
    values: dict[str, Any] = {
        **{code: text for code, text in owner_values(patient).items() if code != "owner_phone"},
        **animal_values(patient, on=today),
        "doses": [list(row) for row in told.doses],
        "next": [list(row) for row in told.following],
        "veterinarian": vet.printed_name,
        "licence_number": " ".join(part for part in (vet.licence_number, vet.licence_place) if part),
        "signature": f"issued by {vet.printed_name}",
        "vet_address": house_address(clinic),
    }
    fields = protocol.rules.vaccination.values()
    missing = [each.label for each in fields if each.required and not values.get(each.code)]
    if missing:
        raise NoCertificate(f"Missing: {'; '.join(missing)}.")
    _not_twice(patient, values, today)
    certificate = Certificate.objects.create(
        kind=Certificate.Kind.ALL,
        number=next_number(),
        code=new_code(),
        patient=patient,
        dose_ids=list(told.dose_ids),
        values=values,
        vaccinated_on=told.last_on,
        valid_from=today,
        due_by=told.first_due,
        paper=clinic.paper,
        protocol=keep_version(protocol, now=now),
        replaces=replaces,
        entered_by=actor.staff,
        entered_at=now,
    )
    queue_certificate(certificate.pk)
    return certificate


def _not_twice(patient: Patient, values: dict[str, Any], today: date) -> None:
    same = Certificate.objects.filter(
        patient=patient, kind=Certificate.Kind.ALL, struck_at=None, valid_from=today
    )
    for each in same:
        if each.values == values:
            raise StandsAlready(str(each))


@transaction.atomic
def replace_certificate(
    *, actor: Actor, now: datetime, certificate: Certificate, reason: str, once: UUID | None = None
) -> Certificate:
    """Void it and issue the next, of the same dose or of all vaccines, from the record as it is now.

    Raises as both.
    """
    first_sending(once, actor=actor, now=now)
    void_certificate(actor=actor, now=now, certificate=certificate, reason=reason)
    if certificate.dose is not None:
        return issue_certificate(actor=actor, now=now, dose=certificate.dose, replaces=certificate)
    merged = certificate.patient.merged_into
    patient = merged if merged is not None else certificate.patient
    return issue_vaccination_certificate(actor=actor, now=now, patient=patient, replaces=certificate)
