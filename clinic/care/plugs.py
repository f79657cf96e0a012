"""What care plugs into the registries: its step, its checks before signing, its panel, its own matters."""

from datetime import date
from typing import Any

from django.db.models import Count, Q
from django.urls import reverse

from clinic.care.models import Assessment, Problem
from clinic.care.panels import open_problem_rows
from clinic.care.queries import medicines_not_assessed, problems_without_plan
from clinic.care.sources import HeadsUpMatters, HistoryMatters, ResultMatters, problem_sources
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.platform.registries import Missing, StepState, patient_panels, sign_checks, visit_steps
from clinic.visits.models import Record, Visit


class PlanStep:
    name, order, title = "plan", 30, "Plan"

    def url(self, visit: Visit) -> str:
        return reverse("visit-plan", args=[visit.pk])

    def state(self, visit: Visit) -> StepState:
        """Open problems, and how many of them were assessed today."""
        counted = Problem.objects.filter(patient=visit.patient_id).aggregate(
            open=Count("pk", filter=Q(closed_at=None), distinct=True),
            today=Count(
                "pk",
                filter=Q(pk__in=Assessment.objects.filter(record__visit=visit).values("problem")),
                distinct=True,
            ),
        )
        many, today = counted["open"], counted["today"]
        if not many and not today:
            return StepState("new", "no problem")
        if today >= many:
            return StepState("normal", f"{today} assessed")
        return StepState("begun" if today else "new", f"{today} of {many} assessed" if today else _open(many))


def _open(many: int) -> str:
    return f"{many} problem{'' if many == 1 else 's'}"


class MedicineAssessed:
    """No medicine for a problem that nobody has assessed."""

    name, order = "medicine-assessed", 40

    def missing(self, record: Record, *, actor: Actor) -> list[Missing]:
        url = reverse("visit-plan", args=[record.visit_id])
        return [
            Missing(
                f"{self.name}:{each.pk}",
                f"{each.name} is directed for “{each.problem.title}”, which has no assessment.",
                f"{url}?do=assess&problem={each.problem_id}#do",
            )
            for each in medicines_not_assessed(record)
        ]


class ProblemPlanned:
    """A problem opened today asks what is done about it; it does not refuse the signature."""

    name, order = "problem-planned", 41

    def missing(self, record: Record, *, actor: Actor) -> list[Missing]:
        url = reverse("visit-plan", args=[record.visit_id])
        return [
            Missing(
                f"{self.name}:{each.pk}",
                f"Nothing is planned for “{each.title}”, opened today.",
                f"{url}?do=line&problem={each.pk}#do",
                blocks=False,
            )
            for each in problems_without_plan(record)
        ]


class OpenProblems:
    """On the patient's page."""

    name, order = "open-problems", 20
    template, column = "clinic/care/panel_problems.html", "side"

    def context(self, patient: Patient, *, actor: Actor, today: date) -> dict[str, Any]:
        return {"problems": open_problem_rows(patient)}


def register() -> None:
    """Called once, when the app is ready."""
    visit_steps.add(PlanStep())
    sign_checks.add(MedicineAssessed())
    sign_checks.add(ProblemPlanned())
    patient_panels.add(OpenProblems())
    for source in (HeadsUpMatters(), HistoryMatters(), ResultMatters()):
        problem_sources.add(source)
