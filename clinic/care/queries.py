"""Questions to what was decided: what is covered, what stands open. `access_*` load and authorise."""

from collections.abc import Iterable
from datetime import date

from django.db.models import Exists, OuterRef, Q
from django.shortcuts import get_object_or_404

from clinic.care.models import (
    Assessment,
    DoseGiven,
    Medicine,
    MedicineStop,
    PlanLine,
    Problem,
    ProblemCondition,
    ResultFile,
    ResultInLetter,
    Test,
    TestResult,
)
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.promises.queries import open_promises
from clinic.visits.models import NextVisit, Record, Visit

OFFER_AGAIN = "offer-again"


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


def emergencies_only_declined(record: Record) -> list[Problem]:
    """Emergencies whose every line of this record was declined, none with a word on when to return."""
    lines = PlanLine.objects.filter(record=record, problem=OuterRef("pk"))
    return list(
        Problem.objects.filter(
            Exists(lines),
            ~Exists(lines.exclude(standing=PlanLine.Standing.DECLINED)),
            ~Exists(lines.exclude(come_back="")),
            ~Exists(Medicine.objects.filter(record=record, problem=OuterRef("pk"))),
            patient=record.visit.patient_id,
            urgency="E",
        )
    )


def to_offer_again(patient: Patient, *, today: date) -> list[tuple[PlanLine, date]]:
    """What was declined and is promised to be offered again by now, each with its day as last agreed."""
    promised = open_promises(by=today, patient=patient)
    days = {int(each.key): each.due_on for each in promised if each.source == OFFER_AGAIN}
    lines = PlanLine.objects.filter(pk__in=days).select_related("problem", "explained_by")
    return sorted(((line, days[line.pk]) for line in lines), key=lambda pair: (pair[1], pair[0].pk))


def declined_here(line_id: int, *, visit: Visit) -> PlanLine | None:
    """A declined line of this visit's patient."""
    lines = PlanLine.objects.filter(pk=line_id, standing=PlanLine.Standing.DECLINED)
    return lines.filter(record__visit__patient=visit.patient_id).first()


def in_use_here(medicine_id: int, *, visit: Visit) -> Medicine | None:
    """A medicine of this visit's patient that nobody stopped."""
    return Medicine.objects.filter(pk=medicine_id, problem__patient=visit.patient_id, stop=None).first()


def conditions_of_problem(problem_id: int | None) -> list[tuple[str, str]]:
    """Code and words of the conditions that a problem set and that still stand."""
    links = ProblemCondition.objects.filter(problem=problem_id, condition__until=None)
    return [
        (link.condition.code, link.condition.get_code_display())
        for link in links.select_related("condition").order_by("pk")
    ]


def tests_with_results(ids: Iterable[int]) -> list[Test]:
    """With their results, who read them, and their plan lines."""
    rows = Test.objects.filter(pk__in=list(ids)).select_related("plan_line__answerable", "plan_line__problem")
    return list(
        rows.prefetch_related("results__read_by", "results__struck_by", "results__test").order_by("pk")
    )


def untold_results(record: Record) -> list[TestResult]:
    """Of a signed record: results that came after the signature, not struck out, in no result letter yet."""
    told = ResultInLetter.objects.filter(result=OuterRef("pk"))
    rows = TestResult.objects.filter(~Exists(told), test__record=record, struck_at=None)
    if record.signed_at:
        rows = rows.filter(Q(read_at=None) | Q(read_at__gt=record.signed_at))
    return list(rows.select_related("test").order_by("test_id", "pk"))


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
    rows = Medicine.objects.select_related("record__visit", "problem")
    return get_object_or_404(rows, pk=medicine_id, record__visit=visit)


def access_medicine_of(
    medicine_id: int, *, patient: Patient, actor: Actor, right: Right = Right.PRESCRIBE
) -> Medicine:
    """One of any visit of this patient."""
    actor.require(right)
    rows = Medicine.objects.select_related("record__visit__patient", "prescriber")
    return get_object_or_404(rows, pk=medicine_id, record__visit__patient=patient)


def access_dose(dose_id: int, *, visit: Visit, actor: Actor) -> DoseGiven:
    """A dose given to the visit's patient."""
    actor.require(Right.STRIKE_OWN)
    rows = DoseGiven.objects.select_related("medicine")
    return get_object_or_404(rows, pk=dose_id, medicine__problem__patient=visit.patient_id)


def stopped_for(medicine: Medicine) -> MedicineStop | None:
    """What was stopped in the same moment in which this one was directed, as when one is changed."""
    stops = MedicineStop.objects.filter(
        at=medicine.at, medicine__problem__patient=medicine.problem.patient_id
    )
    return stops.select_related("medicine").first()


def access_test(test_id: int, *, visit: Visit, actor: Actor, right: Right = Right.OBSERVE) -> Test:
    """A test of the visit's patient, also of an earlier visit."""
    actor.require(right)
    rows = Test.objects.select_related("record__visit", "plan_line")
    return get_object_or_404(rows, pk=test_id, patient=visit.patient_id)


def access_result_of(result_id: int, *, patient: Patient, actor: Actor) -> TestResult:
    """A result of this patient."""
    actor.require(Right.STRIKE_OWN)
    rows = TestResult.objects.select_related("test__record", "entered_by")
    return get_object_or_404(rows, pk=result_id, test__patient=patient)


def access_report(file_id: int, *, patient: Patient, actor: Actor) -> ResultFile:
    """A laboratory's report of this patient, struck out or not."""
    actor.require(Right.SEE)
    rows = ResultFile.objects.select_related("test")
    return get_object_or_404(rows, pk=file_id, test__patient=patient)


def access_problem_of(problem_id: int, *, patient: Patient, actor: Actor) -> Problem:
    """A problem of this patient."""
    actor.require(Right.SEE)
    return get_object_or_404(Problem.objects.select_related("opened_by"), pk=problem_id, patient=patient)


def access_next(next_visit_id: int, *, visit: Visit, actor: Actor) -> NextVisit:
    """A next visit of the visit's patient."""
    actor.require(Right.BOOK)
    return get_object_or_404(
        NextVisit.objects.select_related("record"), pk=next_visit_id, patient=visit.patient_id
    )


def access_person(staff_id: int | None, *, actor: Actor) -> Staff | None:
    """A person who works here; None for none."""
    actor.require(Right.SEE)
    return get_object_or_404(Staff, pk=staff_id, is_active=True) if staff_id else None
