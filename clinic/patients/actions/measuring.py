"""Measurements: judged, kept as typed and in the canonical unit, struck out but never erased."""

from collections.abc import Callable, Mapping
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from clinic.patients.actions.common import first_sending
from clinic.patients.case import context_for
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
    """The judgement of a value, nothing kept. `category` is the word where no number is typed.

    `planned_change` None: nobody has asked yet whether a change of weight was meant. Raises UnitMissing.
    """
    which = Kind(kind)
    context = context_for(
        patient, visit=visit, kind=which, setting=setting, state=state, details=details, now=now
    )
    judgement = judge(which, category if typed is None else typed, _unit(which, unit, typed), context)
    if which is Kind.WEIGHT and judgement.accepted and setting == "clinic":
        return with_change(judgement, patient, visit=visit, context=context, planned=planned_change, now=now)
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
    actor.require(Right.MEASURE)
    first_sending(once, actor=actor, now=now)
    if visit is not None:
        _hold_open(visit, patient)
    details = dict(details or {})
    judgement = judged(
        patient=patient,
        visit=visit,
        kind=kind,
        typed=typed,
        unit=unit,
        category=category,
        setting=setting,
        state=state,
        details=details,
        now=measured_at or now,
        planned_change=planned_change,
    )
    if not judgement.complete:
        raise Impossible(judgement)
    if judgement.questions and not looked_twice:
        raise AskOnce(judgement)
    if any(question.key == "planned" for question in judgement.questions):
        details["planned"] = "not known"
    elif planned_change:
        details["planned"] = "yes"
    leading = judgement.leading
    return Measurement.objects.create(
        patient=patient,
        visit=visit,
        kind=kind,
        typed=typed,
        unit=judgement.unit.value,
        value=judgement.canonical,
        category=category if typed is None else judgement.category,
        setting=setting,
        state=state,
        method=method,
        details=details,
        flag=judgement.flag.value if judgement.flag else "",
        finding_code=leading.code if leading else "",
        urgency=leading.urgency.value if leading else "",
        looked_twice=looked_twice and bool(judgement.questions),
        measured_at=measured_at or now,
        recorded_at=now,
        observed_by=observed_by or actor.staff,
        entered_by=actor.staff,
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
        details=measurement.details,
        measured_at=measurement.measured_at,
        observed_by=measurement.observed_by,
        looked_twice=looked_twice,
        planned_change=None,
    )
