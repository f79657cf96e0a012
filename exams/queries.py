"""Questions to the exam: where it stands, and what it says. `access_*` load and authorise."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property
from typing import Any
from uuid import UUID

from django.db import connection
from django.utils import timezone

from clinic.patients.models import Measurement, Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.queries import grant_staff
from clinic.people.rights import Right
from clinic.visits.models import HeadsUp, Record, Visit
from clinic.visits.queries import access_visit_here
from exams.digest import Digest, Judged, digest, judged
from exams.lines import Lines
from exams.models import Exam, Finding, Operation
from exams.readings import measured_of, numbers_of, readings
from exams.rows import animal_json, animal_of, state_of
from exams.state import ExamState
from exams.urgency import Facts, facts_of, highest
from exams.versions import composed, lines_of, walk_of
from exams.walk import Walk

KIND_OF_VISIT = {"full": "full", "focused": "focused", "emergency": "emergency", "technician": "focused"}


@dataclass(frozen=True)
class Standing:
    """An exam with everything that is needed to say how it stands. `exam` may be one that nobody began."""

    exam: Exam
    walk: Walk
    lines: Lines
    state: ExamState
    measured: tuple[Measurement, ...]
    heads_ups: tuple[HeadsUp, ...]

    @cached_property
    def facts(self) -> Facts:
        animal = self.lines.animal
        return facts_of(
            self.walk,
            species=animal.species,
            age_days=animal.age_days,
            neutered=animal.neutered,
            numbers=numbers_of(self.measured),
            codes={f.code for a in self.state.answers.values() for f in a.findings},
        )

    @cached_property
    def digest(self) -> Digest:
        return digest(self.state, self.walk, self.lines, facts=self.facts)

    @cached_property
    def judged(self) -> tuple[Judged, ...]:
        return judged(self.state, self.walk, self.facts)

    @cached_property
    def urgency(self) -> str:
        """The highest class of today's findings and values."""
        return highest(
            (*(j.urgency.letter for j in self.judged), *(m.urgency for m in self.measured if m.urgency))
        )


def access_exam_visit(visit_id: int, *, actor: Actor, right: Right = Right.SEE) -> Visit:
    """A visit that has arrived, with its record."""
    return access_visit_here(visit_id, actor=actor, right=right)


def exam_of(record: Record, *, today: date) -> Exam:
    """The record's exam; when nobody has begun it, one that is not saved, as it would begin now."""
    found = Exam.objects.filter(record=record).first()
    return found or unbegun(record, today=today)


def unbegun(record: Record, *, today: date) -> Exam:
    """An exam as it would begin, not saved. `record` comes with visit and patient."""
    visit = record.visit
    born = visit.patient.birth_date
    return Exam(
        record=record,
        walk_id=composed().sha256,
        animal=animal_json(visit.patient, age_days=(today - born).days if born else None),
        kind=KIND_OF_VISIT.get(visit.kind, Exam.Kind.FULL),
        kind_reason=visit.kind_reason,
    )


def standing(exam: Exam, *, keys: Iterable[str] = ()) -> Standing:
    """Where the exam stands. `keys`: operations whose first answers are wanted. At most 4 queries."""
    record = exam.record
    walk, lines = walk_of(exam.walk_id), lines_of(exam.walk_id, animal_of(exam.animal))
    measured = measured_of(record.visit)
    # a signed exam holds its values itself: what is struck out later does not change what was signed
    values = {} if record.is_signed else readings(measured, walk, lines)
    if not record.is_signed:  # the visit says which kind, until the signature keeps it
        exam.kind = KIND_OF_VISIT.get(record.visit.kind, Exam.Kind.FULL)
        exam.kind_reason = record.visit.kind_reason
    heads_ups = list(HeadsUp.objects.filter(record=record).select_related("by"))
    findings = list(Finding.objects.filter(exam=exam)) if exam.pk else []
    wanted = list(keys)
    known = Operation.objects.filter(exam=exam, key__in=wanted) if wanted and exam.pk else []
    state = state_of(exam, findings, heads_ups, values, known)
    return Standing(exam, walk, lines, state, tuple(measured), tuple(heads_ups))


