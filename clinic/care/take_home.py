"""The medicine directions on a sheet of their own, for an owner who leaves before the letter is signed."""

from dataclasses import dataclass

from django.utils import timezone

from clinic.care.letter import medicine_section
from clinic.letters.document import Section
from clinic.letters.texts import SOURCE, Texts, in_the_words_of
from clinic.letters.wording import long_day, words
from clinic.letters.wordings import clinic_words
from clinic.patients.models import Ownership
from clinic.platform.models import ClinicDetails
from clinic.platform.queries import clinic_details
from clinic.visits.models import Record


@dataclass(frozen=True)
class TakeHome:
    """As it prints. `section` is the letter's own, so that both say the same."""

    clinic: ClinicDetails
    place: str
    title: str
    owner: str
    section: Section
    signed: bool
    w: Texts
    by_day: str
    emergencies: str


def take_home(record: Record) -> TakeHome:
    """In the owner's language; what is grave and unreviewed in it stands in the clinicians' as well. Seven
    queries."""
    clinic, patient = clinic_details(), record.visit.patient
    first = Ownership.objects.filter(patient=patient, until=None).select_related("owner")
    owned = first.order_by("-is_first", "pk").first()
    w = words(owned.owner.language if owned else SOURCE)
    day = timezone.localdate(record.visit.arrived_at or record.opened_at)
    kind = w(f"patient.{patient.species}")
    with in_the_words_of(clinic_words(clinic)):
        section = medicine_section(record, w.language)
    return TakeHome(
        clinic=clinic,
        place=", ".join(part for part in (clinic.street, clinic.city) if part),
        title=w("take_home.title", patient=f"{patient.name}, {kind}", day=long_day(day, w)),
        owner=w("take_home.for", owner=owned.owner.name) if owned else "",
        section=section,
        signed=record.is_signed,
        w=w,
        by_day=w("mail.by_day", phone=clinic.phone),
        emergencies=w("mail.emergencies", phone=clinic.emergency_phone),
    )
