"""One box finds a patient: by its name, its owner's, a telephone, a chip. Typos and accents are forgiven."""

from dataclasses import dataclass
from datetime import date

from django.contrib.postgres.search import TrigramWordSimilarity
from django.db.models import F, Q, QuerySet
from django.db.models.functions import Upper

from clinic.patients.ages import in_words
from clinic.patients.models import Microchip, Ownership, Patient
from clinic.patients.searchtext import plain
from clinic.people.models import Phone
from clinic.people.phones import search_digits
from clinic.visits.models import Visit

ENOUGH_DIGITS = 3
NO_TRIGRAM = 3
FOUND = 30


@dataclass(frozen=True)
class Hit:
    """One patient as the list of results shows it."""

    patient_id: int
    name: str
    facts: str
    owner: str
    owner_id: int | None
    phone: str
    where: str
    gone: str


def find_patients(query: str, *, today: date, limit: int = FOUND) -> tuple[Hit, ...]:
    """Best first, the living before the dead. An empty query finds whoever is in the house. Five queries."""
    return _hits(list(_matching(query)[:limit]), today)


def _matching(query: str) -> QuerySet[Patient]:
    patients = Patient.objects.filter(merged_into=None)
    text = plain(query)
    digits = search_digits(query)
    if not text:
        return patients.filter(visits__place__in=HERE).distinct().order_by("name", "pk")
    if len(digits) >= ENOUGH_DIGITS and len(digits) >= len(text.replace(" ", "")) - 1:
        return _by_number(patients, digits)
    return _by_name(patients, text)


HERE = (
    Visit.Place.ARRIVED,
    Visit.Place.WITH_TECHNICIAN,
    Visit.Place.WITH_CLINICIAN,
    Visit.Place.ADMITTED,
)


def _by_number(patients: QuerySet[Patient], digits: str) -> QuerySet[Patient]:
    """Telephone digits anywhere in a number; a chip from its front."""
    owners = Phone.objects.filter(digits__contains=digits).values("owner")
    chipped = Microchip.objects.filter(number__startswith=digits).values("patient")
    reached = Ownership.objects.filter(owner__in=owners, until=None).values("patient")
    return patients.filter(Q(pk__in=chipped) | Q(pk__in=reached)).order_by(
        F("deceased_on").asc(nulls_first=True), "name", "pk"
    )


def _by_name(patients: QuerySet[Patient], text: str) -> QuerySet[Patient]:
    """Every word must be like one of the patient's or its owners'; the index stands on the upper case."""
    found = patients.annotate(upper=Upper("search"))
    words = text.upper().split()
    for word in words:
        if len(word) < NO_TRIGRAM:
            found = found.filter(Q(upper__startswith=word) | Q(upper__contains=f" {word}"))
        else:
            found = found.filter(upper__trigram_word_similar=word)
    likeness = TrigramWordSimilarity(" ".join(words), "upper")
    return found.annotate(likeness=likeness).order_by(
        F("deceased_on").asc(nulls_first=True), "-likeness", "name", "pk"
    )


def _hits(patients: list[Patient], today: date) -> tuple[Hit, ...]:
    ids = [patient.pk for patient in patients]
    owners: dict[int, Ownership] = {}
    for row in (
        Ownership.objects.filter(patient__in=ids, until=None)
        .select_related("owner")
        .prefetch_related("owner__phones")
        .order_by("is_first")
    ):
        owners[row.patient_id] = row
    here = {visit.patient_id: visit for visit in Visit.objects.filter(patient__in=ids, place__in=HERE)}
    return tuple(_hit(patient, owners.get(patient.pk), here.get(patient.pk), today) for patient in patients)


def _hit(patient: Patient, ownership: Ownership | None, visit: Visit | None, today: date) -> Hit:
    age = ""
    if patient.birth_date and not patient.deceased_on and patient.birth_date <= today:
        age = in_words(patient.birth_date, today)
    facts = [patient.breed or patient.get_species_display(), age]
    if patient.breed:
        facts.insert(0, patient.get_species_display())
    phones = list(ownership.owner.phones.all()) if ownership else []
    gone = f"died {patient.deceased_on:%-d %b %Y}" if patient.deceased_on else ""
    if not gone and patient.left_practice_on:
        gone = f"left us {patient.left_practice_on:%-d %b %Y}"
    return Hit(
        patient_id=patient.pk,
        name=patient.name,
        facts=", ".join(fact for fact in facts if fact),
        owner=ownership.owner.name if ownership else "",
        owner_id=ownership.owner_id if ownership else None,
        phone=phones[0].number if phones else "",
        where=visit.get_place_display() if visit else "",
        gone=gone,
    )
