"""A certificate of a rabies dose: issued, voided, replaced. Follow local law on who may sign one."""

from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from clinic.patients.ages import in_words
from clinic.patients.models import Ownership, Patient
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.platform.models import ClinicDetails
from clinic.visits.actions.common import first_sending
from preventive.actions.common import said
from preventive.certificate import CertificateDates, DoseDoesNotCountError, certificate_dates, missing_fields
from preventive.certificate_code import new_code
from preventive.errors import NoCertificate, StandsAlready, StruckAlready
from preventive.knowing import Known, history_of
from preventive.models import Certificate, Dose
from preventive.tasks_queue import queue_certificate
from preventive.versions import keep_version, protocol_in_force
from preventive.wording import day

POUND_KG = 0.45359237


@transaction.atomic
def issue_certificate(
    *,
    actor: Actor,
    now: datetime,
    dose: Dose,
    replaces: Certificate | None = None,
    once: UUID | None = None,
) -> Certificate:
    """Numbered, frozen as printed, its PDF queued. The due date printed is the legal one of this day.

    Raises NoCertificate with everything that is missing, StandsAlready, SentBefore.
    """
    actor.require(Right.SIGN)
    first_sending(once, actor=actor, now=now)
    # one after the other, so that the numbers have no gap
    clinic = ClinicDetails.objects.select_for_update().get(pk=1)
    standing = Certificate.objects.filter(dose=dose, struck_at=None).first()
    if standing:
        raise StandsAlready(str(standing))
    if dose.struck_at:
        raise NoCertificate("This dose was struck out.")
    today = timezone.localdate(now)
    protocol = protocol_in_force()
    if protocol.rules.rabies.antigen not in dose.antigens or dose.source != "here":
        raise NoCertificate("A certificate is written for a rabies dose given here.")
    patient = Patient.objects.get(pk=dose.patient.merged_into_id or dose.patient_id)
    known = history_of(patient, today=today)
    try:
        dates = certificate_dates(known.animal, known.history, protocol, str(dose.pk), today)
    except DoseDoesNotCountError as error:
        raise NoCertificate(
            "This dose does not count for the law: see why under the vaccine’s name on the visit’s page."
        ) from error
    values = _values(patient, dose, dates, clinic, known, actor)
    missing = missing_fields(protocol, values)
    if missing:
        raise NoCertificate(f"Missing: {'; '.join(missing)}.")
    newest = Certificate.objects.aggregate(Max("number"))["number__max"] or 0
    certificate = Certificate.objects.create(
        number=newest + 1,
        code=new_code(),
        patient=patient,
        dose=dose,
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


def _values(
    patient: Patient,
    dose: Dose,
    dates: CertificateDates,
    clinic: ClinicDetails,
    known: Known,
    actor: Actor,
) -> dict[str, str]:
    """Every field of the certificate as it is printed; empty where nothing is known."""
    first = (
        Ownership.objects.filter(patient=patient, is_first=True, until=None).select_related("owner").first()
    )
    owner = first.owner if first else None
    label = dose.product_facts.get("facts", {})
    months = label.get("licensed_months")
    house = (clinic.name, clinic.street, clinic.postal_code, clinic.city, clinic.region)
    vet = dose.supervising
    chip = patient.microchips.order_by("-pk").first()
    return {
        "owner_name": owner.name if owner else "",
        "owner_phone": ", ".join(each.number for each in owner.phones.all()) if owner else "",
        "owner_address": _address(owner),
        "tag_number": dose.tag_number,
        "microchip": chip.number if chip else "",
        "species": patient.get_species_display(),
        "age": _age(patient, dates.vaccinated_on),
        "size_band": _size(known.animal.weight_kg),
        "breed": patient.breed,
        "colours": patient.colour,
        "sex": patient.get_sex_display(),
        "neutered": patient.get_neutered_display(),
        "animal_name": patient.name,
        "control_licence": "",
        "vaccinated_on": day(dates.vaccinated_on),
        "due_by": day(dates.due_by),
        "product_name": dose.product_facts.get("name", ""),
        "manufacturer": dose.product_facts.get("maker", ""),
        "licensed_duration": f"{months} months" if months else "",
        "dose_kind": dates.sequence,
        "serial": dose.lot,
        "veterinarian": vet.printed_name if vet else "",
        "licence_number": dose.licence,
        "signature": f"issued by {actor.staff.printed_name}",
        "vet_address": ", ".join(part for part in house if part),
    }


def _address(owner: Owner | None) -> str:
    if owner is None or not (owner.street and owner.city):
        return ""
    place = " ".join(part for part in (owner.city, owner.region, owner.postal_code) if part)
    return f"{owner.street}, {place}"


def _size(weight_kg: float | None) -> str:
    if weight_kg is None:
        return ""
    pounds = weight_kg / POUND_KG
    if pounds < 20:
        return "under 20 lb"
    return "20 to 50 lb" if pounds <= 50 else "over 50 lb"


def _age(patient: Patient, on: date) -> str:
    if patient.birth_date is None:
        return ""
    estimated = patient.birth_precision != Patient.BirthPrecision.DAY
    return in_words(patient.birth_date, on, estimated=estimated)


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


@transaction.atomic
def replace_certificate(
    *, actor: Actor, now: datetime, certificate: Certificate, reason: str, once: UUID | None = None
) -> Certificate:
    """Void it and issue the next of the same dose, from the record as it is now. Raises as both."""
    first_sending(once, actor=actor, now=now)
    void_certificate(actor=actor, now=now, certificate=certificate, reason=reason)
    return issue_certificate(actor=actor, now=now, dose=certificate.dose, replaces=certificate)


def void_with_dose(dose: Dose, *, reason: str, actor: Actor, now: datetime) -> None:
    """A dose that was struck out takes its certificate with it."""
    Certificate.objects.filter(dose=dose, struck_at=None).update(
        struck_at=now, struck_by=actor.staff, struck_reason=f"The dose was struck out: {reason.strip()}"[:200]
    )


def is_current(certificate: Certificate, today: date) -> bool:
    """Whether the animal is currently vaccinated by it: on the day it is due still, the day after no more."""
    return certificate.struck_at is None and certificate.valid_from <= today <= certificate.due_by
