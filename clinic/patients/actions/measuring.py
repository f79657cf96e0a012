"""Measurements: judged, kept as typed and in the canonical unit, struck out but never erased."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from clinic.patients.actions.common import first_sending
from clinic.patients.case import Case, context_for, read_case
from clinic.patients.errors import (
    AskOnce,
    Impossible,
    NotThisPatient,
    ReasonMissing,
    StruckAlready,
    UnitMissing,
    VisitSigned,
)
from clinic.patients.judgement import Judgement, Kind
from clinic.patients.limit_table import default_limits
from clinic.patients.models import Measurement, Patient
from clinic.patients.units import Unit
from clinic.patients.vitals import judge
from clinic.patients.weighing import with_change
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.visits.models import Record, Visit

# Told in the same transaction when a value is struck out of a signed visit; filled in `clinic.plugs`.
struck_after_signing: list[Callable[[Record, Measurement, str, Actor, datetime], None]] = []

UNIT_IS_ASKED = frozenset({Kind.WEIGHT, Kind.TEMPERATURE})  # kg or lb, °C or °F: never assumed


@dataclass(frozen=True, kw_only=True)
class Value:
    """One value as somebody typed it. `category` is the word where no number is typed.

    `planned_change` None: nobody has asked yet whether a change of weight was meant.
    """

    kind: str
    typed: Decimal | None = None
    unit: str = ""
    category: str = ""
    setting: str = "clinic"
    state: str = ""
    method: str = ""
    details: Mapping[str, str] | None = None
    looked_twice: bool = False
    planned_change: bool | None = False


def judged(
    *,
    patient: Patient,
    visit: Visit | None,
    kind: str,
    typed: Decimal | None,
    unit: str,
    category: str,
    setting: str,
    state: str,
    details: Mapping[str, str],
    now: datetime,
    planned_change: bool | None = False,
) -> Judgement:
    """The judgement of a value, nothing kept; see `Value`. Raises UnitMissing."""
    which = Kind(kind)
    value = Value(
        kind=kind,
        typed=typed,
        unit=unit,
        category=category,
        setting=setting,
        state=state,
        details=details,
        planned_change=planned_change,
    )
    return _judged(value, read_case(patient, visit=visit, kinds=(which,), now=now), visit)


def _judged(value: Value, case: Case, visit: Visit | None) -> Judgement:
    kind = Kind(value.kind)
    context = context_for(
        case, kind=kind, setting=value.setting, state=value.state, details=value.details or {}
    )
    said = value.category if value.typed is None else value.typed
    judgement = judge(kind, said, _unit(kind, value.unit, value.typed), context)
    if kind is Kind.WEIGHT and judgement.accepted and value.setting == "clinic":
        return with_change(judgement, case, visit=visit, context=context, planned=value.planned_change)
    return judgement


def _unit(kind: Kind, unit: str, typed: Decimal | None) -> Unit:
    if not unit and typed is not None and kind in UNIT_IS_ASKED:
        raise UnitMissing
    return Unit(unit) if unit else default_limits().measures[kind.subject].canonical


@transaction.atomic
def measure(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    kind: str,
    visit: Visit | None = None,
    typed: Decimal | None = None,
    unit: str = "",
    category: str = "",
    setting: str = "clinic",
    state: str = "",
    method: str = "",
    details: Mapping[str, str] | None = None,
    measured_at: datetime | None = None,
    observed_by: Staff | None = None,
    looked_twice: bool = False,
    planned_change: bool | None = False,
    once: UUID | None = None,
) -> Measurement:
    """Keep one value. Raises Impossible (with offers), AskOnce unless `looked_twice`; UnitMissing,
    VisitSigned, NotThisPatient, SentBefore.

    `planned_change` None asks about a loss of weight before it is flagged; with `looked_twice` it is kept as
    not known.
    """
    value = Value(
        kind=kind,
        typed=typed,
        unit=unit,
        category=category,
        setting=setting,
        state=state,
        method=method,
        details=details,
        looked_twice=looked_twice,
        planned_change=planned_change,
    )
    (row,) = measure_several(
        actor=actor,
        now=now,
        patient=patient,
        visit=visit,
        values=[value],
        measured_at=measured_at,
        observed_by=observed_by,
        once=once,
    )
    return row


@transaction.atomic
def measure_several(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    values: Sequence[Value],
    visit: Visit | None = None,
    measured_at: datetime | None = None,
    observed_by: Staff | None = None,
    once: UUID | None = None,
) -> list[Measurement]:
    """Keep values taken together, each judged beside those before it: all of them, or none. See `measure`."""
    actor.require(Right.MEASURE)
    first_sending(once, actor=actor, now=now)
    if visit is not None:
        _hold_open(visit, patient)
    at = measured_at or now
    case = read_case(patient, visit=visit, kinds={Kind(each.kind) for each in values}, now=at)
    rows = []
    for value in values:
        row = _row(value, _judged(value, case, visit))
        row.patient, row.visit = patient, visit
        row.measured_at, row.recorded_at = at, now
        row.observed_by, row.entered_by = observed_by or actor.staff, actor.staff
        case.taken(row)
        rows.append(row)
    return Measurement.objects.bulk_create(rows)


def _row(value: Value, judgement: Judgement) -> Measurement:
    """The value as it will be kept. Raises Impossible, AskOnce unless `looked_twice`."""
    if not judgement.complete:
        raise Impossible(judgement)
    if judgement.questions and not value.looked_twice:
        raise AskOnce(judgement)
    details = dict(value.details or {})
    if any(question.key == "planned" for question in judgement.questions):
        details["planned"] = "not known"
    elif value.planned_change:
        details["planned"] = "yes"
    leading = judgement.leading
    return Measurement(
        kind=value.kind,
        typed=value.typed,
        unit=judgement.unit.value,
        value=judgement.canonical,
        category=value.category if value.typed is None else judgement.category,
        setting=value.setting,
        state=value.state,
        method=value.method,
        details=details,
        flag=judgement.flag.value if judgement.flag else "",
        finding_code=leading.code if leading else "",
        urgency=leading.urgency.value if leading else "",
        looked_twice=value.looked_twice and bool(judgement.questions),
    )


def _hold_open(visit: Visit, patient: Patient) -> None:
    """A signature waits for this value, or this value for the signature."""
    if visit.patient_id != patient.pk:
        raise NotThisPatient
    record = Record.objects.select_for_update(no_key=True).filter(visit=visit).first()
    if record is not None and record.is_signed:
        raise VisitSigned


@transaction.atomic
def strike_measurement(*, actor: Actor, now: datetime, measurement: Measurement, reason: str) -> None:
    """Strike one out, with a reason; it stays readable. Raises ReasonMissing, StruckAlready, NotAllowed.

    After the visit was signed this is a clinician's: it makes an addendum and the letter's next version.
    """
    own = measurement.entered_by_id == actor.staff.pk
    actor.require(Right.STRIKE_OWN if own else Right.STRIKE_ANY)
    reason = reason.strip()
    if not reason:
        raise ReasonMissing
    record = _record_of(measurement)
    if record is not None and record.is_signed:
        actor.require(Right.SIGN)
    struck = Measurement.objects.filter(pk=measurement.pk, struck_at=None).update(
        struck_at=now, struck_by=actor.staff, struck_reason=reason
    )
    if not struck:
        raise StruckAlready
    if record is not None and record.is_signed:
        for tell in struck_after_signing:
            tell(record, measurement, reason, actor, now)


def _record_of(measurement: Measurement) -> Record | None:
    held = Record.objects.select_for_update(no_key=True, of=("self",)).select_related("visit")
    return held.filter(visit=measurement.visit_id).first() if measurement.visit_id else None


@transaction.atomic
def put_on_right_patient(
    *,
    actor: Actor,
    now: datetime,
    measurement: Measurement,
    patient: Patient,
    visit: Visit | None,
    looked_twice: bool = False,
) -> Measurement:
    """Entered on the wrong animal: struck out there, judged and kept here, in one step. Raises as both do."""
    strike_measurement(
        actor=actor, now=now, measurement=measurement, reason=f"wrong patient: belongs to {patient.name}"
    )
    return measure(
        actor=actor,
        now=now,
        patient=patient,
        visit=visit,
        kind=measurement.kind,
        typed=measurement.typed,
        unit=measurement.unit,
        category=measurement.category if measurement.typed is None else "",
        setting=measurement.setting,
        state=measurement.state,
        method=measurement.method,
        details={**measurement.details, "first_entered_on": measurement.patient.name},
        measured_at=measurement.measured_at,
        observed_by=measurement.observed_by,
        looked_twice=looked_twice,
        planned_change=None,
    )
