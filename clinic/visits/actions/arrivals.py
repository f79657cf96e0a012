"""A household comes in: one arrival, a visit for each of its animals."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.visits.actions.booking import become_visit, plan_for_today
from clinic.visits.actions.common import alive, first_sending, step
from clinic.visits.errors import AlreadyHere, MovedMeanwhile, NobodyCameIn
from clinic.visits.models import Arrival, Record, Visit

NOT_YET_HERE = frozenset({Visit.Place.EXPECTED, Visit.Place.DID_NOT_COME})
HERE = (
    Visit.Place.ARRIVED,
    Visit.Place.WITH_TECHNICIAN,
    Visit.Place.WITH_CLINICIAN,
    Visit.Place.ADMITTED,
)


@transaction.atomic
def check_in(
    *,
    owner: Owner,
    visits: Sequence[Visit] = (),
    patients: Sequence[Patient] = (),
    see_now: bool = False,
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> Arrival:
    """One arrival: the expected `visits`, and the `patients` without a booking, each get an open record.

    A patient who is expected today, or has a plan for today, arrives to that. Raises NobodyCameIn,
    AlreadyHere, MovedMeanwhile, HasDied, SentBefore; then nobody arrives.
    """
    actor.require(Right.MOVE_VISIT)
    first_sending(once, actor=actor, now=now)
    if not visits and not patients:
        raise NobodyCameIn
    arrival = Arrival.objects.create(owner=owner, at=now, checked_in_by=actor.staff)
    known = {visit.patient_id for visit in visits}
    for visit in visits:
        alive(visit.patient)
        _arrive(visit, arrival, see_now=see_now, actor=actor, now=now)
    for patient in patients:
        if patient.pk not in known:
            _arrive(_visit_of(patient, now), arrival, see_now=see_now, actor=actor, now=now)
    return arrival


def _visit_of(patient: Patient, now: datetime) -> Visit:
    """What the patient comes for: a booking of today, a plan, or a visit of its own that nobody foresaw."""
    alive(patient)
    if Visit.objects.filter(patient=patient, place__in=HERE).exists():
        raise AlreadyHere(patient)
    today = timezone.localdate(now)
    booked = Visit.objects.filter(
        patient=patient, place=Visit.Place.EXPECTED, expected_at__date=today
    ).order_by("expected_at", "pk")
    if visit := booked.first():
        return visit
    if plan := plan_for_today(patient, today):
        return become_visit(plan, now=now)
    return Visit.objects.create(patient=patient, place=Visit.Place.EXPECTED, place_since=now, made_at=now)


def _arrive(visit: Visit, arrival: Arrival, *, see_now: bool, actor: Actor, now: datetime) -> None:
    changes: dict[str, object] = {
        "place": Visit.Place.ARRIVED,
        "place_since": now,
        "arrived_at": now,
        "arrival": arrival,
    }
    if see_now:
        changes |= {"see_now_at": now, "see_now_by": actor.staff}
    try:
        with transaction.atomic():
            moved = Visit.objects.filter(pk=visit.pk, place__in=NOT_YET_HERE).update(**changes)
    except IntegrityError as error:  # a_patient_is_here_once
        raise AlreadyHere(visit.patient) from error
    visit.refresh_from_db()
    if not moved:
        raise MovedMeanwhile(visit)
    Record.objects.create(visit=visit, opened_at=now)
    step(visit, actor=actor, now=now)
