"""One structure of one patient over all signed exams: each look against the look before it.

Better and worse are said by `exams.changes` only, where both looks stand on one scale.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.http import Http404
from django.urls import reverse
from django.utils import timezone

from clinic.patients.models import Patient
from clinic.patients.units import METRIC, Units
from exams.changes import GONE, UNSEEN, Change, changes_on
from exams.lines import Line, side_words
from exams.models import Finding
from exams.photos import Photo, photos_by_visit
from exams.queries import exams_of
from exams.readings import as_read
from exams.rows import animal_of, answer_of
from exams.sentences import Say, finding_words, for_record
from exams.state import NOT_EXAMINED, LineAnswer
from exams.summary import SHAPES
from exams.teeth import ToothError, at_position, tooth, valid_teeth
from exams.versions import lines_of, published, walk_of
from exams.walk import Walk


@dataclass(frozen=True)
class Mark:
    """What became of it since the look before. `of`: which finding, where a line has several."""

    how: str
    shape: str
    tone: str
    of: str = ""


@dataclass(frozen=True)
class Said:
    """One line on one day: value, grade and severity in the record's words."""

    shape: str
    words: str
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True)
class Look:
    """What one visit said of it."""

    on: date
    url: str
    said: tuple[Said, ...]
    photos: tuple[Photo, ...] = ()
    looked: bool = True


@dataclass(frozen=True)
class StructurePage:
    patient_name: str
    patient_url: str
    name: str
    looks: tuple[Look, ...]
    summed: str = ""


def structure_page(patient: Patient, structure: str, units: Units = METRIC) -> StructurePage:
    """Newest first; a visit that did not look at it says so. Three queries. Raises Http404.

    structure: all of its lines, or one tooth (`MTH.teeth|108`), with the baby tooth before it. `units` are
    those of its reader.
    """
    structure, _, side = structure.partition("|")
    known = published().structure.get(structure)
    exams = exams_of(patient)
    rows = Finding.objects.filter(exam__in=exams, structure=known.twin or structure if known else structure)
    if side:
        rows = rows.filter(side__in=_same_place(side, patient.species))
    by_exam: dict[int, list[Finding]] = {}
    for row in rows.order_by("side"):
        by_exam.setdefault(row.exam_id, []).append(row)
    if known is None and not by_exam:
        raise Http404
    photographed = photos_by_visit(patient, known.twin or structure if known else structure)
    looks: list[Look] = []
    last: dict[str, tuple[LineAnswer, date]] = {}  # by line: the newest look so far
    for exam in reversed(exams):
        walk, lines = walk_of(exam.walk_id), lines_of(exam.walk_id, animal_of(exam.animal))
        told = [(answer_of(r), lines[r.line]) for r in by_exam.get(exam.pk, ()) if r.line in lines]
        day = timezone.localdate(exam.record.opened_at)
        said = tuple(_said(walk, line, answer, last.get(line.key), as_read(units)) for answer, line in told)
        last |= {line.key: (answer, day) for answer, line in told if answer.status != NOT_EXAMINED}
        url = reverse("visit-exam", args=[exam.record.visit_id])
        photos = photographed.get(exam.record.visit_id, ())
        looked = any(answer.status != NOT_EXAMINED for answer, _ in told)
        looks.append(Look(day, url, said or (Said("new", "not looked at"),), photos, looked))
    looks.reverse()
    name = known.name if known else structure
    if side:
        name = f"{name}: {side_words(side, patient.species)}"
    return StructurePage(
        patient.name, reverse("patient", args=[patient.pk]), name, tuple(looks), _summed(looks)
    )


def _said(
    walk: Walk, line: Line, answer: LineAnswer, before: tuple[LineAnswer, date] | None, say: Say
) -> Said:
    shape = "abnormal" if answer.is_abnormal else "unseen" if answer.status == NOT_EXAMINED else "normal"
    words = for_record(walk, line, answer, say).removesuffix("; marked together")
    if answer.status == NOT_EXAMINED:
        return Said(shape, words)
    if before is None:
        first = (Mark("first look", "begun", "unseen"),) if answer.is_abnormal else ()
        return Said(shape, words, first)
    found = changes_on(line, before[0], answer, walk)
    return Said(shape, words, tuple(_mark(walk, change, alone=len(found) == 1) for change in found))


def _mark(walk: Walk, change: Change, *, alone: bool) -> Mark:
    """A finding that is gone is named: the line's words of that day do not say it any more."""
    shape, tone = SHAPES[change.how]
    named = not alone or change.how in (GONE, UNSEEN)
    entry = change.now or change.before
    if not named:
        return Mark(change.how, shape, tone)
    if entry is None:
        return Mark(change.how, shape, tone, f"was {change.value_before}" if change.value_before else "")
    known = entry.code in walk.finding  # a later walk may have retired it
    return Mark(change.how, shape, tone, finding_words(walk, entry) if known else entry.code)


def _summed(looks: Sequence[Look]) -> str:
    """How often it was looked at, and how often it was not normal."""
    seen = sum(look.looked for look in looks)
    bad = sum(any(each.shape == "abnormal" for each in look.said) for look in looks)
    visits = f"{len(looks)} signed exam{'' if len(looks) == 1 else 's'}"
    return f"Looked at in {seen} of {visits}; abnormal in {bad}." if looks else ""


def _same_place(side: str, species: str) -> list[str]:
    """A tooth and the baby tooth before it; of everything else the side itself. Raises Http404."""
    if not side.isdigit():
        return [side]
    try:
        number = tooth(species, int(side)).number
    except ToothError as error:
        raise Http404 from error
    babies = valid_teeth(species, deciduous=True)
    return [side, *(str(n) for n in babies if n != number and at_position(number, n))]
