"""What the nutrition room plugs into clinic's registries."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db.models import Subquery
from django.urls import reverse

from clinic.letters.texts import SOURCE
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.platform.kept_rows import rows_of
from clinic.platform.registries import (
    CallBackRow,
    Missing,
    RecordsPage,
    StepState,
    call_back_sources,
    exports,
    letter_parts,
    letter_texts,
    patient_panels,
    records_pages,
    sign_checks,
    summary_parts,
    thing_words,
    visit_steps,
)
from clinic.visits.models import Record, Visit
from nutrition.amounts import on_scale
from nutrition.letter import FeedingInLetter, FeedingTexts, until_when
from nutrition.letter_texts import ROOM
from nutrition.models import ExpectedGrownWeight, Plan
from nutrition.summary import FeedingInSummary

NO_ADVICE = frozenset({Visit.Outcome.DIED, Visit.Outcome.EUTHANISED})
ALWAYS = frozenset({Visit.Kind.FULL, Visit.Kind.EMERGENCY})


class FeedingStep:
    name: str = "feeding"
    order: int = 40
    title: str = "Feeding"

    def url(self, visit: Visit) -> str:
        return reverse("visit-feeding", args=[visit.pk])

    def asks(self, visit: Visit) -> Mapping[str, Any]:
        plan = Plan.objects.filter(record=visit.record)
        return {"kind": Subquery(plan.values("kind")[:1]), "energy": Subquery(plan.values("energy_kcal")[:1])}

    def state(self, visit: Visit, told: Mapping[str, Any]) -> StepState:
        kind, energy = told["kind"], told["energy"]
        if kind is None:
            return StepState("new", "not advised")
        return StepState("normal", "as now" if kind == Plan.Kind.KEEP else f"{round(energy or 0)} kcal")


class EveryPatientIsAdvised:
    """Every patient leaves with food advice; after death nobody is asked for it."""

    name: str = "feeding"
    order: int = 50

    def missing(self, record: Record, *, actor: Actor) -> list[Missing]:
        visit = record.visit
        if (
            visit.outcome in NO_ADVICE
            or visit.patient.deceased_on
            or Plan.objects.filter(record=record).exists()
        ):
            return []
        return [
            Missing(
                code="feeding",
                sentence="No food advice yet: a plan, or “keep feeding as now until we call”.",
                url=reverse("visit-feeding", args=[visit.pk]),
                blocks=visit.kind in ALWAYS,
            )
        ]


WEIGH_IN = "Weigh-in"


class WeighInWords:
    """In an owner's language."""

    name: str = "weigh-in"
    order: int = 40

    def say(self, label: str, language: str) -> str:
        return ROOM(language)("feeding.weigh_in") if label == WEIGH_IN and language != SOURCE else ""


class WeighIns:
    """The newest plan's weigh-in, while nobody has weighed since."""

    name: str = "weigh-in"
    order: int = 40

    def rows(self, patient: Patient, *, today: date) -> list[CallBackRow]:
        if patient.deceased_on or patient.left_practice_on or patient.merged_into_id:
            return []
        plan = _newest(patient)
        if plan is None or plan.weigh_in_on is None:
            return []
        since = patient.measurements.filter(
            kind="weight", struck_at=None, measured_at__date__gte=plan.weigh_in_on
        ).exists()
        return [] if since else [CallBackRow("weigh-in", WEIGH_IN, plan.weigh_in_on, nature="agreed")]


class FeedingPanel:
    name: str = "feeding"
    order: int = 40
    title: str = "Feeding"
    template: str = "nutrition/panel.html"
    column: str = "side"

    def context(self, patient: Patient, *, actor: Actor, today: date) -> dict[str, Any]:
        plan, url = _newest(patient), reverse("weigh-ins", args=[patient.pk])
        if plan is None:
            return {"words": "", "url": url}
        foods = ", ".join(f"{on_scale(row['grams'])} {row['food_name']}" for row in plan.content["portions"])
        words = (
            f"{round(plan.energy_kcal or 0)} kcal a day: {foods}" if foods else f"As now {until_when(plan)}"
        )
        weigh = f"Weigh-in {plan.weigh_in_on:%-d %B %Y}" if plan.weigh_in_on else ""
        losing = plan.content["aim"] == "lose"
        who = f"{plan.at:%-d %b %Y}, {plan.by.full_name}"
        return {"words": words, "weigh": weigh, "since": who, "url": url, "losing": losing}


def _newest(patient: Patient) -> Plan | None:
    return Plan.objects.select_related("by").filter(record__visit__patient=patient).order_by("-at").first()


class PlansOut:
    name: str = "feeding-plans"
    order: int = 40

    def rows(self, patient: Patient) -> list[dict[str, Any]]:
        plans = Plan.objects.filter(record__visit__patient=patient).order_by("at")
        expected = rows_of(patient, {ExpectedGrownWeight: "patient"})
        return expected + [
            {
                "at": plan.at.isoformat(),
                "kind": plan.kind,
                "energy_kcal": plan.energy_kcal,
                "target_weight_kg": plan.target_weight_kg,
                "weigh_in_on": plan.weigh_in_on.isoformat() if plan.weigh_in_on else None,
                "content": plan.content,
            }
            for plan in plans
        ]


FOODS_PAGE = RecordsPage(
    name="foods",
    order=10,
    title="Foods",
    words="What the feeding page offers, with the energy on the label.",
    right=Right.MANAGE_CLINIC,
    at="foods",
)


def plug_in() -> None:
    """Called once, when the apps are ready."""
    visit_steps.add(FeedingStep())
    sign_checks.add(EveryPatientIsAdvised())
    letter_parts.add(FeedingInLetter())
    letter_texts.add(FeedingTexts())
    summary_parts.add(FeedingInSummary())
    call_back_sources.add(WeighIns())
    thing_words.add(WeighInWords())
    patient_panels.add(FeedingPanel())
    exports.add(PlansOut())
    records_pages.add(FOODS_PAGE)
