"""The programme that a patient is on, from its plans and its weights."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import takewhile

from django.utils import timezone

from clinic.patients.models import Measurement, Patient
from clinic.patients.weighing import weighing, weighings
from nutrition.factors import Species, species_of
from nutrition.models import Plan
from nutrition.programme import Programme

Weighed = tuple[tuple[date, float], ...]


@dataclass(frozen=True, slots=True)
class PlanFacts:
    """Of one plan, as much as tells whether a programme runs. kg, kcal a day."""

    record_id: int
    kind: str
    aim: str
    at: datetime
    weight_kg: float | None
    energy_kcal: float | None
    target_kg: float | None


def plans_of(patient: Patient) -> tuple[PlanFacts, ...]:
    """All food advice of a patient, the newest first. One query."""
    facts = (
        *("record_id", "kind", "content__aim", "at"),
        *("content__weight_kg", "energy_kcal", "target_weight_kg"),
    )
    rows = Plan.objects.filter(record__visit__patient=patient).order_by("-at").values_list(*facts)
    return tuple(PlanFacts(*row) for row in rows)


def day_after(day: date) -> datetime:
    """The moment at which a day of the clinic is over."""
    return timezone.make_aware(datetime.combine(day + timedelta(days=1), time.min))


def weights_until(patient: Patient, day: date) -> Weighed:
    """(day, kg) by the clinic's scales, the earliest first, that day's own among them. One query."""
    return tuple(
        (each.on, round(float(each.kg), 3))
        for each in weighings(patient, before=day_after(day))
        if each.calibrated
    )


def weights_among(rows: Iterable[Measurement], day: date) -> Weighed:
    """The same of weights that were read already, the earliest first."""
    end = day_after(day)
    found = (weighing(row) for row in rows if row.value is not None and row.measured_at < end)
    return tuple((each.on, round(float(each.kg), 3)) for each in found if each.calibrated)


def programme_of(patient: Patient, weighed: Weighed, *, until: datetime | None = None) -> Programme | None:
    """The programme by all plans made so far; `until`: plans of later are not known yet. One query."""
    return programme_among(plans_of(patient), species_of(patient.species), weighed, until=until)


def programme_among(
    plans: Iterable[PlanFacts],
    species: Species,
    weighed: Weighed,
    *,
    until: datetime | None = None,
    beside: int | None = None,
) -> Programme | None:
    """The run of plans for losing weight that the newest plan belongs to; None where it is another plan.

    "Keep feeding as now" ends no programme. `plans` come newest first; `beside`: that record's own is left
    out.
    """
    fed = (plan for plan in plans if plan.kind == Plan.Kind.FED and plan.record_id != beside)
    known = (plan for plan in fed if until is None or plan.at <= until)
    run = list(takewhile(lambda plan: plan.aim == "lose", known))
    if not run:
        return None
    newest, first = run[0], run[-1]
    target_kg, energy_kcal, start_kg = newest.target_kg, newest.energy_kcal, first.weight_kg
    if target_kg is None or energy_kcal is None or start_kg is None or target_kg >= start_kg:
        return None
    start_on = timezone.localdate(first.at)
    since = tuple((on, kg) for on, kg in weighed if on > start_on)
    return Programme(
        species=species,
        start_on=start_on,
        start_kg=start_kg,
        target_kg=target_kg,
        energy_kcal=energy_kcal,
        weighed=((start_on, start_kg), *since),
    )