def standing_of(record: Record, *, today: date) -> Standing:
    """Where the exam of a record stands, also when nobody has begun it."""
    exam = exam_of(record, today=today)
    exam.record = record
    return standing(exam)


# One row by primary key and two index look-ups: asked every two seconds by every open exam.
PULSE = """
SELECT r.signed_at, coalesce(e.revision, 0), v.kind,
  (SELECT concat(count(*), '.', count(answered_at), '.', max(answered_at)) FROM clinic_headsup
    WHERE record_id = r.id),
  (SELECT concat(count(*), '.', count(struck_at)) FROM clinic_measurement WHERE visit_id = v.id)
FROM clinic_record r JOIN clinic_visit v ON v.id = r.visit_id LEFT JOIN exams_exam e ON e.record_id = r.id
WHERE v.id = %s
"""


def pulse(visit_id: int) -> str:
    """A text that changes whenever something of the exam would look different. One query."""
    with connection.cursor() as cursor:
        cursor.execute(PULSE, [visit_id])
        row: tuple[Any, ...] | None = cursor.fetchone()
    return "|".join(str(part or "") for part in row) if row else ""


@dataclass(frozen=True)
class Earlier:
    """An earlier exam of the same patient with its findings as they were kept."""

    exam: Exam
    on: date
    walk: Walk
    lines: Lines
    findings: tuple[Finding, ...]


SPARED = ("not-needed", "not-part")  # nobody meant to look at it that day: it says nothing of the patient


def last_exams(record: Record) -> tuple[Earlier, ...]:
    """The newest signed exam before this record's and, where that looked at a part only, the newest full walk
    before it: what was not normal in each. The newest first."""
    signed = (
        Exam.objects.filter(
            record__visit__patient=record.visit.patient_id,
            record__signed_at__isnull=False,
            record__opened_at__lt=record.opened_at,
        )
        .select_related("record")
        .order_by("-record__opened_at")
    )
    newest = signed.first()
    if newest is None:
        return ()
    if newest.kind == Exam.Kind.FULL:
        return (earlier(newest),)
    walked = signed.filter(kind=Exam.Kind.FULL).first()
    return (earlier(newest), earlier(walked)) if walked else (earlier(newest),)


def earlier(exam: Exam) -> Earlier:
    """`exam` comes with its record. One query: what was not simply normal."""
    told = (
        Finding.objects.filter(exam=exam)
        .exclude(status="normal", findings=[], in_part=False)
        .exclude(status="not-examined", reason__in=SPARED)
    )
    return Earlier(
        exam,
        timezone.localdate(exam.record.opened_at),
        walk_of(exam.walk_id),
        lines_of(exam.walk_id, animal_of(exam.animal)),
        tuple(told),
    )


def exams_of(patient: Patient, *, limit: int = 50) -> list[Exam]:
    """Signed exams of a patient, newest first, with record and visit."""
    return list(
        Exam.objects.filter(record__visit__patient=patient, record__signed_at__isnull=False)
        .select_related("record__visit")
        .order_by("-record__opened_at")[:limit]
    )


def exam_with_patient(exam: Exam) -> Exam:
    """The exam anew, with record, visit and patient."""
    return Exam.objects.select_related("record__visit__patient").get(pk=exam.pk)


def names_of(numbers: Iterable[str]) -> dict[str, str]:
    """Staff numbers to names."""
    wanted = {int(n) for n in numbers if n}
    return {str(s.pk): s.full_name for s in Staff.objects.filter(pk__in=wanted).only("full_name")}


def actors_of(session: Mapping[str, Any], grants: Iterable[str], *, now: datetime) -> dict[str, Actor]:
    """Whose the grants are, by grant; one that this tablet does not know, or that is too old, is left out."""
    found = {}
    for grant in dict.fromkeys(grants):
        staff = grant_staff(session, grant, now=now)
        if staff:
            found[grant] = Actor.of(staff, grant_id=UUID(grant))
    return found


@dataclass(frozen=True)
class AddendumRow:
    text: str
    corrects: str
    by: str
    at: datetime


def addenda_of(record: Record) -> tuple[AddendumRow, ...]:
    """What was added after signing, oldest first."""
    rows = record.addenda.select_related("by")
    return tuple(AddendumRow(row.text, row.corrects, row.by.full_name, row.entered_at) for row in rows)
