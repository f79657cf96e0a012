"""What of a patient and its visit decides how a measured value is judged."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone

from clinic.patients.ages import age_days
from clinic.patients.judgement import Context, Kind, LastValue, Method
from clinic.patients.limit_table import Setting, Sign, State
from clinic.patients.models import Condition, ConditionCode, Measurement, Patient
from clinic.visits.models import Visit

SENIOR_YEARS = 10
SIGN_OF = {
    ConditionCode.HEART_DISEASE.value: Sign.HEART_DISEASE,
    ConditionCode.NOT_EATING.value: Sign.NOT_EATING,
}
OTHER_EYE = {
    Kind.STT_LEFT: Kind.STT_RIGHT,
    Kind.STT_RIGHT: Kind.STT_LEFT,
    Kind.IOP_LEFT: Kind.IOP_RIGHT,
    Kind.IOP_RIGHT: Kind.IOP_LEFT,
}


def context_for(
    patient: Patient,
    *,
    visit: Visit | None,
    kind: Kind,
    setting: str,
    state: str,
    details: Mapping[str, str],
    now: datetime,
) -> Context:
    """The animal, today's other values, and the last value of this kind before today. Three queries."""
    today = timezone.localdate(now)
    days = age_days(patient.birth_date, today) if patient.birth_date and patient.birth_date <= today else None
    beside = _beside(patient, visit, today)
    return Context(
        species="dog" if patient.species == "dog" else "cat",
        setting=Setting(setting),
        age_days=days,
        state=State(state) if state else None,
        signs=_signs(patient, days, details),
        method=Method(
            cuff=details.get("cuff", ""),
            site=details.get("site", ""),
            device=details.get("device", ""),
            readings=int(details["readings"]) if details.get("readings", "").isdigit() else None,
        ),
        half_points=True,
        heart_rate=_value(beside.get(Kind.HEART_RATE)),
        pulse_rate=_value(beside.get(Kind.PULSE_RATE)),
        other_eye=_value(beside.get(OTHER_EYE[kind])) if kind in OTHER_EYE else None,
        bcs=_value(beside.get(Kind.BCS)),
        mcs=beside[Kind.MCS].category if Kind.MCS in beside else "",
        last=_last(patient, kind, visit, now),
    )


def _value(row: Measurement | None) -> Decimal | None:
    return row.value if row else None


def _beside(patient: Patient, visit: Visit | None, today: date) -> dict[Kind, Measurement]:
    same = {"visit": visit} if visit else {"patient": patient, "visit": None, "measured_at__date": today}
    rows = Measurement.objects.filter(**same, struck_at=None).order_by("measured_at", "pk")
    return {Kind(row.kind): row for row in rows}


def _last(patient: Patient, kind: Kind, visit: Visit | None, now: datetime) -> dict[Kind, LastValue]:
    before = Measurement.objects.filter(
        patient=patient, kind=kind.value, struck_at=None, value__isnull=False, measured_at__lt=now
    )
    if visit is not None:
        before = before.exclude(visit=visit)
    row = before.order_by("-measured_at").first()
    if row is None or row.value is None:
        return {}
    days = max((timezone.localdate(now) - timezone.localdate(row.measured_at)).days, 0)
    return {kind: LastValue(canonical=row.value, days_ago=days, setting=Setting(row.setting))}


def _signs(patient: Patient, days: int | None, details: Mapping[str, str]) -> frozenset[Sign]:
    said = {Sign(name) for name in details.get("signs", "").split() if name in set(Sign)}
    if days is not None and days >= SENIOR_YEARS * 365:
        said.add(Sign.SENIOR)
    codes = Condition.objects.filter(patient=patient, until=None, code__in=SIGN_OF)
    said.update(SIGN_OF[code] for code in codes.values_list("code", flat=True))
    return frozenset(said)
