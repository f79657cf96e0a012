"""What was agreed for later is moved or called off, with a reason; the day it had stays in its history."""

from datetime import date, datetime, time
from uuid import UUID

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from clinic.mail.bookings import Changed, Moment, queue_change, telling
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits import calendars
from clinic.visits.actions.common import first_sending, step, words
from clinic.visits.errors import BookedOtherwise, NeedsWords
from clinic.visits.models import BookingChange, NextVisit, Visit

What = BookingChange.What


@transaction.atomic
def move_next_visit(
    *,
    next_visit: NextVisit,
    on: date,
    why: str,
    at: time | None = None,
    week_of: bool = False,
    tell: bool = False,
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> NextVisit:
    """Another day or time, as seen in `next_visit`; `tell`: the owner is told by mail.

    Raises NeedsWords, BookedOtherwise, SentBefore.
    """
    actor.require(Right.BOOK)
    at = None if week_of else at
    why = _why_moved(on, why, now)
    if (on, at, week_of) == (next_visit.on, next_visit.at, next_visit.week_of):
        raise NeedsWords("on", "It is planned for then already.")
    first_sending(once, actor=actor, now=now)
    changed = Changed(_when(next_visit), Moment(on, at, week_of), next_visit.reason)
    _take(next_visit, on=on, at=at, week_of=week_of, sequence=F("sequence") + 1)
    change = BookingChange.objects.create(
        next_visit=next_visit,
        what=What.MOVED,
        was_on=next_visit.on,
        was_at=next_visit.at,
        now_on=on,
        now_at=at,
        why=why,
        by=actor.staff,
        at=now,
    )
    next_visit.refresh_from_db()
    if tell:
        _tell(change, next_visit.patient, next_visit, changed, actor, now)
    return next_visit


@transaction.atomic
def call_off_next_visit(
    *,
    next_visit: NextVisit,
    why: str,
    tell: bool = False,
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> None:
    """It does not take place; `tell` as in `move_next_visit`.

    Raises NeedsWords, BookedOtherwise, SentBefore.
    """
    actor.require(Right.BOOK)
    why = words(why, field="why", sentence="Say why it is called off.")
    first_sending(once, actor=actor, now=now)
    _take(next_visit, state=NextVisit.State.CANCELLED, sequence=F("sequence") + 1)
    change = BookingChange.objects.create(
        next_visit=next_visit,
        what=What.CANCELLED,
        was_on=next_visit.on,
        was_at=next_visit.at,
        why=why,
        by=actor.staff,
        at=now,
    )
    if tell:
        changed = Changed(_when(next_visit), what_for=next_visit.reason)
        next_visit.refresh_from_db()
        _tell(change, next_visit.patient, next_visit, changed, actor, now)


def _take(plan: NextVisit, **to: object) -> None:
    """The state that was seen is part of the write: of two tablets, one gets through."""
    seen = NextVisit.objects.filter(pk=plan.pk, state=NextVisit.State.PLANNED, sequence=plan.sequence)
    if not seen.update(**to):
        raise BookedOtherwise(plan.patient.name)


@transaction.atomic
def move_booking(
    *,
    visit: Visit,
    on: date,
    why: str,
    at: time | None = None,
    tell: bool = False,
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> Visit:
    """An expected visit gets another day or time; the plan that it came from follows, and its calendar entry.

    `tell`: the owner is told by mail. Raises NeedsWords, BookedOtherwise, SentBefore.
    """
    actor.require(Right.BOOK)
    why = _why_moved(on, why, now)
    was, to = visit.expected_at, timezone.make_aware(datetime.combine(on, at or time.min))
    if was == to:
        raise NeedsWords("on", "It is booked for then already.")
    first_sending(once, actor=actor, now=now)
    _held(visit, expected_at=to)
    change = _noted(visit, What.MOVED, why, actor, now, on=on, at=at)
    NextVisit.objects.filter(became=visit).update(on=on, at=at, sequence=F("sequence") + 1)
    if tell:
        _tell_of_booking(change, visit, Moment(on, at), actor, now)
    visit.refresh_from_db()
    return visit


@transaction.atomic
def call_off_booking(
    *,
    visit: Visit,
    why: str,
    tell: bool = False,
    once: UUID | None = None,
    actor: Actor,
    now: datetime,
) -> None:
    """The expected visit does not take place; `tell` as in `move_booking`.

    Raises NeedsWords, BookedOtherwise, SentBefore.
    """
    actor.require(Right.BOOK)
    why = words(why, field="why", sentence="Say why it is called off.")
    first_sending(once, actor=actor, now=now)
    _held(visit, place=Visit.Place.CANCELLED, place_since=now)
    change = _noted(visit, What.CANCELLED, why, actor, now)
    NextVisit.objects.filter(became=visit).update(state=NextVisit.State.CANCELLED, sequence=F("sequence") + 1)
    if tell:
        _tell_of_booking(change, visit, None, actor, now)
    visit.refresh_from_db()
    step(visit, actor=actor, now=now)


def _held(visit: Visit, **to: object) -> None:
    seen = Visit.objects.filter(pk=visit.pk, place=Visit.Place.EXPECTED, expected_at=visit.expected_at)
    if not seen.update(**to):
        raise BookedOtherwise(visit.patient.name)


def _noted(
    visit: Visit,
    what: str,
    why: str,
    actor: Actor,
    now: datetime,
    *,
    on: date | None = None,
    at: time | None = None,
) -> BookingChange:
    assert visit.expected_at
    was = timezone.localtime(visit.expected_at)
    return BookingChange.objects.create(
        visit=visit,
        what=what,
        was_on=was.date(),
        was_at=None if was.time() == time.min else was.time(),
        now_on=on,
        now_at=at,
        why=why,
        by=actor.staff,
        at=now,
    )


def _why_moved(on: date, why: str, now: datetime) -> str:
    if on < timezone.localdate(now):
        raise NeedsWords("on", "This day is past.")
    return words(why, field="why", sentence="Say why it is moved.")


def _when(plan: NextVisit) -> Moment:
    return Moment(plan.on, plan.at, plan.week_of)


def _tell_of_booking(
    change: BookingChange, visit: Visit, to: Moment | None, actor: Actor, now: datetime
) -> None:
    """What it is booked for are the desk's own words; those of a plan stood in the letter."""
    plan = NextVisit.objects.select_related("patient", "record").filter(became=visit).first()
    changed = Changed(Moment(change.was_on, change.was_at), to, plan.reason if plan else "")
    _tell(change, visit.patient, plan, changed, actor, now)


def _tell(
    change: BookingChange,
    patient: Patient,
    plan: NextVisit | None,
    changed: Changed,
    actor: Actor,
    now: datetime,
) -> None:
    """Raises NeedsWords where the owner cannot be told by mail; then nothing at all was changed."""
    can = telling(patient, record=plan.record if plan else None)
    if can.owner is None or not can.can:
        raise NeedsWords("tell", can.why_not)
    queue_change(
        change=change,
        patient=patient,
        owner=can.owner,
        changed=changed,
        calendar=calendars.of_plan(plan) if plan else None,
        actor=actor,
        now=now,
    )
