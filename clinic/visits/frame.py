"""The frame of every page of a visit: the banner that says which animal this is, and the steps."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Q
from django.urls import reverse

from clinic.patients.facts import died_words
from clinic.patients.models import Alert, Measurement
from clinic.patients.portrait import Portrait, portrait
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


def visit_frame(visit: Visit, *, current: str, today: date) -> VisitFrame:
    """`visit` comes with patient and record loaded. `current` is the step's name."""
    patient = visit.patient
    alerts = patient.alerts.filter(Q(until=None) | Q(until__gte=today)).exclude(kind=Alert.Kind.HANDLING)
    steps = tuple(
        StepLink(
            title=step.title,
            url=step.url(visit),
            shape=state.shape,
            words=state.words,
            current=step.name == current,
        )
        for step, state in ((step, step.state(visit)) for step in visit_steps)
    )
    return VisitFrame(
        visit_id=visit.pk,
        patient_name=patient.name,
        portrait=portrait(patient),
        patient_url=reverse("patient", args=[patient.pk]),
        facts=_facts(visit, today),
        alerts=tuple(f"{alert.get_kind_display()}: {alert.text}" for alert in alerts),
        steps=steps,
        signed=visit.record.is_signed,
        see_now=visit.see_now_at is not None and visit.see_now_taken_at is None,
        see_now_url=reverse("see-now", args=[visit.pk]),
        may_see_now=visit.see_now_at is None and visit.place in HERE,
        died=died_words(patient),
    )


def _facts(visit: Visit, today: date) -> str:
    patient = visit.patient
    neutered = {"yes": "neutered ", "no": "intact "}.get(patient.neutered, "")
    sex = f"{neutered}{patient.get_sex_display()}"
    newest = (
        patient.measurements.filter(kind=Measurement.Kind.WEIGHT, struck_at=None)
        .order_by("-measured_at")
        .first()
    )
    weight = ""
    if newest and newest.value is not None:
        when = "today" if newest.measured_at.date() == today else newest.measured_at.strftime("%-d %b %Y")
        weight = f"{newest.value.normalize():f} kg {when}"
    parts = [patient.get_species_display(), patient.breed, sex, weight or "not weighed yet"]
    return ", ".join(part for part in parts if part)
