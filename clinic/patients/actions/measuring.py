"""Measurements: judged, kept as typed and in the canonical unit, struck out but never erased."""

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from clinic.patients.case import context_for
from clinic.patients.errors import AskOnce, Impossible, ReasonMissing, StruckAlready
from clinic.patients.judgement import Judgement, Kind
from clinic.patients.models import Measurement, Patient
from clinic.patients.units import Unit
from clinic.patients.vitals import judge
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.visits.models import Visit

WORD_UNITS = {
    Kind.MCS: Unit.MCS_4,
    Kind.PAIN: Unit.PAIN_4,
    Kind.RESPIRATORY_RATE: Unit.PER_MIN,
    Kind.CAPILLARY_REFILL: Unit.SECONDS,
}


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
    details: dict[str, str],
    now: datetime,
) -> Judgement:
    """The judgement of a value, nothing kept. `category` is the word where no number is typed."""
    which = Kind(kind)
    context = context_for(
        patient, visit=visit, kind=which, setting=setting, state=state, details=details, now=now
    )
    if typed is None:
        return judge(which, category, WORD_UNITS.get(which, Unit(unit) if unit else Unit.PER_MIN), context)
    return judge(which, typed, Unit(unit), context)


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
    details: dict[str, str] | None = None,
    measured_at: datetime | None = None,
    observed_by: Staff | None = None,
    looked_twice: bool = False,
) -> Measurement:
    """Keep one value. Raises Impossible (with offers), AskOnce unless `looked_twice`."""
    actor.require(Right.MEASURE)
    details = details or {}
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
    )
    if not judgement.complete:
        raise Impossible(judgement)
    if judgement.questions and not looked_twice:
        raise AskOnce(judgement)
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


@transaction.atomic
def strike_measurement(*, actor: Actor, now: datetime, measurement: Measurement, reason: str) -> None:
    """Strike one out, with a reason; it stays readable. Raises ReasonMissing, StruckAlready, NotAllowed."""
    own = measurement.entered_by_id == actor.staff.pk
    actor.require(Right.STRIKE_OWN if own else Right.STRIKE_ANY)
    if not reason.strip():
        raise ReasonMissing
    struck = Measurement.objects.filter(pk=measurement.pk, struck_at=None).update(
        struck_at=now, struck_by=actor.staff, struck_reason=reason.strip()
    )
    if not struck:
        raise StruckAlready
