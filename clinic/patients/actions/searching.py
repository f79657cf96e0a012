"""Writes what a patient is found by: its name, its owners' names, their telephones, its chips."""

from collections.abc import Iterable

from clinic.patients.models import Ownership, Patient
from clinic.patients.searchtext import searchable
from clinic.people.models import Owner


def refresh_patients(patient_ids: Iterable[int]) -> None:
    """Write the search columns anew. A fixed number of queries."""
    patients = list(
        Patient.objects.filter(pk__in=list(patient_ids)).prefetch_related("microchips").order_by("pk")
    )
    names: dict[int, list[str]] = {patient.pk: [patient.name] for patient in patients}
    digits: dict[int, list[str]] = {
        patient.pk: [chip.number.lower() for chip in patient.microchips.all()] for patient in patients
    }
    standing = Ownership.objects.filter(patient__in=patients, until=None).select_related("owner")
    for ownership in standing.prefetch_related("owner__phones"):
        owner = ownership.owner
        names[ownership.patient_id] += [owner.given_name, owner.family_name]
        digits[ownership.patient_id] += [phone.digits for phone in owner.phones.all()]
    for patient in patients:
        patient.search = searchable(names[patient.pk], digits[patient.pk])
    Patient.objects.bulk_update(patients, ["search"])


def refresh_patients_of(owner: Owner) -> None:
    standing = Ownership.objects.filter(owner=owner, until=None)
    refresh_patients(standing.values_list("patient_id", flat=True))
