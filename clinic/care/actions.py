"""What is done about a finding: each step a recorded fact, credited, and frozen with the record."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django.db import transaction

from clinic.care.directions import Directions, compose_directions
from clinic.care.models import Assessment, Medicine, PlanLine, PlanProgress, Problem, Test, TestResult
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.visits.models import Record, Visit


class ProblemClosed(Exception):
    """A closed problem takes no new assessment or plan line; open it again first."""


class AlreadyOpen(Exception):
    """The same lines have an open problem already; `problem` is the one."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        super().__init__(problem.title)


class WrongPatient(Exception):
    """The problem belongs to another patient than the record."""


class DeclineIncomplete(Exception):
    """A decline says what was advised, why it was declined, and who explained the risks."""


class DateWithoutPerson(Exception):
    """Whatever has a date has a person who answers for it."""


class OwnerSentenceMissing(Exception):
    """A result is read with a sentence for the owner."""


@transaction.atomic
def open_problem(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    visit: Visit | None,
    title: str,
    station: str = "",
    lines: Sequence[str] = (),
    urgency: str = "",
) -> Problem:
    """A clinician makes a finding into a problem. `lines` are the walk's line keys it speaks of.

    Raises AlreadyOpen when an open problem of the patient speaks of one of the lines.
    """
    actor.require(Right.ASSESS)
    Patient.objects.select_for_update().get(pk=patient.pk)
    if lines:
        same = Problem.objects.filter(patient=patient, closed_at=None, lines__overlap=list(lines)).first()
        if same:
            raise AlreadyOpen(same)
    return Problem.objects.create(
        patient=patient,
        title=" ".join(title.split()),
        station=station,
        lines=list(lines),
        urgency=urgency,
        opened_in=visit,
        opened_at=now,
        opened_by=actor.staff,
    )


@transaction.atomic
def add_lines(*, actor: Actor, now: datetime, problem: Problem, lines: Sequence[str]) -> Problem:
    """The problem speaks of more findings than it was opened from."""
    actor.require(Right.ASSESS)
    locked = Problem.objects.select_for_update().get(pk=problem.pk)
    locked.lines = sorted({*locked.lines, *lines})
    locked.save(update_fields=["lines"])
    return locked


@transaction.atomic
def close_problem(*, actor: Actor, now: datetime, problem: Problem, reason: str) -> None:
    """Closed once, with a reason; a problem that is closed already stays as it is."""
    actor.require(Right.ASSESS)
    Problem.objects.filter(pk=problem.pk, closed_at=None).update(
        closed_at=now, closed_by=actor.staff, closed_reason=reason.strip()
    )


@transaction.atomic
def reopen_problem(*, actor: Actor, now: datetime, problem: Problem) -> None:
    """Open again; the history keeps why it was closed."""
    actor.require(Right.ASSESS)
    Problem.objects.filter(pk=problem.pk).exclude(closed_at=None).update(
        closed_at=None, closed_by=None, closed_reason=""
    )


def _fits(problem: Problem | None, record: Record) -> None:
    if problem is None:
        return
    if problem.patient_id != record.visit.patient_id:
        raise WrongPatient
    if problem.closed_at:
        raise ProblemClosed(problem.title)


@transaction.atomic
def assess(
    *,
    actor: Actor,
    now: datetime,
    problem: Problem,
    record: Record,
    text: str,
    certainty: str = "differential",
    course: str = "",
    rank: int = 0,
    for_owner: str = "",
) -> Assessment:
    """What the clinician thinks it is. Raises WrongPatient, ProblemClosed; refused once signed."""
    actor.require(Right.ASSESS)
    _fits(problem, record)
    return Assessment.objects.create(
        problem=problem,
        record=record,
        text=text.strip(),
        certainty=certainty,
        course=course,
        rank=rank,
        for_owner=for_owner.strip(),
        by=actor.staff,
        at=now,
    )


@transaction.atomic
def withdraw_assessment(*, actor: Actor, now: datetime, assessment: Assessment) -> None:
    """Take back one that is not signed yet."""
    actor.require(Right.ASSESS)
    assessment.delete()


