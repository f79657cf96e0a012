"""What is agreed for later: bookings, next visits, and their turning into expected visits."""

from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone

from clinic.care.models import Problem
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.platform.registries import tell_watchers
from clinic.visits.actions.common import alive, first_sending, step, words
from clinic.visits.errors import NeedsWords
from clinic.visits.models import BookingChange, NextVisit, PlaceStep, Record, Visit


@transaction.atomic
def book(
    *,
    patient: Patient,
    expected_at: datetime,
    booked_for: str,
    kind: str = Visit.Kind.FULL,
    minutes: int = 30,
    clinician: Staff | None = None,
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> Visit:
    """An expected visit. Midnight of the clinic's day means: at any time of that day.

    Raises HasDied, NeedsWords, SentBefore.
    """
    actor.require(Right.BOOK)
    first_sending(once, actor=actor, now=now)
    alive(patient)
    visit = Visit.objects.create(
        patient=patient,
        kind=Visit.Kind(kind),
        place=Visit.Place.EXPECTED,
        place_since=now,
        expected_at=expected_at,
        expected_minutes=minutes,
        booked_for=words(booked_for, field="booked_for", sentence="Say what it is booked for."),
        clinician=clinician,
        made_at=now,
    )
    step(visit, actor=actor, now=now)
    tell_watchers([patient.pk], now=now)
    return visit


@transaction.atomic
def plan_next_visit(
    *,
    patient: Patient,
    record: Record | None,
    on: date,
    kind: str,
    reason: str,
    at: time | None = None,
    week_of: bool = False,
    minutes: int = 20,
    problem: Problem | None = None,
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> NextVisit:
    """A promise to see the patient again. Raises HasDied, NeedsWords (a past day, no reason), SentBefore."""
    actor.require(Right.BOOK)
    first_sending(once, actor=actor, now=now)
    alive(patient)
    if on < timezone.localdate(now):
        raise NeedsWords("on", "The next visit cannot be on a day that is past.")
    if problem and problem.patient_id != patient.pk:
        raise NeedsWords("problem", "This problem belongs to another patient.")
    planned = NextVisit.objects.create(
        patient=patient,
        record=record,
        on=on,
        at=None if week_of else at,
        week_of=week_of,
        kind=Visit.Kind(kind),
        reason=words(reason, field="reason", sentence="Say what the next visit is for."),
        minutes=minutes,
        problem=problem,
        by=actor.staff,
        made_at=now,
    )
    tell_watchers([patient.pk], now=now)
    return planned


@transaction.atomic
def cancel_next_visit(*, next_visit: NextVisit, actor: Actor, now: datetime) -> bool:
    """Take back a plan that has not become a visit. False when it had become one, or was taken back."""
    actor.require(Right.BOOK)
    planned = NextVisit.objects.filter(pk=next_visit.pk, state=NextVisit.State.PLANNED)
    if not planned.update(state=NextVisit.State.CANCELLED, sequence=F("sequence") + 1):
        return False
    BookingChange.objects.create(
        next_visit=next_visit,
        what=BookingChange.What.CANCELLED,
        was_on=next_visit.on,
        was_at=next_visit.at,
        why="taken back where it was planned",
        by=actor.staff,
        at=now,
    )
    return True


def expect_today(*, now: datetime) -> int:
    """Turn the plans of today, and of days that were missed, into expected visits. How many it made.

    Idempotent: each plan becomes a visit once, whoever else runs this at the same time. Plans for "the week
    of" have no day and stay plans until the animal comes.
    """
    today = timezone.localdate(now)
    planned = NextVisit.objects.filter(state=NextVisit.State.PLANNED, on__lte=today, week_of=False)
    return sum(
        _expect(pk, now) for pk in planned.filter(patient__deceased_on=None).values_list("pk", flat=True)
    )


@transaction.atomic
def _expect(pk: int, now: datetime) -> int:
    plan = (
        NextVisit.objects.select_for_update(skip_locked=True, of=("self",))
        .select_related("patient", "by")
        .filter(pk=pk, state=NextVisit.State.PLANNED)
        .first()
    )
    if plan is None:
        return 0
    become_visit(plan, now=now)
    return 1


def become_visit(plan: NextVisit, *, now: datetime) -> Visit:
    """The plan, held by the caller's transaction and still planned, as an expected visit."""
    visit = Visit.objects.create(
        patient=plan.patient,
        kind=plan.kind,
        place=Visit.Place.EXPECTED,
        place_since=now,
        expected_at=timezone.make_aware(datetime.combine(plan.on, plan.at or time.min)),
        expected_minutes=plan.minutes,
        booked_for=plan.reason,
        made_at=now,
    )
    PlaceStep.objects.create(visit=visit, place=visit.place, at=now, by=plan.by)
    plan.state, plan.became = NextVisit.State.BECAME, visit
    plan.save(update_fields=["state", "became"])
    return visit


def plan_for_today(patient: Patient, today: date) -> NextVisit | None:
    """The patient's plan for today or for this week, held for the caller's transaction."""
    monday = today - timedelta(days=today.weekday())
    return (
        NextVisit.objects.select_for_update(of=("self",))
        .select_related("patient", "by")
        .filter(patient=patient, state=NextVisit.State.PLANNED)
        .filter(Q(on=today, week_of=False) | Q(on__range=(monday, monday + timedelta(days=6)), week_of=True))
        .first()
    )


@transaction.atomic
def cancel_bookings(*, patient: Patient, why: str, actor: Actor, now: datetime) -> int:
    """Cancel every expected visit and plan of the patient, each with the reason. How many there were."""
    actor.require(Right.BOOK)
    # the plans first: one that becomes a visit meanwhile is waited for, and its visit is found below
    planned = list(
        NextVisit.objects.select_for_update(of=("self",)).filter(
            patient=patient, state=NextVisit.State.PLANNED
        )
    )
    NextVisit.objects.filter(pk__in=[each.pk for each in planned]).update(
        state=NextVisit.State.CANCELLED, sequence=F("sequence") + 1
    )
    expected = list(
        Visit.objects.select_for_update(of=("self",)).filter(patient=patient, place=Visit.Place.EXPECTED)
    )
    for visit in expected:
        visit.place, visit.place_since = Visit.Place.CANCELLED, now
        visit.save(update_fields=["place", "place_since"])
        step(visit, actor=actor, now=now)
    BookingChange.objects.bulk_create(
        [
            *(_called_off(why, actor, now, visit=each, **_booked(each, now)) for each in expected),
            *(
                _called_off(why, actor, now, next_visit=each, was_on=each.on, was_at=each.at)
                for each in planned
            ),
        ]
    )
    return len(expected) + len(planned)


def _called_off(why: str, actor: Actor, now: datetime, **of: Any) -> BookingChange:
    return BookingChange(what=BookingChange.What.CANCELLED, why=why[:200], by=actor.staff, at=now, **of)


def _booked(visit: Visit, now: datetime) -> dict[str, Any]:
    at = timezone.localtime(visit.expected_at or now)
    return {"was_on": at.date(), "was_at": at.time() if at.time() != time.min else None}
