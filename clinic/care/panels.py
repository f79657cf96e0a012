"""The open problems of a patient as plain values, for its page."""

from dataclasses import dataclass

from django.utils import timezone

from clinic.care.models import Assessment, Problem
from clinic.patients.models import Patient


@dataclass(frozen=True)
class ProblemRow:
    title: str
    since: str
    last: str


def open_problem_rows(patient: Patient) -> tuple[ProblemRow, ...]:
    """The oldest first, each with its newest assessment. Two queries."""
    problems = list(Problem.objects.filter(patient=patient, closed_at=None))
    newest = {
        each.problem_id: each
        for each in Assessment.objects.filter(problem__in=problems).select_related("by").order_by("at", "pk")
    }
    return tuple(
        ProblemRow(
            each.title,
            f"since {timezone.localtime(each.opened_at):%-d %B %Y}",
            _last(newest.get(each.pk)),
        )
        for each in problems
    )


def _last(assessment: Assessment | None) -> str:
    if assessment is None:
        return "not assessed yet"
    course = f", {assessment.get_course_display()}" if assessment.course else ""
    return f"{assessment.text} ({assessment.get_certainty_display()}{course})"
