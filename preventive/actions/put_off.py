"""Not now: the owner says no, something speaks against it today, or it is stopped."""

from datetime import date, datetime
from uuid import UUID

from dateutil.relativedelta import relativedelta
from django.db import transaction
from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending
from clinic.visits.models import Visit
from preventive.actions.common import open_record, said, strike
from preventive.actions.dues import refresh_call_backs
from preventive.errors import Incomplete
from preventive.models import Decline, Deferral, Hold

OFFER_AGAIN_AFTER = relativedelta(years=1)


@transaction.atomic
def decline(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    visit: Visit | None,
    code: str,
    reason: str,
    until: date | None = None,
    explained_by: Staff | None = None,
    risks_explained: str = "",
    signed_by_owner: bool = False,
    once: UUID | None = None,
    refresh: bool = True,
) -> Decline:
    """The owner said no to an item, a group or an antigen (`code`); offered again on `until`, or in a year.

    Raises Incomplete, WrongPatient, PatientDied, NotOpen, SentBefore.
    """
    actor.require(Right.GIVE_DOSE)
    first_sending(once, actor=actor, now=now)
    today = timezone.localdate(now)
    row = Decline.objects.create(
        patient=patient,
        visit=visit,
        record=open_record(patient, visit),
        code=code,
        on=today,
        until=_later(until or today + OFFER_AGAIN_AFTER, today),
        reason=said(reason, field="reason", sentence="Write the owner’s reason, or that none was given."),
        explained_by=explained_by or actor.staff,
        risks_explained=risks_explained.strip(),
        signed_by_owner=signed_by_owner,
        entered_by=actor.staff,
        entered_at=now,
    )
    if refresh:
        refresh_call_backs(patient=patient, today=today, now=now)
    return row


@transaction.atomic
def defer(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    visit: Visit | None,
    code: str,
    reason: str,
    until: date,
    once: UUID | None = None,
    refresh: bool = True,
) -> Deferral:
    """Put off until a date; nobody is reminded before. Raises as `decline`."""
    actor.require(Right.GIVE_DOSE)
    first_sending(once, actor=actor, now=now)
    today = timezone.localdate(now)
    row = Deferral.objects.create(
        patient=patient,
        visit=visit,
        record=open_record(patient, visit),
        code=code,
        on=today,
        until=_later(until, today),
        reason=said(reason, field="reason", sentence="Say why not today."),
        entered_by=actor.staff,
        entered_at=now,
    )
    if refresh:
        refresh_call_backs(patient=patient, today=today, now=now)
    return row


def _later(until: date, today: date) -> date:
    if until <= today:
        raise Incomplete("until", "This day must lie ahead.")
    return until


@transaction.atomic
def strike_put_off(
    *, actor: Actor, now: datetime, row: Decline | Deferral, reason: str, once: UUID | None = None
) -> None:
    """Taken back. Raises StruckAlready, Incomplete, SentBefore."""
    first_sending(once, actor=actor, now=now)
    word = "Declined" if isinstance(row, Decline) else "Put off"
    strike(row, what=f"{word}: {row.code}", reason=reason, actor=actor, now=now)
    refresh_call_backs(patient=row.patient, today=timezone.localdate(now), now=now)


@transaction.atomic
def hold(
    *, actor: Actor, now: datetime, patient: Patient, code: str, reason: str, refresh: bool = True
) -> Hold:
    """Stop an item, e.g. after an adverse event, until a clinician releases it. Raises Incomplete."""
    actor.require(Right.ASSESS)
    row = Hold.objects.create(
        patient=patient,
        code=code,
        on=timezone.localdate(now),
        reason=said(reason, field="reason", sentence="Say why it is stopped."),
        by=actor.staff,
        at=now,
    )
    if refresh:
        refresh_call_backs(patient=patient, today=timezone.localdate(now), now=now)
    return row


@transaction.atomic
def release_hold(*, actor: Actor, now: datetime, held: Hold, reason: str, once: UUID | None = None) -> bool:
    """False when somebody released it before. Raises Incomplete, SentBefore."""
    actor.require(Right.ASSESS)
    first_sending(once, actor=actor, now=now)
    today = timezone.localdate(now)
    changed = Hold.objects.filter(pk=held.pk, released_on=None).update(
        released_on=today,
        released_by=actor.staff,
        released_reason=said(reason, field="reason", sentence="Say why it may go on."),
    )
    refresh_call_backs(patient=held.patient, today=today, now=now)
    return changed == 1
