"""One structure of one patient over all signed exams."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.http import Http404
from django.urls import reverse
from django.utils import timezone

from clinic.patients.models import Patient
from exams.models import Finding
from exams.queries import exams_of
from exams.rows import animal_of, answer_of
from exams.sentences import for_record
from exams.versions import composed, lines_of, walk_of


@dataclass(frozen=True)
class Said:
    shape: str
    words: str


@dataclass(frozen=True)
class Look:
    """What one visit said of it."""

    on: date
    url: str
    said: tuple[Said, ...]


@dataclass(frozen=True)
class StructurePage:
    patient_name: str
    patient_url: str
    name: str
    looks: tuple[Look, ...]


def structure_page(patient: Patient, structure: str) -> StructurePage:
    """Newest first; a visit that did not look at it says so. Two queries. Raises Http404."""
    known = composed().structure.get(structure)
    exams = exams_of(patient)
    rows = Finding.objects.filter(exam__in=exams, structure=known.twin or structure if known else structure)
    by_exam: dict[int, list[Finding]] = {}
    for row in rows.order_by("side"):
        by_exam.setdefault(row.exam_id, []).append(row)
    if known is None and not by_exam:
        raise Http404
    looks = []
    for exam in exams:
        walk, lines = walk_of(exam.walk_id), lines_of(exam.walk_id, animal_of(exam.animal))
        told = [(answer_of(r), lines[r.line]) for r in by_exam.get(exam.pk, ()) if r.line in lines]
        said = tuple(
            Said(
                "abnormal" if a.is_abnormal else "unseen" if a.status == "not-examined" else "normal",
                for_record(walk, line, a).removesuffix("; marked together"),
            )
            for a, line in told
        )
        day = timezone.localdate(exam.record.opened_at)
        url = reverse("visit-exam", args=[exam.record.visit_id])
        looks.append(Look(day, url, said or (Said("new", "not looked at"),)))
    name = known.name if known else structure
    return StructurePage(patient.name, reverse("patient", args=[patient.pk]), name, tuple(looks))
