"""One box finds a patient: by its name, its owner's, a telephone, a chip. Typos and accents are forgiven.

A patient's search column holds all of these, each word with a space in front (`searchtext.searchable`); an
owner's holds names and telephones, for those who have no animal here yet.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from django.contrib.postgres.search import TrigramWordSimilarity
from django.db import connection, transaction
from django.db.models import Case, Exists, F, FloatField, Model, OuterRef, Q, QuerySet, Value, When
from django.db.models.functions import Upper

from clinic.patients.ages import in_words
from clinic.patients.models import Ownership, Patient
from clinic.patients.searchtext import plain
from clinic.people.models import Owner
from clinic.people.phones import search_digits
from clinic.platform.registries import Found, searches
from clinic.visits.models import Visit

ENOUGH_DIGITS = 3
FOUND = 30
OWNERS = 6
OTHERS = 5
# PostgreSQL's own 0.6 forgives a letter left out, but not two that changed places.
ALIKE = "0.42"
HERE = (
    Visit.Place.ARRIVED,
    Visit.Place.WITH_TECHNICIAN,
    Visit.Place.WITH_CLINICIAN,
    Visit.Place.ADMITTED,
)

M = TypeVar("M", bound=Model)


@dataclass(frozen=True)
class Words:
    """What was typed: words in upper case without accents, and the digits of a telephone or a chip."""

    words: tuple[str, ...]
    digits: str


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


@dataclass(frozen=True)
class OwnerHit:
    owner_id: int
    name: str
    phone: str


@dataclass(frozen=True)
class Results:
    """`asked` False: nothing was typed, and whoever is in the house is shown."""

    asked: bool
    hits: tuple[Hit, ...]
    owners: tuple[OwnerHit, ...]
    others: tuple[Found, ...]
    more: bool

    @property
    def nothing(self) -> bool:
        return self.asked and not (self.hits or self.owners or self.others)


def read(query: str) -> Words:
    """ "Dovale (0555) 01-42" is one word and seven digits; a chip of letters and digits is a word."""
    words: list[str] = []
    digits: list[str] = []
    for part in plain(query).upper().split():
        (digits if part.isdigit() else words).append(part)
    number = "".join(digits)
    if query.strip().startswith("+"):
        number = search_digits(query)[-7:]  # numbers of home are kept without their country
    return Words(tuple(words), number)


@transaction.atomic
def find(query: str, *, today: date) -> Results:
    """Best first, the living before the dead. A fixed number of queries."""
    typed = read(query)
    if not typed.words and not typed.digits:
        return Results(bool(query.strip()), _hits(_in_the_house(), today), (), (), False)
    _forgive()
    patients = list(matching(Patient.objects.filter(merged_into=None), typed)[: FOUND + 1])
    others = [found for each in searches for found in each.find(query, limit=OTHERS)]
    return Results(
        asked=True,
        hits=_hits(patients[:FOUND], today),
        owners=_owner_hits(typed),
        others=tuple(others),
        more=len(patients) > FOUND,
    )


def _in_the_house() -> list[Patient]:
    here = Visit.objects.filter(patient=OuterRef("pk"), place__in=HERE)
    return list(Patient.objects.filter(Exists(here)).order_by("name", "pk"))


def matching(rows: QuerySet[M], typed: Words) -> QuerySet[M]:
    """Every word and the digits must be found; both indexes stand on the upper case of the column."""
    found = rows.annotate(upper=Upper("search"))
    for word in typed.words:
        found = found.filter(_like(word))
    if typed.digits:
        inside = len(typed.digits) >= ENOUGH_DIGITS
        found = found.filter(upper__contains=typed.digits if inside else f" {typed.digits}")
    score: Value | F = Value(0.0)
    for word in typed.words:
        begins = Case(
            When(upper__contains=f" {word}", then=Value(1.0)), default=Value(0.0), output_field=FloatField()
        )
        score = score + TrigramWordSimilarity(word, "upper") + begins  # type: ignore[assignment]
    last = [F("deceased_on").asc(nulls_first=True)] if rows.model is Patient else []
    best: QuerySet[M] = found.annotate(score=score).order_by(*last, "-score", "pk")
    return best


def _like(word: str) -> Q:
    """A word that begins so; from three letters on also one that is much alike."""
    begins = Q(upper__contains=f" {word}")
    return begins if len(word) < 3 else begins | Q(upper__trigram_word_similar=word)


@transaction.atomic
def owners(query: str) -> tuple[OwnerHit, ...]:
    """Owners by name or telephone, with and without animals here. Three queries."""
    typed = read(query)
    if not typed.words and not typed.digits:
        return ()
    _forgive()
    found = matching(Owner.objects.filter(merged_into=None), typed).prefetch_related("phones")[:OWNERS]
    return tuple(OwnerHit(owner.pk, owner.name, _first_phone(owner)) for owner in found)


def _forgive() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT set_config('pg_trgm.word_similarity_threshold', %s, true)", [ALIKE])


def _owner_hits(typed: Words) -> tuple[OwnerHit, ...]:
    """Owners without an animal here; the others are found through their animals."""
    standing = Ownership.objects.filter(owner=OuterRef("pk"), until=None)
    alone = Owner.objects.filter(~Exists(standing), merged_into=None)
    return tuple(
        OwnerHit(owner.pk, owner.name, _first_phone(owner))
        for owner in matching(alone, typed).prefetch_related("phones")[:OWNERS]
    )


def _hits(patients: list[Patient], today: date) -> tuple[Hit, ...]:
    owners = first_owners(patient.pk for patient in patients)
    here = {visit.patient_id: visit for visit in Visit.objects.filter(patient__in=patients, place__in=HERE)}
    return tuple(_hit(each, owners.get(each.pk), here.get(each.pk), today) for each in patients)


def first_owners(patient_ids: Iterable[int]) -> dict[int, Owner]:
    """The first owner of each, with telephones. Two queries."""
    rows = (
        Ownership.objects.filter(patient__in=list(patient_ids), until=None)
        .select_related("owner")
        .prefetch_related("owner__phones")
        .order_by("is_first", "-pk")
    )
    return {row.patient_id: row.owner for row in rows}


def _first_phone(owner: Owner) -> str:
    return next((phone.number for phone in owner.phones.all()), "")


def _hit(patient: Patient, owner: Owner | None, visit: Visit | None, today: date) -> Hit:
    return Hit(
        patient_id=patient.pk,
        name=patient.name,
        facts=_facts(patient, today),
        owner=owner.name if owner else "",
        owner_id=owner.pk if owner else None,
        phone=_first_phone(owner) if owner else "",
        where=_where(visit),
        gone=_gone(patient),
    )


def _facts(patient: Patient, today: date) -> str:
    facts = [patient.get_species_display(), patient.breed]
    if patient.birth_date and not patient.deceased_on and patient.birth_date <= today:
        guess = patient.birth_precision in (Patient.BirthPrecision.ESTIMATE, Patient.BirthPrecision.YEAR)
        facts.append(in_words(patient.birth_date, today, estimated=guess))
    return ", ".join(fact for fact in facts if fact)


def _where(visit: Visit | None) -> str:
    if visit is None:
        return ""
    return f"{visit.get_place_display()}, {visit.room}" if visit.room else visit.get_place_display()


def _gone(patient: Patient) -> str:
    if patient.deceased_on:
        return f"died {patient.deceased_on:%-d %b %Y}"
    return f"left us {patient.left_practice_on:%-d %b %Y}" if patient.left_practice_on else ""
