"""What of a patient and its visit decides how a measured value is judged."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
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


@dataclass
class Case:
    """An animal at one moment of one visit, read once for all values that are measured together."""

    patient: Patient
    now: datetime
    conditions: frozenset[str]
    beside: dict[Kind, Measurement]
    before: dict[Kind, Measurement]

    @property
    def today(self) -> date:
        return timezone.localdate(self.now)

    def taken(self, row: Measurement) -> None:
        """A value of today that the later ones are judged beside."""
        self.beside[Kind(row.kind)] = row


def read_case(patient: Patient, *, visit: Visit | None, kinds: Iterable[Kind], now: datetime) -> Case:
    """The animal, today's other values, and the last value of each of `kinds` before today. Three queries."""
    conditions = Condition.objects.filter(patient=patient, until=None).values_list("code", flat=True)
    return Case(
        patient=patient,
        now=now,
        conditions=frozenset(conditions),
        beside=_beside(patient, visit, timezone.localdate(now)),
        before=_before(patient, visit, kinds, now),
    )


def context_for(case: Case, *, kind: Kind, setting: str, state: str, details: Mapping[str, str]) -> Context:
    """What decides how a value of this kind is judged. No query."""
    patient, today, beside = case.patient, case.today, case.beside
    days = age_days(patient.birth_date, today) if patient.birth_date and patient.birth_date <= today else None
    return Context(
        species="dog" if patient.species == "dog" else "cat",
        setting=Setting(setting),
        age_days=days,
        state=State(state) if state else None,
        signs=_signs(case, days, details),
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
        last=_last(case, kind),
    )


def _value(row: Measurement | None) -> Decimal | None:
    return row.value if row else None


def _beside(patient: Patient, visit: Visit | None, today: date) -> dict[Kind, Measurement]:
    same = {"visit": visit} if visit else {"patient": patient, "visit": None, "measured_at__date": today}
    rows = Measurement.objects.filter(**same, struck_at=None).order_by("measured_at", "pk")
    return {Kind(row.kind): row for row in rows}


def _before(
    patient: Patient, visit: Visit | None, kinds: Iterable[Kind], now: datetime
) -> dict[Kind, Measurement]:
    wanted = [kind.value for kind in kinds]
    rows = Measurement.objects.filter(
        patient=patient, kind__in=wanted, struck_at=None, value__isnull=False, measured_at__lt=now
    )
    if visit is not None:
        rows = rows.exclude(visit=visit)
    return {Kind(row.kind): row for row in rows.order_by("kind", "-measured_at").distinct("kind")}


def _last(case: Case, kind: Kind) -> dict[Kind, LastValue]:
    row = case.before.get(kind)
    if row is None or row.value is None:
        return {}
    days = max((case.today - timezone.localdate(row.measured_at)).days, 0)
    return {kind: LastValue(canonical=row.value, days_ago=days, setting=Setting(row.setting))}


def _signs(case: Case, days: int | None, details: Mapping[str, str]) -> frozenset[Sign]:
    said = {Sign(name) for name in details.get("signs", "").split() if name in set(Sign)}
    if days is not None and days >= SENIOR_YEARS * 365:
        said.add(Sign.SENIOR)
    said.update(sign for code, sign in SIGN_OF.items() if code in case.conditions)
    return frozenset(said)
