"""Questions to the exam: where it stands, and what it says. `access_*` load and authorise."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from clinic.patients.models import Measurement
from clinic.people.actor import Actor
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
