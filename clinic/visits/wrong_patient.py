"""Entered on the wrong patient: whose it may be, both side by side, and what has been put right."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Case, IntegerField, Value, When
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from clinic.patients.facts import both_weights, newest_weight, sex_in_words, signalment
from clinic.patients.models import Patient
from clinic.patients.portrait import Portrait, portrait
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.measures import units_of
from clinic.platform.registries import Movable, wrong_patient_parts
from clinic.visits.actions.arrivals import HERE
from clinic.visits.models import PutRight, Record, Visit

MOST = 40


@dataclass(frozen=True)
class Candidate:
    """Another animal with an open record. `here`: it is in the house now."""

    visit_id: int
    name: str
    portrait: Portrait
    facts: str
    owner: str
    place: str
    url: str


@dataclass(frozen=True)
class Fact:
    """One thing side by side. `differs`: worth a second look before moving anything."""

    title: str
    wrong: str
    right: str
    differs: bool


@dataclass(frozen=True)
class Group:
    title: str
    rows: tuple[Movable, ...]


@dataclass(frozen=True)
class WrongPatientPage:
    """`stays`: what cannot go there, each with its reason."""

    candidates: tuple[Candidate, ...]
    facts: tuple[Fact, ...]
    warning: str
    groups: tuple[Group, ...]
    stays: tuple[Movable, ...]
    right_portrait: Portrait | None = None


def open_elsewhere(record: Record) -> list[Visit]:
    """Visits of other patients whose record is open: those in the house first."""
    here = Case(When(place__in=HERE, then=Value(0)), default=Value(1), output_field=IntegerField())
    return list(
        Visit.objects.filter(record__isnull=False, record__signed_at=None)
        .exclude(patient=record.visit.patient_id)
        .select_related("patient", "record", "arrival__owner")
        .order_by(here, "-arrived_at", "-pk")[:MOST]
    )


def access_right_visit(visit_id: int, *, record: Record, actor: Actor) -> Visit:
    """The open visit of another patient. Raises Http404."""
    actor.require(Right.MEASURE)
    return get_object_or_404(
        Visit.objects.select_related("patient", "record").exclude(patient=record.visit.patient_id),
        pk=visit_id,
        record__isnull=False,
        record__signed_at=None,
    )


def wrong_patient_page(record: Record, to: Record | None, *, actor: Actor, now: datetime) -> WrongPatientPage:
    """The choice of patients; with `to`, both side by side and everything that may move."""
    today = timezone.localdate(now)
    if to is None:
        return WrongPatientPage(
            tuple(_candidate(v, record, today) for v in open_elsewhere(record)), (), "", (), ()
        )
    groups = [
        Group(part.title, tuple(part.rows(record, to=to, actor=actor, now=now)))
        for part in wrong_patient_parts
    ]
    return WrongPatientPage(
        candidates=(),
        facts=tuple(_facts(record.visit.patient, to.visit.patient, today, units_of(actor).weight)),
        warning=_warning(record.visit.patient, to.visit.patient),
        groups=tuple(
            Group(g.title, rows) for g in groups if (rows := tuple(r for r in g.rows if not r.hinder))
        ),
        stays=tuple(r for g in groups for r in g.rows if r.hinder),
        right_portrait=portrait(to.visit.patient),
    )


def _candidate(visit: Visit, record: Record, today: date) -> Candidate:
    url = reverse("wrong-patient", args=[record.visit_id])
    return Candidate(
        visit_id=visit.pk,
        name=visit.patient.name,
        portrait=portrait(visit.patient),
        facts=signalment(visit.patient, on=today, weight_kg=None),
        owner=visit.arrival.owner.name if visit.arrival else "",
        place=visit.get_place_display() + (f", {visit.room}" if visit.room else ""),
        url=f"{url}?to={visit.pk}",
    )


def _facts(wrong: Patient, right: Patient, today: date, unit: str) -> list[Fact]:
    pairs = [
        ("Name", wrong.name, right.name),
        ("Species", wrong.get_species_display(), right.get_species_display()),
        ("Breed", wrong.breed or "not known", right.breed or "not known"),
        ("Sex", sex_in_words(wrong), sex_in_words(right)),
        ("Born", _born(wrong), _born(right)),
        ("Weight", _weight(wrong, today, unit), _weight(right, today, unit)),
    ]
    return [Fact(title, a, b, title in ("Species", "Sex") and a != b) for title, a, b in pairs]


def _born(patient: Patient) -> str:
    return f"{patient.birth_date:%-d %b %Y}" if patient.birth_date else "not known"


def _weight(patient: Patient, today: date, unit: str) -> str:
    newest = newest_weight(patient)
    if newest is None or newest.value is None:
        return "none yet"
    on = timezone.localdate(newest.measured_at)
    return f"{both_weights(newest.value, unit)}, {'today' if on == today else f'{on:%-d %b %Y}'}"


def _warning(wrong: Patient, right: Patient) -> str:
    """What differs so much that a mix-up the other way is likely too."""
    if wrong.species != right.species:
        return (
            f"{wrong.name} is a {wrong.get_species_display()}, {right.name} a {right.get_species_display()}: "
            "every value is judged anew, and what the other species does not have stays here."
        )
    if wrong.sex != right.sex:
        return f"{wrong.name} and {right.name} differ in sex: what one of them lacks stays here."
    return ""


@dataclass(frozen=True)
class PutRightRow:
    """What one record says of a move. `url`: the other patient's visit."""

    words: str
    small: str
    url: str


def put_right_rows(record: Record) -> tuple[PutRightRow, ...]:
    """What was struck out here, and what came from elsewhere. One query."""
    rows = PutRight.objects.filter(record=record).select_related("other__visit__patient", "by", "seen_by")
    return tuple(
        PutRightRow(
            words=f"{row.where}: {row.words}. "
            + (
                f"First entered on {row.other.visit.patient.name} by mistake."
                if row.came
                else f"Struck out here: it belongs to {row.other.visit.patient.name}."
            ),
            small=f"seen by {row.seen_by.full_name}; put right by {row.by.full_name}, "
            f"{timezone.localtime(row.at):%-d %B %Y, %H:%M}",
            url=reverse("wrong-patient", args=[row.other.visit_id]),
        )
        for row in rows
    )
