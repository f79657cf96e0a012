"""Questions to the photographs of exams, and what pages are told of each. `access_*` load and authorise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import Record
from exams.lines import side_words
from exams.lump_rows import place_of
from exams.models import Exam, ExamPhoto, Lump
from exams.versions import published

MOST = 400  # photographs that an exam page is told of, the newest first
PANEL = 6
LUMP = "lump:"


def access_photo(photo_id: UUID, *, actor: Actor, right: Right = Right.SEE) -> ExamPhoto:
    """Any photograph, struck out or not, with its people and its visit."""
    actor.require(right)
    return get_object_or_404(_whole(), pk=photo_id)


def access_photo_here(photo_id: UUID, *, visit_id: int, actor: Actor, right: Right) -> ExamPhoto:
    """A photograph of this visit."""
    actor.require(right)
    return get_object_or_404(_whole(), pk=photo_id, record__visit_id=visit_id)


def access_photo_of(photo_id: UUID, *, patient: Patient) -> ExamPhoto:
    """A photograph of this patient, which came through its own `access_patient`."""
    return get_object_or_404(_whole(), pk=photo_id, record__visit__patient=patient)


def photos_of(patient: Patient, *, limit: int = MOST) -> list[ExamPhoto]:
    """All that were not struck out, the newest first. One query."""
    return list(
        _whole()
        .filter(record__visit__patient=patient, struck_at=None)
        .order_by("-record__opened_at", "-received_at", "-id")[:limit]
    )


def every_photo_of(patient: Patient) -> list[ExamPhoto]:
    """Struck out or not, oldest first. One query."""
    rows = _whole().filter(record__visit__patient=patient)
    return list(rows.order_by("record__opened_at", "received_at", "id"))


def struck_photos_of(patient: Patient) -> list[ExamPhoto]:
    """Struck out ones, the newest first."""
    rows = _whole().filter(record__visit__patient=patient, struck_at__isnull=False)
    return list(rows.order_by("-struck_at"))


def changes_of(visit_id: int) -> int:
    """How often the photographs of this visit's exam changed; 0 when nobody began it."""
    counts = Exam.objects.filter(record__visit_id=visit_id).values_list("photo_changes", flat=True)
    return counts.first() or 0


def photos_of_record(record: Record) -> list[ExamPhoto]:
    """One visit's, not struck out, as they were taken. One query."""
    return list(_whole().filter(record=record, struck_at=None))


def photos_by_visit(patient: Patient, structure: str) -> dict[int, tuple[Photo, ...]]:
    """One structure's, not struck out, by visit, as they were taken. Two queries."""
    rows = _whole().filter(record__visit__patient=patient, struck_at=None)
    found: dict[int, list[Photo]] = {}
    names = names_of(patient)
    for row in rows.filter(target__startswith=f"{structure}|"):
        found.setdefault(row.record.visit_id, []).append(photo_of(row, names))
    return {visit: tuple(each) for visit, each in found.items()}


def _whole() -> QuerySet[ExamPhoto]:
    return ExamPhoto.objects.select_related("by", "observed_by", "struck_by", "record__visit")


@dataclass(frozen=True)
class Photo:
    """One photograph for a template. `alt` says what it shows, and when it was taken."""

    id: UUID
    src: str
    small: str
    page: str
    place: str
    target: str
    day: date
    at: str
    by: str
    note: str
    alt: str
    width: int
    height: int
    struck: str


@dataclass(frozen=True)
class Names:
    """What this patient's targets are called: lines by the walk, lumps by their number and place."""

    species: str
    lumps: Mapping[str, str]

    def words(self, target: str) -> str:
        """ "Ear canal, left"; "Lump 3, chest wall"."""
        if target.startswith(LUMP):
            return self.lumps.get(target.removeprefix(LUMP), "A lump")
        structure, _, side = target.partition("|")
        known = published().structure.get(structure)
        name, words = known.name if known else structure, side_words(side or "-", self.species)
        return f"{name}, {words}" if words else name


def names_of(patient: Patient) -> Names:
    """One query."""
    lumps = Lump.objects.filter(patient=patient)
    return Names(
        patient.species,
        {str(each.key): f"Lump {each.number}, {place_of(each).words}".rstrip(", ") for each in lumps},
    )


def photo_of(row: ExamPhoto, names: Names) -> Photo:
    """`row` comes with `by`, `struck_by` and its visit."""
    day, place = photo_day(row), names.words(row.target)
    struck = f"Struck out by {row.struck_by.full_name}: {row.struck_reason}" if row.struck_by else ""
    return Photo(
        id=row.pk,
        src=reverse("exam-photo", args=[row.pk]),
        small=reverse("exam-photo-small", args=[row.pk]),
        page=reverse("patient-photo", args=[row.record.visit.patient_id, row.pk]),
        place=place,
        target=row.target,
        day=day,
        at=taken_words(row),
        by=row.by.full_name,
        note=row.note,
        alt=f"{place}{f': {row.note}' if row.note else ''}, {day.day} {day:%b %Y}",
        width=row.width,
        height=row.height,
        struck=struck,
    )


def photo_json(row: ExamPhoto) -> dict[str, Any]:
    """For the exam page's script; it knows the places by itself."""
    return {
        "key": str(row.pk),
        "visit": row.record.visit_id,
        "target": row.target,
        "day": photo_day(row).isoformat(),
        "at": row.taken_at,
        "by": row.by.full_name,
        "staff": str(row.by_id),
        "note": row.note,
        "letter": row.in_letter,
        "width": row.width,
        "height": row.height,
        "src": reverse("exam-photo", args=[row.pk]),
        "small": reverse("exam-photo-small", args=[row.pk]),
    }


def photo_day(row: ExamPhoto) -> date:
    """The day of its visit, in the clinic's zone: what it is put beside others by."""
    return timezone.localdate(row.record.opened_at)


def taken_words(row: ExamPhoto) -> str:
    """The device's clock, as it stood there."""
    at = parse_datetime(row.taken_at)
    return f"{at:%H:%M}" if at else ""
