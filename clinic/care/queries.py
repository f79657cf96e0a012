"""Questions to what was decided: what is covered, what stands open. `access_*` load and authorise."""

from django.db.models import Exists, OuterRef, Q
from django.shortcuts import get_object_or_404

from clinic.care.models import Assessment, Medicine, PlanLine, Problem, Test, TestResult
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.visits.models import NextVisit, Record, Visit


def lines_covered(record: Record) -> set[str]:
    """Line keys whose problem has a plan line, a medicine or a test in this record."""
    problems = Problem.objects.filter(
        Q(Exists(PlanLine.objects.filter(record=record, problem=OuterRef("pk"))))
        | Q(Exists(Medicine.objects.filter(record=record, problem=OuterRef("pk"))))
        | Q(Exists(Test.objects.filter(record=record, plan_line__problem=OuterRef("pk")))),
        patient=record.visit.patient_id,
    )
    return {line for lines in problems.values_list("lines", flat=True) for line in lines}


def open_problems(patient: Patient) -> list[Problem]:
    """The oldest first."""
    return list(Problem.objects.filter(patient=patient, closed_at=None))


def medicines_not_assessed(record: Record) -> list[Medicine]:
    """Medicines of this record whose problem nobody has assessed, today or earlier."""
    said = Assessment.objects.filter(problem=OuterRef("problem"))
    return list(Medicine.objects.filter(~Exists(said), record=record).select_related("problem"))


def problems_without_plan(record: Record) -> list[Problem]:
    """Problems opened at this visit for which nothing was planned in this record."""
    return list(
        Problem.objects.filter(
            ~Exists(PlanLine.objects.filter(record=record, problem=OuterRef("pk"))),
            ~Exists(Medicine.objects.filter(record=record, problem=OuterRef("pk"))),
            opened_in=record.visit_id,
            closed_at=None,
        )
    )


def staff_at_work() -> list[Staff]:
    """Who can answer for something, by name."""
    return list(Staff.objects.filter(is_active=True).order_by("full_name", "pk"))


# --- Loading with authorisation ---------------------------------------------------------------------------


def access_problem(problem_id: int, *, visit: Visit, actor: Actor, right: Right = Right.SEE) -> Problem:
    """A problem of the visit's patient."""
    actor.require(right)
    return get_object_or_404(
        Problem.objects.select_related("patient"), pk=problem_id, patient=visit.patient_id
    )


def access_assessment(assessment_id: int, *, visit: Visit, actor: Actor) -> Assessment:
    """One of this visit's record."""
    actor.require(Right.ASSESS)
    rows = Assessment.objects.select_related("record__visit")
    return get_object_or_404(rows, pk=assessment_id, record__visit=visit)


def access_line(line_id: int, *, visit: Visit, actor: Actor, right: Right = Right.SEE) -> PlanLine:
    """A plan line of the visit's patient, also of an earlier visit."""
    actor.require(right)
    rows = PlanLine.objects.select_related("record__visit", "problem")
    return get_object_or_404(rows, pk=line_id, record__visit__patient=visit.patient_id)


def access_medicine(medicine_id: int, *, visit: Visit, actor: Actor) -> Medicine:
    """One of this visit's record."""
    actor.require(Right.PRESCRIBE)
    rows = Medicine.objects.select_related("record__visit")
    return get_object_or_404(rows, pk=medicine_id, record__visit=visit)


def access_test(test_id: int, *, visit: Visit, actor: Actor, right: Right = Right.OBSERVE) -> Test:
    """A test of the visit's patient, also of an earlier visit."""
    actor.require(right)
    rows = Test.objects.select_related("record__visit", "plan_line")
    return get_object_or_404(rows, pk=test_id, patient=visit.patient_id)


def access_result(result_id: int, *, visit: Visit, actor: Actor) -> TestResult:
    """A result of the visit's patient."""
    actor.require(Right.ASSESS)
    return get_object_or_404(
        TestResult.objects.select_related("test"), pk=result_id, test__patient=visit.patient_id
    )


def access_next(next_visit_id: int, *, visit: Visit, actor: Actor) -> NextVisit:
    """A next visit of the visit's patient."""
    actor.require(Right.BOOK)
    return get_object_or_404(NextVisit, pk=next_visit_id, patient=visit.patient_id)


def access_person(staff_id: int | None, *, actor: Actor) -> Staff | None:
    """A person who works here; None for none."""
    actor.require(Right.SEE)
    return get_object_or_404(Staff, pk=staff_id, is_active=True) if staff_id else None
