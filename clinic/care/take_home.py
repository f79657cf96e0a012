"""The medicine directions on a sheet of their own, for an owner who leaves before the letter is signed."""

from dataclasses import dataclass

from django.utils import timezone

from clinic.care.letter import medicine_section
from clinic.letters.document import Section
from clinic.letters.texts import Texts
from clinic.letters.wording import long_day, words
from clinic.patients.models import Ownership
from clinic.platform.models import ClinicDetails
from clinic.platform.queries import clinic_details
from clinic.visits.models import Record


@dataclass(frozen=True)
class TakeHome:
    """As it prints. `section` is the letter's own, so that both say the same."""

    clinic: ClinicDetails
    place: str
    patient: str
    owner: str
    day: str
    section: Section
    signed: bool
    w: Texts


def take_home(record: Record) -> TakeHome:
    """Five queries."""
    clinic, patient = clinic_details(), record.visit.patient
    first = Ownership.objects.filter(patient=patient, until=None).select_related("owner")
    owned = first.order_by("-is_first", "pk").first()
    w = words("en")
    return TakeHome(
        clinic=clinic,
        place=", ".join(part for part in (clinic.street, clinic.city) if part),
        patient=f"{patient.name}, {patient.get_species_display()}",
        owner=owned.owner.name if owned else "",
        day=long_day(timezone.localdate(record.visit.arrived_at or record.opened_at), w),
        section=medicine_section(record),
        signed=record.is_signed,
        w=w,
    )
