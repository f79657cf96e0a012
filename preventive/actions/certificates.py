"""Certificates: of a rabies dose issued, of either kind voided and replaced. Local law says who may sign."""

from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Max, Q
from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.models import ClinicDetails
from clinic.visits.actions.common import first_sending
from preventive.actions.common import said
from preventive.certificate import CertificateDates, DoseDoesNotCountError, certificate_dates, missing_fields
from preventive.certificate_code import new_code
from preventive.certificate_values import animal_values, house_address, owner_values, size_band
from preventive.errors import NoCertificate, StandsAlready, StruckAlready
from preventive.knowing import Known, history_of
from preventive.models import Certificate, Dose
from preventive.protocol import Protocol
from preventive.rabies_people import may_sign, signer_rule
from preventive.tasks_queue import queue_certificate
from preventive.versions import keep_version, protocol_in_force
from preventive.wording import day


@transaction.atomic
def issue_certificate(
    *,
    actor: Actor,
    now: datetime,
    dose: Dose,
    control_licence: str = "",
    replaces: Certificate | None = None,
    once: UUID | None = None,
) -> Certificate:
    """Numbered, frozen as printed, its PDF queued. The due date printed is the legal one of this day.

    `control_licence`: of the town, with its term, where it gave one; of one that is replaced, as it was.
    Raises NoCertificate with everything that is missing, StandsAlready, SentBefore.
    """
    actor.require(Right.SIGN)
    first_sending(once, actor=actor, now=now)
    clinic = numbering()
    standing = Certificate.objects.filter(dose=dose, struck_at=None).first()
    if standing:
        raise StandsAlready(str(standing))
    if dose.struck_at:
        raise NoCertificate("This dose was struck out.")
    today = timezone.localdate(now)
    protocol = protocol_in_force()
    if protocol.rules.rabies.antigen not in dose.antigens or dose.source != "here":
        raise NoCertificate("A certificate is written for a rabies dose given here.")
    if not may_sign(protocol, signs=actor.staff.pk, answers=dose.supervising_id):
        raise NoCertificate(_not_yours(protocol, dose))
    patient = Patient.objects.get(pk=dose.patient.merged_into_id or dose.patient_id)
    known = history_of(patient, today=today)
    try:
        dates = certificate_dates(known.animal, known.history, protocol, str(dose.pk), today)
    except DoseDoesNotCountError as error:
        raise NoCertificate(
            "This dose does not count for the law: see why under the vaccine’s name on the visit’s page."
        ) from error
    if not control_licence and replaces is not None:
        control_licence = replaces.values.get("control_licence", "")
    values = _values(patient, dose, dates, clinic, known, actor, control_licence)
    missing = missing_fields(protocol, values)
    if missing:
        raise NoCertificate(f"Missing: {'; '.join(missing)}.")
    certificate = Certificate.objects.create(
        number=next_number(),
        code=new_code(),
        patient=patient,
        dose=dose,
        dose_ids=[dose.pk],
        values=values,
        vaccinated_on=dates.vaccinated_on,
        valid_from=dates.valid_from,
        due_by=dates.due_by,
        product_due=dates.product_due,
        paper=clinic.paper,
        protocol=keep_version(protocol, now=now),
        replaces=replaces,
        entered_by=actor.staff,
        entered_at=now,
    )
    queue_certificate(certificate.pk)
    return certificate


def numbering() -> ClinicDetails:
    """Held until the transaction ends: one certificate after the other, so that the numbers have no gap."""
    return ClinicDetails.objects.select_for_update().get(pk=1)


def next_number() -> int:
    """For whoever holds the `numbering`."""
    return (Certificate.objects.aggregate(Max("number"))["number__max"] or 0) + 1


def _not_yours(protocol: Protocol, dose: Dose) -> str:
    rule, vet = signer_rule(protocol), dose.supervising
    said = f"{rule.text} ({rule.source}) " if rule else ""
    return f"{said}For this dose that is {vet.printed_name}." if vet else f"{said}Nobody stands as that one."


def _values(
    patient: Patient,
    dose: Dose,
    dates: CertificateDates,
    clinic: ClinicDetails,
    known: Known,
    actor: Actor,
    control_licence: str,
) -> dict[str, str]:
    """Every field of the certificate as it is printed; empty where nothing is known."""
    label = dose.product_facts.get("facts", {})
    months = label.get("licensed_months")
    vet = dose.supervising
    return {
        **owner_values(patient),
        **animal_values(patient, on=dates.vaccinated_on),
        "tag_number": dose.tag_number,
        "size_band": size_band(known.animal.weight_kg),
        "control_licence": control_licence.strip(),
        "vaccinated_on": day(dates.vaccinated_on),
        "due_by": day(dates.due_by),
        "product_name": dose.product_facts.get("name", ""),
        "manufacturer": dose.product_facts.get("maker", ""),
        "licensed_duration": f"{months} months" if months else "",
        "dose_kind": dates.sequence,
        "serial": dose.lot,
        "given_by": dose.given_by.printed_name if dose.given_by else "",
        "veterinarian": vet.printed_name if vet else "",
        "licence_number": dose.licence,
        "signature": f"issued by {actor.staff.printed_name}",
        "vet_address": house_address(clinic),
    }


@transaction.atomic
def void_certificate(
    *, actor: Actor, now: datetime, certificate: Certificate, reason: str, once: UUID | None = None
) -> None:
    """It stands no more; its number and its text stay. Raises StruckAlready, Incomplete, SentBefore."""
    actor.require(Right.SIGN)
    first_sending(once, actor=actor, now=now)
    reason = said(reason, field="reason", sentence="Say why it is voided.")
    changed = Certificate.objects.filter(pk=certificate.pk, struck_at=None).update(
        struck_at=now, struck_by=actor.staff, struck_reason=reason
    )
    if not changed:
        raise StruckAlready


def void_with_dose(dose: Dose, *, reason: str, actor: Actor, now: datetime) -> None:
    """A dose that was struck out takes every certificate that speaks of it with it."""
    Certificate.objects.filter(Q(dose=dose) | Q(dose_ids__contains=[dose.pk]), struck_at=None).update(
        struck_at=now, struck_by=actor.staff, struck_reason=f"The dose was struck out: {reason.strip()}"[:200]
    )


def is_current(certificate: Certificate, today: date) -> bool:
    """Whether the animal is currently vaccinated by it: on the day it is due still, the day after no more."""
    ends = certificate.due_by
    stands = certificate.struck_at is None and certificate.valid_from <= today
    return stands and (ends is None or today <= ends)
