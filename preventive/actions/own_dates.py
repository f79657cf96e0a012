"""A clinician's own due date for one item of one patient: set with a reason, and withdrawn with one."""

from datetime import date, datetime
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import first_sending
from preventive.actions.common import open_record, said
from preventive.actions.dues import refresh_call_backs
from preventive.errors import Incomplete, OwnDateStands, StruckAlready
from preventive.models import OwnDate

FURTHEST_DAYS = 3653


@transaction.atomic
def set_own_date(
    *,
    actor: Actor,
    now: datetime,
    patient: Patient,
    code: str,
    day: date,
    reason: str,
    once: UUID | None = None,
) -> OwnDate:
    """`code`: an item's group. One stands at a time; what stands is withdrawn first.

    Raises Incomplete, PatientDied, OwnDateStands, SentBefore; NotAllowed for who is no clinician.
    """
    actor.require(Right.ASSESS)
    first_sending(once, actor=actor, now=now)
    open_record(patient, None)
    today = timezone.localdate(now)
    if not today <= day or (day - today).days > FURTHEST_DAYS:
        raise Incomplete("day", "This day must be today or later, within ten years.")
    reason = said(reason, field="reason", sentence="Say why it is due on another day.")
    try:
        with transaction.atomic():  # the constraint lets only the first of two win
            row = OwnDate.objects.create(
                patient=patient,
                code=code,
                day=day,
                on=today,
                reason=reason,
                entered_by=actor.staff,
                entered_at=now,
            )
    except IntegrityError as error:
        first = standing_own_date(patient, code)
        if first is None:
            raise
        raise OwnDateStands(first.entered_by.full_name, first.day) from error
    refresh_call_backs(patient=patient, today=today, now=now)
    return row


def standing_own_date(patient: Patient, code: str) -> OwnDate | None:
    rows = OwnDate.objects.filter(patient=patient, code=code, struck_at=None)
    return rows.select_related("entered_by").first()


@transaction.atomic
def withdraw_own_date(
    *, actor: Actor, now: datetime, own: OwnDate, reason: str, once: UUID | None = None
) -> None:
    """Any clinician may: the date by the rules leads again. Raises Incomplete, StruckAlready, SentBefore."""
    actor.require(Right.ASSESS)
    first_sending(once, actor=actor, now=now)
    changed = OwnDate.objects.filter(pk=own.pk, struck_at=None).update(
        struck_at=now,
        struck_by=actor.staff,
        struck_reason=said(reason, field="reason", sentence="Say why it is withdrawn."),
    )
    if not changed:
        raise StruckAlready
    refresh_call_backs(patient=own.patient, today=timezone.localdate(now), now=now)
