"""The open problems of a patient as plain values, for its page."""

from dataclasses import dataclass

from django.utils import timezone

from clinic.care.models import Assessment, Problem
from clinic.care.queries import open_problems
from clinic.patients.models import Patient


@dataclass(frozen=True)
class ProblemRow:
    id: int
    title: str
    since: str
    last: str


def open_problem_rows(patient: Patient) -> tuple[ProblemRow, ...]:
    """The oldest first, each with its newest assessment. Two queries."""
    return _rows(open_problems(patient))


def problems_by_station(patient: Patient) -> dict[str, tuple[ProblemRow, ...]]:
    """Each open problem at every station whose lines it speaks of. Two queries."""
    problems = open_problems(patient)
    dealt: dict[str, list[ProblemRow]] = {}
    for problem, row in zip(problems, _rows(problems), strict=True):
        stations = {line.split(".")[0] for line in problem.lines if "." in line} | {problem.station}
        for code in sorted(stations - {""}):
            dealt.setdefault(code, []).append(row)
    return {code: tuple(found) for code, found in dealt.items()}


def _rows(problems: list[Problem]) -> tuple[ProblemRow, ...]:
    newest = {
        each.problem_id: each
        for each in Assessment.objects.filter(problem__in=problems)
        .select_related("by")
        .order_by("record__opened_at", "-rank", "pk")
    }
    return tuple(
        ProblemRow(
            each.pk,
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
