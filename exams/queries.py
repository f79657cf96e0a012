"""Questions to the exam: where it stands, and what it says. `access_*` load and authorise."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from typing import Any
from uuid import UUID

from django.db import connection
from django.http import Http404
from django.utils import timezone

from clinic.patients.models import Measurement, Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.queries import AtWork, grant_staff
from clinic.people.rights import Right
from clinic.platform.asked import once
from clinic.visits.models import HeadsUp, Record, Visit
from clinic.visits.queries import access_visit_here
from exams.digest import Digest, Judged, digest, judged
from exams.lines import Lines
from exams.loading import FROM, PULSE, Everything, hold_record, hold_visit, read_record
from exams.models import Exam, Finding
from exams.readings import KIND_OF, LINE_OF, numbers_of, readings
from exams.rows import animal_json, animal_of, state_of
from exams.state import MEASURED, ExamState, LineAnswer
from exams.urgency import Facts, facts_of, highest
from exams.versions import composed, lines_of, walk_of
from exams.walk import Walk

KIND_OF_VISIT = {
    "full": "full",
    "focused": "focused",
    "emergency": "emergency",
    "technician": "focused",
    "telephone": "focused",  # with no station chosen: nobody examines by telephone
}


@dataclass(frozen=True)
class Standing:
    """An exam with everything that is needed to say how it stands. `exam` may be one that nobody began.

    `last`: number of its last operation. `names`: of everybody in it, by staff number. `outside`: the part of
    the pulse that the exam itself does not change.
    """

    exam: Exam
    walk: Walk
    lines: Lines
    state: ExamState
    measured: tuple[Measurement, ...]
    heads_ups: tuple[HeadsUp, ...]
    last: int = 0
    names: Mapping[str, str] = field(default_factory=dict)
    outside: str = ""

    @property
    def pulse(self) -> str:
        """See `pulse` below."""
        return f"{self.exam.revision}|{self.outside}"

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
    """Where the exam stands. `keys`: operations whose first answers are wanted. One query."""
    return _standing(exam, read_record(exam.record_id, keys=keys))


def _standing(exam: Exam, read: Everything) -> Standing:
    record = exam.record
    walk, lines = walk_of(exam.walk_id), lines_of(exam.walk_id, animal_of(exam.animal))
    measured = tuple(row for row in read.measured if row.kind in LINE_OF)
    # a signed exam holds its values itself: what is struck out later does not change what was signed
    values = {} if record.is_signed else readings(measured, walk, lines)
    if not record.is_signed:  # the visit says which kind, until the signature keeps it
        exam.kind = KIND_OF_VISIT.get(record.visit.kind, Exam.Kind.FULL)
        exam.kind_reason = record.visit.kind_reason
    answers = read.answers if record.is_signed else _with_values(read.answers, values)
    state = state_of(exam, answers, read.heads_ups, values, read.outcomes, read.undo)
    return Standing(
        exam,
        walk,
        lines,
        state,
        measured,
        read.heads_ups,
        last=read.last,
        names=read.names,
        outside=read.pulse,
    )


def _with_values(
    answers: Mapping[str, LineAnswer], values: Mapping[str, LineAnswer]
) -> dict[str, LineAnswer]:
    """A value that was struck out outside the exam leaves its line not yet."""
    return {k: a for k, a in answers.items() if a.status != MEASURED or k not in KIND_OF or k in values}


@once
def standing_of(record: Record, *, today: date) -> Standing:
    """Where the exam of a record stands, also when nobody has begun it: then as it would begin now.

    `record` comes with its visit. One query.
    """
    read = read_record(record.pk)
    exam = read.exam or unbegun(record, today=today)
    exam.record = record
    return _standing(exam, read)


def standing_for_page(record: Record, *, today: date) -> Standing:
    """`standing_of`, read and reckoned once for a page that changes nothing: its body and its steps ask both.

    It stays with this `record` as loaded, so nothing that writes may ask here.
    """
    kept: Standing | None = record.__dict__.get(_KEPT)
    if kept is None:
        kept = record.__dict__[_KEPT] = standing_of(record, today=today)
    return kept


_KEPT = "exam_standing_for_page"


def standing_held(
    *, record_id: int | None = None, visit_id: int | None = None, keys: Iterable[str], today: date
) -> Standing:
    """Where an exam stands, its record held until the transaction ends: nobody changes it meanwhile.

    One query. Raises Http404 for a visit that there is not, or that has not arrived.
    """
    read = hold_record(record_id, keys=keys) if record_id else hold_visit(visit_id or 0, keys=keys)
    if read is None:
        raise Http404
    return _standing(read.exam or unbegun(read.record, today=today), read)


# One row by primary key and two index look-ups: asked every two seconds by every open exam.
ASK_PULSE = f"SELECT coalesce(e.revision, 0), {PULSE} {FROM} v.id = %s"


def pulse(visit_id: int) -> str:
    """A text that changes whenever something of the exam would look different. One query."""
    with connection.cursor() as cursor:
        cursor.execute(ASK_PULSE, [visit_id])
        row: tuple[int, str] | None = cursor.fetchone()
    return f"{row[0]}|{row[1]}" if row else ""


@dataclass(frozen=True)
class Earlier:
    """An earlier exam of the same patient with its findings as they were kept."""

    exam: Exam
    on: date
    walk: Walk
    lines: Lines
    findings: tuple[Finding, ...]


SPARED = ("not-needed", "not-part")  # nobody meant to look at it that day: it says nothing of the patient


@once
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
    return (earlier(newest), earlier(walked, unless=newest)) if walked else (earlier(newest),)


def earlier(exam: Exam, *, unless: Exam | None = None) -> Earlier:
    """`exam` comes with its record. One query: what was not simply normal.

    unless: a later exam; what that one looked at again is left out.
    """
    told = (
        Finding.objects.filter(exam=exam)
        .exclude(status="normal", findings=[], in_part=False)
        .exclude(status="not-examined", reason__in=SPARED)
    )
    if unless is not None:
        told = told.exclude(
            line__in=Finding.objects.filter(exam=unless).exclude(status="not-examined").values("line")
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


def actors_of(
    session: Mapping[str, Any], grants: Iterable[str], *, at_work: AtWork, now: datetime
) -> dict[str, Actor]:
    """Whose the grants are, by grant; one that this tablet does not know, or that is too old, is left out.

    The grant of whoever works on it was read with the request; any other costs a query.
    """
    found = {}
    known = at_work.actor
    for grant in dict.fromkeys(grants):
        is_known = known is not None and grant == str(known.grant_id)
        staff = known.staff if known and is_known else grant_staff(session, grant, now=now)
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
