"""The programme that a patient is on, from its plans and its weights."""

from datetime import date, datetime, time, timedelta
from itertools import takewhile

from django.utils import timezone

from clinic.patients.models import Patient
from clinic.patients.weighing import weighings
from clinic.visits.models import Record
from nutrition.factors import species_of
from nutrition.models import Plan
from nutrition.programme import Programme

Weighed = tuple[tuple[date, float], ...]


def weights_until(patient: Patient, day: date) -> Weighed:
    """(day, kg) by the clinic's scales, the earliest first, that day's own among them. One query."""
    end = timezone.make_aware(datetime.combine(day + timedelta(days=1), time.min))
    return tuple(
        (each.on, round(float(each.kg), 3)) for each in weighings(patient, before=end) if each.calibrated
    )


def programme_of(
    patient: Patient, weighed: Weighed, *, until: datetime | None = None, beside: Record | None = None
) -> Programme | None:
    """The run of plans for losing weight that the newest plan belongs to; None where it is another plan.

    "Keep feeding as now" ends no programme. `until`: plans of later are not known yet; `beside`:
    nor is the one of this record. One query.
    """
    plans = Plan.objects.filter(record__visit__patient=patient, kind=Plan.Kind.FED).order_by("-at")
    if until is not None:
        plans = plans.filter(at__lte=until)
    if beside is not None:
        plans = plans.exclude(record=beside)
    facts = ("content__aim", "at", "content__weight_kg", "energy_kcal", "target_weight_kg")
    run = list(takewhile(lambda row: row[0] == "lose", plans.values_list(*facts)))
    if not run:
        return None
    _, _, _, energy_kcal, target_kg = run[0]
    _, began, start_kg, _, _ = run[-1]
    start_on = timezone.localdate(began)
    if target_kg >= start_kg:
        return None
    since = tuple((on, kg) for on, kg in weighed if on > start_on)
    return Programme(
        species=species_of(patient.species),
        start_on=start_on,
        start_kg=start_kg,
        target_kg=target_kg,
        energy_kcal=energy_kcal,
        weighed=((start_on, start_kg), *since),
    )
