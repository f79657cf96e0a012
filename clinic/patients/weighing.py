"""A weight beside the earlier ones of the same animal: what the change says, what is to be asked first."""

from dataclasses import replace
from datetime import datetime
from decimal import Decimal

from django.utils import timezone

from clinic.patients.case import Case
from clinic.patients.judgement import Context, Flag, Judgement, Question
from clinic.patients.limit_table import Sign
from clinic.patients.models import ConditionCode, Measurement, Patient
from clinic.patients.units import rounded
from clinic.patients.weight import Weighing, WeightAlerts, WeightFacts, last_comparable, weight_alerts
from clinic.visits.models import Visit

GAIN = "VIT-20"
OBESE_FROM = Decimal(8)  # of 9 (WSAVA Global Nutrition Committee, body condition score)


def weighings(patient: Patient, *, before: datetime, beside: Visit | None = None) -> list[Weighing]:
    """Every weight not struck out, oldest first; those of `beside`, today's own, are left out. One query."""
    rows = Measurement.objects.filter(
        patient=patient,
        kind=Measurement.Kind.WEIGHT,
        struck_at=None,
        value__isnull=False,
        measured_at__lt=before,
    )
    if beside is not None:
        rows = rows.exclude(visit=beside)
    return [weighing(row) for row in rows.order_by("measured_at", "pk")]


def weighing(row: Measurement) -> Weighing:
    """A guess and the scale at home are not compared with."""
    calibrated = row.setting == "clinic" and row.details.get("scale") != "guess"
    return Weighing(timezone.localdate(row.measured_at), row.value or Decimal(0), calibrated)


def with_change(
    judgement: Judgement, case: Case, *, visit: Visit | None, context: Context, planned: bool | None
) -> Judgement:
    """The judgement of a weight together with its change since the last calibrated weighing. One query."""
    old = last_comparable(weighings(case.patient, before=case.now, beside=visit), case.today)
    kg = judgement.canonical or Decimal(0)
    facts = _facts(case, context, planned)
    alerts = weight_alerts(old, Weighing(case.today, kg), facts)
    suggestions = tuple(each for each in alerts.suggestions if each.code)
    spoken = tuple(each.because for each in alerts.suggestions if not each.code)
    return replace(
        judgement,
        suggestions=(*judgement.suggestions, *suggestions),
        notes=(*judgement.notes, *alerts.notes, *spoken),
        questions=(*judgement.questions, *_planned(alerts)),
        flag=_flag(alerts) or judgement.flag,
    )


def _facts(case: Case, context: Context, planned: bool | None) -> WeightFacts:
    codes = case.conditions
    signs = set(context.signs)
    if context.mcs in ("mild", "moderate", "severe"):
        signs.add(Sign.MUSCLE_LOSS)
    if ConditionCode.NOT_EATING in codes:
        signs.add(Sign.NOT_EATING)
    return WeightFacts(
        species=context.species,
        age_days=context.age_days,
        planned=planned,
        pregnant=ConditionCode.PREGNANT in codes,
        obese=context.bcs is not None and context.bcs >= OBESE_FROM,
        signs=frozenset(signs),
    )


def _planned(alerts: WeightAlerts) -> list[Question]:
    if not alerts.ask_planned or alerts.change is None:
        return []
    lost = rounded(-alerts.change.percent, 1)
    return [Question("planned", f"{lost} % less than at the last weighing. Was this planned?")]


def _flag(alerts: WeightAlerts) -> Flag | None:
    if not alerts.codes:
        return None
    return Flag.HIGH if alerts.codes == (GAIN,) else Flag.LOW