@transaction.atomic
def add_plan_line(
    *,
    actor: Actor,
    now: datetime,
    record: Record,
    problem: Problem | None,
    kind: str,
    text: str,
    for_owner: str = "",
    standing: str = "advised",
    answerable: Staff | None = None,
    due_on: date | None = None,
    consent_by: str = "",
    declined_why: str = "",
    risks_explained: str = "",
    explained_by: Staff | None = None,
    offer_again_on: date | None = None,
) -> PlanLine:
    """One thing to be done. Raises DeclineIncomplete, DateWithoutPerson, WrongPatient, ProblemClosed."""
    actor.require(Right.PLAN)
    _fits(problem, record)
    if standing == PlanLine.Standing.DECLINED and not (declined_why.strip() and explained_by):
        raise DeclineIncomplete
    if due_on and not answerable:
        raise DateWithoutPerson
    return PlanLine.objects.create(
        record=record,
        problem=problem,
        kind=kind,
        text=text.strip(),
        for_owner=for_owner.strip(),
        standing=standing,
        answerable=answerable,
        due_on=due_on,
        consent_by=consent_by.strip(),
        declined_why=declined_why.strip(),
        risks_explained=risks_explained.strip(),
        explained_by=explained_by,
        offer_again_on=offer_again_on,
        by=actor.staff,
        at=now,
    )


@transaction.atomic
def withdraw_plan_line(*, actor: Actor, now: datetime, line: PlanLine) -> None:
    """Take back one that is not signed yet."""
    actor.require(Right.PLAN)
    line.delete()


@transaction.atomic
def progress(
    *,
    actor: Actor,
    now: datetime,
    line: PlanLine,
    standing: str,
    note: str = "",
    answerable: Staff | None = None,
    due_on: date | None = None,
) -> PlanProgress:
    """What became of a plan line; the line itself stays as it was signed."""
    actor.require(Right.MOVE_VISIT)
    return PlanProgress.objects.create(
        line=line,
        standing=standing,
        note=note.strip(),
        answerable=answerable,
        due_on=due_on,
        by=actor.staff,
        at=now,
    )


@transaction.atomic
def prescribe(
    *,
    actor: Actor,
    now: datetime,
    record: Record,
    problem: Problem,
    how: str,
    directions: Directions,
    reason: str,
    refills: int = 0,
    own_words: str = "",
    answers: list[dict[str, Any]] | None = None,
) -> Medicine:
    """A medicine as the clinician directs it. `own_words` replace the composed directions.

    Raises WrongPatient, ProblemClosed.
    """
    actor.require(Right.PRESCRIBE)
    _fits(problem, record)
    return Medicine.objects.create(
        record=record,
        problem=problem,
        how=how,
        name=directions.name,
        ingredients=list(directions.ingredients),
        strength=directions.strength,
        dose=directions.dose,
        route=directions.route,
        side=directions.side,
        times=directions.times,
        first_dose=directions.first_dose,
        last_dose=directions.last_dose,
        quantity=directions.quantity,
        refills=refills,
        reason=reason.strip(),
        directions=own_words.strip() or compose_directions(directions),
        answers=answers or [],
        prescriber=actor.staff,
        at=now,
    )


@transaction.atomic
def withdraw_medicine(*, actor: Actor, now: datetime, medicine: Medicine) -> None:
    """Take back one that is not signed yet."""
    actor.require(Right.PRESCRIBE)
    medicine.delete()


@transaction.atomic
def order_test(
    *,
    actor: Actor,
    now: datetime,
    record: Record,
    kind: str,
    title: str,
    plan_line: PlanLine | None = None,
    taken_at: datetime | None = None,
    in_house: bool = False,
) -> Test:
    """A test at this visit; its results follow, also after signing."""
    actor.require(Right.PLAN)
    return Test.objects.create(
        patient=record.visit.patient,
        record=record,
        plan_line=plan_line,
        kind=kind,
        title=title,
        ordered_by=actor.staff,
        ordered_at=now,
        taken_at=taken_at,
        in_house=in_house,
    )


@transaction.atomic
def enter_result(
    *,
    actor: Actor,
    now: datetime,
    test: Test,
    value: str,
    meaning: str,
    analyte: str = "",
    unit: str = "",
    interval: str = "",
    for_owner: str = "",
    resulted_at: datetime | None = None,
) -> TestResult:
    """One result as reported. Read at once where a clinician enters it with a sentence for the owner."""
    actor.require(Right.OBSERVE)
    reads = actor.may(Right.ASSESS) and bool(for_owner.strip())
    return TestResult.objects.create(
        test=test,
        analyte=analyte,
        value=value,
        unit=unit,
        interval=interval,
        meaning=meaning,
        for_owner=for_owner.strip(),
        resulted_at=resulted_at or now,
        entered_by=actor.staff,
        read_by=actor.staff if reads else None,
        read_at=now if reads else None,
    )


@transaction.atomic
def read_result(*, actor: Actor, now: datetime, result: TestResult, for_owner: str) -> None:
    """A clinician has read it and says what it means for the owner. Raises OwnerSentenceMissing."""
    actor.require(Right.ASSESS)
    if not for_owner.strip():
        raise OwnerSentenceMissing
    TestResult.objects.filter(pk=result.pk, read_at=None, struck_at=None).update(
        read_by=actor.staff, read_at=now, for_owner=for_owner.strip()
    )
