"""What care plugs into the registries: its step, its checks before signing, its panel, its own matters."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.urls import reverse

from clinic.care.in_use import medicines_of
from clinic.care.models import Assessment, Problem
from clinic.care.pages import again_rows
from clinic.care.panels import open_problem_rows
from clinic.care.queries import emergencies_only_declined, medicines_not_assessed, problems_without_plan
from clinic.care.results_page import results_page
from clinic.care.sources import HeadsUpMatters, HistoryMatters, ResultMatters, problem_sources
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.counting import how_many
from clinic.platform.measures import units_of
from clinic.platform.registries import (
    Missing,
    RecordsPage,
    StepState,
    intake_panels,
    patient_panels,
    records_pages,
    sign_checks,
    visit_steps,
)
from clinic.visits.models import Record, Visit

NEWEST = 2


class PlanStep:
    name, order, title = "plan", 30, "Plan"

    def url(self, visit: Visit) -> str:
        return reverse("visit-plan", args=[visit.pk])

    def asks(self, visit: Visit) -> Mapping[str, Any]:
        ours = Problem.objects.filter(patient=visit.patient_id)
        assessed = Assessment.objects.filter(record=visit.record).values("problem")
        return {
            "open": how_many(ours.filter(closed_at=None)),
            "today": how_many(ours.filter(pk__in=assessed)),
        }

    def state(self, visit: Visit, told: Mapping[str, Any]) -> StepState:
        """Open problems, and how many of them were assessed today."""
        many, today = told["open"], told["today"]
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


class EmergencyDeclined:
    """An emergency for which the owner declined all that was advised leaves with a word on when to return.

    When a treatment is declined, what was agreed instead and when to return are recorded; that an emergency
    does not leave without the latter is common practice.
    """

    name, order = "emergency-declined", 42

    def missing(self, record: Record, *, actor: Actor) -> list[Missing]:
        url = reverse("visit-plan", args=[record.visit_id])
        return [
            Missing(
                f"{self.name}:{each.pk}",
                f"“{each.title}” needs care now and everything was declined: say when to come back.",
                f"{url}?do=line&problem={each.pk}#do",
            )
            for each in emergencies_only_declined(record)
        ]


class OfferedAgainToday:
    """At intake: what was declined and the clinician offers again today."""

    name, order, title = "offered-again", 40, "Declined earlier, offered again today"
    template = "clinic/care/intake_again.html"

    def context(self, visit: Visit, *, actor: Actor, today: date) -> dict[str, Any]:
        rows = again_rows(visit.patient, today=today)
        return {"rows": rows} if rows else {}


class OpenProblems:
    """On the patient's page."""

    name, order = "open-problems", 20
    template, column = "clinic/care/panel_problems.html", "side"

    def context(self, patient: Patient, *, actor: Actor, today: date) -> dict[str, Any]:
        return {"problems": open_problem_rows(patient), "problems_of": patient.pk}


class MedicinesInUse:
    """On the patient's page."""

    name, order = "medicines-in-use", 22
    template, column = "clinic/care/panel_in_use.html", "side"

    def context(self, patient: Patient, *, actor: Actor, today: date) -> dict[str, Any]:
        told = medicines_of(patient, today=today, unit=units_of(actor).weight)
        return {"medicines": told, "medicines_of": patient.pk}


class TestsAndResults:
    """On the patient's page: what is awaited, and what came last."""

    name, order = "tests-and-results", 24
    template, column = "clinic/care/panel_results.html", "side"

    def context(self, patient: Patient, *, actor: Actor, today: date) -> dict[str, Any]:
        page = results_page(patient)
        return {"awaited": page.awaited, "newest": page.tests[:NEWEST], "results_of": patient.pk}


MEDICINES_PAGE = RecordsPage(
    name="medicines",
    order=8,
    title="Medicines",
    words="What the plan page offers by name: ingredients and their kinds, strength, route. No dose.",
    right=Right.SEE,
    at="medicine-list",
)


def register() -> None:
    """Called once, when the app is ready."""
    visit_steps.add(PlanStep())
    sign_checks.add(MedicineAssessed())
    sign_checks.add(ProblemPlanned())
    sign_checks.add(EmergencyDeclined())
    intake_panels.add(OfferedAgainToday())
    patient_panels.add(OpenProblems())
    patient_panels.add(MedicinesInUse())
    patient_panels.add(TestsAndResults())
    for source in (HeadsUpMatters(), HistoryMatters(), ResultMatters()):
        problem_sources.add(source)
    records_pages.add(MEDICINES_PAGE)
