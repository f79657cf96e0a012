"""The frame of every page of a visit: the banner that says which animal this is, and the steps."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import Q, Subquery
from django.db.models.functions import JSONArray
from django.urls import reverse
from django.utils import timezone

from clinic.patients.facts import died_words
from clinic.patients.models import Alert, Measurement
from clinic.patients.portrait import Portrait, portrait
from clinic.patients.units import weight_in
from clinic.people.actor import Actor
from clinic.platform.models import ClinicDetails
from clinic.platform.registries import visit_steps
from clinic.visits.actions.arrivals import HERE
from clinic.visits.models import Visit


@dataclass(frozen=True)
class StepLink:
    title: str
    url: str
    shape: str
    words: str
    current: bool


@dataclass(frozen=True)
class VisitFrame:
    """Plain values for `clinic/visit.html`."""

    visit_id: int
    patient_name: str
    portrait: Portrait
    patient_url: str
    facts: str
    alerts: tuple[str, ...]
    steps: tuple[StepLink, ...]
    signed: bool
    see_now: bool
    see_now_url: str
    may_see_now: bool
    died: str


def visit_frame(visit: Visit, *, current: str, today: date, actor: Actor) -> VisitFrame:
    """`visit` comes with patient and record loaded. `current` is the step's name.

    One query for the banner and all steps, and what a step reads itself beside it.
    """
    patient, told = visit.patient, _told(visit, today)
    steps = tuple(
        StepLink(
            title=step.title,
            url=step.url(visit),
            shape=state.shape,
            words=state.words,
            current=step.name == current,
        )
        for step, state in ((step, step.state(visit, told.of_step(step.name))) for step in visit_steps)
    )
    return VisitFrame(
        visit_id=visit.pk,
        patient_name=patient.name,
        portrait=portrait(patient),
        patient_url=reverse("patient", args=[patient.pk]),
        facts=_facts(visit, told, actor, today),
        alerts=tuple(f"{Alert.Kind(kind).label}: {text}" for kind, text in told.row["alerts"]),
        steps=steps,
        signed=visit.record.is_signed,
        see_now=visit.see_now_at is not None and visit.see_now_taken_at is None,
        see_now_url=reverse("see-now", args=[visit.pk]),
        may_see_now=visit.see_now_at is None and visit.place in HERE,
        died=died_words(patient),
    )


@dataclass(frozen=True)
class _Told:
    """The answers of the one query, a step's own behind its name."""

    row: Mapping[str, Any]

    def of_step(self, name: str) -> dict[str, Any]:
        start = f"{name}_"
        return {key.removeprefix(start): value for key, value in self.row.items() if key.startswith(start)}


def _told(visit: Visit, today: date) -> _Told:
    weights = Measurement.objects.filter(
        patient=visit.patient_id, kind=Measurement.Kind.WEIGHT, struck_at=None
    ).order_by("-measured_at", "-pk")
    alerts = (
        Alert.objects.filter(Q(until=None) | Q(until__gte=today), patient=visit.patient_id)
        .exclude(kind=Alert.Kind.HANDLING)
        .values(said=JSONArray("kind", "text"))
    )
    asked = {f"{step.name}_{key}": each for step in visit_steps for key, each in step.asks(visit).items()}
    row = (
        Visit.objects.filter(pk=visit.pk)
        .values(
            **asked,
            weight=Subquery(weights.values("value")[:1]),
            weighed_at=Subquery(weights.values("measured_at")[:1]),
            alerts=ArraySubquery(alerts),
            weight_unit=Subquery(ClinicDetails.objects.filter(pk=1).values("weight_unit")),
        )
        .get()
    )
    return _Told(row)


def banner_facts(visit: Visit, *, actor: Actor, today: date) -> str:
    """The banner's line alone, for a page whose weight has just changed. One query."""
    return _facts(visit, _told(visit, today), actor, today)


def _facts(visit: Visit, told: _Told, actor: Actor, today: date) -> str:
    patient = visit.patient
    neutered = {"yes": "neutered ", "no": "intact "}.get(patient.neutered, "")
    sex = f"{neutered}{patient.get_sex_display()}"
    kg, at = told.row["weight"], told.row["weighed_at"]
    weight = "not weighed yet"
    if kg is not None:
        on = timezone.localdate(at)
        unit = actor.staff.weight_unit or told.row["weight_unit"] or "kg"
        weight = f"{weight_in(kg, unit)} {'today' if on == today else f'{on:%-d %b %Y}'}"
    parts = [patient.get_species_display(), patient.breed, sex, weight]
    return ", ".join(part for part in parts if part)
