"""What stands on the label of a dispensed medicine. Local law says what else must.

Items: common practice, and Texas 22 TAC 573.40 (labels of dispensed drugs) from memory, to be checked.
"""

from dataclasses import dataclass

from django.utils import timezone

from clinic.care.models import Medicine
from clinic.platform.models import ClinicDetails


@dataclass(frozen=True)
class Label:
    clinic: str
    clinic_lines: tuple[str, ...]
    phone: str
    patient: str
    owner: str
    medicine: str
    contents: str
    directions: str
    quantity: str
    refills: str
    prescriber: str
    on: str


def label_of(medicine: Medicine) -> Label:
    """Word for word as it was directed; nothing is shortened. Two queries."""
    patient, details = medicine.record.visit.patient, ClinicDetails.objects.filter(pk=1).first()
    owned = patient.ownerships.filter(until=None).select_related("owner").first()
    owner = owned.owner if owned else None
    town = " ".join(part for part in (details.postal_code, details.city) if part) if details else ""
    return Label(
        clinic=details.name if details else "",
        clinic_lines=tuple(part for part in ((details.street if details else ""), town) if part),
        phone=details.phone if details else "",
        patient=f"{patient.name}, {patient.get_species_display()}",
        owner=owner.name if owner else "",
        medicine=medicine.name,
        contents=", ".join(part for part in (" and ".join(medicine.ingredients), medicine.strength) if part),
        directions=medicine.directions,
        quantity=medicine.quantity,
        refills=f"{medicine.refills} refill{'' if medicine.refills == 1 else 's'}",
        prescriber=medicine.prescriber.printed_name,
        on=f"{timezone.localtime(medicine.at):%-d %B %Y}",
    )
